"""Beam width, read from a point that crosses the beam."""

import numpy as np

from pingwright.echograms.record import FloatArray
from pingwright.measure.detect import parabola
from pingwright.measure.widths import beam_width
from pingwright.measures.asked import Question
from pingwright.measures.readings import Reading, distance_of, record_of_point
from pingwright.trials.batch import Settings
from pingwright.trials.scene import Scene

#: Number of directions of one crossing of the beam, and its length in beam widths.
DIRECTIONS, SPAN = 81, 1.7


class BeamWidth(Reading):
    """The one-way -3 dB width, read from echoes."""

    name = "beam_width"
    unit = "deg"
    definition = (
        "Full angle between the two directions in which the echo of a point crossing the beam is 6 dB below its"
        " maximum,"
        " the one-way -3 dB width."
    )
    left_out = "it is for band centre, while a chirp reads the mean over its band"

    def read(self, question: Question, at: Scene, settings: Settings, count: int) -> FloatArray:
        """Return widths [deg] (count)."""
        deep, rng = distance_of(at, count, settings.seed)
        step = SPAN * self.known(question, at, 0) / (DIRECTIONS - 1)
        ladder = (np.arange(DIRECTIONS) - (DIRECTIONS - 1) / 2) * step
        angle = np.clip((ladder + step * rng.random((count, 1))).ravel(), -85.0, 85.0)
        record, top = record_of_point(at, np.full(len(angle), deep), angle, question.plane, settings)
        stored = np.asarray(record.echo_level)
        level = parabola(stored, np.arange(len(stored)), top)[1]
        pairs = zip(angle.reshape(count, -1), level.reshape(count, -1), strict=True)
        return np.array([beam_width(a, s, 6.0206) for a, s in pairs])

    def known(self, question: Question, at: Scene, index: int) -> float:
        """Return the width at band centre [deg]."""
        info = at.headers[index].info
        return info.beamwidth_across if question.plane == "across" else info.beamwidth_along
