"""Round ticks in the reader's units, and the line at the top of a figure."""

from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from pingwright.figures.style.sheet import Sheet
from pingwright.words import UNITS, Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes

FloatArray = NDArray[np.float64]


def nice_ticks(low: float, high: float, most: int = 7) -> FloatArray:
    """Return round values (1, 2, 5 x 10^n apart) within low..high [any unit].

    At most `most` of them; up to two more where there would be fewer than three.
    """
    power = 10.0 ** np.floor(np.log10(max(high - low, 1e-12) / max(most, 1)))
    tried = []
    for step in (power * m for m in (0.5, 1, 2, 5, 10, 20, 50)):
        first, last = np.ceil(low / step - 1e-9), np.floor(high / step + 1e-9)
        tried.append(np.asarray(np.arange(first, last + 1) * step))
    good = next((k for k, ticks in enumerate(tried) if len(ticks) <= most), len(tried) - 1)
    if len(tried[good]) < 3 and good and len(tried[good - 1]) <= most + 2:
        good -= 1
    return tried[good]


def tick_labels(values: FloatArray) -> list[str]:
    """Return numbers as short texts with a real minus and no trailing noughts."""
    return [f"{value:.6g}".replace("-", "\u2212") if abs(value) > 1e-9 else "0" for value in values]


def unit_ticks(ax: "Axes", which: Literal["x", "y"], units: Units, limits: tuple[float, float], most: int = 7) -> None:
    """Put round ticks of a unit on an axis whose data are metres; limits [m] in any order."""
    metres, _ = UNITS[units]
    low, high = min(limits), max(limits)
    ticks = nice_ticks(low / metres, high / metres, most)
    axis = ax.yaxis if which == "y" else ax.xaxis
    axis.set_ticks(ticks * metres, labels=tick_labels(ticks))


def depth_axis(ax: "Axes", sheet: Sheet, limits: tuple[float, float], side: str, label: str = "", most: int = 7) -> Any:
    """Put a depth or height scale (data in m) on one side of axes: the sheet's units left, feet right of metres.

    Returns the axes that hold the ticks. side: "left" or "right"; feet and fathoms stand alone, so nothing is put on
    their right. label: what is measured; the unit is added.
    """
    if side == "right" and sheet.units != "m":
        return ax
    units = sheet.units if side == "left" else "ft"
    holder: Any = ax if side == "left" else ax.secondary_yaxis("right")
    unit_ticks(holder, "y", units, limits, most)
    if label:
        holder.set_ylabel(f"{label} ({UNITS[units][1]})")
    return holder
