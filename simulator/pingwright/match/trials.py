"""All trials of a trip, by passes at the day's speed, gathered into Hits; or their probabilities by closed form."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import Any

import numpy as np

from pingwright import workers
from pingwright.checkpoint import Checkpoint
from pingwright.echograms.record import FloatArray
from pingwright.inputs.trip import Trip
from pingwright.match.hits import Hits
from pingwright.measure.filters import point_width
from pingwright.measure.rules import SEEN
from pingwright.measures import ahead, school, theory
from pingwright.measures.asked import Question
from pingwright.measures.base import nominal_depth
from pingwright.measures.reach import DEPTHS, chance_at
from pingwright.measures.separated import Separated
from pingwright.measures.smallest_fish import SmallestFish
from pingwright.measures.swath import Swath
from pingwright.trials import day, passes, placement
from pingwright.trials.assumptions import Turned
from pingwright.trials.batch import Trials
from pingwright.trials.ground import Bank
from pingwright.trials.passes import edges as ends_of
from pingwright.trials.placement import Fish, Footprint, Place, Species
from pingwright.trials.scene import Scene, in_noise, scene

Progress = Callable[[str, int, int], None]

#: Passes of each species in each slice, passes for the swath, and passes repeated without fish.
RUNS, SWATH_RUNS, BLANKS = 14, 12, 4
#: Number of offsets for the closed form of a swath.
CLOSED_RUNS = 24


@dataclass(frozen=True)
class Seen:
    """Passes of one species in a slice: detected, separated (element, run), hits or probabilities; false (element)."""

    detected: FloatArray
    separated: FloatArray
    false: FloatArray


def run(
    trip: Trip,
    *,
    state: Checkpoint | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
    quick: bool = False,
    runs: int = RUNS,
    turn: Turned | None = None,
) -> Hits:
    """Return the hits of all trials a trip asks for; quick: their closed-form probabilities, nothing simulated.

    state: checkpoint of interrupted work; new results are stored there. turn: a changed assumption. The same trip and
    runs give the same hits for any number of threads, and after any interruption.
    """
    edges, slices = day.edges(trip), _depths(trip)

    def of(k: int) -> _Slice:
        if progress:
            progress("passes", k, len(slices))
        # The scenario of a changed assumption is that of a day with one depth.
        standing = trip.day.standing is not None
        at = scene(turn.scenario, keep_structures=standing) if turn else _scene_of(trip, slices[k])
        work = _Work(at, trip, threads, quick, turn.gain if turn else 0.0)
        return _slice(work, k, slices[k], runs, None if quick else state)

    each = range(len(slices))
    result = workers.in_threads(of, each) if quick else [of(k) for k in each]
    share = np.array([float(q.share) for q in trip.species])
    spots = [one.spots for one in result]
    return Hits(
        elements=tuple(str(e.name) for e in trip.element),
        edges=edges,
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


class _Gathered:
    """What trials leave, in memory: what a worker of a cluster hands back."""

    def __init__(self) -> None:
        self.values: dict[str, Any] = {}

    def get(self, name: str) -> Any:
        return self.values.get(name)

    def save(self, changes: Mapping[str, Any]) -> None:
        self.values.update(changes)


def work(job: tuple[Trip, int, int | None, int]) -> dict[str, Any]:
    """Return what the passes over one species in one slice leave, by name.

    job: the trip, the slice's number, the species' (None: the passes at offsets), and runs a species.
    """
    trip, k, which, runs = job
    depth, gathered = _depths(trip)[k], _Gathered()
    work_ = _Work(_scene_of(trip, depth), trip, 1, False, 0.0)
    kinds = _kinds(work_, depth)
    if which is None:
        _swath(work_, k, kinds, gathered)
    else:
        _spot(work_, kinds[which], 100 * k + which, runs, gathered)
    return gathered.values


def elsewhere(
    trip: Trip,
    cluster: str | None,
    state: Checkpoint,
    *,
    processes: int = 1,
    progress: Progress | None = None,
    runs: int = RUNS,
) -> None:
    """Have workers do the passes that are not done; keep in state what comes, so that `run` has it.

    cluster, processes: see `workers.team`.
    """
    jobs = [(trip, k, which, runs) for k, which in _missing(trip, state)]
    with workers.team(cluster, processes) as team:
        for done, made in enumerate(team.map(work, jobs), 1):
            state.save(made)
            if progress:
                progress("passes", done, len(jobs))


def _missing(trip: Trip, state: Checkpoint) -> list[tuple[int, int | None]]:
    """Return the passes that are not done: slice and species, None for those at offsets, which take longest."""
    slices = range(len(_depths(trip)))
    wide = [(k, None) for k in slices if state.get(f"{k} swath") is None]
    return wide + [(k, q) for k in slices for q in range(len(trip.species)) if state.get(f"{100 * k + q}") is None]


def _scene_of(trip: Trip, depth: float) -> Scene:
    return scene(day.scenario(trip, depth), keep_structures=trip.day.standing is not None)


def _kinds(work: "_Work", depth: float) -> list[Species]:
    return [replace(day.species(work.trip, entry, depth), gain=work.gain) for entry in work.trip.species]


def _swath(work: "_Work", k: int, kinds: list[Species], state: "Checkpoint | _Gathered | None") -> Seen:
    kind = kinds[day.main_species(work.trip)]
    return _once(state, f"{k} swath", partial(work.swath, kind, 100 * k + 99))


def _spot(
    work: "_Work", kind: Species, batch: int, runs: int, state: "Checkpoint | _Gathered | None"
) -> tuple[Fish, Seen]:
    fish = placement.draw(work.at, kind, None, int(work.trip.seed), batch, runs, prints=narrowest(work.at))
    return fish, _once(state, f"{batch}", partial(work.spot, kind, fish, batch))


def _slice(work: "_Work", k: int, depth: float, runs: int, state: Checkpoint | None) -> _Slice:
    kinds = _kinds(work, depth)
    spots = [_spot(work, kind, 100 * k + q, runs, state) for q, kind in enumerate(kinds)]
    at, kind = work.at, kinds[day.main_species(work.trip)]
    each = range(len(at.names))
    return _Slice(
        [seen for _, seen in spots],
        [fish.depth for fish, _ in spots],
        _swath(work, k, kinds, state),
        searched(at, kind) / max(nominal_depth(at, kind), 0.1),
        [_smallest(at, kind, i) for i in each],
        [_reach(at, kind, i) / (depth - at.face) for i in each],
        [[_reach(in_noise(at, band), kind, i) / (depth - at.face) for i in each] for band in ("louder", "quieter")],
        np.array([point_width(header.info) for header in at.headers]),
    )


def _once(state: Checkpoint | _Gathered | None, name: str, make: Callable[[], Seen]) -> Seen:
    """Return stored results of some trials, or compute and store them."""
    stored = None if state is None else state.get(name)
    if stored is not None:
        return Seen(*(np.array(stored[key]) for key in ("detected", "separated", "false")))
    made = make()
    if state is not None:
        state.save({name: {key: getattr(made, key).tolist() for key in ("detected", "separated", "false")}})
    return made


def narrowest(at: Scene) -> tuple[Footprint, ...]:
    """Return the footprint of the candidate that is narrowest across: fish are placed in it.

    If fish were placed over all footprints together, as in claims about several elements, the widest candidate would
    decide: with a tone of 50 kHz among them, only one fish in ten near the bottom would be where any element can show
    it.
    """
    return (min(placement.footprints(at), key=lambda p: p.half[1]),)


def searched(at: Scene, species: Species) -> float:
    """Return the width [m] over which offsets are drawn; the sides of a school also count."""
    return Swath().scale(at, _question(at, species)) + (0.0 if species.school is None else species.school.across)


def even_offsets(at: Scene, species: Species, fish: Fish) -> Fish:
    """Return the fish at even offsets over the whole width: less chance than at random, for the same mean."""
    share, (low, high) = (np.arange(len(fish)) + 0.5) / len(fish), ends_of(at)
    middle = 0.5 * (low + high) * nominal_depth(at, species)
    return replace(fish, across=middle + (share - 0.5) * searched(at, species))


def _question(at: Scene, species: Species) -> Question:
    return Question("", "swath", at.scenario, species)


@dataclass(frozen=True)
class _Work:
    """The trials of one slice."""

    at: Scene
    trip: Trip
    threads: int | None
    quick: bool
    gain: float

    def spot(self, species: Species, fish: Fish, batch: int) -> Seen:
        """Return the hits of passes over some fish."""
        at, seed = self.at, int(self.trip.seed)
        if self.quick or species.school is not None:
            both = self._chances(species, fish, batch)
            return Seen(both[:, 0], both[:, 1], np.zeros(len(at.names)))
        judge = Separated().judge(_question(at, species))
        trials = Trials(at, species, fish, seed, batch, judge, Bank(self.threads))
        seen = trials.look(np.arange(len(fish)), np.arange(min(BLANKS, len(fish))))
        return Seen(seen.shown.astype(float), seen.hit.astype(float), seen.blank.mean(axis=1))

    def swath(self, species: Species, batch: int) -> Seen:
        """Return the hits of passes at offsets over the width of all beams."""
        at, seed, swath = self.at, int(self.trip.seed), Swath()
        runs = CLOSED_RUNS if self.quick else SWATH_RUNS
        fish, none = swath.draw(at, _question(at, species), seed, batch, runs), np.zeros(len(at.names))
        fish = even_offsets(at, species, fish)
        if self.quick or species.school is not None:
            seen = self._chances(species, fish, batch)[:, 0]
            return Seen(seen, seen, none)
        trials = Trials(at, species, fish, seed, batch, swath.judge(_question(at, species)), Bank(self.threads))
        hit = trials.look(np.arange(len(fish)), np.arange(0)).hit.astype(float)
        return Seen(hit, hit, none)

    @cached_property
    def _bottoms(self) -> list[ahead.Ahead]:
        """Where the bottom's echo begins for each element, by closed form."""
        return [ahead.of(self.at, index) for index in range(len(self.at.names))]

    def _chances(self, species: Species, fish: Fish, batch: int) -> FloatArray:
        """Return closed-form probabilities (element, detected | separated, run)."""
        pings, rows = passes.lay_out(self.at, species, fish, int(self.trip.seed), batch, alone=True), []
        for index in range(len(self.at.names)):
            chances = school.chances(self.at, index, species, pings, self._bottoms[index])
            pair = (chances.detected, chances.separated)
            rows.append([theory.of_trials(pings, chances.detected, counted, "pass", SEEN) for counted in pair])
        return np.array(rows)


def _smallest(at: Scene, species: Species, index: int) -> float:
    """Return the smallest fish [m] straight below that one pass in two shows, by closed form; infinite if none."""
    result = SmallestFish().closed_in(at, species, Place(0.0, 0.0), index, "pass")
    return result if np.isfinite(result) else float("inf")


def _reach(at: Scene, species: Species, index: int) -> float:
    """Return the depth [m] to which one ping in two shows the fish, by closed form."""
    chance = chance_at(at, Question("", "reach", at.scenario, species), index, DEPTHS)
    return float(DEPTHS[np.flatnonzero(chance >= 0.5)[-1]]) if (chance >= 0.5).any() else 0.0
