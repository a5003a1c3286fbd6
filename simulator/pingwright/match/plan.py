"""Which trials a trip asks for: one fish to a ping, the same places, lengths and tilts for every candidate.

Places are drawn once, in the narrowest one-way -3 dB footprint among all elements of the trip, so that each element is
judged on fish it can be steered over; what a wide beam finds besides is the swath's to say.

The bottom falls along the track so gently that its slope counts for nothing, from the day's least depth to its
greatest, and each trial stands where the bottom has the depth it asks for.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pingwright import seeds
from pingwright.match.hits import FloatArray

#: Slices into which the day's span of depth is cut.
SLICES = 5
#: Runs for each species and slice, and for each point of an axis and slice.
SPOT_RUNS, AXIS_RUNS = 40, 6
#: Judgements without a fish for each species and slice.
EMPTY_RUNS = 12

#: Offsets across the track over the fish's depth; lengths [m]; depths over that of the bottom.
OFFSETS = np.array([0.0, 0.03, 0.06, 0.1, 0.16, 0.24, 0.36, 0.5])
LENGTHS = np.geomspace(0.05, 0.5, 7)
DEPTHS = np.array([0.15, 0.3, 0.45, 0.6, 0.8, 1.0, 1.25, 1.5])

#: A fish is never drawn nearer to the bottom than this [m]: its body would touch it.
LEAST_HEIGHT = 0.05
#: Fall of the bottom along the track [m/m]: 0.3 deg, which hides 4 mm of a fish at 300 m.
FALL = 0.005
#: Distance between the pings of one experiment [m]: beyond half a face's length the bottom's echo is another.
STEP = 3.0


@dataclass(frozen=True)
class Places:
    """Where one fish stands in each ping, arrays over (n).

    bottom [m]: depth of the bottom under the boat. x, y [m]: of the boat, along the track and off it. along, across [m]
    from the transducer. height above the bottom at the fish's own place [m], or nan and then depth below the surface
    [m] counts. length [m], nan where the species's own length is to be drawn. present: 0 where the ping is judged
    without its fish. species: index of its kind.
    """

    bottom: FloatArray
    x: FloatArray
    y: FloatArray
    along: FloatArray
    across: FloatArray
    height: FloatArray
    depth: FloatArray
    length: FloatArray
    present: FloatArray
    species: FloatArray

    def __len__(self) -> int:
        """Return the number of pings."""
        return len(self.depth)

    def take(self, index: Any) -> "Places":
        """Return some of the places, by index."""
        return Places(*(getattr(self, name)[index] for name in _NAMES))


_NAMES = ("bottom", "x", "y", "along", "across", "height", "depth", "length", "present", "species")


@dataclass(frozen=True)
class Footprint:
    """The narrowest beam of all elements of the trip: half angles [deg] along and across the track."""

    along: float
    across: float


@dataclass(frozen=True)
class Slice:
    """One slice of the day: depth of the bottom [m] from, to; face: depth of the transducer [m]."""

    low: float
    high: float
    face: float

    @property
    def middle(self) -> float:
        """Depth of the bottom [m] in the middle of the slice."""
        return (self.low + self.high) / 2

    def bottoms(self, random: np.random.Generator, count: int) -> FloatArray:
        """Return depths of the bottom [m] (count), evenly spread over the slice, in random order."""
        return np.asarray(self.low + (self.high - self.low) * random.permutation((np.arange(count) + 0.5) / count))


def slices(span: tuple[float, float], face: float) -> tuple[Slice, ...]:
    """Return the slices of the day's span of depth [m]; one where the span has no width."""
    low, high = min(span), max(span)
    edges = np.linspace(low, high, (SLICES if high > low else 1) + 1)
    return tuple(Slice(float(a), float(b), face) for a, b in zip(edges[:-1], edges[1:], strict=True))


def swim(where: Any, species: int, at: Slice, random: np.random.Generator, count: int) -> Places:
    """Return fish on the axis, uniform over the span in which a species holds (above_bottom or depth).

    A fish whose depth would lie in the bottom stands LEAST_HEIGHT above it.
    """
    bottom, zero = at.bottoms(random, count), np.zeros(count)
    if where.above_bottom is not None:
        height = np.maximum(random.uniform(min(where.above_bottom), max(where.above_bottom), count), LEAST_HEIGHT)
        height = np.minimum(height, bottom - at.face - 0.5)
        depth = bottom - height
    else:
        depth = np.clip(random.uniform(min(where.depth), max(where.depth), count), at.face + 0.5, bottom - LEAST_HEIGHT)
        height = np.full(count, np.nan)
    unset = np.full(count, np.nan)
    return Places(bottom, zero, zero, zero, zero, height, depth, unset, np.ones(count), np.full(count, species))


def spot(where: Any, species: int, at: Slice, footprint: Footprint, random: np.random.Generator, count: int) -> Places:
    """Return fish uniform by area over the footprint at their own depth."""
    fish = swim(where, species, at, random, count)
    radius, turn = np.sqrt(random.random(count)), random.uniform(0, 2 * np.pi, count)
    down = fish.depth - at.face
    return replace(
        fish,
        along=down * np.tan(np.radians(footprint.along)) * radius * np.cos(turn),
        across=down * np.tan(np.radians(footprint.across)) * radius * np.sin(turn),
    )


def empty(where: Any, species: int, at: Slice, footprint: Footprint, random: np.random.Generator) -> Places:
    """Return EMPTY_RUNS places as `spot` draws them, for pings without a fish."""
    fish = spot(where, species, at, footprint, random, EMPTY_RUNS)
    return replace(fish, present=np.zeros(EMPTY_RUNS))


def offsets(where: Any, species: int, at: Slice, random: np.random.Generator, runs: int = AXIS_RUNS) -> Places:
    """Return fish abeam at every offset of OFFSETS (point, run), to either side."""
    count = len(OFFSETS) * runs
    fish = swim(where, species, at, random, count)
    side = random.choice([-1.0, 1.0], count)
    return replace(fish, across=np.repeat(OFFSETS, runs) * (fish.depth - at.face) * side)


def lengths(
    where: Any, species: int, at: Slice, footprint: Footprint, random: np.random.Generator, runs: int = AXIS_RUNS
) -> Places:
    """Return fish of every length of LENGTHS (point, run), placed as `spot` places them."""
    fish = spot(where, species, at, footprint, random, len(LENGTHS) * runs)
    return replace(fish, length=np.repeat(LENGTHS, runs))


def depths(species: int, at: Slice, random: np.random.Generator, runs: int = AXIS_RUNS) -> Places:
    """Return fish on the axis at every depth of DEPTHS times that of the bottom (point, run), for open water."""
    count = len(DEPTHS) * runs
    usual = at.bottoms(random, count)
    depth = at.face + np.repeat(DEPTHS, runs) * (usual - at.face)
    zero, unset = np.zeros(count), np.full(count, np.nan)
    return Places(usual, zero, zero, zero, zero, unset, depth, unset, np.ones(count), np.full(count, species))


def in_line(places: Places, low: float, fall: float) -> Places:
    """Return places in one line along the track: where the bottom has each one's depth, STEP apart where it is level.

    low [m]: depth of the bottom at x = 0. fall [m/m]: of the bottom along the track.
    """
    level = STEP * np.arange(len(places), dtype=np.float64)
    return replace(places, x=(places.bottom - low) / fall if fall > 0 else level)


def beside(places: Places, wreck: Any, at: Slice, x: float, fall: float, random: np.random.Generator) -> Places:
    """Return places whose fish stand beside a wreck, anywhere along it and to starboard of it.

    wreck: length, width, beside (from, to) [m]; it lies at x [m], where the bottom has the depth of the slice's middle.
    """
    count = len(places)
    along = wreck.length * (random.random(count) - 0.5)
    off = wreck.width / 2 + random.uniform(min(wreck.beside), max(wreck.beside), count)
    bottom = at.middle + fall * along
    depth = np.where(np.isnan(places.height), np.minimum(places.depth, bottom - LEAST_HEIGHT), bottom - places.height)
    return replace(places, x=x + along, y=off - places.across, bottom=bottom, depth=depth)


def joined(parts: list[Places]) -> Places:
    """Return several sets of places as one, in order."""
    return Places(*(np.concatenate([getattr(part, name) for part in parts]) for name in _NAMES))


def fall(span: tuple[float, float], runs: int) -> float:
    """Return the fall of the bottom along the track [m/m, dimensionless], so that pings stand STEP apart, or 0.

    runs: the most that one experiment has in a slice.
    """
    return min(FALL, abs(span[1] - span[0]) / SLICES / (STEP * runs))


def stream(seed: int, *index: int) -> np.random.Generator:
    """Return the random stream of one slice and species."""
    return seeds.stream(seed, "placement", *index)
