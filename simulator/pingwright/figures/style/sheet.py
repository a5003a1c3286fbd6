"""Sheets: the size, theme, units and fonts of a figure, and the caution on every figure."""

import logging
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal, cast

from pingwright import palette
from pingwright.figures.style.lettering import FONTS, fit_points, shorten, text_width, wrapped
from pingwright.words import CAUTION, SHORT_CAUTION, UNITS, Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Size = Literal["two-column", "one-column", "slide"]

MM = 1 / 25.4

#: said on pictures of what formulas alone give, at length and where a column is narrow
COMPUTED = "Computed from formulas, not recorded; not for navigation or diving, no proof of a product's performance."
SHORT_COMPUTED = "Computed; not for navigation or diving, no proof of performance."


def figure_of(ax: "Axes") -> "Figure":
    """Return the whole figure that an axes stands on; ours have no figures inside figures."""
    return cast("Figure", ax.figure)


#: size -> width [inch], text size [pt], dots per inch for PNG, smallest type [pt]; columns of a magazine, a 16:9 slide
SIZES: dict[str, tuple[float, float, int, float]] = {
    "two-column": (180 * MM, 7.6, 300, 7.0),
    "one-column": (89 * MM, 6.6, 300, 6.0),
    "slide": (338.7 * MM, 15.2, 144, 14.0),
}
SLIDE_HEIGHT = 190.5 * MM


def quiet() -> None:
    """Stop messages of the drawing library about its font cache or a folder that it cannot write."""
    logging.getLogger("matplotlib").setLevel(logging.ERROR)


@contextmanager
def drawing(theme: palette.Theme = "light", points: float = 7.6) -> Iterator[None]:
    """Return a context with our own settings instead of the user's settings file, and without maths in texts.

    theme: of the inks; points: text size [pt]. Also to be entered when a figure is rendered.
    """
    quiet()
    import matplotlib as mpl

    inks = palette.INKS[theme]
    with mpl.rc_context(), warnings.catch_warnings():
        # A title may hold characters that the font lacks: an empty box is drawn, and that is not an error.
        warnings.filterwarnings("ignore", message=r"Glyph .* missing from")
        mpl.rcdefaults()
        settings: Any = _settings(inks, points)
        mpl.rcParams.update(settings)
        yield


def _settings(inks: palette.Inks, points: float) -> dict[str, Any]:
    thin = points / 7.6 * 0.6
    return {
        "font.family": list(FONTS[:1]),
        "font.sans-serif": list(FONTS),
        "font.size": points,
        "text.usetex": False,
        "text.parse_math": False,
        "text.color": inks.ink,
        "axes.labelcolor": inks.ink,
        "axes.edgecolor": inks.muted,
        "axes.facecolor": inks.panel,
        "axes.linewidth": thin,
        "axes.titlesize": points,
        "axes.labelsize": points,
        "axes.labelpad": 2.0 * points / 7.6,
        "axes.formatter.use_mathtext": False,
        "figure.facecolor": inks.paper,
        "savefig.facecolor": inks.paper,
        "xtick.color": inks.muted,
        "ytick.color": inks.muted,
        "xtick.labelcolor": inks.ink,
        "ytick.labelcolor": inks.ink,
        "xtick.labelsize": points * 0.93,
        "ytick.labelsize": points * 0.93,
        "xtick.major.width": thin,
        "ytick.major.width": thin,
        "xtick.major.size": 2.2 * points / 7.6,
        "ytick.major.size": 2.2 * points / 7.6,
        "xtick.major.pad": 1.8,
        "ytick.major.pad": 1.8,
        "grid.color": inks.line,
        "grid.linewidth": thin * 0.7,
        "legend.frameon": False,
        "legend.fontsize": points,
        "lines.linewidth": 1.3 * points / 7.6,
        "svg.fonttype": "none",
        "svg.hashsalt": "pingwright",
        "pdf.fonttype": 42,
        "pdf.compression": 6,
    }


@dataclass(frozen=True)
class Sheet:
    """One choice of theme, units and size; makes figures and finishes them.

    Raises ValueError for an unknown name.
    """

    theme: palette.Theme = "light"
    units: Units = "m"
    size: Size = "two-column"
    #: of the elements drawn, in their order
    faces: tuple[palette.Face, ...] = ()

    def __post_init__(self) -> None:
        """Refuse unknown names."""
        for value, known in ((self.theme, palette.INKS), (self.units, UNITS), (self.size, SIZES)):
            if value not in known:
                message = f"{value!r} is none of {', '.join(known)}"
                raise ValueError(message)

    @property
    def inks(self) -> palette.Inks:
        """Colours of this sheet."""
        return palette.INKS[self.theme]

    @property
    def width(self) -> float:
        """Width [inch]."""
        return SIZES[self.size][0]

    @property
    def points(self) -> float:
        """Text size [pt]."""
        return SIZES[self.size][1]

    @property
    def least(self) -> float:
        """Smallest type of this sheet [pt]."""
        return SIZES[self.size][3]

    @property
    def scale(self) -> float:
        """Size of lines and marks relative to the two-column sheet."""
        return self.points / SIZES["two-column"][1]

    def near(self) -> "Sheet":
        """Return this sheet with units for short lengths: feet if depths are in fathoms."""
        return replace(self, units="ft" if self.units == "fathoms" else self.units)

    def drawing(self) -> Any:
        """Return the context in which a figure of this sheet is made."""
        return drawing(self.theme, self.points)

    def figure(self, height: float) -> "Figure":
        """Return an empty figure of this sheet's width; height [inch], for a slide always that of the slide."""
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        tall = SLIDE_HEIGHT if self.size == "slide" else height
        figure = Figure(figsize=(self.width, tall), dpi=SIZES[self.size][2])
        FigureCanvasAgg(figure)
        return figure

    def series(self, index: int) -> dict[str, Any]:
        """Return colour and dashes of the index-th element's lines, by its band and beam if they are known."""
        unknown = palette.Face((20e3, 53e3, 100e3, 170e3, 400e3)[::-1][(index + 1) % 5], 8.0, 8.0)
        faces = self.faces if index < len(self.faces) else (unknown,) * (index + 1)
        colour, dashes = palette.looks(faces, self.theme)[index]
        return {"color": colour, "linestyle": (0, dashes) if dashes else "-"}

    def level_map(self) -> Any:
        """Return the level colours as a colour map; cells without data get the panel's shade."""
        from matplotlib.colors import ListedColormap

        colours = ListedColormap(palette.level_table(self.theme), name="pingwright-level")
        return colours.with_extremes(bad=self.inks.panel)

    def finish(self, figure: "Figure", caution: bool = True, extra: str = "", formulas: bool = False) -> "Figure":
        """Write the caution on the figure's face, forbid maths in every text, and return the figure.

        extra: further words after the caution. formulas: the figure shows what formulas give, nothing simulated. Theme
        and size are stored on the figure until it is rendered.
        """
        from matplotlib.text import Text

        if caution:
            self._caution(figure, extra, formulas)
        for text in figure.findobj(Text):
            text.set_parse_math(False)
        figure.set_label(f"{self.theme} {self.size}")
        return figure

    def _caution(self, figure: "Figure", extra: str, formulas: bool) -> None:
        """Write the caution at the foot: SIMULATED or COMPUTED, white on ink, unless it stands above, and the rest."""
        margin, small, k = 0.09 * self.scale, self.least, self.scale
        room = 0.94 * (self.width - 0.18 * k)  # low resolution makes texts wider than on paper
        both = (SHORT_COMPUTED, SHORT_CAUTION) if self.size == "one-column" else (COMPUTED, CAUTION)
        sentence, shift = both[0 if formulas else 1], 0.0
        if not any(text.get_gid() == "tag" for text in figure.texts):
            word, sentence = re.split("[,;]? ", sentence, maxsplit=1)
            tag(figure, self, word.upper(), figure.get_size_inches()[1] - margin - 0.3 * small / 72)
            shift = text_width(word.upper(), small, bold=True) + 0.11 * k
        above = ""
        if text_width(f"{sentence} {extra}", small) <= room - shift:
            sentence = f"{sentence} {extra}".strip()
        else:
            above = wrapped(extra, small, room)
            sentence = wrapped(sentence, small, room - shift)
        look: dict[str, Any] = {"size": small, "color": self.inks.muted, "va": "bottom", "gid": "caution"}
        foot = margin / figure.get_size_inches()[1]
        figure.text((margin + shift) / self.width, foot, sentence, **look)
        if above:
            up = (sentence.count("\n") + 1) * 1.25 * small / 72 / figure.get_size_inches()[1]
            figure.text(margin / self.width, foot + up, above, **look)

    def _broken(self, title: str) -> str:
        """Return a title on as many lines as it needs at the smallest size of a headline."""
        room = 0.97 * (self.width - 0.18 * self.scale)
        if text_width(title, self.points * 0.9, bold=True) <= room:
            return title
        return wrapped(title, self.points * 0.98 * 1.06, room)  # bold letters are 6 % wider

    def simple(
        self,
        height: float = 3.2,
        columns: int = 1,
        title: str = "",
        head: float = 0.0,
        stack: bool = True,
        **shared: Any,
    ) -> tuple["Figure", Any]:
        """Return a figure with axes (columns), margins fit for labels, and a title.

        height, head [inch]: of a row of axes, and of further room above each. In one column several axes stand
        beneath each other, unless `stack` is false.
        """
        narrow = self.size == "one-column"
        rows = columns if stack and narrow else 1
        k, title = self.scale, self._broken(title)
        more = 0.16 * k * title.count("\n")
        figure = self.figure((rows * min(height, self.width * 0.8) if narrow else height) + more)
        w, h = figure.get_size_inches()
        axes = figure.subplots(rows, columns // rows, squeeze=False, **shared).ravel()
        top = (0.36 if title else 0.14) * k + head + more
        foot = (0.84 if narrow else 0.66) * k
        gap = 0.5 * k + head
        each = (h - top - foot - gap * (rows - 1)) / rows
        figure.subplots_adjust(
            left=0.52 * k / w, right=1 - 0.5 * k / w, bottom=foot / h, top=1 - top / h, wspace=0.28, hspace=gap / each
        )
        if rows > 1:  # then the library hides a shared scale on all axes but the first
            for ax in axes:
                ax.tick_params(labelleft=True)
        if title:
            headline(figure, self, title, 0.2 * k)
        return figure, axes


def headline(
    figure: "Figure", sheet: Sheet, text: str, below_top: float, size: float = 1.25, least: float = 0.9, **look: Any
) -> Any:
    """Write a line at the left margin, its baseline `below_top` inches under the top, shrunk to fit the width.

    size, least: wanted and smallest size relative to the sheet's text. A text that is still too wide goes on several
    lines, for which all that is drawn so far makes room; a single word that is too long is broken. Nothing is cut.
    """
    w = figure.get_size_inches()[0]
    left = 0.09 * sheet.scale
    bold = look.get("weight", "bold") == "bold"
    room = 0.97 * (w - 2 * left)  # low resolution makes texts wider than on paper
    rows = text.split("\n")
    smallest = sheet.points * least
    if any(text_width(row, smallest, bold) > room for row in rows):
        before, rows = len(rows), wrapped(text, smallest * 1.2, room).split("\n")
        _make_room(figure, sheet, 0.16 * sheet.scale * (len(rows) - before))
    h = figure.get_size_inches()[1]
    points = min(fit_points(row, sheet.points * size, room, bold, least=sheet.points * least) for row in rows)
    look = {
        "weight": "bold",
        "size": points,
        "va": "baseline",
        "linespacing": 1.25,
        "gid": "headline",
        **look,
    }
    text = "\n".join(rows)
    down = below_top + 0.16 * sheet.scale * (len(rows) - 1)
    return figure.text(left / w, 1 - down / h, text, **look)


def _make_room(figure: "Figure", sheet: Sheet, extra: float) -> None:
    """Leave `extra` inches above all that is drawn: the sheet grows; on a slide the axes become lower."""
    w, h = figure.get_size_inches()
    whole = h if sheet.size == "slide" else h + extra
    figure.set_size_inches(w, whole)
    for ax in figure.axes:
        box = ax.get_position(original=True)
        low, high = (y * (whole - extra) / whole for y in (box.y0, box.y1))
        ax.set_position((box.x0, low, box.width, high - low))
    for text in figure.texts:
        text.set_y(text.get_position()[1] * (whole - extra) / whole)


def tag(figure: "Figure", sheet: Sheet, word: str, below_top: float, beside: str = "") -> None:
    """Write a word, white on ink, at the left margin, its baseline `below_top` inches under the top; text beside it."""
    w, h = figure.get_size_inches()
    left, k = 0.09 * sheet.scale, sheet.scale
    pad = {"boxstyle": "square,pad=0.2", "fc": sheet.inks.ink, "ec": "none"}
    look: dict[str, Any] = {"size": sheet.least, "va": "baseline"}
    figure.text(
        (left + 0.03 * k) / w,
        1 - below_top / h,
        word,
        weight="bold",
        color=sheet.inks.paper,
        bbox=pad,
        gid="tag",
        **look,
    )
    if beside:
        after = left + text_width(word, sheet.least, bold=True) + 0.16 * k
        room = 0.97 * (w - after - left)
        line = shorten(beside, sheet.least, room)
        figure.text(after / w, 1 - below_top / h, line, color=sheet.inks.muted, gid="beside", **look)
