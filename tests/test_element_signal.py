"""Pulses, noise shares, saturation and word length of elements."""

import numpy as np
import pytest
from pingwright.element import receiver
from pingwright.element.build import build
from pingwright.inputs.elements import Pulse
from scipy.special import sici
from test_element_flat import RHO, C, spec

DISC = {"shape": "disc", "diameter": 0.061}


def pulse(**changes):
    values = {"kind": "chirp", "length": 2e-3, "taper": 0.1, "tone": None, "direction": "up"}
    return Pulse.model_construct(**(values | changes))


def element(**changes):
    return build(spec(DISC, **changes), RHO, C)


def test_replica_spectrum_is_the_fourier_integral():
    # against a plain sum over a finely sampled real-time pulse
    e = element(pulse=pulse(length=0.4e-3))
    t = (np.arange(400_000) + 0.5) * 0.4e-3 / 400_000
    edge = np.minimum(t, 0.4e-3 - t)
    shape = 0.5 - 0.5 * np.cos(np.pi * np.clip(edge / 0.02e-3, 0, 1))
    middle = t - 0.2e-3
    s = shape * np.exp(2j * np.pi * 170e3 * (t) + 1j * np.pi * 80e3 / 0.4e-3 * middle**2)
    f = np.array([100e3, 131e3, 170e3, 205e3, 260e3])
    direct = np.array([np.sum(s * np.exp(-2j * np.pi * g * t)) for g in f]) * 0.4e-3 / 400_000
    assert np.abs(e.replica_spectrum(f) - direct).max() < 1e-5 * np.abs(direct).max()


def test_energy_of_the_spectrum_is_that_of_the_pulse():
    # Parseval: a Tukey envelope of taper r holds T (1 - 5 r / 8), Harris 1978
    f = np.linspace(20e3, 320e3, 20_001)
    energy = np.trapezoid(np.abs(element().replica_spectrum(f)) ** 2, f)
    assert energy == pytest.approx(2e-3 * (1 - 0.1 * 5 / 8), rel=1e-3)


def test_up_and_down_sweeps_mirror_each_other():
    f = np.linspace(130e3, 210e3, 500)
    up, down = (np.abs(element(pulse=pulse(direction=d)).replica_spectrum(f)) for d in ("up", "down"))
    assert down == pytest.approx(up[::-1], rel=1e-9)


def test_even_and_uneven_frequencies_agree():
    f = np.linspace(130e3, 210e3, 1000)
    even, parts = element().replica_spectrum(f), [element().replica_spectrum(f[i : i + 50]) for i in range(0, 1000, 50)]
    assert even == pytest.approx(np.concatenate(parts), abs=1e-9 * np.abs(even).max())


def test_tone_is_a_sinc_and_its_band_four_lobes_wide():
    e = element(pulse=pulse(kind="tone", tone=180e3, length=0.5e-3, taper=0.0), weighting="none")
    assert e.band == pytest.approx((172e3, 188e3))
    f = np.array([180e3, 181e3, 182e3, 183e3])
    expected = 0.5e-3 * np.abs(np.sinc((f - 180e3) * 0.5e-3))
    assert np.abs(e.replica_spectrum(f)) == pytest.approx(expected, abs=1e-7)
    assert e.range_resolution == pytest.approx(C * 0.5e-3 / 2)
    # the filtered tone is a triangle of base 2 T: energy over peak power 2/3 T; the band's edge takes off the peak
    # the share of sinc^2 beyond four zeros, (2 / pi) (Si(8 pi)) kept: exact, Abramowitz & Stegun 5.2
    kept = 2 / np.pi * sici(8 * np.pi)[0]
    assert e.effective_pulse == pytest.approx(0.5e-3 * 2 / 3 / kept**2, rel=1e-3)


def test_effective_pulse_of_an_unweighted_chirp_is_one_over_the_bandwidth():
    # sinc^2 has area 1 / B (Cook & Bernfeld 1967); a Hann spectrum makes it <W^2> / <W>^2 = 1.5 times that.
    # The chirp's Fresnel ripple adds about 0.4 / sqrt(B T): 3.4 % at 160, so it is asked for at 800.
    long = pulse(taper=0.0, length=10e-3)
    assert element(pulse=long, weighting="none").effective_pulse == pytest.approx(1 / 80e3, rel=0.02)
    assert element(pulse=long).effective_pulse == pytest.approx(1.5 / 80e3, rel=0.005)


def test_weighting_is_zero_outside_the_band():
    e = element()
    w = e.weighting(np.array([129e3, 130e3, 170e3, 190e3, 210e3, 211e3]))
    assert w == pytest.approx([0, 0, 1, 0.5, 0, 0], abs=1e-12)


def test_chirp_and_tone_of_one_energy_hear_the_same_noise():
    # behind a matched filter noise depends on the pulse's energy: the same level within the weighting's loss
    chirp = element(pulse=pulse(taper=0.0), weighting="none")
    tone = element(pulse=pulse(kind="tone", tone=170e3, taper=0.0), weighting="none")
    levels = [e.noise_level(0.0, False, 54.0) for e in (chirp, tone)]
    # 54 dB at 50 kHz, -20 dB a decade, less the directivity (itself +20 dB a decade), divided by T
    # and by the share of its energy that the band keeps of a tone, (2 / pi) Si(8 pi)
    kept = 2 / np.pi * sici(8 * np.pi)[0]
    expected = 54 - 20 * np.log10(3.4) - tone.directivity(np.array([170e3]))[0] - 10 * np.log10(2e-3 * kept)
    assert levels[1] == pytest.approx(expected, abs=0.02)
    # the mean of f^-4 over the chirp's band over its value in the middle
    low, high = 130 / 170, 210 / 170
    rise = 10 * np.log10((low**-3 - high**-3) / 3 / (high - low))
    assert levels[0] == pytest.approx(levels[1] + rise, abs=0.2)


@pytest.mark.parametrize(
    ("length", "band", "taper", "matched"),
    [(2e-3, (130e3, 210e3), 0.1, -44.0), (2e-3, (130e3, 210e3), 0.3, -57.0),
     (2e-3, (42e3, 65e3), 0.1, -29.0), (2e-3, (42e3, 65e3), 0.3, -50.0)],
)  # fmt: skip
def test_side_lobe_level_and_what_equalising_does_to_it(length, band, taper, matched):
    """Independent code, not kept here: Hann weighting, time-bandwidth products 160 and 46; -72 dB when equalised."""
    plain = element(pulse=pulse(length=length, taper=taper), band=band)
    even = element(pulse=pulse(length=length, taper=taper), band=band, filter="equalised")
    assert plain.signal.filtered.side_lobe_level == pytest.approx(matched, abs=0.6)
    assert even.signal.filtered.side_lobe_level == pytest.approx(-72.0, abs=0.6)
    # the pulse sent and its width stay, and at most 0.1 dB of signal to noise is lost
    assert even.point_width == pytest.approx(plain.point_width, rel=0.03)
    assert even.signal.filtered.loss - plain.signal.filtered.loss < 0.1
    f = np.linspace(*band, 7)
    assert even.replica_spectrum(f) == pytest.approx(plain.replica_spectrum(f))


def test_what_a_filter_costs_is_what_noise_rises_by():
    # white noise behind the filter over that behind the plain matched filter (Schwarz: never less)
    for name, taper in (("matched", 0.5), ("equalised", 0.1), ("equalised", 1.0)):
        band = element(pulse=pulse(taper=taper), filter=name).signal.filtered
        power, gain = band.power, band.gain
        noise = np.sum(power * gain**2) / np.sum(power * gain) ** 2
        assert band.loss == pytest.approx(10 * np.log10(noise * np.sum(power)), abs=1e-9)
        assert band.loss >= 0.0


def test_an_equalised_output_has_the_spectrum_of_the_weighting_alone():
    band = element(pulse=pulse(taper=0.1), filter="equalised").signal.filtered
    hann = 0.5 + 0.5 * np.cos(2 * np.pi * (band.frequency - 170e3) / 80e3)
    assert band.transfer == pytest.approx(hann / hann.sum(), abs=1e-9)


def test_a_tone_is_always_received_by_its_matched_filter():
    tone = {"pulse": pulse(kind="tone", tone=170e3)}
    plain, even = element(**tone), element(filter="equalised", **tone)
    assert even.effective_pulse == plain.effective_pulse
    assert np.isnan(even.signal.filtered.side_lobe_level)


def test_noise_figure_raises_thermal_noise_only():
    quiet, loud = element(), element(noise_figure=10.0)
    f = np.array([900e3])
    assert 10 * np.log10(loud.noise_psd(f, 0.0, True, None) / quiet.noise_psd(f, 0.0, True, None)) == pytest.approx(
        [10.0], abs=0.05
    )
    assert loud.noise_psd(f, 0.0, False, 35.0) == pytest.approx(quiet.noise_psd(f, 0.0, False, 35.0))


def test_saturation_holds_the_magnitude_and_keeps_the_phase():
    echo = np.array([10.0, 1000.0j, -2000.0 + 2000.0j], dtype=np.complex64)
    held = receiver.saturate(echo, 40.0)
    assert np.abs(held) == pytest.approx([10.0, 100.0, 100.0], rel=1e-6)
    assert np.angle(held) == pytest.approx(np.angle(echo), abs=1e-6)
    assert held.dtype == np.complex64
    assert receiver.saturate(echo, None) is echo


def test_word_length_leaves_the_noise_of_its_step():
    # uniform rounding error: step^2 / 12 a part (Bennett 1948, Bell Syst. Tech. J. 27, 446-472)
    rng = np.random.default_rng(1)
    echo = rng.normal(size=20_000) * 20 + 1j * rng.normal(size=20_000) * 20
    rounded = receiver.quantise(echo, 8, 40.0)
    step = 2 * 100 / 2**8
    inside = (np.abs(echo.real) < 99) & (np.abs(echo.imag) < 99)
    error = (rounded - echo)[inside]
    assert np.mean(np.abs(error) ** 2) == pytest.approx(2 * step**2 / 12, rel=0.03)
    assert rounded.real.max() <= 100.0
    assert receiver.quantise(echo, None, 40.0) is echo


def test_receiver_options_of_the_element_are_off_by_default():
    echo = np.array([1e9, 5e9j], dtype=np.complex64)
    assert element().received(echo) is echo
    assert np.abs(element(saturation=180.0).received(echo)) == pytest.approx([1e9, 1e9], rel=1e-6)
    words = element(saturation=180.0, word_length=4).received(echo)
    assert words.imag[1] == pytest.approx(1e9 - 2e9 / 16)


def test_cavitation_numbers_stand_beside_their_rule():
    # Urick 1983 ch. 4: 0.3 (1 + z/10)^2 W/cm2 (from memory); p_peak = ambient gives 0.334 at the surface, 1.325 at 10 m
    e = element()
    at = e.cavitation(10.0)
    assert at.rule == pytest.approx(1.2)
    assert at.ambient_peak == pytest.approx(1.325, rel=5e-3)
    assert at.intensity == pytest.approx(500 / (np.pi * 3.05**2), rel=1e-9)
    assert at.peak_over_ambient == pytest.approx(np.sqrt(at.intensity / at.ambient_peak), rel=1e-9)


def test_cavitation_limit_is_off_by_default_and_lowers_the_source_level():
    free, held = element(), element(cavitation_limit=True)
    area = np.pi * 3.05**2  # cm2
    assert free.source_level(170e3) - held.source_level(170e3) == pytest.approx(
        10 * np.log10(500 / (0.3 * area)), abs=1e-6
    )


def test_unresolved_pulse_is_our_own_mistake():
    with pytest.raises(ValueError, match="pulse length"):
        element(pulse=pulse(length=None))
