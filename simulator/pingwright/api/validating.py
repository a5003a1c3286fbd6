"""validate: computed against published, for notebooks."""

from typing import TYPE_CHECKING, Any

from pingwright.api.markup import table
from pingwright.validation import writing
from pingwright.validation.pipeline import Validation
from pingwright.validation.pipeline import validate as work

if TYPE_CHECKING:
    import pandas as pd


class Evidence:
    """Results of validation: rows of formulas, numbers of simulated scenes, and the names of those out of tolerance."""

    def __init__(self, validation: Validation) -> None:
        self._found = validation

    @property
    def missed(self) -> tuple[str, ...]:
        """Names of numbers outside their tolerance; empty if all are inside."""
        return self._found.missed

    @property
    def answer(self) -> str:
        """The outcome in one sentence."""
        return self._found.answer

    def to_dict(self) -> dict[str, Any]:
        """Return what validation.json holds: rows, checks, not_validated, assumed."""
        return writing.as_data(self._found)

    def to_frame(self) -> "pd.DataFrame":
        """Return the rows of the formulas as a pandas DataFrame. Needs pandas (extra `notebook`)."""
        import pandas as pd

        return pd.DataFrame(self.to_dict()["rows"])

    def __repr__(self) -> str:
        """Return one short line."""
        return f"<Evidence: {self.answer[:160]}>"

    def _repr_html_(self) -> str:
        rows = [(c.what, writing.number(c.computed), writing.number(c.expected), c.unit) for c in self._found.checks]
        return table("Validation", [("simulated", "computed", "expected", "unit"), *rows], self.answer)


def validate(*, quick: bool = False) -> Evidence:
    """Compute every published row and simulate every check, and return both beside the numbers they must give.

    quick: with fewer pings and wider tolerances, some seconds instead of a minute.
    """
    return Evidence(work(quick=quick))
