"""The scene's own fish in fresh passes: the same places, a new ground, new noise, new postures in every pass.

The same rules as for marks in a recording (measure.marks) hold here. A pass is the complete run of the recording. Only
the pings that can still change a verdict are simulated: those nearest to each fish first, the others while the rule of
a pass is not met. More pings never undo it, so the result is the same. All elements pass over the same grounds and
fish.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from pingwright import costs, seeds
from pingwright.echograms.record import ElementRecord, FloatArray, FreshPasses
from pingwright.inputs.fields import known
from pingwright.measure import beside
from pingwright.measure.bottom import find, record_from
from pingwright.measure.cells import Grid, StoredArray, grid
from pingwright.measure.detect import FARTHER
from pingwright.measure.geometry import ground_range
from pingwright.measure.judgements import Trials
from pingwright.measure.marks import fish_trials
from pingwright.measure.rules import SEEN
from pingwright.measure.separated import score
from pingwright.recording import Prepared
from pingwright.recording.surroundings import LEAD, LEAD_CELLS, around, behind, near
from pingwright.trials.ground import JOB
from pingwright.trials.passes import IntArray
from pingwright.trials.placement import BoolArray
from pingwright.trials.sight import JUDGED

if TYPE_CHECKING:
    from pingwright.engine.preparing import Run

Keep = Callable[[Mapping[str, Any]], None]
Tell = Callable[[int, int], None]

#: Pings of a fish that are simulated at a time, the nearest first.
GROUPS = (8, 16, 32, 1 << 20)
#: Passes between two states of the checkpoint.
KEPT_EVERY = 4


@dataclass(frozen=True)
class _Seen:
    """Data of one element: its header with the range axis of a pass, and the pings to judge for each fish.

    rank (trial): place of a ping among those of its fish, the nearest first; beyond (ping): the bottom lies beyond the
    record.
    """

    header: ElementRecord
    cells: Grid
    trials: Trials
    rank: IntArray
    beyond: BoolArray


def seed_of(seed: int, number: int) -> int:
    """Return the seed of a fresh pass, from the scene's and the pass's number."""
    return seeds.key(seed, "pass", number) & (2**63 - 1)


class OwnFish:
    """The fish of a prepared scene, ready for repeated passes."""

    def __init__(self, prepared: Prepared) -> None:
        """Compute which pings may show which fish: the same in every pass."""
        from pingwright.engine.preparing import Run, prepare
        from pingwright.engine.settings import from_scenario
        from pingwright.engine.simulate import ranges

        self._prepared, header = prepared, prepared.header
        self._fish = len(header.truth.fish.id)
        pairs = [(e, fish_trials(e, header.truth, grid(e))) for e in header.elements]
        pairs = [(e, _ahead_of_the_bottom(e, trials)) for e, trials in pairs]
        settings = from_scenario(prepared.scenario, prepared.world)
        self._settings = replace(settings, window=_window(prepared, pairs))
        self._seen = []
        for (element, trials), built in zip(pairs, prepared.elements, strict=True):
            short = replace(element, range=ranges(built, self._settings))
            rank = _ranks(trials, header.truth.fish.nearest_ping[element.info.position])
            self._seen.append(_Seen(short, grid(short), trials, rank, ground_range(element) > element.range[-1]))
        self._near = [near(prepared, element, one.trials) for (element, _), one in zip(pairs, self._seen, strict=True)]
        self._base = Run(prepared.world, prepared.elements, self._settings)
        prepare(self._base)

    def passed(self, number: int) -> tuple[BoolArray, BoolArray]:
        """Return the results of one pass: detected, separated (element, fish). The same number gives the same bits."""
        from pingwright.world.build import build

        scenario = self._prepared.scenario
        seed = seed_of(int(scenario.seed), number)
        world = build(scenario, self._prepared.world.looks, seed, same_fish=True)
        run = self._base.redrawn(world, seed, keep=not scenario.school)
        judged = [_Judged(seen, self._fish) for seen in self._seen]
        whole = self._alone(run)
        low = 0
        for size in GROUPS:
            due = [one.due(low, low + size) for one in judged]
            low += size
            for pings in _blocks(np.unique(np.concatenate(due))):
                for e, (held, levels) in _levels(run, pings, due).items():
                    judged[e].judge(held, levels, partial(self._around, whole, e) if whole else None)
        return np.array([one.detected for one in judged]), np.array([one.separated for one in judged])

    def _alone(self, run: "Run") -> dict[bool, "Run"]:
        """Return the runs without fish that are needed: with steep ground (True), of structures (False)."""
        fish = self._prepared.header.truth.fish.id
        return {
            ground: run.around(fish, ground=ground)
            for ground, at in zip((True, False), zip(*self._near, strict=True), strict=True)
            if any(len(one) for one in at)
        }

    def _around(self, whole: Mapping[bool, "Run"], e: int, at: IntArray) -> FloatArray:
        """Return what all but fish sends back from around trials at these places, nan where nothing is as near."""
        trials = self._seen[e].trials
        result = np.full((len(at), beside.COLUMNS), np.nan)
        for ground, close in zip((True, False), self._near[e], strict=True):
            place = np.flatnonzero(np.isin(at, close))
            if len(place):
                due = {e: (self._seen[e].cells, trials.keep(at[place]))}
                result[place] = around(whole[ground], due, 1)[e]
        return result


class _Judged:
    """Results of one element so far in one pass."""

    def __init__(self, seen: _Seen, fish: int) -> None:
        self._seen, self._fish = seen, fish
        self._shown, self._clear, self._done = np.zeros((3, len(seen.trials)), dtype=bool)

    @property
    def detected(self) -> BoolArray:
        """Which fish are detected in the pass (fish), from the pings judged so far."""
        return SEEN.met(self._table(self._shown))

    @property
    def separated(self) -> BoolArray:
        """Which fish are separated in the pass (fish), from the pings judged so far."""
        return SEEN.met(self._table(self._shown), self._table(self._clear))

    def _table(self, values: BoolArray) -> BoolArray:
        return self._seen.trials.table(values, self._fish)

    def due(self, low: int, high: int) -> IntArray:
        """Return the pings of ranks low .. high of fish that may still become separated, each once."""
        trials, rank = self._seen.trials, self._seen.rank
        which = ~self.separated[trials.owner] & ~self._done & (rank >= low) & (rank < high)
        return np.unique(trials.ping[which])

    def judge(self, pings: IntArray, stored: StoredArray, around: Callable[[IntArray], FloatArray] | None) -> None:
        """Judge all fish that these pings may show; stored: levels (ping, sample).

        around: gives what all but fish sends back from around trials, by their places; None if nothing is near any.
        """
        seen, at = self._seen, np.flatnonzero(np.isin(self._seen.trials.ping, pings))
        trials, bottom = seen.trials.keep(at), find(stored, seen.cells)
        row = np.searchsorted(pings, trials.ping)
        one = score(
            stored, seen.cells, bottom, row, trials.range, trials.within, beyond=seen.beyond[pings],
            around=None if around is None else around(at),
        )  # fmt: skip
        self._shown[at], self._clear[at], self._done[at] = one.detected, one.separated, True


def fresh_passes(
    prepared: Prepared,
    count: int,
    *,
    threads: int | None = None,
    kept: Mapping[str, Any] | None = None,
    keep: Keep | None = None,
    tell: Tell | None = None,
) -> FreshPasses:
    """Return the results of `count` fresh passes over the scene's own fish.

    kept: passes to resume from, as given to `keep`; tell: called with the number done and the total. The result does
    not depend on threads or interruptions.
    """
    done = _from_plain(kept or {}, count, (len(prepared.elements), len(prepared.header.truth.fish.id)))
    own = OwnFish(prepared)
    with ThreadPoolExecutor(costs.threads_of(threads)) as pool:
        try:
            for found in pool.map(own.passed, range(len(done), count)):
                done.append(found)
                if tell:
                    tell(len(done), count)
                if keep and (len(done) % KEPT_EVERY == 0 or len(done) == count):
                    keep(_plain(done))
        finally:
            pool.shutdown(cancel_futures=True)
    return FreshPasses(np.array([one[0] for one in done]), np.array([one[1] for one in done]))


def with_passes(
    prepared: Prepared,
    *,
    threads: int | None = None,
    kept: Mapping[str, Any] | None = None,
    keep: Keep | None = None,
    tell: Tell | None = None,
) -> Prepared:
    """Return a prepared scene whose header holds the fresh passes that its key `passes` asks for; see `fresh_passes`.

    Without that key the scene does not change; without fish a note is added instead.
    """
    count, header = prepared.scenario.passes, prepared.header
    if count is None:
        return prepared
    if not len(header.truth.fish.id):
        note = f"passes = {count}, but the scene has no single fish to count in the fresh passes."
        return replace(prepared, header=replace(header, warnings=(*header.warnings, note)))
    result = fresh_passes(prepared, int(count), threads=threads, kept=kept, keep=keep, tell=tell)
    return replace(prepared, header=replace(header, passes=result))


def pings_of_a_pass(prepared: Prepared) -> int:
    """Return how many pings of all elements a fresh pass needs at most."""
    pairs = ((e, fish_trials(e, prepared.header.truth, grid(e))) for e in prepared.header.elements)
    return sum(len(np.unique(_ahead_of_the_bottom(e, trials).ping)) for e, trials in pairs)


def _plain(done: Sequence[tuple[BoolArray, BoolArray]]) -> dict[str, Any]:
    return {name: [one[k].astype(int).tolist() for one in done] for k, name in enumerate(("detected", "separated"))}


def _from_plain(kept: Mapping[str, Any], count: int, shape: tuple[int, int]) -> list[tuple[BoolArray, BoolArray]]:
    """Return the stored passes, at most `count`; none if they belong to another scene."""
    shown, clear = (np.array(kept.get(name, []), dtype=bool) for name in ("detected", "separated"))
    if shown.shape != clear.shape or shown.shape[1:] != shape:
        return []
    return list(zip(shown[:count], clear[:count], strict=True))


def _levels(run: "Run", pings: IntArray, due: Sequence[IntArray]) -> dict[int, tuple[IntArray, StoredArray]]:
    """Return by element pings and their stored levels (ping, sample): all spans of neighbours in which it is due."""
    from pingwright.engine.jobs import job

    cuts = np.flatnonzero(np.diff(pings) != 1) + 1
    spans = [span[k : k + JOB] for span in np.split(pings, cuts) for k in range(0, len(span), JOB)]
    result: dict[int, list[tuple[IntArray, StoredArray]]] = {}
    for span in spans:
        only = [e for e, wanted in enumerate(due) if np.isin(span, wanted).any()]
        for chunk in job(run, span.tolist(), False, only):
            result.setdefault(chunk.element, []).append((span, chunk.level))
    return {e: (np.concatenate([p for p, _ in parts]), np.concatenate([v for _, v in parts]))
            for e, parts in result.items()}  # fmt: skip


def _blocks(pings: IntArray) -> Iterator[IntArray]:
    for start in range(0, len(pings), JUDGED):
        yield pings[start : start + JUDGED]


def _ahead_of_the_bottom(element: ElementRecord, trials: Trials) -> Trials:
    """Return the pings in which a fish is not far behind what lies straight below: peaks behind a pick never count."""
    return trials.keep(trials.range - trials.within <= behind(element)[trials.ping])


def _ranks(trials: Trials, nearest: IntArray) -> IntArray:
    """Return the place of each trial among those of its fish, the ping nearest to the fish first."""
    order = np.lexsort((trials.ping, np.abs(trials.ping - nearest[trials.owner]), trials.owner))
    rank = np.empty(len(trials), dtype=np.int64)
    starts = np.flatnonzero(np.diff(trials.owner[order], prepend=-1))
    for first, last in pairwise([*starts.tolist(), len(trials)]):
        rank[order[first:last]] = np.arange(last - first)
    return rank


def _window(prepared: Prepared, pairs: Sequence[tuple[ElementRecord, Trials]]) -> tuple[float, float]:
    """Return the depths [m] that a record must hold for its picks and verdicts to be those of the whole one."""
    header, face = prepared.header, float(prepared.scenario.boat.transducer_depth)
    low, high = (float(depth) for depth in known(prepared.scenario.window.depth, "window.depth"))
    solid = [header.seabed_profile[:, 1], header.seabed_across[:, 1], *(s.side[:, 1] for s in header.truth.structures)]
    heave = max(float(np.max(np.abs(e.heave), initial=0.0)) for e, _ in pairs)
    # The nearest point of a plane is nearer than the shallowest of its profile within half its depth aside.
    nearest = max(min(float(depth.min()) for depth in solid) - face - heave, 0.0)
    tops = [record_from(nearest * e.info.drawn_over_true, e.info.cell) for e, _ in pairs]
    tops += [float(t.range.min()) - LEAD - FARTHER * LEAD_CELLS * e.info.cell for e, t in pairs if len(t)]
    first = max(low, face + min(tops))
    # Where bottom and fish lie below the window, nothing has to be held: half of it is as good as any part.
    return (first if first < high else 0.5 * (low + high)), high
