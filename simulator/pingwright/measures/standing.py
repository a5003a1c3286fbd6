"""What stands on the bottom as an element sees it, from formulas: it hides fish, and echoes before and beside them.

A wreck or a reef is a set of patches, each of the mean echo of its material at its incidence, through the recorded
pattern at band centre and the filter's side lobes. Patches that face away are silent; that parts of a heap hide others
is left out, and so is the shadow on the seabed, whose level is that of open ground. Levels at other ranges than the
fish's are not corrected for spreading (1.4 dB where they are 8 % apart). Only means are used: their speckle is left to
chance, as noise is.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from math import ceil
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pingwright import seeds
from pingwright.echograms.record import ElementInfo, ElementRecord, FloatArray
from pingwright.engine.remembered import remembered
from pingwright.engine.shadows import key_of
from pingwright.measure.bottom import AVERAGED_CELLS, LINE_GAP, LINES
from pingwright.measure.filters import STEPS, filtering
from pingwright.measure.onset import LONGEST
from pingwright.measure.separated import BELOW_BOTTOM, BELOW_PEAK
from pingwright.measures import ahead, raised
from pingwright.measures.ahead import Ahead
from pingwright.trials.passes import IntArray, Pings, own_axes
from pingwright.trials.scene import Scene
from pingwright.world.scatterers import Occluder, Scatterers, Track

if TYPE_CHECKING:
    from pingwright.engine.kernels.hiding import Tree

BoolArray = NDArray[np.bool_]

#: Most patches that are looked at, most pings of a pass, and most bins of range, of this share of a cell or more
#: (*assumed*: with bins of a third of a cell the shares of 13 trips are as near to those of passes).
PATCHES, PINGS, BINS, FINE = 20000, 10, 1000, 0.5
#: Between the pings of two trials, many pings [1]; no echo at all [m2].
FAR, NOTHING = 1e6, 1e-30
#: Cells of a gap, as in the rule for levels.
GAP = 2.0
#: Steps of the tables of incidence and of the beam, and the tangent [1] up to which a beam is in its table.
LAW_STEPS, BEAM_STEPS, STEEP = 400, 4096, 1.8


@dataclass(frozen=True)
class Around:
    """What stands around the fish of some pings, arrays over (ping).

    echo [m2]: the mean echo strength, as a power, of all that stands at the fish's range; ahead, clear: whether the
    fish is in sight and before the echo of the bottom, or between that of what stands there and the bottom's; and with
    a gap on the sides where these are.
    """

    echo: FloatArray
    ahead: BoolArray
    clear: BoolArray


@dataclass(frozen=True)
class Bins:
    """Mean echo strength, as a power [m2] (ping, bin), in bins of range from `near` on, each `width` wide [m]."""

    power: FloatArray
    near: float
    width: float

    def at(self, distance: FloatArray) -> IntArray:
        """Return the bins (n) of ranges [m] (n); negative where nearer than all."""
        return np.floor((distance - self.near) / self.width).astype(np.int64)

    def of(self, length: float) -> int:
        """Return how many bins a length [m] takes."""
        return max(ceil(length / self.width), 1)


def around(at: Scene, index: int, pings: Pings, able: IntArray, fish: FloatArray, bottom: Ahead) -> Around | None:
    """Return what stands around the fish of the pings `able` (n) for one element; None where nothing stands.

    fish [m2] (n): middle echo strength of the fish, as a power.
    """
    if not len(able) or not (np.isfinite(at.crest) or raised.has_ledge(at)):
        return None
    some, nearest = _thinned(pings.trial[able])
    which = able[some]
    way = pings.way()[:, which]
    place = np.stack([pings.track.x[which], pings.track.y[which], pings.track.depth[which]])
    bins = _echoes(at, index, pings.track, which, bottom.edge)
    slot = bins.at(np.linalg.norm(way, axis=0))
    echo = np.max([_value(bins.power, slot + k) for k in (-1, 0, 1)], axis=0)
    # In decibels between the pings that are looked at: beside a ledge it falls steeply.
    order = pings.trial[able] * FAR + np.arange(len(able))
    echo = 10 ** np.interp(order, order[some], np.log10(np.maximum(echo, NOTHING)))
    open_ = ~_hidden(at, place, place + way)
    before, clear = _clear(bins, slot, fish[some], bottom.level, at.headers[index].info)
    return Around(echo, (before & open_)[nearest], (clear & open_)[nearest])


def _thinned(trial: IntArray) -> tuple[IntArray, IntArray]:
    """Return which of some pings (n) are looked at, at most PINGS of each trial, and for each ping (n) whose it takes.

    What stands around a fish changes little from ping to ping: with all of them the shares of 12 trips beside wrecks
    and ledges differ by 0.01 in the mean, by 0.05 in one of twenty, by 0.18 at worst.
    """
    first = np.flatnonzero(np.diff(trial, prepend=-1))
    size = np.diff(np.append(first, len(trial)))
    few = np.minimum(size, PINGS)
    start = np.concatenate([[0], np.cumsum(few)])
    turn = np.arange(start[-1]) - np.repeat(start[:-1], few)
    some = np.repeat(first, few) + ((2 * turn + 1) * np.repeat(size, few)) // (2 * np.repeat(few, few))
    place = np.arange(len(trial)) - np.repeat(first, size)
    return some, np.repeat(start[:-1], size) + place * np.repeat(few, size) // np.repeat(size, size)


def _echoes(at: Scene, index: int, track: Track, which: IntArray, end: float) -> Bins:
    """Return the mean echoes of what stands there in some pings (n) of one element, up to a range `end` [m]."""
    from pingwright.engine.kernels.ranged import add_powers

    info, place = at.headers[index].info, np.stack([track.x[which], track.y[which], track.depth[which]])
    high = raised.patches(at, info.cell, place[0], end)
    crest = min(at.crest, np.inf if high is None else float(high.position[2].min()), at.bottom)
    # With the water ahead into which the filter's side lobes reach, and a gap.
    before = (len(filtering(info).lobes) / STEPS + 2 * GAP) * info.cell
    near = max(crest - float(place[2].max()) - before, 0.1)
    width = max(FINE * info.cell, (end - near) / BINS)
    power = np.zeros((len(which), ceil(max(end - near, 0.0) / width) + 1))
    add = partial(
        add_powers, turn=_turns(at, index, track, which), **_beam(at.headers[index]), near=near, width=width, bins=power
    )
    built = _patches(at.prepared.world.discrete.scatterers)
    cosine = np.linspace(0.0, 1.0, LAW_STEPS)
    middle = np.array([0.5 * (info.band_low + info.band_high)])
    laws = np.zeros((len(at.prepared.world.laws), LAW_STEPS))
    for number in np.unique(built.law).tolist():
        laws[number] = at.prepared.world.laws[number].amplitude(cosine, middle)[:, 0] ** 2
    add(
        xyz=built.position,
        axis=built.axis,
        area=built.amplitude.astype(np.float64) ** 2,
        law=built.law,
        laws=laws,
        place=place,
    )
    if high is not None:
        place[1] = 0.0
        add(
            xyz=high.position,
            axis=high.normal.astype(np.float32),
            area=high.area,
            place=place,
            law=np.zeros(len(high.area), dtype=np.int32),
            laws=ahead.scatter(at, index, cosine)[None],
        )
    return Bins(_filtered(info, power, width), near, width)


def _beam(header: ElementRecord) -> dict[str, Any]:
    """Return the two-way pattern at band centre as tables for the kernel."""
    tangent = np.linspace(-STEEP, STEEP, BEAM_STEPS + 1)
    none, one = np.zeros(len(tangent)), np.ones(len(tangent))
    along, across = (
        10 ** (0.1 * ahead.beam_gain(header, np.stack(own))) for own in ((tangent, none, one), (none, tangent, one))
    )
    row = int(np.argmin(np.abs(header.beam.frequency - 0.5 * (header.info.band_low + header.info.band_high))))
    is_round = bool(np.allclose(header.beam.along[row], header.beam.across[row], atol=0.01))
    return {"along": along, "across": across, "steep": STEEP, "is_round": is_round}


def _patches(points: Scatterers) -> Scatterers:
    """Return patches, of very many as many as are looked at, each for several."""
    count = len(points.amplitude)
    if count <= PATCHES:
        return points
    some = np.sort(seeds.stream(0, "placement", -8).permutation(count)[:PATCHES])
    louder = np.float32(np.sqrt(count / PATCHES))
    return Scatterers(
        points.position[:, some], points.axis[:, some], points.amplitude[some] * louder, points.phase[some],
        points.law[some],
    )  # fmt: skip


def _turns(at: Scene, index: int, track: Track, which: IntArray) -> FloatArray:
    """Return matrices (ping, 3, 3) from world axes to the element's own in some pings."""
    none = np.zeros(len(which))
    lean = Track(none, none, none, none, none, track.roll[which], track.pitch[which], none)
    sides = [own_axes(at.elements[index], lean, np.repeat(one[:, None], len(which), axis=1)) for one in np.eye(3)]
    return np.ascontiguousarray(np.stack(sides, axis=1).transpose(2, 0, 1))


def _filtered(info: ElementInfo, power: FloatArray, width: float) -> FloatArray:
    """Return echoes (ping, bin) [m2] as mean levels behind the filter, spread by its side lobes."""
    lobes, step = filtering(info).lobes, width * STEPS / info.cell
    total = np.concatenate([[0.0], np.cumsum(lobes)])
    ends = np.clip((np.arange(int(len(lobes) / step) + 1) + 0.5) * step, 0.0, len(lobes))
    share = np.diff(np.interp(ends, np.arange(len(total)), total), prepend=0.0)
    share[0] *= 2.0
    size = power.shape[1] + len(share)
    both = np.zeros(2 * size)
    both[: len(share)], both[len(both) - len(share) + 1 :] = share, share[:0:-1]
    spectrum = np.fft.rfft(both / both.sum()) * np.fft.rfft(power, len(both), axis=1)
    spread = np.maximum(np.fft.irfft(spectrum, len(both), axis=1)[:, : power.shape[1]], 0.0)
    return np.asarray(spread * (0.5 * info.assumed_sound_speed * info.effective_pulse / width))


def _clear(
    bins: Bins, slot: IntArray, fish: FloatArray, seabed: float, info: ElementInfo
) -> tuple[BoolArray, BoolArray]:
    """Return whether each ping's fish is before the bottom's echo, or in the water between two, and with gaps (ping).

    The rules are those for levels (`measure.bottom`, `onset`, `separated`), for means. slot (ping): the fish's bin;
    fish [m2] (ping); seabed [m2]: the bottom's level, in the last bin.
    """
    count, cell = bins.power.shape[1], info.cell
    strongest, top = _strongest(bins, cell)
    main = np.maximum(top, seabed)
    gap = np.minimum(fish * 10 ** (-0.1 * BELOW_PEAK), main * 10 ** (-0.1 * BELOW_BOTTOM))
    built, last, after = top > seabed, np.full(len(slot), count), np.clip(slot, 0, count - 1)
    end = np.where(built & (strongest > slot), strongest, last)
    # An echo that goes on without a gap up to the fish is an onset, unless it would be too long for one.
    quiet = _has_run(bins, main * 10 ** (-0.1 * ahead.BEGINS), GAP * cell, after, end)
    quiet |= (bins.near + end * bins.width) * (1 - LONGEST) > bins.near + slot * bins.width
    apart = _has_run(bins, gap, GAP * cell, after, end)
    # Behind a deck that is louder than the seabed, the seabed's must be a line of its own, with quiet water before it.
    line = np.zeros(len(slot), dtype=bool)
    for margin, drop in LINES[:2]:
        calm = _has_run(bins, main * 10 ** (-0.1 * drop), LINE_GAP * cell, strongest + 1, last)
        line |= calm & (seabed >= top * 10 ** (-0.1 * margin))
    behind = built & (strongest <= slot)
    joined = ~_has_run(bins, gap, GAP * cell, strongest + 1, after)
    return np.where(behind, line, quiet), apart & np.where(behind, line & ~joined, quiet)


def _strongest(bins: Bins, cell: float) -> tuple[IntArray, FloatArray]:
    """Return the bin (ping) from which AVERAGED_CELLS have the highest mean, and that mean [m2] (ping)."""
    long = bins.of(AVERAGED_CELLS * cell)
    total = np.cumsum(np.pad(bins.power, ((0, 0), (1, long))), axis=1)
    mean = (total[:, long:] - total[:, :-long])[:, : bins.power.shape[1]] / long
    return mean.argmax(axis=1), mean.max(axis=1)


def _has_run(bins: Bins, limit: FloatArray, length: float, low: IntArray, high: IntArray) -> BoolArray:
    """Return whether a run of bins of a length [m] from `low` on and before `high` (ping) stays under a limit [m2]."""
    need, place = bins.of(length), np.arange(bins.power.shape[1])
    quiet = np.cumsum(np.pad(bins.power <= limit[:, None], ((0, 0), (1, need))), axis=1)
    run: BoolArray = (quiet[:, need:] - quiet[:, :-need])[:, : len(place)] == need
    return np.asarray((run & (place >= low[:, None]) & (place + need <= high[:, None])).any(axis=1))


def _value(power: FloatArray, slot: IntArray) -> FloatArray:
    """Return each ping's power [m2] in a bin (ping), 0 outside."""
    count = power.shape[1]
    return np.where((slot >= 0) & (slot < count), power[np.arange(len(slot)), np.clip(slot, 0, count - 1)], 0.0)


def _hidden(at: Scene, place: FloatArray, fish: FloatArray) -> BoolArray:
    """Return whether something stands between places and fish (3, n) [m], n of each."""
    from pingwright.engine.kernels.hiding import TOLERANCE, hide

    weight = np.ones(place.shape[1], dtype=np.float32)
    axis, law = np.zeros(fish.shape, dtype=np.float32), np.zeros(len(weight), dtype=np.int32)
    both_sides, fish = np.ones(1, dtype=np.uint8), np.ascontiguousarray(fish)
    for tree in _trees(at):
        for k in range(len(weight)):
            only, origin = np.array([[k, k + 1]]), np.ascontiguousarray(place[:, k])
            hide(fish, axis, law, both_sides, only, origin, tree.boxes, tree.child, tree.triangles, TOLERANCE, weight)
    return np.asarray(weight == 0)


def _trees(at: Scene) -> "Sequence[Tree]":
    """Return the box trees of what stands there, kept between scenes."""
    from pingwright.engine.kernels.hiding import Tree, build_tree

    world, trees = at.prepared.world, []
    for occluder in world.occluders:

        def make(one: Occluder = occluder) -> tuple[NDArray[Any], ...]:
            tree = build_tree(one)
            return tree.boxes, tree.child, tree.triangles

        key = ("tree", key_of(world.discrete.scatterers, (occluder,), np.zeros(0)))
        trees.append(Tree(*remembered(key, make)))
    return trees
