"""What one element sees of some trials: their world, records of chosen pings, and everything a measure judges by.

Elements ping alone, each over the same world. Only the pings that are asked for are simulated, their ground once for
all that is laid over it; the same ping gives the same bits whatever else is asked.
"""

import os
from collections import OrderedDict
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cached_property
from types import SimpleNamespace
from typing import TYPE_CHECKING
from zlib import crc32

import numpy as np

from pingwright import seeds
from pingwright.echograms.record import ElementRecord, FloatArray
from pingwright.measure.bottom import Bottom, find, record_from
from pingwright.measure.cells import Grid, StoredArray, grid
from pingwright.measure.separated import Verdicts, score, tolerance
from pingwright.trials.passes import IntArray, Pings
from pingwright.trials.placement import BoolArray, Species
from pingwright.trials.scene import Scene
from pingwright.world.scatterers import Discrete, StrengthLaw, World

if TYPE_CHECKING:
    from pingwright.engine.short import Short
    from pingwright.engine.still import Still

#: Water kept above the fish [m and cells of the element]: guard and reference cells of the detector.
LEAD, LEAD_CELLS = 0.5, 30.0
#: Depth kept below the bottom [m, and of the depth]: its echo's maximum lies there.
TRAIL, TRAIL_OF_DEPTH = 1.5, 0.03
#: A fish further ahead of the bottom than this [m] is judged without it: water alone lies between.
FREE_WATER = 12.0
#: Pings of one job of the engine, and pings judged at a time; grounds kept [bytes].
JOB, JUDGED, KEPT_BYTES = 16, 256, 300 << 20


@dataclass(frozen=True)
class Sight:
    """Some pings of one element, all that a measure may judge by.

    stored (n, sample); true (fish of the ping, n) [m]: where each fish's echo is drawn on the range axis; within (n)
    [m]: how far off it may be found; below (n) [m]: where the bottom straight below is drawn; free: whether the bottom
    lies beyond the record.
    """

    stored: StoredArray
    cells: Grid
    bottom: Bottom
    true: FloatArray
    within: FloatArray
    below: FloatArray
    free: bool = False

    @cached_property
    def verdicts(self) -> Verdicts:
        """Whether the fish (the first of a pair) is detected, and separated from the bottom."""
        rows = np.arange(len(self.stored))
        beyond = np.full(len(rows), self.free)
        return score(self.stored, self.cells, self.bottom, rows, self.true[0], self.within, beyond=beyond)


@dataclass(frozen=True)
class Seen:
    """What some pings gave, (n): detected; counted: the measure's hit; no_bottom: pings that show no bottom."""

    detected: BoolArray
    counted: BoolArray
    no_bottom: BoolArray


Hit = Callable[[Sight], BoolArray]


class Ground:
    """The echoes of a ground under one element, made once and kept: fish of many trials are laid over them.

    Whatever is laid over one ground shares its noise too; pings, and so trials, stay independent of each other.
    """

    def __init__(self, at: Scene, world: World, window: tuple[float, float], seed: int, threads: int | None) -> None:
        """Make the engine ready. window [m]: depths recorded; world: without fish."""
        from pingwright.engine.preparing import Run, prepare
        from pingwright.engine.settings import from_scenario
        from pingwright.engine.simulate import ranges

        settings = replace(from_scenario(at.scenario, world), seed=seed, window=window, span=0.0)
        self.run = Run(world, at.elements, settings, linear=True)
        prepare(self.run)
        self.range = ranges(at.elements[0], settings)
        self._threads, self._bytes = threads, 0
        self._kept: OrderedDict[tuple[int, int], Still] = OrderedDict()
        # Grids for what is laid over, by length, are those of all spans.
        self._grids: dict[tuple[int, int], Short] = {}
        self._margins: dict[int, int] = {}

    def over(self, spans: list[tuple[int, int]], things: World | None) -> StoredArray:
        """Return stored levels (ping, sample) of spans of pings, with things laid over them."""
        missing = [span for span in spans if span not in self._kept]
        if self._threads == 1 or len(missing) < 2:
            made = [self._made(span) for span in missing]
        else:
            with ThreadPoolExecutor(self._threads) as pool:
                made = list(pool.map(self._made, missing))
        for span, still in zip(missing, made, strict=True):
            self._kept[span] = still
            self._bytes += still.bytes
        stills = [self._kept[span] for span in spans]
        levels = [still.level[0] if things is None else still.over(things)[0] for still in stills]
        while self._bytes > KEPT_BYTES:
            self._bytes -= self._kept.popitem(last=False)[1].bytes
        return np.concatenate(levels)

    def _made(self, span: tuple[int, int]) -> "Still":
        from pingwright.engine.jobs import job
        from pingwright.engine.still import Still

        chunk = job(self.run, *span, True)[0]
        if chunk.echo is None:
            raise ValueError(span)
        echo, level = (chunk.echo,), (chunk.level,)
        return Still(self.run, echo, level, span[0], True, _shorts=self._grids, _margins=self._margins)


@dataclass(frozen=True)
class View:
    """What a record of some trials must hold: depths [m] from, to; free: whether the bottom lies beyond."""

    window: tuple[float, float]
    free: bool

    def __or__(self, other: "View") -> "View":
        """Return what serves both; a bottom that one of them needs is there for both."""
        low, high = zip(self.window, other.window, strict=True)
        return View((min(low), max(high)), self.free and other.free)


def view_of(at: Scene, pings: Pings, heard: BoolArray, *, seabed: bool = True) -> View:
    """Return what the pings that may show the fish (heard) of some trials need; at: one element alone."""
    if not heard.any():
        return View((at.face, at.face + 1.0), free=True)
    ground = at.depth(pings.track.x, pings.track.y)[heard]
    slant = np.linalg.norm(pings.way(), axis=0)[heard]
    solid = np.minimum(ground, at.crest) - pings.track.depth[heard]
    free = not seabed or bool(np.all(slant + FREE_WATER < solid))
    true = true_ranges(at, pings)[:, heard]
    return View(_window(at, true, ground, free), free)


def ground_of(at: Scene, species: Species, pings: Pings, view: View, seed: int, threads: int | None) -> Ground:
    """Return the ground under some trials; its noise belongs to the element's name."""
    world = build_world(at, species, pings, seed, fish=False)
    world = open_water(world) if view.free else world
    noise = seeds.key(seed, "noise", -1, crc32(at.names[0].encode())) & (2**63 - 1)
    return Ground(at, world, view.window, noise, threads or os.cpu_count() or 1)


class Eye:
    """One element over one set of trials, in a scene with that element alone, on a ground that may serve others."""

    def __init__(self, at: Scene, species: Species, pings: Pings, seed: int, ground: Ground, free: bool) -> None:
        """free: whether the bottom lies beyond the record."""
        self.at, self.pings, self.free, self._ground = at, pings, free, ground
        self._species, self._seed = species, seed
        self.true = true_ranges(at, pings)
        under = at.depth(pings.track.x, pings.track.y)
        slowness = at.prepared.world.water.mean_slowness(at.face, under)
        self.below = (under - pings.track.depth) * slowness * at.assumed_speed
        self._header = replace(at.headers[0], range=ground.range)

    @cached_property
    def things(self) -> World:
        """The world of the fish, to be laid over the ground."""
        return open_water(build_world(self.at, self._species, self.pings, self._seed))

    def hold(self, laws: tuple[StrengthLaw, ...], discrete: Discrete) -> None:
        """Put something else in the place of the fish: what echoes, and its laws."""
        self.things = replace(self._ground.run.world, laws=laws, discrete=discrete)

    @cached_property
    def cells(self) -> Grid:
        """The element's resolution cells on the record's samples."""
        return grid(self._header)

    def look(self, which: IntArray, hit: Hit, *, fish: bool = True) -> Seen:
        """Return what some pings (n, rising) give by a measure's hit; fish: whether it is there."""
        parts = [self._judged(part, hit, fish) for part in _parts(which, JUDGED)]
        if not parts:
            return Seen(*(np.zeros(0, dtype=bool) for _ in range(3)))
        return Seen(*(np.concatenate([getattr(p, f) for p in parts]) for f in ("detected", "counted", "no_bottom")))

    def _judged(self, which: IntArray, hit: Hit, fish: bool) -> Seen:
        sight = self.sight(which, fish=fish)
        counted = hit(sight)
        lost = np.zeros(len(which), dtype=bool) if self.free else np.isnan(sight.bottom.pick)
        return Seen(sight.verdicts.detected, counted, lost)

    def sight(self, which: IntArray, *, fish: bool = True) -> Sight:
        """Return some pings as a measure judges them."""
        stored, count = self.levels(which, fish=fish), len(which)
        none = Bottom(np.full(count, np.nan), np.full(count, -1), np.full(count, np.nan))
        bottom = none if self.free else find(stored, self.cells)
        length = self.pings.fish.length[self.pings.trial[which]]
        return Sight(
            stored, self.cells, bottom, self.true[:, which], tolerance(self.cells, length), self.below[which],
            self.free,
        )  # fmt: skip

    def levels(self, which: IntArray, *, fish: bool = True) -> StoredArray:
        """Return stored levels (n, sample) of some pings, by spans of neighbours."""
        cuts = np.flatnonzero((np.diff(which) != 1) | (np.diff(self.pings.trial[which]) != 0)) + 1
        spans = [(int(p[0]), int(p[-1]) + 1) for run in np.split(which, cuts) for p in _parts(run, JOB)]
        return self._ground.over(spans, self.things if fish else None)

    def record(self, which: IntArray) -> ElementRecord:
        """Return some pings as a record."""
        track = self.pings.track
        return replace(
            self._header, ping_time=track.time[which], x=track.x[which], y=track.y[which], roll=track.roll[which],
            pitch=track.pitch[which], heave=track.heave[which],
            bottom_depth=self.at.depth(track.x[which], track.y[which]), echo_level=self.levels(which),
        )  # fmt: skip


def _parts(which: IntArray, size: int) -> Iterator[IntArray]:
    for start in range(0, len(which), size):
        yield which[start : start + size]


def build_world(at: Scene, species: Species, pings: Pings, seed: int, *, fish: bool = True) -> World:
    """Return the world of some trials: each fish exists in the pings of its own trial only, its posture changing.

    fish: whether there are any.
    """
    from pingwright.world import build
    from pingwright.world.fish import Placed

    tilt = SimpleNamespace(mean=species.tilt[0], sd=species.tilt[1])
    group = SimpleNamespace(
        name="fish", swimbladder=species.swimbladder, tilt=tilt, strength_model=species.strength_model, swimming=None
    )
    kind, position = pings.fish, pings.position
    length, lean, yaw, first, last = kind.length, kind.tilt, kind.yaw, pings.first[:-1], pings.first[1:] - 1
    if kind.is_pair:
        above = np.zeros_like(position)
        above[2] = kind.spacing
        position = np.concatenate([position, position - above], axis=1)
        # The second fish lies as the first of another trial does.
        length, lean, yaw = (np.concatenate([a, np.roll(a, 1)]) for a in (length, lean, yaw))
        first, last = np.tile(first, 2), np.tile(last, 2)
    if not fish:
        position, length, lean, yaw, first, last = position[:, :0], length[:0], lean[:0], yaw[:0], first[:0], last[:0]
    placed = Placed(position, length, lean, yaw, first, 10 ** (0.1 * species.gain), last)
    return build.monte_carlo(at.scenario, pings.track, placed, group, seed, at.prepared.world.looks)


def open_water(world: World) -> World:
    """Return a world without its bottom, nor the bottom's laws, whose tables take longer to make than the pings."""
    points = world.discrete.scatterers
    used, place = np.unique(points.law, return_inverse=True)
    discrete = replace(world.discrete, scatterers=replace(points, law=place.astype(points.law.dtype)))
    return replace(world, seabed=None, bounce=None, laws=tuple(world.laws[i] for i in used), discrete=discrete)


def true_ranges(at: Scene, pings: Pings) -> FloatArray:
    """Return where the echoes of each ping's fish are drawn on the range axis [m] (fish of the ping, ping)."""
    from pingwright.world.truth import drawn_range

    way, trial, found = pings.way(), pings.trial, []
    for rise in (np.zeros(len(trial)), pings.fish.spacing[trial])[: 1 + pings.fish.is_pair]:
        depth = pings.position[2, trial] - rise
        found.append(
            drawn_range(at.prepared.world.water, (way[0], way[1], way[2] - rise), depth, at.face, at.assumed_speed)
        )
    return np.array(found)


def _window(at: Scene, true: FloatArray, ground: FloatArray, free: bool) -> tuple[float, float]:
    """Return the depths [m] a record must hold for detector and bottom, nothing more."""
    cell = at.headers[0].info.range_resolution
    # What stands on the bottom is its echo's first part: without it a fish behind would be judged against the rest.
    top = min(float(true.min()), at.crest - at.face) - LEAD - LEAD_CELLS * cell
    if free:
        return at.face + max(top, 0.0), at.face + float(true.max()) + LEAD + LEAD_CELLS * cell
    slope, tilt = at.scenario.seabed.slope, at.elements[0].spec.tilt
    steep = np.radians(min(float(np.hypot(slope.along, slope.across)), 60.0))
    # Onsets begin ahead of the bottom's nearest point, which on a slope is nearer than what lies straight below.
    nearest = (float(ground.min()) - at.face) * float(np.cos(steep))
    top = min(top, record_from(nearest, cell))
    lean = np.radians(min(float(np.hypot(tilt.along, tilt.across)), 60.0))
    deep = (float(ground.max()) - at.face) / float(np.cos(lean))
    return at.face + max(top, 0.0), at.face + max(float(true.max()), deep * (1 + TRAIL_OF_DEPTH)) + TRAIL + 10 * cell
