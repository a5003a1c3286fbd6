"""The depth to which an element holds the bottom."""

from typing import Literal

import numpy as np

from pingwright.echograms.record import FloatArray
from pingwright.measure import held
from pingwright.measures.asked import Question
from pingwright.measures.finding import Found
from pingwright.trials import placement
from pingwright.trials.batch import Judge, Settings, Trials
from pingwright.trials.ground import Bank
from pingwright.trials.placement import BoolArray, Place, Species
from pingwright.trials.scene import Scene, scene, single
from pingwright.trials.sight import Sight

#: A pick is right within this share of depth, or this number of metres.
SHARE, METRES = 0.02, 0.5
#: No fish: the trials are judged without one.
NOBODY = Species("closed", 0.1, 0.0, (1.0, 1.0), None, (0.0, 1.0), "love-1971")


class BottomReach(Found):
    """Depth below the transducer to which the bottom is picked right in 9 of 10 pings."""

    name = "bottom_reach"
    overs = ("ping",)
    has_noise_band = True
    on_fish = False
    definition = (
        "Depth below the transducer to which the bottom is picked within 2 % of depth or 0.5 m in at least 9 of 10"
        " pings, with the pulse of that depth, on the sediment named."
    )
    left_out = "the slope of the bottom, the tilt of the element, and what a pick needs besides its level"
    ladder = (0.5, 0.7, 0.8, 0.9, 1.0, 1.1, 1.25, 1.5)
    usual, level, bounds, axis_name = 300.0, 0.9, (0.5, 2300.0), "depth of the bottom"

    def hit(self, sight: Sight) -> BoolArray:
        """Return which pings pick the bottom right (n)."""
        wrong = np.abs(sight.bottom.pick - sight.below)
        return np.asarray(wrong <= np.maximum(SHARE * sight.below, METRES))

    def trials(self, question: Question, index: int, point: float, settings: Settings, number: int, count: int) -> int:
        """Return how many of `count` trials over a bottom at a depth below the transducer [m] pick it right."""
        at = single(over_bottom(question, point), index)
        fish = placement.draw(at, NOBODY, Place(0.0, 0.0), settings.seed, number, count, over="ping")
        trials = Trials(at, NOBODY, fish, settings.seed, number, Judge(self.hit), Bank(settings.threads), over="ping")
        return int(trials.look(np.arange(0), np.arange(count)).blank[0].sum())

    def chances(self, question: Question, index: int, points: FloatArray) -> FloatArray:
        """Return the closed-form probability (point), dimensionless, that a ping holds a bottom at such depths [m]."""
        at, (sediment, law) = scene(question.scenario), _ground(question)
        return np.array([held.chance(at.headers[index], sediment, law, float(point)) for point in points])

    def closed(self, question: Question, index: int) -> float:
        """Return the closed-form depth of one element [m], with the pulse of that depth; nan where there is none."""
        depth = held.bottom_reach(scene(question.scenario).headers[index], *_ground(question))[0]
        return depth if depth > 0.0 else float("nan")


def _ground(question: Question) -> tuple[str, Literal["kirchhoff", "small-slope"]]:
    """Return the topmost sediment of a question's scene, and the law of its rough bottom."""
    seabed = question.scenario.seabed
    return str(seabed.layer[0].sediment), seabed.law


def over_bottom(question: Question, depth: float) -> Scene:
    """Return the scene of a question with its bottom at a depth below the transducer [m]."""
    scenario = question.scenario
    deep = depth + float(scenario.boat.transducer_depth)
    seabed = scenario.seabed.model_copy(update={"depth": deep, "grid": None})
    window = scenario.window.model_copy(update={"depth": (0.0, 1.1 * deep)})
    return scene(scenario.model_copy(update={"seabed": seabed, "window": window}))
