"""A page laid out from the top in millimetres: its parts are collected first, and drawn when its height is known."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from pingwright.figures.panels import mark_style
from pingwright.figures.style.lettering import text_width, wrapped
from pingwright.figures.style.sheet import MM, SLIDE_HEIGHT, Sheet
from pingwright.words import Run

if TYPE_CHECKING:
    from matplotlib.figure import Figure

#: height of a line of text relative to its size
LINE = 1.32
POINT = 25.4 / 72  # [mm]


@dataclass(frozen=True)
class Sizes:
    """Millimetres and points of one size of sheet; `rows`: heights of rows A and B and of the whole water."""

    margin: float
    label: float
    axis: float
    right: float
    gap: float
    rows: tuple[float, float, float]
    comb: float
    headline: float
    names: float
    verdict: tuple[float, float]
    text: float
    abreast: int


SIZES = {
    "two-column": Sizes(3.0, 22.0, 9.5, 9.6, 3.2, (40.0, 26.0, 22.0), 3.8, 12.5, 10.5, (12.5, 9.5), 7.0, 4),
    "one-column": Sizes(1.5, 0.0, 9.6, 8.6, 2.2, (44.0, 0.0, 15.0), 3.4, 9.6, 8.0, (9.0, 9.0), 6.2, 3),
    "slide": Sizes(7.0, 45.0, 19.0, 19.0, 6.0, (62.0, 0.0, 20.0), 6.4, 27.0, 20.0, (24.0, 24.0), 14.0, 6),
}


@dataclass
class Page:
    """The parts of a sheet, with places in mm from its upper left corner."""

    sheet: Sheet
    _noted: list[Callable[["Figure"], None]] = field(default_factory=list)

    @property
    def width(self) -> float:
        """Width of the sheet [mm]."""
        return self.sheet.width / MM

    def text(self, x: float, y: float, text: str, points: float, **look: Any) -> None:
        """Add a text whose (first) baseline is at y."""
        look = {"va": "baseline", **look}

        def draw(figure: "Figure") -> None:
            wide, tall = figure.get_size_inches() / MM
            figure.text(x / wide, 1 - y / tall, text, size=points, **look)

        self._noted.append(draw)

    def block(self, x: float, y: float, text: str, points: float, **look: Any) -> float:
        """Add lines of text, the first baseline at y; returns the last baseline."""
        rows = text.split("\n")
        for number, row in enumerate(rows):
            self.text(x, y + number * points * LINE * POINT, row, points, **look)
        return y + (len(rows) - 1) * points * LINE * POINT

    def runs(self, x: float, y: float, runs: Sequence[Run], points: float, **look: Any) -> None:
        """Add parts of bold text in a row, each in the colour of the element that it names."""
        for run in runs:
            colour = self.sheet.inks.ink if run.element is None else self.sheet.series(run.element)["color"]
            # A space at an end of a text has no width by itself, and SVG drops it: the place of the text holds it.
            before = run.text[: len(run.text) - len(run.text.lstrip(" "))]
            self.text(x + _advance(before, points), y, run.text.strip(" "), points, weight="bold", color=colour, **look)
            x += _advance(run.text, points)

    def line(self, x0: float, x1: float, y: float, points: float, **look: Any) -> None:
        """Add a horizontal line; points: its thickness."""

        def draw(figure: "Figure") -> None:
            from matplotlib.lines import Line2D

            wide, tall = figure.get_size_inches() / MM
            figure.add_artist(Line2D([x0 / wide, x1 / wide], [1 - y / tall] * 2, linewidth=points, **look))

        self._noted.append(draw)

    def mark(self, x: float, y: float, kind: str) -> None:
        """Add the mark of a fish, as in a legend."""

        def draw(figure: "Figure") -> None:
            from matplotlib.lines import Line2D

            wide, tall = figure.get_size_inches() / MM
            for look in mark_style(kind, self.sheet, 4.2)[1:]:
                figure.add_artist(Line2D([x / wide], [1 - y / tall], **look))

        self._noted.append(draw)

    def axes(self, x: float, y: float, wide: float, tall: float, draw: Callable[[Any], object], label: str) -> None:
        """Add axes with their upper left corner at x, y; `draw` is called with them."""

        def made(figure: "Figure") -> None:
            width, height = figure.get_size_inches() / MM
            draw(figure.add_axes((x / width, 1 - (y + tall) / height, wide / width, tall / height), label=label))

        self._noted.append(made)

    def figure(self, height: float) -> "Figure":
        """Return the figure with all its parts; height [mm], for a slide always that of the slide."""
        figure = self.sheet.figure(height * MM if self.sheet.size != "slide" else SLIDE_HEIGHT)
        for draw in self._noted:
            draw(figure)
        return figure


def _advance(text: str, points: float) -> float:
    """Return how far a bold text moves the next one [mm], with its spaces; no 1 % for safety as in widths."""
    return (text_width(f".{text}.", points, True) - text_width("..", points, True)) / MM / 1.01


def wide_mm(text: str, points: float, bold: bool = False) -> float:
    """Return the width of a text [mm]."""
    return text_width(text, points, bold) / MM


def broken(text: str, points: float, width: float, bold: bool = False) -> str:
    """Return a text in lines that fit a width [mm]; a word that is too wide is also broken; nothing is cut."""
    return wrapped(text, points, width * MM, bold)


def fitted(texts: Sequence[str], points: float, width: float, share: float = 0.84) -> tuple[float, list[str]]:
    """Return one size [pt] for bold texts in a width [mm], and the texts in lines: shrunk to a share, then broken."""
    widest = max((wide_mm(text, points, True) for text in texts), default=0.0)
    size = points * min(1.0, max(share, width / max(widest, 1e-9)))
    return size, [broken(text, size, width, True) for text in texts]


def headline_rows(runs: Sequence[Run], points: float, width: float) -> tuple[float, list[list[Run]]]:
    """Return size [pt] and rows of a headline: one line down to 84 % of its size, else balanced lines; never cut."""
    whole = "".join(run.text for run in runs)
    wide = wide_mm(whole, points, True)
    if wide * 0.84 <= width:
        return points * min(1.0, width / wide), [list(runs)]
    lines = -(-wide // width)
    words = _words(runs)
    room = wide / lines
    while True:
        rows = _filled(words, points, min(room, width))
        if len(rows) <= lines or room >= width:
            return points, rows
        room *= 1.03


def _words(runs: Sequence[Run]) -> list[Run]:
    """Return the words of a headline, each with the space before it."""
    out: list[Run] = []
    for run in runs:
        for number, part in enumerate(run.text.split(" ")):
            held = out.pop().text if out and out[-1].text == " " else ""
            out.append(Run(f"{' ' if number else held}{part}", run.element))
    return [word for word in out if word.text.strip()]


def _filled(words: Sequence[Run], points: float, width: float) -> list[list[Run]]:
    rows: list[list[Run]] = [[]]
    for word in words:
        line = "".join(run.text for run in rows[-1]) + word.text
        if rows[-1] and word.text.startswith(" ") and wide_mm(line, points, True) > width:
            rows.append([Run(word.text[1:], word.element)])
        else:
            rows[-1].append(word)
    return [_joined(row) for row in rows]


def _joined(row: Sequence[Run]) -> list[Run]:
    """Return the words of a row in few parts: neighbours of the same colour are one text, which is easier to edit."""
    out: list[Run] = []
    for run in row:
        before = out.pop().text if out and out[-1].element == run.element else ""
        out.append(Run(before + run.text, run.element))
    return out
