"""Fish: place, posture and motion of each, and the highlights that make its echo.

A fish echoes from a few highlights along its body (world.highlights), whose places are random for each fish. If a pulse
is so short that it separates them, the peak is lower than their sum.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from pingwright import seeds
from pingwright.inputs.fields import known
from pingwright.world import highlights, posture, shoal
from pingwright.world.contents import Stock
from pingwright.world.gather import ALL_PINGS, Gathering
from pingwright.world.scatterers import FloatArray, Posture, Track
from pingwright.world.strength import Model
from pingwright.world.terrain import Ground

if TYPE_CHECKING:
    from pingwright.inputs.bodies import Fish, Room, School, Swimming, TiltDistribution

MOST_SHAPED = 5_000  # fish of one group: above it each is one point, with the mean target strength for its tilt
MOST_FISH = 2_000_000  # in all groups and schools of a scenario: refused beyond
MOST_IN_SCHOOL = 150_000  # above it one fish represents several, with the power of all
_TRIES = 40
_HOPELESS = 10_000  # fish without room: then no more are tried
_SHORTEST, _LONGEST = 0.01, 4.0  # m
_LENGTH_SPREAD = 2.5  # standard deviations at which lengths are cut off


class Animals(Protocol):
    """Properties that give the echo of a group of fish: kind, posture, motion, and model of target strength."""

    @property
    def name(self) -> str:
        """Their name in the scenario."""

    @property
    def swimbladder(self) -> str:
        """closed, open, none."""

    @property
    def tilt(self) -> "TiltDistribution | None":
        """Tilt of the long axis [deg]."""

    @property
    def strength_model(self) -> str | None:
        """Name of the model."""

    @property
    def swimming(self) -> "Swimming | None":
        """Speed [m/s], heading and climb [deg]."""


@dataclass(frozen=True)
class Group:
    """Fish that no file describes: see Animals."""

    name: str
    swimbladder: str
    tilt: "TiltDistribution"
    strength_model: str
    swimming: None = None


Inside = Callable[[FloatArray], NDArray[np.bool_]]
Highest = Callable[[FloatArray, FloatArray], FloatArray]


@dataclass(frozen=True)
class Placed:
    """Placed fish, arrays over (n): position (3, n) [m], length [m], tilt, yaw [deg].

    ping, last: the pings from ping to last in which each exists (last None: that one alone); ping -1: all. weight: how
    many fish each of them represents.
    """

    position: FloatArray
    length: FloatArray
    tilt: FloatArray
    yaw: FloatArray
    ping: NDArray[np.int64]
    weight: float = 1.0
    last: NDArray[np.int64] | None = None

    def of(self, which: NDArray[np.int64]) -> "Placed":
        """Return some of the fish, by place."""
        last = None if self.last is None else self.last[which]
        parts = (self.length[which], self.tilt[which], self.yaw[which], self.ping[which])
        return Placed(self.position[:, which], *parts, self.weight, last)


def expected(group: "Fish") -> float:
    """Return the number of fish of a `[[fish]]` table, or the mean number for a density, dimensionless."""
    if group.count is not None:
        return float(group.count - len(group.without))
    box = group.where
    span = known(_heights(box) or box.depth, "fish.where.depth")
    volume = (box.x[1] - box.x[0]) * (box.y[1] - box.y[0]) * (span[1] - span[0])
    return float(known(group.density, "fish.density") * volume)


def expected_in_school(school: "School") -> float:
    """Return the number of fish in a `[[school]]` table, or the mean number for a density, dimensionless."""
    if school.count is not None:
        return float(school.count)
    half = np.array([school.size.along, school.size.across, school.size.height]) / 2.0
    return float(known(school.density, "school.density") * (4.0 / 3.0 * np.pi * float(np.prod(half))))


def _heights(box: "Room") -> tuple[float, float] | None:
    """Return the span of heights of a box [m], None if it gives depths."""
    return box.above_bottom if box.above_bottom is not None else box.above


def place(
    group: "Fish",
    index: int,
    seed: int,
    ground: Ground,
    tilt: tuple[float, float],
    inside: Sequence[Inside],
    highest: Highest | None = None,
) -> Placed:
    """Return the fish of a `[[fish]]` table, uniform in its box, outside solid things.

    group: length (mean, sd [m]), count or density [1/m3], where (x, y and above_bottom, above or depth, spans [m]),
    swimming (speed, heading [deg]). inside: tests of structures; a fish that finds no room outside them in 40 tries
    stays in. highest: depth of whatever stands highest at x, y (n) [m], for `above`. Fish above the surface are moved
    to it (cautions report this). Lengths are normal, limited to 2.5 standard deviations and to 1 cm to 4 m. Fish that
    swim point ahead, others in any direction.
    """
    rng = seeds.stream(seed, "fish", index)
    box = group.where
    rise = _heights(box)
    span = rise if rise is not None else known(box.depth, "fish.where.depth")
    under = highest if highest is not None and box.above is not None else ground.depth
    count = int(group.count) if group.count is not None else int(rng.poisson(expected(group)))

    def draw(n: int) -> FloatArray:
        place = np.stack([rng.uniform(low, high, n) for low, high in (box.x, box.y, span)])
        if rise is not None:
            place[2] = np.maximum(under(place[0], place[1]) - place[2], 0.0)
        return place

    position = draw(count)
    solid = _any_inside(inside, position)
    for _ in range(_TRIES):
        if not solid.any():
            break
        again = draw(int(solid.sum()))
        still = _any_inside(inside, again)
        position[:, solid] = again
        if len(still) > _HOPELESS and still.all():  # all of the box is solid
            break
        solid[solid] = still
    return Placed(position, *_postures(rng, group, count, tilt))


def turned(placed: Placed, group: "Fish | School", tilt: tuple[float, float], rng: np.random.Generator) -> Placed:
    """Return fish at the same places, of the same lengths, with newly drawn postures."""
    count = len(placed.length)
    return replace(placed, yaw=_yaw(rng, group, count), tilt=_lean(rng, count, tilt))


def settled(school: "School", highest: Highest, ground: Ground) -> "School":
    """Return a school with the depth of its middle computed."""
    at = school.at
    if at.depth is not None:
        return school
    x, y = np.array([float(at.x)]), np.array([float(at.y)])
    if at.above is not None:
        depth = highest(x, y) - at.above
    else:
        depth = ground.depth(x, y) - known(at.above_bottom, "school.at.above_bottom")
    place = at.model_copy(update={"depth": float(depth[0]), "above": None, "above_bottom": None})
    return school.model_copy(update={"at": place})


def place_school(school: "School", index: int, seed: int, tilt: tuple[float, float]) -> Placed:
    """Return the fish of a `[[school]]` table, in and about its ellipsoid (at, and size: full axes [m]; world.shoal).

    Fish above the surface are mirrored into the water. Of more than MOST_IN_SCHOOL fish, this number is placed, each
    with the power of several. The fish of a school may swim, but the ellipsoid that absorbs stays in place.
    """
    rng = seeds.stream(seed, "school", index)
    half = np.array([school.size.along, school.size.across, school.size.height]) / 2.0
    count = int(school.count) if school.count is not None else int(rng.poisson(expected_in_school(school)))
    weight = max(1.0, count / MOST_IN_SCHOOL)
    count = min(count, MOST_IN_SCHOOL)
    offset = shoal.places(rng, count, half)
    centre = np.array([school.at.x, school.at.y, school.at.depth])
    position = centre[:, None] + offset
    position[2] = np.abs(position[2])
    return Placed(position, *_postures(rng, school, count, tilt), weight)


def add(
    gathering: Gathering,
    name: str,
    placed: Placed,
    model: Model,
    track: Track,
    *,
    bladder: bool,
    swimming: tuple[float, float, float] = (0.0, 0.0, 0.0),
    frequency: float,
    rng: np.random.Generator,
    first_id: int = 0,
    school: bool = False,
    without: Sequence[int] = (),
) -> Stock:
    """Turn fish into highlights of a gathering; return them for the truth.

    without: numbers, from 1, of fish that are left out; all others are as they would be with them.
    swimming: speed [m/s], heading [deg], climb [deg]. frequency [Hz]: where the strengths of different lengths are
    compared. A swimming fish is at its place when the boat is abeam of it.
    """
    n = len(placed.length)
    speed, heading, climb = swimming
    key = rng.integers(1, 2**63, n, dtype=np.uint64)
    points = model.alike or n > MOST_SHAPED
    reference = float(placed.length.mean()) if n else 0.0
    phase, shaped = rng.random(n), model.shape is not None and not points
    where = np.zeros((1, n))
    if not (points or shaped):
        where = highlights.places(rng, n) * highlights.SPREAD[bladder] * placed.length
    if len(without):  # after every draw
        here = np.setdiff1d(np.arange(n), np.asarray(without) - 1)
        placed, key, phase, where = placed.of(here), key[here], phase[here], where[:, here]
    stock = _stock_of(name, placed, model, track, (speed, heading, climb), first_id, key, school=school)
    if not len(stock):
        return stock
    whole = model.factor(placed.length, placed.position[2], reference, frequency) * np.sqrt(placed.weight)
    axis, count = long_axis(stock.tilt, placed.yaw), len(stock)
    wander = np.full(count, posture.wander_of(model.tilt[1]))
    bob = posture.BOB * placed.length * points * school

    def keep(along: FloatArray, axis: FloatArray, amplitude: FloatArray, law: int) -> None:
        gathering.add(
            placed.position + axis * along, axis, amplitude, phase, law, velocity=stock.velocity, time=stock.time,
            ping=placed.ping, last=stock.last, owner=stock.id, posture=Posture(key, along, wander, bob),
        )  # fmt: skip

    if shaped:
        for facing, law in zip((1.0, -1.0), model.shape_laws(reference), strict=True):
            keep(np.zeros(count), facing * axis, whole, gathering.law(law))
        return stock
    number = gathering.law(model.law(reference, points))
    for along, share in zip(where, (1.0,) if points else highlights.WEIGHTS, strict=True):
        keep(along, axis, whole * share, number)
    return stock


def _stock_of(
    name: str,
    placed: Placed,
    model: Model,
    track: Track,
    swimming: tuple[float, float, float],
    first_id: int,
    key: NDArray[np.uint64],
    *,
    school: bool,
) -> Stock:
    """Return placed fish for the truth, numbered from first_id; key (n): of their postures."""
    n, (speed, heading, climb) = len(placed.length), swimming
    velocity = np.repeat(speed * long_axis(np.array([climb]), np.array([heading])), n, axis=1)
    last = placed.ping if placed.last is None else placed.last
    return Stock(
        name, np.arange(first_id, first_id + n), placed.position, velocity, abeam(track, placed.position[0]),
        placed.length, posture.own_tilt(placed.tilt, *model.tilt), placed.yaw, placed.ping, last, model.strength, key,
        school,
    )  # fmt: skip


def long_axis(tilt: FloatArray, yaw: FloatArray) -> FloatArray:
    """Return unit vectors (3, n) towards the nose: tilt [deg, head down negative], yaw [deg] from +x towards +y."""
    t, y = np.radians(tilt), np.radians(yaw)
    return np.stack([np.cos(t) * np.cos(y), np.cos(t) * np.sin(y), -np.sin(t)])


def abeam(track: Track, x: FloatArray) -> FloatArray:
    """Return when the boat passes x [m]: [s] (n); the nearest end of the run where it never does, mid-run at anchor."""
    if len(track) < 2 or track.x[-1] <= track.x[0]:
        return np.full(len(x), float(np.median(track.time)))
    return np.interp(x, track.x, track.time)


def lengths(rng: np.random.Generator, mean: float, sd: float, count: int) -> FloatArray:
    """Return lengths [m] (n), normal, drawn again beyond 2.5 standard deviations."""
    z = rng.standard_normal(count)
    while (wild := np.abs(z) > _LENGTH_SPREAD).any():
        z[wild] = rng.standard_normal(int(wild.sum()))
    return np.clip(mean + sd * z, max(_SHORTEST, 0.2 * mean), _LONGEST)


def _postures(
    rng: np.random.Generator, group: "Fish | School", count: int, tilt: tuple[float, float]
) -> tuple[FloatArray, FloatArray, FloatArray, NDArray[np.int64]]:
    """Return lengths [m], tilts, yaws [deg] and pings of a group."""
    yaw = _yaw(rng, group, count)
    return (
        lengths(rng, group.length.mean, group.length.sd, count),
        _lean(rng, count, tilt),
        yaw,
        np.full(count, ALL_PINGS, dtype=np.int64),
    )


def _yaw(rng: np.random.Generator, group: "Fish | School", count: int) -> FloatArray:
    swimming = getattr(group, "swimming", None)
    yaw = rng.uniform(0.0, 360.0, count)
    if swimming is not None and swimming.speed > 0.0:
        yaw = np.full(count, float(swimming.heading))
    return yaw


def _lean(rng: np.random.Generator, count: int, tilt: tuple[float, float]) -> FloatArray:
    return np.clip(rng.normal(tilt[0], tilt[1], count), -90.0, 90.0)


def _any_inside(tests: Sequence[Inside], position: FloatArray) -> NDArray[np.bool_]:
    solid = np.zeros(position.shape[1], dtype=np.bool_)
    for test in tests:
        solid |= test(position)
    return solid
