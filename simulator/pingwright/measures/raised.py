"""Ground that stands higher than the fish's, for closed forms: the upper side of a ledge and its face, as patches."""

from dataclasses import dataclass

import numpy as np

from pingwright import seeds
from pingwright.echograms.record import FloatArray
from pingwright.trials.scene import Scene

#: A ledge is steeper [1] than this; ground so far [m], and so many cells, over the bottom at the origin is high.
STEEP, LEAST, LEAST_CELLS = 1.0, 0.3, 4.0
#: Patches that cover what is heard of it.
PATCHES = 20000


@dataclass(frozen=True)
class Patches:
    """Patches of ground: position (3, n) [m], y from the boat; normal (3, n); area (n) [m2]."""

    position: FloatArray
    normal: FloatArray
    area: FloatArray


def has_ledge(at: Scene) -> bool:
    """Return whether the soundings of the bottom's profile have a step, up or down."""
    profile = getattr(at.scenario.seabed, "profile", None)
    if profile is None:
        return False
    x, depth = np.asarray(profile, dtype=np.float64).T
    return bool((np.abs(np.diff(depth)) > np.maximum(STEEP * np.diff(x), LEAST)).any())


def patches(at: Scene, cell: float, x: FloatArray, end: float) -> Patches | None:
    """Return the high ground within a range `end` [m] of places x [m] (n), None where there is none.

    cell [m]: the element's resolution cell.

    A profile is alike all along y, so the same patches serve every y: theirs is counted from the boat. Slopes across
    the track and waves are left out.
    """
    if not has_ledge(at) or not len(x):
        return None
    highest = float(np.asarray(at.scenario.seabed.profile, dtype=np.float64)[:, 1].min())
    side = float(np.sqrt(max(end**2 - max(highest - at.face, 0.0) ** 2, 0.0)))
    places, depths = _stretch(at, float(x.min()) - side, float(x.max()) + side)
    limit = at.bottom - max(LEAST, LEAST_CELLS * cell)
    wide, deep = np.diff(places), np.diff(depths)
    length = np.hypot(wide, deep) * (np.minimum(depths[1:], depths[:-1]) < limit)
    way = np.cumsum(length)
    if not way[-1] * side:
        return None
    rng = seeds.stream(0, "placement", -7)
    along = way[-1] * (np.arange(PATCHES) + rng.random(PATCHES)) / PATCHES
    part = np.minimum(np.searchsorted(way, along, side="right"), len(way) - 1)
    share = 1.0 - (way[part] - along) / length[part]
    # More of them near the track, where their range changes least.
    draw = rng.uniform(-1.0, 1.0, PATCHES)
    position = np.stack([
        places[part] + share * wide[part], side * draw * np.abs(draw), depths[part] + share * deep[part],
    ])  # fmt: skip
    normal = np.stack([deep[part], np.zeros(PATCHES), -wide[part]]) / np.hypot(wide, deep)[part]
    area = way[-1] * 2.0 * side / PATCHES * 2.0 * np.abs(draw)
    high = position[2] < limit
    return Patches(position[:, high], normal[:, high], area[high])


def _stretch(at: Scene, low: float, high: float) -> tuple[FloatArray, FloatArray]:
    """Return the places x and depths [m] (n) of the profile between two places, its ends included."""
    x, depth = np.asarray(at.scenario.seabed.profile, dtype=np.float64).T
    places = np.concatenate([[low], x[(x > low) & (x < high)], [high]])
    return places, np.interp(places, x, depth)
