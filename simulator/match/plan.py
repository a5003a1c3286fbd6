"""Which trials a trip asks for: one fish to a ping, the same places, lengths and tilts for every candidate.

Places are drawn once, in the narrowest one-way -3 dB footprint among all elements of the trip, so that each element is
judged on fish it can be steered over; what a wide beam finds besides is the searched width's to say.
"""

from dataclasses import dataclass

import numpy as np

from simulator import seeds
from simulator.match.hits import FloatArray

#: Slices into which the day's span of depth is cut; trials stand in the middle of each.
SLICES = 5
#: Runs for each quarry and slice, and for each point of an axis and slice.
SPOT_RUNS, AXIS_RUNS = 40, 8
#: Judgements without a fish for each quarry and slice.
EMPTY_RUNS = 12

#: Offsets across the track over the fish's depth; lengths [m]; depths over that of the bottom.
OFFSETS = np.array([0.0, 0.03, 0.06, 0.1, 0.16, 0.24, 0.36, 0.5])
LENGTHS = np.geomspace(0.05, 0.5, 7)
DEPTHS = np.array([0.15, 0.3, 0.45, 0.6, 0.8, 1.0, 1.25, 1.5])

#: A fish is never drawn nearer to the bottom than this [m]: its body would touch it.
LEAST_HEIGHT = 0.05


@dataclass(frozen=True)
class Places:
    """Where one fish stands in each ping, arrays over (n).

    along, across [m] from the transducer; depth [m] below the surface; length [m], nan where the quarry's own length
    is to be drawn; present: False where the ping is judged without its fish.
    """

    along: FloatArray
    across: FloatArray
    depth: FloatArray
    length: FloatArray
    present: FloatArray

    def __len__(self) -> int:
        """Return the number of pings."""
        return len(self.depth)


@dataclass(frozen=True)
class Footprint:
    """The narrowest beam of all elements of the trip: half angles [deg] along and across the track."""

    along: float
    across: float


def slices(span: tuple[float, float]) -> FloatArray:
    """Return the depth of the bottom [m] in the middle of each slice; one slice where the span has no width."""
    low, high = min(span), max(span)
    count = SLICES if high > low else 1
    edges = np.linspace(low, high, count + 1)
    return np.asarray((edges[1:] + edges[:-1]) / 2)


def fish_depth(
    where: tuple[tuple[float, float] | None, tuple[float, float] | None],
    bottom: float,
    random: np.random.Generator,
    count: int,
) -> FloatArray:
    """Return depths [m] (count) of a quarry that holds (above_bottom, depth), one of them None, uniform over its span.

    A fish whose depth would lie in the bottom stands LEAST_HEIGHT above it.
    """
    above, depth = where
    if above is not None:
        drawn = bottom - random.uniform(min(above), max(above), count)
    elif depth is not None:
        drawn = random.uniform(min(depth), max(depth), count)
    else:
        msg = "a quarry holds above the bottom or at a depth"
        raise ValueError(msg)
    return np.clip(drawn, 0.5, bottom - LEAST_HEIGHT)


def spot(
    where: tuple[tuple[float, float] | None, tuple[float, float] | None],
    bottom: float,
    face: float,
    footprint: Footprint,
    random: np.random.Generator,
    count: int,
    *,
    present: bool = True,
) -> Places:
    """Return fish uniform by area over the footprint at their own depth; bottom, face: depths [m]."""
    depth = fish_depth(where, bottom, random, count)
    radius, turn = np.sqrt(random.random(count)), random.uniform(0, 2 * np.pi, count)
    down = np.maximum(depth - face, 0.1)
    along = down * np.tan(np.radians(footprint.along)) * radius * np.cos(turn)
    across = down * np.tan(np.radians(footprint.across)) * radius * np.sin(turn)
    return Places(along, across, depth, np.full(count, np.nan), np.full(count, float(present)))


def offsets(
    where: tuple[tuple[float, float] | None, tuple[float, float] | None],
    bottom: float,
    face: float,
    random: np.random.Generator,
) -> Places:
    """Return fish abeam at every offset of OFFSETS (point, run), to either side."""
    count = len(OFFSETS) * AXIS_RUNS
    depth = fish_depth(where, bottom, random, count)
    side = random.choice([-1.0, 1.0], count)
    across = np.repeat(OFFSETS, AXIS_RUNS) * np.maximum(depth - face, 0.1) * side
    return Places(np.zeros(count), across, depth, np.full(count, np.nan), np.ones(count))


def lengths(
    where: tuple[tuple[float, float] | None, tuple[float, float] | None],
    bottom: float,
    face: float,
    footprint: Footprint,
    random: np.random.Generator,
) -> Places:
    """Return fish of every length of LENGTHS (point, run), placed as `spot` places them."""
    count = len(LENGTHS) * AXIS_RUNS
    placed = spot(where, bottom, face, footprint, random, count)
    return Places(placed.along, placed.across, placed.depth, np.repeat(LENGTHS, AXIS_RUNS), placed.present)


def depths(bottom: float, face: float) -> Places:
    """Return fish on the axis at every depth of DEPTHS times that of the bottom (point, run)."""
    count = len(DEPTHS) * AXIS_RUNS
    depth = face + np.repeat(DEPTHS, AXIS_RUNS) * (bottom - face)
    return Places(np.zeros(count), np.zeros(count), depth, np.full(count, np.nan), np.ones(count))


def joined(*parts: Places) -> Places:
    """Return several sets of places as one, in order."""
    names = ("along", "across", "depth", "length", "present")
    return Places(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))


def stream(seed: int, *index: int) -> np.random.Generator:
    """Return the random stream of one slice and experiment."""
    return seeds.stream(seed, "placement", *index)
