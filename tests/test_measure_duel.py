"""A chirp against a plain ping: resolution, signal to noise and mean levels by other ways."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import synthetic_record
from pingwright.acoustics import bottomecho
from pingwright.acoustics.signal import Signal
from pingwright.echograms.record import BY_DEPTH
from pingwright.element import reach
from pingwright.inputs import catalogue, elements, pulses
from pingwright.measure import duel, held
from pingwright.measure.closed import detection_range, median_fish


@pytest.fixture(scope="module")
def recorded():
    return synthetic_record.record(pings=4, step=0.05)


@pytest.fixture(scope="module")
def one(recorded):
    return duel.duel(recorded.elements[0], 57.0, 0.3, -35.0, "mud", 1.0, "kirchhoff")


def test_the_fish_reads_its_own_strength_with_either_pulse(one):
    at = int(np.argmin(np.abs(one.height - 0.3)))
    assert one.chirp.level[at - 2 : at + 3].max() == pytest.approx(-35.0, abs=0.1)
    assert one.plain.level[at - 2 : at + 3].max() == pytest.approx(-35.0, abs=0.1)


@pytest.mark.parametrize("height", [0.25, 0.3, 0.4123])
def test_an_echo_is_drawn_where_its_fish_is(recorded, height):
    """To half a step of the sum, 1.1 mm, and of the heights, 0.5 mm; as wide above as below."""
    made = duel.duel(recorded.elements[0], 57.0, height, -35.0, "mud", 1.0, "kirchhoff")
    high = made.height[np.flatnonzero((made.chirp.level > -36.0) & (made.height > 0.1))]
    assert high.mean() == pytest.approx(height, abs=1.7e-3)


def test_resolutions_are_the_published_ones(one):
    """A Hann-weighted chirp: 1.44 c / 2B (Harris 1978), 6 % more for a spectrum half of ramps; a plain pulse of flat
    amplitude behind its matched filter has a triangle, at -3 dB (2 - sqrt 2) c T / 2 wide: 0.586; ramps narrow it.
    """
    cell = 1500.0 / 2 / 80e3
    assert one.chirp.resolution == pytest.approx(1.44 * cell, rel=0.12)
    assert one.plain.resolution == pytest.approx(0.586 * 1500.0 * one.plain.length / 2, rel=0.05)


def test_the_gain_is_what_the_elements_themselves_have():
    """Noise behind the filters of a chirp and a tone of one face and power; white over the band to 0.3 dB here."""
    chirp = reach.in_circumstance(elements.from_catalogue("high-pencil"), 60.0)
    tone = {"tone": chirp.centre, "length": 2e-4}
    plain = reach.build(chirp.spec.model_copy(update={"pulse": chirp.spec.pulse.model_copy(update=tone)}),
                        reach.DENSITY, reach.SOUND_SPEED)  # fmt: skip
    noise = [element.noise_level(0.0, ambient=True, own=None) for element in (plain, chirp)]
    info = replace(synthetic_record.info(synthetic_record.KINDS[0], 0), pulse_length=chirp.pulse_length, extra={})
    recorded = SimpleNamespace(info=info, beam=synthetic_record.pattern(synthetic_record.KINDS[0]))
    made = duel.duel(recorded, 57.0, 0.3, -35.0, "mud", 1.0, "kirchhoff")
    assert made.gain == pytest.approx(noise[0] - noise[1], abs=0.3)
    assert made.chirp.reach > made.plain.reach


def test_without_fish_the_duel_is_about_the_usual_one(recorded):
    duels, height, length = duel.of_record(recorded, "gravel", "kirchhoff")
    assert [each.name for each in duels] == [element.info.name for element in recorded.elements]
    assert height == pytest.approx(np.min(recorded.truth.fish.height), abs=0.2)
    nobody = SimpleNamespace(
        elements=recorded.elements[:1], truth=synthetic_record.Truth(_none(recorded.truth.fish)), scenario=""
    )
    _, height, length = duel.of_record(nobody, "gravel", "kirchhoff")
    assert (length, height) == median_fish(recorded.elements[0].info, nobody.truth)[:2] == (0.4, 0.3)


def _none(fish):
    arrays = {name: value[..., :0] for name, value in vars(fish).items() if isinstance(value, np.ndarray)}
    return synthetic_record.FishTruth(**{**vars(fish), **arrays, "name": (), "path": None})


def near(ping, height, at, half=0.01):
    """The highest level [dB] of a ping within a centimetre of a height [m]."""
    return ping.level[np.abs(height - at) <= half].max()


def test_the_ground_below_its_edge_is_ring_after_ring(recorded, one):
    """0.2 m under the ground a ring of 2 pi r dr echoes, dr the filtered pulse's energy over its peak power."""
    element = recorded.elements[0]
    info = element.info
    ground = bottomecho.sediment_law("mud", catalogue.sediments()["mud"], 170e3, 1500.0)
    r = np.linspace(57.1, 57.24, 15)
    cosine = 57.0 / r
    ring = 2 * np.pi * r * ground(cosine) * held.two_way(element.beam, 170e3)(np.degrees(np.arccos(cosine)))
    pulse = Signal(130e3, 210e3, 2e-3, 0.5, "up", (130e3, 210e3), "hann").filtered.effective_pulse
    expected = 10 * np.log10(ring * 1500.0 / 2 * pulse)
    assert info.pulse_length == 2e-3
    assert np.interp(57.0 - r, one.height[::-1], one.chirp.level[::-1]) == pytest.approx(expected, abs=0.2)


def test_at_the_edge_of_the_ground_half_of_the_filtered_pulse_is_over_it(one):
    """So 3 dB less than all of it, to a step of the sum, 2.3 mm; 0.1 m above, only what the pulse spreads."""
    ground = bottomecho.sediment_law("mud", catalogue.sediments()["mud"], 170e3, 1500.0)
    pulse = Signal(130e3, 210e3, 2e-3, 0.5, "up", (130e3, 210e3), "hann").filtered.effective_pulse
    whole = 10 * np.log10(2 * np.pi * 57.0 * ground(np.ones(1))[0] * 1500.0 / 2 * pulse)
    over, under, above = (float(np.interp(-height, -one.height, one.chirp.level)) for height in (2.3e-3, -2.3e-3, 0.1))
    assert over < whole - 3.01 < under
    assert above < over - 25.0


def test_noise_at_the_bottoms_range_by_hand(recorded, one):
    """NL - SL + 40 log 57 + 2 alpha 57; the plain ping's is higher by the gain, for which the chirp is longer."""
    info = recorded.elements[0].info
    wanted = info.noise_level - info.source_level + 40 * np.log10(57.0) + 2 * info.absorption * 57.0
    assert one.chirp.noise == pytest.approx(wanted)
    assert one.plain.noise - one.chirp.noise == pytest.approx(one.gain)
    assert one.chirp.length == info.pulse_length
    # It fills the water above: with noise 60 dB higher nothing else is seen there.
    loud = changed(recorded, noise_level=info.noise_level + 60.0)
    made = duel.duel(loud, 57.0, 0.3, -35.0, "mud", 1.0, "kirchhoff")
    assert made.chirp.level[made.height > 0.6] == pytest.approx(wanted + 60.0, abs=0.1)
    assert made.plain.noise == pytest.approx(one.plain.noise + 60.0)
    # A world without noise has a picture all the same.
    silent = duel.duel(changed(recorded, noise_level=-np.inf), 57.0, 0.3, -35.0, "mud", 1.0, "kirchhoff")
    assert near(silent.chirp, silent.height, 0.3) == pytest.approx(-35.0, abs=0.1)
    assert silent.chirp.level.min() < one.chirp.level.min()
    assert np.isfinite(silent.chirp.level).all()


def changed(recorded, **about):
    return replace(recorded.elements[0], info=replace(recorded.elements[0].info, **about))


def test_ranges_are_those_of_the_sonar_equation_with_each_pings_noise(recorded):
    """As recorded, own noise louder, quieter; the pulse grows with depth, so a tone's and a chirp's differ."""
    usual = recorded.elements[0].info
    extra = {"noise_level_louder": 47.0, "noise_level_quieter": 25.0, "pulse_choice": BY_DEPTH}
    element = changed(recorded, extra=extra)
    made = duel.duel(element, 57.0, 0.3, -35.0, "mud", 1.0, "kirchhoff")
    noises = [usual.noise_level, 47.0, 25.0]
    wanted = [detection_range(element.info, noise, -35.0) for noise in noises]
    assert [made.chirp.reach, made.chirp.louder, made.chirp.quieter] == pytest.approx(wanted)
    tone = replace(element.info, pulse_length=made.plain.length, extra={**extra, "pulse_kind": "tone"})
    wanted = [detection_range(tone, noise + made.gain, -35.0) for noise in noises]
    assert [made.plain.reach, made.plain.louder, made.plain.quieter] == pytest.approx(wanted)
    assert made.plain.length == pulses.length_at(2 * 57.0 / 1500.0, tone=True)
    assert made.frequency == 170e3
    unknown = duel.duel(recorded.elements[0], 57.0, 0.3, -35.0, "mud", 1.0, "kirchhoff")
    assert np.isnan([unknown.chirp.louder, unknown.chirp.quieter, unknown.plain.louder, unknown.plain.quieter]).all()


def test_flanks_and_filter_are_those_of_the_recording(recorded):
    """Half of the pulse in flanks and a matched filter where it does not say; a word that is no filter is none."""

    def resolution(**extra):
        return duel.duel(changed(recorded, extra=extra), 57.0, 0.3, -35.0, "mud", 1.0, "kirchhoff").chirp.resolution

    for extra in ({}, {"pulse_taper": 0.5}, {"filter": "matched"}, {"filter": "some other"}):
        assert resolution(**extra) == pytest.approx(resolution(pulse_taper=0.5, filter="matched"))
    assert resolution(pulse_taper=0.0) < 0.98 * resolution()
    # Equalised, the weighting alone shapes the echo: Hann has 1.44 cells of 1500 / 160 kHz (Harris 1978).
    assert resolution(filter="equalised") == pytest.approx(1.4405 * 1500.0 / 160e3, rel=2e-3)


@pytest.mark.parametrize(("length", "chirp"), [(1.99e-4, False), (2.0e-4, True), (2.01e-4, True)])
def test_a_sweep_of_two_cells_is_a_chirp(length, chirp):
    """10 kHz over 0.2 ms."""
    about = replace(synthetic_record.info(synthetic_record.KINDS[0], 0), band_low=100e3, band_high=110e3)
    assert duel.is_chirp(replace(about, pulse_length=length)) == chirp


def test_the_duel_is_about_the_lowest_fish_and_their_mean_strength(recorded):
    """Four of ten are below half a metre: three of -20 and one of -14 dB are -17.6 dB in the mean of power."""
    fish = recorded.truth.fish
    strength = fish.strength.copy()
    low = np.flatnonzero(fish.height < 0.5)
    strength[:, low], strength[:, low[-1]] = -20.0, -14.0
    tone = replace(recorded.elements[1], info=replace(recorded.elements[1].info, pulse_length=1e-5))
    record = SimpleNamespace(
        elements=(recorded.elements[0], tone),
        truth=synthetic_record.Truth(replace(fish, strength=strength)),
        scenario="",
    )
    (only,), height, length = duel.of_record(record, "mud", "kirchhoff")
    assert only.name == recorded.elements[0].info.name
    assert (height, length) == (np.median(fish.height[low]), 0.4)
    assert len(low) == 4
    assert near(only.chirp, only.height, height) == pytest.approx(10 * np.log10((3 * 10**-2 + 10**-1.4) / 4), abs=0.1)
    # 2.2 times as high as the fish is shown, 0.6 m at least; the ground 0.25 m deep.
    assert (only.height[0], only.height[-1]) == pytest.approx((2.2 * height, -0.25))
    # The face is 0.6 m down.
    info = recorded.elements[0].info
    depth = np.median(recorded.elements[0].bottom_depth) - 0.6
    wanted = info.noise_level - info.source_level + 40 * np.log10(depth) + 2 * info.absorption * depth
    assert only.chirp.noise == pytest.approx(wanted, abs=1e-9)
    lower = replace(fish, height=fish.height * 0.5)
    (only,), height, _ = duel.of_record(
        SimpleNamespace(elements=recorded.elements[:1], truth=synthetic_record.Truth(lower), scenario=""),
        "mud",
        "kirchhoff",
    )
    assert (only.height[0], height) == (0.6, np.median(lower.height[lower.height < 0.5]))
