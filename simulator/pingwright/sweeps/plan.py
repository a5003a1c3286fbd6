"""The keys that a sweep varies, and the scenes that result."""

import itertools
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from pingwright import checkpoint
from pingwright.errors import Fault, ScenarioError
from pingwright.quantities import (
    ANGLE,
    FREQUENCY,
    LENGTH,
    LEVEL,
    NUMBER_DENSITY,
    POWER,
    RATIO,
    SALINITY,
    SPEED,
    TEMPERATURE,
    TIME,
    QuantityError,
    split,
    to_base,
)

DIMENSIONS = (
    LENGTH, FREQUENCY, TIME, POWER, SPEED, ANGLE, LEVEL, TEMPERATURE, SALINITY, NUMBER_DENSITY, RATIO,
)  # fmt: skip
#: Most scenes of one sweep; for more, use several sweeps.
MOST_SCENES = 1_000_000


@dataclass(frozen=True)
class Scene:
    """One scene of a sweep: its number from 1, the keys that are set, its seed."""

    number: int
    changes: Mapping[str, Any]
    seed: int


@dataclass(frozen=True)
class Plan:
    """A sweep: the text of a scenario and its files, what is varied, the seeds, what is kept of each scene.

    vary: dotted key -> values, every combination of them; together: keys whose values change together. keep: "numbers"
    or "echograms" (a file for each scene as well). The first key changes slowest, the seed fastest.
    """

    title: str
    text: str
    files: Mapping[str, bytes]
    vary: Mapping[str, Sequence[Any]]
    together: Mapping[str, Sequence[Any]] = field(default_factory=dict)
    seeds: tuple[int, ...] = (0,)
    keep: str = "numbers"
    name: str = "sweep"

    def __post_init__(self) -> None:
        """Refuse empty lists, keys given twice, and lists of unequal length that should change together."""
        faults = [
            Fault(self.name, 0, f"{where}.{key}"[:200], f"found {len(values)} values; allowed: a list of at least one")
            for where, keys in (("vary", self.vary), ("vary.together", self.together))
            for key, values in keys.items()
            if not len(values)
        ]
        twice = [key for key in self.together if key in self.vary]
        faults += [Fault(self.name, 0, f"vary.{key}"[:200], "is varied in [vary.together] too") for key in twice]
        lengths = {len(values) for values in self.together.values()}
        if len(lengths) > 1:
            message = f"found lists of {', '.join(map(str, sorted(lengths)))} values; allowed: all of the same length"
            faults.append(Fault(self.name, 0, "vary.together", message))
        if not self.seeds:
            faults.append(Fault(self.name, 0, "seeds", "found none; allowed: a number from 1, or a list of seeds"))
        if not faults and self.count > MOST_SCENES:
            faults.append(Fault(self.name, 0, "vary", f"makes {self.count} scenes; allowed: at most {MOST_SCENES}"))
        if faults:
            raise ScenarioError(faults)

    @property
    def keys(self) -> tuple[str, ...]:
        """The varied keys, in order."""
        return (*self.vary, *self.together)

    @property
    def steps(self) -> int:
        """Number of values that change together; 1 if there are none."""
        return len(next(iter(self.together.values()), (None,)))

    @property
    def count(self) -> int:
        """Number of scenes."""
        total = self.steps * len(self.seeds)
        for values in self.vary.values():
            total *= len(values)
        return total

    def scenes(self) -> Iterator[Scene]:
        """Yield the scenes in order."""
        grid = itertools.product(*self.vary.values(), range(self.steps), self.seeds)
        for number, (*values, step, seed) in enumerate(grid, 1):
            changes = dict(zip(self.vary, values, strict=True))
            changes |= {key: rows[step] for key, rows in self.together.items()}
            yield Scene(number, changes, seed)

    def values(self, key: str) -> Sequence[Any]:
        """Return the values of a varied key."""
        return self.vary[key] if key in self.vary else self.together[key]

    @property
    def fingerprint(self) -> str:
        """Key that interrupted work and its shares must have in common: all that the results depend on."""
        varied = json.dumps([list(self.vary.items()), list(self.together.items()), self.seeds, self.keep])
        return checkpoint.fingerprint(self.text, varied, *sorted(self.files.items()))


def seeds_of(seeds: int | Sequence[int], first: int) -> tuple[int, ...]:
    """Return the seeds of a sweep: a given list, or n seeds from the scenario's own seed on."""
    return tuple(range(first, first + seeds)) if isinstance(seeds, int) else tuple(int(seed) for seed in seeds)


@dataclass(frozen=True)
class Column:
    """A varied key as a column: its unit ("" for words and plain numbers), and the cell for each value."""

    key: str
    unit: str
    shown: Mapping[str, Any]

    def cell(self, value: Any) -> Any:
        """Return the cell of the table for a value: a number in `unit`, or a text."""
        return self.shown[json.dumps(value)]


def column(key: str, values: Sequence[Any]) -> Column:
    """Return the column of a key: numbers in one SI unit where all values are quantities, texts where they are not."""
    read = [_number(value) for value in values]
    units = {unit for number, unit in read if unit}
    if len(units) > 1 or any(number is None for number, _ in read):
        return Column(key, "", {json.dumps(v): v if isinstance(v, str) else json.dumps(v) for v in values})
    return Column(key, units.pop() if units else "", {json.dumps(v): n for v, (n, _) in zip(values, read, strict=True)})


def _number(value: Any) -> tuple[float | None, str]:
    """Return a quantity as a number and its SI unit; None where it is none."""
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return value, ""
    if not isinstance(value, str):
        return None, ""
    try:
        number, unit = split(value)
        known = next((dimension for dimension in DIMENSIONS if unit in dimension.units), None)
        return (to_base(number, unit, known), known.unit) if known else (None, "")
    except QuantityError:
        return None, ""
