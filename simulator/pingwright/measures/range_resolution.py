"""Range resolution, read from the echo of a point."""

import numpy as np

from pingwright.echograms.record import FloatArray
from pingwright.measure.cells import grid
from pingwright.measure.filters import point_width
from pingwright.measure.widths import echo_width
from pingwright.measures.asked import Question
from pingwright.measures.readings import Reading, distance_of, record_of_point
from pingwright.trials.batch import Settings
from pingwright.trials.scene import Scene


class RangeResolution(Reading):
    """The width of a point's echo in range."""

    name = "range_resolution"
    unit = "m"
    definition = (
        "Full width of the echo of a single point at half its peak power (-3 dB), in metres of range; c/2B is the cell"
        " for comparison."
    )
    left_out = "noise and the band's uneven source level widen or narrow the echo"

    def read(self, question: Question, at: Scene, settings: Settings, count: int) -> FloatArray:
        """Return resolutions [m] (count)."""
        deep, rng = distance_of(at, count, settings.seed)
        slant = deep * (1 + 0.01 * rng.random(count))
        record, top = record_of_point(at, slant, np.zeros(count), "across", settings)
        return echo_width(np.asarray(record.echo_level), grid(record), np.arange(count), top)

    def known(self, question: Question, at: Scene, index: int) -> float:
        """Return the width that pulse and filter give [m]."""
        return point_width(at.headers[index].info)
