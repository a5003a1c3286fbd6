"""How strong the bottom's echo is, and to which depth it is shown: the sonar equation integrated over the footprint.

The bottom is flat and lies at a depth below the face, under a level boat. It is divided into rings, each with its own
angle and range, which scatter sound back through the beam. Levels are means over fading.
"""

import math
from collections.abc import Callable
from typing import Any

import numpy as np

from pingwright.acoustics import seabed, slopes, smallslope
from pingwright.acoustics.arrays import FloatArray, decibels, power_ratio

#: Backscattering coefficient [1] of the cosine of incidence (n); two-way beam power [1] of the angle off axis [deg].
Backscatter = Callable[[FloatArray], FloatArray]
TwoWay = Callable[[FloatArray], FloatArray]

#: A bottom is found if the mean of this many resolution cells is this much above the noise [dB]: the rule of the bottom
#: detector of this program.
CELLS, EXCESS = 8.0, 10.0
#: It is held if it is found within this share of depth, or this distance [m], in this share of the pings.
SHARE, NEAR, HELD = 0.02, 0.5, 0.9
_NODE, _WEIGHT = np.polynomial.legendre.leggauss(6)  # of the integral over one stretch of cells
_DEEPEST = 20e3  # m, where the search for the greatest depth ends; it begins at 1 m


def sediment_law(
    name: str, entry: Any, frequency: float, sound_speed: float, law: str = "kirchhoff"
) -> Callable[[FloatArray], FloatArray]:
    """Return a sediment's backscattering coefficient [1] over the cosine of incidence (n), natural slopes averaged.

    name, entry: of the catalogue of sediments; frequency [Hz]; sound_speed [m/s] of the water; law: see
    `seabed.surface_backscatter`. Valid as those laws; a table of 0.05 degrees. Source: `seabed.backscatter`,
    `slopes.averaged`.
    """
    known = {key: getattr(entry, key) for key in seabed.Sediment.__dataclass_fields__ if hasattr(entry, key)}
    ground = seabed.Sediment(**known | {"elastic": smallslope.GROUNDS.get(name)})

    def coefficient(cosine: FloatArray, f: FloatArray) -> FloatArray:
        return seabed.backscatter(ground, cosine, f, sound_speed, law)

    angle = np.linspace(0.0, np.pi / 2, 1801)
    table = slopes.averaged(coefficient, entry.slope_rms_deg)(np.cos(angle), np.array([frequency]))[:, 0]
    return lambda cosine: np.interp(np.arccos(np.clip(cosine, 0.0, 1.0)), angle, table)


def stretch_levels(
    level: float,
    depth: float,
    absorption: float,
    backscatter: Backscatter,
    two_way: TwoWay,
    cell: float,
    effective: float,
    count: int,
) -> FloatArray:
    """Return the mean echo level of each stretch of 8 resolution cells from the bottom's first echo on [dB], (count).

    level: source level [dB re 1 uPa m], depth of the bottom below the face [m], absorption [dB/m], backscatter and
    two_way (mean around the axis): see the module, cell: resolution cell [m], effective: range that the filtered
    pulse's energy over its peak power fills [m], c tau_e / 2. Result in dB re 1 uPa. Valid in the far field over a flat
    rough bottom seen straight from above. Source: Urick 1983, section 8.2, its ring of area 2 pi r dr integrated.
    """
    size = CELLS * cell
    r = depth + size * (np.arange(count)[:, None] + 0.5 * (_NODE + 1.0))
    cosine = np.clip(depth / r, 1e-6, 1.0).ravel()
    ring = backscatter(cosine) * two_way(np.degrees(np.arccos(cosine)))
    density = 2.0 * np.pi * r * ring.reshape(r.shape) * power_ratio(level - 2.0 * absorption * r) / r**4
    return decibels(effective * np.sum(0.5 * _WEIGHT * density, axis=1))


def bottom_found(
    level: float,
    noise: float,
    depth: float,
    absorption: float,
    backscatter: Backscatter,
    two_way: TwoWay,
    cell: float,
    effective: float,
) -> float:
    """Return the probability that one ping finds the bottom at its depth [1].

    noise: after the filter [dB re 1 uPa]; the rest as in `stretch_levels`. Found: one of the stretches of 8 cells that
    begin within 2 % of depth or 0.5 m, whichever is more, stands 10 dB above the mean noise; their power is that of 8
    cell / effective independent looks of Rayleigh fading. Valid for the detector of this program; a fish, a layer or a
    slope are not in it. Source: sonar equation; gamma law of averaged exponential powers.
    """
    from scipy.special import gammaincc

    size = CELLS * cell
    count = int(np.clip(np.ceil(max(SHARE * depth, NEAR) / size), 1, 4096))
    mean = power_ratio(stretch_levels(level, depth, absorption, backscatter, two_way, cell, effective, count) - noise)
    looks = max(size / effective, 1.0)
    single = gammaincc(looks, looks * power_ratio(EXCESS) / (mean + 1.0))
    return float(1.0 - np.exp(np.sum(np.log1p(-np.minimum(single, 1.0 - 1e-12)))))


def bottom_reach(
    level: float,
    noise: float | Callable[[float], float],
    absorption: float,
    backscatter: Backscatter,
    two_way: TwoWay,
    cell: float,
    effective: float,
) -> float:
    """Return the depth below the face to which an element holds the bottom [m]; 0 if it never does.

    noise: behind the filter [dB re 1 uPa], or a function of depth [m] where the pulse grows with it; the rest as in
    `bottom_found`. Held: found in 9 of 10 pings. Valid and source as there. An actual detector also needs a rising edge
    and a least strength; this is left out.
    """

    def excess(log_depth: float) -> float:
        depth = float(np.exp(log_depth))
        at = noise(depth) if callable(noise) else noise
        found = bottom_found(level, at, depth, absorption, backscatter, two_way, cell, effective)
        return _log_odds(found) - _log_odds(HELD)  # nearly straight where the chance itself is flat

    shallow, deep = 0.0, float(np.log(_DEEPEST))
    if excess(shallow) < 0.0:
        return 0.0
    if excess(deep) > 0.0:
        return _DEEPEST
    return float(np.exp(_crossing(excess, shallow, deep, 1e-5)))


def _log_odds(chance: float) -> float:
    kept = min(max(chance, 1e-15), 1.0 - 1e-15)
    return math.log(kept / (1.0 - kept))


def _crossing(function: Callable[[float], float], low: float, high: float, step: float) -> float:
    """Return where a function that falls from above 0 at low to below 0 at high crosses 0, to about a step.

    False position as in Illinois: the end that stays counts half. A third of the calls of halving; scipy's solvers take
    longer to import than this to run. Source: Dowell & Jarratt 1971, BIT 11, 168-174.
    """
    above, below, last, side = function(low), function(high), high, 0
    while high - low > step:
        middle = min(max((low * below - high * above) / (below - above), low), high)
        if abs(middle - last) < step:
            return middle
        last, value = middle, function(middle)
        if value > 0.0:
            low, above, below = middle, value, below * (0.5 if side > 0 else 1.0)
        else:
            high, below, above = middle, value, above * (0.5 if side < 0 else 1.0)
        side = 1 if value > 0.0 else -1
    return 0.5 * (low + high)
