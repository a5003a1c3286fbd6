"""Probabilities: curves with their intervals, maps, the least height that is separated, and the inverse chart.

All inputs are plain arrays, so claims and matches use the same figures.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright import palette, words
from pingwright.figures.charts import lines
from pingwright.figures.style.sheet import Sheet, Size
from pingwright.figures.style.ticks import unit_ticks
from pingwright.palette import Theme
from pingwright.words import UNITS, Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]
#: No band of own noise.
NO_NOISE: Mapping[str, tuple[float, float]] = MappingProxyType({})


@dataclass(frozen=True)
class Curve:
    """A probability along an axis: value, low, high (n), 0..1 or nan; low and high bound its interval."""

    value: FloatArray
    low: FloatArray
    high: FloatArray


@dataclass(frozen=True)
class Axis:
    """A quantity along an axis: name, values (n), and "m" where they are metres to be shown in the reader's units.

    log: drawn on a logarithmic scale; names: what stands at each value in place of its number.
    """

    name: str
    values: FloatArray
    unit: str = "m"
    log: bool = False
    names: tuple[str, ...] = ()


def _scale(ax: "Axes", sheet: Sheet, which: str, axis: Axis) -> None:
    """Name an axis and give it limits and ticks."""
    low, high = float(np.min(axis.values)), float(np.max(axis.values))
    scale = ax.xaxis if which == "x" else ax.yaxis
    if axis.log:
        (ax.set_xscale if which == "x" else ax.set_yscale)("log")
    (ax.set_xlim if which == "x" else ax.set_ylim)(low, high)
    unit, one = axis.unit, 1.0
    if unit == "m":
        one, unit = UNITS[sheet.units]
        unit_ticks(ax, "x" if which == "x" else "y", sheet.units, (low, high))
    if axis.log:
        ticks = np.array([m * 10.0**k for k in range(-4, 5) for m in (1, 2, 5)])
        ticks = ticks[(ticks * one >= low) & (ticks * one <= high)]
        scale.set_ticks(ticks * one, labels=[f"{tick:g}" for tick in ticks])
        scale.set_ticks([], minor=True)
    if axis.names:
        scale.set_ticks(axis.values, labels=axis.names)
    label = f"{axis.name} ({unit})" if unit else axis.name
    (ax.set_xlabel if which == "x" else ax.set_ylabel)(label)


#: Marks of closed forms, by element.
CROSSES = ("x", "+", "1", "2", "3", "4")


def curves(
    along: Axis,
    drawn: Mapping[str, Curve],
    title: str,
    wanted: float | None = None,
    chance: float | None = None,
    theory: Mapping[str, FloatArray] | None = None,
    level: str = "asked for",
    at: float | None = None,
    theme: Theme = "light",
    units: Units = "m",
    size: Size = "two-column",
    faces: tuple[palette.Face, ...] = (),
    noise: Mapping[str, tuple[float, float]] = NO_NOISE,
) -> "Figure":
    """Return probabilities along an axis, a curve an element, with their intervals shaded.

    wanted: the probability that a claim needs, a line named `level`. at: the value of the axis in the claim, also a
    line. chance: the false alarms, a dotted line. theory: closed forms (n) by names of `drawn`, crosses in the
    element's colour. noise: by names of `drawn`, where a curve passes `wanted` with own noise 10 dB higher and lower.
    """
    sheet = Sheet(theme, units, size, faces)
    with sheet.drawing():
        flat = [name for name, height in ((level, wanted), ("by chance", chance)) if height is not None]
        names = [f"{name}, simulated" if theory else name for name in drawn]
        bound = None if at is None else f"asked about: {_at(along, at, units)}"
        labels = [*names, *_of_crosses(theory or {}), *flat, *([bound] if bound else [])]
        columns, head = lines.room_above(sheet, labels)
        figure, (ax,) = sheet.simple(3.1 * sheet.scale + head, 1, title, head)
        for index, curve in enumerate(drawn.values()):
            look = sheet.series(index)
            ax.fill_between(along.values, curve.low, curve.high, color=look["color"], alpha=0.2, lw=0)
            ax.plot(along.values, curve.value, **look, label=lines.as_label(names[index]), gid=f"curve {index}")
        _crosses(ax, sheet, along, list(drawn), theory or {})
        for height, name, dashes in ((wanted, level, (5, 2)), (chance, "by chance", (1, 1.5))):
            if height is not None:
                ax.axhline(height, color=sheet.inks.ink, lw=0.7 * sheet.scale, ls=(0, dashes), label=name, gid=name)
        for name, ends in noise.items():
            color, k = sheet.series(list(drawn).index(name))["color"], sheet.scale
            ax.plot(ends, [wanted] * 2, color=color, lw=2.2 * k, alpha=0.6, marker="|", ms=7 * k, gid="noise band")
        if at is not None:
            ax.axvline(at, color=sheet.inks.ink, lw=0.7 * sheet.scale, ls=(0, (1, 1.5)), label=bound, gid="asked about")
        ax.set_ylim(0, 1)
        lines.dress(ax, "", "probability")
        _scale(ax, sheet, "x", along)
        lines.legend_above(figure, sheet, ax.get_legend_handles_labels()[0], columns)
        bands = " Bar at the limit: own noise 10 dB louder to quieter." if noise else ""
        return sheet.finish(figure, extra=f"Shaded: the interval of each estimate.{bands}")


def _crosses(ax: "Axes", sheet: Sheet, along: Axis, names: list[str], theory: Mapping[str, FloatArray]) -> None:
    """Draw closed forms by element; elements of one band have one colour, so each has marks of its own."""
    for number, (name, values, label) in enumerate(zip(theory, theory.values(), _of_crosses(theory), strict=True)):
        color, mark = sheet.series(names.index(name))["color"], CROSSES[number % len(CROSSES)]
        ax.plot(along.values, values, color=color, lw=0, clip_on=False, marker=mark, ms=3.5 * sheet.scale,
                label=lines.as_label(label), gid=f"closed form {number}")  # fmt: skip


def _of_crosses(theory: Mapping[str, FloatArray]) -> list[str]:
    """Return what the legend says of closed forms, by element where there are several."""
    return ["closed form"] if len(theory) == 1 else [f"{name}, closed form" for name in theory]


def _at(along: Axis, value: float, units: Units) -> str:
    """Return a value of an axis in words."""
    return words.length(value, units) if along.unit == "m" else f"{words.digits(value)} {along.unit}".strip()


def caption(
    along: Axis,
    drawn: Mapping[str, Curve],
    title: str,
    units: Units = "m",
    noise: Mapping[str, tuple[float, float]] = NO_NOISE,
) -> str:
    """Return the caption of probability curves, with both ends of each; noise: see `curves`."""
    ends = _at(along, float(along.values[0]), units), _at(along, float(along.values[-1]), units)
    texts = [
        f"{name}: {words.digits(float(c.value[0]))} at {ends[0]}, {words.digits(float(c.value[-1]))} at {ends[1]}"
        for name, c in drawn.items()
    ]
    bands = [f"{name} {_at(along, low, units)} to {_at(along, high, units)}" for name, (low, high) in noise.items()]
    limits = f" Limits with own noise 10 dB louder to quieter: {'; '.join(bands)}." if bands else ""
    return f"{title}. Probability against {along.name}; {'; '.join(texts)}. Shaded: intervals.{limits} Simulated."


def alt(
    along: Axis,
    drawn: Mapping[str, Curve],
    title: str,
    units: Units = "m",
    noise: Mapping[str, tuple[float, float]] = NO_NOISE,
) -> str:
    """Return the alternative text of probability curves, of the same arguments as the caption."""
    return f"Chart of {len(drawn)} curve{'s' * (len(drawn) != 1)}. {caption(along, drawn, title, units, noise)}"
