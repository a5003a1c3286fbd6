"""Jobs of a few pings, run on threads, handed out in order.

Jobs share only tiles, so the number of threads and the size of a job change no bit.
"""

import os
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import AbstractContextManager, nullcontext

import numpy as np
from numpy.typing import NDArray

from pingwright.element.model import Element
from pingwright.engine import settings
from pingwright.engine.jobs import Chunk, job
from pingwright.engine.preparing import Run, prepare
from pingwright.engine.settings import Settings
from pingwright.world.scatterers import World

FloatArray = NDArray[np.float64]
Progress = Callable[[str, int, int], None]

#: Pings of one job: enough for batched FFTs, few enough for the caches.
PINGS = 16


def ranges(element: Element, run_settings: Settings) -> FloatArray:
    """Return the record's range axis [m] (sample): assumed sound speed x time / 2."""
    grid = settings.sampling(element, run_settings)
    time = grid.origin + (grid.first + np.arange(grid.count)) / grid.stored
    return np.asarray(time * run_settings.assumed_sound_speed / 2)


def simulate(
    world: World,
    elements: tuple[Element, ...],
    run_settings: Settings,
    threads: int | None = None,
    keep_phase: bool = False,
    first_ping: int = 0,
    quiet: bool = False,
    job_pings: int = PINGS,
    progress: Progress | None = None,
) -> Iterator[Chunk]:
    """Yield the run's chunks in order of pings, elements in turn within each job.

    threads: default all cores. keep_phase: chunks carry the complex output. first_ping: start there (a multiple of
    job_pings; to resume work). quiet: no noise. Threads and job_pings change no bit.
    """
    yield from pings(
        Run(world, elements, run_settings, quiet), threads, keep_phase, first_ping, None, job_pings, progress
    )


def pings(
    run: Run,
    threads: int | None = None,
    keep_phase: bool = False,
    first_ping: int = 0,
    end: int | None = None,
    job_pings: int = PINGS,
    progress: Progress | None = None,
) -> Iterator[Chunk]:
    """Yield the chunks of a run's pings first_ping .. end (None: all of them); see `simulate`."""
    if progress:
        progress("preparing", 0, 1)
    prepare(run)
    total = max(len(run.pings_of(e)) for e in range(len(run.elements)))
    total = total if end is None else min(end, total)
    starts = range(first_ping, total, job_pings)
    threads = threads or os.cpu_count() or 1
    with _reporting_compiling(progress), ThreadPoolExecutor(threads) as pool:
        waiting: deque[Future[list[Chunk]]] = deque()
        queue = iter(starts)
        try:
            for start in queue:
                waiting.append(pool.submit(job, run, range(start, min(start + job_pings, total)), keep_phase))
                if len(waiting) > threads + 1:
                    yield from _done(waiting.popleft(), total, progress)
            while waiting:
                yield from _done(waiting.popleft(), total, progress)
        finally:
            for future in waiting:
                future.cancel()


def _reporting_compiling(progress: Progress | None) -> AbstractContextManager[None]:
    """Let progress report when kernels are compiled: some seconds, once on a computer."""
    if progress is None:
        return nullcontext()
    from pingwright.engine.kernels.compiled import reporting_compiling

    return reporting_compiling(lambda: progress("compiling the engine, this once", 0, 1))


def _done(future: "Future[list[Chunk]]", total: int, progress: Progress | None) -> list[Chunk]:
    chunks = future.result()
    if progress and chunks:
        progress("pinging", chunks[0].first_ping + len(chunks[0].level), total)
    return chunks
