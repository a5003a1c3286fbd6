"""Replicas, spectral weightings, the matched filter and what it resolves.

Complex envelopes are relative to the centre of the band, time runs from -T/2 to T/2. The matched filter's transfer
function is G(f) = P(f) conj(P(f)) W(f) / E with E = sum of |P|^2 W: a channel flat over the band reads its own level.
"""

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from pingwright.acoustics.arrays import ComplexArray, FloatArray, decibels, floats

HALF_POWER = 10.0 * math.log10(0.5)  # dB, what "-3 dB" means here
WEIGHTINGS = ("none", "tukey", "hann", "hamming", "blackman", "taylor")
FILTERS = ("matched", "equalised")
#: An equalised filter divides by no less than this share of the replica's greatest power in the band. Assumed.
_LEAST_POWER = 1e-3


def taper(time: ArrayLike, length: float, fraction: float = 0.5) -> FloatArray:
    """Return the envelope of a pulse [1]: flat with cosine flanks (Tukey), 0 outside.

    time [s, from the middle], length [s], fraction of the length in both flanks together [1, 0 flat, 1 Hann].
    Valid 0..1. Source: Harris 1978, Proc. IEEE 66, 51-83, eq. 38.
    """
    edge = 0.5 * length - np.abs(floats(time))
    flank = 0.5 * fraction * length
    if flank <= 0.0:
        return floats(np.where(edge >= 0.0, 1.0, 0.0))
    rise = 0.5 - 0.5 * np.cos(np.pi * np.clip(edge / flank, 0.0, 1.0))
    return floats(rise)


def chirp(
    time: ArrayLike, length: float, bandwidth: float, fraction: float = 0.5, direction: str = "up"
) -> ComplexArray:
    """Return the complex envelope of a linear chirp, A(t) exp(+-i pi (B / T) t^2) [1].

    time [s, from the middle], length T [s], bandwidth B [Hz], fraction: see `taper`, direction "up" or "down".
    Valid for any B T. ValueError for another direction. Source: Cook & Bernfeld 1967, Radar Signals, chapter 6.
    """
    if direction not in ("up", "down"):
        message = f"direction is up or down, not {direction!r}"
        raise ValueError(message)
    rate = bandwidth / length if direction == "up" else -bandwidth / length
    t = floats(time)
    return np.asarray(taper(t, length, fraction) * np.exp(1j * np.pi * rate * t**2), dtype=np.complex128)


def tone(time: ArrayLike, length: float, fraction: float = 0.5, offset: float = 0.0) -> ComplexArray:
    """Return the complex envelope of a tone [1].

    time [s, from the middle], length [s], fraction: see `taper`, offset from the reference frequency [Hz].
    Valid for any length. Source: definition.
    """
    t = floats(time)
    return np.asarray(taper(t, length, fraction) * np.exp(2j * np.pi * offset * t), dtype=np.complex128)


def weighting(name: str, position: ArrayLike, parameter: float | None = None) -> FloatArray:
    """Return a weighting over the band [1], 1 in the middle, 0 outside the band.

    name: one of WEIGHTINGS; position [1]: (f - centre) / bandwidth, the band is -0.5..0.5; parameter: the tapered
    fraction of tukey (0.5), or the side lobe level of taylor below the main lobe (35 dB, nbar 5).
    Valid for the names given, else ValueError. Source: Harris 1978, Proc. IEEE 66, 51-83; Taylor 1955.
    """
    if name not in WEIGHTINGS:
        message = f"no weighting {name!r}; there are {', '.join(WEIGHTINGS)}"
        raise ValueError(message)
    x = floats(position)
    return floats(np.where(np.abs(x) <= 0.5, _SHAPES[name](x, parameter), 0.0))


def _none(x: FloatArray, _: float | None) -> FloatArray:
    return np.ones_like(x)


def _tukey(x: FloatArray, fraction: float | None) -> FloatArray:
    return taper(x, 1.0, 0.5 if fraction is None else fraction)


def _hann(x: FloatArray, _: float | None) -> FloatArray:
    return floats(0.5 + 0.5 * np.cos(2.0 * np.pi * x))


def _hamming(x: FloatArray, _: float | None) -> FloatArray:
    return floats(0.54 + 0.46 * np.cos(2.0 * np.pi * x))


def _blackman(x: FloatArray, _: float | None) -> FloatArray:
    return floats(0.42 + 0.5 * np.cos(2.0 * np.pi * x) + 0.08 * np.cos(4.0 * np.pi * x))


def _taylor(x: FloatArray, sidelobe: float | None) -> FloatArray:
    return taylor(x, 35.0 if sidelobe is None else sidelobe)


_SHAPES: dict[str, Callable[[FloatArray, float | None], FloatArray]] = {
    "none": _none,
    "tukey": _tukey,
    "hann": _hann,
    "hamming": _hamming,
    "blackman": _blackman,
    "taylor": _taylor,
}


def taylor(position: ArrayLike, sidelobe: float = 35.0, nearly_equal: int = 5) -> FloatArray:
    """Return the Taylor weighting [1], 1 in the middle.

    position [1, -0.5..0.5], sidelobe: level of the near side lobes below the main one [dB], nearly_equal: nbar [1].
    Valid 20..60 dB with nbar >= 2. Source: Taylor 1955, IRE Trans. AP-3, 16-28.
    """
    x, order = floats(position), np.arange(1, nearly_equal)
    a_square = (np.arccosh(10.0 ** (sidelobe / 20.0)) / np.pi) ** 2
    dilation = nearly_equal**2 / (a_square + (nearly_equal - 0.5) ** 2)
    coefficient = np.empty(len(order))
    for m in order:
        others = order[order != m]
        above = np.prod(1.0 - m**2 / (dilation * (a_square + (order - 0.5) ** 2)))
        coefficient[m - 1] = -((-1.0) ** m) * above / np.prod(1.0 - m**2 / others**2)
    # Taylor's F_m is half of `coefficient`, and the series is 1 + 2 sum F_m cos(2 pi m x).
    series = 1.0 + np.cos(2.0 * np.pi * x[..., None] * order) @ coefficient
    return floats(series / (1.0 + coefficient.sum()))


def matched_filter(replica_spectrum: ArrayLike, weight: ArrayLike) -> FloatArray:
    """Return G = P conj(P) W / E [1] on the frequencies of the replica's spectrum; its sum is 1.

    replica_spectrum P [any], weight W [1], equal shapes. Valid for equally spaced frequencies: the inverse transform
    sum(G exp(2 pi i f t)) of a flat channel is 1 at its peak. Source: North 1943; the scale is this program's.
    """
    power = np.abs(np.asarray(replica_spectrum)) ** 2 * floats(weight)
    return floats(power / power.sum())


def filter_gain(name: str, replica_spectrum: ArrayLike, weight: ArrayLike) -> FloatArray:
    """Return the real gain g [1 / unit of P^2 if equalised] of a receiver filter conj(P) g, n values.

    name: one of FILTERS. "matched": g = W, the matched filter with a weighting. "equalised": g = W / |P|^2, so that the
    pulse's own ripple and ramps leave the output and only the weighting shapes it; |P|^2 is taken as at least 0.001 of
    its greatest value in the band (assumed: it bounds the noise let in where little was sent).
    replica_spectrum P (n), weight W (n) [1]: over the whole band. Use g as `weight` in `matched_filter`,
    `noise_bandwidth` and `filter_loss`. Valid for chirps: a tone's spectrum has zeros. ValueError for another name.
    Source: North 1943 (matched); inverse filter, Cook & Bernfeld 1967, Radar Signals, chapter 7 (from memory).
    """
    if name not in FILTERS:
        message = f"unknown filter {name!r}; there are {', '.join(FILTERS)}"
        raise ValueError(message)
    w = floats(weight)
    if name == "matched":
        return w
    power = np.abs(np.asarray(replica_spectrum)) ** 2
    least = _LEAST_POWER * float(np.max(np.where(w > 0.0, power, 0.0), initial=0.0))
    return floats(w / np.maximum(power, least if least > 0.0 else 1.0))


def filter_loss(replica_spectrum: ArrayLike, gain: ArrayLike) -> float:
    """Return the loss of signal to noise ratio of a filter conj(P) g against the plain matched filter [dB], 0 or more.

    replica_spectrum P (n) [any], gain g (n): see `filter_gain`; equally spaced over the band. Valid for a point echo in
    white noise. Source: Schwarz's inequality, North 1943: |sum P^2 g|^2 <= sum P^2 sum P^2 g^2.
    """
    power, g = np.abs(np.asarray(replica_spectrum)) ** 2, floats(gain)
    return float(decibels(np.sum(power) * np.sum(power * g**2) / np.sum(power * g) ** 2))


def side_lobe_energy(transfer: ArrayLike, frequency_step: float, bandwidth: float, cells: float = 10.0) -> float:
    """Return the energy on one side of a point's filtered echo beyond some cells [dB re its whole energy].

    transfer G (n) [1], equally spaced by frequency_step [Hz], fine enough for a pulse's length (16 steps to 1 / T or
    more); a cell is 1 / bandwidth [Hz] of delay. The integrated range side lobe level: what a long strong echo leaks so
    far ahead of itself. Valid for chirps. Source: definition of the integrated side lobe ratio, one side of it.
    """
    g = floats(transfer)
    size = 1 << (8 * g.size).bit_length()
    power = np.abs(np.fft.fft(g, size)) ** 2
    delay = np.arange(size // 2) / (size * frequency_step)
    return float(decibels(np.sum(power[: size // 2][delay > cells / bandwidth]) / np.sum(power)))


def envelope(transfer: ArrayLike, frequency: ArrayLike, time: ArrayLike) -> FloatArray:
    """Return the autocorrelation envelope of a matched filter [1], |sum(G exp(2 pi i f t))|.

    transfer G (n) [1], frequency (n) [Hz], time (any shape) [s]. Valid for |time| below 1 / (2 df), else it repeats.
    Source: definition of the inverse Fourier transform.
    """
    phase = np.exp(2j * np.pi * floats(time)[..., None] * floats(frequency))
    return floats(np.abs(phase @ floats(transfer)))


def envelope_chirp(time: ArrayLike, length: float, bandwidth: float) -> FloatArray:
    """Return the autocorrelation envelope of an untapered chirp [1].

    time [s], length T [s], bandwidth B [Hz]. Exact: |sin(pi B t (1 - |t| / T)) / (pi B t)|, 0 for |t| > T.
    Source: Cook & Bernfeld 1967, Radar Signals, chapter 6.
    """
    t = floats(time)
    inside = np.clip(1.0 - np.abs(t) / length, 0.0, None)
    return floats(np.abs(inside * np.sinc(bandwidth * t * inside)))


def width(transfer: ArrayLike, frequency: ArrayLike, level: float = HALF_POWER) -> float:
    """Return the full width [s] of the autocorrelation envelope's main lobe at a level below its peak.

    transfer G (n) [1], frequency (n) [Hz], level [dB, below 0]. Valid where the main lobe falls through that level
    within 1 / (2 df). Source: root of `envelope`.
    """
    f, gain = floats(frequency), 10.0 ** (level / 20.0)

    def over(time: float) -> float:
        return float(envelope(transfer, f, time) - gain)

    step = 0.1 / float(f.max() - f.min())
    low, high = 0.0, step
    above, below = over(low), over(high)
    while below >= 0.0:
        low, high, above, below = high, high + step, below, over(high + step)
    # By hand: the library's root finders take longer to import than all else here takes to run.
    for _ in range(60):
        middle = low + (high - low) * above / (above - below)
        here = over(middle)
        if here >= 0.0:
            low, above, below = middle, here, 0.5 * below
        else:
            high, below, above = middle, here, 0.5 * above
        if abs(here) < 1e-13 or high - low < 1e-12 * high:
            break
    return float(2.0 * (low if abs(over(low)) < abs(over(high)) else high))


def effective_pulse_length(transfer: ArrayLike, frequency_step: float) -> float:
    """Return the length [s] of the rectangular pulse of equal peak and energy as the filter's output.

    transfer G (n) [1], frequency_step [Hz]. Valid for equally spaced frequencies; an untapered, unweighted chirp has
    1 / B. Source: integral of |envelope|^2 over its peak, by Parseval's theorem.
    """
    g = floats(transfer)
    return float(np.sum(g**2) / (np.sum(g) ** 2 * frequency_step))


def noise_bandwidth(replica_spectrum: ArrayLike, weight: ArrayLike, frequency_step: float) -> float:
    """Return the bandwidth [Hz] by which white noise passes the filter conj(P) W / E.

    replica_spectrum P [s]: continuous, that is the discrete one times the sampling interval; weight W [1]. Equals
    weighting loss / T for an untapered chirp of length T. Valid for equally spaced frequencies. Source: Parseval.
    """
    power = np.abs(np.asarray(replica_spectrum)) ** 2
    w = floats(weight)
    energy = np.sum(power * w) * frequency_step
    return float(np.sum(power * w**2) * frequency_step / energy**2)


def weighting_loss(weight: ArrayLike) -> float:
    """Return the loss of signal to noise ratio by a weighting on a flat spectrum [dB], at least 0.

    weight (n) [1] over the band, equally spaced. Valid for white noise. Source: Harris 1978, processing loss.
    """
    w = floats(weight)
    return float(decibels(w.size * np.sum(w**2) / np.sum(w) ** 2))


def compression_gain(length: ArrayLike, bandwidth: ArrayLike) -> FloatArray:
    """Return the gain of a chirp over a pulse of equal peak power as short as the compressed one [dB], 10 log BT.

    length [s], bandwidth [Hz]. Valid for B T above 1. Source: Cook & Bernfeld 1967.
    """
    return decibels(floats(length) * floats(bandwidth))


def range_resolution_chirp(sound_speed: ArrayLike, bandwidth: ArrayLike) -> FloatArray:
    """Return the range resolution [m] of a compressed chirp, c / 2B: the -3.92 dB width without weighting.

    sound_speed [m/s], bandwidth [Hz]. Valid unweighted; a weighting widens it (`width`). Source: Cook & Bernfeld 1967.
    """
    return floats(floats(sound_speed) / (2.0 * floats(bandwidth)))


def range_resolution_tone(sound_speed: ArrayLike, length: ArrayLike) -> FloatArray:
    """Return the range resolution [m] of a tone, c tau / 2.

    sound_speed [m/s], length tau [s]. Valid for a rectangular pulse. Source: Simmonds & MacLennan 2005, section 3.2.
    """
    return floats(floats(sound_speed) * floats(length) / 2.0)
