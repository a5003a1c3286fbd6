"""One element's view of some trials: their world, records of chosen pings, and all data that a measure needs.

Elements ping alone, each over the same world. Only requested pings are simulated, their ground once for all things
added to it (`trials.ground`). The same ping gives the same bits, independent of other requests.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from pingwright.echograms.record import ElementRecord, FloatArray
from pingwright.inputs.bodies import TiltDistribution
from pingwright.measure import beside
from pingwright.measure.bottom import Bottom, find, record_from
from pingwright.measure.cells import Grid, StoredArray, grid
from pingwright.measure.judgements import Trials
from pingwright.measure.separated import Verdicts, score, tolerance
from pingwright.recording.surroundings import BEHIND, BEHIND_M, LEAD, LEAD_CELLS
from pingwright.trials.ground import Ground, View
from pingwright.trials.passes import IntArray, Pings
from pingwright.trials.placement import BoolArray, Species
from pingwright.trials.scene import Scene
from pingwright.world.scatterers import Discrete, StrengthLaw, World
from pingwright.world.terrain import nearest_if_steep

#: Depth in the record below the bottom [m, and share of the depth]: the maximum of its echo lies there.
TRAIL, TRAIL_OF_DEPTH = 1.5, 0.03
#: A fish farther above the bottom than this [m] is judged without the bottom: only water lies between.
FREE_WATER = 12.0
#: Pings judged at a time.
JUDGED = 256
#: The ends of a record are rounded outwards to this share of the bottom's depth, so that questions can share grounds.
ROUNDED = 0.01


@dataclass(frozen=True)
class Sight:
    """Some pings of one element, with all data for a measure.

    stored (n, sample); true (fish of the ping, n) [m]: where each fish's echo is drawn on the range axis; within (n)
    [m]: how far off it may be found; below (n) [m]: where the bottom straight below is drawn; free: whether the bottom
    lies beyond the record; around [dB re 1 uPa] (fish of the ping, n, column): what structures send back
    from there, nan where no structure is as near, None without structures (`measure.beside`).
    """

    stored: StoredArray
    cells: Grid
    bottom: Bottom
    true: FloatArray
    within: FloatArray
    below: FloatArray
    free: bool = False
    around: FloatArray | None = None

    @cached_property
    def verdicts(self) -> Verdicts:
        """Whether the fish (the first of a pair) is detected, and separated from the bottom."""
        rows = np.arange(len(self.stored))
        beyond = np.full(len(rows), self.free)
        around = None if self.around is None else self.around[0]
        return score(
            self.stored, self.cells, self.bottom, rows, self.true[0], self.within, beyond=beyond, around=around
        )


@dataclass(frozen=True)
class Seen:
    """Results of some pings, (n): detected; counted: the measure's hit; no_bottom: pings that show no bottom."""

    detected: BoolArray
    counted: BoolArray
    no_bottom: BoolArray


Hit = Callable[[Sight], BoolArray]


def view_of(at: Scene, pings: Pings, heard: BoolArray, *, seabed: bool = True) -> View:
    """Return the view for the pings of some trials that may show the fish (heard); at: one element alone."""
    if not heard.any():
        return View((at.face, at.face + 1.0), free=True)
    ground = at.depth(pings.track.x, pings.track.y)[heard]
    slant = np.linalg.norm(pings.way(), axis=0)[heard]
    solid = np.minimum(ground, at.crest) - pings.track.depth[heard]
    free = not seabed or bool(np.all(slant + FREE_WATER < solid))
    true = true_ranges(at, pings)[:, heard]
    # Not only for these pings: other fish on the same route should have the same record.
    whole = at.depth(pings.route.track.x, pings.route.track.y)
    low, high = _window(at, true, whole, free)
    step = ROUNDED * max(at.bottom - at.face, 1.0)
    first, last = max(np.floor((low - at.face) / step), 0.0), np.ceil((high - at.face) / step)
    return View((float(at.face + first * step), float(at.face + last * step)), free)


class Eye:
    """One element over one set of trials, in a scene with that element alone, on a ground that may serve others."""

    def __init__(
        self, at: Scene, species: Species, pings: Pings, ground: Ground, view: View, *, turned: bool = False,
        threads: int | None = None,
    ) -> None:  # fmt: skip
        """Look at trials. turned: whether the noise is that of `at`, not the ground's own, from the same draws."""
        self.at, self.pings, self.free, self._ground = at, pings, view.free, ground
        self._species, self._noise, self._threads = species, at if turned else None, threads
        self._rows: dict[int, FloatArray | None] = {}
        self.true = true_ranges(at, pings)
        under = at.depth(pings.track.x, pings.track.y)
        self.below = at.drawn(under - pings.track.depth, under)
        self._header = replace(at.headers[0], range=ground.range)

    @cached_property
    def things(self) -> World:
        """The world of the fish, to be added to the ground."""
        return fish_over(self._ground.run.world, self.at, self._species, self.pings)

    def hold(self, laws: tuple[StrengthLaw, ...], discrete: Discrete) -> None:
        """Replace the fish by something else that echoes, with its laws."""
        self.things = replace(self._ground.run.world, laws=laws, discrete=discrete)

    @cached_property
    def cells(self) -> Grid:
        """The element's resolution cells on the record's samples."""
        return grid(self._header)

    def look(self, which: IntArray, hit: Hit, *, fish: bool = True) -> Seen:
        """Return the results of some pings (n, rising) for a measure's hit; fish: whether it is there."""
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
        """Return some pings with all data for a measure."""
        stored, count = self.levels(which, fish=fish), len(which)
        none = Bottom(np.full(count, np.nan), np.full(count, -1), np.full(count, np.nan))
        bottom = none if self.free else find(stored, self.cells)
        within = tolerance(self.cells, self.pings.fish.length[self.pings.trial[which]])
        true = self.true[:, which]
        around = None if self.free else self._known_around(which, true, within)
        return Sight(stored, self.cells, bottom, true, within, self.below[which], self.free, around)

    def _known_around(self, which: IntArray, true: FloatArray, within: FloatArray) -> FloatArray | None:
        """Return what `_around` returns, each ping computed once: a pass is looked at with its fish and without."""
        new = np.array([i for i, ping in enumerate(which.tolist()) if ping not in self._rows], dtype=np.int64)
        if len(new):
            found = self._around(which[new], true[:, new], within[new])
            self._rows.update((int(which[k]), None if found is None else found[:, i]) for i, k in enumerate(new))
        rows = [row for ping in which.tolist() if (row := self._rows[ping]) is not None]
        # Structures are near all pings or none; steep ground may be near some, the others are not known.
        if not rows:
            return None
        none = np.full_like(rows[0], np.nan)
        return np.stack([none if (row := self._rows[p]) is None else row for p in which.tolist()], axis=1)

    def _around(self, which: IntArray, true: FloatArray, within: FloatArray) -> FloatArray | None:
        """Return what all but the fish sends back from around their true ranges (fish of the ping, n, column).

        None where there is neither a structure nor steep ground.
        """
        at, track, header = self.at, self.pings.track, self.at.headers[0]
        x, y, face = track.x[which], track.y[which], track.depth[which]
        steep = nearest_if_steep(at.prepared.world.terrain, x, y, face)
        if not (np.isfinite(at.crest) or np.isfinite(steep).any()):
            return None
        steep = at.drawn(steep, at.depth(x, y))
        # Nothing of a structure is nearer than its highest point is deep.
        crest = at.drawn(at.crest - face, at.crest) if np.isfinite(at.crest) else np.full(len(which), np.inf)
        result = np.full((*true.shape, beside.COLUMNS), np.nan)
        for fish, ranges in enumerate(true):
            trials = Trials(np.arange(len(which)), which, ranges, within)
            ground = beside.near_ground(header, trials, steep)
            built = np.setdiff1d(beside.near_ground(header, trials, crest), ground)
            for some, levels in ((built, self._ground.bare), (ground, self._ground.quiet)):
                if len(some):
                    alone, row = levels(which[some], self._threads), np.arange(len(some))
                    result[fish, some] = beside.profile(alone, self.cells, row, ranges[some], within[some])
        return result

    def levels(self, which: IntArray, *, fish: bool = True) -> StoredArray:
        """Return stored levels (n, sample) of some pings (n, rising)."""
        return self._ground.levels(which, self.things if fish else None, self._noise, self._threads)

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


def fish_over(ground: World, at: Scene, species: Species, pings: Pings) -> World:
    """Return a world of the fish of some trials alone, over the world they are laid on.

    Each fish exists only in the pings of its own trial, with a changing posture.
    """
    from pingwright.world import build
    from pingwright.world.fish import Group, Placed

    tilt = TiltDistribution(mean=species.tilt[0], sd=species.tilt[1])
    group = Group("fish", species.swimbladder, tilt, species.strength_model)
    kind, position = pings.fish, pings.position
    length, lean, yaw, first, last = kind.length, kind.tilt, kind.yaw, pings.first[:-1], pings.first[1:] - 1
    if kind.is_pair:
        above = np.zeros_like(position)
        above[2] = kind.spacing
        position = np.concatenate([position, position - above], axis=1)
        # The second fish has the posture of the first one of another trial.
        length, lean, yaw = (np.concatenate([a, np.roll(a, 1)]) for a in (length, lean, yaw))
        first, last = np.tile(first, 2), np.tile(last, 2)
    placed = Placed(position, length, lean, yaw, first, 10 ** (0.1 * species.gain), last)
    return build.laid_over(ground, at.scenario, placed, group)


def true_ranges(at: Scene, pings: Pings) -> FloatArray:
    """Return where the echoes of each ping's fish are drawn on the range axis [m] (fish of the ping, ping)."""
    from pingwright.world.truth import drawn_range

    way, trial, result = pings.way(), pings.trial, []
    for rise in (np.zeros(len(trial)), pings.fish.spacing[trial])[: 1 + pings.fish.is_pair]:
        depth = pings.position[2, trial] - rise
        result.append(
            drawn_range(at.prepared.world.water, (way[0], way[1], way[2] - rise), depth, at.face, at.assumed_speed)
        )
    return np.array(result)


def _window(at: Scene, true: FloatArray, ground: FloatArray, free: bool) -> tuple[float, float]:
    """Return the depths [m] that a record must hold for detector and bottom."""
    cell = at.headers[0].info.range_resolution
    # A structure on the bottom gives the first part of its echo: without it a fish behind would be judged wrongly.
    crest = float(at.drawn(at.crest - at.face, at.crest)) if np.isfinite(at.crest) else np.inf
    top = min(float(true.min()), crest) - LEAD - LEAD_CELLS * cell
    if free:
        return at.face + max(top, 0.0), at.face + float(true.max()) + LEAD + LEAD_CELLS * cell
    slope, tilt = at.scenario.seabed.slope, at.elements[0].spec.tilt
    steep = np.radians(min(float(np.hypot(slope.along, slope.across)), 60.0))
    # Onsets begin ahead of the bottom's nearest point, which on a slope is nearer than what lies straight below.
    shallowest, deepest = (float(at.drawn(depth - at.face, depth)) for depth in (ground.min(), ground.max()))
    nearest = shallowest * float(np.cos(steep))
    top = min(top, record_from(nearest, cell))
    lean = np.radians(min(float(np.hypot(tilt.along, tilt.across)), 60.0))
    deep = deepest / float(np.cos(lean))
    # A fish this far behind the bottom is still judged.
    far = max(deep * (1 + TRAIL_OF_DEPTH), deep * (1 + BEHIND) + BEHIND_M + LEAD)
    return at.face + max(top, 0.0), at.face + max(float(true.max()), far) + TRAIL + 10 * cell
