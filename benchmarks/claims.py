"""How far claims can be trusted, and how long they take: measured again from scratch.

    python benchmarks/claims.py [--only coverage,others,noise,bare,height,time] [--pings 1024] [--json FILE]

coverage  2000 claims of known probability: how often the interval misses the truth when one stops at the verdict or at
          the worst moment, and at fixed n; wrong verdicts 0.01 either side of the threshold; mean width
others    coverage of a difference's, a limit's and a median's intervals
noise     false alarms of every catalogue element in pure noise from the engine, over the stated 1e-4 a cell
bare      'separated' over bare bottoms, where there is no fish, for every catalogue element and sediment
height    least height separated half the time against d (1 - cos theta), in cells, flat and sloping
time      the ten claims of scenarios/claims-trade.toml
"""

import argparse
import json
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
from pingwright.acoustics import deadzone
from pingwright.claims import bench, limits, lots, pipeline, sweeps
from pingwright.claims.question import Place, Question, Species
from pingwright.inputs import catalogue, scenario
from pingwright.inputs.elements import from_catalogue
from pingwright.measure import bottom, cells, detect, intervals
from pingwright.measure.limits import passing

ROOT = Path(__file__).resolve().parents[1]
REPEATS, RUNS, EVERY = 2000, 4000, 128
TEXT = """
title = "bench"
seed = 3
[water]
temperature = 11
salinity = 34.5
wind = "10 kn"
[boat]
transducer_depth = "0.6 m"
[[element]]
name = "high-pencil"
use = "high-pencil"
[seabed]
depth = "30 m"
[[seabed.layer]]
sediment = "gravel"
[noise]
own = 48
"""
FISH = Species("closed", 0.4, 0.0, 0.5, None, (-4.4, 16.2), "love-1971")


def coverage(pings):
    """Look every EVERY runs, as trials do."""
    rng, rows, looks = np.random.default_rng(7), [], np.arange(EVERY, RUNS + 1, EVERY)
    for truth in (0.5, 0.8, 0.89, 0.91, 0.99):
        missed = missed_ever = wrong = 0
        width = []
        for _ in range(REPEATS):
            counts = np.cumsum(rng.random(RUNS) < truth)[looks - 1]
            ever, stopped = False, None
            for hits, of in zip(counts.tolist(), looks.tolist(), strict=True):
                low, high = intervals.probability_sequence(hits, of)
                ever |= not low <= truth <= high
                if stopped is None and intervals.verdict(low, high, at_least=0.9) != "undecided":
                    stopped = low, high
            stopped = stopped or (low, high)
            missed += not stopped[0] <= truth <= stopped[1]
            missed_ever += ever
            width.append(stopped[1] - stopped[0])
            wrong += intervals.verdict(*stopped, at_least=0.9) == ("does not hold" if truth >= 0.9 else "holds")
        fixed = [intervals.clopper_pearson(int(k), 256) for k in rng.binomial(256, truth, REPEATS)]
        rows.append({
            "truth": truth, "covered at the stop": 1 - missed / REPEATS, "covered all along": 1 - missed_ever / REPEATS,
            "mean width": float(np.mean(width)), "wrong verdicts": wrong / REPEATS,
            "covered, fixed 256": float(np.mean([low <= truth <= high for low, high in fixed])),
            "mean width, fixed 256": float(np.mean([high - low for low, high in fixed])),
        })  # fmt: skip
    return rows


def others(pings):
    """Coverage of the other always-valid intervals: a difference looked at four times, a limit, a median."""
    rng, rows = np.random.default_rng(8), []
    missed, width, repeats = 0, [], REPEATS // 5
    for _ in range(repeats):
        same = rng.random((4, 256))  # common random numbers: the second hits where the first does, and less often
        first, second = same < 0.8, same < 0.7
        gains, losses = (first & ~second).sum(axis=1).cumsum(), (second & ~first).sum(axis=1).cumsum()
        spans = [intervals.difference_sequence(int(gains[k]), int(losses[k]), 256 * (k + 1)) for k in range(4)]
        missed += any(not low <= 0.1 <= high for low, high in spans)
        width.append(spans[-1][1] - spans[-1][0])
    rows.append({"difference, covered": 1 - missed / repeats, "mean width of 1024": float(np.mean(width))})
    depth, missed, width = 250 * np.array(limits.REACH), 0, []
    for _ in range(REPEATS):
        hits = rng.binomial(128, 1 / (1 + np.exp((depth - 240) / 30)))
        found = passing(depth, hits, np.full(len(depth), 128), rising=False)
        missed += not found.low <= 240 <= found.high
        width.append(found.high - found.low)
    rows.append({"limit 240 m, covered": 1 - missed / REPEATS, "mean width [m]": float(np.mean(width))})
    missed = 0
    for _ in range(repeats):
        low, high = intervals.median_sequence(rng.exponential(1, 32))
        missed += not low <= np.log(2) <= high
    rows.append({"median of 32, covered": 1 - missed / repeats})
    return rows


def everyone(**changes):
    """Return the stage of a scenario with all catalogue elements."""
    base = scenario.parse(TEXT, "bench.toml", {})
    base = base.model_copy(update={"element": tuple(map(from_catalogue, catalogue.element_names()))})
    return lots.stage(scenario.changed(base, changes) if changes else base)


def noise(pings):
    """Nothing but noise over 20 m of water: what is detected is false."""
    rows, at = [], everyone()
    species = replace(FISH, above_bottom=None, depth=10.0)
    laid = lots.lay(at, species, Place(0, 0), 5, pings)
    laid = replace(laid, empty=np.ones(pings, dtype=bool))
    for index, name in enumerate(catalogue.element_names()):
        one = lots.single(at, index)
        world = bench.open_water(bench._world(one, species, laid, 5))  # noqa: SLF001
        found = expected = 0.0
        for _, (record,) in bench.records(one, world, (4.0, 26.0), 5, 0, None):
            grid, count = cells.grid(record), len(record.echo_level)
            none = bottom.Bottom(np.full(count, np.nan), np.full(count, -1), np.full(count, np.nan))
            found += len(detect.detect(np.asarray(record.echo_level), grid, none, floor=-np.inf))
            expected += 1e-4 * count * (record.echo_level.shape[1] - grid.blank) / grid.per_cell
        rows.append({"element": name, "found": found, "expected": expected, "standard error": expected**0.5})
    return rows


def bare(pings):
    """The same judgements as over fish, half a metre above bottoms without any."""
    rows = []
    for sediment in ("mud", "medium sand", "gravel", "rock"):
        at = everyone(**{"seabed.layer.1.sediment": sediment})
        laid = lots.lay(at, FISH, None, 5, pings)
        laid = replace(laid, empty=np.ones(pings, dtype=bool))
        false = np.concatenate([r.false for r in bench.rounds(at, FISH, laid, 5)], axis=1)
        for name, hits in zip(catalogue.element_names(), false.sum(axis=1), strict=True):
            high = intervals.clopper_pearson(int(hits), pings)[1]
            rows.append({"sediment": sediment, "element": name, "false": hits / pings, "at most (97.5 %)": high})
    return rows


def height(pings):
    """A fish at the one-way -3 dB edge across, and straight below, by depth, slope and tilt."""
    rows, base = [], scenario.parse(TEXT, "bench.toml", {})
    natural, level = FISH, replace(FISH, tilt=(0.0, 1.0))
    cases = [(d, s, e, f) for f in (level, natural) for d, s, e in ((30, 0, False), (30, 0, True), (58, 0, True))]
    for depth, slope, edge, fish in (*cases, (30, 4, True, natural), (30, 8, True, natural)):
        changes = {"seabed.depth": f"{depth} m", "seabed.slope.along": f"{slope} deg"}
        asked = Question("", "separated", scenario.changed(base, changes), fish, None, None, None)
        info = lots.stage(asked.scenario).prepared.header.elements[0].info
        half, below = info.beamwidth_across / 2, depth - 0.6
        side = below * np.tan(np.radians(half)) if edge else 0.0
        value, low, high, closed = sweeps._least(replace(asked, place=Place(0.0, float(side))), 5, 0.95, None)  # noqa: SLF001
        hidden = float(deadzone.height_at_angle(below, half)) if edge else 0.0
        rows.append({
            "depth": depth, "slope": slope, "edge": edge, "tilt sd": fish.tilt[1], "least": value,
            "low": low, "high": high, "fine": closed, "d (1 - cos theta)": hidden,
            "cells over it": (value - hidden) / info.range_resolution,
        })  # fmt: skip
    return rows


def times(pings):
    """Wall and CPU time of the ten claims, curves, maps and charts and all."""
    with tempfile.TemporaryDirectory() as folder:
        wall, used = time.perf_counter(), time.process_time()
        answer = pipeline.run(ROOT / "scenarios/claims-trade.toml", Path(folder) / "out").answer
        return [{"wall [s]": time.perf_counter() - wall, "CPU [s]": time.process_time() - used, "answer": answer}]


PARTS = {"coverage": coverage, "others": others, "noise": noise, "bare": bare, "height": height, "time": times}


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--only", default=",".join(PARTS))
    options.add_argument("--pings", type=int, default=1024)
    options.add_argument("--json", type=Path)
    asked = options.parse_args()
    results = {}
    for name in asked.only.split(","):
        results[name] = PARTS[name](asked.pings)
        print(f"\n{name}")
        for row in results[name]:
            print("  " + ", ".join(f"{k} {v:.4g}" if isinstance(v, float) else f"{k} {v}" for k, v in row.items()))
        sys.stdout.flush()
    if asked.json:
        asked.json.write_text(json.dumps(results, indent=1, default=float) + "\n")


if __name__ == "__main__":
    main()
