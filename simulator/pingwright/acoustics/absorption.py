"""Absorption of sound in sea, brackish and fresh water, in dB per metre.

The models differ by up to 20 % at 38 kHz (Fisher & Simmons lowest). This is a real difference between measurements, not
an error of the code. All functions broadcast their arguments.
"""

import numpy as np
from numpy.polynomial.polynomial import polyval
from numpy.typing import ArrayLike

from pingwright.acoustics.arrays import FloatArray, floats, formula

# Pure water term, cold (to 20 degC) and warm, by power of temperature. A public manual prints the first cold
# coefficient as 4.397e-4, digits swapped: continuity at 20 degC (2.201e-4 against 2.200e-4) shows 4.937e-4 is right.
_COLD = (4.937e-4, -2.59e-5, 9.11e-7, -1.50e-8)
_WARM = (3.964e-4, -1.146e-5, 1.45e-7, -6.5e-10)


@formula(frequency=(200.0, 1e6), temperature=(-1.8, 30.0), depth=(0.0, 3500.0))
def francois_garrison(
    frequency: ArrayLike, temperature: ArrayLike, salinity: ArrayLike, depth: ArrayLike = 0.0, acidity: ArrayLike = 8.0
) -> FloatArray:
    """Return the absorption [dB/m] that the simulator uses.

    frequency [Hz], temperature [degC], salinity [1, practical], depth [m], acidity [pH]. Valid 200 Hz to 1 MHz; about
    5 % for -1.8..30 degC, 30..35, to 3500 m (accuracy from memory). Fresh water (salinity 0) has the water term alone.
    Source: Francois & Garrison 1982, JASA 72(3), 896-907 and 72(6), 1879-1890.
    """
    return floats(sum(francois_garrison_parts(frequency, temperature, salinity, depth, acidity)))


def francois_garrison_parts(
    frequency: ArrayLike, temperature: ArrayLike, salinity: ArrayLike, depth: ArrayLike = 0.0, acidity: ArrayLike = 8.0
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the parts of `francois_garrison` by boric acid, magnesium sulphate and water, each [dB/m].

    frequency [Hz], temperature [degC], salinity [1, practical], depth [m], acidity [pH]. Valid and source as there.
    """
    f, t, s = floats(frequency) / 1e3, floats(temperature), floats(salinity)
    d, absolute = floats(depth), 273.0 + t
    speed = 1412.0 + 3.21 * t + 1.19 * s + 0.0167 * d
    boric_line = 2.8 * np.sqrt(s / 35.0) * 10.0 ** (4.0 - 1245.0 / absolute)
    boric = 8.86 / speed * 10.0 ** (0.78 * floats(acidity) - 5.0) * _relaxation(f, boric_line)
    sulphate_line = 8.17 * 10.0 ** (8.0 - 1990.0 / absolute) / (1.0 + 0.0018 * (s - 35.0))
    sulphate = 21.44 * s / speed * (1.0 + 0.025 * t) * _relaxation(f, sulphate_line)
    sulphate = sulphate * (1.0 - 1.37e-4 * d + 6.2e-9 * d**2)
    water = np.where(t <= 20.0, polyval(t, _COLD), polyval(t, _WARM)) * f**2
    water = water * (1.0 - 3.83e-5 * d + 4.9e-10 * d**2)
    return floats(boric / 1e3), floats(sulphate / 1e3), floats(water / 1e3)


@formula(frequency=(100.0, 1e6), temperature=(-6.0, 35.0), depth=(0.0, 7000.0), acidity=(7.7, 8.3))
def ainslie_mccolm(
    frequency: ArrayLike, temperature: ArrayLike, salinity: ArrayLike, depth: ArrayLike = 0.0, acidity: ArrayLike = 8.0
) -> FloatArray:
    """Return the absorption [dB/m] by a simplification of Francois & Garrison.

    frequency [Hz], temperature [degC], salinity [1, practical], depth [m], acidity [pH]. Valid 100 Hz to 1 MHz within
    10 % of Francois & Garrison for -6..35 degC, 5..50, pH 7.7..8.3, to 7000 m, one varied at a time; salinity 0 leaves
    the water term. Source: Ainslie & McColm 1998, JASA 103(3), 1671-1672.
    """
    f, t, s, z = floats(frequency) / 1e3, floats(temperature), floats(salinity), floats(depth) / 1e3
    boric = 0.106 * np.exp((floats(acidity) - 8.0) / 0.56)
    boric = boric * _relaxation(f, 0.78 * np.sqrt(s / 35.0) * np.exp(t / 26.0))
    sulphate = 0.52 * (1.0 + t / 43.0) * s / 35.0 * _relaxation(f, 42.0 * np.exp(t / 17.0)) * np.exp(-z / 6.0)
    water = 0.00049 * f**2 * np.exp(-(t / 27.0 + z / 17.0))
    return floats((boric + sulphate + water) / 1e3)


@formula(frequency=(10e3, 400e3), temperature=(0.0, 30.0), pressure=(0.0, 5e7))
def fisher_simmons(frequency: ArrayLike, temperature: ArrayLike, pressure: ArrayLike = 101_325.0) -> FloatArray:
    """Return the absorption [dB/m] in sea water of salinity 35 and pH 8.

    frequency [Hz], temperature [degC], absolute pressure [Pa]. Valid 10 kHz to 400 kHz, 0..30 degC, to 5e7 Pa.
    Source: Fisher & Simmons 1977, JASA 62, 558-564 (coefficients from memory; reproduces the value quoted from its
    table IV).
    """
    f, t, p = floats(frequency), floats(temperature), floats(pressure) / 101_325.0
    absolute = t + 273.0
    boric_line = 1320.0 * absolute * np.exp(-1700.0 / absolute)
    boric = (1.03e-8 + 2.36e-10 * t - 5.22e-12 * t**2) * _relaxation(f, boric_line)
    sulphate_line = 1.55e7 * absolute * np.exp(-3052.0 / absolute)
    sulphate = (5.62e-8 + 7.52e-10 * t) * _relaxation(f, sulphate_line) * (1.0 - 10.3e-4 * p + 3.7e-7 * p**2)
    water = polyval(t, (55.9, -2.37, 4.77e-2, -3.48e-4)) * 1e-15 * f**2 * (1.0 - 3.84e-4 * p + 7.57e-8 * p**2)
    return floats(8.686 * (boric + sulphate + water))


def _relaxation(frequency: FloatArray, line: FloatArray) -> FloatArray:
    """Return line f^2 / (line^2 + f^2), the rise of a relaxation, 0 where there is no line; all in one unit."""
    return floats(line * frequency**2 / (line**2 + frequency**2))
