"""Echo statistics, false alarms and probabilities of detection, for one look unless said otherwise.

Signal to noise ratios are powers in dB. Amplitudes have the same reference as their mean square.
"""

import numpy as np
from numpy.typing import ArrayLike

from pingwright.acoustics.arrays import FloatArray, decibels, floats, formula, power_ratio


def threshold(false_alarm: ArrayLike) -> FloatArray:
    """Return the threshold over the mean noise power [dB] of a false alarm probability per cell, -ln Pfa.

    false_alarm [1], in (0, 1). Exact for complex Gaussian noise. Source: exponential law of its power.
    """
    return decibels(-np.log(floats(false_alarm)))


@formula()
def detection_fixed(snr: ArrayLike, false_alarm: ArrayLike) -> FloatArray:
    """Return the probability of detecting a steady echo in Gaussian noise [1], Marcum's Q1.

    snr [dB], false_alarm [1]. Exact. Source: Marcum 1960, IRE Trans. IT-6, 59-267.
    """
    from scipy.stats import ncx2

    return floats(ncx2.sf(-2.0 * np.log(floats(false_alarm)), 2.0, 2.0 * power_ratio(snr)))


@formula()
def detection_swerling_1(snr: ArrayLike, false_alarm: ArrayLike) -> FloatArray:
    """Return the probability of detecting an echo of Rayleigh amplitude [1], Pfa^(1 / (1 + SNR)).

    snr: mean [dB], false_alarm [1]. Exact. Source: Swerling 1960, IRE Trans. IT-6, 269-308.
    """
    return floats(floats(false_alarm) ** (1.0 / (1.0 + power_ratio(snr))))


@formula()
def needed_snr_swerling_1(detection: ArrayLike, false_alarm: ArrayLike) -> FloatArray:
    """Return the mean signal to noise ratio [dB] that detects an echo of Rayleigh amplitude so often.

    detection, false_alarm: probabilities [1], detection above false alarm. Exact.
    Source: inverse of `detection_swerling_1`, ln Pfa / ln Pd - 1.
    """
    return decibels(np.log(floats(false_alarm)) / np.log(floats(detection)) - 1.0)


@formula(detection=(0.1, 0.9), false_alarm=(1e-7, 1e-3), looks=(1.0, 8096.0))
def needed_snr_albersheim(detection: ArrayLike, false_alarm: ArrayLike, looks: ArrayLike = 1) -> FloatArray:
    """Return the signal to noise ratio [dB] that detects a steady echo so often, linear detector, looks averaged.

    detection, false_alarm: probabilities [1], looks [1]. Valid within 0.2 dB for false alarms 1e-7..1e-3, detection
    0.1..0.9, up to 8096 looks, as quoted; measured for one look against Marcum: 0.08 dB for detection 0.5..0.9, 0.3 dB
    at 0.3, but 0.8 to 4 dB low at 0.1. Source: Albersheim 1981, Proc. IEEE 69, 839 (from memory).
    """
    n, p = floats(looks), floats(detection)
    a, b = np.log(0.62 / floats(false_alarm)), np.log(p / (1.0 - p))
    return floats(-5.0 * np.log10(n) + (6.2 + 4.54 / np.sqrt(n + 0.44)) * np.log10(a + 0.12 * a * b + 1.7 * b))


def exceedance_rayleigh(amplitude: ArrayLike) -> FloatArray:
    """Return the probability that a Rayleigh amplitude lies above [1], exp(-A^2).

    amplitude [1, re its root mean square]. Exact. Source: Rayleigh 1880.
    """
    return floats(np.exp(-(floats(amplitude) ** 2)))


def exceedance_rice(amplitude: ArrayLike, coherent_ratio: ArrayLike) -> FloatArray:
    """Return the probability that a Rice amplitude lies above [1].

    amplitude [1, re its root mean square], coherent_ratio: steady over random power [1]. Exact.
    Source: Rice 1944; for fish Clay & Heist 1984, JASA 75, 1077-1083.
    """
    from scipy.stats import ncx2

    g = floats(coherent_ratio)
    return floats(ncx2.sf(2.0 * (1.0 + g) * floats(amplitude) ** 2, 2.0, 2.0 * g))


def mean_amplitude_rice(coherent_ratio: ArrayLike) -> FloatArray:
    """Return the mean of a Rice amplitude over its root mean square [1]; sqrt(pi) / 2 for Rayleigh (ratio 0).

    coherent_ratio: steady over random power [1]. Exact. Source: Rice 1944, Laguerre function L_1/2(-g).
    """
    from scipy.special import i0e, i1e

    g = floats(coherent_ratio)
    laguerre = (1.0 + g) * i0e(g / 2.0) + g * i1e(g / 2.0)
    return floats(0.5 * np.sqrt(np.pi / (1.0 + g)) * laguerre)
