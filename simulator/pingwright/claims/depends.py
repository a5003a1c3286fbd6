"""What a verdict depends on: the question is answered again with assumptions changed, one at a time."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from pingwright.claims.answers import Answer
from pingwright.measures.asked import Question
from pingwright.measures.base import Counted, Measure
from pingwright.measures.registry import measure
from pingwright.trials.assumptions import CERTAIN, Turned, turned
from pingwright.trials.batch import Settings, batches
from pingwright.trials.placement import BoolArray
from pingwright.trials.scene import Scene, scene

#: Runs of each variant, the same fish, grounds and noise as those of the question itself.
RUNS = 32


def variants(question: Question) -> Iterator[tuple[Turned, Question]]:
    """Yield the question with each assumption changed."""
    chosen = measure(question.measure)
    if not chosen.on_scene:
        return
    for turn in turned(question.scenario, bottom=chosen.on_bottom):
        if chosen.on_fish or not turn.gain:
            species = replace(question.species, gain=question.species.gain + turn.gain)
            yield turn, replace(question, scenario=turn.scenario, species=species)


def depends_on(question: Question, answer_: Answer, settings: Settings) -> tuple[str, ...]:
    """Return which assumptions change a verdict: shifted as in the same few runs, the number passes the bound."""
    chosen = measure(question.measure)
    if answer_.value is None or question.bound is None:
        return ()
    changed: dict[str, None] = {}
    move = _Counts(question, chosen, settings) if isinstance(chosen, Counted) else _Forms(question, chosen)
    for turn, other in variants(question):
        if turn.name not in changed and _passes(question, answer_.value, answer_.value + move.by(turn, other)):
            changed[turn.name] = None
    return tuple(changed)


def _passes(question: Question, value: float, moved: float) -> bool:
    bound = question.bound
    return bound is not None and (value >= bound) != (moved >= bound)


class _Forms:
    """The shift of the closed form, used for limits along an axis: simulating them again would take too long."""

    def __init__(self, question: Question, chosen: Measure) -> None:
        self._asked, self._usual = chosen, chosen.closed_form(question)

    def by(self, turn: Turned, other: Question) -> float:
        """Return the shift of the closed form, 0 if it is not known."""
        moved = self._asked.closed_form(other) - self._usual
        return moved if np.isfinite(moved) else 0.0


class _Counts:
    """The shift of the share of hits in the same few runs."""

    def __init__(self, question: Question, asked: Counted, settings: Settings) -> None:
        self._asked = asked
        self._settings = replace(settings, runs=min(RUNS, settings.runs), kept=None, keep=None, tell=None).sharing()
        self._at = scene(question.scenario, question.keep_structures)
        self._usual, self._scale = self._hits(question, None)

    def _hits(self, question: Question, noise_of: Scene | None) -> tuple[BoolArray, float]:
        bound, at = self._asked, scene(question.scenario, question.keep_structures)
        seed = self._settings.seed
        few = batches(
            at, question.species, lambda number, count: bound.draw(at, question, seed, number, count), self._settings,
            bound.judge(question), over=bound.over_of(question), blanks=0, noise_of=noise_of,
        )  # fmt: skip
        return np.concatenate([more.hit for more in few], axis=1), bound.scale(at, question)

    def by(self, turn: Turned, other: Question) -> float:
        """Return the shift of the number, 0 if it may be due to chance."""
        hit, _ = self._hits(other, self._at if turn.noise_alone else None)
        score = hit.astype(float) - self._usual
        change = score[0] - score[1] if len(score) == 2 else score[0]
        spread = float(np.sqrt(np.sum(change**2)))
        return self._scale * float(change.mean()) if abs(change.sum()) > CERTAIN * spread else 0.0
