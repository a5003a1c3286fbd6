"""Tables in files: water profile, bottom grid, measured beam pattern. Plain comma-separated text, one header line."""

import re
from dataclasses import dataclass

from pingwright.errors import Fault, ScenarioError
from pingwright.inputs.document import decode
from pingwright.inputs.fields import nearest
from pingwright.quantities import (
    ANGLE,
    FREQUENCY,
    LENGTH,
    LEVEL,
    SALINITY,
    TEMPERATURE,
    Dimension,
    QuantityError,
    check,
    quoted,
)

_PLAIN_NUMBER = re.compile(r"[+-]?[0-9]{1,15}(?:\.[0-9]{0,15})?(?:[eE][+-]?[0-9]{1,2})?")
#: After this many faults of one file the rest is not listed.
MOST_FAULTS = 20

Rows = tuple[tuple[float, ...], ...]


class TableFaultsError(ValueError):
    """Faults inside a table file, each with its own line."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__("; ".join(str(fault) for fault in faults))
        self.faults = tuple(faults)


@dataclass(frozen=True)
class Column:
    """One column: its header, dimension and bounds in the base unit."""

    name: str
    dimension: Dimension
    low: float
    high: float


PROFILE = (
    Column("depth", LENGTH, 0.0, 6000.0),
    Column("temperature", TEMPERATURE, -2.0, 40.0),
    Column("salinity", SALINITY, 0.0, 45.0),
)
GRID = (
    Column("x", LENGTH, -1e5, 1e5),
    Column("y", LENGTH, -1e5, 1e5),
    Column("depth", LENGTH, 0.3, 3000.0),
)
PATTERN = (
    Column("frequency", FREQUENCY, 1e3, 2e6),
    Column("angle_along", ANGLE, -90.0, 90.0),
    Column("angle_across", ANGLE, -90.0, 90.0),
    Column("level", LEVEL, -200.0, 3.0),
)
MOST_ROWS = {"profile": 10_000, "bottom grid": 250_000, "pattern table": 250_000}


def read_rows(content: bytes, name: str, kind: str, columns: tuple[Column, ...]) -> tuple[Rows, tuple[int, ...]]:
    """Return the rows in the order of `columns` (base units) and each row's line number.

    Blank lines and lines that begin with # are skipped. Raises TableFaultsError with all faults.
    """
    try:
        text = decode(content, name)
    except ScenarioError as error:
        raise TableFaultsError(list(error.faults)) from None
    cells = [(number, line) for number, line in _numbered(text) if line and not line.startswith("#")]
    needed = ",".join(column.name for column in columns)
    if len(cells) < 2:
        raise TableFaultsError([Fault(name, 0, "", f"no rows found; allowed: the header {needed} and rows below it")])
    if len(cells) - 1 > MOST_ROWS[kind]:
        message = f"found {len(cells) - 1} rows; allowed in a {kind}: {MOST_ROWS[kind]}"
        raise TableFaultsError([Fault(name, cells[-1][0], "", message)])
    order = _header(cells[0], name, columns)
    faults: list[Fault] = []
    rows = [row for row in (_row(cell, name, columns, order, faults) for cell in cells[1:]) if row is not None]
    if faults:
        raise TableFaultsError(_gathered(faults))
    return tuple(rows), tuple(number for number, _ in cells[1:])


def _gathered(faults: list[Fault]) -> list[Fault]:
    """Return each fault once: what repeats in the lines below the first is counted there."""
    kinds: dict[tuple[str, str], list[Fault]] = {}
    for fault in faults:
        kinds.setdefault((fault.path, fault.message), []).append(fault)
    more = {same[0]: f" (and {len(same) - 1} more like it)" if len(same) > 1 else "" for same in kinds.values()}
    return [Fault(one.file, one.line, one.path, one.message + text) for one, text in more.items()]


def _numbered(text: str) -> list[tuple[int, str]]:
    """Return (line number, stripped line) for line ends of any system."""
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    return [(number, line.strip()) for number, line in enumerate(plain.split("\n"), 1)]


def _header(cell: tuple[int, str], name: str, columns: tuple[Column, ...]) -> list[int]:
    """Return where each wanted column stands; raises TableFaultsError."""
    line, text = cell
    result = [part.strip().lower() for part in text.split(",")]
    names = [column.name for column in columns]
    if sorted(result) == sorted(names):
        return [result.index(column) for column in names]
    strange = next((part for part in result if part not in names), "")
    hint = nearest(strange, names) if strange else ""
    if len(result) == 1 and re.search(r"[;\t]", text):
        hint = "; separate columns with commas"
    message = f"found the header {quoted(text, 80)}; allowed: {','.join(names)}{hint}"
    raise TableFaultsError([Fault(name, line, "", message)])


def _row(
    cell: tuple[int, str], name: str, columns: tuple[Column, ...], order: list[int], faults: list[Fault]
) -> tuple[float, ...] | None:
    """Return one row's numbers, or None with its faults added."""
    if len(faults) >= MOST_FAULTS:
        return None
    line, text = cell
    parts = text.split(",")
    if len(parts) != len(columns):
        message = f"found {len(parts)} values; allowed: {len(columns)}, as in the header"
        faults.append(Fault(name, line, "", message))
        return None
    values: list[float] = []
    for column, place in zip(columns, order, strict=True):
        try:
            values.append(_value(parts[place].strip(), column))
        except QuantityError as error:
            faults.append(Fault(name, line, column.name, str(error)))
    return tuple(values) if len(values) == len(columns) else None


def _value(text: str, column: Column) -> float:
    if not text:
        message = "empty cell; every cell needs a value"
        raise QuantityError(message)
    bare = float(text) if _PLAIN_NUMBER.fullmatch(text) else None
    if bare is not None and column.low <= bare <= column.high:
        return bare
    return check(text if bare is None else bare, column.dimension, column.low, column.high)


def read_profile(content: bytes, name: str) -> tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]:
    """Return depth [m], temperature [degC], salinity [g/kg] of a water profile, depth rising.

    Raises TableFaultsError.
    """
    rows, numbers = read_rows(content, name, "profile", PROFILE)
    faults = [
        Fault(name, number, "depth", f"found {deeper[0]:g} m after {upper[0]:g} m; allowed: depths that rise")
        for upper, deeper, number in zip(rows, rows[1:], numbers[1:], strict=False)
        if deeper[0] <= upper[0]
    ]
    if faults:
        raise TableFaultsError(faults[:MOST_FAULTS])
    depth, temperature, salinity = zip(*rows, strict=True)
    return depth, temperature, salinity


def read_grid(content: bytes, name: str) -> tuple[tuple[float, ...], tuple[float, ...], Rows]:
    """Return x (n), y (m) [m], both rising, and depth [m] (m, n) of a bottom grid.

    Every pair of x and y must stand once. Raises TableFaultsError.
    """
    rows, numbers = read_rows(content, name, "bottom grid", GRID)
    (x, y), table = _complete(rows, numbers, name, 2, ("x", "y"))
    _at_least_two(name, {"x": x, "y": y})
    return x, y, tuple(tuple(table[a, b] for a in x) for b in y)


def read_pattern(content: bytes, name: str) -> tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...], Rows]:
    """Return frequency (f) [Hz], angle_along (a), angle_across (b) [deg] and level [dB] as f rows of a x b values.

    Every combination must stand once, and the angles reach 5 deg or more to both sides, or from 0 on (then the table is
    mirrored). Raises TableFaultsError.
    """
    rows, numbers = read_rows(content, name, "pattern table", PATTERN)
    names = ("frequency", "angle_along", "angle_across")
    (frequency, along, across), table = _complete(rows, numbers, name, 3, names)
    _at_least_two(name, {"angle_along": along, "angle_across": across})
    for column, angles in (("angle_along", along), ("angle_across", across)):
        if not (angles[0] == 0.0 or angles[0] <= -5.0) or angles[-1] < 5.0:
            line = next(n for row, n in zip(rows, numbers, strict=True) if angles[-1] in row[1:3])
            message = (
                f"found angles from {angles[0]:g} to {angles[-1]:g} deg; allowed: 5 deg or more to both sides,"
                " or from 0 (are they in radians?)"
            )
            raise TableFaultsError([Fault(name, line, column, message)])
    level = tuple(tuple(table[f, a, b] for a in along for b in across) for f in frequency)
    return frequency, along, across, level


def _complete(
    rows: Rows, numbers: tuple[int, ...], name: str, keys: int, names: tuple[str, ...]
) -> tuple[list[tuple[float, ...]], dict[tuple[float, ...], float]]:
    """Return each key column's rising values and the last column by key; holes and doubles are refused."""
    table: dict[tuple[float, ...], float] = {}
    seen: dict[tuple[float, ...], int] = {}
    faults: list[Fault] = []
    for row, number in zip(rows, numbers, strict=True):
        key = row[:keys]
        if key in seen:
            message = f"found {_at(names, key)} again; line {seen[key]} has it already"
            faults.append(Fault(name, number, "", message))
        seen[key] = number
        table[key] = row[keys]
    axes = [tuple(sorted({row[k] for row in rows})) for k in range(keys)]
    size = 1
    for axis in axes:
        size *= len(axis)
    if size != len(table) and not faults:
        faults.append(_hole(rows, numbers, name, names, axes))
    if faults:
        raise TableFaultsError(faults[:MOST_FAULTS])
    return axes, table


def _hole(
    rows: Rows, numbers: tuple[int, ...], name: str, names: tuple[str, ...], axes: list[tuple[float, ...]]
) -> Fault:
    """Return a fault that names a missing combination and the line after which it was looked for."""
    keys = len(axes)
    counts = [dict.fromkeys(axis, 0) for axis in axes]
    for row in rows:
        for k in range(keys):
            counts[k][row[k]] += 1
    # The axis value with the fewest rows leads to the hole (or to the odd row out).
    k, value = min(
        ((k, v) for k in range(keys) for v in axes[k]), key=lambda kv: (counts[kv[0]][kv[1]] * len(axes[kv[0]]), kv)
    )
    line = next(n for row, n in zip(rows, numbers, strict=True) if row[k] == value)
    needed = 1
    for j in range(keys):
        needed *= len(axes[j]) if j != k else 1
    message = (
        f"found {counts[k][value]} rows with {names[k]} {value:g}; allowed: {needed}, one for every combination of "
        f"{' and '.join(n for j, n in enumerate(names) if j != k)} (no gaps)"
    )
    return Fault(name, line, names[k], message)


def _at(names: tuple[str, ...], key: tuple[float, ...]) -> str:
    return ", ".join(f"{n} {v:g}" for n, v in zip(names, key, strict=True))


def _at_least_two(name: str, axes: dict[str, tuple[float, ...]]) -> None:
    for column, values in axes.items():
        if len(values) < 2:
            raise TableFaultsError([Fault(name, 0, column, "found one value; allowed: two or more different values")])
