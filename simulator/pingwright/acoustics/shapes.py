"""Backscatter of measured fish shapes over tilt and frequency, read from tables.

The tables were computed with the Kirchhoff ray-mode model of echosms, an open library (after Clay & Horne 1994, JASA
96, 1661-1668), for the shapes of a national fisheries agency's public ray-mode data: outlines of body and swimbladder,
or of body, backbone and skull, from X-rays of one fish each. One fish does not stand for a species; a bladder does not
shrink with depth here; below k a of 0.15 (a the bladder's radius), where the library's authors have not verified the
model, values are held. A fish of another length is the same fish scaled: cross-section over squared length is a
function of tilt and frequency times length.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from pingwright.acoustics.arrays import FloatArray, decibels, floats

NATURAL_TILT = (-5.0, 15.0)  # mean and sd [deg]
_SPEED = 1490.0  # m/s, of the water of the tables
_LEAST = 1e-9  # cross-section over squared length [1], what the cubic may undershoot to
_STEP, _STEPS = 0.25, 255  # dB a step, and steps from the least kept to a shape's highest value

#: Name of a shape -> the fish it was measured on.
SHAPES: Mapping[str, str] = MappingProxyType(
    {
        "cod": "Atlantic cod, 39 cm, closed bladder (Clay & Horne 1994)",
        "sardine": "sardine, 21 cm, open bladder",
        "largemouth-bass": "largemouth bass, 33 cm, closed bladder",
        "striped-bass": "striped bass, 23 cm, closed bladder",
        "white-catfish": "white catfish, 18.5 cm, open bladder",
        "channel-catfish": "channel catfish, 34 cm, open bladder",
        "black-crappie": "black crappie, 29 cm, closed bladder",
        "atlantic-mackerel": "Atlantic mackerel, 27 cm, no bladder: flesh alone",
        "skipjack-tuna": "skipjack tuna, 47 cm, no bladder: flesh alone",
    }
)
_WITHOUT_BLADDER = ("atlantic-mackerel", "skipjack-tuna")


@dataclass(frozen=True, eq=False)
class Table:
    """One shape: tilt (n) [deg], frequency_length (m) [Hz m], ratio (n, m): cross-section over squared length [1]."""

    tilt: FloatArray
    frequency_length: FloatArray
    ratio: FloatArray


@lru_cache(maxsize=16)
def _table(name: str) -> Table:
    with files("pingwright.acoustics").joinpath("fish_shapes.npz").open("rb") as file, np.load(file) as stored:
        level = stored[f"{name} top"] + _STEP * (stored[f"{name} level"].astype(float) - _STEPS)
        return Table(stored["tilt"], stored["frequency_length"], floats(10.0 ** (level / 10.0)))


@lru_cache(maxsize=16)
def _spline(name: str) -> Callable[[FloatArray], FloatArray]:
    from scipy.interpolate import CubicSpline

    table = _table(name)
    spline = CubicSpline(table.frequency_length, table.ratio, axis=1)
    return lambda where: np.asarray(spline(where), dtype=np.float64)


def has_bladder(name: str) -> bool:
    """Return whether a shape has a swimbladder [yes or no].

    Valid for names of SHAPES, else ValueError. Source: the module's.
    """
    return _known(name) not in _WITHOUT_BLADDER


def _known(name: str) -> str:
    if name not in SHAPES:
        message = f"unknown shape {name!r}; there are {', '.join(SHAPES)}"
        raise ValueError(message)
    return name


def cross_section(name: str, tilt: ArrayLike, frequency_length: ArrayLike) -> FloatArray:
    """Return the backscattering cross-section of a shape over its squared length [1], (n, m).

    name: of SHAPES, else ValueError. tilt (n) [deg]: of the long axis off broadside, head down negative;
    frequency_length (m): frequency times length [Hz m], in water of 1490 m/s. Read straight between tilts 0.5 deg apart
    (1 deg from 40 deg on), by a cubic between frequencies 3 % and at most 1.5 kHz m apart; held at the ends of 60 deg
    and of 2.5 to 300 kHz m. Valid within those ends; levels are stored to 0.25 dB. Against the library itself, means
    over tilt 0.25 dB, of the two shapes of flesh alone 0.7 dB above 45 kHz m, where echoes of back and belly beat
    faster than the nodes. Source: the module's.
    """
    table = _table(_known(name))
    where = np.clip(np.atleast_1d(floats(frequency_length)), table.frequency_length[0], table.frequency_length[-1])
    nodes = np.maximum(_spline(name)(where), _LEAST)
    rows = np.interp(np.atleast_1d(floats(tilt)), table.tilt, np.arange(len(table.tilt)))
    low = np.minimum(rows.astype(int), len(table.tilt) - 2)
    part = (rows - low)[:, None]
    return floats((1.0 - part) * nodes[low] + part * nodes[low + 1])


def strength_shape(name: str, length: float, frequency: ArrayLike, tilt: ArrayLike = 0.0) -> FloatArray:
    """Return the target strength of a shape of some length [dB re 1 m2], (n, m).

    length [m], frequency (m) [Hz], tilt (n) [deg], head down negative. Valid and source as `cross_section`.
    """
    return floats(decibels(cross_section(name, tilt, floats(frequency) * length)) + 20.0 * np.log10(length))


def tilt_mean(name: str, mean: float, sd: float, frequency_length: ArrayLike) -> FloatArray:
    """Return the mean of `cross_section` over tilts N(mean, sd) seen from straight above [1], (m).

    mean, sd [deg], head down negative; frequency_length (m) [Hz m]. Valid as `cross_section`, for sd above 0.5 deg or
    0. Source: trapezoid rule over 4 standard deviations either way.
    """
    z = np.linspace(-4.0, 4.0, 1601)
    weight = np.exp(-0.5 * z**2)
    # Fish of one size need the same values many times: compute each value once.
    each, place = np.unique(np.atleast_1d(floats(frequency_length)), return_inverse=True)
    return floats(weight @ cross_section(name, mean + sd * z, each) / weight.sum())[place.ravel()]


def mean_strength(
    name: str,
    length: ArrayLike,
    frequency: ArrayLike,
    sound_speed: float = _SPEED,
    tilt: tuple[float, float] = NATURAL_TILT,
) -> FloatArray:
    """Return the mean target strength of a shape over tilts N(mean, sd) [dB re 1 m2].

    length [m], frequency [Hz]: arrays that broadcast; tilt: mean and sd [deg], by default N(-5, 15), *assumed* (head
    down, as of cod). Valid as `cross_section`; one fish of a species, to 2 or 3 dB. Source: `tilt_mean`.
    """
    size, f = np.broadcast_arrays(floats(length), floats(frequency))
    scaled = (size * f * _SPEED / sound_speed).ravel()
    return floats(decibels(tilt_mean(name, *tilt, scaled)).reshape(size.shape) + 20.0 * np.log10(size))
