"""Detection range: depth to which one ping in two detects the fish."""

from dataclasses import replace
from functools import lru_cache

import numpy as np

from pingwright.echograms.record import FloatArray
from pingwright.inputs.scenario import Scenario
from pingwright.measures import ahead, theory
from pingwright.measures.asked import Question
from pingwright.measures.base import here
from pingwright.measures.finding import Found, hits_of
from pingwright.trials import passes, placement
from pingwright.trials.batch import Judge, Settings, Trials
from pingwright.trials.ground import Bank
from pingwright.trials.placement import BoolArray, Fish
from pingwright.trials.scene import Scene, deepened, scene, single
from pingwright.trials.sight import Sight

#: Depths [m] at which the closed form is computed; how often it is repeated with the pulse for its own depth.
DEPTHS, AGAIN = np.geomspace(1.0, 2300.0, 600), 3


class Reach(Found):
    """Depth below the transducer at which a ping detects the fish with probability 0.5, without a bottom."""

    name = "reach"
    overs = ("ping",)
    has_noise_band = True
    on_bottom = False
    definition = (
        "Depth below the transducer at which one ping, with the pulse of that depth, detects the fish with probability"
        " 0.5, no seabed."
    )
    left_out = "the detector pays for estimating the local level"
    ladder = (0.4, 0.55, 0.7, 0.8, 0.9, 1.0, 1.15, 1.4)
    usual, bounds, axis_name = 300.0, (0.5, 2300.0), "depth"

    def hit(self, sight: Sight) -> BoolArray:
        """Return which pings detect the fish (n)."""
        return sight.verdicts.detected

    def trials(self, question: Question, index: int, point: float, settings: Settings, number: int, count: int) -> int:
        """Return how many of `count` trials with fish at a depth below the transducer [m] detect them."""
        at = single(at_depth(question.scenario, point), index)
        depth = point + at.face
        species = replace(question.species, above_bottom=None, depth=(depth, depth))
        fish = placement.draw(at, species, here(question), settings.seed, number, count, over="ping")
        trials = Trials(
            at, species, fish, settings.seed, number, Judge(self.hit), Bank(settings.threads), over="ping", seabed=False
        )
        return hits_of(trials, count)

    def chances(self, question: Question, index: int, points: FloatArray) -> FloatArray:
        """Return the closed-form probability (point), dimensionless, at depths below the transducer [m]."""
        result = []
        for point in points:
            at = at_depth(question.scenario, float(point))
            result.append(float(chance_at(at, question, index, np.array([point]))[0]))
        return np.array(result)

    def closed(self, question: Question, index: int) -> float:
        """Return the closed-form depth of one element [m], with the pulse of that depth; nan where there is none."""
        depth = self.usual
        for _ in range(AGAIN):
            at = at_depth(question.scenario, depth)
            depth = self.crossing(DEPTHS, chance_at(at, question, index, DEPTHS))
            if not np.isfinite(depth):
                return float("nan")
        return depth


def chance_at(at: Scene, question: Question, index: int, depth: FloatArray) -> FloatArray:
    """Return the closed-form probability that a ping detects the fish at depths below the transducer [m] (n)."""
    place, count, kind = here(question), len(depth), question.species
    same, none = np.ones(count), np.full(count, np.nan)
    fish = Fish(
        place.along * same, place.across * same, none, depth + at.face, kind.length * same, 0 * same, 0 * same, 0 * same
    )
    species = replace(kind, above_bottom=None, depth=(0.0, 0.0))
    pings = passes.lay_out(at, species, fish, 0, 0, "ping", alone=True)
    # The bottom of a scene does not hide fish in open water.
    pings = replace(pings, position=np.stack([*pings.position[:2], depth + at.face]))
    return theory.ping_chances(at, index, species, pings, ahead.NO_BOTTOM).detected


@lru_cache(maxsize=64)
def _scene(text: str, depth: float, holder: "_Held") -> Scene:
    return scene(deepened(holder.scenario, depth + float(holder.scenario.boat.transducer_depth)))


class _Held:
    """A scenario that is the same for a cache where its text is."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario

    def __hash__(self) -> int:
        return 0

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Held) and other.scenario == self.scenario


def at_depth(scenario: Scenario, depth: float) -> Scene:
    """Return the scene of a scenario whose fish are at a depth below the transducer [m]."""
    return _scene(scenario.text, depth, _Held(scenario))
