"""What all but fish sends back from around the fish of a scene, where structures or steep ground are near them."""

import os
from collections.abc import Mapping
from dataclasses import replace
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

if TYPE_CHECKING:
    from pingwright.engine.preparing import Run
    from pingwright.recording import Prepared


def with_surroundings(prepared: "Prepared", *, threads: int | None = None) -> "Prepared":
    """Return a prepared scene whose truth holds what echoes around fish beside structures and steep ground.

    See `measure.beside`. The same where it has no fish, nothing is near one, or it is held already.
    """
    from pingwright.engine.preparing import Run
    from pingwright.measure.marks import judged

    header, truth = prepared.header, prepared.header.truth
    if not len(truth.fish.id) or truth.surroundings is not None:
        return prepared
    whole, parts = Run(prepared.world, prepared.elements, prepared.settings), []
    trials = [judged(element, truth, grid(element)) for element in header.elements]
    places = [near(prepared, *one) for one in zip(header.elements, trials, strict=True)]
    for k, ground in enumerate((True, False)):
        due = {e: trials[e].keep(at[k]) for e, at in enumerate(places) if len(at[k])}
        if due:
            run, cells = _short(prepared, whole, due) if ground else (whole, None)
            held = {e: (grid(header.elements[e]) if cells is None else cells[e], due[e]) for e in due}
            levels = around(run.around(truth.fish.id, ground=ground), held, threads)
            parts += [
                Surroundings(np.full(len(v), e), due[e].owner, due[e].ping, v, np.full(len(v), ground))
                for e, v in levels.items()
            ]
    if not parts:
        return prepared
    return replace(prepared, header=replace(header, truth=replace(truth, surroundings=beside.joined(parts))))


def _short(prepared: "Prepared", run: "Run", due: Mapping[int, Trials]) -> tuple["Run", dict[int, Grid]]:
    """Return the run over the ranges of trials only, which costs a fraction, and the cells of its elements."""
    from pingwright.engine.simulate import ranges

    elements, settings = prepared.header.elements, run.settings
    aside = {e: LEAD + LEAD_CELLS * elements[e].info.cell for e in due}
    low = min(float(t.range.min()) - aside[e] for e, t in due.items())
    high = max(float((t.range + t.within).max()) + aside[e] for e, t in due.items())
    face = float(prepared.scenario.boat.transducer_depth)
    window = max(settings.window[0], face + low), min(settings.window[1], face + high)
    settings = replace(settings, window=window, span=0.0)
    short = {e: replace(elements[e], range=ranges(run.elements[e], settings)) for e in due}
    return replace(run, settings=settings), {e: grid(one) for e, one in short.items()}


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
    from concurrent.futures import ThreadPoolExecutor

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

    starts = range(0, len(pings), PINGS)
    threads = min(threads or os.cpu_count() or 1, len(starts))
    if threads <= 1:  # in this very thread, whose memory the engine uses again
        for start in starts:
            one(start)
        return result
    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(one, starts))
    return result
