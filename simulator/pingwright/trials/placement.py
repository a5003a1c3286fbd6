"""The fish of the trials and their places: uniform over the union of the footprints of all elements, or one place."""

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from pingwright import seeds
from pingwright.echograms.record import FloatArray
from pingwright.inputs.claims import Over
from pingwright.trials.scene import Scene

BoolArray = NDArray[np.bool_]
Span = tuple[float, float]

#: Number of places drawn for a trial in the box around all footprints; the first one inside a footprint is taken.
DRAWS = 64
#: Trials that share a world.
WORLD = 256
#: A fish is never nearer to the bottom than this [m]: its body would touch it.
LEAST_HEIGHT = 0.05


@dataclass(frozen=True)
class School:
    """An ellipsoid of fish: full axes along, across, height [m], fish per m3; only closed forms support schools."""

    along: float
    across: float
    height: float
    density: float


@dataclass(frozen=True)
class Species:
    """The fish of the trials.

    length [m, 0 if it is the unknown], its spread length_sd [m]; above_bottom or depth: from, to [m], the other None;
    tilt: mean and standard deviation [deg]; spacing [m]: of a second fish above the first, or None; gain [dB]: by which
    it echoes louder than its model; beside: distance [m] from the side of a structure, from, to, or None; school: a
    school of these fish, with its middle at the place of the fish.
    """

    swimbladder: str
    length: float
    length_sd: float
    above_bottom: Span | None
    depth: Span | None
    tilt: Span
    strength_model: str
    spacing: float | None = None
    gain: float = 0.0
    beside: Span | None = None
    school: School | None = None

    @property
    def height(self) -> float | None:
        """Middle of the span above the bottom [m], None if a depth is given."""
        return None if self.above_bottom is None else 0.5 * (self.above_bottom[0] + self.above_bottom[1])


@dataclass(frozen=True)
class Place:
    """Place of the fish relative to the boat: along, across [m]; in a pass only across counts."""

    along: float
    across: float


@dataclass(frozen=True)
class Footprint:
    """One element's one-way -3 dB beam as tangents of angles: middle and half width along and across (2)."""

    middle: tuple[float, float]
    half: tuple[float, float]


@dataclass(frozen=True)
class Fish:
    """One fish a trial, arrays over (trial).

    along, across [m] from the boat at the middle of the trial; height above the bottom [m] at the fish's own place, or
    nan where depth [m] below the surface counts; length [m]; tilt, yaw [deg]; spacing [m] of a second fish, or 0.
    """

    along: FloatArray
    across: FloatArray
    height: FloatArray
    depth: FloatArray
    length: FloatArray
    tilt: FloatArray
    yaw: FloatArray
    spacing: FloatArray

    def __len__(self) -> int:
        """Return the number of trials."""
        return len(self.along)

    def first(self, count: int) -> "Fish":
        """Return the first `count` fish."""
        return Fish(**{field.name: getattr(self, field.name)[:count] for field in fields(self)})

    @property
    def is_pair(self) -> bool:
        """Whether there is a second fish."""
        return bool(np.any(self.spacing > 0))


def footprints(at: Scene) -> tuple[Footprint, ...]:
    """Return the footprint of each element, its own tilt counted."""
    result = []
    for element, header in zip(at.elements, at.headers, strict=True):
        info, sides = header.info, []
        for width, name in ((info.beamwidth_along, "along"), (info.beamwidth_across, "across")):
            tilt = float(getattr(element.spec.tilt, name))
            low, high = (np.tan(np.radians(np.clip(tilt + w, -85.0, 85.0))) for w in (-width / 2, width / 2))
            sides.append((0.5 * float(low + high), 0.5 * float(high - low)))
        result.append(Footprint((sides[0][0], sides[1][0]), (sides[0][1], sides[1][1])))
    return tuple(result)


def over_union(prints: tuple[Footprint, ...], draw: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return places (trial) uniform by area over the union of footprints, as tangents along and across.

    draw (2, trial, DRAWS): uniform numbers 0..1. The first that falls into a footprint counts. If none does (a union
    that fills less than a tenth of its box: fewer than one trial in 800), the middle of the first footprint by value.
    """
    low = np.min([np.subtract(p.middle, p.half) for p in prints], axis=0)[:, None, None]
    high = np.max([np.add(p.middle, p.half) for p in prints], axis=0)[:, None, None]
    spot = low + (high - low) * draw
    within = np.zeros(spot.shape[1:], dtype=bool)
    for p in prints:
        off = (spot - np.reshape(p.middle, (2, 1, 1))) / np.reshape(p.half, (2, 1, 1))
        within |= np.sum(off**2, axis=0) <= 1.0
    first = np.argmax(within, axis=1)
    rows = np.arange(spot.shape[1])
    usual = np.reshape(min(p.middle for p in prints), (2, 1))
    place = np.where(within.any(axis=1), spot[:, rows, first], usual)
    return place[0], place[1]


def across_union(prints: tuple[Footprint, ...], draw: FloatArray) -> FloatArray:
    """Return offsets (trial) uniform over the union of the -3 dB widths across, as tangents; draw (trial): 0..1."""
    spans = sorted((p.middle[1] - p.half[1], p.middle[1] + p.half[1]) for p in prints)
    joined = [list(spans[0])]
    for low, high in spans[1:]:
        if low > joined[-1][1]:
            joined.append([low, high])
        else:
            joined[-1][1] = max(joined[-1][1], high)
    ends = np.cumsum([high - low for low, high in joined])
    way = draw * ends[-1]
    which = np.minimum(np.searchsorted(ends, way, side="right"), len(joined) - 1)
    start, before = np.array([low for low, _ in joined]), np.concatenate([[0.0], ends[:-1]])
    return np.asarray(start[which] + way - before[which])


def draw(
    at: Scene, species: Species, place: Place | None, seed: int, batch: int, count: int, *, over: Over = "pass",
    prints: tuple[Footprint, ...] | None = None,
) -> Fish:  # fmt: skip
    """Return one fish for each of `count` trials of a batch; place None: anywhere.

    The first trials of a batch are the same, however many are drawn. over: "pass": anywhere is uniform over the -3 dB
    widths across at the fish's depth; "ping": uniform by area over the footprints. prints: the footprints that count,
    those of all elements if left out. Nothing else depends on the elements: compared elements and all claims of a file
    share fish and postures.
    """
    from pingwright.world import fish

    rng, few = seeds.stream(seed, "placement", batch), count
    count = whole(count)
    spot, level = rng.random((2, count, DRAWS)), rng.random(count)
    length = fish.lengths(rng, species.length, species.length_sd, count)
    tilt = np.clip(rng.normal(*species.tilt, count), -90.0, 90.0)
    yaw = rng.uniform(0.0, 360.0, count)
    height, depth = np.full(count, np.nan), np.full(count, np.nan)
    if species.above_bottom is not None:
        low, high = species.above_bottom
        height = np.maximum(low + (high - low) * level, 0.0)
        depth = np.full(count, at.bottom) - height
    elif species.depth is not None:
        depth = species.depth[0] + (species.depth[1] - species.depth[0]) * level
    else:
        depth = np.zeros(count)
    down = np.maximum(depth - at.face, 0.0)
    if place is not None:
        along, across = np.full(count, place.along), np.full(count, place.across)
    elif over == "pass":
        along, across = np.zeros(count), down * across_union(prints or footprints(at), spot[0, :, 0])
    else:
        along, across = (down * side for side in over_union(prints or footprints(at), spot))
    return Fish(along, across, height, depth, length, tilt, yaw, np.full(count, species.spacing or 0.0)).first(few)


def even_shares(count: int) -> FloatArray:
    """Return numbers (count) spread evenly from 0 to 1, in an order that has nothing to do with that of fish.

    Multiples of the golden section: an average over few of them has less chance in it. Source: Weyl's sequence.
    """
    return np.asarray((0.5 + 0.6180339887498949 * np.arange(count)) % 1.0, dtype=np.float64)


def evened(at: Scene, fish: Fish) -> Fish:
    """Return fish whose offsets are spread evenly over the -3 dB widths of all elements instead of drawn."""
    share = even_shares(len(fish))
    down = np.where(np.isnan(fish.height), fish.depth, at.bottom - fish.height) - at.face
    return replace(fish, across=np.maximum(down, 0.0) * across_union(footprints(at), share))


def whole(count: int) -> int:
    """Return a number of trials rounded up to complete worlds."""
    return -(-count // WORLD) * WORLD
