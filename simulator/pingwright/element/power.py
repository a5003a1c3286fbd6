"""From electrical power to source level, and what limits it.

Source: R. J. Urick, Principles of Underwater Sound, 3rd ed. 1983, ch. 4 (source level, cavitation).
"""

from dataclasses import dataclass

import numpy as np

from pingwright.acoustics import budget
from pingwright.element.faces import FloatArray

MICROPASCAL = 1e6


def source_amplitude(
    acoustic_power: float, directivity_factor: FloatArray, density: float, sound_speed: float
) -> FloatArray:
    """Return the rms source amplitude on the axis [uPa m] (any shape), sqrt(P rho c DF / 4 pi).

    acoustic_power [W], directivity_factor [1], density [kg/m3], sound_speed [m/s]. Its level is the source level,
    dB re 1 uPa m. Exact for a lossless far field; Urick 1983, sec. 4.2.
    """
    squared = acoustic_power * density * sound_speed * directivity_factor / (4.0 * np.pi)
    return np.asarray(MICROPASCAL * np.sqrt(squared))


def edge_loss_gain(frequency: FloatArray, band: tuple[float, float], edge_loss: float | None) -> FloatArray:
    """Return the pressure gain [1] of a response that falls by edge_loss [dB] from band centre to band edge.

    Parabolic in dB over frequency [Hz] (any shape), like a damped resonance near its top; the shape is assumed.
    None is a flat response.
    """
    if edge_loss is None:
        return np.ones(np.shape(frequency))
    low, high = band
    x = (np.asarray(frequency) - (low + high) / 2.0) / ((high - low) / 2.0)
    return np.asarray(10.0 ** (-edge_loss * x**2 / 20.0))


@dataclass(frozen=True)
class Cavitation:
    """How hard the face is driven, beside what water at its depth is said to bear.

    intensity: acoustic power over area [W/cm2], mean over the face during the pulse.
    rule: 0.3 (1 + depth / 10 m)^2 [W/cm2], Urick 1983 ch. 4 (from memory). For frequencies up to about 10 kHz and long
    pulses: the threshold rises above 10 kHz and for pulses under 5 ms (same source), by how much is not said here.
    ambient_peak: intensity [W/cm2] whose peak pressure equals the static pressure, p^2 / (2 rho c): exact.
    peak_over_ambient: peak pressure of the plane wave at the face over static pressure [1].
    """

    depth: float
    frequency: float
    intensity: float
    rule: float
    ambient_peak: float
    peak_over_ambient: float


def cavitation(
    acoustic_power: float, area: float, depth: float, frequency: float, density: float, sound_speed: float
) -> Cavitation:
    """Return the cavitation numbers of a face of area [m2] at depth [m] radiating acoustic_power [W], see Cavitation.

    frequency [Hz] is handed through: the rule has no frequency in it. density [kg/m3], sound_speed [m/s].
    """
    bearable = float(budget.cavitation_intensity(depth, density, sound_speed))
    intensity = acoustic_power / area
    return Cavitation(
        depth=depth,
        frequency=frequency,
        intensity=intensity / 1e4,
        rule=0.3 * (1.0 + depth / 10.0) ** 2,
        ambient_peak=bearable / 1e4,
        peak_over_ambient=float(np.sqrt(intensity / bearable)),
    )


def limited_power(acoustic_power: float, area: float, depth: float) -> float:
    """Return acoustic power [W] held down to the low-frequency cavitation rule at depth [m], see Cavitation."""
    return min(acoustic_power, 0.3e4 * (1.0 + depth / 10.0) ** 2 * area)
