"""Jobs of a few pings, run on threads, handed out in order.

A job is one stretch of track for all elements: it gathers the seabed it can hear, spreads every echo on a grid per
channel, filters, adds noise and packs levels. Nothing is shared between jobs but tiles, so the number of threads
and the size of a job change no bit.
"""

import os
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from simulator import seeds
from simulator.echograms.record import ADD_OFFSET, LIMIT, SCALE_FACTOR
from simulator.element.model import Element
from simulator.engine import geometry, haze, receiver, settings, tables
from simulator.engine.channels import Channel, Piece, divide
from simulator.engine.settings import Sampling, Settings
from simulator.engine.tables import Tables
from simulator.world.scatterers import Scatterers, World

FloatArray = NDArray[np.float64]
Progress = Callable[[str, int, int], None]

#: Pings of one job: enough for batched FFTs, few enough for the caches.
PINGS = 16
_NONE = np.zeros(0, np.float32)


@dataclass(frozen=True)
class Chunk:
    """A few pings of one element: level int16 (ping, sample), stored form; echo complex64 [uPa] or None."""

    element: int
    first_ping: int
    level: NDArray[np.int16]
    echo: NDArray[np.complex64] | None


@dataclass(frozen=True)
class Run:
    """Everything worked out once a run."""

    world: World
    elements: tuple[Element, ...]
    settings: Settings
    quiet: bool = False

    @cached_property
    def samplings(self) -> list[Sampling]:
        """Grids, one an element."""
        return [settings.sampling(element, self.settings) for element in self.elements]

    @cached_property
    def reach(self) -> float:
        """Longest one-way path heard [m]."""
        return settings.reach(self.settings, self.samplings, self.world)

    @cached_property
    def channels(self) -> list[list[Channel]]:
        """For each element the channels it hears, its own first."""
        heard = []
        for element in self.elements:
            apart = self.settings.in_turn or not self.settings.leak
            others = [] if apart else [e for e in self.elements if e is not element]
            overlapping = [e for e in others if min(e.band[1], element.band[1]) > max(e.band[0], element.band[0])]
            heard.append([Channel(element, element), *(Channel(e, element) for e in overlapping)])
        return heard

    @cached_property
    def pieces(self) -> list[list[Piece]]:
        """For each element the pieces of the channels it hears, those of its own first."""
        depth, accuracy = self.settings.transducer_depth, self.settings.accuracy
        return [
            [piece for c in channels for piece in divide(c, self.world, depth, self.reach, grid, accuracy)]
            for channels, grid in zip(self.channels, self.samplings, strict=True)
        ]

    @cached_property
    def tables(self) -> list[list[Tables]]:
        """Tables of every piece."""
        depth = self.settings.transducer_depth
        return [
            [tables.build(p, self.world, depth, self.reach, grid.spread, self.settings.accuracy) for p in pieces]
            for pieces, grid in zip(self.pieces, self.samplings, strict=True)
        ]

    @cached_property
    def receivers(self) -> list[receiver.Receiver]:
        """Filters of every element."""
        return [
            receiver.build(*parts, self.settings)
            for parts in zip(self.elements, self.pieces, self.samplings, strict=True)
        ]

    @cached_property
    def haze(self) -> list[list[haze.Cells]]:
        """On-grid haze of every piece of an element's own channel."""
        return [
            [
                haze.build(e, table, self.world, grid, self.settings)
                for table, piece in zip(held, pieces, strict=True)
                if piece.channel.own
            ]
            for e, held, pieces, grid in zip(self.elements, self.tables, self.pieces, self.samplings, strict=True)
        ]

    @cached_property
    def trees(self) -> list:  # type: ignore[type-arg]
        """Box trees of what hides."""
        from simulator.engine.hiding import build_tree

        return [build_tree(occluder) for occluder in self.world.occluders]

    @cached_property
    def tiles(self) -> geometry.Tiles | None:
        """The seabed by tiles."""
        return None if self.world.seabed is None else geometry.Tiles(self.world.seabed)

    @cached_property
    def discrete(self) -> tuple[Scatterers, geometry.Moving]:
        """What stands still, and what does not."""
        return geometry.split(self.world.discrete)

    def pings_of(self, element: int) -> NDArray[np.int64]:
        """Return the pings of the track on which an element transmits."""
        count = len(self.elements) if self.settings.in_turn else 1
        return np.arange(element if count > 1 else 0, len(self.world.track), count)


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
    job_pings; for work taken up again). quiet: no noise. The same arguments but threads and job_pings: same bits.
    """
    run = Run(world, elements, run_settings, quiet)
    if progress:
        progress("preparing", 0, 1)
    prepare(run)
    total = max(len(run.pings_of(e)) for e in range(len(elements)))
    starts = range(first_ping, total, job_pings)
    threads = threads or os.cpu_count() or 1
    with _telling_of_compiling(progress), ThreadPoolExecutor(threads) as pool:
        waiting: deque[Future[list[Chunk]]] = deque()
        queue = iter(starts)
        try:
            for start in queue:
                waiting.append(pool.submit(job, run, start, min(start + job_pings, total), keep_phase))
                if len(waiting) > threads + 1:
                    yield from _done(waiting.popleft(), total, progress)
            while waiting:
                yield from _done(waiting.popleft(), total, progress)
        finally:
            for future in waiting:
                future.cancel()


def _telling_of_compiling(progress: Progress | None) -> AbstractContextManager[None]:
    """Let progress say when kernels are compiled: some seconds, once on a machine."""
    if progress is None:
        return nullcontext()
    from simulator.engine.compiled import told_of_compiling

    return told_of_compiling(lambda: progress("compiling the engine, this once", 0, 1))


def _done(future: "Future[list[Chunk]]", total: int, progress: Progress | None) -> list[Chunk]:
    chunks = future.result()
    if progress and chunks:
        progress("pinging", chunks[0].first_ping + len(chunks[0].level), total)
    return chunks


def prepare(run: Run) -> None:
    """Work out everything that jobs share, once, in one thread."""
    _ = (run.tables, run.receivers, run.haze, run.trees, run.discrete, run.tiles)


def job(run: Run, start: int, stop: int, keep_phase: bool) -> list[Chunk]:
    """Return pings start..stop of every element."""
    from simulator.engine.noise import pack

    grids = _spread_all(run, start, stop)
    chunks = []
    for e, parts in enumerate(run.receivers):
        pings = [p for p in range(start, stop) if p < len(run.pings_of(e))]
        if not pings:
            continue
        keys = [seeds.key(run.settings.seed, "noise", e, p) for p in pings]
        echo = receiver.filtered(parts, [g[: len(pings)] for g in grids[e]], keys, run.quiet)
        level = np.empty(echo.shape, np.int16)
        pack(np.ascontiguousarray(echo).reshape(-1), SCALE_FACTOR, ADD_OFFSET, LIMIT, level.reshape(-1))
        level[:, : parts.blank] = LIMIT
        chunks.append(Chunk(e, start, level, np.ascontiguousarray(echo) if keep_phase else None))
    return chunks


def _spread_all(run: Run, start: int, stop: int) -> list[list[NDArray[np.float32]]]:
    """Return grids [element][piece] (ping, real|imaginary, sample) holding every echo of pings start..stop."""
    grids = [
        [np.zeros((stop - start, 2, grid.spread_length + 16), np.float32) for _ in pieces]
        for grid, pieces in zip(run.samplings, run.pieces, strict=True)
    ]
    groups = [list(range(len(run.elements)))] if not run.settings.in_turn else [[e] for e in range(len(run.elements))]
    for group in groups:
        pings = run.pings_of(group[0])
        window = [p for p in range(start, stop) if p < len(pings)]
        if not window:
            continue
        first = max(0, window[0] - _earlier(run, pings))
        scene = _Scene(run, pings[first : window[-1] + 1])
        for sounded in range(first, window[-1] + 1):
            sets = scene.sets(int(pings[sounded]))
            for p in window:
                delay = float(run.world.track.time[pings[p]] - run.world.track.time[pings[sounded]])
                if p >= sounded and (p == sounded or delay < run.settings.span):
                    for e in group:
                        _spread_element(
                            run, scene, sets, e, int(pings[sounded]), delay, [g[p - start] for g in grids[e]]
                        )
    for e, layers in enumerate(run.haze):
        for p in range(start, min(stop, len(run.pings_of(e)))):
            for n, cells in enumerate(layers):
                # White noise in disjoint pieces of the band is independent: a draw of its own for each.
                key = seeds.key(run.settings.seed, "haze", e, p, *([n] if n else []))
                cells.add(grids[e][n][p - start], run.tables[e][n], key)
    return grids


def _earlier(run: Run, pings: NDArray[np.int64]) -> int:
    """Return how many earlier pings can still be heard."""
    if run.settings.span == 0 or len(pings) < 2:
        return 0
    interval = float(run.world.track.time[pings[1]] - run.world.track.time[pings[0]])
    return int(np.ceil(run.settings.span / interval))


@dataclass(frozen=True)
class _Set:
    """Scatterers with the segments one ping hears, at once and by the surface (second echo), and what hiding leaves.

    weight: a factor for each point, or length 0 for all ones.
    """

    points: Scatterers
    segments: NDArray[np.int64]
    bounced: NDArray[np.int64]
    weight: NDArray[np.float32]


class _Scene:
    """What the pings of one job can hear."""

    def __init__(self, run: Run, pings: NDArray[np.int64]) -> None:
        track = run.world.track
        self.run = run
        places = np.stack([track.x[pings], track.y[pings], track.depth[pings]])
        self.seabed = geometry.stretch(run.tiles, places, run.reach)
        low, high = places[0].min() - run.reach, places[0].max() + run.reach
        self.still = geometry.within(run.discrete[0], low, high)

    def sets(self, ping: int) -> list[_Set]:
        """Return what one ping hears."""
        run, place = self.run, geometry.origin(self.run.world.track, ping)
        moving = run.discrete[1].at(ping, float(run.world.track.time[ping]), place, run.reach)
        none = np.zeros((0, 2), np.int64)
        # A second echo has gone twice the way and once more to the surface.
        twice = self.seabed.heard(place, (run.reach - place[2]) / 2) if run.world.bounce is not None else none
        candidates = [
            (self.seabed.points, self.seabed.heard(place, run.reach), twice),
            *((points, np.array([[0, len(points)]]), none) for points in (self.still, moving)),
        ]
        return [
            _Set(points, segments, bounced, self._seen(points, segments, place))
            for points, segments, bounced in candidates
            if len(points) and len(segments)
        ]

    def _seen(self, points: Scatterers, segments: NDArray[np.int64], place: FloatArray) -> NDArray[np.float32]:
        if not self.run.trees and not self.run.world.veils:
            return _NONE
        from simulator.engine.hiding import TOLERANCE, hide

        weight = np.ones(len(points), np.float32)
        for tree in self.run.trees:
            hide(
                points.position, points.axis, points.law, self.run.tables[0][0].two_sided, segments, place,
                tree.sphere, tree.boxes, tree.child, tree.triangles, TOLERANCE, weight,
            )  # fmt: skip
        return weight


def _spread_element(
    run: Run, scene: _Scene, sets: list[_Set], e: int, ping: int, delay: float, grids: list[NDArray[np.float32]]
) -> None:
    """Spread one transmission, `delay` [s] before the grids' own ping, on an element's grids."""
    from simulator.engine.hiding import dim
    from simulator.engine.kernels import spreader

    element, world = run.elements[e], run.world
    pose = geometry.pose(world.track, ping, element)
    origin = run.samplings[e].origin + delay
    face = run.settings.transducer_depth
    slowness = 1 / float(world.water.sound_speed(np.array([face]))[0])
    for part in sets:
        weight = part.weight
        if world.veils:
            weight = weight.copy()
            dim(world.veils, sum(element.band) / 2, pose[:3], part.points.position, weight)
        points = part.points
        common = (points.position, points.axis, points.amplitude, points.phase, points.law, weight, part.segments, pose)
        for table, grid in zip(run.tables[e], grids, strict=True):
            kernel = spreader(table.nodes.half, table.nodes.slope_pairs, table.plane, table.parts)
            kernel(grid, *common, *table.arguments(table.timing(origin), table.gain))
            if len(part.bounced) and table.bounce_gain is not None:
                clock = table.bounce_timing(origin, face, slowness)
                twice = (*common[:6], part.bounced, pose)
                kernel(grid, *twice, *table.arguments(clock, table.bounce_gain))
