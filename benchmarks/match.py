"""The advice judged: rules of the trade against simulated trips, ranks at twice the runs, and time.

    python benchmarks/match.py [rules] [doubled] [time] [--only WORDS] [--threads N]

rules: each rule of thumb (common practice, no source) as a trip, its candidates ranked by the real thing, beside the
depth at which the sonar equation changes its mind. doubled: the four trips of scenarios/ at twice the runs, everywhere:
which ranks changed that were not called a tie. time: the four trips with the whole catalogue and pairs.
"""

import argparse
import os
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from pingwright.acoustics import budget, fish
from pingwright.inputs import trip as inputs
from pingwright.match import pipeline, plan, reasons, scene, trials
from pingwright.recording import prepare

SCENARIOS = Path(__file__).parents[1] / "scenarios"
TRIPS = sorted(SCENARIOS.glob("trip-*.toml"))

FORM = """
title = "rule"
seed = 5
[day]
depth = [{depth}]
sediment = "{sediment}"
slope = {slope}
wind = "10 kn"
temperature = 11
salinity = 34.5
own = {own}
{wreck}
{species}
[weights]
{weights}
"""
QUARRY = """
[[species]]
name = "fish {number}"
swimbladder = "closed"
length = "{length} cm"
where = {{ {where} }}
"""
NEAR_BOTTOM = 'above_bottom = ["0.3 m", "1.5 m"]'
UPPER = 'depth = ["5 m", "30 m"]'
MID = 'depth = ["60 m", "180 m"]'
DEEP = 'above_bottom = ["1 m", "8 m"]'
PARTING = {"separated": 3, "detected": 1, "swath": 1, "detail": 1, "small_fish": 0, "reach": 0}
WIDTH = {"separated": 0, "detected": 1, "swath": 3, "detail": 0, "small_fish": 0, "reach": 0}
COLUMN = PARTING | {"swath": 3}
FAR = {"separated": 2, "detected": 2, "swath": 1, "detail": 0, "small_fish": 0, "reach": 2}
#: A boat that drifts with its engine off: wind and thermal noise are all that is left (assumed).
QUIET, USUAL = 20.0, 48.0


@dataclass(frozen=True)
class Rule:
    """One rule of thumb: what it says, the element it puts first, and the day on which it is tried."""

    says: str
    first: str
    depth: tuple[float, float]
    where: tuple[str, ...]
    weights: dict
    length: float = 70
    sediment: str = "sandy mud"
    slope: float = 3
    own: float = USUAL
    wreck: bool = False

    def trip(self):
        """Return the trip of the rule."""
        species_list = [QUARRY.format(number=i, length=self.length, where=w) for i, w in enumerate(self.where)]
        return inputs.parse(
            FORM.format(
                depth=", ".join(map(str, self.depth)), sediment=self.sediment, slope=self.slope, own=self.own,
                wreck="wreck = { length = 30, width = 8, height = 4 }" if self.wreck else "",
                species_list="".join(species_list), weights="\n".join(f"{k} = {v}" for k, v in self.weights.items()),
            )
        )  # fmt: skip


TIGHT = {"first": "high-pencil", "depth": (40, 60), "where": (NEAR_BOTTOM,), "weights": PARTING, "length": 45,
         "sediment": "gravel"}  # fmt: skip
RULES = (
    Rule("tight to a wreck in 40 to 60 m: high pencil", wreck=True, **TIGHT),
    Rule("tight to a slope of 8 deg in 40 to 60 m: high pencil", **TIGHT | {"slope": 8}),
    Rule("the same on bare ground that hardly slopes", **TIGHT),
    Rule("scouting the upper column: high cone", "high-cone", (120, 200), (UPPER,), WIDTH, 90),
    Rule("beyond 300 m: medium", "medium-pencil", (300, 360), (DEEP,), FAR),
    Rule("beyond 300 m, quiet boat: medium", "medium-pencil", (300, 360), (DEEP,), FAR, own=QUIET),
    Rule("beyond 450 m, quiet boat: low", "low-pencil", (450, 520), (DEEP,), FAR, own=QUIET),
    Rule("wide cover of mid-water, 240 to 270 m: medium fan", "medium-fan", (240, 270), (MID,), WIDTH),
    Rule("the whole column: a pair", "+", (60, 80), (UPPER, NEAR_BOTTOM), COLUMN, 45, "gravel", 8),
)  # fmt: skip


def judged(rule, threads):
    """Return what a rule's trip says, in lines."""
    trip = rule.trip()
    match = pipeline.judge(trip, threads=threads)
    found = match.ranked
    best = found[0] if rule.first == "+" else found[reasons.alone(found)[0]]
    name = reasons.name_of(match.hits, best.members)
    ties = [reasons.name_of(match.hits, found[p].members) for p in best.ties_with]
    holds = len(best.members) > 1 and not any("+" not in t for t in ties) if rule.first == "+" else name == rule.first
    verdict = "holds" if holds else "a tie" if rule.first in ties else "does not hold"
    shown = [found[p] for p in sorted({0, *reasons.alone(found)})]
    rows = [
        f"    {reasons.name_of(match.hits, r.members):28s} {r.score:.3f} ({r.low:.3f} to {r.high:.3f}) "
        + " ".join(f"{key} {value:.2f}" for key, value in r.parts.items() if match.weights[key])
        for r in shown
    ]
    return [f"{verdict:14s} {rule.says}", f"    {reasons.turning(found, match.hits)}", *rows, *equation(trip)]


def equation(trip):
    """Return the depths at which another pencil has the best signal to noise, by the sonar equation, in a line."""
    species = trip.species[trials.main_species(trip)]
    prepared = prepare(scene.scenario(trip, 0.0, 1.1 * max(trip.day.depth)))
    infos = [e.info for e in prepared.header.elements if "pencil" in e.info.name]
    depth, levels, reach = np.arange(20.0, 800.0), [], []
    for info in infos:
        strength = fish.strength_love_1971(float(species.length.mean), 0.5 * (info.band_low + info.band_high))
        strength = float(strength) + 10 * np.log10(fish.tilt_average(-5.0, 15.0))
        loss = 40 * np.log10(depth) + 2 * info.absorption * depth
        levels.append(info.source_level + strength - loss - info.noise_level)
        reach.append(float(budget.reach(info.source_level, info.noise_level, strength, info.absorption, 0.5, 1e-4)))
    best = np.argmax(levels, axis=0)
    turns = [f"beyond {depth[k]:.0f} m {infos[best[k]].name}" for k in range(1, len(depth)) if best[k] != best[k - 1]]
    far = ", ".join(f"{info.name} {r:.0f} m" for info, r in zip(infos, reach, strict=True))
    return [f"    sonar equation: {infos[best[0]].name}; {'; '.join(turns)}; reach {far}"]


def doubled(path, threads):
    """Return pairs of candidates ranked apart, not called a tie, whose order twice the runs turn round."""
    trip = inputs.load(path)
    twice = {"runs": 2 * plan.SPOT_RUNS, "axis_runs": 2 * plan.AXIS_RUNS}
    once, more = (pipeline.ranked(trip, trials.run(trip, threads=threads, **k)) for k in ({}, twice))
    place = {r.members: i for i, r in enumerate(more.ranked)}
    apart = turned = 0
    for a, first in enumerate(once.ranked):
        for b in range(a + 1, len(once.ranked)):
            if b not in first.ties_with:
                apart += 1
                turned += place[first.members] > place[once.ranked[b].members]
    return apart, turned


def timed(path, threads):
    """Return wall-clock and processor seconds of a trip."""
    wall, cpu = time.perf_counter(), time.process_time()
    pipeline.judge(inputs.load(path), threads=threads)
    return time.perf_counter() - wall, time.process_time() - cpu


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", nargs="*", default=["rules", "doubled", "time"])
    parser.add_argument("--threads", type=int, default=os.cpu_count())
    parser.add_argument("--only", default="", help="rules and trips whose words hold this")
    asked = parser.parse_args()
    failed = False
    rules = [rule for rule in RULES if asked.only in rule.says]
    paths = [path for path in TRIPS if asked.only in path.stem]
    for rule in rules if "rules" in asked.what else ():
        print("\n".join(judged(rule, asked.threads)), flush=True)
    for path in paths if "doubled" in asked.what else ():
        apart, turned = doubled(path, asked.threads)
        failed |= turned > 0
        print(f"{path.stem}: {apart} pairs told apart, {turned} turned round at twice the runs", flush=True)
    for path in paths if "time" in asked.what else ():
        wall, cpu = timed(path, asked.threads)
        print(f"{path.stem}: {wall:.0f} s, {cpu:.0f} s of processor, {cpu / 2:.0f} s on two idle cores", flush=True)
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
