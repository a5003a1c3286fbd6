"""How deep a recorded element holds the bottom: its beam from two cuts, and the same number by other ways."""

from types import SimpleNamespace

import numpy as np
import pytest
from pingwright.echograms.record import BY_DEPTH, BeamPattern
from pingwright.element import reach
from pingwright.inputs import elements
from pingwright.measure import held
from scipy.special import ive


def test_two_cuts_of_a_gaussian_beam_give_its_mean_around_the_axis():
    """Mean of exp(-a cos2 - b sin2) over the direction: exp(-(a+b)/2) I0((a-b)/2), Abramowitz & Stegun 9.6.16."""
    angle = np.linspace(-90.0, 90.0, 721)
    cuts = [-3.0103 * (angle / half) ** 2 for half in (6.0, 14.0)]
    beam = BeamPattern(np.array([100e3]), angle, cuts[0][None], cuts[1][None])
    at = np.linspace(0.0, 30.0, 61)
    a, b = (2 * np.log(2.0) * (at / half) ** 2 for half in (6.0, 14.0))
    wanted = np.exp(-np.minimum(a, b)) * ive(0, np.abs(a - b) / 2)
    assert held.two_way(beam, 100e3)(at) == pytest.approx(wanted, rel=2e-3, abs=1e-9)


@pytest.mark.parametrize(("name", "within"), [("high-pencil", 0.01), ("medium-fan", 0.03)])
def test_a_recording_holds_the_bottom_as_deep_as_the_element_that_made_it(name, within):
    """Both sides are the program's; they share the sonar equation and differ in beam, noise and pulse."""
    spec = elements.from_catalogue(name)
    made = reach.in_circumstance(spec, distance=500.0)
    f, angle = made.centre, np.linspace(-90.0, 90.0, 721)
    sine, zero = np.sin(np.radians(angle)), np.zeros(len(angle))
    cuts = (made.beam(*uv, np.array([f]))[:, 0] for uv in ((sine, zero), (zero, sine)))
    along, across = (20 * np.log10(np.abs(cut) + 1e-9) for cut in cuts)
    noise = made.noise_level(reach.WIND_SPEED, ambient=True, own=reach.own_noise())
    info = SimpleNamespace(
        band_low=f, band_high=f, assumed_sound_speed=reach.SOUND_SPEED, effective_pulse=made.effective_pulse,
        source_level=made.source_level(f), heard_level=made.source_level(f),
        absorption=reach.sight(spec).absorption, noise_level=noise,
        range_resolution=made.range_resolution, pulse_length=made.pulse_length, extra={},
        number={"noise_level_louder": noise + 10, "noise_level_quieter": noise - 10}.get,
    )  # fmt: skip
    recorded = SimpleNamespace(info=info, beam=BeamPattern(np.array([f]), angle, along[None], across[None]))
    usual, louder, quieter = held.bottom_reach(recorded, "gravel")
    assert louder < usual < quieter
    timed = spec.model_copy(update={"pulse": made.spec.pulse})
    # The list takes the loss to harmonics at the depth itself: some metres of hundreds.
    assert usual == pytest.approx(reach.bottom_reach(timed, reach.own_noise(), "gravel"), rel=within)
    info.extra = {"pulse_choice": BY_DEPTH}
    by_depth = held.bottom_reach(recorded, "gravel")[0]
    assert by_depth == pytest.approx(reach.bottom_reach(spec, reach.own_noise(), "gravel"), rel=within)
