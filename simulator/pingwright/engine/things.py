"""Things that are added to stored echoes: which ones each ping receives, when they arrive, and what hides them."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pingwright.engine import geometry
from pingwright.engine.preparing import Run
from pingwright.engine.settings import Sampling
from pingwright.world.posture import Swimmers
from pingwright.world.scatterers import Scatterers, StrengthLaw

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Pairs of ping and fish that are processed at a time.
_MOST_PAIRS = 1_000_000


@dataclass(frozen=True)
class Things:
    """Scatterers as each transmission reaches them, one after another: transmission i has those bounds[i] .. [i + 1].

    delay [s]: two-way, rising within a transmission. sent (i): pings of the track; laws: of these scatterers alone.
    """

    points: Scatterers
    delay: FloatArray
    bounds: IntArray
    sent: IntArray
    laws: tuple[StrengthLaw, ...]


@dataclass(frozen=True)
class Hearings:
    """Which pings receive which things, and where in the record.

    row (m), rising: stored ping; sent (m): transmission; shift (m) [s]: its age; start (m): stored sample, counted from
    the grid's first, where the patch begins; bounds (m, 2): which things, first and one after the last.
    """

    row: IntArray
    sent: IntArray
    shift: FloatArray
    start: IntArray
    bounds: IntArray


def things_of(run: Run, other: Run, sent: IntArray) -> Things:
    """Return the discrete scatterers of another run's world as pings `sent` of the track reach them."""
    track = run.world.track
    rigid, moving = other.discrete
    ping, fish = _meetings(run, moving, sent)
    place = np.stack([track.x, track.y, track.depth])
    points, whose = moving.met(fish, track.time[sent[ping]], place[:, sent[ping]], run.reach)
    which = ping[whose]
    if len(rigid):
        near = [geometry.within(rigid, x - run.reach, x + run.reach) for x in track.x[sent]]
        which = np.concatenate([which, np.repeat(np.arange(len(sent)), [len(part) for part in near])])
        points = geometry.join([points, *near])
    delay = _delays(run, points, sent[which])
    order = np.lexsort((delay, which))
    points, counts = geometry.take(points, order), np.bincount(which, minlength=len(sent))
    used, law = np.unique(points.law, return_inverse=True)
    laws = tuple(other.world.laws[i] for i in used)
    bounds = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    return Things(replace(points, law=law.astype(np.int32)), delay[order], bounds, sent, laws)


def _meetings(run: Run, moving: Swimmers, sent: IntArray) -> tuple[IntArray, IntArray]:
    """Return which pings may receive which moving fish (meeting): places in `sent`, rising, and fish.

    Fish that swim may leave their straight path by up to ten metres.
    """
    track, step = run.world.track, max(_MOST_PAIRS // max(len(moving.time), 1), 1)
    swims, result = (moving.velocity != 0).any(axis=0), []
    for start in range(0, len(sent) if len(moving.time) else 0, step):
        some = sent[start : start + step]
        ping, fish = np.nonzero((moving.first < 0) | ((moving.first <= some[:, None]) & (some[:, None] <= moving.last)))
        here = some[ping]
        place = np.stack([track.x[here], track.y[here], track.depth[here]])
        away = moving.velocity[:, fish] * (track.time[here] - moving.time[fish]) + moving.centre[:, fish] - place
        near = (away**2).sum(axis=0) <= (run.reach + 2.0 + 10.0 * swims[fish]) ** 2
        result.append((start + ping[near], fish[near]))
    both = np.concatenate([np.zeros((2, 0), np.int64), *(np.array(pair) for pair in result)], axis=1)
    return both[0], both[1]


def _delays(run: Run, points: Scatterers, ping: IntArray) -> FloatArray:
    """Return the two-way delays [s] of points (n) from the face in a ping each."""
    track = run.world.track
    offset = points.position - np.stack([track.x[ping], track.y[ping], track.depth[ping]])
    slowness = run.world.water.mean_slowness(run.settings.transducer_depth, points.position[2])
    return np.asarray(2 * np.sqrt((offset**2).sum(axis=0)) * slowness)


def heard(
    things: Things, row: IntArray, sent: IntArray, shift: FloatArray, grid: Sampling
) -> tuple[IntArray, IntArray, FloatArray, IntArray]:
    """Return those of row, sent, shift (m) that receive things, and which (m, 2): first, and one after the last.

    Echoes that arrive before or after a ping's grid are lost, as in a complete run.
    """
    # Things are in order of transmission, then of delay: one rising key for both.
    age = float(things.delay.max(initial=0.0)) + 1.0
    keys = np.repeat(np.arange(len(things.sent)), np.diff(things.bounds)) * age + things.delay
    ends = grid.origin + shift + np.array([[0.0], [grid.stored_length / grid.stored]])
    bounds = np.searchsorted(keys, sent * age + np.clip(ends, 0.0, age)).T
    some = bounds[:, 1] > bounds[:, 0]
    return row[some], sent[some], shift[some], bounds[some]


def left(run: Run, n: int, things: Things, poses: FloatArray) -> NDArray[np.float32]:
    """Return the factor of each amplitude [1] (n) after structures and absorbing schools, empty if all are 1."""
    if not run.trees and not run.world.absorbers:
        return np.zeros(0, np.float32)
    from pingwright.engine.kernels.hiding import TOLERANCE, dim, hide

    points, weight = things.points, np.ones(len(things.points), np.float32)
    two_sided = np.array([law.two_sided for law in things.laws], np.uint8)
    segments = np.stack([things.bounds[:-1], things.bounds[1:]], axis=1)
    some = segments[:, 1] > segments[:, 0]
    for pose, segment in zip(poses[some], segments[some], strict=True):
        place, only = pose[:3], segment[None]
        for tree in run.trees:
            hide(
                points.position, points.axis, points.law, two_sided, only, place, tree.boxes, tree.child,
                tree.triangles, TOLERANCE, weight,
            )  # fmt: skip
        dim(run.world.absorbers, sum(run.elements[n].band) / 2, place, points.position, only, weight)
    return weight
