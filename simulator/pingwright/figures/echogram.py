"""A plain echogram: panels that fill the sheet; names, marks and level scale are optional."""

from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pingwright import words
from pingwright.echograms.record import Record
from pingwright.figures import arrows, cells, panels
from pingwright.figures.compare import comb, parts, scales
from pingwright.figures.compare.rows import fish_places
from pingwright.figures.compare.sheet import LINE, POINT, Page, broken, headline_rows, wide_mm
from pingwright.figures.style.sheet import MM, SLIDE_HEIGHT, Sheet, Size
from pingwright.figures.style.view import View, depths, faces
from pingwright.measure.assessment import MARKS, Assessment
from pingwright.palette import Theme
from pingwright.words import Run, Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

#: height of a panel [mm] by size of sheet and number of rows of panels, one to four; on a slide they share its height
_HIGH = {"two-column": (100.0, 60.0, 52.0, 46.0), "one-column": (76.0, 44.0, 40.0, 36.0)}


def echogram(
    record: Record,
    assessment: Assessment,
    theme: Theme = "light",
    units: Units = "m",
    size: Size = "two-column",
    limits: tuple[float, float] | None = None,
    view: View | None = None,
    *,
    names: bool = True,
    scale: bool = True,
) -> "Figure":
    """Return the echograms of a record, one panel for each element, below each other (in two columns from five on).

    names, scale: whether elements are named and the level scale is drawn; marks, window and words as in `view`.
    Panels fill at least 70 % of the sheet.
    """
    sheet = Sheet(theme, units, size, faces(record.elements))
    with sheet.drawing():
        return _Echograms(sheet, record, assessment, panels.level_limits(limits), view or View(), names, scale).figure()


class _Echograms:
    """Panels during their layout."""

    def __init__(
        self, sheet: Sheet, record: Record, assessment: Assessment, limits: tuple[float, float], view: View,
        names: bool, scale: bool,
    ) -> None:  # fmt: skip
        self.sheet, self.record, self.found, self.limits, self.view = sheet, record, assessment, limits, view
        self.names, self.scale = names, scale
        self.page, self.k, self.text = Page(sheet), sheet.scale, sheet.least
        self.count = len(record.elements)
        self.across = (
            1
            if self.count < (4 if sheet.size == "slide" else 5)
            else 3
            if sheet.size == "slide" and self.count > 4
            else 2
        )
        self.rows = -(-self.count // self.across)
        self.marked = view.marks and bool(len(record.truth.fish.id))

    def figure(self) -> "Figure":
        """Lay out and draw everything."""
        page, k, text = self.page, self.k, self.text
        margin, left = 2.0 * k, (9.5 if self.sheet.size == "slide" else 10.5) * k
        y = self._head(margin)
        right = 10.6 * k if self._second() else 3.0 * k
        gap = 3.9 * k if self.marked else 1.6 * k
        foot = text * POINT * (4.3 if self.marked or self.scale else 3.0) + 0.7 * margin
        foot += (len(self._note()) - 1) * text * POINT * LINE
        if self.sheet.size == "slide":
            high = (SLIDE_HEIGHT / MM - y - foot) / self.rows - gap
        else:
            high = _HIGH[self.sheet.size][min(self.rows, 4) - 1]
        wide = (page.width - left - right - 2.2 * k * (self.across - 1)) / self.across
        for index in range(self.count):
            row, column = divmod(index, self.across)
            x, top = left + column * (wide + 2.2 * k), y + row * (high + gap) + gap
            last = row == self.rows - 1 or index + self.across >= self.count
            ends = column == 0, column == self.across - 1 or index == self.count - 1, last
            page.axes(x, top, wide, high, partial(self._panel, index=index, ends=ends), f"echogram {index}")
        end = self._foot(y + self.rows * (high + gap), margin)
        return self.sheet.finish(page.figure(end + margin), caution=False)

    def _second(self) -> bool:
        """Return whether there is room for feet on the right of metres."""
        return self.sheet.size != "one-column" and scales.axis_units(self.sheet, flat=False)[1] is not None

    def _head(self, y: float) -> float:
        if not self.view.headline:
            return y
        room = self.page.width - 4.0 * self.k
        points, rows = headline_rows((Run(self.view.headline),), self.sheet.points * 1.5, room)
        for number, row in enumerate(rows):
            y += points * POINT * (LINE if number else 1.1)
            self.page.runs(2.0 * self.k, y, row, points, gid="headline")
        return y + 0.5 * self.k

    def _name(self, ax: "Axes", index: int, busy: NDArray[np.bool_]) -> None:
        """Write the element's name into the corner of its panel where least is drawn; then its place counts as used."""
        info, look, k = self.record.elements[index].info, self.sheet.series(index), self.k
        wide, tall = scales.size_mm(ax)
        facts = f"{words.band(info)}, beam {words.beam(info)}"
        points, first = self.text * 1.12, 7.5 * k
        long = first + wide_mm(info.name, points, True) + 2.0 * k + wide_mm(facts, self.text)
        facts, long = (facts, long) if long < 0.9 * wide else ("", long - wide_mm(facts, self.text))
        rows, columns = busy.shape
        high, length = int(points * POINT * 1.7 / tall * rows) + 1, int((long + 2 * k) / wide * columns) + 1
        row, column = self._corner(index, busy, high, length)
        x, y = column / columns * wide + 1.2 * k, (row + 0.5 * high) / rows * tall
        box = {"fc": self.sheet.inks.panel, "ec": "none", "pad": 1.2 * k}
        place: dict[str, Any] = {"transform": ax.transAxes, "va": "center_baseline", "zorder": 6}
        middle = 1 - y / tall
        ax.text(
            (x + first) / wide,
            middle,
            info.name,
            size=points,
            weight="bold",
            color=look["color"],
            bbox=box,
            gid="name",
            **place,
        )
        ax.plot(
            [x / wide, (x + first - 1.5 * k) / wide],
            [middle] * 2,
            lw=1.5 * k,
            **look,
            transform=ax.transAxes,
            zorder=7,
            gid="rule",
        )
        if facts:
            at = x + first + wide_mm(info.name, points, True) + 2.0 * k
            ax.text(
                at / wide, middle, facts, size=self.text, color=self.sheet.inks.muted, bbox=box, gid="facts", **place
            )
        busy[row : row + high, column : column + length] = True

    def _corner(self, index: int, busy: NDArray[np.bool_], high: int, length: int) -> tuple[int, int]:
        """Return the place along the top or the bottom of a panel where a box of rows and columns covers least."""
        rows, columns = busy.shape
        top = int(np.clip(self._hatched(index) * rows, 0, rows - high))
        across = np.linspace(0, max(columns - length, 0), 25).astype(int)
        places = [(row, int(column)) for row in (top, rows - high) for column in across]
        return min(places, key=lambda c: float(busy[c[0] : c[0] + high, c[1] : c[1] + length].mean()))

    def _hatched(self, index: int) -> float:
        """Return the share of a panel's height that is within the blanking range."""
        foot, top = depths(self.record, self.view)
        info = self.record.elements[index].info
        return max(info.blank_range + info.transducer_depth - top, 0.0) / (foot - top)

    def _panel(self, ax: "Axes", index: int, ends: tuple[bool, bool, bool]) -> None:
        sheet, element = self.sheet, self.record.elements[index]
        foot, top = depths(self.record, self.view)
        shown = cells.box(element, (top, foot), *panels.pixels(ax), self.view.along)
        panels.image(ax, sheet, shown, self.limits)
        ax.set_xlim(shown.across[0], shown.across[-1])
        ax.set_ylim(foot, top)
        parts.blind(ax, sheet, element)
        kind = cells.along(element)[1]
        scales.along_ticks(ax, sheet, (shown.across[0], shown.across[-1]), kind)
        if not ends[2]:
            ax.tick_params(labelbottom=False)
        left, right = scales.axis_units(sheet, flat=False)
        if ends[0]:
            scales.level_ticks(ax, sheet, "left", (foot, top), left, "depth")
        else:
            ax.set_yticks([])
        if ends[1] and right and self._second():
            scales.level_ticks(ax, sheet, "right", (foot, top), right, "")
        busy = np.asarray(np.nan_to_num(shown.level, nan=-np.inf) > self.limits[0])
        if self.marked:
            busy = busy | self._marks(ax, index, shown)
        if self.names:
            self._name(ax, index, busy)
        arrows.draw(ax, sheet, self.view.labels, busy)

    def _marks(self, ax: "Axes", index: int, shown: cells.Cells) -> NDArray[np.bool_]:
        """Draw the comb of the fish in the window; returns the cells under its hairlines (row, column)."""
        (wide, tall), judged = (each / self.k for each in scales.size_mm(ax)), self.found.elements[index]
        (left, right), (low, top) = ax.get_xlim(), ax.get_ylim()
        x, depth, _ = fish_places(self.record, index, judged)
        inside = (x >= left) & (x <= right) & (depth >= top) & (depth <= low)
        kinds = tuple(mark for mark, here in zip(judged.mark, inside, strict=True) if here)
        echoes = np.nan_to_num(shown.level, nan=-np.inf) > self.limits[0]
        across, down = (shown.across - left) / (right - left) * wide, (shown.down - top) / (low - top) * tall
        places = (x[inside] - left) / (right - left) * wide, (depth[inside] - top) / (low - top) * tall
        placed = comb.marks(*places, kinds, echoes, across, down, wide, words.SEPARATED)
        parts.draw_comb(ax, self.sheet, placed, (wide, tall))
        under = np.zeros_like(echoes)
        for mark in placed:
            column = int(np.clip(np.searchsorted(across, mark.x) - 1, 0, echoes.shape[1] - 1))
            under[down[:-1] < mark.end, max(column - 1, 0) : column + 2] = True
        return under

    def _foot(self, y: float, margin: float) -> float:
        """Add tag, legend, scale and caution; returns the last baseline."""
        page, text, k, sheet = self.page, self.text, self.k, self.sheet
        y += text * POINT * (2.9 if self.marked or self.scale else 1.5)
        bar, weak = 26.0 * k, wide_mm("echo: weak ", text)
        x = margin
        if self.marked:
            for kind in (kind for kind in MARKS if any(e.counts.get(kind) for e in self.found.elements)):
                page.mark(x + 1.2 * k, y - text * POINT * 0.38, kind)
                page.text(x + 3.2 * k, y, words.MEANING[kind], text, gid="legend")
                x += 3.2 * k + wide_mm(words.MEANING[kind], text) + 4.0 * k
        if self.scale:
            strong = wide_mm(" strong", text)
            at = page.width - margin - bar - weak - strong
            if at < x:
                y, at = y + text * POINT * 1.6, margin
            page.text(at, y, "echo: weak", text, gid="scale")
            page.axes(at + weak, y - 2.2 * k, bar, 2.2 * k, self._scale, "scale")
            page.text(at + weak + bar + 0.8 * k, y, "strong", text, gid="scale")
        y += text * POINT * 1.5 * bool(self.marked or self.scale)
        k = self.k
        pad = {"fc": sheet.inks.ink, "ec": "none", "pad": 1.2 * k}
        page.text(margin + 0.6 * k, y, "SIMULATED", text, weight="bold", color=sheet.inks.paper, bbox=pad, gid="tag")
        first, *rest = self._note()
        page.text(margin + self._tag(), y, first, text, color=sheet.inks.muted, gid="caution")
        if not rest:
            return y
        lines = "\n".join(rest)
        return page.block(margin, y + text * POINT * LINE, lines, text, color=sheet.inks.muted, gid="caution")

    def _tag(self) -> float:
        """Return the width of the tag with the space after it [mm]."""
        return wide_mm("SIMULATED", self.text, bold=True) + 2.2 * self.k

    def _note(self) -> list[str]:
        """Return note or title and the caution in lines; the first leaves room for the tag."""
        caution = words.CAUTION.split(", ", 1)[1]
        whole = f"{self.view.note or self.record.title}. {caution[0].upper()}{caution[1:]}".replace("..", ".")
        room = self.page.width - 4.0 * self.k
        first, *rest = broken(whole, self.text, room - self._tag()).split("\n")
        return [first, *(broken(" ".join(rest), self.text, room).split("\n") if rest else ())]

    def _scale(self, ax: "Axes") -> None:
        scales.scale(ax, self.sheet, self.limits)
        ax.set_xticks([])


def caption(record: Record, assessment: Assessment, units: Units = "m", view: View | None = None) -> str:
    """Return the caption: what is shown, the window and the level scale."""
    foot, top = depths(record, view or View())
    names = words.listed([f"{e.info.name} ({words.band(e.info)}, beam {words.beam(e.info)})" for e in record.elements])
    first = words.length(top, units) if top > 0 else "the surface"
    down = f"from {first} to {words.length(foot, units, 3)} of depth"
    many = "Echograms of" if len(record.elements) > 1 else "Echogram of"
    return f"{record.title}. {many} {names}, {down}, with {words.fish_words(record, units)}. Simulated."


def alt(record: Record, assessment: Assessment, units: Units = "m", view: View | None = None) -> str:
    """Return the alternative text: the caption and the answer."""
    return f"{caption(record, assessment, units, view)} {words.answer(assessment, record, units)}"
