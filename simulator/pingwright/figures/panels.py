"""The content of a panel: an echogram, a seabed strip, a ping as a curve, marks of true fish, a level scale."""

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pingwright import palette, words
from pingwright.echograms.record import ElementRecord, Record
from pingwright.figures import cells
from pingwright.figures.style.sheet import Sheet, figure_of
from pingwright.measure.assessment import MARKS, ElementAssessment

if TYPE_CHECKING:
    from matplotlib.axes import Axes

FloatArray = NDArray[np.float64]


def pixels(ax: "Axes") -> tuple[int, int]:
    """Return height and width of axes in pixels of their figure."""
    figure = figure_of(ax)
    box = ax.get_position()
    width, height = figure.get_size_inches() * figure.dpi
    return max(round(box.height * height), 1), max(round(box.width * width), 1)


def image(ax: "Axes", sheet: Sheet, drawn: cells.Cells, limits: tuple[float, float]) -> Any:
    """Draw cells with the level colours between two limits [dB re 1 m2]; cells are not smoothed."""
    return ax.imshow(
        np.ma.masked_invalid(drawn.level),
        cmap=sheet.level_map(),
        vmin=limits[0],
        vmax=limits[1],
        extent=drawn.extent,
        aspect="auto",
        interpolation="nearest",
        origin="upper",
    )


def mark_style(mark: str, sheet: Sheet, size: float = 5.0) -> list[dict[str, Any]]:
    """Return the style of the mark of a fish, halo first: keywords of a line that has only a marker.

    size [pt] before scaling.

    Separated: disc. Merged with the bottom: half disc. Not shown: cross.
    """
    inks, k = sheet.inks, sheet.scale
    shape = {"marker": "x" if mark == words.NOT_SHOWN else "o", "linestyle": "none", "markersize": size * k}
    fills = {"fillstyle": "left", "markerfacecoloralt": "none"} if mark == words.MERGED else {}
    thick = (1.3 if mark == words.NOT_SHOWN else 0.8) * k
    halo = shape | {
        "fillstyle": "none",
        "markeredgecolor": inks.halo,
        "markeredgewidth": thick + 1.2 * k,
        "alpha": 0.85,
    }
    front = shape | fills | {"markeredgecolor": inks.mark, "markerfacecolor": inks.mark, "markeredgewidth": thick}
    return [halo, front]


def marks(
    ax: "Axes", sheet: Sheet, x: FloatArray, y: FloatArray, mark: tuple[str, ...], size: float = 5.0
) -> dict[str, Any]:
    """Draw marks of true fish at x, y (fish) and return the artist of each kind that occurs."""
    artists: dict[str, Any] = {}
    kinds = np.array(mark)
    for kind in MARKS:
        chosen = kinds == kind
        if not chosen.any():
            continue
        for layer, look in enumerate(mark_style(kind, sheet, size)):
            (artists[kind],) = ax.plot(x[chosen], y[chosen], **look, zorder=4 + layer, gid=f"mark-{kind}")
    return artists


def fish_places(element: ElementRecord, judged: ElementAssessment) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return for each fish its along-track coordinate, apparent depth [m], and height above the picked bottom [m]."""
    across, _ = cells.along(element)
    ping = np.asarray(judged.fish_ping, dtype=np.intp)
    picked = cells.filled(judged.bottom_range)
    depth = judged.fish_range + element.info.transducer_depth
    return across[ping], depth, picked[ping] - judged.fish_range


#: the strips show fish up to this height above the seabed [m]
NEAR = 4.0


def near_fish(record: Record) -> NDArray[np.intp]:
    """Return the indices of the fish within 4 m of the seabed, in fish."""
    return np.flatnonzero(record.truth.fish.height <= NEAR)


def strip_heights(record: Record) -> tuple[float, float]:
    """Return metres shown above and below the picked bottom: enough for the fish near it, the same for all elements.

    If no fish is near the bottom, the strip shows the bottom itself: more below than above.
    """
    heights = record.truth.fish.height[near_fish(record)]
    if not len(heights):
        return 1.0, 2.0
    above = float(np.clip(1.3 * heights.max(initial=0.0), 1.0, 4.0))
    above = float(np.ceil(above * 4) / 4)
    return above, 0.2 * above


def best_fish(record: Record, assessed: tuple[ElementAssessment, ...]) -> int | None:
    """Return the fish on which the elements differ most: its ping is drawn as a curve. None without fish.

    Of several, one that is away from structures.
    """
    if not assessed or not len(assessed[0].mark):
        return None
    rank = np.array([[MARKS.index(m) for m in judged.mark] for judged in assessed])
    spread = rank.max(axis=0) - rank.min(axis=0)
    separated = (rank == 0).sum(axis=0) > 0
    clear = np.full(len(spread), 20.0)
    for structure in record.truth.structures:
        low, high = structure.side[:, 0].min(), structure.side[:, 0].max()
        away = np.maximum(low - record.truth.fish.x, record.truth.fish.x - high)
        clear = np.minimum(clear, np.clip(away, 0.0, 20.0))
    return int(np.argmax(spread * 10 + separated * 5 - rank[0] + clear / 25))


def curve(
    ax: "Axes", sheet: Sheet, level: NDArray[Any], vertical: FloatArray, limits: tuple[float, float], index: int = 0
) -> Any:
    """Draw one ping: echo strength [dB re 1 m2] to the right, height or depth [m] up or down."""
    inks = sheet.inks
    shown = np.clip(np.nan_to_num(level, nan=limits[0]), limits[0] - 30, None)
    ax.fill_betweenx(vertical, limits[0] - 30, shown, color=sheet.series(index)["color"], alpha=0.28, lw=0)
    (line,) = ax.plot(shown, vertical, color=inks.ink, linewidth=0.7 * sheet.scale)
    ax.set_xlim(*limits)
    return line


def level_limits(limits: tuple[float, float] | None = None) -> tuple[float, float]:
    """Return the limits of the level scale [dB re 1 m2]: the default unless others are given."""
    return limits or palette.LEVEL_LIMITS
