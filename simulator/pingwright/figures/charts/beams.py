"""Beam patterns: one-way level against angle, along and across the track, at band centre and at the band's ends."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright import words
from pingwright.echograms.record import BeamPattern, ElementRecord, Record
from pingwright.figures.charts import lines
from pingwright.figures.style.sheet import Sheet, Size
from pingwright.figures.style.view import faces
from pingwright.palette import Theme

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]
FLOOR = -40.0


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


def beams(record: Record, theme: Theme = "light", size: Size = "two-column") -> "Figure":
    """Return the beam patterns of all elements: left along the track, right across it, to -40 dB."""
    sheet = Sheet(theme, "m", size, faces(record.elements))
    with sheet.drawing():
        k, stacked = sheet.scale, size == "one-column"
        labels = [f"{lines.as_label(e.info.name)}, {words.beam(e.info)}" for e in record.elements]
        columns, head = lines.room_above(sheet, labels)
        figure, axes = sheet.simple(2.9 * k, 2, "Beam patterns, one-way", 0.08 * k if stacked else head, sharey=True)
        if stacked:
            lines.lift(figure, sheet, head)
        reach = widest(record.elements)
        for side, ax in zip(("along", "across"), axes, strict=True):
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
                    beam.angle, np.maximum(low, FLOOR - 20), np.maximum(high, FLOOR - 20), color=look["color"],
                    alpha=0.15, lw=0,
                )  # fmt: skip
            ax.axhline(-3, color=sheet.inks.muted, lw=0.6 * sheet.scale, ls=(0, (1, 2)))
            ax.set_xlim(-reach, reach)
            ax.set_ylim(FLOOR, 1.5)
            lines.dress(ax, f"angle {side} track (deg)", "one-way level (dB)" if side == "along" else "")
        handles, _ = axes[0].get_legend_handles_labels()
        lines.legend_above(figure, sheet, handles, columns)
        return sheet.finish(figure, extra="Shaded: over the band. Dotted: \u22123 dB, to which the widths are given.")


def caption(record: Record) -> str:
    """Return the caption of the beam patterns."""
    said = []
    for element in record.elements:
        i = element.info
        low, high = words.digits(i.beamwidth_along_low), words.digits(i.beamwidth_along_high)
        said.append(f"{i.name} {words.beam(i)} at band centre ({low}\u00b0 to {high}\u00b0 over {words.band(i)})")
    return f"One-way beam patterns along and across the track; \u22123 dB widths: {'; '.join(said)}. Simulated."


#: The alternative text, of the same arguments.
alt = words.opened("Level against angle, one curve an element.", caption)
