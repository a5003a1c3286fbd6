"""The parts around the pictures of the comparison: headline, scene, names of elements, legend, caution."""

from functools import partial
from typing import Any

import numpy as np

from pingwright import words
from pingwright.echograms.record import Record
from pingwright.figures import cells
from pingwright.figures.compare import scales
from pingwright.figures.compare.rows import zones
from pingwright.figures.compare.sheet import LINE, POINT, SIZES, Page, broken, fitted, headline_rows, wide_mm
from pingwright.figures.style.sheet import Sheet
from pingwright.figures.style.view import View
from pingwright.measure.assessment import MARKS, Assessment
from pingwright.words import Run, Units


class Frame:
    """The places of one comparison, and all its parts except the pictures."""

    def __init__(
        self, sheet: Sheet, record: Record, assessment: Assessment, limits: tuple[float, float], view: View
    ) -> None:
        self.sheet, self.record, self.found, self.limits, self.view = sheet, record, assessment, limits, view
        self.page, self.s, self.count = Page(sheet), SIZES[sheet.size], len(record.elements)
        lines = -(-self.count // self.s.abreast) if self.count != 4 or sheet.size != "one-column" else 2
        self.across = -(-self.count // lines)
        self.zones = zones(record, assessment, 2 if self.s.rows[1] and lines == 1 else 1, view)
        self.left = self.s.margin + self.s.label + self.s.axis
        right = self.s.right if sheet.units == "m" else 2.0
        self.wide = (self.page.width - self.left - right - self.s.margin - self.s.gap * (self.across - 1)) / self.across
        self.slide, self.stacked = sheet.size == "slide", lines > 1
        self.picture: Any = None
        self.crowded = False

    def _x(self, index: int) -> float:
        return self.left + (index % self.across) * (self.wide + self.s.gap)

    def _ends(self, index: int) -> tuple[bool, bool]:
        return index % self.across == 0, index % self.across == self.across - 1 or index == self.count - 1

    def _head(self) -> float:
        """Add headline, tag and scene; returns the last baseline [mm]."""
        s, page, inks = self.s, self.page, self.sheet.inks
        room = page.width - 2 * s.margin
        runs = (
            (Run(self.view.headline),)
            if self.view.headline
            else words.headline(self.found, self.record, self.sheet.units)
        )
        points, rows = headline_rows(runs, s.headline, room)
        y = s.margin
        for line in rows:
            y += points * POINT * (1.1 if line is rows[0] else LINE)
            page.runs(s.margin, y, line, points, gid="headline")
        if self.slide:
            return y
        tag = wide_mm("SIMULATED", s.text, True) + 2.0
        y += s.text * POINT * 2.0
        self._tag(s.margin, y)
        first, *rest = broken(self._scene(), s.text * 1.12, room - tag - 2.5).split("\n")
        page.text(s.margin + tag + 2.5, y, first, s.text * 1.12, color=inks.ink, gid="scene")
        for row in broken(" ".join(rest), s.text * 1.12, room).split("\n") if rest else ():
            y += s.text * POINT * 1.5
            page.text(s.margin, y, row, s.text * 1.12, color=inks.ink, gid="scene")
        return y

    def _tag(self, x: float, y: float) -> None:
        inks, pad = self.sheet.inks, {"fc": self.sheet.inks.ink, "ec": "none", "pad": 1.6 * self.sheet.scale}
        self.page.text(x + 1.0, y, "SIMULATED", self.s.text, weight="bold", color=inks.paper, bbox=pad, gid="tag")

    def _scene(self) -> str:
        depth = float(np.median(self.record.elements[0].bottom_depth))
        who = words.spelled(self.count) + (" element" if self.count == 1 else " elements")
        same = "the same fish" if len(self.record.truth.fish.id) else "the same water"
        moving = cells.along(self.record.elements[0])[1] == "m"
        over = f"one pass over {same} by" if moving else f"{same} under"
        passes = f"{over} {who}" if self.count > 1 else f"one pass by {who}" if moving else who
        text = f"{self.record.title}: {words.both(depth, self.sheet.units, 3)} of water, {passes}."
        if self.slide:
            text = text.replace(f", {passes}", "")
        return f"{text} {self.view.note}".strip()

    def _aside(self, y: float) -> None:
        """Add tag and scene beside the pictures of a slide."""
        s = self.s
        self._tag(s.margin, y + 10.0)
        self.page.block(s.margin, y + 19.0, broken(self._scene(), s.text, s.label + 2.0), s.text, gid="scene")

    def _columns(self, line: range, y: float) -> float:
        """Add names, rules, bands and beams of elements, and the height that each hides; returns the last baseline."""
        s, page = self.s, self.page
        infos = [self.record.elements[i].info for i in line]
        points, names = fitted([info.name for info in infos], s.names, self.wide)
        most = max(name.count("\n") for name in names)
        y += s.names * POINT * (1.75 if not self.slide else 1.5)
        foot = y + most * points * POINT * LINE
        facts = [f"{words.band(info)}, beam {words.beam(info)}" for info in infos]
        hidden = [words.length(self.found.elements[i].closed.edge_height, self._near()) for i in line]
        hides = [f"hides the last {each} at its edge" for each in hidden]
        if any(wide_mm(fact, s.text) > self.wide for fact in facts):
            facts = [f"{words.band(info)}\nbeam {words.beam(info)}" for info in infos]
        if any(wide_mm(hide, s.text) > self.wide for hide in hides):
            hides = [f"hides last {each}" for each in hidden]
        for i, name, fact, hide in zip(line, names, facts, hides, strict=True):
            look, x = self.sheet.series(i), self._x(i)
            page.block(
                x,
                y + (most - name.count("\n")) * points * POINT * LINE,
                name,
                points,
                weight="bold",
                color=look["color"],
                gid="name",
            )
            page.line(x, x + self.wide, foot + 1.3 * self.sheet.scale, 1.5 * self.sheet.scale, **look, gid="rule")
            last = page.block(x, foot + s.text * POINT * 1.75, fact, s.text, gid="facts")
            if hide and np.isfinite(self.found.elements[i].closed.edge_height) and not self.slide:
                last = page.block(
                    x,
                    last + s.text * POINT * 1.4,
                    broken(hide, s.text, self.wide),
                    s.text,
                    color=look["color"],
                    gid="hides",
                )
            else:
                last = last if self.slide else last + s.text * POINT * 1.4
        return last

    def _near(self) -> Units:
        return "m" if self.sheet.units == "m" else "ft"

    def _foot(self, y: float) -> float:
        """Add legend, scale and caution; returns the last baseline."""
        s, page, sheet = self.s, self.page, self.sheet
        if not self.slide:
            page.line(s.margin, page.width - s.margin, y, 0.5 * sheet.scale, color=sheet.inks.line)
        y += s.text * POINT * 1.8
        used = (
            [kind for kind in MARKS if any(e.counts.get(kind) for e in self.found.elements)] if self.view.marks else []
        )
        bar = 30.0 if not self.slide else 54.0
        weak, strong = wide_mm("echo: weak ", s.text), wide_mm(" strong", s.text)
        x, end = s.margin, page.width - s.margin - (bar + weak + strong if s.label else 0.0)
        for kind in used:
            text = words.MEANING[kind]
            if x > s.margin and x + 4.5 * sheet.scale + wide_mm(text, s.text) > end:
                x, y = s.margin, y + s.text * POINT * 1.6
            page.mark(x + 1.2 * sheet.scale, y - s.text * POINT * 0.38, kind)
            page.text(x + 3.2 * sheet.scale, y, text, s.text, gid="legend")
            x += 3.2 * sheet.scale + wide_mm(text, s.text) + 5.0 * sheet.scale
        if s.label == 0:
            y, end = y + s.text * POINT * 2.0 * bool(used), s.margin
        page.text(end, y, "echo: weak", s.text, gid="scale")
        tall, draw = 2.4 * sheet.scale, partial(scales.scale, sheet=sheet, limits=self.limits)
        page.axes(end + weak, y - tall + 0.4, bar, tall, draw, "scale")
        page.text(end + weak + bar + 1.0, y, "strong", s.text, gid="scale")
        y += s.text * POINT * (3.1 if s.label == 0 else 1.5)
        lines = broken(
            self._notes(), s.text, page.width - 2 * s.margin - (0 if s.label == 0 else bar + weak + strong + 4)
        )
        return page.block(s.margin, y, lines, s.text, color=sheet.inks.muted, gid="caution")

    def _comb(self) -> float:
        """Return the height of the marks above a row [mm], and over fresh passes of the gauges above them."""
        return self.s.comb * (2.1 if self.found.elements[0].passes is not None else 1.0)

    def _legend_notes(self) -> list[str]:
        carets = self.view.marks and self.zones[0].group is not None and self._missing()
        notes = ["Coloured bar: height hidden at the beam's edge."] * any(zone.flat for zone in self.zones)
        notes += ["Triangle or ring: height or place of a fish that is not separated."] * bool(carets)
        made = self.found.elements[0].passes
        if made is None or not self.view.marks:
            return notes
        return [
            *notes,
            f"Line over a mark: share of {len(made)} fresh passes that separate this fish, from 0 to 100 %, with its"
            " 95 % interval; the picture is one pass.",
        ]

    def _short_notes(self) -> list[str]:
        """Return forms of the notes for the narrow label of a slide, the longest first."""
        whole = " ".join(self._legend_notes())
        shorter = whole.replace("Coloured bar", "Bar").replace("of a fish that is", "of a fish")
        least = shorter.replace("Bar: height hidden at the beam's edge", "Bar: height hidden at edge")
        return [
            shorter,
            least.replace("Triangle or ring: height or place of a fish not separated", "Ring, triangle: not separated"),
        ]

    def _notes(self) -> str:
        if not self.slide:
            return " ".join([*self._legend_notes(), words.CAUTION])
        texts = [
            f"{e.name} {words.outcome(e)[0].split(' of ')[0]} ({words.interval(e.overall.low, e.overall.high)})"
            for e in self.found.elements
        ]
        every = (
            f"All {len(self.record.truth.fish.id)} fish, 95 % interval: {', '.join(texts)}. "
            if len(self.record.truth.fish.id)
            else ""
        )
        return f"{every}Not for navigation or diving; no proof of performance."

    def _missing(self) -> bool:
        return any(mark != words.SEPARATED for e in self.found.elements for mark in e.mark)
