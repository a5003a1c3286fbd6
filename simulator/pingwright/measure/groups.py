"""Groups of fish by height above the ground: the rows of the comparison and the group in its headline."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import FishTruth, Record
from pingwright.inputs.document import tables

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


def of_record(record: Record) -> tuple[Group, ...]:
    """Return the groups of a recording's fish, see `groups`."""
    return groups(record.truth.fish, _are_taken_out(record.scenario))


@lru_cache(maxsize=8)
def _are_taken_out(scenario: str) -> bool:
    """Return whether a scenario's text has fish taken out of their table (`without`)."""
    try:
        fish = tables(scenario).get("fish")
    except ValueError:
        fish = None
    return isinstance(fish, list) and any(isinstance(one, dict) and one.get("without") for one in fish)


def groups(fish: FishTruth, taken_out: bool = False) -> tuple[Group, ...]:
    """Return the groups of a recording's fish, the lowest first; every fish is in exactly one.

    Fish of one name are a group. If all have the same name, they are split at heights of 0.5 and 2 m, unless some were
    taken out of their table: these still belong to the others, however high they are lifted.
    """
    names = np.array(fish.name, dtype=object)
    if len(set(fish.name)) > 1 or (taken_out and len(names)):
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
