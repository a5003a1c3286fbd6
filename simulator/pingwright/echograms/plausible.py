"""Possible values of a recording's numbers and texts: a file with others is refused before anything is computed."""

import unicodedata
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from pingwright.errors import EchogramError

FloatArray = NDArray[np.float64]

#: Lowest and highest value of each attribute of an element, in its unit; wide enough for any water and any face.
ATTRIBUTES: Mapping[str, tuple[float, float]] = {
    "band_low": (1.0, 1e8),
    "band_high": (1.0, 1e8),
    "pulse_length": (1e-7, 10.0),
    "effective_pulse": (1e-9, 10.0),
    "source_level": (-200.0, 400.0),
    "noise_level": (-np.inf, 400.0),
    "absorption": (0.0, 1e3),
    "equivalent_beam_angle": (-100.0, 30.0),
    "range_resolution": (1e-6, 1e5),
    "blank_range": (0.0, 1e5),
    "transducer_depth": (-1e3, 1e5),
    "assumed_sound_speed": (100.0, 1e4),
    **{f"beamwidth_{way}{end}": (0.0, 360.0) for way in ("along", "across") for end in ("", "_low", "_high")},
}
#: The same for arrays by ping and by fish.
ARRAYS: Mapping[str, tuple[float, float]] = {
    "ping_time": (-1e9, 1e10),
    "x": (-1e8, 1e8),
    "y": (-1e8, 1e8),
    "roll": (-360.0, 360.0),
    "pitch": (-360.0, 360.0),
    "heave": (-1e4, 1e4),
    "bottom_depth": (-1e4, 1e5),
    "depth": (-1e4, 1e5),
    "length": (0.0, 1e3),
    "height": (-1e5, 1e5),
}
#: Smallest and largest step of the range axis [m], its farthest end [m], and how unequal its steps may be.
STEPS, FURTHEST, UNEVEN = (1e-6, 1e4), 1e6, 0.01
#: Highest level of a beam above its axis [dB].
ABOVE_AXIS = 60.0
#: Longest text of one line.
LONGEST = 1000


def numbers(values: Mapping[str, object], place: str) -> None:
    """Refuse values of attributes that no element can have."""
    for name, (low, high) in ATTRIBUTES.items():
        value = values.get(name)
        if isinstance(value, float) and not low <= value <= high:
            message = f"{place}: {name} is {value:g}; possible: {low:g} to {high:g}"
            raise EchogramError(message)
    if not values["band_low"] < values["band_high"]:  # type: ignore[operator]
        message = f"{place}: band_low is not below band_high"
        raise EchogramError(message)


def array(values: FloatArray, name: str, place: str) -> FloatArray:
    """Return an array in the unit of ARRAYS [any], or refuse impossible values; nan is allowed."""
    low, high = ARRAYS[name]
    if np.any(values < low) or np.any(values > high):
        message = f"{place}/{name} holds values beyond {low:g} to {high:g}"
        raise EchogramError(message)
    return values


def evenly(distance: FloatArray, place: str) -> None:
    """Refuse ranges [m] (sample) that do not rise in even steps from 0 or more."""
    step = np.diff(distance)
    if len(distance) < 2 or np.any(step <= 0) or distance[0] < 0:
        message = f"{place}: range does not rise from 0, or there are no pings"
        raise EchogramError(message)
    usual = float(step.mean())
    if not STEPS[0] <= usual <= STEPS[1] or distance[-1] > FURTHEST or np.any(np.abs(step - usual) > UNEVEN * usual):
        message = f"{place}: range does not rise in even steps of {STEPS[0]:g} to {STEPS[1]:g} m to {FURTHEST:g} m"
        raise EchogramError(message)


def beam(level: FloatArray, place: str) -> FloatArray:
    """Return the level of a beam relative to its axis [dB], minus infinity where silent, or refuse a wrong one."""
    if np.isnan(level).any() or np.any(level > ABOVE_AXIS):
        message = f"{place}/beam holds levels that are not numbers, or are more than {ABOVE_AXIS:g} dB above the axis"
        raise EchogramError(message)
    return level


def text(value: str, place: str, *, lines: bool) -> str:
    """Return a text that can be shown; lines: whether several lines and any length are allowed."""
    for character in value if not lines else value.replace("\n", "").replace("\t", "").replace("\r", ""):
        if unicodedata.category(character) in {"Cc", "Cs", "Zl", "Zp"} or character in _TURNING:
            message = f"{place} holds the control character U+{ord(character):04X}"
            raise EchogramError(message)
    if not lines and len(value) > LONGEST:
        message = f"{place} is a text of {len(value)} characters; possible: {LONGEST}"
        raise EchogramError(message)
    return value


_TURNING = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def shown(message: str) -> str:
    """Return a message that quotes an unknown file, safe for a terminal: one line, no control characters."""
    return "".join(c if c.isprintable() and c not in _TURNING else "?" for c in " ".join(message.split()))[:400]
