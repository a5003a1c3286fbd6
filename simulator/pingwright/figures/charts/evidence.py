"""Evidence: formulas as lines, values from elsewhere as points."""

from typing import TYPE_CHECKING, Any

import numpy as np

from pingwright.figures.charts import lines
from pingwright.figures.style.sheet import Sheet, Size
from pingwright.palette import Theme

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def curves(what: Any, theme: Theme = "light", size: Size = "two-column") -> "Figure":
    """Return lines over one axis, points by name on top of them.

    what: title, x (n), x_label, lines (name -> n), y_label, points (name -> x, y), log (both axes of x), limits of y.
    """
    sheet = Sheet(theme, "m", size)
    with sheet.drawing():
        columns, head = lines.room_above(sheet, [*what.lines, *what.points])
        figure, (ax,) = sheet.simple(2.9 * sheet.scale + head, 1, what.title, head)
        lines.by_element(ax, sheet, what.x, what.lines)
        for name, (x, y) in what.points.items():
            ax.plot(x, y, "o", color=sheet.inks.ink, ms=3 * sheet.scale, mfc="none", label=lines.as_label(name))
        if what.log:
            ax.set_xscale("log")
            low, high = float(np.min(what.x)), float(np.max(what.x))
            ticks = [m * 10.0**k for k in range(-3, 5) for m in (1, 2, 5) if low <= m * 10.0**k <= high]
            ax.set_xticks(ticks, labels=[f"{tick:g}" for tick in ticks])
            ax.set_xticks([], minor=True)
        if what.limits:
            ax.set_ylim(*what.limits)
        lines.dress(ax, what.x_label, what.y_label)
        lines.legend_above(figure, sheet, ax.get_legend_handles_labels()[0], columns)
        return sheet.finish(figure, caution=False)
