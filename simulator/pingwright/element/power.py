"""From electrical power to source level, and what limits it.

Source: R. J. Urick, Principles of Underwater Sound, 3rd ed. 1983, ch. 4 (source level, cavitation).
"""

from dataclasses import dataclass

import numpy as np

from pingwright.acoustics import budget
from pingwright.acoustics.arrays import FloatArray

#: Highest advised electrical power for the area of a face [W/m2]; above it, much goes into harmonics: Korneliussen,
#: Diner, Ona, Berger & Fernandes 2008, ICES JMS 65, 982-994 (from memory).
ADVISED_POWER = 25e3


def finite_amplitude_gain(
    frequency: FloatArray,
    acoustic_power: float,
    area: float,
    distance: float,
    density: float,
    sound_speed: float,
    curvature: float,
) -> FloatArray:
    """Return the pressure gain [1] left by the loss to harmonics at distance [m], any shape, see `nonlinear_loss`.

    frequency [Hz], acoustic_power [W], area [m2]. Computed at 33 frequencies and interpolated: correct to 0.001 dB over
    the bands allowed.
    """
    f = np.asarray(frequency, dtype=float)
    nodes = np.linspace(f.min(), f.max(), 33) if f.size > 33 else np.sort(f.ravel())
    loss = budget.nonlinear_loss(acoustic_power, area, nodes, distance, density, sound_speed, curvature)
    return np.asarray(10.0 ** (-np.interp(f, nodes, loss) / 20.0))


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
    """The intensity at the face, and the limit at which water at its depth cavitates.

    intensity: acoustic power over area [W/cm2], mean over the face during the pulse.
    rule: the limit of water at low frequencies [W/cm2], see `budget.cavitation_rule_urick`.
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

    frequency [Hz] is only passed on: the rule does not depend on it. density [kg/m3], sound_speed [m/s].
    """
    bearable = float(budget.cavitation_intensity(depth, density, sound_speed))
    intensity = acoustic_power / area
    return Cavitation(
        depth=depth,
        frequency=frequency,
        intensity=intensity / 1e4,
        rule=float(budget.cavitation_rule_urick(depth)) / 1e4,
        ambient_peak=bearable / 1e4,
        peak_over_ambient=float(np.sqrt(intensity / bearable)),
    )


def limited_power(acoustic_power: float, area: float, depth: float) -> float:
    """Return acoustic power [W] limited by the low-frequency cavitation rule at depth [m], see Cavitation."""
    return min(acoustic_power, float(budget.cavitation_rule_urick(depth)) * area)
