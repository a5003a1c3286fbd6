"""Posture of fish from ping to ping: tilt and heading change, swimming fish turn, points of a school move up and down.

A fish is a few highlights along its body. Its tilt changes around its own mean by a smooth random process, so its echo
varies, at anchor and in a pass. The spread of a group's tilts over fish and time together is the stated one. The
processes are sums of a few waves whose rates and phases follow from the fish's key, so the posture of a fish does not
depend on the order of pings.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pingwright.world.scatterers import Discrete, FloatArray, Scatterers

#: Standard deviation of a fish's tilt around its own mean, and of its heading [deg], and their correlation time [s]:
#: assumed. Tilts of single tracked fish change by some degrees between pings a second apart.
TILT_WANDER, HEADING_WANDER, MEMORY = 5.0, 10.0, 1.0
#: The same for the course of a fish that swims [deg, s]: assumed.
COURSE_WANDER, COURSE_MEMORY = 15.0, 8.0
#: Up and down motion of a fish of a school that is one point [lengths]: assumed; it changes the school's echo.
BOB = 0.1
_WAVES = 4

Uint = NDArray[np.uint64]


@dataclass(frozen=True)
class Wander:
    """A smooth random process for each of n fish, mean 0 and variance 1: rates [rad/s] and phases [rad] (wave, n)."""

    rate: NDArray[np.float32]
    phase: NDArray[np.float32]

    def at(self, time: FloatArray) -> NDArray[np.float32]:
        """Return the process at a time [s] of each fish (n), dimensionless."""
        turns = np.mod(self.rate.astype(np.float64) * time, 2.0 * np.pi).astype(np.float32)
        total: NDArray[np.float32] = np.cos(turns + self.phase).sum(axis=0)
        return total * np.float32(np.sqrt(2.0 / len(self.rate)))

    def sum(self, time: FloatArray) -> FloatArray:
        """Return the integral of the process from time 0 to a time [s] (n) [s]."""
        rate = np.maximum(self.rate.astype(np.float64), 1e-3)
        total = ((np.sin(rate * time + self.phase) - np.sin(self.phase)) / rate).sum(axis=0)
        return np.asarray(total * np.sqrt(2.0 / len(rate)))

    def of(self, chosen: NDArray[np.int64]) -> "Wander":
        """Return the processes of some fish."""
        return Wander(self.rate[:, chosen], self.phase[:, chosen])


def wander(key: Uint, kind: int, memory: float) -> Wander:
    """Return processes of some memory [s] for fish of these keys (n); kind: 0, 1, 2, ... are independent of each other.

    Rates are spread as lengths of a two-dimensional normal draw: the correlation falls to 0 after some 1.3 memories.
    """
    uniform = np.stack([_uniform(key, kind * 2 * _WAVES + k) for k in range(2 * _WAVES)])
    rate = np.sqrt(-2.0 * np.log(uniform[:_WAVES])) / memory
    return Wander(rate.astype(np.float32), (2.0 * np.pi * uniform[_WAVES:]).astype(np.float32))


def own_tilt(tilt: FloatArray, mean: float, sd: float) -> FloatArray:
    """Return each fish's mean tilt [deg]: with the changes over time, the tilts of all fish are N(mean, sd)."""
    return np.asarray(mean + (tilt - mean) * np.sqrt(1.0 - (wander_of(sd) / sd) ** 2)) if sd > 0.0 else tilt


def wander_of(sd: float) -> float:
    """Return the standard deviation of tilts over time [deg] in a group of this spread [deg]."""
    return min(TILT_WANDER, sd)


def course(key: Uint) -> Wander:
    """Return the processes by which the courses of fish of these keys (n) wander."""
    return wander(key, 2, COURSE_MEMORY)


def aside(
    key: Uint, velocity: FloatArray, since: FloatArray, until: FloatArray, process: Wander | None = None
) -> FloatArray:
    """Return how far (3, n) [m] fish that swim with velocity (3, n) [m/s] have left their straight way since a time.

    since, until (n) [s]. They move to both sides of it, because their course changes by COURSE_WANDER. process: their
    `course`, made here if it is not given.
    """
    if not velocity[:2].any():
        return np.zeros((3, len(key)))
    level = np.hypot(velocity[0], velocity[1])
    process = process or course(key)
    way = level * np.tan(np.radians(COURSE_WANDER)) * (process.sum(until) - process.sum(since)) * (key > 0)
    unit = np.stack([-velocity[1], velocity[0]]) / np.maximum(level, 1e-12)
    return np.concatenate([unit * way, np.zeros((1, len(way)))])


@dataclass(frozen=True)
class Swimmers:
    """Things that move, change their posture, or exist only in some pings; fish (f) with highlights (h), fish by fish.

    centre (3, f) [m] at time (f) [s], velocity (3, f) [m/s]; tilt, yaw, sway (f) [deg]: sway is the wander of the tilt;
    bob (f) [m]; first, last (f): pings; start (f + 1): where each one's highlights stand. along (h) [m]: from the
    centre towards the nose; facing (h): 1, or -1 for a highlight that faces the tail.
    """

    points: Scatterers
    centre: FloatArray
    velocity: FloatArray
    time: FloatArray
    tilt: FloatArray
    yaw: FloatArray
    sway: FloatArray
    bob: FloatArray
    first: NDArray[np.int64]
    last: NDArray[np.int64]
    key: Uint
    start: NDArray[np.int64]
    along: NDArray[np.float32]
    facing: NDArray[np.float32]
    tilting: Wander
    heading: Wander

    def at(self, ping: int, time: float, place: FloatArray, reach: float) -> Scatterers:
        """Return the scatterers that exist in a ping at a time [s] within reach [m] of place (3)."""
        here = np.flatnonzero((self.first < 0) | ((self.first <= ping) & (ping <= self.last)))
        return self.met(here, np.full(len(here), time), np.tile(place, (len(here), 1)).T, reach)[0]

    def met(
        self, fish: NDArray[np.int64], time: FloatArray, place: FloatArray, reach: float
    ) -> tuple[Scatterers, NDArray[np.int64]]:
        """Return the scatterers of fish (n) at a time [s] each that are within reach [m] along x of a place (3, n).

        And the index in n of each: one fish may occur at several times.
        """
        there = self._places(fish, time)
        near = np.flatnonzero(np.abs(there[0] - place[0]) <= reach)
        here, there, time = fish[near], there[:, near], time[near]
        count = self.start[here + 1] - self.start[here]
        which = np.repeat(np.arange(len(here)), count)
        rows = np.repeat(self.start[here] - np.cumsum(count) + count, count) + np.arange(len(which))
        axis = self._axes(here, time)[:, which]
        rigid = self.key[here][which] == 0
        axis = np.where(rigid, self.points.axis[:, rows], axis * self.facing[rows])
        position = there[:, which] + axis * (self.along[rows] * self.facing[rows])
        part = self.points
        result = Scatterers(
            np.ascontiguousarray(position),
            np.ascontiguousarray(axis, dtype=np.float32),
            part.amplitude[rows],
            part.phase[rows],
            part.law[rows],
        )
        return result, near[which]

    def _places(self, fish: NDArray[np.int64], time: FloatArray) -> FloatArray:
        """Return where the middles of some fish are at a time [s] each (n), (3, n) [m]."""
        velocity, since = self.velocity[:, fish], self.time[fish]
        place = self.centre[:, fish] + velocity * (time - since)
        swims = np.flatnonzero((velocity[:2] != 0.0).any(axis=0) & (self.key[fish] > 0))
        if len(swims):
            place[:, swims] += aside(self.key[fish[swims]], velocity[:, swims], since[swims], time[swims])
        bobbing = np.flatnonzero(self.bob[fish] > 0.0)
        if len(bobbing):
            place[2, bobbing] += self.bob[fish[bobbing]] * self.tilting.of(fish[bobbing]).at(time[bobbing])
        return place

    def _axes(self, fish: NDArray[np.int64], time: FloatArray) -> NDArray[np.float32]:
        """Return unit vectors (3, n) towards the noses of some fish at a time [s] each (n)."""
        tilt = self.tilt[fish] + self.sway[fish] * self.tilting.of(fish).at(time)
        yaw = self.yaw[fish] + np.minimum(HEADING_WANDER, 4.0 * self.sway[fish]) * self.heading.of(fish).at(time)
        return long_axis(tilt.astype(np.float32), yaw.astype(np.float32))


def long_axis(tilt: NDArray[np.floating], yaw: NDArray[np.floating]) -> NDArray[np.float32]:
    """Return unit vectors (3, n) towards the nose: tilt [deg, head down negative], yaw [deg] from +x towards +y."""
    t, y = np.radians(tilt), np.radians(yaw)
    return np.stack([np.cos(t) * np.cos(y), np.cos(t) * np.sin(y), -np.sin(t)])


def split(discrete: Discrete) -> tuple[Scatterers, Swimmers]:
    """Return the scatterers that never move (sorted by x as given), and all others."""
    moves = (discrete.velocity != 0).any(axis=0) | (discrete.ping >= 0) | (discrete.posture.key > 0)
    return _take(discrete.scatterers, np.flatnonzero(~moves)), _swimmers(discrete, np.flatnonzero(moves))


def _swimmers(discrete: Discrete, rows: NDArray[np.int64]) -> Swimmers:
    """Gather the highlights of each fish; rigid scatterers count one by one."""
    key, ping = discrete.posture.key[rows], discrete.ping[rows]
    number = np.unique(key, return_inverse=True)[1].astype(np.int64)
    # A fish with one key may exist once in each of several parts of the run.
    label = number * (int(ping.max(initial=-1)) + 2) + ping + 1
    label = np.where(key > 0, label, int(label.max(initial=0)) + 1 + np.arange(len(rows)))
    _, head, fish = np.unique(label, return_index=True, return_inverse=True)
    order = np.argsort(fish.ravel(), kind="stable")
    rows, fish = rows[order], fish.ravel()[order]
    first = rows[np.searchsorted(fish, np.arange(len(head)))]
    posture, own = discrete.posture, discrete.posture.key[first]
    axis = discrete.scatterers.axis[:, first].astype(np.float64)
    facing = np.where(np.sum(discrete.scatterers.axis[:, rows] * axis[:, fish], axis=0) < 0.0, -1.0, 1.0)
    centre = discrete.scatterers.position[:, first] - axis * posture.along[first]
    return Swimmers(
        points=_take(discrete.scatterers, rows),
        centre=centre,
        velocity=discrete.velocity[:, first],
        time=discrete.time[first],
        tilt=np.degrees(np.arcsin(np.clip(-axis[2], -1.0, 1.0))),
        yaw=np.degrees(np.arctan2(axis[1], axis[0])),
        sway=posture.sway[first],
        bob=posture.bob[first],
        first=discrete.ping[first],
        last=discrete.last[first],
        key=own,
        start=np.searchsorted(fish, np.arange(len(head) + 1)),
        along=posture.along[rows].astype(np.float32),
        facing=facing.astype(np.float32),
        tilting=wander(own, 0, MEMORY),
        heading=wander(own, 1, MEMORY),
    )


def _take(points: Scatterers, chosen: NDArray[np.int64]) -> Scatterers:
    return Scatterers(
        np.ascontiguousarray(points.position[:, chosen]),
        np.ascontiguousarray(points.axis[:, chosen]),
        points.amplitude[chosen],
        points.phase[chosen],
        points.law[chosen],
    )


def _uniform(key: Uint, number: int) -> FloatArray:
    """Return one number for each key, uniform in (0, 1): a hash of it (splitmix64, Steele et al. 2014)."""
    with np.errstate(over="ignore"):
        z = key + np.uint64(0x9E3779B97F4A7C15) * np.uint64(number + 1)
        z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
        z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
        z ^= z >> np.uint64(31)
    return ((z >> np.uint64(11)).astype(np.float64) + 0.5) / 2.0**53
