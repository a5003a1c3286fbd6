"""Pulses: weightings, matched filter, resolution, side lobes."""

import math

import numpy as np

from pingwright.acoustics import pulse, signal
from pingwright.validation.row import Row


# fmt: off
def _sine_integral(x: float) -> float:
    from scipy.special import sici

    return float(sici(x)[0])


_POSITION = (np.arange(4096) + 0.5) / 4096 - 0.5


def _weight(name: str, parameter: float | None = None) -> np.ndarray:
    weight = pulse.weighting(name, _POSITION, parameter)
    return np.asarray(weight / weight.sum())


HARRIS = "computed: scipy.signal.windows; Harris 1978 and Richards agree where they print it"
# width times bandwidth at half power, at -4 dB and at -6 dB; processing loss in dB
_WIDTHS: dict[tuple[str, float | None], tuple[float, float, float, float]] = {
    ("none", None): (0.8859, 1.0089, 1.2050, 0.0),
    ("tukey", 0.1): (0.932, 1.061, 1.268, 0.165),
    ("tukey", 0.25): (1.007, 1.147, 1.371, 0.422),
    ("tukey", 0.5): (1.150, 1.311, 1.570, 0.872),
    ("hann", None): (1.4405, 1.6507, 1.9968, 1.761),
    ("hamming", None): (1.3029, 1.4946, 1.8123, 1.344),
    ("blackman", None): (1.6436, 1.8878, 2.2950, 2.372),
    ("taylor", 35.0): (1.187, 1.360, 1.645, 0.925),
}


def _taylor(sidelobe: float, nbar: int) -> np.ndarray:
    weight = pulse.taylor(_POSITION, sidelobe, nbar)
    return np.asarray(weight / weight.sum())


ROWS = [
    Row(
        signal.tone_band, (200e3, 2e-4), (180e3, 220e3), "exact: the fourth zeros of a tone's spectrum, f +- 4 / T",
        rel=1e-12,
    ),
    *(
        Row(pulse.width, (_weight(name, parameter), _POSITION, level), value, f"{HARRIS}; {name}", abs=2e-3)
        for (name, parameter), values in _WIDTHS.items()
        for level, value in zip((pulse.HALF_POWER, -4.0, -6.0), values, strict=False)
    ),
    *(
        Row(pulse.weighting_loss, (_weight(name, parameter),), values[3], f"{HARRIS}; {name}", abs=2e-3)
        for (name, parameter), values in _WIDTHS.items()
    ),
    *(
        Row(pulse.width, (_taylor(sidelobe, nbar), _POSITION, level), value, HARRIS + "; taylor", abs=2e-3)
        for sidelobe, nbar, values in ((30.0, 4, (1.125, 1.287, 1.554)), (40.0, 6, (1.248, 1.431, 1.732)))
        for level, value in zip((pulse.HALF_POWER, -4.0, -6.0), values, strict=True)
    ),
    Row(pulse.weighting_loss, (_taylor(30.0, 4),), 0.688, HARRIS + "; taylor", abs=2e-3),
    Row(
        pulse.weighting_loss, (7.0 * _weight("hann") * _POSITION.size,), 1.761, HARRIS + "; hann, of any height",
        abs=2e-3,
    ),
    Row(
        pulse.taylor, ([0.0, 0.5, -0.5, 0.25], 40.0, 1), (1.0, 1.0, 1.0, 1.0),
        "limit: nbar 1 leaves nothing to shape; scipy.signal.windows.taylor in test_acoustics_pulse", abs=1e-12,
    ),
    Row(
        pulse.weighting, ("hamming", [-0.51, -0.5, 0.0, 0.25]), (0.0, 0.08, 1.0, 0.54), "exact: 0.54 + 0.46 cos",
        abs=1e-12,
    ),
    Row(
        pulse.weighting, ("blackman", [-0.5, 0.0, 0.25, 0.6]), (0.0, 1.0, 0.34, 0.0),
        "exact: 0.42 + 0.5 cos + 0.08 cos", abs=1e-12,
    ),
    Row(pulse.weighting, ("hann", [-0.5, -0.25, 0.0]), (0.0, 0.5, 1.0), "exact: raised cosine", abs=1e-12),
    Row(
        pulse.weighting, ("tukey", [-0.5, -0.375, -0.25, 0.25]), (0.0, 0.5, 1.0, 1.0), "exact: half of it flat",
        abs=1e-12,
    ),
    Row(
        pulse.taper, ([-0.51, -0.5, -0.475, -0.45, 0.0, 0.475], 1.0, 0.1), (0.0, 0.0, 0.5, 1.0, 1.0, 0.5),
        "exact: Harris 1978, eq. 38", abs=1e-12,
    ),
    Row(pulse.taper, ([-0.5, 0.0, 0.51], 1.0, 0.0), (1.0, 1.0, 0.0), "limit: no taper", abs=1e-12),
    Row(
        pulse.chirp, ([0.25], 1.0, 40.0, 0.0), (2.5 * math.pi) % (2 * math.pi), "exact: phase pi (B / T) t^2", abs=1e-9,
        read=np.angle,
    ),
    Row(
        pulse.chirp, ([0.25], 1.0, 40.0, 0.0, "down"), -math.pi / 2, "exact: phase -pi (B / T) t^2", abs=1e-9,
        read=np.angle,
    ),
    Row(pulse.tone, ([0.25], 1.0, 0.0, 1.0), math.pi / 2, "exact: phase 2 pi f t", abs=1e-12, read=np.angle),
    Row(pulse.filter_gain, ("matched", [1.0, 2.0j, 4.0], [1.0, 0.5, 1.0]), (1.0, 0.5, 1.0), "exact: the weighting"),
    Row(
        pulse.filter_gain, ("equalised", [1.0, 2.0j, 4.0], [1.0, 0.5, 1.0]), (1.0, 0.125, 0.0625),
        "exact: the weighting over |P|^2", abs=1e-12,
    ),
    Row(
        pulse.filter_gain, ("equalised", [1e-3, 1.0], [1.0, 1.0]), (1e3, 1.0),
        "law: |P|^2 is taken as 0.001 of its greatest at least, assumed", rel=1e-12,
    ),
    Row(pulse.filter_loss, (np.ones(8192), np.hanning(8192)), 1.761, "published: Hann, 1.76 dB, Harris 1978", abs=1e-3),
    Row(pulse.filter_loss, ([1.0, 2.0, 3.0], [1.0, 1.0, 1.0]), 0.0, "exact: a matched filter loses nothing", abs=1e-9),
    Row(
        pulse.side_lobe_energy, (np.ones(1601), 50.0, 80e3),
        10 * math.log10(0.5 - _sine_integral(20 * math.pi) / math.pi),
        "exact: a flat band's sinc^2 beyond its tenth zero holds 1/2 - Si(20 pi) / pi", abs=0.02,
    ),
    Row(
        pulse.side_lobe_energy, (np.hanning(1601), 50.0, 80e3), -71.67,
        "computed: independent code, a Hann spectrum alone", abs=0.1,
    ),
    Row(
        pulse.matched_filter, ([1.0, 2.0j, -1.0], [1.0, 1.0, 2.0]), (1 / 7, 4 / 7, 2 / 7),
        "exact: |P|^2 W over its sum", abs=1e-12,
    ),
    Row(
        pulse.envelope, ([0.25, 0.5, 0.25], [-1.0, 0.0, 1.0], [0.0, 0.25, 0.5]), (1.0, 0.5, 0.0),
        "exact: raised cosine of three lines", abs=1e-12,
    ),
    Row(
        pulse.envelope_chirp, (np.array([0.5 * 0.8824, 0.5 * 1.2138]) / 40.0, 1.0, 40.0), (math.sqrt(0.5), 0.5),
        "exact formula, BT = 40: widths 0.8824 and 1.2138 at -3.01 and -6.02 dB", abs=1e-3,
    ),
    Row(
        pulse.envelope_chirp, (np.array([0.5 * 0.8688, 0.5 * 1.2342]) / 10.0, 1.0, 10.0), (math.sqrt(0.5), 0.5),
        "exact formula, BT = 10", abs=1e-3,
    ),
    Row(
        pulse.envelope_chirp, ([0.0, 1.0, 1.5], 1.0, 10.0), (1.0, 0.0, 0.0), "limit: peak, and nothing after T",
        abs=1e-12,
    ),
    Row(pulse.effective_pulse_length, (_weight("none"), 1 / 4096), 1.0, "exact: 1 / B for a flat band", rel=1e-9),
    Row(
        pulse.effective_pulse_length, (_weight("hann"), 1 / 4096), 1.5, "exact: 1.5 / B, Hann's noise bandwidth",
        rel=1e-6,
    ),
    Row(
        pulse.noise_bandwidth, (np.full(4096, 0.5), _weight("hann") * 4096, 1 / 4096), 1.5 / 0.25,
        "exact: 1.5 B / energy of a flat spectrum of 0.5, that is loss / T", rel=1e-6,
    ),
    Row(
        pulse.compression_gain, (1.0, [10.0, 40.0, 240.0, 1000.0]), (10.0, 16.02, 23.80, 30.0), "exact: 10 log BT",
        abs=5e-3,
    ),
    Row(
        pulse.range_resolution_chirp, (1500.0, [5e3, 10e3, 20e3, 40e3, 60e3, 100e3]),
        (0.15, 0.075, 0.0375, 0.01875, 0.0125, 0.0075), "exact: c / 2B", abs=1e-9,
    ),
    Row(
        pulse.range_resolution_tone, (1500.0, [1e-4, 3e-4, 5e-4, 1e-3]), (0.075, 0.225, 0.375, 0.75),
        "exact: c tau / 2", abs=1e-9,
    ),
]
