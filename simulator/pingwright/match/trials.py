"""All trials of a trip, by passes at the day's speed, gathered into Hits; or their probabilities by closed form."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from pingwright import workers
from pingwright.checkpoint import Checkpoint
from pingwright.echograms.record import FloatArray
from pingwright.inputs.trip import Trip
from pingwright.match import simulated
from pingwright.match.hits import Hits
from pingwright.match.simulated import RUNS, Seen, Series, Way
from pingwright.measure.filters import point_width
from pingwright.measure.rules import SEEN
from pingwright.measures import ahead, school, theory
from pingwright.measures.base import nominal_depth
from pingwright.measures.reach import DEPTHS, chance_at
from pingwright.measures.smallest_fish import SmallestFish
from pingwright.trials import day, passes
from pingwright.trials.assumptions import Turned
from pingwright.trials.placement import Place, Species
from pingwright.trials.scene import Scene, in_noise, scene

Progress = Callable[[str, int, int], None]

#: Number of offsets for the closed form of a swath.
CLOSED_RUNS = 24
#: Parts into which the runs of a slice are cut where workers share the work: each makes the tables of all elements.
PARTS = 2


def run(
    trip: Trip,
    *,
    state: Checkpoint | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
    quick: bool = False,
    runs: int = RUNS,
) -> Hits:
    """Return the hits of all trials a trip asks for; quick: their closed-form probabilities, nothing simulated.

    state: checkpoint of interrupted work; new results are stored there. The same trip and runs give the same hits for
    any number of threads, and after any interruption.
    """
    depths = _depths(trip)

    def of(k: int) -> _Slice:
        if progress:
            progress("passes", k, len(depths))
        way, kept = Way(_scene_of(trip, depths[k])), {} if quick or state is None else _kept(state, trip, k)
        if not quick and len(kept) < len(_names(trip, k)):
            kept = simulated.results([way], trip, k, _kinds(trip, depths[k]), threads, (0, runs, runs))[0]
            if state is not None:
                state.save({name: seen.plain() for name, seen in kept.items()})
        return _slice(way, trip, k, runs, kept)

    each = range(len(depths))
    return _gathered(trip, workers.in_threads(of, each) if quick else [of(k) for k in each], quick)


def turned(
    trip: Trip, turns: Sequence[Turned | None], *, threads: int | None = None, quick: bool = False, runs: int = RUNS
) -> list[Hits]:
    """Return the hits of a trip of one depth with assumptions changed (None: none), on the same grounds where possible.

    Those that change the ground, or the elements, have to be asked for by themselves.
    """
    # The scenario of a changed assumption is that of a day with one depth.
    depth = _depths(trip)[0]
    usual, standing = _scene_of(trip, depth), trip.day.standing is not None
    ways = []
    for turn in turns:
        if turn is None:
            ways.append(Way(usual))
            continue
        at = scene(turn.scenario, keep_structures=standing)
        ways.append(Way(at, turn.gain, usual if turn.noise_alone else None))
    kinds = _kinds(trip, depth)
    found = [{} for _ in ways] if quick else simulated.results(ways, trip, 0, kinds, threads, (0, runs, runs))
    return [_gathered(trip, [_slice(way, trip, 0, runs, seen)], quick) for way, seen in zip(ways, found, strict=True)]


def _gathered(trip: Trip, result: list["_Slice"], quick: bool) -> Hits:
    """Return the results of all slices as one."""
    share = np.array([float(q.share) for q in trip.species])
    spots = [one.spots for one in result]
    return Hits(
        elements=tuple(str(e.name) for e in trip.element),
        edges=day.edges(trip),
        species=tuple(str(q.name) for q in trip.species),
        share=share / share.sum(),
        detected=np.stack([np.stack([s.detected for s in row], axis=1) for row in spots], axis=1),
        separated=np.stack([np.stack([s.separated for s in row], axis=1) for row in spots], axis=1),
        fish_depth=np.array([one.fish_depth for one in result]),
        false_alarms=np.mean([s.false for row in spots for s in row], axis=0),
        swath=np.stack([one.swath.detected for one in result], axis=1),
        width=np.array([one.width for one in result]),
        smallest=np.array([one.smallest for one in result]).T,
        reach=np.array([one.reach for one in result]).T,
        resolution=result[-1].resolution,
        quick=quick,
        reach_band=np.array([one.reach_band for one in result]).transpose(1, 2, 0),
    )


@dataclass(frozen=True)
class _Slice:
    """Results of one slice; see `Hits`."""

    spots: list[Seen]
    fish_depth: list[FloatArray]
    swath: Seen
    width: float
    smallest: list[float]
    reach: list[float]
    reach_band: list[list[float]]
    resolution: FloatArray


def _depths(trip: Trip) -> list[float]:
    """Return the depth of the bottom in the middle of each slice [m]."""
    edges = day.edges(trip)
    return [float(0.5 * (a + b)) for a, b in zip(edges[:-1], edges[1:], strict=True)]


def _scene_of(trip: Trip, depth: float) -> Scene:
    return scene(day.scenario(trip, depth), keep_structures=trip.day.standing is not None)


def _kinds(trip: Trip, depth: float) -> list[Species]:
    return [day.species(trip, entry, depth) for entry in trip.species]


def _names(trip: Trip, k: int) -> list[str]:
    """Return under which names the passes of a slice are stored: those of each species, then those at offsets.

    Schools have none: only closed forms know them.
    """
    alone = [entry.size is None for entry in trip.species]
    names = [f"{simulated.BATCHES * k + q}" for q, one in enumerate(alone) if one]
    return [*names, f"{k} swath"] if alone[day.main_species(trip)] else names


def _kept(state: Checkpoint, trip: Trip, k: int) -> dict[str, Seen]:
    """Return the passes of a slice that are stored."""
    stored = {name: state.get(name) for name in _names(trip, k)}
    return {name: simulated.from_plain(data) for name, data in stored.items() if data is not None}


def work(job: tuple[Trip, int, int, int]) -> dict[str, dict[str, Any]]:
    """Return what some passes in one slice leave, by name.

    job: the trip, the slice's number, the part's (of PARTS), and runs a species.
    """
    trip, k, part, runs = job
    ends = [round(runs * n / PARTS) for n in range(PARTS + 1)]
    depth = _depths(trip)[k]
    some = (ends[part], ends[part + 1], runs)
    seen = simulated.results([Way(_scene_of(trip, depth))], trip, k, _kinds(trip, depth), 1, some)[0]
    return {name: one.plain() for name, one in seen.items()}


def elsewhere(
    trip: Trip,
    team: workers.Team,
    state: Checkpoint,
    *,
    progress: Progress | None = None,
    runs: int = RUNS,
) -> None:
    """Have a team do the passes that are not done; keep in state what comes, so that `run` has it."""
    slices = [k for k in range(len(_depths(trip))) if len(_kept(state, trip, k)) < len(_names(trip, k))]
    jobs = [(trip, k, part, runs) for k in slices for part in range(PARTS)]
    missing = [job for job in jobs if state.get(_part(job[1], job[2])) is None]
    for done, (job, made) in enumerate(zip(missing, team.map(work, missing), strict=True), 1):
        state.save({_part(job[1], job[2]): made})
        _join(trip, job[1], state)
        if progress:
            progress("passes", done, len(missing))


def _part(k: int, part: int) -> str:
    """Return under which name a part of the runs of a slice is stored until all are there."""
    return f"{k} part {part}"


def _join(trip: Trip, k: int, state: Checkpoint) -> None:
    """Store the passes of a slice whose parts are all there, instead of the parts."""
    names = [_part(k, part) for part in range(PARTS)]
    parts = [state.get(name) for name in names]
    if any(part is None for part in parts):
        return
    whole: dict[str, Any] = {
        name: simulated.joined([simulated.from_plain(part[name]) for part in parts]).plain() for name in _names(trip, k)
    }
    state.save(whole | dict.fromkeys(names))


def _slice(way: Way, trip: Trip, k: int, runs: int, seen: Mapping[str, Seen]) -> _Slice:
    """Return the results of a slice from its passes, by name; what was not simulated is computed from formulas."""
    at, depth, main = way.at, _depths(trip)[k], day.main_species(trip)
    kinds, formulas = simulated.louder(_kinds(trip, depth), way.gain), _Formulas(at, int(trip.seed))
    kind, each = kinds[main], range(len(at.names))
    wide = simulated.SWATH_RUNS if f"{k} swath" in seen else CLOSED_RUNS
    *spots, swath = simulated.series_of(at, trip, k, kinds, runs, wide)
    return _Slice(
        [seen.get(series.name) or formulas.seen(series) for series in spots],
        [series.fish.depth for series in spots],
        seen.get(swath.name) or formulas.seen(swath),
        simulated.searched(at, kind) / max(nominal_depth(at, kind), 0.1),
        [_smallest(at, kind, i) for i in each],
        [_reach(at, kind, i) / (depth - at.face) for i in each],
        [[_reach(in_noise(at, band), kind, i) / (depth - at.face) for i in each] for band in ("louder", "quieter")],
        np.array([point_width(header.info) for header in at.headers]),
    )


@dataclass(frozen=True)
class _Formulas:
    """The trials of one slice by closed form."""

    at: Scene
    seed: int

    def seen(self, series: Series) -> Seen:
        """Return the probabilities of passes over some fish."""
        both, none = self._chances(series), np.zeros(len(self.at.names))
        return Seen(both[:, 0], both[:, 0] if series.offsets else both[:, 1], none)

    @cached_property
    def _bottoms(self) -> list[ahead.Ahead]:
        """Where the bottom's echo begins for each element, by closed form."""
        return [ahead.of(self.at, index) for index in range(len(self.at.names))]

    def _chances(self, series: Series) -> FloatArray:
        """Return closed-form probabilities (element, detected | separated, run)."""
        pings, rows = passes.lay_out(self.at, series.kind, series.fish, self.seed, series.batch, alone=True), []
        for index in range(len(self.at.names)):
            chances = school.chances(self.at, index, series.kind, pings, self._bottoms[index])
            pair = (chances.detected, chances.separated)
            rows.append([theory.of_trials(pings, chances.detected, counted, "pass", SEEN) for counted in pair])
        return np.array(rows)


def _smallest(at: Scene, species: Species, index: int) -> float:
    """Return the smallest fish [m] straight below that one pass in two shows, by closed form; infinite if none."""
    result = SmallestFish().closed_in(at, species, Place(0.0, 0.0), index, "pass")
    return result if np.isfinite(result) else float("inf")


def _reach(at: Scene, species: Species, index: int) -> float:
    """Return the depth [m] to which one ping in two shows the fish, by closed form."""
    chance = chance_at(at, replace(simulated.question(at, species), measure="reach"), index, DEPTHS)
    return float(DEPTHS[np.flatnonzero(chance >= 0.5)[-1]]) if (chance >= 0.5).any() else 0.0
