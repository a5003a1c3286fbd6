"""What a claim asks, in SI units, with everything it needs to be simulated."""

from dataclasses import dataclass, replace
from typing import Any

#: Measures that are counted run by run, in percent of runs.
PROBABILITIES = ("separated", "detected", "separated_pair")
#: Measures that are a quantity in metres (beam width: degrees).
LIMITS = ("reach", "smallest_fish", "swath")
ECHOES = ("beam_width", "range_resolution")
UNITS = {name: "" for name in PROBABILITIES} | {"beam_width": "deg"}


@dataclass(frozen=True)
class Species:
    """The fish a claim is about.

    length [m, 0 where the claim is about the length], its spread length_sd [m]; above_bottom or depth [m], the other
    None; tilt: mean and standard deviation [deg]; spacing [m]: of a second fish above the first, or None.
    """

    swimbladder: str
    length: float
    length_sd: float
    above_bottom: float | None
    depth: float | None
    tilt: tuple[float, float]
    strength_model: str
    spacing: float | None = None


@dataclass(frozen=True)
class Place:
    """Where the fish is, relative to the boat: along, across [m]; None is anywhere in the footprint."""

    along: float
    across: float


@dataclass(frozen=True)
class Question:
    """One claim.

    scenario: the base with the claim's changes (inputs.scenario.Scenario), holding exactly the elements compared, in
    the claim's order. place None: anywhere. at_least, at_most: the bound in the measure's unit, or both None where a
    number and no verdict is asked. keep_structures: whether the scenario's structures stay. plane: of a beam width.
    """

    says: str
    measure: str
    scenario: Any
    species: Species
    place: Place | None
    at_least: float | None
    at_most: float | None
    keep_structures: bool = False
    plane: str = "across"

    @property
    def elements(self) -> tuple[str, ...]:
        """Names of the elements compared."""
        return tuple(str(spec.name) for spec in self.scenario.element)

    @property
    def is_difference(self) -> bool:
        """Whether the claim is about the first less the second element."""
        return len(self.scenario.element) == 2

    @property
    def unit(self) -> str:
        """Unit of the number."""
        return UNITS.get(self.measure, "m")

    @property
    def bound(self) -> float | None:
        """The bound, whichever side it is."""
        return self.at_least if self.at_least is not None else self.at_most


def questions(asked: Any) -> tuple[Question, ...]:
    """Return the questions of a claims file (inputs.claims.ClaimsFile). Raises ScenarioError."""
    from pingwright.inputs.claims import scenario_of

    made = []
    for claim in asked.claim:
        bound = claim.holds_if
        made.append(
            Question(
                says=str(claim.says),
                measure=str(claim.measure),
                scenario=scenario_of(asked, claim),
                species=_species(claim.fish),
                place=None if claim.place is None else Place(float(claim.place.along), float(claim.place.across)),
                at_least=None if bound is None else bound.at_least,
                at_most=None if bound is None else bound.at_most,
                keep_structures="structure" in asked.keep,
                plane=str(claim.plane),
            )
        )
    return tuple(made)


def everyone(asked: Any, question: Question, index: int) -> Question:
    """Return a question of a claims file, the claim's index from 0, about all elements of the scenario, its own first.

    No bound is left, for it is about the claim's own.
    """
    from pingwright.inputs.claims import scenario_of

    own = question.elements[:1]
    names = own + tuple(str(e.name) for e in asked.base.element if str(e.name) not in own)
    scenario = scenario_of(asked, asked.claim[index].model_copy(update={"element": names}))
    return replace(question, scenario=scenario, at_least=None, at_most=None)


def _species(fish: Any) -> Species:
    """Return the fish of a claim with the world's defaults for its swimbladder; none given: a closed one."""
    from pingwright.world.resolve import STRENGTH_MODEL, TILT

    if fish is None:
        return Species("closed", 0.0, 0.0, None, None, TILT["closed"], STRENGTH_MODEL["closed"])
    kind, length = str(fish.swimbladder), fish.length
    tilt = TILT[kind] if fish.tilt is None else (float(fish.tilt.mean), float(fish.tilt.sd))
    return Species(
        kind,
        0.0 if length is None else float(length.mean),
        0.0 if length is None else float(length.sd),
        fish.above_bottom,
        fish.depth,
        tilt,
        str(fish.strength_model or STRENGTH_MODEL[kind]),
        fish.spacing,
    )
