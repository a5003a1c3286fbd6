"""Pulses: simulated matched filters against printed ones, and scipy's windows."""

import numpy as np
import pytest
from pingwright.acoustics import pulse

OVER = 16  # samples per 1 / B


def compressed(product, weight="none", fraction=0.0, true_filter=False):
    """Envelope of the compressed chirp of B = 1, sampled OVER times finer than 1 / B, peak first, peak 1."""
    count = int(2 ** np.ceil(np.log2(4 * product * OVER)))
    time = (np.arange(count) - count // 2) / OVER
    spectrum = np.fft.fft(pulse.chirp(time, float(product), 1.0, fraction))
    frequency = np.fft.fftfreq(count, 1 / OVER)
    shape = np.ones(count) if true_filter else pulse.weighting(weight, frequency)
    transfer = pulse.matched_filter(spectrum, shape)
    return transfer, frequency


def width_and_sidelobe(transfer, frequency, level=-3.0):
    width = pulse.width(transfer[np.argsort(frequency)], np.sort(frequency), level)
    count = len(transfer) * 8
    padded = np.zeros(count)
    half = len(transfer) // 2
    padded[:half], padded[-half:] = transfer[:half], transfer[-half:]
    envelope = np.abs(np.fft.ifft(padded) * count)
    falling = np.argmax(np.diff(envelope) > 0)
    return width, 20 * np.log10(envelope[falling : count // 2].max())


@pytest.mark.parametrize(
    ("weight", "product", "width", "sidelobe"),
    [
        ("hamming", 40, 1.315, -29.3), ("hamming", 240, 1.309, -40.9), ("hamming", 1000, 1.306, -42.1),
        ("hann", 40, 1.425, -29.0), ("hann", 240, 1.438, -31.6), ("hann", 1000, 1.440, -31.5),
    ],
)  # fmt: skip
def test_square_chirp_with_weighting_in_band(weight, product, width, sidelobe):
    """Computed: own simulation on the reference sheet, 0.01 and 0.5 dB."""
    got = width_and_sidelobe(*compressed(product, weight))
    assert got[0] == pytest.approx(width, abs=0.01)
    assert got[1] == pytest.approx(sidelobe, abs=0.5)


@pytest.mark.parametrize(
    ("fraction", "width", "sidelobe"), [(0.1, 0.9447, -13.30), (0.5, 1.2615, -14.77), (1.0, 1.8529, -46.7)]
)
def test_tapered_envelope_with_its_true_matched_filter(fraction, width, sidelobe):
    """Computed: own simulation on the reference sheet, B T = 240, 0.003 and 0.1 dB."""
    got = width_and_sidelobe(*compressed(240, fraction=fraction, true_filter=True), level=pulse.HALF_POWER)
    assert got[0] == pytest.approx(width, abs=3e-3)
    assert got[1] == pytest.approx(sidelobe, abs=0.1)


def test_simulated_envelope_equals_the_closed_form():
    transfer, frequency = compressed(40, true_filter=True)
    time = np.linspace(-3.0, 3.0, 121)
    closed = pulse.envelope_chirp(time, 40.0, 1.0)
    assert pulse.envelope(transfer, frequency, time) == pytest.approx(closed, abs=2e-3)  # aliasing of the square edges


def test_down_is_up_turned_round():
    time = np.linspace(-0.5, 0.5, 101)
    up, down = pulse.chirp(time, 1.0, 50.0), pulse.chirp(time, 1.0, 50.0, direction="down")
    assert down == pytest.approx(np.conj(up))
    with pytest.raises(ValueError, match="up or down"):
        pulse.chirp(time, 1.0, 50.0, direction="sideways")


def test_up_rises_in_frequency():
    time = np.linspace(-0.5, 0.5, 100_001)
    phase = np.unwrap(np.angle(pulse.chirp(time, 1.0, 50.0, 0.0)))
    frequency = np.gradient(phase, time) / (2 * np.pi)
    assert frequency[1] == pytest.approx(-25.0, abs=0.01)
    assert frequency[-2] == pytest.approx(25.0, abs=0.01)


@pytest.mark.parametrize("count", [33, 257])
def test_weightings_equal_scipys_windows(count):
    from scipy.signal import windows

    x = np.linspace(-0.5, 0.5, count)
    assert pulse.weighting("hann", x) == pytest.approx(windows.hann(count), abs=1e-12)
    assert pulse.weighting("hamming", x) == pytest.approx(windows.hamming(count), abs=1e-12)
    assert pulse.weighting("blackman", x) == pytest.approx(windows.blackman(count), abs=1e-12)
    assert pulse.weighting("tukey", x) == pytest.approx(windows.tukey(count, 0.5), abs=1e-12)
    assert pulse.weighting("tukey", x, 0.1) == pytest.approx(windows.tukey(count, 0.1), abs=1e-12)
    middles = (np.arange(count) + 0.5) / count - 0.5  # scipy samples Taylor's at the middles
    assert pulse.weighting("taylor", middles) == pytest.approx(windows.taylor(count, 5, 35), abs=1e-12)
    assert pulse.taylor(middles, 40.0, 6) == pytest.approx(windows.taylor(count, 6, 40), abs=1e-12)
    assert pulse.weighting("taylor", middles, 30.0) == pytest.approx(windows.taylor(count, 5, 30), abs=1e-12)


def test_unknown_weighting_is_refused():
    with pytest.raises(ValueError, match="there are none, tukey"):
        pulse.weighting("square", [0.0])


@pytest.mark.parametrize("name", pulse.WEIGHTINGS)
def test_weighting_is_one_in_the_middle_and_nought_outside(name):
    value = pulse.weighting(name, [-0.500001, 0.0, 0.500001])
    assert value == pytest.approx([0.0, 1.0, 0.0])


def test_matched_filter_output_of_a_flat_channel_is_one():
    transfer, frequency = compressed(40, "hann", 0.1)
    assert transfer.sum() == pytest.approx(1.0)
    assert float(pulse.envelope(transfer, frequency, 0.0)) == pytest.approx(1.0)


def test_noise_behind_the_filter_is_weighting_loss_over_length():
    product, rate = 240.0, 16.0
    count = 16_384
    time = (np.arange(count) - count // 2) / rate
    spectrum = np.fft.fft(pulse.chirp(time, product, 1.0, 0.0)) / rate
    frequency = np.fft.fftfreq(count, 1 / rate)
    band = pulse.noise_bandwidth(spectrum, pulse.weighting("hann", frequency), rate / count)
    assert 10 * np.log10(band * product) == pytest.approx(1.761, abs=0.05)  # Fresnel ripple of the spectrum


def test_effective_length_is_the_integral_of_the_squared_envelope():
    transfer, frequency = compressed(40, "hann")
    step = frequency[1] - frequency[0]
    time = np.arange(len(transfer)) / OVER  # one whole period
    integral = np.sum(pulse.envelope(transfer, frequency, time) ** 2) / OVER
    assert pulse.effective_pulse_length(transfer, step) == pytest.approx(integral, rel=1e-9)


def test_two_equal_echoes_1_over_b_apart_dip_by_0_91_db():
    """Exact 8 / pi^2 for incoherent powers of the unweighted envelope, reference sheet e."""
    position = (np.arange(4096) + 0.5) / 4096 - 0.5
    transfer = np.full(4096, 1 / 4096)
    half = float(pulse.envelope(transfer, position, 0.5)) ** 2
    assert 2 * half == pytest.approx(8 / np.pi**2, abs=1e-4)


def test_unknown_filter_is_refused():
    with pytest.raises(ValueError, match="unknown filter 'boxcar'; there are matched, equalised"):
        pulse.filter_gain("boxcar", [1.0, 2.0], [1.0, 1.0])
