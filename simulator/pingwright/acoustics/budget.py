"""The sonar equation: levels of source, echo, reverberation and noise, and how deep and how small one can see.

Levels in dB re 1 uPa (source levels re 1 uPa m, rms), ranges from the transducer in m, absorption in dB/m.
"""

import numpy as np
from numpy.typing import ArrayLike

from pingwright.acoustics.arrays import FloatArray, decibels, floats, formula
from pingwright.acoustics.detection import needed_snr_swerling_1
from pingwright.acoustics.fish import length_love_1971

_ATMOSPHERE = 101_325.0
_NODE, _WEIGHT = np.polynomial.legendre.leggauss(64)
NONLINEARITY = 3.6  # beta of sea water near 10 degC, Beyer 1974: 3.5 to 3.6


@formula()
def source_level(
    power: ArrayLike,
    efficiency: ArrayLike,
    directivity_index: ArrayLike,
    density: ArrayLike = 1026.0,
    sound_speed: ArrayLike = 1500.0,
) -> FloatArray:
    """Return the source level [dB re 1 uPa m] of an electrical power.

    power [W], efficiency [1], directivity_index [dB], density [kg/m3], sound_speed [m/s]. Exact in the far field:
    p^2 = P efficiency DF rho c / (4 pi). Source: Urick 1983, section 4.2 (170.8 dB at 1 W without directivity).
    """
    acoustic = floats(power) * floats(efficiency)
    square = acoustic * floats(density) * floats(sound_speed) / (4.0 * np.pi)
    return floats(decibels(square / 1e-12) + floats(directivity_index))


@formula()
def transmission_loss(distance: ArrayLike, absorption: ArrayLike) -> FloatArray:
    """Return the one-way transmission loss [dB re 1 m], 20 log r + a r.

    distance [m], absorption [dB/m]. Valid for spherical spreading in the far field. Source: Urick 1983, section 5.
    """
    r = floats(distance)
    return floats(20.0 * np.log10(r) + floats(absorption) * r)


@formula()
def echo_level_point(
    level: ArrayLike, distance: ArrayLike, absorption: ArrayLike, strength: ArrayLike, beam_level: ArrayLike = 0.0
) -> FloatArray:
    """Return the echo level of a point target [dB re 1 uPa], SL - 2 TL + TS + 2 B.

    level: source level [dB], distance [m], absorption [dB/m], strength [dB re 1 m2], beam_level: one way [dB re axis].
    Valid in the far field. Source: Urick 1983, section 2.
    """
    loss = transmission_loss(distance, absorption)
    return floats(floats(level) - 2.0 * loss + floats(strength) + 2.0 * floats(beam_level))


@formula()
def reverberation_level_volume(
    level: ArrayLike,
    distance: ArrayLike,
    absorption: ArrayLike,
    volume_strength: ArrayLike,
    length: ArrayLike,
    beam_angle: ArrayLike,
    sound_speed: ArrayLike = 1500.0,
) -> FloatArray:
    """Return the level of volume reverberation [dB re 1 uPa].

    level: source level [dB], distance [m], absorption [dB/m], volume_strength [dB re 1/m], length: effective pulse [s],
    beam_angle: equivalent two-way [sr], sound_speed [m/s]: SL - 2 TL + Sv + 10 log(c tau/2 psi r^2). Valid for a layer
    that fills the beam. Source: Urick 1983, section 8.
    """
    r = floats(distance)
    volume = floats(sound_speed) * floats(length) / 2.0 * floats(beam_angle) * r**2
    return floats(echo_level_point(level, r, absorption, volume_strength) + decibels(volume))


@formula()
def echo_level_mirror(
    level: ArrayLike, depth: ArrayLike, absorption: ArrayLike, reflection_coefficient: ArrayLike
) -> FloatArray:
    """Return the echo level of a smooth flat bottom [dB re 1 uPa], SL - 20 log 2H - 2 a H + 20 log |R|.

    level: source level [dB], depth H [m], absorption [dB/m], reflection_coefficient [1]. Valid for a mirror larger than
    the first Fresnel zone. Source: image method, Urick 1983, section 8.
    """
    way = 2.0 * floats(depth)
    loss = transmission_loss(way, absorption)
    return floats(floats(level) - loss + 20.0 * np.log10(np.abs(floats(reflection_coefficient))))


def area_beam_limited(depth: ArrayLike, beam_angle: ArrayLike) -> FloatArray:
    """Return the bottom area seen at once by a long pulse [m2], psi H^2.

    depth H [m], beam_angle: equivalent two-way [sr]. Valid while it is below `area_pulse_limited`. Source: geometry.
    """
    return floats(floats(beam_angle) * floats(depth) ** 2)


def area_pulse_limited(depth: ArrayLike, length: ArrayLike, sound_speed: ArrayLike = 1500.0) -> FloatArray:
    """Return the bottom area seen at once by a short pulse [m2], pi c tau H.

    depth H [m], length: effective pulse [s], sound_speed [m/s]. Valid while it is below `area_beam_limited`.
    Source: geometry of the disc inside range H + c tau / 2.
    """
    return floats(np.pi * floats(sound_speed) * floats(length) * floats(depth))


def echo_level_rough(
    level: ArrayLike, depth: ArrayLike, absorption: ArrayLike, bottom_strength: ArrayLike, area: ArrayLike
) -> FloatArray:
    """Return the echo level of a rough flat bottom [dB re 1 uPa], SL - 40 log H - 2 a H + Sb + 10 log A.

    level: source level [dB], depth H [m], absorption [dB/m], bottom_strength Sb [dB], area A [m2]: the smaller of
    `area_beam_limited` and `area_pulse_limited`. Valid for one resolution cell of even Sb. Source: Urick 1983, 8.
    """
    return floats(echo_level_point(level, depth, absorption, bottom_strength) + decibels(area))


def second_echo_difference(
    depth: ArrayLike, absorption: ArrayLike, reflection_coefficient: ArrayLike, surface_loss: ArrayLike = 0.0
) -> FloatArray:
    """Return the level of the second bottom echo over the first [dB], -20 log 2 - 2 a H + 20 log |R| - surface loss.

    depth H [m], absorption [dB/m], reflection_coefficient [1], surface_loss [dB]. Exact for mirrors at bottom and
    surface, transducer at the surface. Source: image method.
    """
    bottom = 20.0 * np.log10(np.abs(floats(reflection_coefficient)) / 2.0)
    return floats(bottom - 2.0 * floats(absorption) * floats(depth) - floats(surface_loss))


def noise_level(
    spectral_level: ArrayLike, length: ArrayLike, weighting_loss: ArrayLike = 0.0, directivity_index: ArrayLike = 0.0
) -> FloatArray:
    """Return the noise level behind the matched filter [dB re 1 uPa], NL - DI - 10 log T + weighting loss.

    spectral_level [dB re 1 uPa2/Hz], length T of the pulse [s], weighting_loss [dB], directivity_index [dB, 0 for noise
    that the beam does not reduce]. Valid for noise white over the band and an untapered pulse.
    Source: Parseval, see `pulse.noise_bandwidth`.
    """
    return floats(
        floats(spectral_level) - floats(directivity_index) - decibels(floats(length)) + floats(weighting_loss)
    )


@formula()
def needed_strength(
    level: ArrayLike,
    noise: ArrayLike,
    distance: ArrayLike,
    absorption: ArrayLike,
    detection: float = 0.5,
    false_alarm: float = 1e-4,
) -> FloatArray:
    """Return the mean target strength [dB] that one ping detects with a probability, Rayleigh echo (Swerling 1).

    level: source level [dB], noise behind the filter [dB], distance [m], absorption [dB/m], detection, false_alarm:
    probabilities [1]. Valid on the axis, far field. Source: sonar equation with `needed_snr_swerling_1`.
    """
    snr = needed_snr_swerling_1(detection, false_alarm)
    return floats(snr + floats(noise) - floats(level) + 2.0 * transmission_loss(distance, absorption))


@formula()
def reach(
    level: ArrayLike,
    noise: ArrayLike,
    strength: ArrayLike,
    absorption: ArrayLike,
    detection: float = 0.5,
    false_alarm: float = 1e-4,
) -> FloatArray:
    """Return the range [m] to which one ping detects a target with a probability, Rayleigh echo (Swerling 1).

    level: source level [dB], noise behind the filter [dB], strength: mean [dB], absorption [dB/m], 0 allowed,
    detection, false_alarm: probabilities [1]. Closed form by Wright's omega function; on the axis, no seabed.
    Source: 40 log r + 2 a r = SL - NL + TS - SNR, solved for r.
    """
    from scipy.special import wrightomega

    snr = needed_snr_swerling_1(detection, false_alarm)
    merit = floats(level) - floats(noise) + floats(strength) - snr
    absorption = floats(absorption)
    scale = 20.0 / np.log(10.0) / np.where(absorption > 0.0, absorption, 1.0)  # r + scale ln r = merit / (2 a)
    absorbed = scale * wrightomega(merit * np.log(10.0) / 40.0 - np.log(scale))
    return floats(np.where(absorption > 0.0, absorbed, 10.0 ** (merit / 40.0)))


def smallest_fish(
    level: ArrayLike,
    noise: ArrayLike,
    distance: ArrayLike,
    absorption: ArrayLike,
    frequency: ArrayLike,
    tilt_average: float,
    strength_floor: float = -60.0,
    detection: float = 0.5,
    false_alarm: float = 1e-4,
) -> FloatArray:
    """Return the length [m] of the smallest fish with a closed bladder that one ping detects with a probability.

    level: source level [dB], noise behind the filter [dB], distance [m], absorption [dB/m], frequency [Hz],
    tilt_average: mean of the tilt law [1, see `fish.tilt_average`], strength_floor: the picture's [dB],
    detection, false_alarm: probabilities [1]. Valid where the result is longer than the wavelength: the caller must say
    "outside the model" below it. Source: inverse of Love 1971 at `needed_strength` or the floor.
    """
    needed = needed_strength(level, noise, distance, absorption, detection, false_alarm)
    # A Rayleigh echo exceeds the floor with the probability wanted when its mean stands so far above it.
    mean = np.maximum(needed, strength_floor - decibels(-np.log(floats(detection))))
    return length_love_1971(mean - decibels(tilt_average), frequency)


def cavitation_intensity(depth: ArrayLike, density: float = 1026.0, sound_speed: float = 1500.0) -> FloatArray:
    """Return the intensity [W/m2] at which the peak pressure equals the ambient pressure, p^2 / (2 rho c).

    depth of the face [m], density [kg/m3], sound_speed [m/s]; ambient 101325 Pa + rho g z, g = 9.81. Valid as a
    low-frequency limit for long tones: short pulses and higher frequencies bear more.
    Source: definition; Urick's rule 0.3 (1 + z/10)^2 W/cm2 (1983, section 4.5, from memory) lies 10 % lower.
    """
    pressure = _ATMOSPHERE + density * 9.81 * floats(depth)
    return floats(pressure**2 / (2.0 * density * sound_speed))


def cavitation_rule_urick(depth: ArrayLike) -> FloatArray:
    """Return the intensity at the face that water is said to bear without cavitation [W/m2], 0.3 (1 + z/10)^2 W/cm2.

    depth z of the face [m]. Valid to about 10 kHz and for long pulses: the limit rises above 10 kHz and for pulses
    under 5 ms, by how much is not said. Source: Urick 1983, section 4.5 (from memory).
    """
    return floats(0.3e4 * (1.0 + floats(depth) / 10.0) ** 2)


def nonlinear_loss(
    power: ArrayLike,
    area: ArrayLike,
    frequency: ArrayLike,
    distance: ArrayLike,
    density: float,
    sound_speed: float,
    curvature: float = 0.0,
) -> FloatArray:
    """Return the estimated one-way loss by finite amplitude [dB]: what went into harmonics by some distance.

    power: acoustic [W], area of the face [m2], frequency [Hz], distance [m], density [kg/m3], sound_speed [m/s],
    curvature: radius of a curved face [m], 0 for a flat one. A flat face sends a plane wave to the distance k a^2 / 2
    of a disc of that area and a spherical one beyond; a curved one spherical waves from its centre of curvature.
    Absorption is left out, so the loss is overstated some hundred metres off (all three assumed). Steepening by
    Blackstock's lossless solution. Valid on the axis, to a factor of about 2 in dB.
    Source: Blackstock 1966, JASA 39, 1019-1026; 'assumed' for the joining of plane and spherical waves.
    """
    area, k = floats(area), 2.0 * np.pi * floats(frequency) / sound_speed
    mach = np.sqrt(2.0 * floats(power) / area / (density * sound_speed)) / sound_speed
    near = k * area / (2.0 * np.pi)
    z = floats(distance)
    flat = np.where(z < near, z, near * (1.0 + np.log(np.maximum(z / near, 1.0))))
    path = curvature * np.log1p(z / curvature) if curvature > 0.0 else flat
    return floats(-20.0 * np.log10(fundamental_blackstock(NONLINEARITY * mach * k * path)))


def fundamental_blackstock(shock_parameter: ArrayLike) -> FloatArray:
    """Return the amplitude of the fundamental in a steepening wave over that at its source [1].

    shock_parameter sigma [1], 0 or more. Exact for weak shocks without absorption: 2 J1(sigma)/sigma below 1 (Fubini),
    near 2 / (1 + sigma) above 3 (sawtooth). Source: Blackstock 1966, JASA 39, 1019-1026, eq. 8.
    """
    sigma = floats(shock_parameter)[..., None]
    safe = np.maximum(sigma, 1.0)
    low, high = np.zeros_like(safe), np.full_like(safe, np.pi)
    for _ in range(60):  # bisection of phi = sigma sin phi, whose root above 0 tends to pi
        middle = 0.5 * (low + high)
        inside = middle < safe * np.sin(middle)
        low, high = np.where(inside, middle, low), np.where(inside, high, middle)
    shock = np.where(sigma > 1.0, low, 0.0)
    phi = shock + (np.pi - shock) * 0.5 * (_NODE + 1.0)
    cosine = np.cos(phi - sigma * np.sin(phi))
    integral = np.sum(_WEIGHT * cosine, axis=-1) * 0.5 * (np.pi - shock[..., 0])
    s = sigma[..., 0]
    wave = 2.0 / (np.pi * np.where(s > 0.0, s, 1.0)) * integral
    return floats(np.where(s > 0.0, 2.0 / np.pi * np.sin(shock[..., 0]) + wave, 1.0))
