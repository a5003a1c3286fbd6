"""The main picture: the same water as each element shows it, and which of them parts the fish from the bottom.

Per element, from the top: echogram; seabed strip (the last metres above the picked bottom, flattened and enlarged)
with one ping as a curve beside it; verdict in words; numbers. Below all: cutaway to scale, level scale, legend.
"""

from typing import TYPE_CHECKING, Any

import numpy as np

from pingwright.echograms.record import Record
from pingwright.figures import cells, cutaway, panels, words
from pingwright.figures.layout import Block, Box, Plan, plan
from pingwright.figures.style import (
    CAUTION,
    UNITS,
    Sheet,
    Size,
    Units,
    depth_axis,
    fit_points,
    headline,
    text_width,
    unit_ticks,
    wrapped,
)
from pingwright.measure.assessment import MARKS, Assessment, ElementAssessment
from pingwright.palette import Theme

if TYPE_CHECKING:
    from matplotlib.figure import Figure

QUESTION = "Which element shows the fish apart from the bottom?"


def comparison(
    record: Record,
    assessment: Assessment,
    theme: Theme = "light",
    units: Units = "m",
    size: Size = "two-column",
    limits: tuple[float, float] | None = None,
) -> "Figure":
    """Return the comparison of all elements of a record.

    units: of the left depth scale; the right one is in feet (metres where the left is not). limits: level scale
    [dB re 1 m2], the same for all elements. Raises ValueError for an unknown theme, unit or size.
    """
    sheet = Sheet(theme, units, size)
    with sheet.drawing():
        drawn = _Comparison(sheet, record, assessment, panels.level_limits(limits))
        return drawn.figure()


class _Comparison:
    """One comparison while it is drawn: what all its panels share."""

    def __init__(self, sheet: Sheet, record: Record, assessment: Assessment, limits: tuple[float, float]) -> None:
        self.sheet, self.record, self.assessment, self.limits = sheet, record, assessment, limits
        ranges = [e.range + e.info.transducer_depth for e in record.elements]
        top = min(float(r[0]) for r in ranges)
        self.depths = (max(float(r[-1]) for r in ranges), 0.0 if top < 1.5 else top)
        self.heights = panels.strip_heights(record)
        self.window = panels.strip_window(record, assessment.elements)
        self.fish = panels.best_fish(record, assessment.elements)
        self.reduced = [1, 1]

    def figure(self) -> "Figure":
        """Lay out and draw everything."""
        sheet = self.sheet
        places: Plan = plan(sheet, len(self.record.elements))
        figure = sheet.figure(places.height)
        self._head(figure)
        for index, block in enumerate(places.blocks):
            picture = self._echogram(figure, places, block, index)
            self._strip(figure, places, block, index)
            self._verdict(figure, places, block, index)
        self._foot(figure, places, picture)
        return sheet.finish(figure, extra=self._note())

    def _note(self) -> str:
        pings, samples = self.reduced
        if pings * samples == 1:
            return "Every sample is shown."
        return f"Cells show the maximum of up to {pings} ping{'s' * (pings > 1)} \u00d7 {samples} samples."

    def _head(self, figure: "Figure") -> None:
        sheet, k = self.sheet, self.sheet.scale
        headline(figure, sheet, self.record.title, 0.21 * k, size=1.35, gid="title")
        answer, room = words.answer(self.assessment, self.record), sheet.width - 0.2 * k
        rows = [answer]
        if text_width(answer, sheet.points, bold=True) > room:
            first, semicolon, rest = answer.partition("; ")
            most = 0.65 * text_width(answer, sheet.points)
            rows = [f"{first};", rest] if semicolon else wrapped(answer, sheet.points, most).split("\n")
        for index, row in enumerate(rows):
            place = (0.4 if len(rows) == 1 else 0.36 + 0.135 * index) * k
            headline(figure, sheet, row, place, size=1.15, least=0.7, color=sheet.inks.good, gid="answer")

    def _echogram(self, figure: "Figure", places: Plan, block: Block, index: int) -> Any:
        sheet, element = self.sheet, self.record.elements[index]
        ax = figure.add_axes(places.box(block.echogram), label=f"echogram {index}")
        rows, columns = panels.pixels(ax)
        shown = cells.echogram(element, rows, columns)
        picture = panels.image(ax, sheet, shown, self.limits)
        self.reduced = [max(self.reduced[0], shown.pings), max(self.reduced[1], shown.samples)]
        x, depth, _ = panels.fish_places(element, self.assessment.elements[index])
        ax.set_ylim(*self.depths)
        ax.set_xlim(shown.across[0], shown.across[-1])
        near = np.abs(depth - np.median(depth)) < 0.12 * np.ptp(self.depths) if len(depth) else np.zeros(0, bool)
        # Fish near the bottom are marked in the strip, where there is room; here a mark would hide what it marks.
        panels.marks(ax, sheet, x, depth, self.assessment.elements[index].mark, 2.6 if near.all() else 3.4)
        if block.first:
            depth_axis(ax, sheet, self.depths, "left", "depth")
        else:
            ax.set_yticks([])
        if block.last:
            depth_axis(ax, sheet, self.depths, "right", "depth")
        ax.set_xticks([])
        self._bracket(ax, index)
        look = sheet.series(index)
        name = element.info.name
        points = fit_points(name, sheet.points * 1.15, block.echogram[2], bold=True)
        ax.set_title(name, size=points, weight="bold", color=look["color"], loc="left", pad=4.5 * sheet.scale)
        # The dashes of this element's beam in the cutaway, for readers in grey.
        ax.plot([0, 1], [1.02, 1.02], transform=ax.transAxes, clip_on=False, lw=1.2 * sheet.scale, **look, gid="key")
        return picture

    def _bracket(self, ax: Any, index: int) -> None:
        """Frame the part of the echogram that the strip below enlarges: a thin outline along the picked bottom."""
        element, judged = self.record.elements[index], self.assessment.elements[index]
        across, _ = cells.along(element)
        picked = cells.calmed(judged.bottom_range) + element.info.transducer_depth
        inside = (across >= self.window[0]) & (across <= self.window[1])
        x, y = across[inside], picked[inside]
        if len(x):
            outline = np.concatenate([y - self.heights[0], y[::-1] + self.heights[1], y[:1] - self.heights[0]])
            ax.plot(
                np.concatenate([x, x[::-1], x[:1]]), outline, color=self.sheet.inks.ink, lw=0.45 * self.sheet.scale,
                alpha=0.8, gid="frame",
            )  # fmt: skip

    def _strip(self, figure: "Figure", places: Plan, block: Block, index: int) -> None:
        sheet, element, judged = self.sheet, self.record.elements[index], self.assessment.elements[index]
        above, below = self.heights
        ax = figure.add_axes(places.box(block.strip), label=f"strip {index}")
        rows, columns = panels.pixels(ax)
        shown = cells.strip(element, judged.bottom_range, above, below, rows, columns, self.window)
        panels.image(ax, sheet, shown, self.limits)
        ax.axhline(0, color=sheet.inks.ink, lw=0.6 * sheet.scale, ls=(0, (4, 3)), alpha=0.8, gid="bottom")
        x, _, height = panels.fish_places(element, judged)
        panels.marks(ax, sheet, x, height, judged.mark, 6.0 if len(x) <= 30 else 4.0)
        ax.set_ylim(-below, above)
        ax.set_xlim(*self.window)
        if not np.isfinite(judged.bottom_range).any():
            self._say(ax, block.strip[2], "no bottom echo in this window")
        elif len(judged.mark) and not len(panels.near_fish(self.record)):
            near = words.length(panels.NEAR, sheet.near().units).replace(".0 ", " ")
            self._say(ax, block.strip[2], f"no fish within {near} of the bottom")
        if block.first:
            depth_axis(ax, sheet.near(), (-below, above), "left", "above bottom", most=6)
        else:
            ax.set_yticks([])
        _, kind = cells.along(element)
        unit: Units = "ft" if sheet.units == "ft" else "m"
        if kind == "m":
            unit_ticks(ax, "x", unit, ax.get_xlim(), most=int(np.clip(block.strip[2] / (0.42 * sheet.scale), 2, 5)))
        ax.set_xlabel(f"along track ({UNITS[unit][1]})" if kind == "m" else "time (s)")
        self._curve(figure, places, block, index, ax)

    def _say(self, ax: Any, width: float, why: str) -> None:
        """Say in a strip why there is little in it, so that nobody looks for more."""
        points = self.sheet.points * 0.85
        ax.text(
            0.03, 0.97, wrapped(why, points, 0.7 * width), transform=ax.transAxes, va="top", size=points,
            color=self.sheet.inks.muted, bbox={"fc": self.sheet.inks.panel, "ec": "none", "pad": 0.8, "alpha": 0.8},
        )  # fmt: skip

    def _curve(self, figure: "Figure", places: Plan, block: Block, index: int, strip: Any) -> None:
        if not block.curve[2]:
            return
        sheet, element, judged = self.sheet, self.record.elements[index], self.assessment.elements[index]
        ping = element.pings // 2 if self.fish is None else int(judged.fish_ping[self.fish])
        above, below = self.heights
        ax = figure.add_axes(places.box(block.curve), label=f"curve {index}")
        height = cells.filled(judged.bottom_range)[ping] - element.range
        near = np.flatnonzero((height <= above) & (height >= -below))
        if len(near):
            chosen = slice(int(near[0]), int(near[-1]) + 1)
            panels.curve(ax, sheet, element.echo_strength(ping, chosen), height[chosen], self.limits, index)
        ax.set_ylim(-below, above)
        ax.axhline(0, color=sheet.inks.muted, lw=0.7 * sheet.scale, ls=(0, (4, 3)))
        low, high = self.limits
        labels = [f"{t:.0f}".replace("-", "\u2212") for t in (low + 5, high - 5)]
        if 1.1 * text_width("".join(labels), sheet.points) > block.curve[2]:
            labels[1] = ""
        ax.set_xticks([low + 5, high - 5], labels=labels)
        ax.get_xticklabels()[0].set_horizontalalignment("left")  # into the panel, not beyond it
        ax.get_xticklabels()[1].set_horizontalalignment("right")
        ax.set_yticks([])
        ax.set_xlabel("dB")
        ax.text(
            0.95,
            0.985,
            "one ping",
            transform=ax.transAxes,
            ha="right",
            va="top",
            bbox={"fc": sheet.inks.panel, "ec": "none", "pad": 0.8, "alpha": 0.8},
            size=fit_points("one ping", sheet.points * 0.9, block.curve[2] * 0.9, least=5.5),
        )
        if block.last:
            depth_axis(ax, sheet.near(), (-below, above), "right", "above bottom", most=6)
        across, _ = cells.along(element)
        for edge in (0.0, 1.0):
            strip.plot(
                [across[ping]], [edge], marker="v" if edge else "^", color=sheet.inks.mark, ms=3.2 * sheet.scale,
                transform=strip.get_xaxis_transform(), clip_on=False, linestyle="none", gid="ping",
            )  # fmt: skip

    def _verdict(self, figure: "Figure", places: Plan, block: Block, index: int) -> None:
        sheet, judged = self.sheet, self.assessment.elements[index]
        inks, k = sheet.inks, sheet.scale
        left, top, width = block.words
        total = len(judged.mark)
        colour = self._colour(judged)
        said = [words.verdict(each) if total else "" for each in self.assessment.elements]
        if any(text_width(each, sheet.points * 1.2, bold=True) > width for each in said):
            said = [each.replace(" fish", "") for each in said]
        line, w, h = said[index], sheet.width, places.height
        points = min(fit_points(each, sheet.points * 1.6, width, bold=True) for each in said)
        figure.text(
            left / w, (top - 0.14 * k) / h, line, size=points, weight="bold", color=colour if total else inks.ink,
            va="baseline", gid=f"verdict {index}",
        )  # fmt: skip
        if total:
            self._tally(figure, places, block, index)
        small = min(fit_points(self._numbers(i), sheet.points, width, least=5.0) for i in range(len(places.blocks)))
        figure.text(
            left / w, (top - (0.42 if total else 0.06) * k) / h, self._numbers(index), size=small, color=inks.ink,
            va="top", linespacing=1.2 if sheet.size == "slide" else 1.3, gid=f"numbers {index}",
        )  # fmt: skip

    def _colour(self, judged: ElementAssessment) -> str:
        """Return the colour of a verdict: good for the best, fair for others that part more than half, else poor."""
        inks, separated = self.sheet.inks, judged.counts.get("separated", 0)
        best = max(each.counts.get("separated", 0) for each in self.assessment.elements)
        if separated and separated == best:
            return inks.good
        return inks.fair if separated > 0.5 * len(judged.mark) else inks.poor

    def _numbers(self, index: int) -> str:
        """Return the numbers under an element, a line each; on a slide two to a line."""
        listed = words.numbers(self.record.elements[index].info, self.assessment.elements[index], self.sheet.units)
        rows = [f"{name} {value}" for name, value in listed.items()]
        if self.sheet.size == "slide":
            rows = [", ".join([rows[0], *rows[5:]]), ", ".join(rows[1:3]), ", ".join(rows[3:5])]
        return "\n".join(rows)

    def _tally(self, figure: "Figure", places: Plan, block: Block, index: int) -> None:
        """Draw one mark for each fish, best first; with many fish, one of each kind with its count."""
        sheet, judged = self.sheet, self.assessment.elements[index]
        left, top, width = block.words
        k = sheet.scale
        ax = figure.add_axes(places.box((left, top - 0.38 * k, width, 0.2 * k)), label=f"tally {index}")
        ax.set_axis_off()
        ax.set_xlim(0, width)
        ax.set_ylim(-1, 1)
        x = 0.06 * k
        for kind in MARKS:
            count = judged.counts.get(kind, 0)
            for look in panels.mark_style(kind, sheet, 5.2):
                ax.plot([x], [0], **look, clip_on=False)
            ax.text(x + 0.075 * k, 0, str(count), va="center_baseline", size=sheet.points, gid=f"count {kind}")
            x += (0.21 + 0.075 * len(str(count))) * k

    def _foot(self, figure: "Figure", places: Plan, picture: Any) -> None:
        sheet = self.sheet
        boxes: dict[cutaway.View, Box] = {"side": places.side, "ahead": places.ahead}
        boxes = {view: box for view, box in boxes.items() if box[2]}
        limits = cutaway.fitted(self.record, {view: (box[2], box[3]) for view, box in boxes.items()})
        for view, box in boxes.items():
            ax = figure.add_axes(places.box(box), label=f"cutaway {view}")
            cutaway.draw(ax, sheet, self.record, view, limits=limits[view])
            cutaway.dress(ax, sheet, self.record, view, "left" if view == "side" else "")
            ax.set_title("cutaway, beams to scale" if view == "side" else "from astern", loc="left", pad=2)
        scale = figure.add_axes(places.box(places.scale), label="level scale")
        panels.level_scale(scale, sheet, picture)
        total = len(self.record.truth.fish.id)
        if total:
            self._legend(figure, places, total)

    def _legend(self, figure: "Figure", places: Plan, total: int) -> None:
        sheet = self.sheet
        left, top, _ = places.legend
        handles = panels.legend_marks(sheet, self.assessment.elements)
        room = sheet.width - left - 0.4 * sheet.scale
        if any(text_width(label, 5.5) > room for label in handles):
            handles = {label.replace(" from the bottom", ""): look for label, look in handles.items()}
        small = min(fit_points(label, sheet.points, room, least=5.5) for label in handles)
        legend = figure.legend(
            handles.values(), handles, loc="upper left", bbox_to_anchor=(left / sheet.width, top / places.height),
            borderpad=0, borderaxespad=0, labelspacing=0.45, handletextpad=0.5, handlelength=1.2,
            title=f"of {total} fish, by element,\nin the ping nearest to each", title_fontsize=small, fontsize=small,
            alignment="left",
        )  # fmt: skip
        legend.set_gid("legend")
        note, (left, top, wide) = words.rarely_merged(self.assessment), places.note
        points = sheet.points * 0.85
        figure.text(
            left / sheet.width, top / places.height, wrapped(note, points, wide), size=points, color=sheet.inks.muted,
            va="bottom", linespacing=1.15, gid="why none is merged",
        )  # fmt: skip


def caption(record: Record, assessment: Assessment, units: Units = "m") -> str:
    """Return the caption, ready to paste, from the numbers."""
    said = " ".join(
        words.said_of(e.info, judged, units) for e, judged in zip(record.elements, assessment.elements, strict=True)
    )
    higher = "; fish higher up are marked in the echograms alone" if len(record.truth.fish.id) else ""
    return (
        f"{record.title}. {_asked(record, assessment, units)} {said}"
        " Top: echograms, echo strength in dB re 1 m\u00b2, same scales for all. Below: the water just above the"
        f" picked bottom, flattened and enlarged{higher}. {CAUTION}"
    )


def _asked(record: Record, assessment: Assessment, units: Units) -> str:
    """Return question and answer in words; without fish what there is alone."""
    answer = words.answer(assessment, record)
    if not len(record.truth.fish.id):
        return answer
    why = words.rarely_merged(assessment)
    return f"{QUESTION} {answer} There are {words.fish_words(record, units)}.{f' {why}' if why else ''}"


def alt(record: Record, assessment: Assessment, units: Units = "m") -> str:
    """Return the alternative text, for a reader who does not see the picture."""
    names = words.listed([e.info.name for e in record.elements])
    said = " ".join(
        words.said_of(e.info, judged, units) for e, judged in zip(record.elements, assessment.elements, strict=True)
    )
    return (
        f"Echograms of {record.title} side by side as {names} would record them, each with an enlarged strip of the"
        f" water just above the seabed. {words.answer(assessment, record)} {said} Simulated."
    )
