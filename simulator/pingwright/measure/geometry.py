"""Places as an element sees them, ping by ping: slant range and direction in its own axes."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import ElementRecord, FishTruth, SoftTruth, StructureTruth
from pingwright.measure.cells import FloatArray

IntArray = NDArray[np.int64]

#: Number of pings for which the places of all fish are computed at a time.
_PINGS = 64


@dataclass(frozen=True)
class View:
    """Places as an element sees them, arrays (ping, n).

    slant [m]: distance from the face; along, across, out [m]: components in the element's own axes, out along the beam.
    """

    slant: FloatArray
    along: FloatArray
    across: FloatArray
    out: FloatArray

    @property
    def off_axis(self) -> FloatArray:
        """Return the angle [deg] from the beam's axis."""
        return np.asarray(np.degrees(np.arctan2(np.hypot(self.along, self.across), self.out)))


def faces(element: ElementRecord, pings: IntArray) -> FloatArray:
    """Return x, y, depth [m] (3, ping) of the face; lever arms of roll and pitch are left out."""
    depth = element.info.transducer_depth - element.heave[pings]
    return np.stack([element.x[pings], element.y[pings], depth])


def axes(element: ElementRecord, pings: IntArray) -> FloatArray:
    """Return the element's axes (ping, 3, 3) in world axes: rows along, across, out of the face.

    Roll turns first (starboard down positive), then pitch (bow up positive); the track's heading is x. The element's
    own tilt turns its axis towards the bow and to starboard.
    """
    roll, pitch = np.radians(element.roll[pings]), np.radians(element.pitch[pings])
    zero = np.zeros_like(roll)
    (sr, cr), (sp, cp) = (np.sin(roll), np.cos(roll)), (np.sin(pitch), np.cos(pitch))
    # Columns: bow, starboard and down of the boat in world axes.
    boat = np.stack(
        [
            np.stack([cp, sp * sr, sp * cr], axis=-1),
            np.stack([zero, cr, -sr], axis=-1),
            np.stack([-sp, cp * sr, cp * cr], axis=-1),
        ],
        axis=-2,
    )
    own = _own(*(element.info.number(f"tilt_{way}", 0.0) for way in ("along", "across")))
    return np.asarray(own @ np.swapaxes(boat, -1, -2))


@lru_cache(maxsize=256)
def _own(tilt_along: float, tilt_across: float) -> FloatArray:
    """Return the axes (3, 3) of an element tilted by these angles [deg] in the boat's own."""
    out = np.array([np.tan(np.radians(tilt_along)), np.tan(np.radians(tilt_across)), 1.0])
    out /= np.linalg.norm(out)
    along = np.array([1.0, 0.0, 0.0]) - out[0] * out
    along /= np.linalg.norm(along)
    return np.stack([along, np.cross(out, along), out])


def view(element: ElementRecord, pings: IntArray, place: FloatArray) -> View:
    """Return how an element sees places x, y, depth [m] (3, ping, n) in some of its pings."""
    way = place - faces(element, pings)[:, :, None]
    own = np.einsum("pij,jpn->ipn", axes(element, pings), way)
    return View(np.sqrt(np.sum(way**2, axis=0)), own[0], own[1], own[2])


def of_trials(element: ElementRecord, fish: FishTruth, ping: IntArray, owner: IntArray) -> View:
    """Return how an element sees fish (owner) in some of its pings, one fish and ping a trial: arrays (trial)."""
    used, back = np.unique(ping, return_inverse=True)
    place = np.empty((3, len(ping)))
    for start in range(0, len(used), _PINGS):
        at = np.flatnonzero((back >= start) & (back < start + _PINGS))
        there = fish.at(element.ping_time[used[start : start + _PINGS]])
        place[:, at] = there[:, back[at] - start, owner[at]]
    way, turned = place - faces(element, ping), axes(element, used)[back]
    own = [turned[:, k, 0] * way[0] + turned[:, k, 1] * way[1] + turned[:, k, 2] * way[2] for k in range(3)]
    return View(np.sqrt(np.sum(way**2, axis=0)), own[0], own[1], own[2])


def drawn_over_slant(element: ElementRecord, fish: FishTruth) -> FloatArray:
    """Return for each fish its range on the range axis over its slant range (assumed over true sound speed).

    From its nearest ping, for which the record holds both; the mean slowness down to its depth changes little
    afterwards.
    """
    position = element.info.position
    ping = np.asarray(fish.nearest_ping[position], dtype=np.int64)
    slant = of_trials(element, fish, ping, np.arange(len(ping))).slant
    ratio = fish.apparent_range(position, element.info) / np.maximum(slant, 1e-3)
    return np.where(np.isfinite(ratio) & (ratio > 0.5) & (ratio < 2.0), ratio, 1.0)


def ground_range(element: ElementRecord) -> FloatArray:
    """Return where the bottom straight under the boat is drawn on the range axis [m] (ping), if nothing leans."""
    info = element.info
    below = element.bottom_depth + element.heave - info.transducer_depth
    return np.asarray(below * info.drawn_over_true)


def box_ranges(element: ElementRecord, pings: IntArray, soft: SoftTruth) -> tuple[FloatArray, FloatArray]:
    """Return the nearest and the farthest range [m] (ping) of a soft body's box, which drifts."""
    face = faces(element, pings)
    moved = np.asarray(soft.drift)[:, None] * element.ping_time[pings]
    low, high = (np.asarray(soft.box[k::2])[:, None] + moved for k in (0, 1))
    near = np.maximum(np.maximum(low - face, face - high), 0.0)
    far = np.maximum(np.abs(low - face), np.abs(high - face))
    return np.sqrt(np.sum(near**2, axis=0)), np.sqrt(np.sum(far**2, axis=0))


def structure_range(
    element: ElementRecord, pings: IntArray, structure: StructureTruth
) -> tuple[FloatArray, FloatArray]:
    """Return the range [m] and the angle off straight down [deg] (ping) of the nearest point of a structure's box."""
    face = faces(element, pings)
    low = np.array([*structure.plan.min(axis=0), structure.side[:, 1].min()])[:, None]
    high = np.array([*structure.plan.max(axis=0), structure.side[:, 1].max()])[:, None]
    gap = np.maximum(np.maximum(low - face, face - high), 0.0)
    return np.sqrt(np.sum(gap**2, axis=0)), np.degrees(np.arctan2(np.hypot(gap[0], gap[1]), gap[2]))
