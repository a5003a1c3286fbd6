"""Source level of each element over its band: the level on the axis, which is lower for a wide beam."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright import words
from pingwright.echograms.record import ElementInfo, Record
from pingwright.figures.charts import lines
from pingwright.figures.style.sheet import Sheet, Size
from pingwright.figures.style.view import faces
from pingwright.palette import Theme

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]


def points(info: ElementInfo) -> tuple[FloatArray, FloatArray]:
    """Return frequency [Hz] and source level [dB re 1 uPa m] (3 or 1): band ends and centre, as the recording has them.

    A recording with only the level at the centre gives one point.
    """
    centre = (info.band_low + info.band_high) / 2
    ends = [info.number(f"source_level_{end}", np.nan) for end in ("low", "high")]
    if not np.isfinite(ends).all():
        return np.array([centre]), np.array([info.source_level])
    frequency, level = (info.band_low, centre, info.band_high), (ends[0], info.source_level, ends[1])
    return np.array(frequency), np.array(level, dtype=np.float64)


def source(record: Record, theme: Theme = "light", size: Size = "two-column") -> "Figure":
    """Return source level against frequency, one line for each element through its band's ends and centre."""
    sheet = Sheet(theme, "m", size, faces(record.elements))
    with sheet.drawing():
        figure, axes = sheet.simple(2.9 * sheet.scale, 1, "Source level over the band")
        ax = axes[0]
        for index, element in enumerate(record.elements):
            frequency, level = points(element.info)
            look = sheet.series(index) | {"marker": "o", "markersize": 2.5 * sheet.scale}
            ax.plot(frequency / 1e3, level, label=lines.as_label(element.info.name), **look, gid=f"source {index}")
        lines.dress(ax, "frequency (kHz)", "source level (dB re 1 \u00b5Pa m)")
        lines.legend(ax, sheet)
        return sheet.finish(figure, extra="On the axis, at full electrical power.", formulas=True)


def caption(record: Record) -> str:
    """Return the caption of the source levels."""
    texts = []
    for element in record.elements:
        frequency, level = points(element.info)
        span = lines.ends(words.whole(level[0]), words.whole(level[-1]), " dB")
        texts.append(f"{element.info.name} {span} over {words.band(element.info)}")
    return f"Source level on the axis, dB re 1 \u00b5Pa m: {'; '.join(texts)}. Computed from formulas."


#: The alternative text, of the same arguments.
alt = words.opened("Source level against frequency, a line for each element.", caption)
