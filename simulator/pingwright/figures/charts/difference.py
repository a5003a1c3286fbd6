"""Difference of two elements over the same water: echo strength of A minus echo strength of B, cell by cell."""

from typing import TYPE_CHECKING

import numpy as np

from pingwright import palette, words
from pingwright.echograms.record import ElementRecord, Record
from pingwright.figures import cells, panels
from pingwright.figures.style.sheet import Sheet, Size
from pingwright.figures.style.ticks import depth_axis, unit_ticks
from pingwright.figures.style.view import View, cut
from pingwright.palette import Theme
from pingwright.words import UNITS, Units

if TYPE_CHECKING:
    from matplotlib.figure import Figure

#: limits of the scale [dB]
LIMITS = (-30.0, 30.0)


def cells_of(record: Record, a: int, b: int, rows: int, columns: int, view: View | None = None) -> cells.Cells:
    """Return A minus B [dB] in cells of equal size: each element's maximum in the cell, nearest where it has none.

    Levels below the picture's floor (-60 dB re 1 m2) count as the floor; where both elements are below it there is
    nothing to compare: nan.

    view: its window is what is drawn. Raises ValueError where the elements did not record the same pings.
    """
    first, second = record.elements[a], record.elements[b]
    if first.pings != second.pings:
        message = "the two elements did not record the same pings"
        raise ValueError(message)
    shown = [_at_most(element, rows, columns, view or View()) for element in (first, second)]
    top = max(s.down[0] for s in shown)
    foot = min(s.down[-1] for s in shown)
    count = min(len(s.down) - 1 for s in shown)
    down = np.linspace(top, foot, count + 1)
    middle = (down[:-1] + down[1:]) / 2
    floor = np.float32(palette.LEVEL_LIMITS[0])
    rows_of = [np.clip(np.searchsorted(s.down, middle) - 1, 0, len(s.down) - 2) for s in shown]
    levels = [s.level[rows_] for s, rows_ in zip(shown, rows_of, strict=True)]
    nothing = (levels[0] < floor) & (levels[1] < floor)
    gain = np.where(nothing, np.float32(np.nan), np.maximum(levels[0], floor) - np.maximum(levels[1], floor))
    return cells.Cells(gain, shown[0].across, down, shown[0].pings, max(s.samples for s in shown))


def _at_most(element: ElementRecord, rows: int, columns: int, view: View) -> cells.Cells:
    if view.depth is None:
        return cells.echogram(cut(element, view.along), rows, columns)
    return cells.box(element, (min(view.depth), max(view.depth)), rows, columns, view.along)


def difference(
    record: Record,
    a: int = 0,
    b: int = 1,
    theme: Theme = "light",
    units: Units = "m",
    size: Size = "two-column",
    view: View | None = None,
) -> "Figure":
    """Return the difference of elements a and b (by position), dark where B is stronger, bright where A is."""
    from matplotlib.colors import ListedColormap

    sheet = Sheet(theme, units, size)
    names = [record.elements[i].info.name for i in (a, b)]
    with sheet.drawing():
        figure, (ax,) = sheet.simple(3.4 * sheet.scale, 1, f"{names[0]} minus {names[1]}: {record.title}")
        shown = cells_of(record, a, b, *panels.pixels(ax), view)
        picture = panels.image(ax, sheet, shown, LIMITS)
        colours = ListedColormap(palette.difference_table(), name="pingwright-difference")
        picture.set_cmap(colours.with_extremes(bad=sheet.inks.panel))
        if view is not None and view.along is not None:
            ax.set_xlim(*view.along)
        limits = (float(shown.down[-1]), 0.0 if shown.down[0] < 1.5 else float(shown.down[0]))
        ax.set_ylim(*limits)
        depth_axis(ax, sheet, limits, "left", "depth")
        depth_axis(ax, sheet, limits, "right", "depth")
        unit: Units = "m" if units == "m" else "ft"
        _, kind = cells.along(record.elements[a])
        if kind == "m":
            unit_ticks(ax, "x", unit, ax.get_xlim())
        ax.set_xlabel(f"along track ({UNITS[unit][1]})" if kind == "m" else "time (s)")
        bar = figure.colorbar(picture, ax=ax, pad=0.11 if sheet.size != "one-column" else 0.2, fraction=0.045)
        bar.set_label("difference of echo strength (dB)")
        stronger = f"bright: {names[0]} stronger; dark: {names[1]} stronger."
        return sheet.finish(figure, extra=f"Blank: neither shows anything; grey: equal; {stronger}")


def caption(record: Record, a: int = 0, b: int = 1, view: View | None = None) -> str:
    """Return the caption, with the median difference and the share of cells where A is stronger by 3 dB or more."""
    shown = cells_of(record, a, b, 400, 400, view).level
    middle = float(np.nanmedian(shown)) if np.isfinite(shown).any() else 0.0
    more = 100 * float(np.mean(shown[np.isfinite(shown)] >= 3)) if np.isfinite(shown).any() else 0.0
    names = [record.elements[i].info.name for i in (a, b)]
    return (
        f"{record.title}: echo strength of {names[0]} minus that of {names[1]}, cell by cell (maximum in each); median"
        f" {words.digits(middle)} dB, {names[0]} stronger by 3 dB or more in {words.digits(more)} % of the cells"
        " in which either shows an echo. Simulated."
    )


#: The alternative text, of the same arguments.
alt = words.opened("An echogram-like picture of differences.", caption)
