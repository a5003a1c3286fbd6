"""Widths and levels read from echoes: range resolution, beam width, second echo, level statistics."""

import numpy as np

from pingwright.measure.cells import FloatArray, Grid, StoredArray, to_level
from pingwright.measure.detect import IntArray, parabola


def echo_width(stored: StoredArray, cells: Grid, row: IntArray, index: IntArray, drop: float = 3.0) -> FloatArray:
    """Return the full width [m of range] of echoes at `drop` dB below their peaks; nan where it is not reached.

    row, index (echo): peaks' samples. The peak is a parabola's through three dB samples, the two crossings those of
    a cubic through four. Error at 2 samples a cell, Hann: 1.2 % at 6 dB, measured.
    """
    offset, level = parabola(stored, row, index)
    right = _crossing(stored, row, index, level - drop, 1)
    left = _crossing(stored, row, index, level - drop, -1)
    return np.asarray((right + left) * cells.step)


def _crossing(stored: StoredArray, row: IntArray, index: IntArray, target: FloatArray, way: int) -> FloatArray:
    """Return the distance [samples] from the peak's sample to where the level falls through the target."""
    reach = 10
    places = index[:, None] + way * np.arange(-1, reach)
    usable = (places.min(axis=1) >= 0) & (places.max(axis=1) < stored.shape[1])
    level = to_level(stored[row[:, None], np.clip(places, 0, stored.shape[1] - 1)])
    below = level[:, 1:] < target[:, None]
    first = np.argmax(below, axis=1)  # 1 = the first sample beside the peak
    good = usable & (first >= 1) & (first + 1 < reach)
    first, target = first[good], target[good]
    # Four samples around the crossing: first - 2 .. first + 1, from the peak.
    four = np.take_along_axis(level[good], first[:, None] + np.arange(-1, 3), axis=1)
    part = np.linspace(0, 1, 257)
    lagrange = np.stack([
        -part * (part - 1) * (part - 2) / 6,
        (part + 1) * (part - 1) * (part - 2) / 2,
        -(part + 1) * part * (part - 2) / 2,
        (part + 1) * part * (part - 1) / 6,
    ])  # fmt: skip
    curve = four @ lagrange
    at, row = np.argmax(curve < target[:, None], axis=1), np.arange(len(target))
    high, low = curve[row, at - 1], curve[row, at]
    distance = np.full(len(good), np.nan)
    distance[good] = first - 1 + part[at - 1] + part[1] * (high - target) / (high - low)
    return distance


def beam_width(angle: FloatArray, strength: FloatArray, drop: float = 6.0) -> float:
    """Return the full beam width [deg] from echoes of a point crossing the beam; nan if it does not fall on both sides.

    angle [deg] off the axis and strength [dB re 1 m2] (echo), in any order: the truth of position and roll gives the
    angle, the recording the strength. drop [dB]: 6 two-way is the one-way -3 dB width. The maximum is that of a
    parabola fitted to what lies within 3 dB of the strongest, the crossings are linear between echoes.
    """
    order = np.argsort(angle)
    a, s = np.asarray(angle, dtype=np.float64)[order], np.asarray(strength, dtype=np.float64)[order]
    near = s >= s.max() - 3
    top = float(s.max())
    if near.sum() >= 5:
        middle = a[near].mean()
        bend, tilt, level = np.polyfit(a[near] - middle, s[near], 2)
        top = float(level - tilt**2 / (4 * bend)) if bend < 0 else top
    peak = int(np.argmax(s))
    right = np.flatnonzero(s[peak:] < top - drop)
    left = np.flatnonzero(s[peak::-1] < top - drop)
    if not len(right) or not len(left):
        return float("nan")
    i, j = peak + int(right[0]), peak - int(left[0])
    high = a[i - 1] + (a[i] - a[i - 1]) * (s[i - 1] - top + drop) / (s[i - 1] - s[i])
    low = a[j + 1] - (a[j + 1] - a[j]) * (s[j + 1] - top + drop) / (s[j + 1] - s[j])
    return float(high - low)
