"""Beams: under a boat over the scene's ground, to scale, and as one-way level against angle."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright import words
from pingwright.acoustics import deadzone
from pingwright.echograms.record import BeamPattern, ElementRecord, Record
from pingwright.figures import cutaway
from pingwright.figures.charts import lines
from pingwright.figures.style.sheet import Sheet, Size, figure_of, headline
from pingwright.figures.style.ticks import nice_ticks, tick_labels
from pingwright.figures.style.view import View, faces, pings_within
from pingwright.palette import Theme
from pingwright.words import Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]
FLOOR = -40.0
VIEWS: tuple[cutaway.View, ...] = ("side", "ahead")


def at_frequency(beam: BeamPattern, level: FloatArray, frequency: float) -> FloatArray:
    """Return one-way level [dB] (angle) at a frequency [Hz], linear in dB between the pattern's rows."""
    f = np.clip(frequency, beam.frequency[0], beam.frequency[-1])
    above = int(np.clip(np.searchsorted(beam.frequency, f), 1, max(len(beam.frequency) - 1, 1)))
    if len(beam.frequency) == 1:
        return np.asarray(level[0])
    low, high = beam.frequency[above - 1], beam.frequency[above]
    part = (f - low) / (high - low)
    return np.asarray(level[above - 1] * (1 - part) + level[above] * part)


def widest(elements: tuple[ElementRecord, ...]) -> float:
    """Return the angle [deg] up to which patterns are drawn."""
    width = max(max(e.info.beamwidth_along_low, e.info.beamwidth_across_low) for e in elements)
    return float(np.clip(2.2 * width, 20.0, 90.0))


def beams(
    record: Record,
    theme: Theme = "light",
    units: Units = "m",
    size: Size = "two-column",
    view: View | None = None,
) -> "Figure":
    """Return the beams under the boat over the scene's ground, to scale, and beneath them level against angle.

    Above: seen from starboard and from astern, one-way -3 dB at band centre; beneath: to -40 dB, along and across.
    view: depths that are shown; the boat is in the middle of its part of the track.
    """
    sheet, shown = Sheet(theme, units, size, faces(record.elements)), view or View()
    bottom, top = cutaway.deepest(record), -0.1 * cutaway.deepest(record)
    if shown.depth is not None:
        bottom, top = max(shown.depth), min(shown.depth)
    ping = _ping(record, shown)
    with sheet.drawing():
        k = sheet.scale
        labels = [_label(e, units) for e in record.elements]
        columns, head = lines.room_above(sheet, labels)
        left, gap, right = 0.55 * k, 0.42 * k, (0.5 if units == "m" else 0.15) * k
        each = (sheet.width - left - gap - right) / 2
        foot, between, curves = (0.86 if size == "one-column" else 0.7) * k, 0.62 * k, 1.35 * k
        tall, half = bottom - top, _half(record)
        water = min(each * tall / (2 * half), (2.9 if size != "one-column" else 2.2) * k)
        figure = sheet.figure(water + curves + foot + between + 0.42 * k + head)
        width, height = figure.get_size_inches()
        if size == "slide":
            curves, between = 0.8 * k, 0.5 * k
            water = min(water, height - curves - foot - between - 0.42 * k - head)
        half = max(half, each * tall / water / 2)
        places = [(left + i * (each + gap)) / width for i in range(2)]
        for place, side in zip(places, VIEWS, strict=True):
            ax = figure.add_axes((place, (foot + curves + between) / height, each / width, water / height))
            middle = cutaway.beam_edges(record.elements[0], ping, side, 1.0)[0, 0]
            cutaway.draw(ax, sheet, record, side, ping, (middle - half, middle + half))
            ax.set_ylim(bottom, top)
            cutaway.dress(ax, sheet, record, side, "left" if side == "side" else "right")
        shapes = [figure.add_axes((place, foot / height, each / width, curves / height)) for place in places]
        for plane, ax in zip(("along", "across"), shapes, strict=True):
            _pattern(ax, sheet, record, plane, labels)
        headline(figure, sheet, _headline(record, units), 0.2 * k)
        lines.legend_above(figure, sheet, shapes[0].get_legend_handles_labels()[0], columns)
        note = "Above: beams to scale, one-way \u22123 dB; boat and fish larger than life."
        return sheet.finish(figure, extra=f"{note} Beneath: one-way level; shaded: over the band.", formulas=True)


def _ping(record: Record, view: View) -> int:
    """Return the ping under which beams are drawn: the cutaway's, or that in the middle of the part shown."""
    if view.along is None:
        return cutaway.middle_ping(record)
    part = pings_within(record.elements[0], view.along)
    return int(part.start + part.stop) // 2


def _half(record: Record) -> float:
    """Return half the width [m] that holds every beam, in either view; at most what is four times as deep."""
    ping, deep = cutaway.middle_ping(record), cutaway.deepest(record)
    edges = [cutaway.beam_edges(e, min(ping, e.pings - 1), view, deep) for e in record.elements for view in VIEWS]
    return float(
        min(1.08 * max(np.ptp(edge[:, 0]) / 2 + abs(edge[1:, 0].mean() - edge[0, 0]) for edge in edges), 2 * deep)
    )


def _depth(element: ElementRecord) -> float:
    """Return the median depth of the bottom below the transducer [m]."""
    return float(np.median(element.bottom_depth)) - element.info.transducer_depth


def _wide(element: ElementRecord, units: Units) -> str:
    """Return how wide the beam is on the bottom, along x across where they differ."""
    near: Units = "ft" if units == "fathoms" else units
    info = element.info
    along, across = (
        words.length(float(deadzone.footprint(_depth(element), width)), near)
        for width in (info.beamwidth_along, info.beamwidth_across)
    )
    return along if along == across else f"{along} \u00d7 {across}"


def _label(element: ElementRecord, units: Units) -> str:
    return f"{lines.as_label(element.info.name)}, {words.beam(element.info)}: {_wide(element, units)} wide"


def _headline(record: Record, units: Units) -> str:
    depth = words.both(_depth(record.elements[0]), units)
    first = record.elements[0]
    if len(record.elements) == 1:
        return f"{first.info.name} looks at {_wide(first, units)} of bottom, {depth} down"
    areas = [e.info.beamwidth_along * e.info.beamwidth_across for e in record.elements]
    least, most = (record.elements[int(at(areas))] for at in (np.argmin, np.argmax))
    narrow, broad = (_wide(e, units) for e in (least, most))
    if narrow == broad:
        return f"All beams look at {narrow} of bottom, {depth} down"
    return f"{depth} down, {least.info.name} looks at {narrow} of bottom, {most.info.name} at {broad}"


def _pattern(ax: "Axes", sheet: Sheet, record: Record, side: str, labels: Sequence[str]) -> None:
    """Draw one-way level against angle, along or across the track."""
    reach = widest(record.elements)
    for index, element in enumerate(record.elements):
        info, beam = element.info, element.beam
        level: FloatArray = getattr(beam, side)
        look = sheet.series(index)
        centre = (info.band_low + info.band_high) / 2
        curve = np.maximum(at_frequency(beam, level, centre), FLOOR - 20)
        ax.plot(beam.angle, curve, label=labels[index], **look, gid=f"pattern {index}")
        ends = [at_frequency(beam, level, f) for f in (info.band_low, info.band_high)]
        low, high = np.minimum(*ends), np.maximum(*ends)
        ax.fill_between(
            beam.angle, np.maximum(low, FLOOR - 20), np.maximum(high, FLOOR - 20), color=look["color"], alpha=0.15, lw=0
        )
    ax.axhline(-3, color=sheet.inks.muted, lw=0.6 * sheet.scale, ls=(0, (1, 2)))
    ax.set_xlim(-reach, reach)
    inches = ax.get_position().width * figure_of(ax).get_size_inches()[0]
    ticks = nice_ticks(-reach, reach, min(7, max(3, round(inches / (0.45 * sheet.scale)))))
    ax.set_xticks(ticks, labels=tick_labels(ticks))
    ax.set_ylim(FLOOR, 1.5)
    lines.dress(ax, f"angle {side} track (deg)", "level (dB)" if side == "along" else "")


def caption(record: Record, units: Units = "m") -> str:
    """Return the caption of the beams."""
    of_each = []
    for element in record.elements:
        i = element.info
        low, high = words.digits(i.beamwidth_along_low), words.digits(i.beamwidth_along_high)
        of_each.append(
            f"{i.name} {words.beam(i)} at band centre ({lines.ends(low, high, lines.DEGREES)} over {words.band(i)}),"
            f" {_wide(element, units)} on the bottom"
        )
    depth = words.length(_depth(record.elements[0]), units)
    return (
        f"{record.title}: beams under the boat, to scale, over a bottom {depth} below the transducer, and their one-way"
        f" level against angle, along and across the track; \u22123 dB widths: {'; '.join(of_each)}."
        " Computed from formulas."
    )


#: The alternative text, of the same arguments.
alt = words.opened("Two cross-sections of the water with the beams in it; beneath, level against angle.", caption)
