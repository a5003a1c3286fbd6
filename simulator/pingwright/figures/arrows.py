"""Labels of the user on a picture: a text in clear water with an arrow to a place."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright.figures.style.lettering import text_width
from pingwright.figures.style.sheet import MM, Sheet, figure_of
from pingwright.figures.style.view import Label

if TYPE_CHECKING:
    from matplotlib.axes import Axes


#: largest and smallest distance of a text from its place, and the steps between [mm]
_FAR, _NEAR, _STEP = 30.0, 5.0, 1.5


def _place(
    at: tuple[float, float], wide: float, tall: float, size: tuple[float, float], busy: NDArray[np.bool_]
) -> tuple[float, float]:
    """Return the middle [mm] for a text of wide x tall near a place: where it covers least, else the nearest."""
    rows, columns = busy.shape
    total = np.zeros((rows + 1, columns + 1))
    total[1:, 1:] = busy.cumsum(axis=0).cumsum(axis=1)
    steps = np.arange(-_FAR, _FAR + 0.1, _STEP)
    x, y = (grid.ravel() for grid in np.meshgrid(at[0] + steps, at[1] + steps))
    away = np.hypot(np.maximum(np.abs(x - at[0]) - wide / 2, 0.0), np.maximum(np.abs(y - at[1]) - tall / 2, 0.0))
    good = (x > wide / 2) & (x < size[0] - wide / 2) & (y > tall / 2) & (y < size[1] - tall / 2) & (away > _NEAR)
    if not good.any():
        return at
    x, y, away = x[good], y[good], away[good]
    first, last = (np.clip(((x + s * wide / 2) / size[0] * columns).astype(int) + (s > 0), 0, columns) for s in (-1, 1))
    top, foot = (np.clip(((y + s * tall / 2) / size[1] * rows).astype(int) + (s > 0), 0, rows) for s in (-1, 1))
    under = total[foot, last] - total[top, last] - total[foot, first] + total[top, first]
    best = int(np.argmin(under / np.maximum((foot - top) * (last - first), 1) * 1e3 + away))
    return float(x[best]), float(y[best])


def draw(ax: "Axes", sheet: Sheet, labels: tuple[Label, ...], busy: NDArray[np.bool_]) -> None:
    """Draw texts with arrows to their places along the track and in depth.

    busy (row, column): cells of the axes in which something is drawn already, row 0 at the top. Texts with a place
    outside the axes are left out.
    """
    width, height = figure_of(ax).get_size_inches() / MM
    box = ax.get_position()
    size = (box.width * width, box.height * height)
    taken = busy.copy()
    (left, right), (low, top) = ax.get_xlim(), ax.get_ylim()
    for label in labels:
        x, y = (label.x - left) / (right - left), (label.depth - top) / (low - top)
        if not (0 <= x <= 1 and 0 <= y <= 1):
            continue
        wide, tall = text_width(label.text, sheet.least) / MM + 1.5, sheet.least * 0.5
        place = _place((x * size[0], y * size[1]), wide, tall, size, taken)
        ax.annotate(
            label.text, (x, 1 - y), (place[0] / size[0], 1 - place[1] / size[1]), xycoords="axes fraction",
            textcoords="axes fraction", size=sheet.least, ha="center", va="center", zorder=7, gid="label",
            arrowprops={"arrowstyle": "-|>", "lw": 0.7 * sheet.scale, "color": sheet.inks.mark, "shrinkB": 3},
            bbox={"fc": sheet.inks.panel, "ec": "none", "pad": 0.8},
        )  # fmt: skip
        rows, columns = taken.shape
        first, last = (int(np.clip((place[0] + s * wide / 2) / size[0] * columns, 0, columns)) for s in (-1, 1))
        high, foot = (int(np.clip((place[1] + s * tall) / size[1] * rows, 0, rows)) for s in (-1, 1))
        taken[high : foot + 1, first : last + 1] = True
