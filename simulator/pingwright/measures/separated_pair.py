"""Two fish, one above the other, separated from each other."""

import numpy as np

from pingwright.echograms.record import FloatArray
from pingwright.measure.separated import score_pair
from pingwright.measures.base import Counted
from pingwright.measures.theory import Chances
from pingwright.trials.placement import BoolArray, Species
from pingwright.trials.scene import Scene
from pingwright.trials.sight import Sight

#: From this spacing on [cells], two equal points after a Hann filter show a gap of 2 cells, 3 dB deep: closed form.
PAIR_CELLS = 4.3


class SeparatedPair(Counted):
    """Probability that two fish show as two."""

    name = "separated_pair"
    definition = (
        "Probability that two fish, one above the other, show as two: in a pass at least 3 pings of one row of"
        " detections, over a ping that ping, have a detected peak for each and between them an unbroken gap of at least"
        " 2 resolution cells 3 dB below the weaker one."
    )
    left_out = "the two fish fade independently and the gap between them fills by chance"

    def hit(self, sight: Sight) -> BoolArray:
        """Return which pings show the two fish apart (n)."""
        rows = np.arange(len(sight.stored))
        within = np.stack([sight.within, sight.within], axis=1)
        around = None if sight.around is None else np.swapaxes(sight.around, 0, 1)
        return score_pair(sight.stored, sight.cells, sight.bottom, rows, sight.true.T, within, around=around)

    def chance(self, at: Scene, index: int, species: Species, chances: Chances) -> FloatArray:
        """Return the closed-form probability that a ping shows both apart (..., ping), dimensionless."""
        apart = (species.spacing or 0.0) >= PAIR_CELLS * at.headers[index].info.cell
        # In a pass each posture meets another one: the two fish fade independently.
        other = np.roll(chances.detected, 1, axis=0) if chances.detected.ndim == 2 else chances.detected
        return np.asarray(chances.detected * other * apart)
