"""How the echo of a fish fades over a pass: its posture changes slowly, so pings close in time fade together.

Each pass is given fish of postures drawn as in trials: their own tilt and heading, which change by the processes of
`world.posture` (spread and memory *assumed* there), and highlights at places of their own (`world.highlights`). A long
fish under a high band fades anew from ping to ping; one that is short against the wavelength keeps most of its level
for a whole pass, so that more pings do not help it. Tilt and heading are spread evenly over all fish (Latin hypercube:
McKay, Beckman & Conover 1979, Technometrics 21, 239-245), so that few fish do.
"""

from collections import OrderedDict
from threading import Lock

import numpy as np

from pingwright.echograms.record import FloatArray
from pingwright.trials.passes import IntArray, Pings
from pingwright.world import highlights, posture
from pingwright.world.strength import Model

#: Fish over which a closed form of a pass is averaged, at least, and levels of one computation, at most. With 4096 fish
#: three probabilities between 0.3 and 0.6 moved by 0.002, 0.002 and 0.014 (with 512 by up to 0.025: chance).
FISH, MOST = 256, 400_000
#: Fewest postures of each pass.
FEWEST = 4
#: Sets of postures that are kept, of some 20 MB at most each.
HELD = 4

_held: "OrderedDict[tuple[object, ...], tuple[FloatArray, FloatArray]]" = OrderedDict()
_lock = Lock()


def levels(law: Model, length: float, frequency: float, pings: Pings, able: IntArray) -> FloatArray:
    """Return echo levels over the mean over tilt [dB] (posture, able): of fish in several postures in each pass.

    length [m]; frequency [Hz]; able (able): numbers of the pings that count. Each posture is one of a pass from its
    first ping to its last.
    """
    cosine, places = _postures(law.tilt, pings, able)
    return law.faded(length, frequency, cosine, places).reshape(_repeats(len(pings.fish), len(able)), len(able))


def _repeats(count: int, able: int) -> int:
    """Return in how many postures the fish of each pass are taken; count of passes, able pings."""
    return max(min(-(-FISH // count), MOST // max(able, 1)), FEWEST)


def _postures(law_tilt: tuple[float, float], pings: Pings, able: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return the cosine to the long axis (n) and the places of highlights (k, n), n = postures x able pings.

    They do not depend on length and frequency, so a search over lengths uses the last ones again.
    """
    way, moment, trial = pings.way()[:, able], pings.track.time[able], pings.trial[able]
    key = (law_tilt, len(pings.fish), way.tobytes(), moment.tobytes(), trial.tobytes())
    with _lock:
        if key in _held:
            _held.move_to_end(key)
            return _held[key]
    made = _drawn(law_tilt, len(pings.fish), way, moment, trial)
    with _lock:
        _held[key] = made
        while len(_held) > HELD:
            _held.popitem(last=False)
    return made


def _drawn(
    law_tilt: tuple[float, float], count: int, way: FloatArray, moment: FloatArray, trial: IntArray
) -> tuple[FloatArray, FloatArray]:
    repeats = _repeats(count, len(moment))
    rng, total = np.random.Generator(np.random.SFC64(0)), repeats * count
    tilt = posture.own_tilt(law_tilt[0] + law_tilt[1] * _normal(_even(rng, total)), *law_tilt)
    yaw, key = 360.0 * _even(rng, total), rng.integers(1, 2**63, total, dtype=np.uint64)
    fish = (np.arange(repeats)[:, None] * count + trial).ravel()
    way, moment = np.tile(way, repeats), np.tile(moment, repeats)
    wanders = [posture.wander(key, kind, posture.MEMORY).of(fish).at(moment) for kind in (0, 1)]
    sway = posture.wander_of(law_tilt[1])
    turn = min(posture.HEADING_WANDER, 4.0 * sway)
    axis = posture.long_axis(tilt[fish] + sway * wanders[0], yaw[fish] + turn * wanders[1])
    # The nose is up where the axis points against the way of the sound.
    cosine = -np.sum(axis * way, axis=0) / np.linalg.norm(way, axis=0)
    return cosine, highlights.places(rng, total)[:, fish]


def _even(rng: np.random.Generator, count: int) -> FloatArray:
    """Return numbers 0..1 (count) in random order, one in each of `count` equal parts."""
    return (rng.permutation(count) + rng.random(count)) / count


def _normal(uniform: FloatArray) -> FloatArray:
    """Return the normal quantiles of numbers 0..1, any shape."""
    from scipy.special import ndtri

    return np.asarray(ndtri(uniform))
