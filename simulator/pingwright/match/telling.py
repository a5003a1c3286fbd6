"""What users see while passes are simulated: each species in each slice of depth, as soon as its passes are done."""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pingwright.checkpoint import Checkpoint
from pingwright.words import length

if TYPE_CHECKING:
    from pingwright.match.pipeline import Match


class Telling(Checkpoint):
    """A checkpoint that tells what it stores; closed: the formulas' answer, tell: called with a line (None: silent)."""

    def __init__(self, path: Path, mark: str, closed: "Match | None", tell: Callable[[str], None] | None) -> None:
        super().__init__(path, mark)
        self._closed, self._tell = closed, tell

    def save(self, changes: Mapping[str, Any]) -> None:
        """Store results and tell those of fish under the boat; their names are numbers, see `trials.run`."""
        super().save(changes)
        for name, seen in changes.items():
            if self._closed and self._tell and name.isdecimal():
                self._tell(line(self._closed, *divmod(int(name), 100), np.array(seen["separated"])))


def line(closed: "Match", slice_: int, species: int, separated: Any) -> str:
    """Return which share of passes shows a species clear of the bottom in a slice of depth, beside the formulas'.

    separated (element, pass).
    """
    hits = closed.hits
    depth = length(float(hits.edges[slice_ : slice_ + 2].mean()), closed.units)
    each = [
        f"{name} {100 * passes.mean():.0f} % (formula {100 * formula[slice_, species].mean():.0f} %)"
        for name, passes, formula in zip(hits.elements, separated, hits.separated, strict=True)
    ]
    count = np.shape(separated)[1]
    return f"{count} passes, {hits.species[species]} in {depth} of water, clear of the bottom: {', '.join(each)}"
