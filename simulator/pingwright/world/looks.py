"""How finely each element of a scenario looks: estimated from its face, before any element is built.

Rough on purpose: it only sets how densely the seabed is sampled. Widths of a piston and a line are the formulas' own;
curved faces are taken to be as wide as their opening; a table's face as wide as its levels say.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_PISTON = 1.61374  # k a sin(half width) at -3 dB one-way
_LINE = 0.44295  # L / lambda sin(half width) at -3 dB one-way


@dataclass(frozen=True)
class Look:
    """How finely one element looks at the seabed.

    range_resolution c / 2B [m]; beam_width: one-way -3 dB, the narrower of its two [deg]; reach: angle off the vertical
    beyond which its beam has fallen off [deg]; tilt off the vertical [deg]; band [Hz].
    """

    range_resolution: float
    beam_width: float
    reach: float
    tilt: float
    band: tuple[float, float]


def looks(elements: tuple[Any, ...], sound_speed: float) -> tuple[Look, ...]:
    """Return one Look an element (scenario sections), sound_speed [m/s] at the face."""
    return tuple(_look(spec, sound_speed) for spec in elements)


def _look(spec: Any, sound_speed: float) -> Look:
    low, high = (float(f) for f in spec.band)
    fine, coarse = widths(spec.face, sound_speed / high), widths(spec.face, sound_speed / low)
    tilt = float(np.degrees(np.arctan(np.hypot(*np.tan(np.radians([spec.tilt.along, spec.tilt.across]))))))
    narrow, wide = min(fine), max(coarse)
    resolution = sound_speed / (2.0 * (high - low))
    pulse = spec.pulse
    if getattr(pulse, "kind", "chirp") == "tone" and pulse.length is not None:
        resolution = max(resolution, sound_speed * float(pulse.length) / 2.0)
    return Look(resolution, narrow, min(wide + tilt, 80.0), tilt, (low, high))


def widths(face: Any, wavelength: float) -> tuple[float, float]:
    """Return full one-way -3 dB widths along and across [deg] of a face at a wavelength [m]."""
    shape = face.shape
    if shape == "disc":
        return (_full(_PISTON * wavelength / (np.pi * face.diameter)),) * 2
    if shape == "rectangle":
        return _full(_LINE * wavelength / face.along), _full(_LINE * wavelength / face.across)
    if shape == "discs":
        centres = np.asarray(face.centres, dtype=np.float64)
        spans = [np.ptp(centres[:, axis]) + face.diameter for axis in (0, 1)]
        return _full(_LINE * wavelength / spans[0]), _full(_LINE * wavelength / spans[1])
    if shape == "arc":
        return _full(_LINE * wavelength / face.width), float(face.opening) * 0.6
    if shape == "cap":
        return (float(face.opening) * 0.6,) * 2
    return _table_widths(face.pattern)


def _full(sine: float) -> float:
    return 2.0 * float(np.degrees(np.arcsin(min(sine, 0.98))))


def _table_widths(pattern: Any) -> tuple[float, float]:
    """Read -3 dB widths from a measured pattern: level (frequency, along x across) [dB]."""
    along, across = (np.asarray(a, dtype=np.float64) for a in (pattern.angle_along, pattern.angle_across))
    level = np.asarray(pattern.level, dtype=np.float64).reshape(-1, len(along), len(across))
    above = level.max(axis=0) > -3.0
    return _extent(along[above.any(axis=1)]), _extent(across[above.any(axis=0)])


def _extent(angle: FloatArray) -> float:
    return float(np.clip(np.ptp(angle), 2.0, 120.0)) if len(angle) else 10.0
