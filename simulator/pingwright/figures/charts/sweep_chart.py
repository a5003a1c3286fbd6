"""A sweep in one picture: up to two numbers along one varied key, or one number along it for each value of a second."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pingwright.figures.charts import lines
from pingwright.figures.style.sheet import Sheet, Size
from pingwright.palette import Theme
from pingwright.words import UNITS, Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]

#: Numbers that are drawn first, if they exist and differ between scenes.
PREFERRED = ("share_separated", "share_detected", "reach", "swath", "bottom_error_median", "noise_level")
#: Of these the depths.
DEEP = ("reach",)
MOST_LINES = 8


@dataclass(frozen=True)
class Grid:
    """Means over the seeds (and over whatever else is varied together with a key), and the span of the seeds.

    x: the varied key, its unit and values (n), numbers or words; second: the other varied key likewise, its key ""
    where one is varied. measures: name -> unit. mean, low, high: (measure, element, value of second, n), nan where no
    scene has the number.
    """

    x: tuple[str, str, tuple[Any, ...]]
    second: tuple[str, str, tuple[Any, ...]]
    elements: tuple[str, ...]
    measures: Mapping[str, str]
    mean: FloatArray
    low: FloatArray
    high: FloatArray


def in_units(what: Grid, units: Units) -> Grid:
    """Return the same content with its lengths in the reader's units; fathoms are for depths, so widths are in feet."""
    near: Units = "ft" if units == "fathoms" else units
    own = {name: units if name in DEEP else near for name, unit in what.measures.items() if unit == "m"}
    factor = np.array([1 / UNITS[own[name]][0] if name in own else 1.0 for name in what.measures])
    names = {name: own.get(name, unit) for name, unit in what.measures.items()}
    scaled = (factor[:, None, None, None] * values for values in (what.mean, what.low, what.high))
    return Grid(_axis_in(what.x, units), _axis_in(what.second, units), what.elements, names, *scaled)


def _axis_in(axis: tuple[str, str, tuple[Any, ...]], units: Units) -> tuple[str, str, tuple[Any, ...]]:
    """Return a varied key with its lengths in the reader's units, rounded to what a file gives."""
    key, unit, values = axis
    if unit != "m" or units == "m":
        return axis
    shown: Units = units if "depth" in key or units != "fathoms" else "ft"
    return key, shown, tuple(float(f"{value / UNITS[shown][0]:.6g}") for value in values)


def grid(columns: Sequence[Any], results: Sequence[Mapping[str, Any]]) -> Grid | None:
    """Return the content of the chart of a sweep; None unless one or two keys vary and a number differs.

    columns: key, unit and cell(value) of each varied key; results: as the sweep keeps them.
    """
    whole = [result for result in results if result["elements"]]
    if len(columns) not in (1, 2) or not whole:
        return None
    numeric = [all(isinstance(v, (int, float)) for v in _values(one, whole)) for one in columns]
    order = list(columns) if numeric[0] or not numeric[-1] else list(columns)[::-1]
    x, second = order[0], order[1] if len(order) == 2 else None
    elements = tuple(whole[0]["elements"])
    xs, seconds = _values(x, whole), _values(second, whole) if second else ("",)
    cells: dict[tuple[str, str, Any, Any], list[float]] = {}
    for result in whole:
        at = (x.cell(result["changes"][x.key]), second.cell(result["changes"][second.key]) if second else "")
        for element, numbers in result["elements"].items():
            for name in PREFERRED:
                value = numbers.get(name, {}).get("value")
                if value is not None:
                    cells.setdefault((name, element, at[1], at[0]), []).append(float(value))
    drawn = [name for name in PREFERRED if len({v for key, vs in cells.items() if key[0] == name for v in vs}) > 1]
    drawn = drawn[: 2 if second is None else 1]
    if not drawn or len(seconds) > MOST_LINES:
        return None
    units = {name: next(e[name]["unit"] for r in whole for e in r["elements"].values() if name in e) for name in drawn}
    places = [(m, e, s, v) for m in drawn for e in elements for s in seconds for v in xs]
    shape = (len(drawn), len(elements), len(seconds), len(xs))
    parts = [
        np.array([how(cells.get(place, [np.nan])) for place in places]).reshape(shape)
        for how in (np.mean, np.min, np.max)
    ]
    return Grid((x.key, x.unit, xs), _named(second, seconds), elements, units, *parts)


def _named(column: Any, values: tuple[Any, ...]) -> tuple[str, str, tuple[Any, ...]]:
    return ("", "", values) if column is None else (column.key, column.unit, values)


def _values(column: Any, results: Sequence[Mapping[str, Any]]) -> tuple[Any, ...]:
    """Return the values in a column, rising if they are numbers, else in the order of the rows."""
    found = list(dict.fromkeys(column.cell(result["changes"][column.key]) for result in results))
    return tuple(sorted(found) if all(isinstance(v, (int, float)) for v in found) else found)


def in_words(name: str) -> str:
    """Return the name of a number or key in words: spaces instead of underscores and dots."""
    return name.replace("_", " ").replace(".", " ")


def chart(what: Grid, title: str, theme: Theme = "light", units: Units = "m", size: Size = "two-column") -> "Figure":
    """Return the picture: a panel for each number (one key varied), or for each element (two)."""
    sheet = Sheet(theme, units, size)
    alone = not what.second[0]
    panels = len(what.measures) if alone else min(len(what.elements), 3)
    with sheet.drawing():
        names = what.elements if alone else tuple(f"{v:g}" if isinstance(v, float) else str(v) for v in what.second[2])
        columns, head = lines.room_above(sheet, list(names))
        figure, axes = sheet.simple(2.7 * sheet.scale + head, panels, title, head)
        for panel, ax in enumerate(axes):
            for line, name in enumerate(names):
                at = (panel, line, 0) if alone else (0, panel, line)
                _line(ax, sheet, what, at, name, line)
            measure = list(what.measures)[panel if alone else 0]
            unit = what.measures[measure]
            label = in_words(measure) + (f" ({unit})" if unit else "")
            lines.dress(ax, _axis(what.x), label)
            if not alone:
                ax.set_title(what.elements[panel], fontsize=sheet.points)
            if measure.startswith("share"):
                ax.set_ylim(-0.02, 1.02)
        lines.legend_above(figure, sheet, axes[0].get_legend_handles_labels()[0], columns)
        other = "" if alone else f"Lines: {_axis(what.second)}. "
        return sheet.finish(figure, extra=f"{other}Mean over the seeds; shaded: from the least to the greatest.")


def _axis(of: tuple[str, str, tuple[Any, ...]]) -> str:
    return in_words(of[0]) + (f" ({of[1]})" if of[1] else "")


def _line(ax: "Axes", sheet: Sheet, what: Grid, at: tuple[int, int, int], name: str, line: int) -> None:
    """Draw one line with the span of its seeds."""
    values, look = what.x[2], sheet.series(line)
    numbers = all(isinstance(v, (int, float)) for v in values)
    x = np.array(values, dtype=float) if numbers else np.arange(len(values), dtype=float)
    ax.fill_between(x, what.low[at], what.high[at], color=look["color"], alpha=0.2, lw=0)
    ax.plot(x, what.mean[at], **look, marker="o", ms=2.5 * sheet.scale, label=lines.as_label(name))
    if not numbers:
        ax.set_xticks(x, labels=[str(v) for v in values])


def alt(what: Grid, title: str) -> str:
    """Return the alternative text: each line's first and last value."""
    texts = [f"Chart of {title}. Simulated."]
    for m, (measure, unit) in enumerate(what.measures.items()):
        for e, element in enumerate(what.elements):
            for s, value in enumerate(what.second[2]):
                of = f", {_axis(what.second)} {value}" if what.second[0] else ""
                first, last = what.mean[m, e, s, 0], what.mean[m, e, s, -1]
                texts.append(
                    f"{element}{of}: {in_words(measure)} from {first:.3g} to {last:.3g} {unit}".rstrip()
                    + f" as {in_words(what.x[0])} goes from {what.x[2][0]} to {what.x[2][-1]}."
                )
    return " ".join(texts)
