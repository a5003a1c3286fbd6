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
    return groups(record.truth.fish, _tables(record.scenario))


@lru_cache(maxsize=8)
def _tables(scenario: str) -> int:
    """Return how many tables of fish a scenario's text has, 1 where it says nothing of them."""
    try:
        fish = tables(scenario).get("fish")
    except ValueError:
        fish = None
    return len(fish) if isinstance(fish, list) else 1


def groups(fish: FishTruth, count: int = 1) -> tuple[Group, ...]:
    """Return the groups of a recording's fish, the lowest first; every fish is in exactly one.

    Fish of one name are a group. The fish of a single table are split at heights of 0.5 and 2 m. count: of the
    `[[fish]]` tables that they are from; several of the same name are meant to be counted together.
    """
    names = np.array(fish.name, dtype=object)
    if len(set(fish.name)) > 1 or (count > 1 and len(names)):
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
