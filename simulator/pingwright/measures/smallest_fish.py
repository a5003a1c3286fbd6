"""The smallest fish that is detected with probability 0.5."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from pingwright.echograms.record import FloatArray
from pingwright.inputs.claims import Over
from pingwright.measure.rules import SEEN
from pingwright.measures import ahead, theory
from pingwright.measures.asked import Question
from pingwright.measures.base import THEORY_SEED, here, nominal_depth
from pingwright.measures.finding import Found, hits_of
from pingwright.trials import passes, placement
from pingwright.trials.batch import Judge, Settings, Trials
from pingwright.trials.ground import Bank
from pingwright.trials.placement import BoolArray, Place, Species
from pingwright.trials.scene import Scene, scene, single
from pingwright.trials.sight import Sight

#: Lengths [m] between which the closed form is searched, and the number of bisections; the last step, of a ninth of the
#: length, is a straight line between its ends.
SHORTEST, LONGEST, HALVINGS = 0.005, 4.0, 6


class SmallestFish(Found):
    """Length detected with probability 0.5 at the stated depth, against noise only."""

    name = "smallest_fish"
    on_bottom = False
    definition = (
        "Length of fish detected with probability 0.5 in a pass, or in a ping, at the stated depth and offset, bottom"
        " left out; below one wavelength it is outside the model of fish strength."
    )
    left_out = "the detector pays for estimating the local level"
    ladder = (0.35, 0.5, 0.7, 0.85, 1.0, 1.25, 1.6, 2.2)
    usual, rising, bounds, axis_name = 0.1, True, (0.01, 4.0), "length of the fish"

    def hit(self, sight: Sight) -> BoolArray:
        """Return which pings detect the fish (n)."""
        return sight.verdicts.detected

    def cautions(self, question: Question, value: float) -> tuple[str, ...]:
        """Return a sentence about fish shorter than a wavelength: models of target strength do not hold for them."""
        wavelength = 1500.0 / (0.5 * sum(question.scenario.element[0].band))
        if question.is_difference or value >= wavelength:
            return ()
        return (
            f"This is shorter than a wavelength ({wavelength * 1000:.0f} mm): outside the models of target strength.",
        )

    def trials(self, question: Question, index: int, point: float, settings: Settings, number: int, count: int) -> int:
        """Return how many of `count` trials with fish of a length [m] detect them."""
        at, over = single(scene(question.scenario, question.keep_structures), index), self.over_of(question)
        species = replace(question.species, length=point, length_sd=0.0)
        species = species if species.above_bottom or species.depth else replace(species, depth=(at.bottom, at.bottom))
        fish = placement.draw(at, species, here(question), settings.seed, number, count, over=over)
        trials = Trials(
            at, species, fish, settings.seed, number, Judge(self.hit), Bank(settings.threads), over=over, seabed=False
        )
        return hits_of(trials, count)

    def chances(self, question: Question, index: int, points: FloatArray) -> FloatArray:
        """Return the closed-form probability (point), dimensionless, of lengths [m]."""
        at = scene(question.scenario, question.keep_structures)
        chance = self._chance(at, question.species, here(question), index, self.over_of(question))
        return np.array([chance(float(length)) for length in points])

    def _chance(self, at: Scene, species: Species, place: Place, index: int, over: Over) -> Callable[[float], float]:
        """Return the closed-form probability, dimensionless, as a function of the length [m], in a scene."""
        at = single(at, index)
        deep = nominal_depth(at, species) + at.face
        species = replace(species, length=1.0, length_sd=0.0, above_bottom=None, depth=(deep, deep), beside=None)
        fish = placement.draw(at, species, place, THEORY_SEED, 0, 1, over=over)
        pings = passes.lay_out(at, species, fish, THEORY_SEED, 0, over, alone=True)

        def chance(length: float) -> float:
            sized = replace(pings, fish=replace(fish, length=np.full(len(fish), length)))
            result = theory.ping_chances(at, 0, species, sized, ahead.NO_BOTTOM, over).detected
            return float(theory.of_trials(sized, result, result, over, SEEN).mean())

        return chance

    def closed(self, question: Question, index: int) -> float:
        """Return the closed-form length of one element [m], nan where there is none."""
        at = scene(question.scenario, question.keep_structures)
        return self.closed_in(at, question.species, here(question), index, self.over_of(question))

    def closed_in(self, at: Scene, species: Species, place: Place, index: int, over: Over) -> float:
        """Return the closed-form length [m] of one element in a scene: the shortest if all are seen, nan if none is."""
        chance = self._chance(at, species, place, index, over)
        low, high = ((end, chance(end)) for end in (SHORTEST, LONGEST))
        if low[1] >= self.level or high[1] < self.level:
            return SHORTEST if low[1] >= self.level else float("nan")
        for _ in range(HALVINGS):
            length = float(np.sqrt(low[0] * high[0]))
            middle = length, chance(length)
            low, high = (low, middle) if middle[1] >= self.level else (middle, high)
        return float(np.interp(self.level, (low[1], high[1]), (low[0], high[0])))
