"""Footprint and swath against depth: how much of the bottom each element covers, and how much of it counts."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright import palette, words
from pingwright.acoustics import deadzone
from pingwright.echograms.record import Record
from pingwright.figures.charts import lines
from pingwright.figures.style.sheet import Sheet, Size
from pingwright.figures.style.ticks import unit_ticks
from pingwright.palette import Theme
from pingwright.words import UNITS, Units

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]


def footprints(record: Record, depth: FloatArray) -> dict[str, FloatArray]:
    """Return the one-way -3 dB footprint across the track [m] (depth) of each element, by its name."""
    return {e.info.name: np.asarray(deadzone.footprint(depth, e.info.beamwidth_across)) for e in record.elements}


def coverage(
    depth: FloatArray,
    footprint: Mapping[str, FloatArray],
    searched: Mapping[str, FloatArray],
    height: float = 0.3,
    theme: Theme = "light",
    units: Units = "m",
    size: Size = "two-column",
    faces: tuple[palette.Face, ...] = (),
) -> "Figure":
    """Return footprint (left) and swath (right) against depth.

    depth (n) [m, bottom below the transducer]; footprint, searched: element name -> width (n) [m], nan where there is
    none; the axis begins at the surface if the first depth is near it. height [m] of the fish above a flat bottom: its
    limit by geometry, 2 sqrt(2 d h - h^2), is drawn beside the swaths.
    """
    sheet = Sheet(theme, units, size, faces)
    limit = by_geometry(depth, height)
    first = 0.0 if depth[0] < 0.05 * depth[-1] else float(depth[0])
    with sheet.drawing():
        named = f"limit by geometry, fish {words.length(height, units)} up"
        columns, head = lines.room_above(sheet, [*footprint, named])
        stacked = size == "one-column"
        figure, axes = sheet.simple(
            3.0 * sheet.scale + head, 2, "How wide each element looks", 0.08 * sheet.scale if stacked else head,
            sharey=True,
        )  # fmt: skip
        if stacked:
            lines.lift(figure, sheet, head)
        widest = [float(np.nanmax(v)) for v in (*footprint.values(), *searched.values()) if np.isfinite(v).any()]
        most = 1.05 * max(widest)
        for ax, widths, name in zip(axes, (footprint, searched), ("footprint", "swath"), strict=True):
            for index, (element, width) in enumerate(widths.items()):
                ax.plot(width, depth, label=lines.as_label(element), **sheet.series(index), gid=f"{name} {index}")
            lines.dress(ax, "", "")
            ax.set_xlim(0, most)
            unit_ticks(ax, "x", sheet.near().units, (0, most))
            ax.set_xlabel(f"{name} ({UNITS[sheet.near().units][1]})")
        handles, _ = axes[0].get_legend_handles_labels()
        if np.any(limit < most):
            handles += axes[1].plot(limit, depth, color=sheet.inks.ink, lw=0.8 * sheet.scale, ls=(0, (1, 1.5)),
                         label=named, gid="limit")  # fmt: skip
        lines.metres(axes[0], sheet, "y", "depth", (float(depth[-1]), first))
        lines.legend_above(figure, sheet, handles, columns)
        return sheet.finish(figure, formulas=True)


def by_geometry(depth: FloatArray, height: float) -> FloatArray:
    """Return the limit of any swath [m] (depth) for a fish at a height [m]; nan above the element."""
    limit = np.asarray(deadzone.swath(depth, np.minimum(height, depth)))
    return np.where(depth > height, limit, np.nan)


def caption(
    depth: FloatArray,
    footprint: Mapping[str, FloatArray],
    searched: Mapping[str, FloatArray],
    height: float = 0.3,
    units: Units = "m",
    at: float = 50.0,
) -> str:
    """Return the caption, with the numbers at one depth [m]."""
    place = min(at, float(depth[-1]))

    def said(widths: Mapping[str, FloatArray]) -> str:
        return words.listed(
            [f"{n} {words.length(float(np.interp(place, depth, w)), units)}" for n, w in widths.items()]
        )

    high = place > height
    limit = float(deadzone.swath(place, height)) if high else float("nan")
    ahead = (
        f" a fish {words.length(height, units)} above a flat bottom stands ahead of the bottom echo only within"
        f" {words.length(limit, units)}."
    )
    return (
        f"Footprint (one-way \u22123 dB) and swath of one ping (probability of detection at least 0.5) against"
        f" depth below the transducer. At {words.length(place, units)} the footprint is {said(footprint)}, the swath"
        f" {said(searched)};{ahead} Computed from formulas."
    )


#: The alternative text, of the same arguments.
alt = words.opened("Two charts with depth downwards.", caption)
