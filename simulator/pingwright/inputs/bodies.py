"""The things under the boat: structures, fish, schools, scattering layers, targets; and labels."""

from collections.abc import Mapping
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, model_validator

from pingwright.inputs import catalogue
from pingwright.inputs.attach import content
from pingwright.inputs.fields import (
    Depth,
    Flag,
    Heading,
    Name,
    Pace,
    Place1,
    Quantity,
    Section,
    Size,
    Text,
    Whole,
    choice_of,
    exactly_one,
)
from pingwright.inputs.lists import Depths, Heights, Places, PlacesOrOne, Span
from pingwright.quantities import ANGLE, FREQUENCY, LENGTH, LEVEL, NUMBER_DENSITY, RATIO

MOST_FISH = 100_000
MOST_IN_SCHOOL = 10_000_000
BodyLength = Annotated[float, Quantity(LENGTH, 0.01, 4.0, likely=("cm", "in"))]
Swimbladder = Literal["closed", "open", "none"]
StrengthModel = Annotated[str, choice_of(catalogue.strength_model_names, "strength models")]
Height = Annotated[float, Quantity(LENGTH, 0.0, 3000.0)]
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
    """Refuse a file that is not there."""
    content(name, info)
    return name


class Mesh(Section):
    """A shape from a file (STL, OBJ, PLY): the unit of its numbers, and a further scale [1]."""

    kind: Literal["mesh"] = "mesh"
    file: Annotated[str, Text(255), AfterValidator(_present)]
    unit: Literal["m", "cm", "mm", "ft", "in"] = "m"
    scale: Annotated[float, Quantity(RATIO, 1e-3, 1e3)] = 1.0


class Reef(Section):
    """A pile of rocks: length along its heading, width, height [m], and the size of its boulders [m] (0.5 assumed)."""

    kind: Literal["reef"] = "reef"
    length: Size
    width: Size
    height: Size
    boulder: Annotated[float, Quantity(LENGTH, 0.05, 20.0)] = 0.5

    @model_validator(mode="after")
    def _fits(self) -> Self:
        least = min(self.length, self.width, self.height)
        if self.boulder > least:
            message = f"found boulders of {self.boulder:g} m; allowed: at most the pile's least side, {least:g} m"
            raise ValueError(message)
        return self


Shape = Annotated[Box | Cylinder | Hull | Mesh | Reef, Field(discriminator="kind")]


class Place(Section):
    """Where a structure stands: x, y [m], and depth [m] of its base (None: on the seabed)."""

    x: Place1 = 0.0
    y: Place1 = 0.0
    depth: Depth | None = None


class Point(Section):
    """A place in the water: x, y, depth [m]."""

    x: Place1 = 0.0
    y: Place1 = 0.0
    depth: Depth


class Structure(Section):
    """A structure on the seabed: its shape, place, heading [deg] and material (steel; a reef: rock)."""

    name: Name
    shape: Shape
    at: Place = Place()
    heading: Heading = 0.0
    material: Annotated[str, choice_of(catalogue.material_names, "materials")] = "steel"

    @model_validator(mode="before")
    @classmethod
    def _reef_of_rock(cls, table: object) -> object:
        """Give a reef its material."""
        if not isinstance(table, dict) or "material" in table or not isinstance(table.get("shape"), Mapping):
            return table
        return {**table, "material": "rock"} if table["shape"].get("kind") == "reef" else table


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
    """The box in which fish stand: x, y [m], and depth [m] or height [m], from and to; one value serves as both.

    above_bottom: height above the seabed; above: height above the highest thing there, seabed or structure.
    """

    x: PlacesOrOne
    y: PlacesOrOne
    above_bottom: Heights | None = None
    above: Heights | None = None
    depth: Annotated[tuple[float, float], Span(LENGTH, 0.0, 6000.0, equal=True)] | None = None

    @model_validator(mode="after")
    def _one_height(self) -> Self:
        exactly_one(self, "above_bottom", "above", "depth")
        return self


class Swimming(Section):
    """Speed [m/s], heading [deg] and climb [deg] above the horizontal of every fish of a group."""

    speed: Pace = 0.0
    heading: Heading = 0.0
    climb: Annotated[float, Quantity(ANGLE, -90.0, 90.0)] = 0.0


class Fish(Section):
    """Single fish: length [m], number, place and posture.

    without: fish of `count` that are left out, numbered from 1; the others stay as they are drawn.
    """

    name: Name
    body: BodyPlan | None = None
    swimbladder: Swimbladder
    length: Lengths
    count: Annotated[int, Whole(0, MOST_FISH)] | None = None
    density: Annotated[float, Quantity(NUMBER_DENSITY, 0.0, 1e4)] | None = None
    without: tuple[Annotated[int, Whole(1, MOST_FISH)], ...] = ()
    where: Room
    tilt: Tilts | None = None
    swimming: Swimming = Swimming()
    strength_model: StrengthModel | None = None

    @model_validator(mode="after")
    def _how_many(self) -> Self:
        exactly_one(self, "count", "density")
        if self.without and self.count is None:
            message = "found without and a density; allowed: without only beside count"
            raise ValueError(message)
        if (most := max(self.without, default=0)) > (self.count or 0):
            message = f"found without = [{most}]; allowed: 1 to {self.count}, the numbers of its fish"
            raise ValueError(message)
        if len(set(self.without)) < len(self.without):
            message = "found a number twice in without; allowed: each once"
            raise ValueError(message)
        return self


class Extent(Section):
    """The axes of an ellipsoid [m]: full lengths along, across, and height."""

    along: Annotated[float, Quantity(LENGTH, 0.1, 1000.0)]
    across: Annotated[float, Quantity(LENGTH, 0.1, 1000.0)]
    height: Annotated[float, Quantity(LENGTH, 0.1, 500.0)]


class SchoolPlace(Section):
    """The middle of a school: x, y [m], and its depth, its height above_bottom, or above whatever stands there [m]."""

    x: Place1 = 0.0
    y: Place1 = 0.0
    depth: Depth | None = None
    above_bottom: Height | None = None
    above: Height | None = None

    @model_validator(mode="after")
    def _one_height(self) -> Self:
        exactly_one(self, "depth", "above_bottom", "above")
        return self


class School(Section):
    """A school: an ellipsoid of fish around a point."""

    name: Name
    body: BodyPlan | None = None
    swimbladder: Swimbladder
    length: Lengths
    at: SchoolPlace
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
    """Unresolved scatterers: volume_strength [dB re 1 m-1] at a frequency [Hz].

    They fill the water between two depths [m], or stand on the bottom as weed does: above_bottom [m] from, to (one
    value: from the bottom up to it). x, y [m] from, to: only there (None: everywhere).
    """

    name: Name
    kind: Annotated[str, choice_of(catalogue.scattering_layer_names, "kinds of scattering layer")]
    depth: Depths | None = None
    above_bottom: Annotated[tuple[float, float], Span(LENGTH, 0.0, 3000.0, from_zero=True)] | None = None
    x: Places | None = None
    y: Places | None = None
    volume_strength: Annotated[float, Quantity(LEVEL, -150.0, 0.0)]
    frequency: Annotated[float, Quantity(FREQUENCY, 10e3, 1e6)]

    @model_validator(mode="after")
    def _one_height(self) -> Self:
        exactly_one(self, "depth", "above_bottom")
        return self


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


class Label(Section):
    """A word on the pictures: its text, and the place it points to."""

    text: Annotated[str, Text(60)]
    at: Point
