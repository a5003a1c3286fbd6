"""One ping as level against depth, for every element: the whole ping and the last metres above the bottom."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pingwright import words
from pingwright.echograms.record import ElementRecord, Record
from pingwright.figures import cells, panels
from pingwright.figures.style.lettering import fit_points, shorten
from pingwright.figures.style.sheet import Sheet, Size, figure_of, headline
from pingwright.figures.style.ticks import depth_axis, tick_labels
from pingwright.figures.style.view import View, depths, faces, pings_within
from pingwright.measure.assessment import Assessment, ElementAssessment
from pingwright.palette import Theme
from pingwright.words import Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]


def pings_of(record: Record, assessment: Assessment, ping: int | None = None, view: View | None = None) -> list[int]:
    """Return the ping of each element that is drawn: the given one, else the nearest to one fish, else the middle.

    The fish is the one on which the elements differ most; if elements ping in turn, each has its own nearest ping. If
    that ping is outside the window of a view, the middle of the window is drawn.
    """
    if ping is not None:
        return [min(ping, element.pings - 1) for element in record.elements]
    fish = panels.best_fish(record, assessment.elements)
    inside = [pings_within(element, view.along if view else None) for element in record.elements]
    middle = [(part.start + part.stop) // 2 for part in inside]
    if fish is None:
        return middle
    chosen = [int(judged.fish_ping[fish]) for judged in assessment.elements]
    return chosen if all(p.start <= at < p.stop for p, at in zip(inside, chosen, strict=True)) else middle


def ping_curve(
    record: Record,
    assessment: Assessment,
    ping: int | None = None,
    theme: Theme = "light",
    units: Units = "m",
    size: Size = "two-column",
    view: View | None = None,
) -> "Figure":
    """Return one ping of each element, echo strength [dB re 1 m2] against depth, the bottom enlarged beneath."""
    sheet = Sheet(theme, units, size, faces(record.elements))
    chosen = pings_of(record, assessment, ping, view)
    above, below = panels.strip_heights(record)
    with sheet.drawing():
        count = len(record.elements)
        figure = sheet.figure(5.4 * sheet.scale)
        width, height = figure.get_size_inches()
        k = sheet.scale
        axes = figure.subplots(2, count, squeeze=False, gridspec_kw={"hspace": 0.16, "wspace": 0.1})
        figure.subplots_adjust(0.52 * k / width, 0.62 * k / height, 1 - 0.5 * k / width, 1 - 0.5 * k / height)
        joined, limits = 1, _limits(record, chosen)
        for index, (element, judged) in enumerate(zip(record.elements, assessment.elements, strict=True)):
            at = chosen[index]
            draft = element.info.transducer_depth
            picked = cells.filled(judged.bottom_range)[at]
            whole = depths(record, view) if view and view.depth else (float(element.range[-1]) + draft, 0.0)
            panes = ((element.range + draft, whole), (picked - element.range, (-below, above)))
            for row, (vertical, span) in enumerate(panes):
                ax = axes[row][index]
                ax.set_ylim(*span)
                joined = max(joined, _curve(ax, sheet, element.echo_strength(at), vertical, limits, index))
                ax.axhline(0 if row else picked + draft, color=sheet.inks.muted, ls=(0, (4, 3)))
                scaled, name = (sheet.near(), "above bottom") if row else (sheet, "depth")
                if index == 0:
                    depth_axis(ax, scaled, span, "left", name, most=6)
                else:
                    ax.set_yticks([])
                if index == count - 1:
                    depth_axis(ax, scaled, span, "right", name, most=6)
            _fish(axes[1][index], sheet, element, judged, at)
            axes[0][index].set_xticklabels([])
            name, room = element.info.name, axes[0][index].get_position().width * width
            points = fit_points(name, sheet.points, room, bold=True)
            axes[0][index].set_title(
                shorten(name, points, room, bold=True), color=sheet.series(index)["color"], weight="bold", loc="left",
                size=points,
            )  # fmt: skip
            axes[1][index].set_xlabel("echo strength (dB re 1 m\u00b2)" if count < 4 and size != "one-column" else "dB")
        headline(figure, sheet, f"Ping {chosen[0] + 1}: {record.title}", 0.2 * k)
        return sheet.finish(figure, extra=_note(joined))


def _note(joined: int) -> str:
    return "Every sample is shown." if joined == 1 else f"Curves show the maximum of up to {joined} samples."


def _peak(element: ElementRecord, ping: int) -> float:
    """Return the strongest echo of a ping beyond the blanking range [dB re 1 m2]."""
    return float(np.nanmax(element.echo_strength(ping)[element.range > element.info.blank_range]))


def _limits(record: Record, pings: Sequence[int]) -> tuple[float, float]:
    """Return the limits of echo strength [dB re 1 m2] of all panels: below the picture's floor, above every peak."""
    low, high = panels.level_limits()
    peaks = [_peak(element, at) for element, at in zip(record.elements, pings, strict=True)]
    return low - 15, max([high + 5, *(peak + 3 for peak in peaks if np.isfinite(peak))])


def _curve(
    ax: "Axes",
    sheet: Sheet,
    level: NDArray[Any],
    vertical: FloatArray,
    limits: tuple[float, float],
    index: int,
) -> int:
    """Draw the part of a ping within axes, by maximum in rows of two pixels; return the number of samples in a row."""
    low, high = sorted(ax.get_ylim())
    inside = np.flatnonzero((vertical >= low) & (vertical <= high))
    joined = 1
    if len(inside):
        level, vertical = level[inside], vertical[inside]
        rows = min(max(panels.pixels(ax)[0] // 2, 50), len(inside))
        first, past = cells.spans(np.arange(len(inside), dtype=float), np.linspace(-0.5, len(inside) - 0.5, rows + 1))
        joined = int((past - first).max())
        level, vertical = cells.reduce_max(level, first, past), (vertical[first] + vertical[past - 1]) / 2
    panels.curve(ax, sheet, level, vertical, limits, index)
    room = ax.get_position().width * figure_of(ax).get_size_inches()[0]
    ticks = [-60, -40, -20] if room > 0.9 * sheet.scale else [-60, -20]
    ax.set_xticks(ticks, labels=tick_labels(np.array(ticks)))
    ax.grid(visible=True, axis="x")
    return joined


def _fish(ax: "Axes", sheet: Sheet, element: ElementRecord, judged: ElementAssessment, ping: int) -> None:
    """Mark the fish of this ping on the curve, where their echoes are drawn."""
    here = np.flatnonzero(np.asarray(judged.fish_ping) == ping)
    height = panels.fish_places(element, judged)[2][here]
    low, high = ax.get_ylim()
    here, height = here[(height >= low) & (height <= high)], height[(height >= low) & (height <= high)]
    if len(here):
        level = element.echo_strength(ping)
        at = np.searchsorted(element.range, judged.fish_range[here]).clip(0, len(level) - 1)
        panels.marks(ax, sheet, level[at], height, tuple(judged.mark[i] for i in here))


def caption(
    record: Record, assessment: Assessment, ping: int | None = None, units: Units = "m", view: View | None = None
) -> str:
    """Return the caption of one ping as curves."""
    chosen = pings_of(record, assessment, ping, view)
    picked = words.listed(
        [
            f"{words.length(float(a.bottom_range[at]) + e.info.transducer_depth, units, 3)} ({e.info.name})"
            for e, a, at in zip(record.elements, assessment.elements, chosen, strict=True)
        ]
    )
    return (
        f"{record.title}: ping {chosen[0] + 1} as each element records it, echo strength against depth; beneath, the"
        f" water just above the picked bottom at {picked}. Simulated."
    )


def alt(
    record: Record, assessment: Assessment, ping: int | None = None, units: Units = "m", view: View | None = None
) -> str:
    """Return the alternative text of one ping as curves."""
    peaks = []
    for element, at in zip(record.elements, pings_of(record, assessment, ping, view), strict=True):
        peaks.append(f"{element.info.name} peaks at {words.whole(_peak(element, at))} dB")
    return f"Curves of one ping. {caption(record, assessment, ping, units, view)} {words.listed(peaks)}."
