"""Effective width searched in a pass."""

from dataclasses import replace

import numpy as np

from pingwright.echograms.record import FloatArray
from pingwright.measures.asked import Question
from pingwright.measures.base import Counted, nominal_depth, stream_of, usual_axis
from pingwright.measures.theory import Chances
from pingwright.trials import passes, placement
from pingwright.trials.placement import BoolArray, Fish, Species
from pingwright.trials.scene import Scene
from pingwright.trials.sight import Sight


class Swath(Counted):
    """Integral over the lateral offset of the probability to be detected in a pass."""

    name = "swath"
    unit = "m"
    overs = ("pass",)
    definition = (
        "Effective strip width: the integral over the lateral offset of the probability that the fish is detected in a"
        " pass (Buckland et al. 2001)."
    )
    left_out = "far off the axis the pattern is not that of band centre"

    def hit(self, sight: Sight) -> BoolArray:
        """Return which pings detect the fish (n)."""
        return sight.verdicts.detected

    def chance(self, at: Scene, index: int, species: Species, chances: Chances) -> FloatArray:
        """Return the closed-form probability that a ping detects it (ping), dimensionless."""
        return chances.detected

    def draw(self, at: Scene, question: Question, seed: int, number: int, count: int) -> Fish:
        """Return fish at offsets uniform over the width of all main lobes."""
        fish = placement.draw(at, question.species, None, seed, number, count, over="pass")
        return self._across(at, question, fish, stream_of(seed, number).random(count))

    def evened(self, at: Scene, question: Question, fish: Fish) -> Fish:
        """Return fish spread evenly over that width: drawn, 64 of them left a closed form uncertain by a fifth."""
        return self._across(at, question, fish, placement.even_shares(len(fish)))

    def _across(self, at: Scene, question: Question, fish: Fish, share: FloatArray) -> Fish:
        """Return fish at shares of the width of all main lobes, abeam of the boat's track."""
        low, high = passes.edges(at)
        tangent = low + (high - low) * share
        return replace(fish, along=np.zeros(len(fish)), across=tangent * nominal_depth(at, question.species))

    def scale(self, at: Scene, question: Question) -> float:
        """Return the width [m] over which offsets are drawn."""
        low, high = passes.edges(at)
        return (high - low) * nominal_depth(at, question.species)

    def axis(self, at: Scene, question: Question) -> tuple[str, FloatArray]:
        """Return offsets [m] as the axis."""
        return usual_axis(at, replace(question, species=replace(question.species, above_bottom=None, depth=None)))
