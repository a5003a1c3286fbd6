"""Brackets below the whole water: which parts of it are enlarged."""

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import Record
from pingwright.figures.compare import scales
from pingwright.figures.compare.rows import Zone
from pingwright.figures.style.sheet import Sheet

if TYPE_CHECKING:
    from matplotlib.axes import Axes

FloatArray = NDArray[np.float64]

#: clear margin below the whole water [mm], and distance of two brackets that reach over the same part [mm]
FOOT, STEP = 3.4, 1.3


def brackets(ax: "Axes", sheet: Sheet, record: Record, index: int, zones: tuple[Zone, ...]) -> None:
    """Show which parts of the whole water are enlarged: brackets in the margin below, a frame for a high part."""
    from matplotlib.patches import Rectangle

    (_, tall), (low, top), inks, k = scales.size_mm(ax), ax.get_ylim(), sheet.inks, sheet.scale
    one = (low - top) / tall
    ground = float(np.median(record.elements[index].bottom_depth))
    for zone in zones:
        first, last = zone.depths(ground)
        left, right = np.clip(zone.across, *ax.get_xlim())
        if not _below(zone, ground, one):
            ax.add_patch(
                Rectangle((left, first), right - left, last - first, fill=False, ec=inks.ink, lw=0.8 * k, zorder=4)
            )
            ax.text(left, first, zone.letter, size=sheet.least, weight="bold", va="bottom", zorder=4)
            continue
        others = [np.clip(z.across, *ax.get_xlim()) for z in zones if z is not zone and _below(z, ground, one)]
        shared = any(a < right and b > left for a, b in others)
        at = low - (FOOT - 0.9 - STEP * (shared and zone is not zones[0])) * one
        tick = at - 0.7 * one
        ax.plot([left, left, right, right], [tick, at, at, tick], color=inks.ink, lw=0.9 * k, zorder=4, gid="bracket")
        middle = _own((float(left), float(right)), others, (zones.index(zone) + 1) / (len(zones) + 1))
        ax.text(middle, at, zone.letter, size=sheet.least, weight="bold", va="center", ha="center", zorder=5,
                bbox={"fc": inks.panel, "ec": "none", "pad": 0.6})  # fmt: skip


def _below(zone: Zone, ground: float, one: float) -> bool:
    """Return whether a part has a bracket below the water: it is low or reaches the ground; one [m]: a mm down."""
    first, last = zone.depths(ground)
    return zone.flat or last > ground - 2.5 * one or (last - first) / one <= 2.5


def _own(span: tuple[float, float], others: Sequence[FloatArray], share: float) -> float:
    """Return the middle of the longest stretch of a span outside others; if it is short, the place at a share of it."""
    left, right = span
    cuts = sorted({left, right, *(float(np.clip(end, left, right)) for other in others for end in other)})
    free = [(a, b) for a, b in pairwise(cuts) if not any(o[0] < (a + b) / 2 < o[1] for o in others)]
    a, b = max(free, key=lambda part: part[1] - part[0], default=(left, left))
    return (a + b) / 2 if b - a > 0.1 * (right - left) else left + share * (right - left)
