"""All trials of a trip, slice by slice of the day's depth, gathered into Hits."""

from collections.abc import Callable
from typing import Any

import numpy as np

from simulator import seeds
from simulator.match import bench, plan, scene
from simulator.match.hits import Axis, BoolArray, Hits
from simulator.recording import Prepared, prepare

Progress = Callable[[str, int, int], None]


def run(trip: Any, *, threads: int | None = None, progress: Progress | None = None, runs: int = plan.SPOT_RUNS) -> Hits:
    """Run every trial a trip asks for and return the hits; runs: for each quarry and slice.

    trip: inputs.trip.Trip. The same trip and runs give the same hits for any number of threads.
    """
    depth = plan.slices(trip.day.depth)
    steps = _Steps(progress, len(depth) * (len(trip.quarry) + 1) + 1)
    by_slice = [_slice(trip, k, float(d), runs, threads, steps) for k, d in enumerate(depth)]
    middle = float(depth[len(depth) // 2])
    above = prepare(scene.with_target(trip, middle, middle / 2))
    resolution = bench.resolution(above, middle / 2)
    steps.next()
    share = np.array([float(q.share) for q in trip.quarry])
    stacked = {
        key: np.stack([s[key] for s in by_slice], axis=1) for key in ("detected", "parted", "width", "small", "reach")
    }
    return Hits(
        elements=tuple(str(e.info.name) for e in above.header.elements),
        depth=depth,
        quarry=tuple(str(q.name) for q in trip.quarry),
        share=share / share.sum(),
        detected=stacked["detected"],
        parted=stacked["parted"],
        fish_depth=np.stack([s["fish_depth"] for s in by_slice]),
        false_parted=np.mean([s["false_parted"] for s in by_slice], axis=0),
        width=Axis(plan.OFFSETS, stacked["width"]),
        small=Axis(plan.LENGTHS, stacked["small"]),
        reach=Axis(plan.DEPTHS, stacked["reach"]),
        resolution=resolution,
    )  # fmt: skip


def main_quarry(trip: Any) -> int:
    """Return the index of the quarry with the largest share: width, small fish and reach are about it."""
    return int(np.argmax([float(q.share) for q in trip.quarry]))


def narrowest(prepared: Prepared) -> plan.Footprint:
    """Return half the narrowest one-way -3 dB widths [deg] among the elements, along and across."""
    infos = [e.info for e in prepared.header.elements]
    return plan.Footprint(min(i.beamwidth_along for i in infos) / 2, min(i.beamwidth_across for i in infos) / 2)


def _slice(trip: Any, k: int, bottom: float, runs: int, threads: int | None, steps: "_Steps") -> dict[str, Any]:
    """Return the hits of one slice: detected, parted (element, quarry, run), fish_depth, false rate, three axes."""
    prepared = prepare(scene.scenario(trip, bottom))
    face, footprint = float(prepared.scenario.boat.transducer_depth), narrowest(prepared)
    main, detected, parted, fish_depth, false = main_quarry(trip), [], [], [], []
    out: dict[str, Any] = {}
    for q, quarry in enumerate(trip.quarry):
        random, where = plan.stream(trip.seed, k, q), (quarry.where.above_bottom, quarry.where.depth)
        spot = plan.spot(where, bottom, face, footprint, random, runs)
        empty = plan.spot(where, bottom, face, footprint, random, plan.EMPTY_RUNS, present=False)
        more = (
            [plan.offsets(where, bottom, face, random), plan.lengths(where, bottom, face, footprint, random)]
            if q == main
            else []
        )
        places = plan.joined(spot, empty, *more)
        seed = _seed(trip.seed, k, q)
        found = bench.simulate(prepared, prepared.scenario.fish[q], places, seed, threads=threads)
        detected.append(found.detected[:, :runs])
        parted.append(found.parted[:, :runs])
        fish_depth.append(spot.depth)
        ends = np.cumsum([runs, plan.EMPTY_RUNS, *(len(m) for m in more)])
        false.append(found.parted[:, ends[0] : ends[1]].mean(axis=1))
        if q == main:
            out["width"] = _by_point(found.detected[:, ends[1] : ends[2]], len(plan.OFFSETS))
            out["small"] = _by_point(found.detected[:, ends[2] : ends[3]], len(plan.LENGTHS))
        steps.next()
    out["reach"] = _reach(trip, prepared, k, bottom, threads)
    steps.next()
    return out | {
        "detected": np.stack(detected, axis=1),
        "parted": np.stack(parted, axis=1),
        "fish_depth": np.stack(fish_depth),
        "false_parted": np.mean(false, axis=0),
    }


def _reach(trip: Any, prepared: Prepared, k: int, bottom: float, threads: int | None) -> BoolArray:
    """Return detections (element, point, run) on the axis without a seabed, in a window that holds the deepest."""
    main = main_quarry(trip)
    face = float(prepared.scenario.boat.transducer_depth)
    deep = 1.02 * (face + plan.DEPTHS[-1] * (bottom - face)) + 1.0
    window = prepared.scenario.window.model_copy(update={"depth": (0.0, deep)})
    open_water = prepare(prepared.scenario.model_copy(update={"window": window}))
    found = bench.simulate(
        open_water, open_water.scenario.fish[main], plan.depths(bottom, face),
        _seed(trip.seed, k, len(trip.quarry)), seabed=False, threads=threads,
    )  # fmt: skip
    return _by_point(found.detected, len(plan.DEPTHS))


def _by_point(hits: BoolArray, points: int) -> BoolArray:
    """Return (element, point x run) as (element, point, run)."""
    return hits.reshape(hits.shape[0], points, -1)


def _seed(seed: int, *index: int) -> int:
    """Return the seed of one slice's and quarry's bottoms, postures and noise."""
    return seeds.key(seed, "placement", -2, *index) & (2**63 - 1)


class _Steps:
    """Counts the stages done."""

    def __init__(self, progress: Progress | None, total: int) -> None:
        self._progress, self._total, self._done = progress, total, 0
        if progress:
            progress("fishing", 0, total)

    def next(self) -> None:
        """Say that one more is done."""
        self._done += 1
        if self._progress:
            self._progress("fishing", self._done, self._total)
