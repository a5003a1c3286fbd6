"""Sediments, and the sound that the seabed reflects and scatters back.

Angles enter as the cosine of incidence, 1 at vertical, which is the sine of the grazing angle. Reflection coefficients
are complex amplitudes for exp(-i omega t). Backscattering coefficients are per unit area and solid angle [1].
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pingwright.acoustics.arrays import ComplexArray, FloatArray, decibels, floats, formula, power_ratio
from pingwright.acoustics.roughness import kirchhoff, perturbation
from pingwright.acoustics.smallslope import ElasticGround, fluid_ground, small_slope

#: Laws of a rough bottom's echo. The first is the default: it holds what practice says of rock and gravel at an echo
#: sounder's frequencies, by floors that are assumed; the second, published for elastic ground, does not above 100 kHz.
LAWS = ("kirchhoff", "small-slope")
_HANDBOOK_SPEED = 1528.0  # m/s, the water of TR 9407's loss column
_CUT_DEG = 15.0  # no perturbation within this of vertical, where it diverges
_COSINE_AT_CUT = float(np.cos(np.radians(_CUT_DEG)))
_BLEND = 80.0  # steepness of the handbook's blend over the sine of incidence (from memory)
_RAMP_DEG = 5.0  # over which it is let in
_KIRCHHOFF_FALL_DB = 15.0  # below vertical: where the two laws meet


@dataclass(frozen=True)
class Sediment:
    """One sediment, relative to the water above it.

    density_ratio r, speed_ratio nu, loss (imaginary over real wavenumber) [1]; attenuation [dB/m/kHz];
    roughness_w2 [cm4] and roughness_exponent gamma2 of the spectrum w2 K^-gamma2; volume_parameter sigma2 = sigma_v /
    alpha_b [1]; lambert_floor_db [dB] or None, the backscatter at vertical of roughness larger than a wavelength;
    slope_rms_deg [deg] of the patches of a natural bottom. elastic: the ground of the small-slope law, None for a fluid
    of the same numbers.
    """

    density_ratio: float
    speed_ratio: float
    loss: float
    attenuation: float
    roughness_w2: float
    roughness_exponent: float = 3.25
    volume_parameter: float = 0.002
    lambert_floor_db: float | None = None
    elastic: ElasticGround | None = None
    slope_rms_deg: float = 3.0


@formula(grain_size=(-1.0, 9.0))
def density_ratio_from_grain_size(grain_size: ArrayLike) -> FloatArray:
    """Return the density of a sediment over that of water [1].

    grain_size Mz [phi]. Valid -1..9. Source: APL-UW TR 9407 (1994), section IV.
    """
    m = floats(grain_size)
    fine = -0.0165406 * m**3 + 0.2290201 * m**2 - 1.1069031 * m + 3.0455
    coarse = 0.007797 * m**2 - 0.17057 * m + 2.3139
    return floats(np.select([m < 1.0, m < 5.3], [coarse, fine], -0.0012973 * m + 1.1565))


@formula(grain_size=(-1.0, 9.0))
def speed_ratio_from_grain_size(grain_size: ArrayLike) -> FloatArray:
    """Return the sound speed in a sediment over that in water [1].

    grain_size Mz [phi]. Valid -1..9. Source: APL-UW TR 9407 (1994), section IV.
    """
    m = floats(grain_size)
    fine = -0.0014881 * m**3 + 0.0213937 * m**2 - 0.1382798 * m + 1.3425
    coarse = 0.002709 * m**2 - 0.056452 * m + 1.2778
    return floats(np.select([m < 1.0, m < 5.3], [coarse, fine], -0.0024324 * m + 1.0019))


@formula(grain_size=(-1.0, 9.0))
def attenuation_from_grain_size(grain_size: ArrayLike) -> FloatArray:
    """Return the attenuation in a sediment [dB/m/kHz].

    grain_size Mz [phi]. Valid -1..9. Source: Hamilton's fits as in APL-UW TR 9407 (1994), section IV.
    """
    m = floats(grain_size)
    cases = [m < 0.0, m < 2.6, m < 4.5, m < 6.0, m < 9.5]
    fits = [
        np.full_like(m, 0.4556),
        0.4556 + 0.0245 * m,
        0.1978 + 0.1245 * m,
        8.0399 - 2.5228 * m + 0.20098 * m**2,
        0.9431 - 0.2041 * m + 0.0117 * m**2,
    ]
    return floats(np.select(cases, fits, 0.0601))


def loss_from_attenuation(attenuation: ArrayLike, speed_ratio: ArrayLike) -> FloatArray:
    """Return the loss parameter [1], attenuation nu c ln10 / (40 pi f) with c = 1528 m/s.

    attenuation [dB/m/kHz], speed_ratio nu [1]. Valid where attenuation is proportional to frequency.
    Source: APL-UW TR 9407 (1994); reproduces its loss column (from memory) to five digits.
    """
    return floats(floats(attenuation) / 1e3 * floats(speed_ratio) * _HANDBOOK_SPEED * np.log(10.0) / (40.0 * np.pi))


def attenuation_from_loss(loss: ArrayLike, speed_ratio: ArrayLike) -> FloatArray:
    """Return the attenuation [dB/m/kHz] of a loss parameter, for rock and cobble which have no grain size fit.

    loss [1], speed_ratio nu [1]. Valid and source: inverse of `loss_from_attenuation`.
    """
    return floats(floats(loss) / loss_from_attenuation(1.0, speed_ratio))


@formula(grain_size=(-1.0, 9.0))
def roughness_w2_from_grain_size(grain_size: ArrayLike) -> FloatArray:
    """Return the spectral strength of a sediment's relief [cm4], 0.00207 h^2 with the rms relief h in cm.

    grain_size Mz [phi]. Valid -1..9. Source: APL-UW TR 9407 (1994), section IV (from memory).
    """
    m = floats(grain_size)
    relief = np.where(m < 5.0, (2.03846 - 0.26923 * m) / (1.0 + 0.076923 * m), 0.5)
    return floats(0.00207 * relief**2)


def sediment_from_grain_size(grain_size: float) -> Sediment:
    """Return the sediment of a mean grain size.

    grain_size Mz [phi]. Valid -1..9, else ValueError; fitted for 10 to 100 kHz, extrapolated above.
    Source: APL-UW TR 9407 (1994), section IV; volume parameter 0.002 below 5.5 phi, 0.001 above (from memory).
    """
    if not -1.0 <= grain_size <= 9.0:
        message = f"grain size {grain_size} phi is outside -1..9"
        raise ValueError(message)
    speed, attenuation = speed_ratio_from_grain_size(grain_size), attenuation_from_grain_size(grain_size)
    return Sediment(
        density_ratio=float(density_ratio_from_grain_size(grain_size)),
        speed_ratio=float(speed),
        loss=float(loss_from_attenuation(attenuation, speed)),
        attenuation=float(attenuation),
        roughness_w2=float(roughness_w2_from_grain_size(grain_size)),
        volume_parameter=0.002 if grain_size < 5.5 else 0.001,
    )


def vertical_wavenumber(cosine: ArrayLike, speed_ratio: ArrayLike, loss: ArrayLike = 0.0) -> ComplexArray:
    """Return the vertical wavenumber in the sediment over the water's wavenumber, P = sqrt(kappa^2 - sin^2) [1].

    cosine of incidence [1], speed_ratio nu, loss [1]; kappa = (1 + i loss) / nu. Valid for a fluid sediment.
    Source: Jackson, Winebrenner & Ishimaru 1986, JASA 79, 1410-1422.
    """
    kappa = (1.0 + 1j * floats(loss)) / floats(speed_ratio)
    return np.asarray(np.sqrt(kappa**2 - (1.0 - floats(cosine) ** 2)), dtype=np.complex128)


def reflection(
    cosine: ArrayLike, density_ratio: ArrayLike, speed_ratio: ArrayLike, loss: ArrayLike = 0.0
) -> ComplexArray:
    """Return the plane wave reflection coefficient of a fluid sediment [1, complex amplitude].

    cosine of incidence [1], density_ratio r, speed_ratio nu, loss [1]. Valid for a smooth halfspace.
    Source: Rayleigh's law with loss, (y - 1) / (y + 1), y = r cos / P; Jackson & Richardson 2007, chapter 8.
    """
    below = vertical_wavenumber(cosine, speed_ratio, loss)
    above = floats(density_ratio) * floats(cosine)
    return np.asarray((above - below) / (above + below), dtype=np.complex128)


def reflection_vertical(density_ratio: ArrayLike, speed_ratio: ArrayLike) -> FloatArray:
    """Return the reflection coefficient at vertical incidence without loss [1], (r nu - 1) / (r nu + 1).

    density_ratio r, speed_ratio nu [1]. Valid for a smooth lossless halfspace. Source: Rayleigh.
    """
    impedance = floats(density_ratio) * floats(speed_ratio)
    return floats((impedance - 1.0) / (impedance + 1.0))


def bottom_loss(reflection_coefficient: ArrayLike) -> FloatArray:
    """Return the reflection loss [dB], -20 log |R|.

    reflection_coefficient [1, complex or real]. Valid for R not 0. Source: ISO 18405, definition.
    """
    return floats(-20.0 * np.log10(np.abs(np.asarray(reflection_coefficient))))


def reflection_layered(upper: ArrayLike, lower: ArrayLike, phase: ArrayLike) -> ComplexArray:
    """Return the reflection coefficient of one layer on a halfspace [1, complex].

    upper R12, lower R23 [1], phase 2 k2 D [rad, complex with loss]. Valid for a smooth fluid layer, a steady wave.
    Source: Brekhovskikh & Lysanov 2003, Fundamentals of Ocean Acoustics, section 3.
    """
    first, turn = np.asarray(upper), np.asarray(lower) * np.exp(1j * np.asarray(phase))
    return np.asarray((first + turn) / (1.0 + first * turn), dtype=np.complex128)


def impedance_reflection(above: Sediment | None, below: Sediment) -> float:
    """Return the lossless vertical reflection coefficient between two sediments, or water (None) and one [1].

    Valid for smooth fluids at vertical incidence. Source: Rayleigh, with impedance ratios r nu.
    """
    first = 1.0 if above is None else above.density_ratio * above.speed_ratio
    return float(reflection_vertical(below.density_ratio / first, below.speed_ratio))


def buried_amplitude(
    upper: ArrayLike, lower: ArrayLike, attenuation: ArrayLike, frequency: ArrayLike, thickness: ArrayLike
) -> FloatArray:
    """Return the amplitude of the echo from under a layer [1], R23 (1 - R12^2) times the loss both ways.

    upper R12, lower R23 [1], attenuation [dB/m/kHz], frequency [Hz], thickness [m]. Valid at vertical incidence where
    the two echoes are resolved. Source: plane waves at two boundaries.
    """
    gain = power_ratio(-two_way_attenuation(attenuation, frequency) * floats(thickness) / 2.0)
    return floats(floats(lower) * (1.0 - floats(upper) ** 2) * gain)


def two_way_attenuation(attenuation: ArrayLike, frequency: ArrayLike) -> FloatArray:
    """Return the level lost per metre of depth in a sediment, down and up [dB/m], 2 Kp f.

    attenuation Kp [dB/m/kHz], frequency [Hz]. Valid at vertical incidence. Source: Hamilton 1972, Geophysics 37, 620.
    """
    return floats(2.0 * floats(attenuation) * floats(frequency) / 1e3)


def lambert(cosine: ArrayLike, level: ArrayLike = -27.0) -> FloatArray:
    """Return Lambert's backscattering coefficient [1], mu cos^2(incidence).

    cosine of incidence [1], level 10 log mu [dB]. Valid away from vertical for fine scales of roughness; conserved
    energy bounds mu by 1 / pi. Source: Mackenzie 1961, JASA 33, 1498-1504 (-27 dB).
    """
    return floats(power_ratio(level) * floats(cosine) ** 2)


def volume_backscatter(cosine: ArrayLike, sediment: Sediment) -> FloatArray:
    """Return the backscattering coefficient of what lies in the sediment, as if at its surface [1], like cosine.

    cosine of incidence [1]. Valid for attenuation far stronger than the beam's spreading below the surface; does not
    depend on frequency. ValueError for a volume parameter without loss.
    Source: 5 d sigma2 |1 - R^2|^2 cos^2 / (nu ln10 |P|^2 Im P), APL-UW TR 9407 (from memory, derived again: at
    vertical 5 sigma2 (1 - R^2)^2 nu^2 / ln10).
    """
    mu = floats(cosine)
    if sediment.volume_parameter == 0.0:
        return np.zeros_like(mu)
    if sediment.loss <= 0.0:
        message = "volume scattering is given relative to attenuation: the loss must be above 0"
        raise ValueError(message)
    below = vertical_wavenumber(mu, sediment.speed_ratio, sediment.loss)
    through = np.abs(1.0 - reflection(mu, sediment.density_ratio, sediment.speed_ratio, sediment.loss) ** 2) ** 2
    numerator = 5.0 * sediment.loss * sediment.volume_parameter * through * mu**2
    return floats(numerator / (sediment.speed_ratio * np.log(10.0) * np.abs(below) ** 2 * below.imag))


def perturbation_factor(
    cosine: ArrayLike, density_ratio: ArrayLike, speed_ratio: ArrayLike, loss: ArrayLike = 0.0
) -> ComplexArray:
    """Return Y of small roughness perturbation [1, complex], the reflection coefficient at vertical.

    cosine of incidence [1], density_ratio r, speed_ratio nu, loss [1]. Valid for a fluid sediment.
    Source: [(r - 1)^2 sin^2 + r^2 - kappa^2] / [r cos + P]^2, Jackson, Winebrenner & Ishimaru 1986.
    """
    mu, r = floats(cosine), floats(density_ratio)
    kappa = (1.0 + 1j * floats(loss)) / floats(speed_ratio)
    upper = (r - 1.0) ** 2 * (1.0 - mu**2) + r**2 - kappa**2
    return np.asarray(upper / (r * mu + vertical_wavenumber(mu, speed_ratio, loss)) ** 2, dtype=np.complex128)


def _sine_where_kirchhoff_has_fallen(k: FloatArray, relief: tuple[float, float]) -> FloatArray:
    """Return the sine of incidence [1] at which Kirchhoff is 15 dB down, (m); infinite where it never is."""
    sines = np.linspace(0.0, 1.0, 201)
    fall = decibels(kirchhoff(np.sqrt(1.0 - sines[:, None] ** 2), k, *relief))
    fall = fall - fall[0] + _KIRCHHOFF_FALL_DB
    after = np.argmax(fall < 0.0, axis=0)  # 0 where none is
    column = np.arange(len(after))
    above, below = fall[after - 1, column], fall[after, column]
    between = sines[after - 1] + (sines[after] - sines[after - 1]) * above / (above - below)
    return floats(np.where(after > 0, between, np.inf))


def _perturbation_share(mu: FloatArray, k: FloatArray, relief: tuple[float, float]) -> FloatArray:
    """Return how much of the surface law is perturbation [1], (n, m) from cosine (n, 1) and wavenumber (m)."""
    meet = _sine_where_kirchhoff_has_fallen(k, relief)
    sine = np.sqrt(1.0 - mu**2)
    blend = 1.0 / (1.0 + np.exp(np.clip(-_BLEND * (sine - meet), -700.0, 700.0)))
    ramp = np.clip((np.degrees(np.arcsin(sine)) - _CUT_DEG) / _RAMP_DEG, 0.0, 1.0)
    return floats(blend * ramp**2 * (3.0 - 2.0 * ramp))


def surface_backscatter(
    sediment: Sediment, cosine: ArrayLike, frequency: ArrayLike, sound_speed: float = 1500.0, law: str = "kirchhoff"
) -> FloatArray:
    """Return the backscattering coefficient of the sediment's rough surface [1], (n, m); 0 for cosine <= 0.

    cosine of incidence (n) [1], frequency (m) [Hz], sound_speed of the water above [m/s]. law: one of LAWS, else
    ValueError. Valid 10 to 100 kHz (the fits), extrapolated above; over rock and gravel the two laws lie 15 dB apart
    at 170 kHz, and no measurement decides. "kirchhoff": see `_composite`, whose floors are assumed.
    "small-slope": `smallslope.small_slope`, without a floor. Source: as there.
    """
    if law not in LAWS:
        message = f"unknown law {law!r} of the seabed; there are {', '.join(LAWS)}"
        raise ValueError(message)
    if law == "kirchhoff":
        return _composite(sediment, cosine, frequency, sound_speed)
    mu = np.atleast_1d(floats(cosine))
    ground = sediment.elastic or fluid_ground(
        sediment.density_ratio, sediment.speed_ratio, sediment.loss, sediment.roughness_exponent, sediment.roughness_w2
    )
    rough = small_slope(ground, np.maximum(mu, 0.0), frequency, sound_speed)
    return floats(np.where(mu[:, None] > 0.0, rough, 0.0))


def _composite(sediment: Sediment, cosine: ArrayLike, frequency: ArrayLike, sound_speed: float = 1500.0) -> FloatArray:
    """Return the backscattering coefficient of the sediment's rough surface by the composite law [1], (n, m).

    cosine of incidence (n) [1], frequency (m) [Hz], sound_speed of the water above [m/s]. Kirchhoff near vertical;
    small roughness perturbation takes over where Kirchhoff is 15 dB down, but is let in only from 15 (wholly from 20)
    degrees off vertical, since it diverges at vertical; plus the Lambert floor, if any. Valid 10 to 100 kHz (the
    fits), extrapolated above. 0 for cosine <= 0.
    Source: Jackson, Winebrenner & Ishimaru 1986, JASA 79, 1410-1422; APL-UW TR 9407 (1994); the ramp is ours.
    """
    mu = np.maximum(np.atleast_1d(floats(cosine)), 0.0)[:, None]
    k = 2.0 * np.pi * np.atleast_1d(floats(frequency)) / sound_speed
    r, nu, loss = sediment.density_ratio, sediment.speed_ratio, sediment.loss
    relief = (sediment.roughness_w2, sediment.roughness_exponent)
    total = np.abs(reflection(1.0, r, nu, loss)) ** 2 * kirchhoff(mu, k, *relief)
    share = _perturbation_share(mu, k, relief)
    far = np.minimum(mu, _COSINE_AT_CUT)  # what lies nearer to vertical has no share, and would be infinite
    rough = np.abs(perturbation_factor(far, r, nu, loss)) ** 2 * perturbation(far, k, *relief)
    total = (1.0 - share) * total + share * rough
    if sediment.lambert_floor_db is not None:
        total = total + lambert(mu, sediment.lambert_floor_db)
    return floats(np.where(mu > 0.0, total, 0.0))


def backscatter(
    sediment: Sediment, cosine: ArrayLike, frequency: ArrayLike, sound_speed: float = 1500.0, law: str = "kirchhoff"
) -> FloatArray:
    """Return the whole backscattering coefficient of a sediment [1], (n, m): surface plus volume.

    cosine of incidence (n) [1], frequency (m) [Hz], sound_speed of the water above [m/s], law: see LAWS. Valid, source
    as `surface_backscatter` and `volume_backscatter`.
    """
    volume = volume_backscatter(np.maximum(np.atleast_1d(floats(cosine)), 0.0), sediment)
    return floats(surface_backscatter(sediment, cosine, frequency, sound_speed, law) + volume[:, None])
