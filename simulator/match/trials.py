"""All trials of a trip in one run of the engine, gathered into Hits."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from simulator import seeds
from simulator.match import bench, plan, scene
from simulator.match.hits import Axis, Hits
from simulator.recording import Prepared, prepare

Progress = Callable[[str, int, int], None]

#: Recorded depth over that of the deepest fish asked for; the bottom of trials without one lies this much deeper still.
_WINDOW, _OUT_OF_HEARING = 1.03, 1.25


@dataclass(frozen=True)
class _Block:
    """One experiment in one slice: which places of the whole are its own."""

    slice: int
    quarry: int
    kind: str
    start: int
    stop: int


def run(trip: Any, *, threads: int | None = None, progress: Progress | None = None, runs: int = plan.SPOT_RUNS) -> Hits:
    """Run every trial a trip asks for and return the hits; runs: for each quarry and slice.

    trip: inputs.trip.Trip. The same trip and runs give the same hits for any number of threads.
    """
    deepest, fall = float(max(trip.day.depth)), plan.fall(trip.day.depth, runs)
    window = _WINDOW * plan.DEPTHS[-1] * deepest
    prepared = prepare(scene.scenario(trip, fall, window))
    slices = plan.slices(trip.day.depth, float(prepared.scenario.boat.transducer_depth))
    places, blocks = _all(trip, slices, narrowest(prepared), runs, _OUT_OF_HEARING * window)
    seed = seeds.key(trip.seed, "placement", -2) & (2**63 - 1)
    judged = bench.simulate(prepared, places, fall, seed, threads=threads, progress=progress)
    return _gathered(trip, prepared, slices, places, blocks, judged)


def main_quarry(trip: Any) -> int:
    """Return the index of the quarry with the largest share: width, small fish and reach are about it."""
    return int(np.argmax([float(q.share) for q in trip.quarry]))


def narrowest(prepared: Prepared) -> plan.Footprint:
    """Return half the narrowest one-way -3 dB widths [deg] among the elements, along and across."""
    infos = [e.info for e in prepared.header.elements]
    return plan.Footprint(min(i.beamwidth_along for i in infos) / 2, min(i.beamwidth_across for i in infos) / 2)


def _all(
    trip: Any, slices: tuple[plan.Slice, ...], footprint: plan.Footprint, runs: int, below: float
) -> tuple[plan.Places, list[_Block]]:
    """Return the places of all experiments of all slices, and whose they are; below [m]: a bottom out of hearing."""
    parts: list[plan.Places] = []
    blocks: list[_Block] = []

    def add(k: int, q: int, kind: str, places: plan.Places) -> None:
        start = sum(len(p) for p in parts)
        parts.append(places)
        blocks.append(_Block(k, q, kind, start, start + len(places)))

    for k, at in enumerate(slices):
        for q, quarry in enumerate(trip.quarry):
            random, where = plan.stream(trip.seed, k, q), quarry.where
            add(k, q, "spot", plan.spot(where, q, at, footprint, random, runs))
            add(k, q, "empty", plan.empty(where, q, at, footprint, random))
            if q == main_quarry(trip):
                add(k, q, "width", plan.offsets(where, q, at, random))
                add(k, q, "small", plan.lengths(where, q, at, footprint, random))
                add(k, q, "reach", plan.depths(q, at, random, below))
    return plan.joined(parts), blocks


def _gathered(
    trip: Any,
    prepared: Prepared,
    slices: tuple[plan.Slice, ...],
    places: plan.Places,
    blocks: list[_Block],
    judged: bench.Judged,
) -> Hits:
    def of(kind: str, hits: Any) -> Any:
        """Return hits of one kind (element, slice, quarry, n)."""
        found = [[hits[:, b.start : b.stop] for b in blocks if b.kind == kind and b.slice == k] for k in slicing]
        return np.stack([np.stack(quarries, axis=1) for quarries in found], axis=1)

    def axis(kind: str, points: Any) -> Axis:
        hits = of(kind, judged.detected)[:, :, 0]
        return Axis(np.asarray(points), hits.reshape(*hits.shape[:2], len(points), -1))

    slicing = range(len(slices))
    share = np.array([float(q.share) for q in trip.quarry])
    return Hits(
        elements=tuple(str(e.info.name) for e in prepared.header.elements),
        depth=np.array([s.middle for s in slices]),
        quarry=tuple(str(q.name) for q in trip.quarry),
        share=share / share.sum(),
        detected=of("spot", judged.detected),
        parted=of("spot", judged.parted),
        fish_depth=of("spot", places.depth[None])[0],
        false_parted=of("empty", judged.parted).mean(axis=(1, 2, 3)),
        width=axis("width", plan.OFFSETS),
        small=axis("small", plan.LENGTHS),
        reach=axis("reach", plan.DEPTHS),
        resolution=bench.resolution(prepared),
    )
