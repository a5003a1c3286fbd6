"""Trials of all elements, batch by batch, until enough is known; their checkpoint.

In a pass the pings nearest to the fish are simulated first; the others only while the pass has not met its rule. More
hits never undo it, so nothing is lost by that.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import reduce
from typing import Any, Protocol

import numpy as np

from pingwright import seeds
from pingwright.echograms.record import FloatArray
from pingwright.measure import intervals
from pingwright.measure import passes as rule
from pingwright.trials import passes
from pingwright.trials.passes import IntArray, Pings
from pingwright.trials.placement import BoolArray, Fish, Species
from pingwright.trials.scene import Scene, single
from pingwright.trials.sight import Eye, Ground, Sight, View, ground_of, view_of

#: Trials that share a world, and trials judged between two looks at the verdict.
WORLD, BATCH = 256, 32
#: Trials that are repeated without their fish, for false alarms.
BLANKS = 64
#: Pings of a pass that are simulated at a time: so many nearest to the fish, then so many more.
GROUPS = (8, 8, 16, 32, 64, 4096)

Keep = Callable[[Mapping[str, Any]], None]
Tell = Callable[[int, int], None]


class Judge(Protocol):
    """What counts as a hit."""

    def hit(self, sight: Sight) -> BoolArray:
        """Return which pings hit (n)."""

    def in_pass(self, detected: BoolArray, counted: BoolArray) -> BoolArray:
        """Return which passes hit (trial), from their pings (trial, ping)."""


@dataclass(frozen=True)
class Settings:
    """How trials go: at most so many runs, confidence of the intervals, seed, threads (None: one a core).

    kept: counts to resume from; keep: called with them after every batch; tell: with what is done and what there is.
    The result depends neither on where the work was stopped nor on threads.
    """

    runs: int
    confidence: float
    seed: int
    threads: int | None = None
    kept: Mapping[str, Any] | None = None
    keep: Keep | None = None
    tell: Tell | None = None


@dataclass(frozen=True)
class Batch:
    """What some trials gave.

    hit, shown (element, trial): the measure's hit, and whether the fish is detected; blank (element, blank trial): hits
    without the fish. pings, lost (element): pings judged, and those of them that show no bottom.
    """

    hit: BoolArray
    shown: BoolArray
    blank: BoolArray
    pings: IntArray
    lost: IntArray


@dataclass(frozen=True)
class Tally:
    """Counts so far: runs, hits of each element; gains, losses: only the first, only the second element hit.

    false: hits of each element in so many blanks, trials without the fish; pings, lost: of each element, as in `Batch`.
    """

    runs: int = 0
    hits: tuple[int, ...] = ()
    gains: int = 0
    losses: int = 0
    false: tuple[int, ...] = ()
    blanks: int = 0
    pings: tuple[int, ...] = ()
    lost: tuple[int, ...] = ()

    def plus(self, more: Batch) -> "Tally":
        """Return the counts with one more batch."""
        first, last = more.hit[0], more.hit[-1]
        return Tally(
            runs=self.runs + more.hit.shape[1],
            hits=_sum(self.hits, more.hit.sum(axis=1)),
            gains=self.gains + int((first & ~last).sum()),
            losses=self.losses + int((last & ~first).sum()),
            false=_sum(self.false, more.blank.sum(axis=1)),
            blanks=self.blanks + more.blank.shape[1],
            pings=_sum(self.pings, more.pings),
            lost=_sum(self.lost, more.lost),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return it as plain data."""
        return asdict(self)

    def share(self, element: int = 0) -> float:
        """Return the share of an element's hits [1], nan without runs."""
        return self.hits[element] / self.runs if self.runs else float("nan")

    def interval(self, *, difference: bool, confidence: float, sequence: bool) -> tuple[float, float]:
        """Return the interval of the first element's probability, or of the first less the second.

        sequence: always valid, however often one looks; else of a fixed number of runs. A difference is a sequence.
        """
        if difference:
            return intervals.difference_sequence(self.gains, self.losses, self.runs, confidence)
        make = intervals.probability_sequence if sequence else intervals.clopper_pearson
        return make(self.hits[0] if self.hits else 0, self.runs, confidence)


def _sum(old: tuple[int, ...], new: IntArray) -> tuple[int, ...]:
    return tuple(int(n) + (old[i] if old else 0) for i, n in enumerate(new))


def from_dict(data: Mapping[str, Any]) -> Tally:
    """Return a tally kept by `Tally.to_dict` (through JSON)."""
    plain: dict[str, Any] = {key: tuple(value) if isinstance(value, list) else value for key, value in data.items()}
    return Tally(**plain)


class Trials:
    """Some trials laid out, every element ready to look at them; ground, fish and noise are those of seed and batch."""

    def __init__(
        self, at: Scene, species: Species, fish: Fish, seed: int, batch: int, judge: Judge, *, over: str = "pass",
        seabed: bool = True, threads: int | None = None, room: FloatArray | None = None,
    ) -> None:  # fmt: skip
        """Lay some trials out. seabed: whether there is one; room: see `passes.lay_out`."""
        self._judge, self._over, self._species, self._threads = judge, over, species, threads
        self.pings = passes.lay_out(at, species, fish, seed, batch, over, room)
        self._alone = [single(at, e) for e in range(len(at.elements))]
        self._seed = seeds.key(seed, "placement", -3, batch) & (2**63 - 1)
        self.views = [
            view_of(alone, self.pings, heard, seabed=seabed)
            for alone, heard in zip(self._alone, self.pings.heard, strict=True)
        ]
        self._grounds: dict[int, Ground] = {}
        self._eyes: dict[int, Eye] = {}
        self._ranks = [_ranks(self.pings, e) for e in range(len(at.elements))]

    def share_ground_with(self, others: "Sequence[Trials]") -> None:
        """Let trials on the same track have one ground: what is asked of one need not be simulated for the others."""
        everyone = (self, *others)
        views = [reduce(View.__or__, (one.views[e] for one in everyone)) for e in range(len(self.views))]
        for one in everyone:
            one._grounds, one.views = self._grounds, views

    def look(self, trials: IntArray, blanks: IntArray) -> Batch:
        """Return what some trials give, and some of them without their fish."""
        elements = range(len(self._alone))
        rows = [self._hits(e, trials, fish=True) for e in elements]
        empty = [self._hits(e, blanks, fish=False) for e in elements]
        return Batch(
            np.array([hit for hit, _, _, _ in rows]),
            np.array([shown for _, shown, _, _ in rows]),
            np.array([hit for hit, _, _, _ in empty]).reshape(len(rows), len(blanks)),
            np.array([pings for _, _, pings, _ in rows]),
            np.array([lost for _, _, _, lost in rows]),
        )

    def _eye(self, element: int) -> Eye:
        if element not in self._eyes:
            at, view = self._alone[element], self.views[element]
            if element not in self._grounds:
                self._grounds[element] = ground_of(at, self._species, self.pings, view, self._seed, self._threads)
            ground = self._grounds[element]
            self._eyes[element] = Eye(at, self._species, self.pings, self._seed, ground, view.free)
        return self._eyes[element]

    def _hits(self, element: int, trials: IntArray, *, fish: bool) -> tuple[BoolArray, BoolArray, int, int]:
        """Return hits and detections (trial), and the number of pings judged and of those without a bottom."""
        pings, rank = self.pings, self._ranks[element]
        most = int(np.max(np.diff(pings.first)[trials], initial=0))
        detected, counted = np.zeros((2, len(trials), most), dtype=bool)
        met: BoolArray = np.zeros(len(trials), dtype=bool)
        judged, lost, low = 0, 0, 0
        row = np.full(len(pings.fish), -1)
        row[trials] = np.arange(len(trials))
        for size in GROUPS:
            live = np.zeros(len(pings.fish), dtype=bool)
            live[trials[~met]] = True
            which = np.flatnonzero((rank >= low) & (rank < low + size) & live[pings.trial])
            low += size
            if not len(which):
                continue
            seen = self._eye(element).look(which, self._judge.hit, fish=fish)
            place = row[pings.trial[which]], which - pings.first[pings.trial[which]]
            detected[place], counted[place] = seen.detected, seen.counted
            judged, lost = judged + len(which), lost + int(seen.no_bottom.sum())
            met = self._judge.in_pass(detected, counted) if self._over == "pass" else np.asarray(counted.any(axis=1))
        shown = met | (rule.in_pass(detected) if self._over == "pass" else detected.any(axis=1))
        return met, np.asarray(shown), judged, lost


def _ranks(pings: Pings, element: int) -> IntArray:
    """Return the place of each ping in its trial's order of nearness to the fish (ping), -1 where it is not heard."""
    off, trial, heard = pings.off[element], pings.trial, pings.heard[element]
    rank = np.full(len(trial), -1)
    best = np.minimum.reduceat(off, pings.first[:-1]) if len(off) else off
    at_best = np.flatnonzero(off == best[trial])
    middle = np.zeros(len(pings.fish), dtype=np.int64)
    middle[trial[at_best]] = at_best
    away = np.abs(np.arange(len(trial)) - middle[trial])
    which = np.flatnonzero(heard)
    order = which[np.lexsort((which, away[which], trial[which]))]
    start = np.concatenate([[0], np.cumsum(np.bincount(trial[order], minlength=len(pings.fish)))])
    rank[order] = np.arange(len(order)) - start[trial[order]]
    return rank


Draw = Callable[[int, int], Fish]


def batches(
    at: Scene, species: Species, draw: Draw, settings: Settings, judge: Judge, *, over: str = "pass",
    seabed: bool = True, blanks: int = BLANKS, first: int = 0,
) -> Iterator[Batch]:  # fmt: skip
    """Yield trial after trial, BATCH at a time, to the settings' runs; the caller stops when it knows enough.

    draw(batch, count): the fish of one world's trials. first: run to resume at, a multiple of BATCH. The first `blanks`
    trials are repeated without their fish. The same arguments but threads: the same batches.
    """
    for world in range(first // WORLD, -(-settings.runs // WORLD)):
        start = world * WORLD
        count = min(WORLD, settings.runs - start)
        trials = Trials(
            at, species, draw(world, count), settings.seed, world, judge, over=over, seabed=seabed,
            threads=settings.threads,
        )  # fmt: skip
        for low in range(max(first - start, 0), count, BATCH):
            some = np.arange(low, min(low + BATCH, count))
            yield trials.look(some, some[start + some < blanks])


def count(
    at: Scene, species: Species, draw: Draw, settings: Settings, judge: Judge, certain: Callable[[Tally], bool],
    *, over: str = "pass", seabed: bool = True, blanks: int = BLANKS,
) -> Tally:  # fmt: skip
    """Return the counts when `certain` holds of them and all blanks are judged, or all runs are used."""
    tally = from_dict(settings.kept) if settings.kept else Tally()
    wanted = min(blanks, settings.runs)

    def enough(so_far: Tally) -> bool:
        return so_far.runs >= settings.runs or (so_far.blanks >= wanted and certain(so_far))

    if enough(tally):
        return tally
    for more in batches(at, species, draw, settings, judge, over=over, seabed=seabed, blanks=wanted, first=tally.runs):
        tally = tally.plus(more)
        if settings.keep:
            settings.keep(tally.to_dict())
        if settings.tell:
            settings.tell(tally.runs, settings.runs)
        if enough(tally):
            break
    return tally
