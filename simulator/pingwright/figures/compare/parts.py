"""The panels of the comparison: an enlarged row, the whole water, an interval, marks in a comb."""

from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pingwright import words
from pingwright.echograms.record import ElementRecord, Record
from pingwright.figures import cells, panels
from pingwright.figures.compare import brackets, comb, scales
from pingwright.figures.compare.rows import Zone, chip, fish_places
from pingwright.figures.style.sheet import Sheet
from pingwright.figures.style.view import View, depths
from pingwright.measure.assessment import ElementAssessment
from pingwright.measure.certainty import Certainty

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.image import AxesImage


FloatArray = NDArray[np.float64]

#: clear margin inside a frame at the sides, for hidden height and carets [mm]
LANE = 1.9


def blind(ax: "Axes", sheet: Sheet, element: ElementRecord) -> None:
    """Hatch the blanking range, in which an element still sends."""
    foot = element.info.blank_range + element.info.transducer_depth
    ax.axhspan(
        0, foot, facecolor=sheet.inks.panel, edgecolor=sheet.inks.muted, hatch="/////", lw=0, zorder=2, gid="blind"
    )


def _scaled(values: FloatArray, limits: tuple[float, float], length: float) -> FloatArray:
    """Return places along axes [mm] of values between limits."""
    return np.asarray((values - limits[0]) / (limits[1] - limits[0]) * length)


class Row:
    """An enlarged part of the water as one element shows it."""

    def __init__(
        self, sheet: Sheet, record: Record, assessment: ElementAssessment, index: int, zone: Zone, view: View
    ) -> None:
        self.sheet, self.record, self.found, self.index, self.zone, self.view = (
            sheet,
            record,
            assessment,
            index,
            zone,
            view,
        )

    def draw(self, ax: "Axes", ends: tuple[bool, bool], limits: tuple[float, float], named: bool) -> cells.Cells:
        """Draw into axes; ends: whether they are first and last of their line; named: with words in the picture."""
        sheet, zone = self.sheet, self.zone
        shown = chip(self.record, self.index, self.found, zone, panels.pixels(ax))
        panels.image(ax, sheet, shown, limits)
        wide, _ = scales.size_mm(ax)
        ax.set_xlim(*scales.widened(zone.across, wide, LANE, LANE))
        ax.set_ylim(*zone.down)
        ax.add_patch(self._lane(ax, ax.get_xlim()[0], zone.across[0]))
        ax.add_patch(self._lane(ax, zone.across[1], ax.get_xlim()[1]))
        scales.along_ticks(ax, sheet, zone.across, cells.along(self.record.elements[self.index])[1])
        self._scales(ax, ends)
        if zone.flat:
            ax.plot(
                zone.across, [0, 0], color=sheet.inks.halo, lw=0.9 * sheet.scale, ls=(0, (4, 3)), zorder=3, gid="bottom"
            )
            self._bar(ax)
            if named and -zone.down[0] / (zone.down[1] - zone.down[0]) * scales.size_mm(ax)[1] > sheet.least * 0.5:
                one = (zone.down[1] - zone.down[0]) / scales.size_mm(ax)[
                    1
                ]  # just under the line, where echoes are strong
                down = max(zone.down[0] / 2, -0.26 * sheet.least * one)
                middle = down, zone.across[1] - 0.02 * (zone.across[1] - zone.across[0])
                look: dict[str, Any] = {
                    "size": sheet.least,
                    "color": sheet.inks.halo,
                    "ha": "right",
                    "va": "center",
                    "zorder": 3,
                }
                ax.text(middle[1], middle[0], "bottom", **look, gid="bottom name")
        else:
            blind(ax, sheet, self.record.elements[self.index])
        if zone.group is not None and self.view.marks:
            self._marks(ax, shown, limits[0], named)
        return shown

    def _lane(self, ax: "Axes", left: float, right: float) -> Any:
        from matplotlib.patches import Rectangle

        return Rectangle(
            (left, ax.get_ylim()[0]), right - left, np.diff(ax.get_ylim())[0], fc=self.sheet.inks.panel, lw=0, zorder=2
        )

    def _scales(self, ax: "Axes", ends: tuple[bool, bool]) -> None:
        left, right = scales.axis_units(self.sheet, self.zone.flat)
        what = "above bottom" if self.zone.flat else "depth"
        if ends[0]:
            scales.level_ticks(ax, self.sheet, "left", self.zone.down, left, what)
        else:
            ax.set_yticks([])
        if ends[1] and right:
            scales.level_ticks(ax, self.sheet, "right", self.zone.down, right, "")

    def _bar(self, ax: "Axes") -> None:
        """Draw the height hidden at the beam's edge as a bar in the left lane, with an arrow where it is longer."""
        hidden, (_, top) = self.found.closed.edge_height, self.zone.down
        if not np.isfinite(hidden):
            return
        at = (ax.get_xlim()[0] + self.zone.across[0]) / 2
        colour, k = self.sheet.series(self.index)["color"], self.sheet.scale
        ax.plot(
            [at, at],
            [0, min(hidden, top)],
            color=colour,
            lw=2.4 * k,
            solid_capstyle="butt",
            zorder=3,
            gid="hidden height",
        )
        if hidden > top:
            ax.plot(
                [at], [top], marker="^", color=colour, ms=4 * k, clip_on=False, zorder=3, gid="hidden height, longer"
            )

    def _marks(self, ax: "Axes", shown: cells.Cells, floor: float, named: bool) -> None:
        zone, group = self.zone, self.zone.group
        assert group is not None
        # Marks grow with the type: their places are in millimetres of the two-column sheet.
        (wide, tall), x_lim, y_lim = (
            (each / self.sheet.scale for each in scales.size_mm(ax)),
            ax.get_xlim(),
            ax.get_ylim(),
        )
        x, depth, height = fish_places(self.record, self.index, self.found)
        x, y = x[group.fish], (height if zone.flat else depth)[group.fish]
        to_x, to_y = partial(_scaled, limits=x_lim, length=wide), partial(_scaled, limits=y_lim[::-1], length=tall)
        inside = (x >= zone.across[0]) & (x <= zone.across[1])
        kinds = tuple(self.found.mark[int(i)] for i in group.fish[inside])
        echoes = np.nan_to_num(shown.level, nan=-np.inf) > floor
        across, down = to_x(shown.across), to_y(shown.down)
        placed = comb.marks(to_x(x[inside]), to_y(y[inside]), kinds, echoes, across, down, wide, words.SEPARATED)
        draw_comb(ax, self.sheet, placed, (wide, tall))
        if self.found.passes is not None:
            fish, colour = group.fish[inside], self.sheet.series(self.index)["color"]
            shares = [self.found.passes.separates([int(fish[mark.fish])]) for mark in placed]
            gauges(ax, self.sheet, placed, shares, colour, (wide, tall))
        if named:
            self._name_fish(ax, placed, (echoes, across, down))

    def _name_fish(
        self, ax: "Axes", placed: list[comb.Mark], seen: tuple[NDArray[np.bool_], FloatArray, FloatArray]
    ) -> None:
        """Write "fish" beside a hairline where the water is clear."""
        echoes, across, down = seen
        wide, tall = (each / self.sheet.scale for each in scales.size_mm(ax))
        high, long = 2.8, 6.0
        for mark in placed:
            for left in (mark.x - long - 0.8, mark.x + 0.8):
                top = mark.end / 2 - high / 2
                columns = (across[1:] > left - 0.5) & (across[:-1] < left + long + 0.5)
                rows = (down[1:] > top - 0.5) & (down[:-1] < top + high + 0.5)
                others = any(m is not mark and left - 0.5 < m.x < left + long + 0.5 for m in placed)
                if (
                    mark.end < 2 * high
                    or others
                    or left < 0.5
                    or left + long > wide - 0.5
                    or echoes[np.ix_(rows, columns)].any()
                ):
                    continue
                ax.text(
                    left / wide,
                    1 - (top + high) / tall,
                    "fish",
                    size=self.sheet.least,
                    transform=ax.transAxes,
                    gid="fish",
                )
                return


def draw_comb(ax: "Axes", sheet: Sheet, placed: list[comb.Mark], size: tuple[float, float]) -> None:
    """Draw marks above axes, their hairlines, rings and carets; size: of the axes in the marks' millimetres."""
    from matplotlib.patches import Ellipse

    (wide, tall), inks, k = size, sheet.inks, sheet.scale
    rise = 2.3
    small = 4.2 if len(placed) < comb.MANY else 2.6
    for mark in placed:
        place = (mark.tooth / wide, 1 + rise / tall)
        for look in panels.mark_style(mark.kind, sheet, small)[1:]:
            ax.plot(
                *([v] for v in place), **look, transform=ax.transAxes, clip_on=False, zorder=6, gid=f"mark-{mark.kind}"
            )
        stem = [(mark.tooth, -rise + 0.9), (mark.tooth, -rise + 1.2), (mark.x, -0.15), (mark.x, mark.end or -0.15)]
        ax.plot([p[0] / wide for p in stem], [1 - p[1] / tall for p in stem], transform=ax.transAxes, clip_on=False,
                color=inks.mark, lw=0.6 * k, solid_capstyle="butt", zorder=5, gid="hairline")  # fmt: skip
        if mark.ring:
            box = 2 * comb.RING / wide, 2 * comb.RING / tall
            ring: dict[str, Any] = {
                "fill": False,
                "ec": inks.mark,
                "lw": 0.8 * k,
                "ls": (0, (2.2, 1.4)),
                "zorder": 5,
                "gid": "ring",
            }
            ax.add_patch(Ellipse((mark.x / wide, 1 - mark.y / tall), *box, transform=ax.transAxes, **ring))
        if mark.caret:
            ax.plot([1 - 0.5 * LANE / wide], [1 - mark.y / tall], marker="<", ms=3.0 * k, color=inks.mark, mew=0,
                    transform=ax.transAxes, zorder=6, gid="caret")  # fmt: skip


def gauges(
    ax: "Axes", sheet: Sheet, placed: list[comb.Mark], shares: list[Certainty], colour: str, size: tuple[float, float]
) -> None:
    """Draw over each mark a line from 0 (below) to 100 % of fresh passes, with the fish's share and its interval."""
    (wide, tall), k = size, sheet.scale
    low, high = 3.6, 6.9
    for mark, share in zip(placed, shares, strict=True):
        look: dict[str, Any] = {"transform": ax.transAxes, "clip_on": False, "solid_capstyle": "butt", "zorder": 6}
        for ends, width, ink, name in (
            ((0.0, 1.0), 0.6, sheet.inks.line, "gauge"),
            ((share.low, share.high), 2.6, colour, "fish interval"),
        ):
            y = [1 + (low + end * (high - low)) / tall for end in ends]
            ax.plot([mark.tooth / wide] * 2, y, color=ink, lw=width * k, gid=name, **look)
        at = 1 + (low + share.value * (high - low)) / tall
        dot: dict[str, Any] = {
            "marker": "_",
            "ms": 3.4 * k,
            "mew": 1.0 * k,
            "color": sheet.inks.ink,
            "gid": "fish share",
        }
        ax.plot([mark.tooth / wide], [at], **dot, **look)


def water(ax: "Axes", sheet: Sheet, record: Record, index: int, view: View, limits: tuple[float, float]) -> Any:
    """Draw the whole water of an element, without marks, with a clear margin below; returns the picture."""
    element, span = record.elements[index], depths(record, view)
    rows, columns = panels.pixels(ax)
    top, foot = sorted(span)
    shown = cells.box(element, (top, foot), rows, columns, view.along)
    picture = panels.image(ax, sheet, shown, limits)
    ax.set_xlim(shown.across[0], shown.across[-1])
    _, tall = scales.size_mm(ax)
    _, low = scales.widened((top, foot), tall, 0.0, brackets.FOOT)
    ax.set_ylim(low, top)
    ax.axhspan(foot, low, color=sheet.inks.panel, lw=0, zorder=2)
    blind(ax, sheet, element)
    scales.along_ticks(ax, sheet, (shown.across[0], shown.across[-1]), cells.along(element)[1])
    return picture


def name_structures(ax: "Axes", sheet: Sheet, record: Record, shown: "AxesImage", floor: float) -> None:
    """Write the names of structures in clear water above them, where there is room."""
    wide, tall = scales.size_mm(ax)
    x_lim, (low, top) = ax.get_xlim(), ax.get_ylim()
    level: FloatArray = np.ma.filled(np.ma.asarray(shown.get_array()), -np.inf)
    extent = shown.get_extent()
    taken: list[tuple[float, float]] = []
    for structure in record.truth.structures:
        name = structure.name
        long = len(name) * sheet.least * 0.21 / wide * (x_lim[1] - x_lim[0])
        middle = float(
            np.clip(
                (structure.side[:, 0].min() + structure.side[:, 0].max()) / 2, x_lim[0] + long / 2, x_lim[1] - long / 2
            )
        )
        span = (middle - long / 2, middle + long / 2)
        if any(a < span[1] and b > span[0] for a, b in taken) or long > x_lim[1] - x_lim[0]:
            continue
        column = np.linspace(extent[0], extent[1], level.shape[1] + 1)
        part = level[:, (column[1:] > span[0]) & (column[:-1] < span[1])]
        down = np.linspace(extent[3], extent[2], level.shape[0])
        rows = np.flatnonzero((part > floor).any(axis=1) & (down > float(np.max(structure.side[:, 1])) * 0.3))
        first = min(float(down[rows[0]]) if len(rows) else low, float(structure.side[:, 1].min()))
        at = first - 1.0 * (low - top) / tall
        if (at - top) / (low - top) * tall < sheet.least * 0.5:
            continue
        ax.text(middle, at, name, size=sheet.least, ha="center", va="bottom", zorder=5, gid="structure name")
        taken.append(span)


def whisker(ax: "Axes", sheet: Sheet, assessment: ElementAssessment, index: int) -> None:
    """Draw a share of the fish with its interval on a line from 0 to 100 %."""
    share, look, k = assessment.overall, sheet.series(index), sheet.scale
    ax.set_axis_off()
    ax.set_xlim(0, 1)
    ax.set_ylim(-1, 1)
    ax.plot([0, 1], [0, 0], color=sheet.inks.line, lw=0.9 * k, clip_on=False)
    for at in (0, 0.5, 1):
        ax.plot([at, at], [-0.7, 0.7], color=sheet.inks.line, lw=0.9 * k, clip_on=False)
    ax.plot(
        [share.low, share.high],
        [0, 0],
        color=look["color"],
        lw=4.5 * k,
        alpha=0.45,
        solid_capstyle="butt",
        gid="interval",
    )
    ax.plot(
        [share.value],
        [0],
        "o",
        color=look["color"],
        mec=sheet.inks.paper,
        mew=0.7 * k,
        ms=5 * k,
        clip_on=False,
        gid="share",
    )
