"""What a verdict depends on: asked again with the assumptions nobody can check turned one at a time."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from pingwright.claims.answers import Answer
from pingwright.inputs.scenario import Scenario
from pingwright.measures.asked import Question
from pingwright.measures.base import Counted, Measure
from pingwright.measures.registry import measure
from pingwright.trials.batch import Settings, batches
from pingwright.trials.placement import BoolArray
from pingwright.trials.scene import Scene, scene

#: Runs of each variant, the same fish, grounds and noise as those of the question itself.
RUNS = 32
#: Own noise and fish are turned by so much [dB].
NOISE, STRENGTH = 10.0, 3.0
#: A change counts where it is beyond so many standard deviations of its own chance.
CERTAIN = 2.0


def variants(question: Question) -> Iterator[tuple[str, Question]]:
    """Yield the question with each assumption turned, by the assumption's name."""
    scenario = question.scenario
    unlike = [spec.model_copy(update={"filter": _other_filter(spec.filter)}) for spec in scenario.element]
    yield "pulse", replace(question, scenario=scenario.model_copy(update={"element": tuple(unlike)}))
    level = _own_noise(scenario)
    if level is not None:
        for by in (-NOISE, NOISE):
            noise = scenario.noise.model_copy(update={"own": level + by})
            yield "own noise", replace(question, scenario=scenario.model_copy(update={"noise": noise}))
    if question.measure != "bottom_reach":
        for by in (-STRENGTH, STRENGTH):
            yield "fish strength", replace(question, species=replace(question.species, gain=by))
    if measure(question.measure).name in ("reach", "smallest_fish"):
        return
    seabed = scenario.seabed
    if seabed.relief is not None or seabed.roughness != "none":
        smooth = seabed.model_copy(update={"relief": None, "roughness": "none"})
        yield "roughness", replace(question, scenario=scenario.model_copy(update={"seabed": smooth}))
    law = "small-slope" if seabed.law == "kirchhoff" else "kirchhoff"
    other = seabed.model_copy(update={"law": law})
    yield "bottom law", replace(question, scenario=scenario.model_copy(update={"seabed": other}))


def _other_filter(name: str) -> str:
    return "equalised" if name == "matched" else "matched"


def _own_noise(scenario: Scenario) -> float | None:
    """Return the boat's own noise around the hull [dB re 1 uPa2/Hz at 50 kHz], None where it has none."""
    from pingwright.acoustics.noise import own_level

    return own_level(scenario.noise.own, float(scenario.boat.speed))


def depends_on(question: Question, found: Answer, settings: Settings) -> tuple[str, ...]:
    """Return which assumptions turn a verdict: the number, moved as it moves in the same few runs, passes the bound."""
    asked = measure(question.measure)
    if found.value is None or question.bound is None or asked.name in ("beam_width", "range_resolution"):
        return ()
    turned: dict[str, None] = {}
    move = _Counts(question, settings) if isinstance(asked, Counted) else _Forms(question, asked)
    for name, other in variants(question):
        if name not in turned and _passes(question, found.value, found.value + move.by(name, other)):
            turned[name] = None
    return tuple(turned)


def _passes(question: Question, value: float, moved: float) -> bool:
    bound = question.bound
    return bound is not None and (value >= bound) != (moved >= bound)


class _Forms:
    """How the closed form moves: for limits along an axis, whose simulation would take as long again."""

    def __init__(self, question: Question, asked: Measure) -> None:
        self._asked, self._usual = asked, asked.closed_form(question)

    def by(self, name: str, other: Question) -> float:
        """Return by how much the closed form moves, 0 where it is not known."""
        moved = self._asked.closed_form(other) - self._usual
        return moved if np.isfinite(moved) else 0.0


class _Counts:
    """How the share of hits moves in the same few runs."""

    def __init__(self, question: Question, settings: Settings) -> None:
        self._settings = replace(settings, runs=min(RUNS, settings.runs), kept=None, keep=None, tell=None).sharing()
        self._at = scene(question.scenario, question.keep_structures)
        self._usual, self._scale = self._hits(question, None)

    def _hits(self, question: Question, noise_of: Scene | None) -> tuple[BoolArray, float]:
        asked = measure(question.measure)
        if not isinstance(asked, Counted):
            raise TypeError(question.measure)
        at = scene(question.scenario, question.keep_structures)
        seed = self._settings.seed
        few = batches(
            at, question.species, lambda number, count: asked.draw(at, question, seed, number, count), self._settings,
            asked, over=asked.over_of(question), blanks=0, noise_of=noise_of,
        )  # fmt: skip
        return np.concatenate([more.hit for more in few], axis=1), asked.scale(at, question)

    def by(self, name: str, other: Question) -> float:
        """Return by how much the number moves, 0 where chance alone might move it so."""
        hit, _ = self._hits(other, self._at if name == "own noise" else None)
        score = hit.astype(float) - self._usual
        change = score[0] - score[1] if len(score) == 2 else score[0]
        spread = float(np.sqrt(np.sum(change**2)))
        return self._scale * float(change.mean()) if abs(change.sum()) > CERTAIN * spread else 0.0
