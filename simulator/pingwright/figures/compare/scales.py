"""Scales of panels: round ticks whose labels never touch, in the reader's units, and the scale of levels."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright import palette
from pingwright.figures.style.lettering import text_width
from pingwright.figures.style.sheet import MM, Sheet, figure_of
from pingwright.figures.style.ticks import nice_ticks, tick_labels
from pingwright.words import UNITS, Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes


FloatArray = NDArray[np.float64]


def size_mm(ax: "Axes") -> tuple[float, float]:
    """Return width and height of axes [mm]."""
    wide, tall = figure_of(ax).get_size_inches() / MM
    box = ax.get_position()
    return box.width * wide, box.height * tall


def widened(span: tuple[float, float], length: float, before: float, after: float) -> tuple[float, float]:
    """Return limits that leave margins [mm] clear at both ends of axes of a length [mm]."""
    one = (span[1] - span[0]) / (length - before - after)
    return span[0] - before * one, span[1] + after * one


def axis_units(sheet: Sheet, flat: bool) -> tuple[Units, Units | None]:
    """Return units of the left and the right scale: metres with feet on the right, feet and fathoms alone."""
    if sheet.units == "fathoms":
        return ("ft" if flat else "fathoms"), None
    return sheet.units, ("ft" if sheet.units == "m" else None)


def along_ticks(ax: "Axes", sheet: Sheet, span: tuple[float, float], kind: str) -> None:
    """Put round ticks along the track under axes, the unit behind the last."""
    one, name = UNITS["m" if sheet.units == "m" else "ft"] if kind == "m" else (1.0, "s")
    wide, (low, high) = size_mm(ax)[0], ax.get_xlim()
    for most in (6, 5, 4, 3, 2, 1):
        every = nice_ticks(span[0] / one, span[1] / one, most)
        for start in (0, 1):  # the first may be at the edge, where there is no room for its label
            ticks = every[start:]
            while len(ticks) and not _fits(
                labels := _with_unit(ticks, name), (ticks * one - low) / (high - low) * wide, wide, sheet
            ):
                ticks = ticks[:-1] if most < 3 or len(ticks) > 3 else ticks[:0]
            if len(ticks) > 1 or (most == 1 and len(ticks)):
                ax.set_xticks(ticks * one, labels=labels)
                return
    ax.set_xticks([])


def _with_unit(ticks: FloatArray, unit: str) -> list[str]:
    labels = tick_labels(ticks)
    return [*labels[:-1], f"{labels[-1]} {unit}"]


def _fits(labels: list[str], places: FloatArray, wide: float, sheet: Sheet) -> bool:
    """Return whether labels centred at places [mm] of an axis touch neither each other nor those of the next axis."""
    half = np.array([text_width(label, sheet.points * 0.93) / MM / 2 for label in labels])
    apart = np.diff(places) - half[1:] - half[:-1]
    return bool((apart > 1.2 * sheet.scale).all() and places[-1] + half[-1] < wide + 1.0 and places[0] - half[0] > -1.2)


def level_ticks(ax: "Axes", sheet: Sheet, side: str, span: tuple[float, float], units: Units, label: str) -> None:
    """Put a scale of depth or height at one side of axes; span [m] of its ticks, in any order."""
    holder = ax if side == "left" else ax.secondary_yaxis("right")
    one, name = UNITS[units]
    most = int(np.clip(size_mm(ax)[1] / (sheet.points * 0.72), 2, 7))
    ticks = nice_ticks(min(span) / one, max(span) / one, most)
    apart = np.diff(ticks[:2]).sum() * one / abs(np.diff(ax.get_ylim())[0]) * size_mm(ax)[1]
    if len(ticks) > 2 and apart < 0.5 * sheet.points:
        ticks = ticks[::2]
    holder.set_yticks(ticks * one, labels=tick_labels(ticks))
    name = {"ft": "feet"}.get(name, name) if side == "right" else name
    text = f"{label} ({name})" if side == "left" else name
    room = size_mm(ax)[1] * 1.12
    points = min(sheet.points, sheet.points * room / (text_width(text, sheet.points) / MM))
    if points < sheet.least:
        text = text.replace(" (", "\n(")
    holder.set_ylabel(text, labelpad=1.5, size=max(points, sheet.least))


def scale(ax: "Axes", sheet: Sheet, limits: tuple[float, float]) -> None:
    """Draw the level colours with their decibels under them."""
    ax.imshow(palette.level_table(sheet.theme)[None], extent=(*limits, 0, 1), aspect="auto")
    ax.set_yticks([])
    ticks = nice_ticks(*limits, 4)
    labels = tick_labels(ticks)
    labels[-1] += " dB"
    ax.set_xticks(ticks, labels=labels)
