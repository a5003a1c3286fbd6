"""Parts of a trip file: the ground and the species."""

from collections.abc import Mapping
from typing import Annotated, Any, Literal, Self

from pydantic import model_validator

from pingwright.inputs import catalogue
from pingwright.inputs.bodies import (
    MOST_IN_SCHOOL,
    BodyPlan,
    Extent,
    Lengths,
    StrengthModel,
    Swimbladder,
    Tilts,
)
from pingwright.inputs.fields import Name, Quantity, Section, Whole, choice_of, exactly_one
from pingwright.inputs.lists import Numbers, Span
from pingwright.quantities import ANGLE, LENGTH, LEVEL, NUMBER_DENSITY, POWER, RATIO, SPEED, TIME

Ground = Literal["bare", "slope", "ledge", "wreck", "reef", "weed"]
GROUNDS = ("bare", "slope", "ledge", "wreck", "reef", "weed")
#: Grounds with their own table; a day has at most one of the first three.
TABLES = ("wreck", "reef", "ledge", "weed")
#: Slope of the ground "slope" without an angle; assumed.
STEEP = "10 deg"
Share = Annotated[float, Quantity(RATIO, 0.0, 1000.0)]
Beside = Annotated[tuple[float, float], Span(LENGTH, 0.0, 100.0, equal=True)]


class Wreck(Section):
    """A box of steel on the bottom, along the track: length, width, height [m]; fish are `beside` [m] from its side."""

    length: Annotated[float, Quantity(LENGTH, 1.0, 300.0)] = 30.0
    width: Annotated[float, Quantity(LENGTH, 1.0, 100.0)] = 8.0
    height: Annotated[float, Quantity(LENGTH, 0.5, 100.0)] = 4.0
    beside: Beside = (0.5, 5.0)


class TripReef(Section):
    """A pile of boulders, along the track: length, width, height [m]; fish are `beside` [m] from its side."""

    length: Annotated[float, Quantity(LENGTH, 1.0, 300.0)] = 30.0
    width: Annotated[float, Quantity(LENGTH, 1.0, 100.0)] = 15.0
    height: Annotated[float, Quantity(LENGTH, 0.5, 100.0)] = 3.0
    beside: Beside = (0.5, 5.0)


class Ledge(Section):
    """A step across the track: the bottom drops by `height` [m]; fish stay `beside` [m] from its foot."""

    height: Annotated[float, Quantity(LENGTH, 0.3, 100.0)] = 3.0
    beside: Annotated[float, Quantity(LENGTH, 0.1, 100.0)] = 2.0


class Weed(Section):
    """Weed that stands `height` [m] off the bottom, with the same volume_strength [dB re 1 m-1] in every band."""

    height: Annotated[float, Quantity(LENGTH, 0.05, 30.0)] = 1.0
    volume_strength: Annotated[float, Quantity(LEVEL, -100.0, -10.0)] = -50.0


def with_grounds(day: object) -> object:
    """Return a table `day` with its word `ground` replaced by the tables that it stands for."""
    if not isinstance(day, Mapping):
        return day
    ground = day.get("ground")
    if ground == "slope":
        return {"slope": STEEP, **day}
    return {ground: {}, **day} if ground in TABLES else day


class Holding(Section):
    """Where a species stays, from, to [m]: above the bottom, above the highest thing there, or depth.

    Or in which part of the water column, whatever its depth: 0 at the surface, 1 at the bottom.
    """

    above_bottom: Annotated[tuple[float, float], Span(LENGTH, 0.0, 3000.0, equal=True)] | None = None
    above: Annotated[tuple[float, float], Span(LENGTH, 0.0, 3000.0, equal=True)] | None = None
    depth: Annotated[tuple[float, float], Span(LENGTH, 0.0, 3000.0, equal=True)] | None = None
    column: Annotated[tuple[float, float], Span(RATIO, 0.0, 1.0, equal=True)] | None = None

    @model_validator(mode="after")
    def _one_height(self) -> Self:
        exactly_one(self, "above_bottom", "above", "depth", "column")
        return self

    @property
    def key(self) -> str:
        """The key that is given."""
        return next(key for key in type(self).model_fields if getattr(self, key) is not None)


class Species(Section):
    """A species: body plan or swimbladder and length [m], where it stays, its share of the interest.

    tilt [deg] and strength_model as in a scenario's [[fish]]. With `size` [m] it is a school, an ellipsoid of fish:
    density [per m3] or count; neither: one fish in a cube of three body lengths (assumed).
    """

    name: Name
    body: BodyPlan | None = None
    swimbladder: Swimbladder
    length: Lengths
    where: Holding
    tilt: Tilts | None = None
    strength_model: StrengthModel | None = None
    size: Extent | None = None
    density: Annotated[float, Quantity(NUMBER_DENSITY, 0.0, 1e5)] | None = None
    count: Annotated[int, Whole(1, MOST_IN_SCHOOL)] | None = None
    share: Share = 1.0

    @model_validator(mode="after")
    def _a_school(self) -> Self:
        if self.size is None and (self.density is not None or self.count is not None):
            message = (
                "found density or count without size; allowed: density or count only for a school, which needs a size"
            )
            raise ValueError(message)
        if self.density is not None and self.count is not None:
            message = "found density and count; allowed: one of the two"
            raise ValueError(message)
        return self

    @property
    def fish_per_volume(self) -> float:
        """Fish in a cubic metre of the school."""
        if self.density is not None:
            return float(self.density)
        if self.count is not None and self.size is not None:
            return float(self.count) / (0.5236 * self.size.along * self.size.across * self.size.height)
        return float((3.0 * self.length.mean) ** -3)


def tables_clash(day: Any) -> str:
    """Return the error of the grounds of a day together, "" if there is none."""
    standing = [key for key in TABLES[:3] if getattr(day, key) is not None]
    if len(standing) > 1:
        return f"found {' and '.join(standing)}; allowed: one of wreck, reef and ledge"
    others = [key for key in TABLES if getattr(day, key) is not None and key != day.ground]
    if day.ground in ("bare", "slope") and others:
        return f'found ground = "{day.ground}" with the table {others[0]}; allowed: one of the two'
    return ""


#: The questions about a day, and their meaning.
QUESTIONS = {
    "swath": "how wide each element searches, and how many fish it misses at speed",
    "loss": "what you lose with one element for everything",
    "depth": "how deep each element shows the fish and the bottom",
    "size": "the smallest fish each element shows",
    "power": "what more power gains",
    "pulse": "what a longer pulse gains",
    "beam": "a narrow or a wide beam",
    "chirp": "a chirp or a tone",
    "speed": "what the boat's speed costs",
    "roll": "what the boat's roll costs",
}
About = Literal["swath", "loss", "depth", "size", "power", "pulse", "beam", "chirp", "speed", "roll"]
#: Keys of [ask] besides about, elements and depths that a question uses.
USES: Mapping[str, tuple[str, ...]] = {
    "swath": ("at",),
    "loss": ("at", "sediments"),
    "depth": ("sediments", "speeds"),
    "size": ("at",),
    "power": ("at", "sediments", "powers"),
    "pulse": ("at", "sediments", "pulses"),
    "beam": ("at", "sediments"),
    "chirp": ("at", "sediments"),
    "speed": ("at", "sediments", "speeds"),
    "roll": ("at", "rolls"),
}
Words = Annotated[str, choice_of(catalogue.element_names, "elements")]
Grounds = Annotated[str, choice_of(catalogue.sediment_names, "sediments")]


class Ask(Section):
    """A question about the day, for `pingwright ask`; keys that are left out depend on the question.

    elements, sediments: names of the catalogues. depths [m]: of the bottom; at [m]: of the fish, instead of the
    species' own place. powers [W], pulses [s], speeds [m/s], rolls [deg]: values to compare.
    """

    about: About
    elements: tuple[Words, ...] = ()
    sediments: tuple[Grounds, ...] = ()
    depths: Annotated[tuple[float, ...], Numbers(LENGTH, 1, 8, 1.0, 3000.0)] = ()
    at: Annotated[tuple[float, ...], Numbers(LENGTH, 1, 8, 1.0, 3000.0)] = ()
    powers: Annotated[tuple[float, ...], Numbers(POWER, 2, 5, 1.0, 100e3)] = (600.0, 1000.0, 2000.0)
    pulses: Annotated[tuple[float, ...], Numbers(TIME, 2, 5, 50e-6, 0.05)] = (0.5e-3, 2e-3, 10e-3)
    speeds: Annotated[tuple[float, ...], Numbers(SPEED, 2, 5, 0.0, 15.0)] = (0.0, 2.0578, 4.1156, 10.2889)
    rolls: Annotated[tuple[float, ...], Numbers(ANGLE, 2, 5, 0.0, 45.0)] = (0.0, 5.0, 10.0)
