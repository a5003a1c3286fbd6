"""A ground is simulated once, and its structures by themselves.

The ground's echo has theirs, and fish beside them are judged by what they alone send (`recording.surroundings`).
"""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from pingwright.recording.surroundings import Around

if TYPE_CHECKING:
    from pingwright.engine.preparing import Run
    from pingwright.engine.still import Still
    from pingwright.recording import Prepared

Progress = Callable[[str, int, int], None]


def made(prepared: "Prepared", run: "Run", progress: Progress | None) -> tuple["Still", Around]:
    """Return the stored echoes of a scene's ground, and what echoes around fish over it as far as it is known.

    run: of the ground, of `grounds.run_of`; progress: called between pings; an exception of its own ends the work.
    """
    from pingwright.engine.still import keep

    if not len(run.world.discrete.scatterers):
        return keep(run.world, run.elements, run.settings, run=run, progress=progress), Around(run)
    return _apart(prepared, run, progress)


def _apart(prepared: "Prepared", run: "Run", progress: Progress | None) -> tuple["Still", Around]:
    """Return what `made` does, of a ground with structures or schools."""
    from pingwright.engine.jobs import job, together
    from pingwright.engine.simulate import PINGS
    from pingwright.engine.still import Still

    none = np.zeros(0, dtype=np.int64)
    alone, rest = run.around(none), run.part(replace(run.world, discrete=run.world.discrete.of(none)))
    shapes = [(len(run.pings_of(e)), grid.count) for e, grid in enumerate(run.samplings)]
    echo = [np.empty(shape, np.complex64) for shape in shapes]
    level, bare = ([np.empty(shape, np.int16) for shape in shapes] for _ in range(2))
    total = max(count for count, _ in shapes)

    def one(start: int) -> None:
        if progress:
            progress("pinging", start, total)
        span = range(start, min(start + PINGS, total))
        for ground, things in zip(job(rest, span, True), job(alone, span, True), strict=True):
            both = together(run, ground, things)
            rows, e = slice(start, start + len(both.level)), both.element
            echo[e][rows], level[e][rows], bare[e][rows] = both.echo, both.level, things.level

    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        list(pool.map(one, range(0, total, PINGS)))
    return Still(run, tuple(echo), tuple(level), 0, noisy=True), Around(run, prepared, alone, bare)
