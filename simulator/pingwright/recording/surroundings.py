"""What all but fish sends back from around the fish of a scene, where structures or steep ground are near them."""

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import ElementRecord, FloatArray, Surroundings
from pingwright.measure import beside
from pingwright.measure.cells import Grid, grid
from pingwright.measure.geometry import drawn_over_slant, faces, ground_range
from pingwright.measure.judgements import Trials
from pingwright.world.terrain import nearest_if_steep

#: Water in a record ahead of a fish [m and cells of the element]: guard and reference cells of the detector.
LEAD, LEAD_CELLS = 0.5, 30.0
#: A fish farther than the bottom below by this share and this number of metres is behind any pick (assumed).
BEHIND, BEHIND_M = 0.02, 1.0
#: Ranges that are heard begin and end at multiples of this [m], so that a fish lifted a little is heard in the same
#: samples, and needs no new pings where they are kept.
WHOLE = 1.0

if TYPE_CHECKING:
    from pingwright.engine.preparing import Run
    from pingwright.recording import Prepared


def with_surroundings(
    prepared: "Prepared",
    *,
    threads: int | None = None,
    kept: "Around | None" = None,
    check: Callable[[], None] | None = None,
) -> "Prepared":
    """Return a prepared scene whose truth holds what echoes around fish beside structures and steep ground.

    See `measure.beside`. The same where it has no fish, nothing is near one, or it is held already. kept: of the same
    scene whatever its fish, used and filled; check: then called between pings, an exception of its own ends the work.
    """
    from pingwright.engine.preparing import Run
    from pingwright.measure.marks import judged

    header, truth = prepared.header, prepared.header.truth
    if not len(truth.fish.id) or truth.surroundings is not None:
        return prepared
    whole, parts = kept.run if kept else Run(prepared.world, prepared.elements, prepared.settings), []
    trials = [judged(element, truth, grid(element)) for element in header.elements]
    places = [near(prepared, *one) for one in zip(header.elements, trials, strict=True)]
    for k, ground in enumerate((True, False)):
        due = {e: trials[e].keep(at[k]) for e, at in enumerate(places) if len(at[k])}
        if due:
            if kept:
                levels = kept.levels(prepared, due, ground, threads, check)
            else:
                run, cells = _short(prepared, whole, _span(prepared, due)) if ground else (whole, None)
                held = {e: (grid(header.elements[e]) if cells is None else cells[e], due[e]) for e in due}
                levels = around(run.around(truth.fish.id, ground=ground), held, threads)
            parts += [
                Surroundings(np.full(len(v), e), due[e].owner, due[e].ping, v, np.full(len(v), ground))
                for e, v in levels.items()
            ]
    if not parts:
        return prepared
    return replace(prepared, header=replace(header, truth=replace(truth, surroundings=beside.joined(parts))))


def _span(prepared: "Prepared", due: Mapping[int, Trials]) -> tuple[float, float]:
    """Return the ranges [m] that trials of elements need, in multiples of WHOLE."""
    elements = prepared.header.elements
    aside = {e: LEAD + LEAD_CELLS * elements[e].info.cell for e in due}
    low = min(float(t.range.min()) - aside[e] for e, t in due.items())
    high = max(float((t.range + t.within).max()) + aside[e] for e, t in due.items())
    return WHOLE * np.floor(low / WHOLE), WHOLE * np.ceil(high / WHOLE)


def _short(prepared: "Prepared", run: "Run", span: tuple[float, float]) -> tuple["Run", dict[int, Grid]]:
    """Return the run over some ranges [m] only, which costs a fraction, and the cells of its elements.

    Where the scene's window holds hardly any of them, over the whole window.
    """
    from pingwright.engine.simulate import ranges

    settings, face = run.settings, float(prepared.scenario.boat.transducer_depth)
    window = max(settings.window[0], face + span[0]), min(settings.window[1], face + span[1])
    if window[1] - window[0] < WHOLE:
        window = settings.window
    settings = replace(settings, window=window, span=0.0)
    short = (replace(one, range=ranges(run.elements[e], settings)) for e, one in enumerate(prepared.header.elements))
    return replace(run, settings=settings), {e: grid(one) for e, one in enumerate(short)}


def near(prepared: "Prepared", element: ElementRecord, trials: Trials) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the places of trials near steep ground, and of the others those near a structure."""
    pings, back = np.unique(trials.ping, return_inverse=True)
    nearest = nearest_if_steep(prepared.world.terrain, *faces(element, pings))
    drawn = drawn_over_slant(element, prepared.header.truth.fish)[trials.owner]
    steep = beside.near_ground(element, trials, nearest[back] * drawn)
    steep = steep[trials.range[steep] <= behind(element)[trials.ping[steep]]]
    built = beside.near_structures(element, prepared.header.truth, trials)
    return steep, np.setdiff1d(built, steep)


def behind(element: ElementRecord) -> FloatArray:
    """Return the range [m] (ping) behind which no fish can count: it lies in the bottom's echo."""
    return np.asarray(ground_range(element) * (1.0 + BEHIND) + BEHIND_M)


def around(run: "Run", due: Mapping[int, tuple[Grid, Trials]], threads: int | None = None) -> dict[int, FloatArray]:
    """Return what structures, schools and steep ground send back from around trials, see `beside.profile`.

    run: without fish and noise (`Run.around`); due: by element its resolution cells and trials. Returned by
    element: levels [dB re 1 uPa] (trial, column).
    """
    from pingwright.engine.jobs import job
    from pingwright.engine.simulate import PINGS

    result = {e: np.empty((len(trials), beside.COLUMNS)) for e, (_, trials) in due.items()}
    pings = np.unique(np.concatenate([trials.ping for _, trials in due.values()]))

    def one(start: int) -> None:
        some = pings[start : start + PINGS]
        places = {e: np.flatnonzero((t.ping >= some[0]) & (t.ping <= some[-1])) for e, (_, t) in due.items()}
        for chunk in job(run, some.tolist(), False, [e for e, at in places.items() if len(at)]):
            (cells, trials), at = due[chunk.element], places[chunk.element]
            mine = trials.keep(at)
            row = np.searchsorted(some, mine.ping)
            result[chunk.element][at] = beside.profile(chunk.level, cells, row, mine.range, mine.within)

    _each(one, range(0, len(pings), PINGS), threads)
    return result


def _each(work: Callable[[int], None], starts: Sequence[int], threads: int | None) -> None:
    """Do some work for each start, on threads."""
    from concurrent.futures import ThreadPoolExecutor

    threads = min(threads or os.cpu_count() or 1, len(starts))
    if threads <= 1:  # in this very thread, whose memory the engine uses again
        for start in starts:
            work(start)
        return
    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(work, starts))


@dataclass(frozen=True)
class _Heard:
    """Pings of what is around fish, filled when they are asked for.

    run: without fish and noise; cells: of its elements; span [m]: ranges it holds; level: by element int16 (ping,
    sample); there: by element (ping), which are filled.
    """

    run: "Run"
    cells: dict[int, Grid]
    span: tuple[float, float]
    level: dict[int, NDArray[np.int16]] = field(default_factory=dict)
    there: dict[int, NDArray[np.bool_]] = field(default_factory=dict)

    def levels(
        self, due: Mapping[int, Trials], threads: int | None, check: Callable[[], None] | None
    ) -> dict[int, FloatArray]:
        """Return by element the levels [dB re 1 uPa] (trial, column) around trials, see `beside.profile`."""
        from pingwright.engine.jobs import job
        from pingwright.engine.simulate import PINGS

        for e in due.keys() - self.level.keys():
            count = len(self.run.pings_of(e))
            self.level[e], self.there[e] = np.empty((count, len(self.cells[e].range)), np.int16), np.zeros(count, bool)
        new = {e: np.setdiff1d(t.ping, np.flatnonzero(self.there[e])) for e, t in due.items()}
        pings = np.unique(np.concatenate(list(new.values())))

        def one(start: int) -> None:
            if check:
                check()
            some = pings[start : start + PINGS]
            for chunk in job(self.run, some.tolist(), False, [e for e in due if np.isin(some, new[e]).any()]):
                rows = some[: len(chunk.level)]
                self.level[chunk.element][rows], self.there[chunk.element][rows] = chunk.level, True

        _each(one, range(0, len(pings), PINGS), threads)
        return {
            e: beside.profile(self.level[e], self.cells[e], t.ping, t.range, t.within) for e, t in due.items()
        }  # fmt: skip


def _cells(prepared: "Prepared") -> dict[int, Grid]:
    return dict(enumerate(map(grid, prepared.header.elements)))


class Around:
    """What all but fish sends back along the track of one scene, kept: moved fish need only pings not heard yet.

    run: of the scene without fish. prepared, alone, level: where they are known already, a scene of it, its run without
    fish and seabed, and levels int16 (ping, sample) of that for each element.
    """

    def __init__(
        self,
        run: "Run",
        prepared: "Prepared | None" = None,
        alone: "Run | None" = None,
        level: Sequence[NDArray[np.int16]] = (),
    ) -> None:
        self.run = run
        self._heard: dict[bool, _Heard] = {}
        if prepared is not None and alone is not None:
            held = dict(enumerate(level))
            there = {e: np.ones(len(one), bool) for e, one in held.items()}
            self._heard[False] = _Heard(alone, _cells(prepared), (0.0, 0.0), held, there)

    @property
    def bytes(self) -> int:
        """Memory of what is kept [bytes]."""
        return sum(level.nbytes for heard in self._heard.values() for level in heard.level.values())

    def levels(
        self,
        prepared: "Prepared",
        due: Mapping[int, Trials],
        ground: bool,
        threads: int | None = None,
        check: Callable[[], None] | None = None,
    ) -> dict[int, FloatArray]:
        """Return by element what is around trials, with the seabed (ground) or without: see `around`."""
        span = _span(prepared, due) if ground else (0.0, 0.0)
        heard = self._heard.get(ground)
        # The samples of another beginning lie elsewhere, and what they hold differs.
        if heard is None or span[0] != heard.span[0] or span[1] > heard.span[1]:
            run, cells = _short(prepared, self.run, span) if ground else (self.run, _cells(prepared))
            heard = _Heard(run.around(np.zeros(0, dtype=np.int64), ground=ground), cells, span)
            self._heard[ground] = heard
        return heard.levels(due, threads, check)
