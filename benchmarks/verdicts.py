"""Coverage of intervals and share of wrong verdicts over passes, by asking again and again with other seeds.

python benchmarks/verdicts.py [--seeds N] [--runs N] [--separated]: a fish in open water beside the track, or close
above the bottom. The truth is the share of all runs together. Intervals should hold it in 95 of 100; verdicts of bounds
0.01 to either side of it should be wrong in at most 5 of 100. Measured with 60 seeds of 128 passes in open water: truth
0.234, 0.967 of the intervals hold it, no verdict wrong. --draws N: the runs are a pool from which N claims
of CLAIM passes each are drawn, whose truth is known: more passes than can be simulated.
"""

import argparse
from collections.abc import Callable

import numpy as np
from pingwright.inputs import scenario
from pingwright.measure import intervals
from pingwright.measures.asked import Question
from pingwright.measures.base import Counted
from pingwright.measures.registry import measure
from pingwright.trials.batch import BATCH, Settings, batches
from pingwright.trials.placement import Place, Species
from pingwright.trials.scene import scene

BASE = """
title = "base"
[water]
temperature = 11
salinity = 34.5
[boat]
speed = "6 kn"
[[element]]
name = "high"
use = "high-pencil"
[seabed]
depth = "20 m"
[[seabed.layer]]
sediment = "gravel"
"""
#: Passes of a claim drawn from a pool.
CLAIM = 6000
FISH = Species("closed", 0.1, 0.0, None, (5.0, 5.0), (-4.4, 16.2), "love-1971")
LOW = Species("closed", 0.4, 0.0, (0.12, 0.12), None, (-4.4, 16.2), "love-1971")


def hits_of(question: Question, seed: int, runs: int) -> np.ndarray:
    """Return which runs of one seed hit (run)."""
    one = measure(question.measure)
    if not isinstance(one, Counted):
        raise TypeError(question.measure)
    at = scene(question.scenario)
    draw: Callable[[int, int], object] = lambda number, count: one.draw(at, question, seed, number, count)  # noqa: E731
    settings, judge = Settings(runs, 0.95, seed, threads=1), one.judge(question)
    return np.concatenate([b.hit[0] for b in batches(at, question.species, draw, settings, judge, blanks=0)])


def judged(hits: np.ndarray, truth: float) -> tuple[bool, list[str]]:
    """Return whether the interval of all runs holds the truth, and the verdicts of two bounds beside it.

    Each verdict is "right", "wrong" or "undecided", with the always-valid interval looked at after every batch.
    """
    low, high = intervals.clopper_pearson(int(hits.sum()), len(hits), 0.95)
    found = []
    for bound in (truth - 0.01, truth + 0.01):
        verdict = "undecided"
        for runs in range(BATCH, len(hits) + 1, BATCH):
            span = intervals.probability_sequence(int(hits[:runs].sum()), runs, 0.95)
            verdict = intervals.verdict(*span, bound, None)
            if verdict != "undecided":
                break
        right = "holds" if truth >= bound else "does not hold"
        found.append("undecided" if verdict == "undecided" else "right" if verdict == right else "wrong")
    return low <= truth <= high, found


def main() -> None:
    """Ask again and again and print coverage and wrong verdicts."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=100)
    parser.add_argument("--runs", type=int, default=256)
    parser.add_argument("--separated", action="store_true")
    parser.add_argument("--draws", type=int, default=0)
    asked = parser.parse_args()
    base = scenario.parse(BASE)
    question = Question("", "separated", base, LOW, None) if asked.separated else Question(
        "", "detected", base, FISH, Place(0.0, 0.48))  # fmt: skip
    hits = [hits_of(question, seed, asked.runs) for seed in range(asked.seeds)]
    truth = float(np.mean(hits))
    if asked.draws:
        rng, pool = np.random.default_rng(1), np.concatenate(hits)
        hits = [rng.choice(pool, CLAIM) for _ in range(asked.draws)]
    rows = [judged(one, truth) for one in hits]
    verdicts = [verdict for _, pair in rows for verdict in pair]
    print(f"truth {truth:.3f}, intervals that hold it {np.mean([inside for inside, _ in rows]):.3f} of {len(rows)}")
    print({name: verdicts.count(name) / len(verdicts) for name in ("right", "wrong", "undecided")})


if __name__ == "__main__":
    main()
