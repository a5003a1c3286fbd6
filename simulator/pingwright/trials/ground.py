"""Grounds, made once and stored: the echoes of a bottom under one element, to which the fish of questions are added.

A bank holds the grounds of a whole file of claims, or of a trip. Two questions share a ground if scene, element, route
and recorded depths are the same. So do all fish, heights and lengths of one question, its curve, its passes without
fish, and its variants with the same ground (noise, target strength of fish).

Why intervals still hold: each interval counts trials, and no two trials of one count have the same ground, fish or
noise, so the trials of a count are independent. Grounds are shared only between different counts, whose intervals are
each right by themselves. Two answers of a file are wrong together more often than those of two files with different
seeds; no statement is made about several answers at once.
"""

import os
from collections import OrderedDict
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING
from weakref import WeakValueDictionary
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from pingwright import seeds
from pingwright.inputs.fields import known
from pingwright.inputs.scenario import Scenario
from pingwright.measure.cells import StoredArray
from pingwright.trials.passes import IntArray, Route
from pingwright.trials.scene import Scene
from pingwright.world.scatterers import World

if TYPE_CHECKING:
    from pingwright.engine.geometry import Tiles
    from pingwright.engine.short import Short
    from pingwright.engine.still import Still

#: Pings of one job of the engine; memory that the grounds of a bank may take [bytes].
JOB, KEPT_BYTES = 16, 400 << 20


@dataclass(frozen=True)
class View:
    """Contents of a record of some trials: depths [m] from, to; free: whether the bottom lies beyond."""

    window: tuple[float, float]
    free: bool

    def __or__(self, other: "View") -> "View":
        """Return a view for both; a bottom that one of them needs is included."""
        low, high = zip(self.window, other.window, strict=True)
        return View((min(low), max(high)), self.free and other.free)


@dataclass(frozen=True)
class _Row:
    """A ping: its echo [uPa] (sample), stored levels (sample), and those of structures alone; None without any."""

    echo: NDArray[np.complex64]
    level: StoredArray
    bare: StoredArray | None

    @property
    def bytes(self) -> int:
        return self.echo.nbytes + self.level.nbytes + (0 if self.bare is None else self.bare.nbytes)


class Ground:
    """The echoes of a ground under one element.

    Only requested pings are made, each once while it is stored. All things added to one ground also share its noise;
    pings, and so trials, are independent of each other.
    """

    def __init__(
        self, at: Scene, world: World, view: View, route: Route, seed: int, tiles: "Tiles | None" = None
    ) -> None:
        """Make the engine ready. world: without fish; tiles: of the same seabed, made for another ground."""
        from pingwright.engine.preparing import Run, prepare
        from pingwright.engine.settings import from_scenario
        from pingwright.engine.simulate import ranges

        settings = replace(from_scenario(at.scenario, world), seed=seed, window=view.window, span=0.0)
        self.run = Run(world, at.elements, settings, linear=True, known_tiles=tiles)
        prepare(self.run)
        # Structures are spread by themselves, once: the ground's echo has theirs, and trials ask what they alone send.
        self._bare = self.run.around(np.zeros(0, dtype=np.int64)) if len(world.discrete.scatterers) else None
        self._rest = self.run.part(replace(world, discrete=world.discrete.of(np.zeros(0, dtype=np.int64))))
        self.range = ranges(at.elements[0], settings)
        self._made_bytes = 0
        self._first = route.first
        self._rows: OrderedDict[int, _Row] = OrderedDict()
        # All pings share the grids for added things, by length.
        self._grids: dict[tuple[int, int], Short] = {}
        self._margins: dict[int, int] = {}

    def bare(self, which: IntArray, threads: int | None) -> StoredArray:
        """Return stored levels (n, sample) of structures alone, without noise, in some pings (n, rising)."""
        self._know(which, threads)
        return np.stack([known(self._rows[p].bare, "bare") for p in which.tolist()])

    def quiet(self, which: IntArray, threads: int | None) -> StoredArray:
        """Return stored levels (n, sample) of some pings (n, rising) without fish and noise."""
        silent = replace(self.run.settings, ambient=False, own_noise=None)
        return self._still(which, threads).noisier(silent).level[0]

    def levels(self, which: IntArray, things: World | None, noise: Scene | None, threads: int | None) -> StoredArray:
        """Return stored levels (n, sample) of some pings (n, rising) with things added to them.

        noise: a scene whose noise replaces that of the ground, from the same draws.
        """
        if not len(which):
            return np.zeros((0, len(self.range)), np.int16)
        still = self._still(which, threads)
        if noise is not None:
            from pingwright.engine.settings import from_scenario

            own = from_scenario(noise.scenario, self.run.world).own_noise
            still = still.noisier(replace(self.run.settings, own_noise=own))
        return still.level[0] if things is None else still.over(things)[0]

    def _still(self, which: IntArray, threads: int | None) -> "Still":
        from pingwright.engine.still import Still

        self._know(which, threads)
        rows = [self._rows[p] for p in which.tolist()]
        echo, level = np.stack([row.echo for row in rows]), np.stack([row.level for row in rows])
        return Still(self.run, (echo,), (level,), 0, True, which, _shorts=self._grids, _margins=self._margins)

    def _know(self, which: IntArray, threads: int | None) -> None:
        """Make those of some pings (n, rising) that are not there."""
        missing = np.array([p for p in which.tolist() if p not in self._rows], dtype=np.int64)
        spans = list(self._spans(missing))
        if threads == 1 or len(spans) < 2:
            for span in spans:
                self._make(span)
        else:
            with ThreadPoolExecutor(threads or os.cpu_count() or 1) as pool:
                list(pool.map(self._make, spans))

    def _make(self, span: list[int]) -> None:
        from pingwright.engine.jobs import job, together

        chunk, bare = job(self._rest, span, True)[0], None
        if self._bare is not None:
            bare = job(self._bare, span, True)[0]
            chunk = together(self.run, chunk, bare)
        for row, ping in enumerate(span):
            made = _Row(known(chunk.echo, "echo")[row], chunk.level[row], None if bare is None else bare.level[row])
            self._rows[ping] = made
            self._made_bytes += made.bytes

    def _spans(self, pings: IntArray) -> Iterator[list[int]]:
        """Yield pings trial by trial, at most JOB at a time: those of one trial hear the same ground."""
        trial = np.searchsorted(self._first, pings, side="right")
        for some in np.split(pings, np.flatnonzero(np.diff(trial)) + 1):
            for start in range(0, len(some), JOB):
                yield some[start : start + JOB].tolist()

    @property
    def bytes(self) -> int:
        """Memory of the stored echoes [bytes], without the seabed, which several grounds may share."""
        return self._made_bytes

    def forget(self, most: int) -> None:
        """Forget the oldest pings, until at most `most` bytes of them are left."""
        while self._made_bytes > most and self._rows:
            self._made_bytes -= self._rows.popitem(last=False)[1].bytes


class Bank:
    """The grounds of a file of claims, or of a trip, by what they depend on.

    The oldest are forgotten if there is no room. The answer to a question does not depend on what the bank holds: the
    same ping gives the same bits.
    """

    def __init__(self, threads: int | None = None, most: int = KEPT_BYTES) -> None:
        self.threads, self._most = threads, most
        self._grounds: OrderedDict[tuple[object, ...], Ground] = OrderedDict()
        # The scatterers of each seabed, which its grounds share.
        self._known: WeakValueDictionary[tuple[object, ...], Tiles] = WeakValueDictionary()

    def ground(self, at: Scene, route: Route, view: View, seed: int) -> Ground:
        """Return the ground under a route; at: one element alone. Its noise belongs to the element's name."""
        route_on = (tuple(sorted(at.prepared.header.inputs.items())), at.prepared.world.looks, route.name, seed)
        key = (_text(at.scenario), view, *route_on)
        if key not in self._grounds:
            world = build_world(at, route, seed)
            world = open_water(world) if view.free else world
            noise = seeds.key(seed, "noise", -1, crc32(at.names[0].encode())) & (2**63 - 1)
            tiles = None if world.seabed is None else self._tiles(at, world, route_on)
            self._grounds[key] = Ground(at, world, view, route, noise, tiles)
        self._grounds.move_to_end(key)
        return self._grounds[key]

    def _tiles(self, at: Scene, world: World, route_on: tuple[object, ...]) -> "Tiles":
        """Return the scatterers of a world's seabed: elements, noise, filter and law do not change their places."""
        from pingwright.engine.geometry import Tiles

        noise = at.scenario.noise.model_copy(update={"own": "none"})
        seabed = at.scenario.seabed.model_copy(update={"law": "kirchhoff"})
        changes = {"element": (), "seabed": seabed, "noise": noise}
        alike = (_text(at.scenario.model_copy(update=changes)), *route_on)
        tiles = self._known.get(alike)
        if tiles is None:
            tiles = Tiles(known(world.seabed, "seabed"), at.prepared.world.looks)
            self._known[alike] = tiles
        return tiles

    def tidy(self) -> None:
        """Keep the memory within its limit: forget the grounds that were not used for the longest time."""
        for key in list(self._grounds)[:-1]:
            if self._bytes() <= self._most:
                return
            del self._grounds[key]
        for ground in self._grounds.values():
            ground.forget(self._most)

    def _bytes(self) -> int:
        """Return the memory of all grounds, with that of their seabeds [bytes]."""
        grounds = list(self._grounds.values())
        seabeds = {id(tiles): tiles for one in grounds if (tiles := one.run.tiles) is not None}
        return sum(one.bytes for one in grounds) + sum(tiles.bytes for tiles in seabeds.values())


def _text(scenario: Scenario) -> str:
    from pingwright.inputs.scenario import to_toml

    return to_toml(scenario)


def build_world(at: Scene, route: Route, seed: int) -> World:
    """Return the world under a route, without any fish."""
    from pingwright.inputs.bodies import TiltDistribution
    from pingwright.world import build
    from pingwright.world.fish import Group, Placed

    none = np.zeros(0)
    nobody = Placed(np.zeros((3, 0)), none, none, none, none.astype(np.int64), 1.0, none.astype(np.int64))
    group = Group("fish", "closed", TiltDistribution(mean=0.0, sd=1.0), "love-1971")
    return build.monte_carlo(at.scenario, route.track, nobody, group, seed, at.prepared.world.looks)


def open_water(world: World) -> World:
    """Return a world without bottom, and without the bottom's laws, whose tables take longer to make than the pings."""
    points = world.discrete.scatterers
    used, place = np.unique(points.law, return_inverse=True)
    discrete = replace(world.discrete, scatterers=replace(points, law=place.astype(points.law.dtype)))
    return replace(world, seabed=None, bounce=None, laws=tuple(world.laws[i] for i in used), discrete=discrete)
