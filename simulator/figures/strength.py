"""Strength of fish against length, by frequency or model."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from simulator.figures import lines, words
from simulator.figures.style import UNITS, Sheet, Size, Units, nice_ticks, tick_labels
from simulator.palette import Theme

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]


def strength(
    length: FloatArray,
    by_length: Mapping[str, FloatArray],
    frequency: FloatArray,
    by_frequency: Mapping[str, FloatArray],
    theme: Theme = "light",
    units: Units = "m",
    size: Size = "two-column",
) -> "Figure":
    """Return strength against length (left) and against frequency (right).

    length (n) [m]; by_length: label -> (n) [dB re 1 m2], nan outside a model's range; frequency (m) [Hz];
    by_frequency: label -> (m) [dB re 1 m2].
    """
    sheet = Sheet(theme, units, size)
    with sheet.drawing():
        figure, (left, right) = sheet.simple(2.9 * sheet.scale, 2, "How strongly a fish echoes", sharey=True)
        per, unit = (0.01, "cm") if units == "m" else (UNITS["ft"][0] / 12, "in")
        for ax, x, curves in ((left, length / per, by_length), (right, frequency / 1e3, by_frequency)):
            lines.by_element(ax, sheet, x, curves)
            ax.set_xscale("log")
            low, high = float(x[0]), float(x[-1])
            ticks = [d * 10.0**p for p in range(-1, 5) for d in (1, 2, 5) if low <= d * 10.0**p <= high]
            ax.set_xticks(ticks, labels=[f"{t:.4g}" for t in ticks])
            ax.xaxis.set_minor_formatter(lambda *_: "")
            ax.set_xlim(low, high)
            lines.legend(ax, sheet, loc="lower right")
        limits = left.get_ylim()
        levels = nice_ticks(*limits)
        left.set_yticks(levels, labels=tick_labels(levels))
        left.set_ylim(*limits)
        lines.dress(left, f"length ({unit})", "target strength (dB re 1 m\u00b2)")
        lines.dress(right, "frequency (kHz)", "")
        return sheet.finish(figure)


def caption(length: FloatArray, by_length: Mapping[str, FloatArray], units: Units = "m") -> str:
    """Return the caption, with the strengths at the ends of the length axis."""
    said = [
        f"{name}: {words.digits(float(v[0]), 3)} dB at {words.length(float(length[0]), units)},"
        f" {words.digits(float(v[-1]), 3)} dB at {words.length(float(length[-1]), units)}"
        for name, v in by_length.items()
    ]
    return (
        f"Target strength of fish (dB re 1 m\u00b2) against length and frequency. {'; '.join(said)}. Published models."
    )


def alt(length: FloatArray, by_length: Mapping[str, FloatArray], units: Units = "m") -> str:
    """Return the alternative text."""
    return f"Two charts of rising curves. {caption(length, by_length, units)}"
