"""Groups of fish by height above the ground: the rows of the comparison and the group in its headline."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import FishTruth

#: where a single group of fish is split by height [m]
SPLIT = (0.5, 2.0)


@dataclass(frozen=True)
class Group:
    """Fish that are counted together. fish (n): places in the truth's arrays; height, length [m]: their medians."""

    name: str
    fish: NDArray[np.intp]
    height: float
    length: float

    def count(self, marks: tuple[str, ...], mark: str) -> int:
        """Return how many of the group bear a mark; marks: of all fish of the recording."""
        return sum(marks[int(index)] == mark for index in self.fish)


def groups(fish: FishTruth) -> tuple[Group, ...]:
    """Return the groups of a recording's fish, the lowest first; every fish is in exactly one.

    Fish of one name are a group. If all have the same name, they are split at heights of 0.5 and 2 m.
    """
    names = np.array(fish.name, dtype=object)
    if len(set(fish.name)) > 1:
        parts = [np.flatnonzero(names == name) for name in dict.fromkeys(fish.name)]
    else:
        level = np.searchsorted(SPLIT, fish.height, side="right")
        parts = [np.flatnonzero(level == each) for each in range(len(SPLIT) + 1)]
    result = [
        Group(str(names[part[0]]), part, float(np.median(fish.height[part])), float(np.median(fish.length[part])))
        for part in parts
        if len(part)
    ]
    return tuple(sorted(result, key=lambda group: group.height))
