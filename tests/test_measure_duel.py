"""A chirp against a plain ping: resolution, signal to noise and mean levels by other ways."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import synthetic_record
from pingwright.element import reach
from pingwright.inputs import elements
from pingwright.measure import duel
from pingwright.measure.closed import median_fish


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
    nobody = SimpleNamespace(elements=recorded.elements[:1], truth=synthetic_record.Truth(_none(recorded.truth.fish)))
    _, height, length = duel.of_record(nobody, "gravel", "kirchhoff")
    assert (length, height) == median_fish(recorded.elements[0].info, nobody.truth)[:2] == (0.4, 0.3)


def _none(fish):
    arrays = {name: value[..., :0] for name, value in vars(fish).items() if isinstance(value, np.ndarray)}
    return synthetic_record.FishTruth(**{**vars(fish), **arrays, "name": (), "path": None})
