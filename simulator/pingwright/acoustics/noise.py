"""Spectral levels of ambient noise and of a boat's own, in dB re 1 uPa2/Hz.

The wind curves rest on data up to 20 kHz: at an echo sounder's frequencies they are extrapolated. The two published
fits differ by 0.4 dB at 38 to 50 kHz and 2.4 dB at 250 kHz. Rain is left out: no closed form above 50 kHz was found.
"""

import math

import numpy as np
from numpy.typing import ArrayLike

from pingwright.acoustics.arrays import FloatArray, decibels, floats, formula, power_ratio

#: Own noise by speed: level [dB re 1 uPa2/Hz at 50 kHz], the speed for it [kn], dB for each knot, highest speed [kn].
_OWN_LEVEL, _OWN_KNOTS, _OWN_PER_KNOT, _OWN_FASTEST = 48.0, 4.0, 1.75, 20.0


@formula(frequency=(100.0, 20e3))
def wind_coates(frequency: ArrayLike, wind_speed: ArrayLike) -> FloatArray:
    """Return the spectral level of wind and waves [dB re 1 uPa2/Hz].

    frequency [Hz], wind_speed [m/s]. Valid 100 Hz to 20 kHz, extrapolated above.
    Source: Coates 1990, Underwater Acoustic Systems, fit to Wenz 1962, JASA 34, 1936-1956.
    """
    f = floats(frequency) / 1e3
    return floats(50.0 + 7.5 * np.sqrt(floats(wind_speed)) + 20.0 * np.log10(f) - 40.0 * np.log10(f + 0.4))


@formula(frequency=(100.0, 20e3))
def wind_zimmer(frequency: ArrayLike, wind_speed: ArrayLike) -> FloatArray:
    """Return the spectral level of wind and waves [dB re 1 uPa2/Hz], a second opinion.

    frequency [Hz], wind_speed [m/s]. Valid 100 Hz to 20 kHz, extrapolated above.
    Source: Zimmer 2011, Passive Acoustic Monitoring of Cetaceans.
    """
    f, w = floats(frequency) / 1e3, floats(wind_speed) ** 0.75
    corner = 1.0 / (2.78 + 0.14 * w) ** 2
    return floats(44.0 + 28.0 * np.log10(1.0 + w) + 19.0 * np.log10(f) - 18.0 * np.log10(f**2 + corner))


@formula(frequency=(10.0, 10e3))
def shipping(frequency: ArrayLike, activity: ArrayLike) -> FloatArray:
    """Return the spectral level of distant ships [dB re 1 uPa2/Hz].

    frequency [Hz], activity [1, from 0 light to 1 heavy]. Valid 10 Hz to 10 kHz, negligible above.
    Source: Coates 1990 after Wenz 1962 (from memory).
    """
    f = floats(frequency) / 1e3
    return floats(40.0 + 20.0 * (floats(activity) - 0.5) + 26.0 * np.log10(f) - 60.0 * np.log10(f + 0.03))


@formula(frequency=(1.0, 100.0))
def turbulence(frequency: ArrayLike) -> FloatArray:
    """Return the spectral level of turbulence [dB re 1 uPa2/Hz].

    frequency [Hz]. Valid 1 Hz to 100 Hz, negligible above. Source: Coates 1990 after Wenz 1962.
    """
    return floats(17.0 - 30.0 * np.log10(floats(frequency) / 1e3))


@formula(frequency=(30e3, math.inf))
def thermal(frequency: ArrayLike) -> FloatArray:
    """Return the spectral level of thermal agitation [dB re 1 uPa2/Hz], rounded form -15 + 20 log f.

    frequency [Hz]. Valid above 30 kHz; 0.34 dB below `thermal_exact` at 15 degC, which is the rounding.
    Source: Mellen 1952, JASA 24, 478-480.
    """
    return floats(-15.0 + 20.0 * np.log10(floats(frequency) / 1e3))


@formula()
def thermal_exact(
    frequency: ArrayLike, temperature: ArrayLike, density: ArrayLike = 1026.0, sound_speed: ArrayLike = 1500.0
) -> FloatArray:
    """Return the spectral level of thermal agitation [dB re 1 uPa2/Hz], 4 pi k T rho f^2 / c.

    frequency [Hz], temperature [degC], density [kg/m3], sound_speed [m/s]. Valid at any frequency (equipartition).
    Source: Mellen 1952, JASA 24, 478-480.
    """
    from scipy.constants import Boltzmann, zero_Celsius

    kelvin = floats(temperature) + zero_Celsius
    power = 4.0 * np.pi * Boltzmann * kelvin * floats(density) * floats(frequency) ** 2 / floats(sound_speed)
    return decibels(power / 1e-12)


@formula(frequency=(1e3, 1e6))
def ambient(frequency: ArrayLike, wind_speed: ArrayLike, activity: ArrayLike | None = None) -> FloatArray:
    """Return the spectral level of all ambient noise [dB re 1 uPa2/Hz]: wind, heat, turbulence and perhaps ships.

    frequency [Hz], wind_speed [m/s], activity of ships [1] or None for no ships. Valid 1 kHz to 1 MHz (wind
    extrapolated above 20 kHz). Source: power sum of `wind_coates`, `thermal`, `turbulence`, `shipping`.
    """
    parts = [wind_coates(frequency, wind_speed), thermal(frequency), turbulence(frequency)]
    if activity is not None:
        parts.append(shipping(frequency, activity))
    return power_sum(*parts)


def power_sum(*levels: ArrayLike) -> FloatArray:
    """Return the level of the sum of incoherent powers [dB, re as the terms].

    levels [dB], arrays that broadcast. Valid for independent sources. Source: definition of the decibel.
    """
    return decibels(sum(power_ratio(level) for level in levels))


def own_level(own: float | str, speed: float) -> float | None:
    """Return the boat's own noise around its hull [dB re 1 uPa2/Hz at 50 kHz], None if it makes none.

    own: a level [dB re 1 uPa2/Hz at 50 kHz], "none", or "by speed"; speed through the water [m/s]. By speed: none at
    rest (engine off), else 48 dB at 4 kn and 1.75 dB more a knot, held above 20 kn. Valid for small boats, 0 to 30 kn.
    ValueError for another word.
    Source: *assumed*, to +-10 dB. 48 dB lies between a quiet ship's (49 dB for sounders at 12 kHz, the lower 40 dB
    range above: UNOLS Multibeam Advisory Committee, INMARTECH 2014) and that of boats under 6 m at 5 to 30 km/h (153
    dB re 1 uPa m: Parsons et al. 2020, J. Mar. Sci. Eng. 8, 970; spread as -20 dB a decade from 100 Hz and heard at 5
    m unshaded by the hull, some 65 dB at 9 kn and 56 at 4 kn); 1.5 to 2 dB a knot: Urick 1983, chapter 11 (from
    memory). The order of the bands depends on it: above some 52 dB at 4 kn the low band no longer reaches deepest.
    """
    if isinstance(own, str):
        if own not in ("by speed", "none"):
            message = f"own noise is a level, 'by speed' or 'none', not {own!r}"
            raise ValueError(message)
        if own == "none" or speed <= 0.0:
            return None
        knots = min(speed * 3600.0 / 1852.0, _OWN_FASTEST)
        return _OWN_LEVEL + _OWN_PER_KNOT * (knots - _OWN_KNOTS)
    return float(own)


@formula(frequency=(10e3, 1e6))
def own(frequency: ArrayLike, level: ArrayLike) -> FloatArray:
    """Return the spectral level of the boat's own noise around its hull [dB re 1 uPa2/Hz], falling 20 dB a decade.

    frequency [Hz], level at 50 kHz [dB re 1 uPa2/Hz]: see `own_level`. It is taken to come evenly from all sides, so
    the directivity index of a face reduces it. Valid 10 kHz to 1 MHz, as an assumption. Source: the slope of -20 dB a
    decade is that of cavitation, Ross 1976, Mechanics of Underwater Noise, chapter 8 (from memory).
    """
    return floats(floats(level) - 20.0 * np.log10(floats(frequency) / 50e3))
