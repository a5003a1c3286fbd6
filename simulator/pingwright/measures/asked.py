"""One question put to the trials, in SI units, with everything it needs to be simulated."""

from dataclasses import dataclass

from pingwright.inputs.claims import Over
from pingwright.inputs.scenario import Scenario
from pingwright.trials.placement import Place, Species


@dataclass(frozen=True)
class Question:
    """A measure of one element, or of two: the first minus the second.

    scenario: holds exactly the elements compared, in order, unresolved. place None: anywhere. over: "pass" or "ping".
    at_least, at_most: the bound in the measure's unit, or both None for a number without a verdict. plane: of a
    beam width. pings: m and n of "at least m of n pings".
    """

    text: str
    measure: str
    scenario: Scenario
    species: Species
    place: Place | None = None
    over: Over = "pass"
    at_least: float | None = None
    at_most: float | None = None
    keep_structures: bool = False
    plane: str = "across"
    pings: tuple[int, int] | None = None

    @property
    def elements(self) -> tuple[str, ...]:
        """Names of the elements compared."""
        return tuple(str(spec.name) for spec in self.scenario.element)

    @property
    def is_difference(self) -> bool:
        """Whether it is about the first minus the second element."""
        return len(self.scenario.element) == 2

    @property
    def bound(self) -> float | None:
        """The bound, whichever side it is."""
        return self.at_least if self.at_least is not None else self.at_most
