"""The comparison: fish by height over the ground in rows, elements in columns, the answer as its headline."""

from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from pingwright import words
from pingwright.echograms.record import Record
from pingwright.figures import cells, panels
from pingwright.figures.compare import brackets, parts, rows, scales
from pingwright.figures.compare.frame import Frame
from pingwright.figures.compare.rows import Zone
from pingwright.figures.compare.sheet import LINE, POINT, broken, fitted, wide_mm
from pingwright.figures.style.sheet import MM, SLIDE_HEIGHT, Sheet, Size
from pingwright.figures.style.view import View, depths, faces
from pingwright.measure.assessment import Assessment
from pingwright.measure.together import within
from pingwright.palette import Theme
from pingwright.words import Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def comparison(
    record: Record,
    assessment: Assessment,
    theme: Theme = "light",
    units: Units = "m",
    size: Size = "two-column",
    limits: tuple[float, float] | None = None,
    view: View | None = None,
) -> "Figure":
    """Return the comparison of all elements of a record.

    units: metres with feet beside them, feet or fathoms alone. limits: level scale [dB re 1 m2], the same for all
    elements. view: window, words and marks. Raises ValueError for an unknown theme, unit or size.
    """
    sheet = Sheet(theme, units, size, faces(record.elements))
    with sheet.drawing():
        return _Comparison(sheet, record, assessment, panels.level_limits(limits), view or View()).figure()


class _Comparison(Frame):
    """One comparison during its layout."""

    def figure(self) -> "Figure":
        """Lay out and draw everything."""
        y = self._head()
        for start in range(0, self.count, self.across):
            y = self._line(range(start, min(start + self.across, self.count)), y)
        y = self._foot(y)
        figure = self.page.figure(y + self.s.margin)
        return self.sheet.finish(figure, caution=False)

    def _line(self, line: range, y: float) -> float:
        """Add all parts of one line of elements; returns its lower end [mm]."""
        top = y
        y = self._columns(line, y)
        if self.slide:
            self._aside(top)
        for number, zone in enumerate(self.zones):
            y = self._row(line, zone, number, y)
        y = self._water(line, y)
        if self.slide:
            return y
        return self._shares(line, y) if len(self.record.truth.fish.id) else y + self.s.text * POINT * 0.6

    def _row(self, line: range, zone: Zone, number: int, y: float) -> float:
        """Add one row of enlarged parts; returns its lower end with the ticks."""
        s, page = self.s, self.page
        verdict = s.verdict[min(number, 1)]
        high = s.rows[min(number, 1)] * (1.4 if len(self.zones) == 1 and self.sheet.size == "two-column" else 1.0)
        if self.stacked and s.label == 0:
            high *= 0.64
        if s.label == 0 and line[0] == 0:
            title = " ".join(self._row_title(zone)) + (" off the bottom" if zone.group else "")
            y += s.text * POINT * 2.0
            page.text(s.margin, y, zone.letter, s.names, weight="bold", gid="letter")
            page.block(
                s.margin + s.names * 0.42, y, broken(title, s.text, page.width - 2 * s.margin - 6), s.text, gid="row"
            )
        remarks = [self._remark(i, zone) for i in line]
        y += verdict * POINT * (1.55 if number == 0 else 2.1)
        self._verdicts(line, zone, verdict, y)
        beside = y
        if any(remarks):
            rows = [broken(remark, s.text, self.wide) for remark in remarks]
            for i, text in zip(line, rows, strict=True):
                page.block(
                    self._x(i), y + s.text * POINT * 1.35, text, s.text, color=self.sheet.inks.muted, gid="by chance"
                )
            y += s.text * POINT * LINE * (1 + max(text.count("\n") for text in rows))
        top = y + 1.0 + (self._comb() if zone.group and self.view.marks else 0.0)
        if self.slide:
            high = SLIDE_HEIGHT / MM - top - 60.0
            self.crowded = high < 28.0
            high += s.rows[2] + 3.0 if self.crowded else 0.0
        if s.label:
            self._row_label(zone, beside if not self.slide else top + 6.0, number, top + high)
        for i in line:
            row = parts.Row(self.sheet, self.record, self.found.elements[i], i, zone, self.view)
            named = i == line[0] and number == 0
            draw = partial(row.draw, ends=self._ends(i), limits=self.limits, named=named)
            page.axes(self._x(i), top, self.wide, high, draw, f"row {zone.letter} {i}")
        return top + high + s.text * POINT * 1.6

    def _row_title(self, zone: Zone) -> tuple[str, str]:
        if zone.group is None:
            return zone.title, ""
        return f"{words.fish_of(zone.group, self.sheet.units)},", words.both(zone.group.height, self.sheet.units)

    def _row_label(self, zone: Zone, y: float, number: int, foot: float) -> None:
        """Add the name of a row and, on a slide, the meaning of its marks; foot: lower end of its panels [mm]."""
        s, page = self.s, self.page
        if not self.slide:
            page.text(
                s.margin,
                y,
                zone.letter,
                s.verdict[min(number, 1)] * (1.15 if number == 0 else 1.0),
                weight="bold",
                gid="letter",
            )
        first, second = self._row_title(zone)
        y = page.block(s.margin, y + s.text * POINT * 1.9, broken(first, s.text, s.label + 2.0), s.text, gid="row")
        if second:
            y = page.block(
                s.margin,
                y + s.text * POINT * LINE,
                broken(second, s.text, s.label + 2.0, True),
                s.text,
                weight="bold",
                gid="row",
            )
            page.text(s.margin, y + s.text * POINT * LINE, "off the bottom", s.text, gid="row")
        if self.slide:
            y += s.text * POINT * 3.6
            forms = (broken(note, s.text, s.label - 2.0) for note in self._short_notes())
            line = s.text * POINT * LINE
            note = next((form for form in forms if y + form.count("\n") * line < foot + 0.5 * line), "")
            page.block(s.margin, y, note, s.text, color=self.sheet.inks.muted, gid="row")

    def _remark(self, index: int, zone: Zone) -> str:
        if zone.group is None:
            return ""
        judged, total = self.found.elements[index], len(zone.group.fish)
        counts = [len(one) for one in within(judged.one_arch, zone.group.fish)]
        every = "both" if total == 2 else "all"  # noqa: PLR2004
        shared = [f"{every if count == total else f'{count} of {total}'} share one arch" for count in counts]
        return ", ".join(filter(None, [words.by_chance(judged, zone.group), *shared]))

    def _verdicts(self, line: range, zone: Zone, points: float, y: float) -> None:
        """Add the verdict of each element above its row."""
        s = self.s
        texts = [self._verdict(i, zone) for i in line]
        size, _ = fitted([v for v, _ in texts], points, self.wide, 0.5)

        def fit(texts: list[tuple[str, str]]) -> bool:
            return all(wide_mm(v, size, True) + wide_mm(f"  {rest}", s.text) < self.wide for v, rest in texts)

        if not fit(texts):  # the interval is more important than the word before it
            texts = [(bold, rest.removeprefix("separated ")) for bold, rest in texts]
        fits = fit(texts)
        for i, (bold, rest) in zip(line, texts, strict=True):
            self.page.text(self._x(i), y, bold, size, weight="bold", gid="verdict")
            if fits:
                at = self._x(i) + wide_mm(bold, size, True) + 1.4 * self.sheet.scale
                self.page.text(at, y, rest, s.text, color=self.sheet.inks.muted, gid="verdict rest")

    def _verdict(self, index: int, zone: Zone) -> tuple[str, str]:
        judged = self.found.elements[index]
        if zone.group is not None:
            return words.outcome(judged, zone.group)
        if zone.title == "the bottom":
            off, spread = judged.bottom_error_median, judged.bottom_error_spread
            if not np.isfinite(off):
                return "no bottom echo", ""
            side = "too deep" if off > 0 else "too high"
            return words.length(abs(off), self._near()), f"{side}, spread {words.length(spread, self._near())}"
        strongest = self._strongest(index, zone)
        return strongest, "shown" if strongest == "nothing" else "strongest"

    def _strongest(self, index: int, zone: Zone) -> str:
        level = rows.chip(self.record, index, self.found.elements[index], zone, (200, 200)).level
        strongest = float(np.nanmax(level)) if np.isfinite(level).any() else -np.inf
        return f"{words.whole(strongest)} dB" if strongest >= self.limits[0] else "nothing"

    def _water(self, line: range, y: float) -> float:
        """Add the whole water; returns its lower end with ticks and label."""
        s, page = self.s, self.page
        letters = words.listed([zone.letter for zone in self.zones])
        note = f"{letters} {'is' if len(self.zones) == 1 else 'are'} enlarged above"
        if self.crowded:  # a slide of many elements with long names
            return y
        y += 2.6 if not self.slide else 3.0
        if s.label:
            at = page.block(s.margin, y + s.text * POINT, "Whole water", s.text * 1.1, weight="bold", gid="whole water")
            page.block(
                s.margin,
                at + s.text * POINT * LINE,
                broken(note, s.text, s.label),
                s.text,
                color=self.sheet.inks.muted,
                gid="whole water",
            )
        else:
            y += s.text * POINT * 1.2
            page.text(s.margin, y, f"The whole water{f'; {note}' if line[0] == 0 else ''}", s.text, gid="whole water")
            y += 1.2
        for i in line:
            draw = partial(self._whole, index=i, named=i == line[0])
            page.axes(self._x(i), y, self.wide, s.rows[2], draw, f"water {i}")
        return y + s.rows[2] + (0.0 if self.slide else s.text * POINT * (1.7 if self.stacked and s.label == 0 else 2.9))

    def _whole(self, ax: "Axes", index: int, named: bool) -> None:
        self.picture = parts.water(ax, self.sheet, self.record, index, self.view, self.limits)
        brackets.brackets(ax, self.sheet, self.record, index, self.zones)
        if named:
            parts.name_structures(ax, self.sheet, self.record, self.picture, self.limits[0])
        left, right = scales.axis_units(self.sheet, flat=False)
        span = depths(self.record, self.view)
        ends = self._ends(index)
        if ends[0]:
            scales.level_ticks(ax, self.sheet, "left", span, left, "depth")
        else:
            ax.set_yticks([])
        if ends[1] and right:
            scales.level_ticks(ax, self.sheet, "right", span, right, "")
        if self.slide:
            ax.set_xticks([])
        elif not (self.stacked and self.s.label == 0):
            ax.set_xlabel("along the track" if cells.along(self.record.elements[index])[1] == "m" else "time")

    def _shares(self, line: range, y: float) -> float:
        """Add the shares of all fish, with intervals; returns the lower end."""
        s, page, total = self.s, self.page, len(self.record.truth.fish.id)
        every = f"All {total} fish" if total > 1 else "The one fish"
        made = self.found.elements[0].passes
        over = f"{len(made)} fresh passes" if made is not None else "95 % interval"
        y += s.text * POINT * 1.9
        if s.label:
            page.text(s.margin, y, every, s.text * 1.1, weight="bold", gid="all")
            page.text(s.margin, y + s.text * POINT * LINE, over, s.text, color=self.sheet.inks.muted, gid="all")
        else:
            page.text(s.margin, y, f"{every} separated, with {over}", s.text, gid="all")
            y += s.text * POINT * 1.7
        shares = [words.outcome(each) for each in self.found.elements]
        most = max(wide_mm(bold, s.text * 1.25, True) for bold, _ in shares)
        fits = most + wide_mm("separated (100\u2013100 %)", s.text) + 1.5 < self.wide
        for i in line:
            share, x, bold = self.found.elements[i].overall, self._x(i), shares[i][0]
            page.text(x, y, bold, s.text * 1.25, weight="bold", gid="share")
            at = x + wide_mm(bold, s.text * 1.25, True) + 1.5
            rest = words.interval(share.low, share.high)
            long = f"separated ({rest})"
            if fits:
                page.text(at, y, long, s.text, color=self.sheet.inks.muted, gid="share")
            elif wide_mm(rest, s.text) < x + self.wide - at:
                page.text(at, y, rest, s.text, color=self.sheet.inks.muted, gid="share")
            draw = partial(parts.whisker, sheet=self.sheet, assessment=self.found.elements[i], index=i)
            page.axes(x + 0.6, y + 1.4, self.wide - 1.2, 2.2, draw, f"interval {i}")
        return y + 4.6
