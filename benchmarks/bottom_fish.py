"""Passes over fish close to the bottom: `claims` against the independent simulator of tests/independent.py.

    python benchmarks/bottom_fish.py [--passes N] [--cases 0,3,5]

Printed for each case: the share of passes that detect the fish, and that separate it, of both, with the standard error
of the difference; false: the same passes without the fish. Nothing is judged here.
"""

import argparse
import sys
from pathlib import Path

import numpy as np
from pingwright.inputs import scenario
from pingwright.measures.asked import Question
from pingwright.measures.registry import measure
from pingwright.trials.batch import BATCH, Settings, batches
from pingwright.trials.placement import Species
from pingwright.trials.scene import scene

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))
from independent import FISH_TILT, Case, passes

#: Depth, sediment, height, length, speed; a pencil of 61 mm and a cone of 20 mm of a high band, pencils of lower bands.
HIGH, CONE, MEDIUM, LOW = (
    (0.061, (130e3, 210e3)), (0.020, (130e3, 210e3)), (0.067, (85e3, 135e3)), (0.083, (42e3, 65e3)),
)  # fmt: skip
CASES = (
    Case(*HIGH, 10.0, "medium sand", 0.1, 0.3, 3.0),
    Case(*HIGH, 35.0, "gravel", 0.15, 0.4, 6.0),
    Case(*HIGH, 90.0, "rock", 0.4, 0.5, 8.0),
    Case(*HIGH, 200.0, "mud", 0.6, 0.6, 4.0),
    Case(*CONE, 15.0, "gravel", 0.5, 0.35, 5.0),
    Case(*CONE, 40.0, "fine sand", 1.2, 0.45, 3.0),
    Case(*MEDIUM, 30.0, "silt", 0.25, 0.3, 7.0),
    Case(*MEDIUM, 75.0, "gravel", 0.6, 0.5, 5.0),
    Case(*LOW, 20.0, "fine sand", 0.5, 0.4, 4.0),
    Case(*LOW, 58.0, "gravel", 1.0, 0.4, 4.0),
    Case(*LOW, 120.0, "mud", 1.5, 0.6, 6.0),
    Case(*HIGH, 35.0, "gravel", 0.15, 0.4, 6.0, natural=False),
    Case(*LOW, 30.0, "rock", 0.6, 0.5, 2.0, natural=False),
    Case(*HIGH, 60.0, "gravel", 0.2, 0.25, 20.0),
)


def asked(case: Case) -> Question:
    """Return the question of a case, as a file of claims would put it."""
    text = f"""
title = "case"
[water]
temperature = {case.temperature}
salinity = {case.salinity}
[boat]
speed = "{case.knots} kn"
[[element]]
name = "one"
band = [{case.band[0]}, {case.band[1]}]
power = {case.power}
efficiency = {case.efficiency}
face = {{ shape = "disc", diameter = {case.diameter} }}
[seabed]
depth = {case.depth}
roughness = "{"natural" if case.natural else "none"}"
[[seabed.layer]]
sediment = "{case.sediment}"
"""
    fish = Species("closed", case.length, 0.0, (case.height, case.height), None, FISH_TILT, "love-1971")
    return Question("", "separated", scenario.parse(text), fish, None)


def claimed(case: Case, runs: int, seed: int = 1, blanks: int = 0) -> tuple[np.ndarray, np.ndarray]:
    """Return which passes (2, runs) of the program detect their fish, and separate it; and of `blanks` without."""
    question = asked(case)
    one, at = measure("separated"), scene(question.scenario)
    settings = Settings(runs, 0.95, seed, threads=1)
    made = list(
        batches(
            at,
            question.species,
            lambda n, count: one.draw(at, question, seed, n, count),
            settings,
            one.judge(question),
            blanks=blanks,
        )  # fmt: skip
    )
    return np.concatenate([[b.shown[0], b.hit[0]] for b in made], axis=1), np.concatenate([b.blank[0] for b in made])


def offsets(case: Case, runs: int, seed: int = 1) -> np.ndarray:
    """Return the offsets (runs) [m] of the program's own passes, so that both sides have the same chance in them."""
    question = asked(case)
    one, at = measure("separated"), scene(question.scenario)
    batch = [one.draw(at, question, seed, n, BATCH).across for n in range(-(-runs // BATCH))]
    return np.concatenate(batch)[:runs]


def main() -> None:
    """Compare and print."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--passes", type=int, default=256)
    options.add_argument("--cases", default=",".join(map(str, range(len(CASES)))))
    options.add_argument("--blanks", type=int, default=64)
    given = options.parse_args()
    for number in map(int, given.cases.split(",")):
        case = CASES[number]
        theirs, empty = claimed(case, given.passes, blanks=given.blanks)
        ours = passes(case, given.passes, offsets=offsets(case, given.passes))
        blank = passes(case, given.blanks, seed=1, with_fish=False) if given.blanks else np.zeros((2, 1))
        parts = []
        for name, a, b in zip(("detected", "separated"), theirs, ours, strict=True):
            error = np.sqrt((a.var() + b.var()) / given.passes)
            parts.append(f"{name} {a.mean():.3f} / {b.mean():.3f} ({a.mean() - b.mean():+.3f} +- {error:.3f})")
        print(
            f"{number} {case}\n   {'; '.join(parts)}; false: separated {empty.mean():.3f} / "
            f"{blank[1].mean():.3f}, detected - / {blank[0].mean():.3f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
