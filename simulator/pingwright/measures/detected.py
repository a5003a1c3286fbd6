"""Detected."""

from pingwright.echograms.record import FloatArray
from pingwright.measure.detect import FLOOR
from pingwright.measures.base import Counted
from pingwright.measures.theory import Chances
from pingwright.trials.placement import BoolArray, Species
from pingwright.trials.scene import Scene
from pingwright.trials.sight import Sight


class Detected(Counted):
    """Probability that a fish is shown, before the echo of the bottom."""

    name = "detected"
    definition = (
        "Probability that a fish is detected: in a pass at least 3 pings, with at most one missed between neighbours,"
        " have a peak ahead of the bottom's echo within 3 resolution cells, or the fish's own extent, of its true"
        " range, above a threshold of false alarm 1e-4 a cell over noise and local reverberation and above the"
        f" picture's floor ({FLOOR:.0f} dB re 1 m2); over a ping: that ping has."
    )
    left_out = (
        "the detector pays for estimating the local level, a long fish echoes in parts, and pings close in time fade"
        " together"
    )

    def hit(self, sight: Sight) -> BoolArray:
        """Return which pings detect the fish (n)."""
        return sight.verdicts.detected

    def chance(self, at: Scene, index: int, species: Species, chances: Chances) -> FloatArray:
        """Return the closed-form probability that a ping detects it (ping), dimensionless."""
        return chances.detected
