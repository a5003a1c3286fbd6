"""What tilt and heading do to a fish's echo: the tilt law seen from straight above or from the side, as shares."""

from functools import lru_cache

import numpy as np

from pingwright.acoustics import fish
from pingwright.claims.lots import FloatArray

#: Shares of all postures, angles of incidence [deg] of the table, headings; quantiles of tilt.
SHARES, ANGLES = 32, np.linspace(0.0, 88.0, 45)
HEADINGS, TILTS = 48, 64


def seen(tilt: tuple[float, float], axis_ratio: float, incidence: FloatArray) -> FloatArray:
    """Return the echo's power over its mean from straight above (n, share), each share of postures as likely.

    tilt: mean, sd [deg]; incidence [rad] (n): angle between the direction to the element and the vertical. Headings
    are uniform. Source: `acoustics.fish.tilt_factor` over postures; shares by quantiles, error of a probability below
    0.01.
    """
    table = _table(tilt, axis_ratio)
    place = np.clip(np.degrees(incidence), 0.0, ANGLES[-1]) / (ANGLES[1] - ANGLES[0])
    low = np.minimum(place.astype(np.int64), len(ANGLES) - 2)
    part = (place - low)[:, None]
    return np.asarray(np.exp((1 - part) * table[low] + part * table[low + 1]))


@lru_cache(maxsize=32)
def _table(tilt: tuple[float, float], axis_ratio: float) -> FloatArray:
    """Return the logarithm of `seen` at ANGLES (angle, share)."""
    from scipy.special import ndtri

    mean, sd = np.radians(tilt)
    lean = (mean + sd * ndtri((np.arange(TILTS) + 0.5) / TILTS))[:, None]
    heading = np.pi * (np.arange(HEADINGS) + 0.5) / HEADINGS
    angle = np.radians(ANGLES)[:, None, None]
    cosine = np.cos(lean) * np.cos(heading) * np.sin(angle) - np.sin(lean) * np.cos(angle)
    factor = np.sort(fish.tilt_factor(cosine, axis_ratio).reshape(len(ANGLES), -1), axis=1)
    shares = factor.reshape(len(ANGLES), SHARES, -1).mean(axis=2)
    return np.asarray(np.log(shares / fish.tilt_average(*tilt, axis_ratio)))
