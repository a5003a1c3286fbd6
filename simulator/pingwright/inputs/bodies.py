"""What stands and swims under the boat: structures, fish, schools, scattering layer, targets."""

from typing import Annotated, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, model_validator

from pingwright.inputs import catalogue
from pingwright.inputs.attach import content
from pingwright.inputs.fields import (
    Depth,
    Depths,
    Flag,
    Heading,
    Name,
    Pace,
    Place1,
    Places,
    Quantity,
    Section,
    Size,
    Span,
    Text,
    Whole,
    choice_of,
)
from pingwright.quantities import ANGLE, FREQUENCY, LENGTH, LEVEL, NUMBER_DENSITY, RATIO

MOST_FISH = 100_000
MOST_IN_SCHOOL = 10_000_000
BodyLength = Annotated[float, Quantity(LENGTH, 0.01, 4.0, likely=("cm", "in"))]
Swimbladder = Literal["closed", "open", "none"]
StrengthModel = Annotated[str, choice_of(catalogue.strength_model_names, "strength models")]
BodyPlan = Annotated[str, choice_of(catalogue.body_names, "body plans")]


class Box(Section):
    """A box: length along its heading, width, height [m]."""

    kind: Literal["box"] = "box"
    length: Size
    width: Size
    height: Size


class Cylinder(Section):
    """A cylinder that lies along its heading: length, diameter [m]."""

    kind: Literal["cylinder"] = "cylinder"
    length: Size
    diameter: Size


class Hull(Section):
    """A ship's hull: length, width, height [m], list [deg] to starboard, broken in two or not."""

    kind: Literal["hull"] = "hull"
    length: Size
    width: Size
    height: Size
    list: Annotated[float, Quantity(ANGLE, -180.0, 180.0)] = 0.0
    broken: Flag = False


def _present(name: str, info: ValidationInfo) -> str:
    """Refuse a file that did not come with the scenario."""
    content(name, info)
    return name


class Mesh(Section):
    """A shape from a file (STL, OBJ, PLY): the unit of its numbers, and a further scale [1]."""

    kind: Literal["mesh"] = "mesh"
    file: Annotated[str, Text(255), AfterValidator(_present)]
    unit: Literal["m", "cm", "mm", "ft", "in"] = "m"
    scale: Annotated[float, Quantity(RATIO, 1e-3, 1e3)] = 1.0


Shape = Annotated[Box | Cylinder | Hull | Mesh, Field(discriminator="kind")]
KINDS = ("box", "cylinder", "hull", "mesh")


class Place(Section):
    """Where a structure stands: x, y [m], and depth [m] of its foot (None: on the seabed)."""

    x: Place1 = 0.0
    y: Place1 = 0.0
    depth: Depth | None = None


class Point(Section):
    """A place in the water: x, y, depth [m]."""

    x: Place1 = 0.0
    y: Place1 = 0.0
    depth: Depth


class Structure(Section):
    """A structure on the seabed: its shape, place, heading [deg] and material."""

    name: Name
    shape: Shape
    at: Place = Place()
    heading: Heading = 0.0
    material: Annotated[str, choice_of(catalogue.material_names, "materials")] = "steel"


class LengthDistribution(Section):
    """Lengths [m]: mean and standard deviation of a normal law."""

    mean: BodyLength
    sd: Annotated[float, Quantity(LENGTH, 0.0, 2.0)] = 0.0


class TiltDistribution(Section):
    """Tilt angles [deg], head down negative: mean and standard deviation of a normal law."""

    mean: Annotated[float, Quantity(ANGLE, -90.0, 90.0)]
    sd: Annotated[float, Quantity(ANGLE, 0.0, 60.0)] = 0.0


def _alone(value: object) -> object:
    """Turn one value into a distribution without spread."""
    return {"mean": value} if isinstance(value, (int, float, str)) and not isinstance(value, bool) else value


Lengths = Annotated[LengthDistribution, BeforeValidator(_alone)]
Tilts = Annotated[TiltDistribution, BeforeValidator(_alone)]


class Room(Section):
    """The box in which fish stand: x, y [m], and height above the bottom or depth [m]."""

    x: Places
    y: Places
    above_bottom: Annotated[tuple[float, float], Span(LENGTH, 0.0, 3000.0, equal=True)] | None = None
    depth: Annotated[tuple[float, float], Span(LENGTH, 0.0, 6000.0, equal=True)] | None = None

    @model_validator(mode="after")
    def _one_height(self) -> Self:
        exactly_one(self, "above_bottom", "depth")
        return self


class Swimming(Section):
    """Speed [m/s], heading [deg] and climb [deg] above the horizontal of every fish of a group."""

    speed: Pace = 0.0
    heading: Heading = 0.0
    climb: Annotated[float, Quantity(ANGLE, -90.0, 90.0)] = 0.0


def exactly_one(section: Section, first: str, second: str) -> None:
    """Refuse a table that holds both keys or neither."""
    given = [key for key in (first, second) if getattr(section, key) is not None]
    if len(given) != 1:
        found = f"both {first} and {second}" if given else f"neither {first} nor {second}"
        message = f"found {found}; allowed: one of them"
        raise ValueError(message)


class Fish(Section):
    """Single fish: length [m], how many, where, and how they hold themselves."""

    name: Name
    body: BodyPlan | None = None
    swimbladder: Swimbladder
    length: Lengths
    count: Annotated[int, Whole(0, MOST_FISH)] | None = None
    density: Annotated[float, Quantity(NUMBER_DENSITY, 0.0, 1e4)] | None = None
    where: Room
    tilt: Tilts | None = None
    swimming: Swimming = Swimming()
    strength_model: StrengthModel | None = None

    @model_validator(mode="after")
    def _how_many(self) -> Self:
        exactly_one(self, "count", "density")
        return self


class Extent(Section):
    """The axes of an ellipsoid [m]: full lengths along, across, and height."""

    along: Annotated[float, Quantity(LENGTH, 0.1, 1000.0)]
    across: Annotated[float, Quantity(LENGTH, 0.1, 1000.0)]
    height: Annotated[float, Quantity(LENGTH, 0.1, 500.0)]


class School(Section):
    """A school: an ellipsoid of fish around a point."""

    name: Name
    body: BodyPlan | None = None
    swimbladder: Swimbladder
    length: Lengths
    at: Point
    size: Extent
    density: Annotated[float, Quantity(NUMBER_DENSITY, 0.0, 1e5)] | None = None
    count: Annotated[int, Whole(0, MOST_IN_SCHOOL)] | None = None
    tilt: Tilts | None = None
    swimming: Swimming = Swimming()
    strength_model: StrengthModel | None = None

    @model_validator(mode="after")
    def _how_many(self) -> Self:
        exactly_one(self, "count", "density")
        return self


class ScatteringLayer(Section):
    """Unresolved scatterers between two depths [m]: volume_strength [dB re 1 m-1] at a frequency [Hz]."""

    name: Name
    kind: Annotated[str, choice_of(catalogue.scattering_layer_names, "kinds of scattering layer")]
    depth: Depths
    volume_strength: Annotated[float, Quantity(LEVEL, -150.0, 0.0)]
    frequency: Annotated[float, Quantity(FREQUENCY, 10e3, 1e6)]


class Sphere(Section):
    """An elastic sphere of a known metal: diameter [m]."""

    material: Annotated[str, choice_of(catalogue.sphere_names, "sphere materials")]
    diameter: Annotated[float, Quantity(LENGTH, 0.001, 0.5)]


class Target(Section):
    """A point: a flat strength [dB re 1 m2], or an elastic sphere."""

    name: Name
    strength: Annotated[float, Quantity(LEVEL, -120.0, 60.0)] | None = None
    sphere: Sphere | None = None
    at: Point

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        exactly_one(self, "strength", "sphere")
        return self
