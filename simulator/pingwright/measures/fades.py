"""How the echo of a fish fades over a pass: its posture changes slowly, so pings close in time fade together.

Each pass is given fish of postures drawn as in trials: their own tilt and heading, which change by the processes of
`world.posture` (spread and memory *assumed* there), and highlights at places of their own (`world.highlights`). A long
fish under a high band fades anew from ping to ping; one that is short against the wavelength keeps most of its level
for a whole pass, so that more pings do not help it. Tilt and heading are spread evenly over all fish (Latin hypercube:
McKay, Beckman & Conover 1979, Technometrics 21, 239-245), so that few fish do.
"""

import numpy as np

from pingwright.echograms.record import FloatArray
from pingwright.trials.passes import IntArray, Pings
from pingwright.world import highlights, posture
from pingwright.world.strength import Model

#: Fish over which a closed form of a pass is averaged, at least, and levels of one computation, at most.
FISH, MOST = 512, 400_000
#: Fewest postures of each pass.
FEWEST = 4


def levels(law: Model, length: float, frequency: float, pings: Pings, able: IntArray) -> FloatArray:
    """Return echo levels over the mean over tilt [dB] (posture, able): of fish in several postures in each pass.

    length [m]; frequency [Hz]; able (able): numbers of the pings that count. Each posture is one of a pass from its
    first ping to its last.
    """
    count = len(pings.fish)
    repeats = max(min(-(-FISH // count), MOST // max(len(able), 1)), FEWEST)
    rng, total = np.random.Generator(np.random.SFC64(0)), repeats * count
    tilt = posture.own_tilt(law.tilt[0] + law.tilt[1] * _normal(_even(rng, total)), *law.tilt)
    yaw, key = 360.0 * _even(rng, total), rng.integers(1, 2**63, total, dtype=np.uint64)
    fish = (np.arange(repeats)[:, None] * count + pings.trial[able]).ravel()
    way = np.tile(pings.way()[:, able], repeats)
    time = np.tile(pings.track.time[able], repeats)
    wanders = [posture.wander(key, kind, posture.MEMORY).of(fish).at(time) for kind in (0, 1)]
    sway = posture.wander_of(law.tilt[1])
    turn = min(posture.HEADING_WANDER, 4.0 * sway)
    axis = posture.long_axis(tilt[fish] + sway * wanders[0], yaw[fish] + turn * wanders[1])
    # The nose is up where the axis points against the way of the sound.
    cosine = -np.sum(axis * way, axis=0) / np.linalg.norm(way, axis=0)
    level = law.faded(length, frequency, cosine, highlights.places(rng, total)[:, fish])
    return level.reshape(repeats, len(able))


def _even(rng: np.random.Generator, count: int) -> FloatArray:
    """Return numbers 0..1 (count) in random order, one in each of `count` equal parts."""
    return (rng.permutation(count) + rng.random(count)) / count


def _normal(uniform: FloatArray) -> FloatArray:
    """Return the normal quantiles of numbers 0..1, any shape."""
    from scipy.special import ndtri

    return np.asarray(ndtri(uniform))
