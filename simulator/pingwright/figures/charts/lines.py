"""Common parts of line figures: styled axes, scales in the reader's units, lines that differ also in grey."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from pingwright.figures.style.lettering import fit_points, shorten, text_width
from pingwright.figures.style.sheet import Sheet, figure_of
from pingwright.figures.style.ticks import unit_ticks
from pingwright.words import UNITS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]
DEGREES = "\u00b0"


def dress(ax: "Axes", x: str, y: str) -> None:
    """Label axes, draw a pale grid and remove the frame at the top and the right."""
    ax.set_xlabel(x)
    ax.set_ylabel(y)
    ax.grid(visible=True)
    ax.set_axisbelow(True)
    ax.spines["top"].set_visible(False)
    ax.spines["right"].set_visible(False)


def metres(ax: "Axes", sheet: Sheet, which: Literal["x", "y"], name: str, limits: tuple[float, float]) -> None:
    """Set limits [m] on an axis whose data are metres, with round ticks and a name in the reader's units."""
    (ax.set_xlim if which == "x" else ax.set_ylim)(*limits)
    unit_ticks(ax, which, sheet.units, limits, most=7)
    (ax.set_xlabel if which == "x" else ax.set_ylabel)(f"{name} ({UNITS[sheet.units][1]})")


def as_label(name: str) -> str:
    """Return a name for a legend: the drawing library leaves out names that begin with an underscore."""
    return f" {name}" if name.startswith("_") else name


def by_element(ax: "Axes", sheet: Sheet, x: FloatArray, curves: Mapping[str, FloatArray], **look: Any) -> list[Any]:
    """Draw a curve for each element name, in its colour and dashes."""
    return [
        ax.plot(x, np.asarray(y), label=as_label(name), **(sheet.series(i) | look))[0]
        for i, (name, y) in enumerate(curves.items())
    ]


def legend(ax: "Axes", sheet: Sheet, **look: Any) -> Any:
    """Draw the legend of axes with lines long enough to show the dashes; None if nothing has a name."""
    handles, _ = ax.get_legend_handles_labels()
    if not handles:
        return None
    look = {
        "loc": "best",
        "handlelength": 3.2,
        "borderaxespad": 0.2,
        "fontsize": sheet.points * 0.95,
        **look,
    }
    return ax.legend(**look, frameon=True, facecolor=sheet.inks.panel, edgecolor="none", framealpha=0.85)


def ends(low: str, high: str, unit: str) -> str:
    """Return two numbers in words as a span with their unit: '215 to 219 dB'; '216 dB' where they read alike."""
    return f"{low}{unit}" if low == high else f"{low}{unit * (unit == DEGREES)} to {high}{unit}"


def room_above(sheet: Sheet, labels: Sequence[str], most: int = 6) -> tuple[int, float]:
    """Return columns and height [inch] of a legend of these labels between headline and axes."""
    k = sheet.scale
    wide = np.array([text_width(label, sheet.points * 0.95) + 0.62 * k for label in labels])
    columns = 1 if sheet.size == "one-column" else max(min(most, len(labels)), 1)
    # As the library does it: column after column, each as wide as its widest label.
    while columns > 1 and sum(part.max() for part in np.array_split(wide, columns)) > sheet.width - 0.3 * k:
        columns -= 1
    return columns, (0.08 + 0.15 * -(-len(labels) // columns)) * k


def legend_above(figure: "Figure", sheet: Sheet, handles: Sequence[Any], columns: int) -> Any:
    """Draw a legend between headline and axes, where it covers no line; labels that are too long are cut."""
    width, height = figure.get_size_inches()
    points = sheet.points * 0.95
    labels = [str(handle.get_label()) for handle in handles]
    if columns == 1:
        labels = [shorten(label, points, width - 0.8 * sheet.scale) for label in labels]
    return figure.legend(
        handles, [as_label(label) for label in labels], ncols=columns, loc="upper left", borderpad=0,
        borderaxespad=0, handlelength=3.2, labelspacing=0.3, fontsize=points,
        bbox_to_anchor=(0.1 * sheet.scale / width, 1 - (0.3 + more(figure)) * sheet.scale / height),
    )  # fmt: skip


def lift(figure: "Figure", sheet: Sheet, head: float) -> None:
    """Leave room of a height [inch] above the first axes of a figure with axes below each other."""
    figure.subplots_adjust(top=1 - ((0.36 + more(figure)) * sheet.scale + head) / figure.get_size_inches()[1])


def more(figure: "Figure") -> float:
    """Return the extra height [inch, of a two-column sheet] of a headline of several lines over one line."""
    return 0.16 * max((t.get_text().count("\n") for t in figure.texts if t.get_gid() == "headline"), default=0)


def grid(
    sheet: Sheet, count: int, abreast: int, sizes: tuple[float, float, float]
) -> tuple[Any, list[tuple[Any, tuple[bool, bool]]]]:
    """Return a figure and its panels in rows of at most `abreast`, each with whether it is first and last of its row.

    sizes [inch, of a two-column sheet]: height of a panel, room above it for words, room below it for ticks.
    """
    rows = -(-count // abreast)
    columns = -(-count // rows)
    k = sheet.scale
    each, top, foot = (size * k for size in sizes)
    around = 0.67 * k
    figure = sheet.figure(rows * (each + top + foot) + around)
    width, height = figure.get_size_inches()
    each = (height - around) / rows - top - foot
    axes = figure.subplots(rows, columns, squeeze=False).ravel()
    right = 0.5 if sheet.units == "m" else 0.15
    figure.subplots_adjust(
        0.55 * k / width, (0.45 * k + foot) / height, 1 - right * k / width, 1 - (0.22 * k + top) / height,
        0.14, (top + foot) / each,
    )  # fmt: skip
    for ax in axes[count:]:
        ax.set_visible(False)
    return figure, [
        (ax, (i % columns == 0, i % columns == columns - 1 or i == count - 1)) for i, ax in enumerate(axes[:count])
    ]


def panel_words(ax: "Axes", sheet: Sheet, name: str, index: int, texts: tuple[str, str]) -> None:
    """Write an element's name in its colour, and two lines about it, above its panel."""
    room = ax.get_position().width * figure_of(ax).get_size_inches()[0]
    points = fit_points(name, sheet.points * 1.2, room, bold=True, least=sheet.least)
    small = min(fit_points(text, sheet.points, room, least=sheet.least) for text in texts)
    colour = sheet.series(index)["color"]
    for text, up, look in (
        (shorten(name, points, room, bold=True), 25, {"size": points, "weight": "bold", "color": colour}),
        (texts[0], 13.5, {"size": small}),
        (texts[1], 3.5, {"size": small}),
    ):
        place = (0, up * sheet.scale)
        ax.annotate(text, (0, 1), place, xycoords="axes fraction", textcoords="offset points", **look, gid="note")
