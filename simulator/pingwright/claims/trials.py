"""Hits of a claim's runs, round by round, until its verdict is certain or its runs are used up."""

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from pingwright.claims import bench, lots
from pingwright.claims.bench import Round
from pingwright.claims.lots import Stage
from pingwright.claims.question import Question
from pingwright.measure import intervals
from pingwright.measure.intervals import Outcome

#: Runs that have a twin without the fish.
TWINS = 256

Keep = Callable[[Mapping[str, Any]], None]
Tell = Callable[[int, int], None]


@dataclass(frozen=True)
class Course:
    """How the trials of a claim go: at most so many runs of each, confidence of the intervals, seed, threads.

    threads: None is one a core. kept: counts to go on with; keep: called with them after every round; tell: with what
    is done and what there is. The result depends neither on where the work was stopped nor on threads.
    """

    runs: int
    confidence: float
    seed: int
    threads: int | None = None
    kept: Mapping[str, Any] | None = None
    keep: Keep | None = None
    tell: Tell | None = None


@dataclass(frozen=True)
class Tally:
    """Counts so far: done pings, runs, hits of each element; gains, losses: only the first, only the second hit.

    false: hits without the fish, of each element, in so many twins.
    """

    done: int = 0
    runs: int = 0
    hits: tuple[int, ...] = ()
    gains: int = 0
    losses: int = 0
    false: tuple[int, ...] = ()
    twins: int = 0

    def plus(self, more: Round) -> "Tally":
        """Return the counts with one more round."""
        hits, false = more.hit.sum(axis=1), more.false.sum(axis=1)
        first, last = more.hit[0], more.hit[-1]
        return Tally(
            done=more.done,
            runs=self.runs + more.hit.shape[1],
            hits=tuple(int(h) for h in hits + np.array(self.hits or np.zeros(len(hits), int))),
            gains=self.gains + int((first & ~last).sum()),
            losses=self.losses + int((last & ~first).sum()),
            false=tuple(int(h) for h in false + np.array(self.false or np.zeros(len(false), int))),
            twins=self.twins + more.false.shape[1],
        )

    def to_dict(self) -> dict[str, Any]:
        """Return it as plain data."""
        return asdict(self)


def from_dict(data: Mapping[str, Any]) -> Tally:
    """Return a tally kept by `Tally.to_dict` (through JSON)."""
    return Tally(**{**data, "hits": tuple(data["hits"]), "false": tuple(data["false"])})


def interval(tally: Tally, is_difference: bool, confidence: float, sequence: bool = True) -> tuple[float, float]:
    """Return the interval of a probability or of a difference; sequence: always valid, else of a fixed number."""
    if is_difference:
        return intervals.difference_sequence(tally.gains, tally.losses, tally.runs, confidence)
    make = intervals.probability_sequence if sequence else intervals.clopper_pearson
    return make(tally.hits[0] if tally.hits else 0, tally.runs, confidence)


def value(tally: Tally, is_difference: bool) -> float:
    """Return the share of hits, or the difference of the two."""
    if not tally.runs:
        return float("nan")
    first = tally.hits[0] / tally.runs
    return first - tally.hits[1] / tally.runs if is_difference else first


def count(question: Question, at: Stage, course: Course) -> tuple[Tally, Outcome | None]:
    """Simulate until the verdict is certain, never beyond the course's runs; without a bound, all of them."""
    runs, confidence, seed = course.runs, course.confidence, course.seed
    tally = from_dict(course.kept) if course.kept else Tally()
    laid = lots.lay(at, question.species, question.place, seed, runs, min(TWINS, runs))
    outcome = verdict_of(question, tally, confidence)
    if tally.runs >= runs or _certain(outcome, tally, runs):
        return tally, outcome
    rounds = bench.rounds(at, question.species, laid, seed, question.measure, first=tally.done, threads=course.threads)
    for more in rounds:
        tally = tally.plus(more)
        outcome = verdict_of(question, tally, confidence)
        if course.keep:
            course.keep(tally.to_dict())
        if course.tell:
            course.tell(tally.runs, runs)
        if _certain(outcome, tally, runs):
            rounds.close()
            break
    return tally, outcome


def _certain(outcome: Outcome | None, tally: Tally, runs: int) -> bool:
    # The false rate rests on its full number of twins, whatever the verdict.
    return outcome in ("holds", "does not hold") and tally.twins >= min(TWINS, runs)


def verdict_of(question: Question, tally: Tally, confidence: float) -> Outcome | None:
    """Return the verdict that counts allow, None where the question has no bound."""
    if question.bound is None:
        return None
    low, high = interval(tally, question.is_difference, confidence)
    return intervals.verdict(low, high, question.at_least, question.at_most)
