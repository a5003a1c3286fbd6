"""Cutaway: a cross-section of the water, to scale: boat, beams, wreck, seabed, fish, schools and layers.

Beams are drawn as the one-way -3 dB width at band centre, from the transducer at the ping nearest to the middle of
the structures (or of the fish, or of the run).
"""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Literal, assert_never

import numpy as np
from numpy.typing import NDArray

from pingwright import words
from pingwright.echograms.record import ElementRecord, Record, SoftTruth
from pingwright.figures.charts import lines
from pingwright.figures.style.sheet import Sheet, Size, figure_of, headline
from pingwright.figures.style.ticks import depth_axis, tick_labels, unit_ticks
from pingwright.figures.style.view import View as Window
from pingwright.figures.style.view import faces
from pingwright.palette import Theme
from pingwright.words import UNITS, Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]
View = Literal["side", "ahead"]


def middle_ping(record: Record) -> int:
    """Return the ping at which beams are drawn: nearest to the structures' middle, else the fish's, else half way."""
    x = record.elements[0].x
    outlines = [structure.side[:, 0] for structure in record.truth.structures if len(structure.side)]
    if outlines:
        every = np.concatenate(outlines)
        return int(np.argmin(np.abs(x - (every.min() + every.max()) / 2)))
    if len(record.truth.fish.x):
        return int(np.argmin(np.abs(x - np.median(record.truth.fish.x))))
    return len(x) // 2


def seabed(record: Record, view: View) -> FloatArray:
    """Return the terrain line (point, 2) [m] seen from starboard (side) or from astern (ahead)."""
    return record.seabed_profile if view == "side" else record.seabed_across


def deepest(record: Record) -> float:
    """Return the depth at the cutaway's foot [m]."""
    lines = [line[:, 1].max() for line in (record.seabed_profile, record.seabed_across) if len(line)]
    return 1.06 * max(lines, default=float(record.elements[0].range[-1]))


def beam_edges(element: ElementRecord, ping: int, view: View, floor: float) -> FloatArray:
    """Return the triangle (3, 2) [m] of a beam: transducer, then both -3 dB edges at depth `floor`.

    Tilt of the element and pitch or roll of the boat at that ping turn it (pitch positive: bow up turns the axis
    towards +x; roll positive: starboard down turns it towards -y).
    """
    info = element.info
    along = view == "side"
    width = info.beamwidth_along if along else info.beamwidth_across
    tilt = info.number("tilt_along" if along else "tilt_across", 0.0)
    tilt += float(element.pitch[ping]) if along else -float(element.roll[ping])
    start = float(element.x[ping] if along else element.y[ping])
    top = info.transducer_depth - float(element.heave[ping])
    edges = np.clip(np.array([tilt - width / 2, tilt + width / 2]), -80, 80)
    reach = start + (floor - top) * np.tan(np.radians(edges))
    return np.array([[start, top], [reach[0], floor], [reach[1], floor]])


def spread(record: Record, view: View, ping: int) -> tuple[float, float]:
    """Return the horizontal limits [m] of a view: run and structures (side), beams and structures (ahead)."""
    floor = float(np.median(seabed(record, view)[:, 1])) if len(seabed(record, view)) else deepest(record)
    points = [beam_edges(element, ping, view, floor)[:, 0] for element in record.elements]
    points = [np.clip(p, p[0] - 0.9 * floor, p[0] + 0.9 * floor) for p in points]
    for structure in record.truth.structures:
        points.append((structure.side if view == "side" else structure.ahead)[:, 0])
    for soft in record.truth.soft:
        box = np.asarray(soft.box[0:2] if view == "side" else soft.box[2:4])
        points.append(box[np.isfinite(box)])
    if view == "side":
        points.append(record.elements[0].x[[0, -1]])
    every = np.concatenate(points)
    margin = 0.04 * max(np.ptp(every), 10.0)
    low, high = float(every.min() - margin), float(every.max() + margin)
    lacking = max((0.7 if view == "side" else 0.45) * floor - (high - low), 0.0) / 2  # never too narrow
    return low - lacking, high + lacking


def _soft(ax: "Axes", sheet: Sheet, soft: SoftTruth, view: View, limits: tuple[float, float]) -> None:
    from matplotlib.patches import Ellipse, Rectangle

    low, high = soft.box[0:2] if view == "side" else soft.box[2:4]
    low, high = max(low, limits[0]), min(high, limits[1])
    top, foot = soft.box[4], soft.box[5]
    inks = sheet.inks
    middle, wide, tall = ((low + high) / 2, (top + foot) / 2), high - low, foot - top
    match soft.kind:
        case "school":
            ax.add_patch(Ellipse(middle, wide, tall, fc=inks.school, ec="none", alpha=0.5, gid=soft.kind))
        case "scattering_layer":
            ax.add_patch(Rectangle((low, top), wide, tall, fc=inks.muted, ec="none", alpha=0.2, gid=soft.kind))
        case "target":
            ax.plot([middle[0]], [middle[1]], "+", color=inks.ink, ms=4 * sheet.scale, gid=soft.kind)
        case _:
            assert_never(soft.kind)


def _fish(ax: "Axes", sheet: Sheet, record: Record, view: View) -> None:
    """Draw each fish as a lens, large enough to be visible (so not to scale; the caption says so)."""
    fish = record.truth.fish
    where = fish.x if view == "side" else fish.y
    ax.plot(
        where, fish.depth, linestyle="none", marker="d", markersize=2.6 * sheet.scale,
        color=sheet.inks.ink, markeredgewidth=0, zorder=4, gid="fish",
    )  # fmt: skip


def hull(view: View) -> FloatArray:
    """Return the outline (point, 2) of a plain boat, in units of its length, about its middle, depth positive down."""
    if view == "side":
        return np.array(
            [[-0.5, -0.08], [-0.42, 0.05], [0.38, 0.05], [0.56, -0.12], [0.05, -0.12], [-0.02, -0.24], [-0.3, -0.24],
             [-0.32, -0.1]]
        )  # fmt: skip
    return np.array(
        [[-0.2, -0.12], [-0.15, 0.05], [0.15, 0.05], [0.2, -0.12], [0.1, -0.12], [0.08, -0.24], [-0.08, -0.24],
         [-0.1, -0.12]]
    )  # fmt: skip


def _boat(ax: "Axes", sheet: Sheet, element: ElementRecord, ping: int, view: View, size: float) -> None:
    """Draw the boat at the surface; `size` [m] is its drawn length, not that of any boat."""
    at = float(element.x[ping] if view == "side" else element.y[ping])
    ax.fill(*(hull(view) * size + [at, 0.0]).T, color=sheet.inks.ink, lw=0, zorder=6, gid="boat")


def draw(
    ax: "Axes",
    sheet: Sheet,
    record: Record,
    view: View,
    ping: int | None = None,
    limits: tuple[float, float] | None = None,
) -> Mapping[str, Any]:
    """Draw one view of the cutaway into axes, to scale (equal axes); returns beam artists by element name.

    limits [m]: horizontal ones, else those of `spread`.
    """
    chosen = middle_ping(record) if ping is None else ping
    inks, line, foot = sheet.inks, seabed(record, view), deepest(record)
    limits = limits or spread(record, view, middle_ping(record))
    top = -0.1 * foot
    ax.set_facecolor(inks.paper)
    ax.axhspan(0, foot, color=inks.water, lw=0, zorder=0)
    ax.axhline(0, color=inks.muted, lw=0.6 * sheet.scale, zorder=1)
    beams = {}
    for index, element in enumerate(record.elements):
        triangle = beam_edges(element, min(chosen, element.pings - 1), view, foot)
        look = sheet.series(index)
        ax.fill(*triangle.T, color=look["color"], alpha=0.13, lw=0, zorder=1.5, gid="beam")
        (beams[element.info.name],) = ax.plot(*triangle[[1, 0, 2]].T, **look, lw=1.0 * sheet.scale, zorder=2)
    for soft in record.truth.soft:
        _soft(ax, sheet, soft, view, limits)
    if len(line):
        wide = np.concatenate([[[limits[0], line[0, 1]]], line, [[limits[1], line[-1, 1]]]])
        wide = wide[np.argsort(wide[:, 0], kind="stable")]
        ax.fill_between(wide[:, 0], wide[:, 1], foot, color=inks.ground, lw=0, zorder=3, gid="seabed")
    for structure in record.truth.structures:
        outline = structure.side if view == "side" else structure.ahead
        ax.fill(*outline.T, fc=inks.wood, ec=inks.ink, lw=0.5 * sheet.scale, zorder=3.5, gid="structure")
    _fish(ax, sheet, record, view)
    _boat(ax, sheet, record.elements[0], min(chosen, record.elements[0].pings - 1), view, 0.2 * foot)
    ax.set_xlim(*limits)
    ax.set_ylim(foot, top)
    ax.set_aspect("equal", adjustable="box", anchor="SW")
    return beams


def dress(ax: "Axes", sheet: Sheet, record: Record, view: View, sides: str = "left right") -> None:
    """Put depth and distance scales on a view."""
    foot, top = ax.get_ylim()
    for side in sides.split():
        depth_axis(ax, sheet, (max(top, 0.0), foot), side, "depth", most=6)
    if "left" not in sides:
        ax.set_yticks([])
    low, high = ax.get_xlim()
    across: Units = "m" if sheet.units == "m" else "ft"
    ax.apply_aspect()
    figure = figure_of(ax)
    room = ax.get_position().width * figure.get_size_inches()[0]
    unit_ticks(ax, "x", across, (low, high), most=int(np.clip(room / (0.42 * sheet.scale), 2, 6)))
    if room < 0.85 * sheet.scale and len(ax.get_xticks()) > 2:  # a narrow view: the labels would touch
        ticks = ax.get_xticks()[[0, -1]]
        ax.set_xticks(ticks, labels=tick_labels(ticks / UNITS[across][0]))
    name = "along track" if view == "side" else "across track"
    ax.set_xlabel(f"{name} ({across})")


def cutaway(
    record: Record,
    theme: Theme = "light",
    units: Units = "m",
    size: Size = "two-column",
    ping: int | None = None,
    window: Window | None = None,
) -> "Figure":
    """Return both views, from starboard and from astern, side by side and to one scale; window: what is shown."""
    sheet, window = Sheet(theme, units, size, faces(record.elements)), window or Window()
    with sheet.drawing():
        chosen = middle_ping(record)
        foot, top = deepest(record), -0.1 * deepest(record)
        if window.depth is not None:
            foot, top = max(window.depth), min(window.depth)
        limits: dict[View, tuple[float, float]] = {view: spread(record, view, chosen) for view in ("side", "ahead")}
        limits["side"] = window.along or limits["side"]
        spans = [float(np.ptp(limits[view])) for view in limits]
        k = sheet.scale
        columns, head = lines.room_above(sheet, [e.info.name for e in record.elements])
        across = sheet.width - 1.75 * k
        tall = float(np.clip(across / sum(spans) * (foot - top), 0.8, 5.0 if size != "slide" else 4.9))
        figure = sheet.figure(tall + 1.2 * k + head)
        height = figure.get_size_inches()[1]
        ratio = min(tall / (foot - top), across / sum(spans))
        left = 0.5 * k
        for view, span in zip(limits, spans, strict=True):
            box = (left / sheet.width, 0.72 * k / height, span * ratio / sheet.width, (foot - top) * ratio / height)
            ax = figure.add_axes(box)
            beams = draw(ax, sheet, record, view, ping, limits[view])
            ax.set_ylim(foot, top)
            dress(ax, sheet, record, view, "left" if view == "side" else "right")
            left += span * ratio + 0.3 * k
        headline(figure, sheet, f"{record.title}: beams to scale", 0.2 * k)
        for name, beam in beams.items():
            beam.set_label(name)
        lines.legend_above(figure, sheet, list(beams.values()), columns)
        return sheet.finish(figure, extra="Beams: one-way \u22123 dB. Boat and fish are drawn larger than life.")


def caption(record: Record, units: Units = "m") -> str:
    """Return the caption of the cutaway, from the record's numbers."""
    depth = float(np.median(record.seabed_profile[:, 1])) if len(record.seabed_profile) else float("nan")
    beams = "; ".join(f"{e.info.name} {words.beam(e.info)}" for e in record.elements)
    things = [s.name for s in record.truth.structures] + [s.name for s in record.truth.soft]
    over = f" over {words.listed(things)}" if things else ""
    return (
        f"{record.title}: beams (one-way \u22123 dB at band centre: {beams}) to scale{over}, seabed at"
        f" {words.length(depth, units)}, {words.fish_words(record, units)}. Simulated."
    )


#: The alternative text, of the same arguments.
alt = words.opened("Two cross-sections of the water, seen from starboard and from astern.", caption)
