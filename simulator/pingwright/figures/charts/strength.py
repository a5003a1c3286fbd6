"""Target strength of fish against length, by frequency or model."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright import words
from pingwright.figures.charts import lines
from pingwright.figures.style.sheet import Sheet, Size
from pingwright.figures.style.ticks import nice_ticks, tick_labels
from pingwright.palette import Theme
from pingwright.words import UNITS, Units

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]

#: dashes of the models, in their order
DASHES: tuple[tuple[float, ...], ...] = ((), (4, 1.5), (1, 1.2), (5, 1.2, 1, 1.2))

#: of some fish: lengths [m] or frequencies [Hz], and strengths [dB re 1 m2]
Dots = tuple[FloatArray, FloatArray]


def strength(
    length: FloatArray,
    by_length: Mapping[str, FloatArray],
    frequency: FloatArray,
    by_frequency: Mapping[str, FloatArray],
    theme: Theme = "light",
    units: Units = "m",
    size: Size = "two-column",
    dots: tuple[Dots, Dots] | None = None,
    extra: str = "",
) -> "Figure":
    """Return strength against length, and beside or beneath it against frequency.

    length (n) [m]; by_length: label -> (n) [dB re 1 m2], nan outside a model's range; frequency (m) [Hz];
    by_frequency: label -> (m) [dB re 1 m2]. dots: fish by length and by frequency. extra: words after the caution.
    """
    sheet = Sheet(theme, units, size)
    with sheet.drawing():
        figure, (left, right) = sheet.simple(2.9 * sheet.scale, 2, "How strongly a fish echoes", sharey=True)
        per, unit = (0.01, "cm") if units == "m" else (UNITS["ft"][0] / 12, "in")
        panels = ((left, length, per, by_length), (right, frequency, 1e3, by_frequency))
        for index, (ax, along, scale, curves) in enumerate(panels):
            x = along / scale
            for number, (name, level) in enumerate(curves.items()):  # in ink: colours are those of bands
                dashes = (0, DASHES[number % len(DASHES)]) if number % len(DASHES) else "-"
                ax.plot(x, level, color=sheet.inks.ink, ls=dashes, label=lines.as_label(name))
            if dots is not None:
                at, level = dots[index]
                ax.plot(
                    at / scale, level, "o", ms=3.2 * sheet.scale, color=sheet.inks.ink, gid="fish",
                    markerfacecolor=sheet.inks.panel, markeredgewidth=0.8 * sheet.scale, label="fish of this scenario",
                )  # fmt: skip
            ax.set_xscale("log")
            low, high = float(x[0]), float(x[-1])
            ticks = [d * 10.0**p for p in range(-1, 5) for d in (1, 2, 5) if low <= d * 10.0**p <= high]
            ax.set_xticks(ticks, labels=[f"{t:.4g}" for t in ticks])
            ax.xaxis.set_minor_formatter(lambda *_: "")
            ax.set_xlim(low, high)
        lines.legend(left, sheet, loc="lower right")  # the curves on the right have the same looks
        limits = left.get_ylim()
        levels = nice_ticks(*limits)
        left.set_yticks(levels, labels=tick_labels(levels))
        left.set_ylim(*limits)
        lines.dress(left, f"length ({unit})", "target strength (dB re 1 m\u00b2)")
        lines.dress(right, "frequency (kHz)", "")
        return sheet.finish(figure, extra=extra, formulas=True)


def caption(
    length: FloatArray,
    by_length: Mapping[str, FloatArray],
    units: Units = "m",
    at: float | None = None,
    of: float | None = None,
) -> str:
    """Return the caption, with the strengths at the ends of each curve over length.

    at [Hz]: frequency the curves over length hold for; of [m]: length those over frequency hold for.
    """
    texts = [_ends(name, length, level, units) for name, level in by_length.items()]
    over = "length" if at is None else f"length at {words.frequency(at)}"
    beside = "frequency" if of is None else f"frequency for {words.fish_length(of, units)}"
    return (
        f"Target strength of fish (dB re 1 m\u00b2) against {over} and against {beside}. {'; '.join(texts)}."
        " Published models."
    )


def _ends(name: str, length: FloatArray, level: FloatArray, units: Units) -> str:
    """Return the target strengths at the ends of the lengths for which a model is valid, in words."""
    good = np.flatnonzero(np.isfinite(level))
    if not len(good):
        return f"{name}: outside its range"
    low, high = good[0], good[-1]
    return (
        f"{name}: {words.digits(float(level[low]), 3)} dB at {words.length(float(length[low]), units)},"
        f" {words.digits(float(level[high]), 3)} dB at {words.length(float(length[high]), units)}"
    )


#: The alternative text, of the same arguments.
alt = words.opened("Two charts of target strength.", caption)
