"""Separated from the bottom."""

from pingwright.echograms.record import FloatArray
from pingwright.measures.base import Counted
from pingwright.measures.theory import Chances
from pingwright.trials.placement import BoolArray, Species
from pingwright.trials.scene import Scene
from pingwright.trials.sight import Sight


class Separated(Counted):
    """Probability that a fish is shown, separated from the echo of the bottom."""

    name = "separated"
    definition = (
        "Probability that a fish is separated from the bottom: in a pass at least 3 pings of one row of detections,"
        " with at most one ping missed between neighbours, show it with an unbroken gap of at least 2 resolution cells,"
        " 3 dB below its peak and 15 dB below the bottom's level, between it and the bottom's maximum; over a ping:"
        " that ping does. A ping that shows no bottom separates nothing from it."
    )
    left_out = "the bottom's echo varies from ping to ping and has no sharp edge"

    def hit(self, sight: Sight) -> BoolArray:
        """Return which pings separate the fish from the bottom (n)."""
        return sight.verdicts.separated

    def chance(self, at: Scene, index: int, species: Species, chances: Chances) -> FloatArray:
        """Return the closed-form probability that a ping separates it (ping), dimensionless."""
        return chances.separated
