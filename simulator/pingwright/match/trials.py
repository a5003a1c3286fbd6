"""All trials of a trip in one run of the engine, gathered into Hits."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from pingwright import seeds
from pingwright.checkpoint import Checkpoint
from pingwright.match import bench, plan, scene
from pingwright.match.hits import Axis, Hits
from pingwright.recording import Prepared, prepare

Progress = Callable[[str, int, int], None]

#: Depth recorded over that of the deepest bottom, and in trials without a bottom over that of the deepest fish;
#: and what is recorded beyond [m], so that the whole first echo is judged.
_BOTTOM_WINDOW, _OPEN_WINDOW, _BEYOND = 1.06, 1.02, 1.5


@dataclass(frozen=True)
class _Block:
    """One experiment in one slice: which places of the whole are its own."""

    slice: int
    species: int
    kind: str
    start: int
    stop: int


def run(
    trip: Any,
    *,
    state: Checkpoint | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
    runs: int = plan.SPOT_RUNS,
    axis_runs: int = plan.AXIS_RUNS,
) -> Hits:
    """Run every trial a trip asks for and return the hits.

    trip: inputs.trip.Trip. state: verdicts to go on with, kept there as they come. runs: for each species and slice;
    axis_runs: for each point of an axis and slice. The same trip and runs give the same hits for any number of threads,
    and wherever the work was stopped.
    """
    low, deepest = trip.day.depth
    fall = falling(trip, runs, axis_runs)
    slices = plan.slices(trip.day.depth, scene.TRANSDUCER_DEPTH)
    wrecks = _wrecks(trip, fall)
    prepared = over_bottom(trip, fall)
    open_water = prepare(scene.scenario(trip, fall, _OPEN_WINDOW * float(plan.DEPTHS[-1]) * deepest + _BEYOND))
    places, blocks = _all(trip, slices, narrowest(prepared), runs, axis_runs)
    places = _beside(trip, slices, places, blocks, wrecks, fall) if wrecks else plan.in_line(places, low, fall)
    seed = seeds.key(trip.seed, "placement", -2) & (2**63 - 1)
    over = bench.simulate(prepared, places, seed, **_kept(state, "over the bottom"), threads=threads, progress=progress)
    deep = plan.joined(
        [plan.depths(main_species(trip), at, plan.stream(trip.seed, k, -1), axis_runs) for k, at in enumerate(slices)]
    )
    deep = plan.in_line(deep, low, fall)
    known = _kept(state, "without a bottom")
    reach = bench.simulate(open_water, deep, seed, seabed=False, **known, threads=threads, progress=progress)
    return _gathered(trip, prepared, slices, places, blocks, over, reach)


def _kept(state: Checkpoint | None, name: str) -> dict[str, Any]:
    """Return what bench.simulate goes on with, and how it keeps what it finds, as its arguments."""
    if state is None:
        return {}
    return {"kept": state.get(name), "keep": lambda verdicts: state.save({name: dict(verdicts)})}


def falling(trip: Any, runs: int = plan.SPOT_RUNS, axis_runs: int = plan.AXIS_RUNS) -> float:
    """Return the fall of a trip's bottom along the track [m/m, dimensionless], wide enough for so many runs."""
    return plan.fall(trip.day.depth, max(runs, len(plan.OFFSETS) * axis_runs))


def over_bottom(trip: Any, fall: float) -> Prepared:
    """Return the scene of all trials over the bottom, which falls so along the track [m/m], prepared."""
    window = _BOTTOM_WINDOW * trip.day.depth[1] + _BEYOND
    return prepare(scene.scenario(trip, fall, window, _wrecks(trip, fall)))


def _wrecks(trip: Any, fall: float) -> list[float]:
    """Return where along the track [m] the wrecks lie, one in each slice, if the day has any."""
    low, slices = trip.day.depth[0], plan.slices(trip.day.depth, scene.TRANSDUCER_DEPTH)
    return [(at.middle - low) / fall if fall > 0 else 0.0 for at in slices] if trip.day.wreck else []


def main_species(trip: Any) -> int:
    """Return the index of the species with the largest share: width, small fish and reach are about it."""
    return int(np.argmax([float(q.share) for q in trip.species]))


def narrowest(prepared: Prepared) -> plan.Footprint:
    """Return half the narrowest one-way -3 dB widths [deg] among the elements, along and across."""
    infos = [e.info for e in prepared.header.elements]
    return plan.Footprint(min(i.beamwidth_along for i in infos) / 2, min(i.beamwidth_across for i in infos) / 2)


def _all(
    trip: Any, slices: tuple[plan.Slice, ...], footprint: plan.Footprint, runs: int, axis_runs: int
) -> tuple[plan.Places, list[_Block]]:
    """Return the places of all experiments of all slices, but reach, and whose they are."""
    parts: list[plan.Places] = []
    blocks: list[_Block] = []

    def add(k: int, q: int, kind: str, places: plan.Places) -> None:
        start = sum(len(p) for p in parts)
        parts.append(places)
        blocks.append(_Block(k, q, kind, start, start + len(places)))

    for k, at in enumerate(slices):
        for q, species in enumerate(trip.species):
            random, where = plan.stream(trip.seed, k, q), species.where
            add(k, q, "spot", plan.spot(where, q, at, footprint, random, runs))
            add(k, q, "empty", plan.empty(where, q, at, footprint, random))
            if q == main_species(trip):
                add(k, q, "width", plan.offsets(where, q, at, random, axis_runs))
                add(k, q, "small", plan.lengths(where, q, at, footprint, random, axis_runs))
    return plan.joined(parts), blocks


def _beside(
    trip: Any, slices: tuple[plan.Slice, ...], places: plan.Places, blocks: list[_Block], x: list[float], fall: float
) -> plan.Places:
    """Return the places of every experiment moved beside the wreck of its slice, which lies at x [m] (slice)."""
    moved = [
        plan.beside(
            places.take(slice(b.start, b.stop)), trip.day.wreck, slices[b.slice], x[b.slice], fall,
            plan.stream(trip.seed, b.slice, b.species, i + 1),
        )
        for i, b in enumerate(blocks)
    ]  # fmt: skip
    return plan.joined(moved)


def _gathered(
    trip: Any,
    prepared: Prepared,
    slices: tuple[plan.Slice, ...],
    places: plan.Places,
    blocks: list[_Block],
    judged: bench.Judged,
    reach: bench.Judged,
) -> Hits:
    def of(kind: str, hits: Any) -> Any:
        """Return hits of one kind (element, slice, species, n)."""
        found = [[hits[:, b.start : b.stop] for b in blocks if b.kind == kind and b.slice == k] for k in slicing]
        return np.stack([np.stack(species_list, axis=1) for species_list in found], axis=1)

    def axis(hits: Any, points: Any) -> Axis:
        return Axis(np.asarray(points), hits.reshape(*hits.shape[:2], len(points), -1))

    slicing = range(len(slices))
    share = np.array([float(q.share) for q in trip.species])
    return Hits(
        elements=tuple(str(e.info.name) for e in prepared.header.elements),
        edges=np.array([slices[0].low, *(s.high for s in slices)]),
        species=tuple(str(q.name) for q in trip.species),
        share=share / share.sum(),
        detected=of("spot", judged.detected),
        separated=of("spot", judged.separated),
        fish_depth=of("spot", places.depth[None])[0],
        false_alarms=of("empty", judged.separated).mean(axis=(1, 2, 3)),
        width=axis(of("width", judged.detected)[:, :, 0], plan.OFFSETS),
        small=axis(of("small", judged.detected)[:, :, 0], plan.LENGTHS),
        reach=axis(reach.detected.reshape(len(prepared.elements), len(slices), -1), plan.DEPTHS),
        resolution=bench.resolution(prepared),
    )
