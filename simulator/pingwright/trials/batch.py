"""Trials of all elements, batch by batch, until enough is known; their checkpoint.

In a pass the pings nearest to the fish are simulated first, the others only while the pass has not met its rule. More
hits never undo it, so the result is the same.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from functools import reduce
from typing import Any

import numpy as np

from pingwright import seeds
from pingwright.inputs.claims import Over
from pingwright.measure import intervals
from pingwright.measure.rules import SEEN, Rule
from pingwright.trials import passes
from pingwright.trials.ground import Bank, View
from pingwright.trials.passes import IntArray, Pings
from pingwright.trials.placement import WORLD, BoolArray, Fish, Species
from pingwright.trials.scene import Scene, single
from pingwright.trials.sight import Eye, Sight, view_of

#: Number of trials between two looks at the verdict.
BATCH = 32
#: Number of trials that are repeated without their fish, for false alarms.
BLANKS = 64
#: Number of pings of a pass that are simulated first: those nearest to the fish.
FIRST = 8

Keep = Callable[[Mapping[str, Any]], None]
Tell = Callable[[int, int], None]


@dataclass(frozen=True)
class Judge:
    """What counts as a hit: which pings hit (n), of what is seen of them, and the rule over those of a pass."""

    hit: Callable[[Sight], BoolArray]
    rule: Rule = SEEN


@dataclass(frozen=True)
class Settings:
    """Settings of trials: most runs, confidence of the intervals, seed, threads (None: one for each core).

    kept: counts to resume from; keep: called with them after every batch; tell: called with the number done and the
    total. held: grounds to share. The result does not depend on interruptions, threads or shared grounds.
    """

    runs: int
    confidence: float
    seed: int
    threads: int | None = None
    kept: Mapping[str, Any] | None = None
    keep: Keep | None = None
    tell: Tell | None = None
    held: Bank | None = None

    @property
    def bank(self) -> Bank:
        """The shared bank of grounds, or a new one."""
        return self.held or Bank(self.threads)

    def sharing(self) -> "Settings":
        """Return the same settings with a bank, so that all questions with these settings share its grounds."""
        return self if self.held else replace(self, held=Bank(self.threads))


@dataclass(frozen=True)
class Batch:
    """Results of some trials.

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

    false: hits of each element in the blanks, which are trials without the fish; pings, lost: of each element, as in
    `Batch`.
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
        """Return the interval of the first element's probability, or of the first minus the second.

        sequence: valid at every look; else for a fixed number of runs. A difference always has a sequence.
        """
        if difference:
            return intervals.difference_sequence(self.gains, self.losses, self.runs, confidence)
        make = intervals.probability_sequence if sequence else intervals.clopper_pearson
        return make(self.hits[0] if self.hits else 0, self.runs, confidence)


def _sum(old: tuple[int, ...], new: IntArray) -> tuple[int, ...]:
    return tuple(int(n) + (old[i] if old else 0) for i, n in enumerate(new))


def from_dict(data: Mapping[str, Any]) -> Tally:
    """Return a tally from the plain data of `Tally.to_dict` (through JSON)."""
    plain: dict[str, Any] = {key: tuple(value) if isinstance(value, list) else value for key, value in data.items()}
    return Tally(**plain)


class Trials:
    """Some prepared trials, with every element; ground, fish and noise follow from seed and batch."""

    def __init__(
        self, at: Scene, species: Species, fish: Fish, seed: int, batch: int, judge: Judge, bank: Bank, *,
        over: Over = "pass", seabed: bool = True, noise_of: Scene | None = None, room: float = 0.0,
    ) -> None:  # fmt: skip
        """Lay some trials out. seabed: whether there is one.

        noise_of: a scene that differs from this one in its noise alone, whose grounds are used, their noise turned.
        room: see `passes.lay_out`.
        """
        self._judge, self._over, self._species, self._bank = judge, over, species, bank
        self.pings = passes.lay_out(at, species, fish, seed, batch, over, room=room)
        self._alone = [single(at, e) for e in range(len(at.elements))]
        self._under = self._alone if noise_of is None else [single(noise_of, e) for e in range(len(at.elements))]
        self._seed = seeds.key(seed, "placement", -3, batch) & (2**63 - 1)
        self.views = [
            view_of(alone, self.pings, heard, seabed=seabed)
            for alone, heard in zip(self._alone, self.pings.heard, strict=True)
        ]
        self._eyes: dict[int, Eye] = {}
        self._ranks = [_ranks(self.pings, e) for e in range(len(at.elements))]

    def share_views_with(self, others: "Sequence[Trials]") -> None:
        """Let trials on the same route share one record, and so one ground."""
        everyone = (self, *others)
        views = [reduce(View.__or__, (one.views[e] for one in everyone)) for e in range(len(self.views))]
        for one in everyone:
            one.views = views

    def look(self, trials: IntArray, blanks: IntArray) -> Batch:
        """Return the results of some trials, and of some of them without their fish."""
        elements = range(len(self._alone))
        rows = [self._hits(e, trials, fish=True) for e in elements]
        empty = [self._hits(e, blanks, fish=False) for e in elements]
        self._bank.tidy()
        return Batch(
            np.array([hit for hit, _, _, _ in rows]),
            np.array([shown for _, shown, _, _ in rows]),
            np.array([hit for hit, _, _, _ in empty]).reshape(len(rows), len(blanks)),
            np.array([pings for _, _, pings, _ in rows]),
            np.array([lost for _, _, _, lost in rows]),
        )

    def _eye(self, element: int) -> Eye:
        if element not in self._eyes:
            under, view = self._under[element], self.views[element]
            ground = self._bank.ground(under, self.pings.route, view, self._seed)
            turned, threads = under is not self._alone[element], self._bank.threads
            self._eyes[element] = Eye(
                self._alone[element], self._species, self.pings, ground, view, turned=turned, threads=threads
            )
        return self._eyes[element]

    def _hits(self, element: int, trials: IntArray, *, fish: bool) -> tuple[BoolArray, BoolArray, int, int]:
        """Return hits and detections (trial), and the number of pings judged and of those without a bottom."""
        pings, rule = self.pings, self._judge.rule
        row = np.full(len(pings.fish), -1)
        row[trials] = np.arange(len(trials))
        # Pings before the first and after the last that may show a fish change no row of detections.
        column = np.arange(len(pings.trial)) - pings.first[pings.trial]
        used = column[pings.heard[element] & (row[pings.trial] >= 0)]
        low, most = int(used.min(initial=len(column))), int(used.max(initial=-1)) + 1
        detected, counted = np.zeros((2, len(trials), max(most - low, 0)), dtype=bool)
        place = row[pings.trial], column, column - low
        search = _Search(self._ranks[element], place, rule, fish=fish, single=self._over == "ping")
        met: BoolArray = np.zeros(len(trials), dtype=bool)
        judged, lost = 0, 0
        while len(which := search.next(met, detected)):
            seen = self._eye(element).look(which, self._judge.hit, fish=fish)
            at = place[0][which], place[2][which]
            detected[at], counted[at] = seen.detected, seen.counted
            judged, lost = judged + len(which), lost + int(seen.no_bottom.sum())
            met = rule.met(detected, counted) if self._over == "pass" else np.asarray(counted.any(axis=1))
        shown = met | (rule.met(detected) if self._over == "pass" else detected.any(axis=1))
        return met, np.asarray(shown), judged, lost


class _Search:
    """Which pings of passes are judged next, until every pass has met its rule or cannot meet it.

    First the pings nearest to the fish, if there is one. Then a few of the others, chosen so that no pass that meets
    the rule is missed (`Rule.sparse`). Then those that may decide it together with a detection (`Rule.near`). The
    answer is the same as for all pings.
    """

    def __init__(
        self, rank: IntArray, place: tuple[IntArray, IntArray, IntArray], rule: Rule, *, fish: bool, single: bool
    ) -> None:
        """Take all pings. rank (ping): see `_ranks`; place: row (-1 in trials not asked for), number, column of each.

        number: in its trial; column: in the table of those that may show a fish.
        """
        self._row, self._number, self._column, self._rank, self._rule = *place, rank, rule
        self._left = (rank >= 0) & (self._row >= 0)
        self._stages = ([FIRST] if fish and not single else []) + [len(rank)] * single
        self._sparse = False

    def next(self, met: BoolArray, detected: BoolArray) -> IntArray:
        """Return the next pings to judge, rising; none if all is known."""
        self._left[self._left] = ~met[self._row[self._left]]
        if self._stages:
            return self._taken(self._left & (self._rank < self._stages.pop(0)), met, detected)
        if not self._sparse:
            self._sparse = True
            return self._taken(self._left & self._rule.sparse(self._number), met, detected)
        near = self._rule.near(detected)
        which = np.flatnonzero(self._left)
        some = np.zeros_like(self._left)
        some[which] = near[self._row[which], self._column[which]]
        return self._take(some)

    def _taken(self, some: BoolArray, met: BoolArray, detected: BoolArray) -> IntArray:
        return self._take(some) if some.any() else self.next(met, detected)

    def _take(self, some: BoolArray) -> IntArray:
        self._left &= ~some
        return np.flatnonzero(some)


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
    at: Scene, species: Species, draw: Draw, settings: Settings, judge: Judge, *, over: Over = "pass",
    seabed: bool = True, blanks: int = BLANKS, first: int = 0, noise_of: Scene | None = None,
) -> Iterator[Batch]:  # fmt: skip
    """Yield trial after trial, BATCH at a time, to the settings' runs; the caller stops when it knows enough.

    draw(batch, count): the fish of one world's trials. first: run to resume at, a multiple of BATCH. The first `blanks`
    trials are repeated without their fish. noise_of: see `Trials`. The same arguments but threads: the same batches.
    """
    bank = settings.bank
    for world in range(first // WORLD, -(-settings.runs // WORLD)):
        start = world * WORLD
        count = min(WORLD, settings.runs - start)
        trials = Trials(
            at, species, draw(world, count), settings.seed, world, judge, bank, over=over, seabed=seabed,
            noise_of=noise_of,
        )  # fmt: skip
        for low in range(max(first - start, 0), count, BATCH):
            some = np.arange(low, min(low + BATCH, count))
            yield trials.look(some, some[start + some < blanks])


def count(
    at: Scene, species: Species, draw: Draw, settings: Settings, judge: Judge, certain: Callable[[Tally], bool],
    *, over: Over = "pass", seabed: bool = True, blanks: int = BLANKS,
) -> Tally:  # fmt: skip
    """Return the counts when `certain` is true for them and all blanks are judged, or when all runs are used."""
    tally = from_dict(settings.kept) if settings.kept else Tally()
    needed = min(blanks, settings.runs)

    def enough(so_far: Tally) -> bool:
        return so_far.runs >= settings.runs or (so_far.blanks >= needed and certain(so_far))

    if enough(tally):
        return tally
    for more in batches(at, species, draw, settings, judge, over=over, seabed=seabed, blanks=needed, first=tally.runs):
        tally = tally.plus(more)
        if settings.keep:
            settings.keep(tally.to_dict())
        if settings.tell:
            settings.tell(tally.runs, settings.runs)
        if enough(tally):
            break
    return tally
