"""The same fish as an arch under each element: number of pings, length along the track, depth of its arms."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from pingwright import words
from pingwright.echograms.record import Record
from pingwright.figures import cells, panels
from pingwright.figures.charts import lines
from pingwright.figures.compare import comb, scales
from pingwright.figures.style.lettering import text_width
from pingwright.figures.style.sheet import Sheet, Size, headline
from pingwright.figures.style.view import View, faces
from pingwright.measure.arch import Arch
from pingwright.measure.assessment import Assessment
from pingwright.palette import Theme
from pingwright.words import Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Span = tuple[float, float]
#: width of the margins inside a panel's frame that hold the brackets [mm]
LANE = 3.2


@dataclass(frozen=True)
class Arches:
    """The content of the figure: a fish, its index in the truth group, and its arch under each element."""

    fish: int
    arches: tuple[Arch, ...]


def window(record: Record, assessment: Assessment, what: Arches, view: View | None = None) -> tuple[Span, Span]:
    """Return the limits along the track [m or s] and of depth [m, foot first] that hold every element's arch.

    view: the reader's window, which they do not leave.
    """
    line, kind = cells.along(record.elements[0])
    places, depths = [], []
    for element, judged, arch in zip(record.elements, assessment.elements, what.arches, strict=True):
        across, _ = cells.along(element)
        places += [across[arch.ping], across[judged.fish_ping[[what.fish]]]]
        depths += [arch.peak + element.info.transducer_depth,
                   judged.fish_range[[what.fish]] + element.info.transducer_depth]  # fmt: skip
    x, z = np.concatenate(places), np.concatenate(depths)
    beside = max(0.12 * float(np.ptp(x)), 2.0 if kind == "m" else 1.0)
    over = max(0.25 * float(np.ptp(z)), 0.2)
    low, high = max(float(x.min()) - beside, float(line[0])), min(float(x.max()) + beside, float(line[-1]))
    return _within((low, high), view.along if view else None), _within(
        (float(z.max()) + over, float(z.min()) - over), view.depth if view else None
    )


def _within(span: Span, limits: Span | None) -> Span:
    """Return the part of a span inside limits, in the same direction; the limits where no part is."""
    if limits is None:
        return span
    low, high = max(min(span), min(limits)), min(max(span), max(limits))
    low, high = (low, high) if low < high else (min(limits), max(limits))
    return (low, high) if span[0] < span[1] else (high, low)


def arch(
    record: Record,
    assessment: Assessment,
    what: Arches,
    theme: Theme = "light",
    units: Units = "m",
    size: Size = "two-column",
    view: View | None = None,
) -> "Figure":
    """Return one panel for each element, all with the same window; brackets show length above, depth at the right."""
    sheet = Sheet(theme, units, size, faces(record.elements))
    one_row = len(record.elements) <= (4 if size != "one-column" else 2)
    with sheet.drawing():
        figure, axes = lines.grid(
            sheet, len(record.elements), 4 if size != "one-column" else 2, (2.2 if one_row else 1.6, 0.62, 0.26)
        )
        spans = window(record, assessment, what, view)
        for index, (ax, ends) in enumerate(axes):
            _panel(ax, sheet, record, assessment, what, index, spans, ends)
        headline(figure, sheet, _headline(sheet, record, assessment, what), 0.2 * sheet.scale)
        note = "Line: the fish. Brackets: length along the track, depth of the arms; first to last ping that shows it."
        return sheet.finish(figure, extra=note)


def _headline(sheet: Sheet, record: Record, assessment: Assessment, what: Arches) -> str:
    fish = words.fish_length(float(record.truth.fish.length[what.fish]), sheet.units)
    many = [int(one.pings_detected[what.fish]) for one in assessment.elements]
    if not any(many):
        return f"One fish of {fish}: no element shows it"
    of_each = [f"{one.name} in {words.counted(n, 'ping')}" for one, n in zip(assessment.elements, many, strict=True)]
    whole = f"One fish of {fish}: shown by {words.listed(of_each)}"
    if text_width(whole, sheet.points * 0.9, bold=True) < 0.97 * (sheet.width - 0.18 * sheet.scale):
        return whole
    return f"One fish of {fish} under {words.spelled(len(many))} elements"


def measures(assessment: Assessment, what: Arches, index: int, units: Units, moving: bool = True) -> tuple[str, str]:
    """Return the size of an arch in two short texts: pings and length, depth of the arms; or why there is none."""
    one, fish = assessment.elements[index], what.fish
    near: Units = "ft" if units == "fathoms" else units
    pings = int(one.pings_detected[fish])
    if not pings:
        return "not shown", ""
    long = f", {words.length(one.arch_length[fish], near)} long" if moving and pings > 1 else ""
    arms = f"arms {words.length(one.arch_depth[fish], near)} deep" if pings > 1 else ""
    return f"{words.counted(pings, 'ping')}{long}", arms


def _panel(
    ax: "Axes",
    sheet: Sheet,
    record: Record,
    assessment: Assessment,
    what: Arches,
    index: int,
    spans: tuple[Span, Span],
    ends: tuple[bool, bool],
) -> None:
    element, (across, down), arch = record.elements[index], spans, what.arches[index]
    shown = cells.box(element, (down[1], down[0]), *panels.pixels(ax), across)
    panels.image(ax, sheet, shown, panels.level_limits())
    wide, tall = scales.size_mm(ax)
    lane = LANE * sheet.scale
    ax.set_xlim(*scales.widened(across, wide, 0.0, lane))
    ax.set_ylim(*scales.widened(down, tall, 0.0, lane))
    _lanes(ax, sheet, across, down)
    line, kind = cells.along(element)
    look: dict[str, Any] = {"color": sheet.inks.ink, "lw": 1.0 * sheet.scale, "ms": 5 * sheet.scale, "gid": "bracket"}
    if len(arch.ping) > 1:
        above, beside = (down[1] + ax.get_ylim()[1]) / 2, (across[1] + ax.get_xlim()[1]) / 2
        ends_x = line[arch.ping.min()], line[arch.ping.max()]
        ends_z = np.array([arch.peak.min(), arch.peak.max()]) + element.info.transducer_depth
        ax.plot(ends_x, [above] * 2, marker="|", **look)
        ax.plot([beside] * 2, ends_z, marker="_", **look)
        _pointer(ax, sheet, shown, line[arch.ping[np.argmin(arch.peak)]], (above, float(ends_z[0])))
    scales.along_ticks(ax, sheet, across, kind)
    left, right = scales.axis_units(sheet, flat=False)
    if ends[0]:
        scales.level_ticks(ax, sheet, "left", down, left, "depth")
    else:
        ax.set_yticks([])
    if ends[1] and right:
        scales.level_ticks(ax, sheet, "right", down, right, "")
    lines.panel_words(ax, sheet, element.info.name, index, measures(assessment, what, index, sheet.units, kind == "m"))


def _pointer(ax: "Axes", sheet: Sheet, shown: cells.Cells, at: float, between: Span) -> None:
    """Draw a cased line down to just above the fish's echo: it says which of several arches it is.

    between [m]: depths of the bracket and of the fish's echo. The line begins below the last echo in its way, at most
    at the bracket, and is left out if there is no room for it.
    """
    wide, tall = scales.size_mm(ax)
    (left, right), (low, high) = sorted(ax.get_xlim()), sorted(ax.get_ylim())
    half, clear = 0.6 * sheet.scale * (right - left) / wide, comb.CLEAR * sheet.scale * (high - low) / tall
    echoes = np.nan_to_num(shown.level, nan=-np.inf) > panels.level_limits()[0]
    end = between[1] - clear
    over = comb.busy(echoes, shown.across, shown.down, at, half)
    above = max([between[0], *(over[over < end] + clear)])
    if end > above:
        for colour, wide in ((sheet.inks.halo, 2.4), (sheet.inks.ink, 0.8)):
            ax.plot([at] * 2, [above, end], color=colour, lw=wide * sheet.scale, zorder=3, gid="pointer",
                    solid_capstyle="butt")  # fmt: skip


def _lanes(ax: "Axes", sheet: Sheet, across: Span, down: Span) -> None:
    """Cover the picture outside the window, so that brackets have a clear background."""
    from matplotlib.patches import Rectangle

    (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
    for left, foot, right, top in ((across[1], y0, x1, y1), (x0, down[1], x1, y1)):
        ax.add_patch(Rectangle((left, foot), right - left, top - foot, fc=sheet.inks.paper, ec="none", zorder=2))


def caption(record: Record, assessment: Assessment, what: Arches, units: Units = "m") -> str:
    """Return the caption: where the fish is, and what its arch measures under each element."""
    fish, length = record.truth.fish, words.fish_length
    moving = cells.along(record.elements[0])[1] == "m"
    of_each = [
        f"{one.name} (beam {words.beam(element.info)}): "
        + ", ".join(text for text in measures(assessment, what, index, units, moving) if text)
        for index, (element, one) in enumerate(zip(record.elements, assessment.elements, strict=True))
    ]
    where = words.length(float(fish.depth[what.fish]), units, 3)
    return (
        f"{record.title}: one fish of {length(float(fish.length[what.fish]), units)} at {where} of depth under each"
        f" element. {'; '.join(of_each)}. Length: way of the boat from the first to the last ping that shows it; arms:"
        f" how far its lowest echo lies below its highest. Simulated."
    )


#: The alternative text, of the same arguments.
alt = words.opened("Parts of echograms around one fish, one panel for each element, each with an arch.", caption)
