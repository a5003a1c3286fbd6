"""Target strength of fish and squid by published regressions, bladder resonance, tilt, and what schools absorb.

Lengths in m (converted inside), frequencies in Hz, strengths in dB re 1 m2 (10 log of the backscattering
cross-section). Tilt is the angle of the long axis from the horizontal, negative for head down.
"""

import math
from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from pingwright.acoustics import shapes
from pingwright.acoustics.arrays import FloatArray, decibels, floats, formula

AXIS_RATIO = 5.0  # long to short axis of the bladder as a prolate spheroid; assumed, after typical fish bladders


@formula(length_over_wavelength=(1.0, 130.0))
def strength_love_1971(length: ArrayLike, frequency: ArrayLike) -> FloatArray:
    """Return the maximum dorsal target strength [dB], 19.1 log L(cm) - 0.9 log f(kHz) - 62.0.

    length [m], frequency [Hz]. Valid for 1 <= length / wavelength <= 130; at a length of one wavelength it is at the
    end of its data. Source: Love 1971, JASA 49, 816-823 (constants from memory).
    """
    return floats(19.1 * np.log10(100.0 * floats(length)) - 0.9 * np.log10(floats(frequency) / 1e3) - 62.0)


def length_love_1971(strength: ArrayLike, frequency: ArrayLike) -> FloatArray:
    """Return the length [m] of the fish of that maximum dorsal target strength.

    strength [dB], frequency [Hz]. Valid and source: inverse of `strength_love_1971`.
    """
    return floats(10.0 ** ((floats(strength) + 0.9 * np.log10(floats(frequency) / 1e3) + 62.0) / 19.1) / 100.0)


@formula(length_over_wavelength=(1.0, 100.0))
def strength_love_1977(length: ArrayLike, wavelength: ArrayLike) -> FloatArray:
    """Return the maximum dorsal target strength [dB], 19.4 log L + 0.6 log lambda - 24.9.

    length [m], wavelength [m]. Valid for 1 <= length / wavelength <= 100.
    Source: Love 1977, JASA 62, 1397-1403 (constants from memory).
    """
    return floats(19.4 * np.log10(floats(length)) + 0.6 * np.log10(floats(wavelength)) - 24.9)


@formula(length_over_wavelength=(1.0, 100.0))
def strength_mccartney_stubbs(length: ArrayLike, wavelength: ArrayLike) -> FloatArray:
    """Return the maximum dorsal target strength [dB], 24.5 log L - 4.5 log lambda - 26.4.

    length [m], wavelength [m]. Valid as `strength_love_1977`, 3 to 6 dB above it.
    Source: McCartney & Stubbs 1971, J. Sound Vib. 15, 397-420 (constants from memory).
    """
    return floats(24.5 * np.log10(floats(length)) - 4.5 * np.log10(floats(wavelength)) - 26.4)


def _twenty_log(length: ArrayLike, intercept: float) -> FloatArray:
    return floats(20.0 * np.log10(100.0 * floats(length)) + intercept)


@formula()
def strength_foote_physoclist(length: ArrayLike) -> FloatArray:
    """Return the mean target strength over natural tilt of fish with a closed bladder [dB], 20 log L(cm) - 67.4.

    length [m]. Valid at 38 kHz. Source: Foote 1987, JASA 82, 981-987.
    """
    return _twenty_log(length, -67.4)


@formula()
def strength_foote_clupeoid(length: ArrayLike) -> FloatArray:
    """Return the mean target strength over natural tilt of fish with an open bladder [dB], 20 log L(cm) - 71.9.

    length [m]. Valid at 38 kHz. Source: Foote 1987, JASA 82, 981-987.
    """
    return _twenty_log(length, -71.9)


@formula()
def strength_mackerel(length: ArrayLike) -> FloatArray:
    """Return the mean target strength of a fish without bladder [dB], 20 log L(cm) - 84.9.

    length [m]. Valid at 38 kHz for Atlantic mackerel; other work finds -90.3 at 38 kHz and 6.4 dB more at 200 kHz.
    Source: Edwards et al. 1984 (from memory).
    """
    return _twenty_log(length, -84.9)


@formula(frequency=(18e3, 200e3))
def strength_mackerel_in_situ(length: ArrayLike, frequency: ArrayLike) -> FloatArray:
    """Return the mean target strength of Atlantic mackerel in the sea [dB], measured at 33.3 cm, 20 log L elsewhere.

    length [m], frequency [Hz]: -51.22, -59.83, -55.51, -53.43 dB at 18, 38, 120, 200 kHz, linear over log f between
    them, constant beyond them. Valid 18..200 kHz near 33 cm. Source: 'Effects of target strength variability on
    estimates of abundance: the case of Atlantic mackerel', abstract.
    """
    at = np.interp(np.log(floats(frequency)), np.log([18e3, 38e3, 120e3, 200e3]), [-51.22, -59.83, -55.51, -53.43])
    return floats(at + 20.0 * np.log10(floats(length) / 0.333))


@formula(mantle_length=(0.18, 0.24))
def strength_todarodes(mantle_length: ArrayLike) -> FloatArray:
    """Return the target strength of the squid Todarodes pacificus [dB], 40.9 log ML(cm) - 94.2.

    mantle_length [m]. Valid 0.18..0.24 m at 38 kHz. Source: Kawabata 1999.
    """
    return floats(40.9 * np.log10(100.0 * floats(mantle_length)) - 94.2)


@formula(frequency=(38e3, 200e3))
def strength_dosidicus(mantle_length: ArrayLike, frequency: ArrayLike) -> FloatArray:
    """Return the target strength of the squid Dosidicus gigas [dB], 20 log ML(cm) + b.

    mantle_length [m], frequency [Hz]: b = -62.0, -67.4, -67.9, -67.6 at 38, 70, 120, 200 kHz, linear over log f between
    them, constant beyond. Valid 38..200 kHz; that the published unit is cm is assumed (metres would give -68 dB at 0.5
    m). Source: Benoit-Bird et al. 2008, JASA 123, 1318-1328.
    """
    intercept = np.interp(np.log(floats(frequency)), np.log([38e3, 70e3, 120e3, 200e3]), [-62.0, -67.4, -67.9, -67.6])
    return floats(20.0 * np.log10(100.0 * floats(mantle_length)) + intercept)


def minnaert_frequency(
    radius: ArrayLike, depth: ArrayLike = 0.0, density: ArrayLike = 1026.0, heat_ratio: ArrayLike = 1.4
) -> FloatArray:
    """Return the resonance frequency of a gas bubble [Hz], sqrt(3 gamma P / rho) / (2 pi a).

    radius [m], depth [m], density of the water [kg/m3], heat_ratio gamma [1]; P = 101325 Pa + rho g z with g = 9.81.
    Valid for k a well below 1, no surface tension. Source: Minnaert 1933, Phil. Mag. 16, 235-248.
    """
    rho = floats(density)
    pressure = 101_325.0 + rho * 9.81 * floats(depth)
    return floats(np.sqrt(3.0 * floats(heat_ratio) * pressure / rho) / (2.0 * np.pi * floats(radius)))


def resonance_love_1978(radius: ArrayLike, depth: ArrayLike, tissue_density: float = 1050.0) -> FloatArray:
    """Return the resonance frequency of a swimbladder [Hz]; tension of the tissue dropped.

    radius of the sphere of equal volume [m], depth [m], tissue_density [kg/m3]. Valid for k r below 1.
    Source: Love 1978, JASA 64, 571-580 (from memory); water pressing with 1026 kg/m3 and 9.81 m/s2.
    """
    pressure = 101_325.0 + 1026.0 * 9.81 * floats(depth)
    return floats(np.sqrt(3.0 * 1.4 * pressure / tissue_density) / (2.0 * np.pi * floats(radius)))


def wavenumber_radius(radius: ArrayLike, frequency: ArrayLike, sound_speed: ArrayLike = 1500.0) -> FloatArray:
    """Return k r [1], to compare with the limit of a model.

    radius [m], frequency [Hz], sound_speed [m/s]. Valid always. Source: definition.
    """
    return floats(2.0 * np.pi * floats(frequency) * floats(radius) / floats(sound_speed))


def love_1978_holds(radius: float, frequency: float, sound_speed: float = 1500.0) -> bool:
    """Return whether k r < 1, so that `strength_love_1978` is valid.

    radius of the bladder [m], highest frequency of the band [Hz], sound_speed [m/s]. Valid always. Source: above
    k r = 1 the law falls as 1 / (k r)^2 while an exact soft sphere stays at (r/2)^2: 12.6 dB out at 200 kHz, 10 mm.
    """
    return bool(wavenumber_radius(radius, frequency, sound_speed) < 1.0)


def strength_love_1978(
    radius: ArrayLike, frequency: ArrayLike, depth: ArrayLike, viscosity: float = 50.0, sound_speed: float = 1500.0
) -> FloatArray:
    """Return the target strength of a swimbladder near its resonance [dB].

    radius of the sphere of equal volume [m], frequency [Hz], depth [m], viscosity of tissue [Pa s, 10..50], sound_speed
    [m/s]. Valid only while `love_1978_holds`. As printed the viscous term is half of the classical bubble's.
    Source: Love 1978, JASA 64, 571-580 (from memory).
    """
    r, f = floats(radius), floats(frequency)
    resonance = resonance_love_1978(r, depth)
    damping = 2.0 * np.pi * r * f**2 / (resonance * sound_speed)
    damping = damping + viscosity / (np.pi * r**2 * resonance * 1050.0)
    ratio = (resonance / f) ** 2
    return decibels(r**2 / (ratio * damping**2 + (ratio - 1.0) ** 2))


def prolate_correction_weston(axis_ratio: ArrayLike) -> FloatArray:
    """Return the resonance of a prolate spheroid over that of the sphere of equal volume [1].

    axis_ratio minor over major [1], in (0, 1). Exact (capacitance of the spheroid).
    Source: Weston 1967, in Underwater Acoustics, vol. 2, 55-88.
    """
    e = floats(axis_ratio)
    s = np.sqrt(1.0 - e**2)
    return floats(np.sqrt(2.0) * e ** (-1.0 / 3.0) * np.sqrt(s) / np.sqrt(np.log((1.0 + s) / (1.0 - s))))


@formula(depth=(0.0, 300.0))
def depth_term_herring(depth: ArrayLike) -> FloatArray:
    """Return the change of an open bladder's target strength with depth [dB], -2.3 log10(1 + z / 10).

    depth [m]. Valid to about 300 m for herring. Source: measured on herring (Ona 2003, ICES JMS 60, 493-499), from
    memory: the area falls as the -0.23 power of pressure, less than Boyle's law says.
    """
    return floats(-2.3 * np.log10(1.0 + floats(depth) / 10.0))


def depth_term_boyle(depth: ArrayLike) -> FloatArray:
    """Return the change of an open bladder's target strength with depth by Boyle's law [dB], -20/3 log10(1 + z / 10).

    depth [m]. Valid for a freely compressed bladder that keeps its shape: area as the -2/3 power of pressure.
    Source: Boyle's law.
    """
    return floats(-20.0 / 3.0 * np.log10(1.0 + floats(depth) / 10.0))


def spheroid_cross_section(cosine: ArrayLike, long_axis: ArrayLike, short_axis: ArrayLike) -> FloatArray:
    """Return the backscattering cross-section of a large soft or rigid prolate spheroid [m2].

    cosine of the angle chi between incidence and long axis [1], long_axis A, short_axis b: semi-axes [m].
    A^2 b^4 / (4 (A^2 cos^2 chi + b^2 sin^2 chi)^2), a quarter of the product of the radii of curvature. Valid for k b
    well above 1. Source: geometric acoustics, Urick 1983, table 9.1.
    """
    c2 = floats(cosine) ** 2
    a2, b2 = floats(long_axis) ** 2, floats(short_axis) ** 2
    return floats(a2 * b2**2 / (4.0 * (a2 * c2 + b2 * (1.0 - c2)) ** 2))


def tilt_factor(cosine: ArrayLike, axis_ratio: float = AXIS_RATIO) -> FloatArray:
    """Return the cross-section of a tilted bladder over that at broadside [1], 1 / (1 + (ratio^2 - 1) cos^2 chi)^2.

    cosine of the angle between incidence and long axis [1], axis_ratio long over short [1]. This is
    `spheroid_cross_section` over its value at broadside, and as valid; the ratio 5 is assumed. Source: geometric
    prolate spheroid.
    """
    return floats(1.0 / (1.0 + (axis_ratio**2 - 1.0) * floats(cosine) ** 2) ** 2)


def tilt_average(mean: float, sd: float, axis_ratio: float = AXIS_RATIO) -> float:
    """Return the mean of `tilt_factor` over tilts N(mean, sd) seen from straight above [1].

    mean, sd [deg], axis_ratio [1]. Valid for sd >= 0 (error of the quadrature below 1e-6 to 40 deg).
    Source: trapezoid rule over 8 standard deviations either way.
    """
    z = np.linspace(-8.0, 8.0, 2001)
    density = np.exp(-0.5 * z**2)
    factor = tilt_factor(np.sin(np.radians(mean + sd * z)), axis_ratio)
    return float(np.sum(density * factor) / np.sum(density))


def school_extinction(strength: ArrayLike, density: ArrayLike) -> FloatArray:
    """Return the one-way loss of intensity in a school [1/m], n sigma_e with sigma_e = 2 x 4 pi <sigma_bs>.

    strength: mean target strength of a fish [dB], density n [1/m3]. Valid to a factor 2: the ratio 2 of extinction to
    spherical scattering cross-section is an estimate.
    Source: after Foote 1990; MacLennan, Armstrong & Simmonds 1990 (from memory).
    """
    return floats(floats(density) * 8.0 * math.pi * 10.0 ** (floats(strength) / 10.0))


def _shape(name: str) -> Callable[[FloatArray, FloatArray, float], FloatArray]:
    return lambda length, f, c: shapes.mean_strength(name, length, f, c)


#: Name of a published model -> strength [dB re 1 m2] of length [m], frequency [Hz], sound speed [m/s], all alike in
#: shape. "foote-1987" has two entries, one for each kind of bladder; Love 1978 is not here: it needs depth and bladder.
MODELS: Mapping[str, Callable[[FloatArray, FloatArray, float], FloatArray]] = MappingProxyType(
    {
        "love-1971": lambda length, f, c: strength_love_1971(length, f),
        "love-1977": lambda length, f, c: strength_love_1977(length, c / f),
        "foote-1987": lambda length, f, c: strength_foote_physoclist(length) + 0.0 * f,
        "foote-1987 open": lambda length, f, c: strength_foote_clupeoid(length) + 0.0 * f,
        "edwards-1984": lambda length, f, c: strength_mackerel(length) + 0.0 * f,
        "mackerel-in-situ": lambda length, f, c: strength_mackerel_in_situ(length, f),
        "kawabata-1999": lambda length, f, c: strength_todarodes(length) + 0.0 * f,
        "benoit-bird-2008": lambda length, f, c: strength_dosidicus(length, f),
        **{f"shape-{name}": _shape(name) for name in shapes.SHAPES},
    }
)

#: Models that give the maximum, at broadside; all others give the mean over natural tilt.
PEAK_MODELS = ("love-1971", "love-1977")
