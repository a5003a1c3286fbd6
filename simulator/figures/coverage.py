"""Footprint and searched width against depth: how much of the bottom each element covers, and how much of it counts."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from simulator.acoustics import deadzone
from simulator.echograms.record import Record
from simulator.figures import lines, words
from simulator.figures.style import UNITS, Sheet, Size, Units, unit_ticks
from simulator.palette import Theme

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]


def footprints(record: Record, depth: FloatArray) -> dict[str, FloatArray]:
    """Return the one-way -3 dB footprint across the track [m] (depth) of each element, by its name."""
    return {e.info.name: np.asarray(deadzone.footprint(depth, e.info.beamwidth_across)) for e in record.elements}


def coverage(
    depth: FloatArray,
    footprint: Mapping[str, FloatArray],
    searched: Mapping[str, FloatArray] | None = None,
    height: float = 0.3,
    theme: Theme = "light",
    units: Units = "m",
    size: Size = "two-column",
) -> "Figure":
    """Return footprint (left) and searched width (right) against depth.

    depth (n) [m, bottom below the transducer]; footprint, searched: element name -> width (n) [m]. height [m] of the
    fish above a flat bottom: its limit by geometry, 2 sqrt(2 d h - h^2), is drawn beside the searched widths. Without
    `searched` that is the lesser of footprint and limit.
    """
    sheet = Sheet(theme, units, size)
    limit = np.asarray(deadzone.searched_width(depth, np.minimum(height, depth)))
    shown = searched if searched is not None else {k: np.minimum(v, limit) for k, v in footprint.items()}
    with sheet.drawing():
        figure, axes = sheet.simple(3.0 * sheet.scale, 2, "How wide each element looks", sharey=True)
        most = 1.05 * max(float(np.nanmax(v)) for v in footprint.values())
        for ax, widths, name in zip(axes, (footprint, shown), ("footprint", "searched width"), strict=True):
            for index, (element, width) in enumerate(widths.items()):
                ax.plot(width, depth, label=lines.as_label(element), **sheet.series(index), gid=f"{name} {index}")
            lines.dress(ax, "", "")
            ax.set_xlim(0, most)
            unit_ticks(ax, "x", units, (0, most))
            ax.set_xlabel(f"{name} ({UNITS[units][1]})")
        geometry = axes[1].plot(limit, depth, color=sheet.inks.ink, lw=0.8 * sheet.scale, ls=(0, (1, 1.5)),
                     label=f"limit by geometry, fish {words.length(height, units)} up", gid="limit")  # fmt: skip
        lines.metres(axes[0], sheet, "y", "depth", (float(depth[-1]), 0.0))
        lines.legend(axes[0], sheet, loc="upper right")
        lines.legend(axes[1], sheet, handles=geometry, loc="upper right")  # the elements are named on the left
        return sheet.finish(figure)


def caption(
    depth: FloatArray, footprint: Mapping[str, FloatArray], height: float = 0.3, units: Units = "m", at: float = 50.0
) -> str:
    """Return the caption, with the numbers at one depth [m]."""
    place = min(at, float(depth[-1]))
    said = [f"{name} {words.length(float(np.interp(place, depth, w)), units)}" for name, w in footprint.items()]
    limit = float(deadzone.searched_width(place, min(height, place)))
    return (
        f"Footprint (one-way \u22123 dB) and searched width against depth. At {words.length(place, units)} the"
        f" footprint is {words.listed(said)}; a fish {words.length(height, units)} above a flat bottom stands ahead"
        f" of the bottom echo only within {words.length(limit, units)}. Simulated."
    )


def alt(
    depth: FloatArray, footprint: Mapping[str, FloatArray], height: float = 0.3, units: Units = "m", at: float = 50.0
) -> str:
    """Return the alternative text."""
    return f"Two charts with depth downwards. {caption(depth, footprint, height, units, at)}"
