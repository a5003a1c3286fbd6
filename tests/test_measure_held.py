"""How deep a recorded element holds the bottom: its beam from two cuts, and the same number by other ways."""

from types import SimpleNamespace

import measure_lab as lab
import numpy as np
import pytest
from pingwright.echograms.record import BY_DEPTH, BeamPattern, ElementInfo, SedimentTruth
from pingwright.element import reach
from pingwright.inputs import elements, pulses
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


def drawn(widths=(8.0, 8.0), noise=40.0, **about):
    """A recorded element of 200 kHz with Gaussian cuts, 5 mm cells, by hand."""
    angle = np.linspace(-90.0, 90.0, 721)
    cuts = [(-3.0103 * (angle / (width / 2)) ** 2)[None] for width in widths]
    extra = {key: about.pop(key) for key in list(about) if key not in ElementInfo.__dataclass_fields__}
    info = lab.info(centre=200e3, noise=noise, source=215.0, absorption=0.06, pulse_length=2e-4, extra=extra, **about)
    return SimpleNamespace(info=info, beam=BeamPattern(np.array([200e3]), angle, *cuts))


def test_the_cut_nearest_in_frequency_counts():
    angle = np.linspace(-90.0, 90.0, 361)
    cuts = np.stack([-0.1 * angle**2, -0.2 * angle**2, -0.4 * angle**2])
    beam = BeamPattern(np.array([50e3, 100e3, 200e3]), angle, cuts, cuts)
    for frequency, row in ((50e3, 0), (76e3, 1), (149e3, 1), (151e3, 2), (300e3, 2)):
        at = np.array([0.0, 2.0, 3.5])
        assert 10 * np.log10(held.two_way(beam, frequency)(at)) == pytest.approx(-0.2 * 2**row * at**2)


def test_a_lopsided_cut_counts_by_the_mean_of_its_sides_in_decibels():
    """-3 and -5 dB at 4 degrees to either side: -4 dB, -8 both ways; beyond 90 degrees the last value."""
    angle = np.array([-90.0, -4.0, 0.0, 4.0, 90.0])
    cut = np.array([[-30.0, -3.0, 0.0, -5.0, -50.0]])
    found = held.two_way(BeamPattern(np.array([1e5]), angle, cut, cut), 1e5)(np.array([0.0, 4.0, 90.0, 99.0]))
    assert 10 * np.log10(found) == pytest.approx([0.0, -8.0, -80.0, -80.0])


@pytest.mark.parametrize(("depth", "loss"), [(100.0, 0.5), (1000.0, 3.0), (10**2.5, 1.75), (10.0, 0.5), (5000.0, 3.0)])
def test_what_went_into_harmonics_by_a_depth_is_taken_off_instead_of_what_is_stated(depth, loss):
    """Stated with the source level: 1 dB. Recorded for 100 and 1000 m, straight over the logarithm between, held."""
    element = drawn(finite_amplitude_loss=1.0, finite_amplitude_loss_100=0.5, finite_amplitude_loss_1000=3.0)
    assert held._Form(element, "mud", "kirchhoff").level(depth) == pytest.approx(215.0 + 1.0 - loss)
    bubbles = drawn(bubble_loss=2.0)
    assert held._Form(bubbles, "mud", "kirchhoff").level(depth) == pytest.approx(213.0)


def test_noise_falls_with_the_pulse_that_a_depth_allows():
    """Ten times as long a pulse lets a tenth of the noise in; a pulse that is given stays."""
    follows = held._Form(drawn(pulse_choice=BY_DEPTH), "mud", "kirchhoff")
    given = held._Form(drawn(), "mud", "kirchhoff")
    for depth in (5.0, 50.0):
        length = pulses.length_at(2 * depth / 1500.0, tone=False)
        assert follows.noise(depth, 40.0) == pytest.approx(40.0 + 10 * np.log10(2e-4 / length))
        assert given.noise(depth, 40.0) == 40.0
    assert follows.noise(50.0, 40.0) != follows.noise(5.0, 40.0)


def test_nine_of_ten_pings_hold_the_bottom_at_its_reach():
    element = drawn(noise_level_louder=50.0, noise_level_quieter=30.0, finite_amplitude_loss=1.0,
                    finite_amplitude_loss_100=0.5, finite_amplitude_loss_1000=3.0)  # fmt: skip
    usual, louder, quieter = held.bottom_reach(element, "mud")
    assert held.chance(element, "mud", "kirchhoff", usual) == pytest.approx(0.9, abs=0.02)
    assert held.chance(element, "mud", "kirchhoff", 0.8 * usual) > 0.99
    loud, quiet = (drawn(noise=noise, finite_amplitude_loss=1.0, finite_amplitude_loss_100=0.5,
                         finite_amplitude_loss_1000=3.0) for noise in (50.0, 30.0))  # fmt: skip
    assert louder == pytest.approx(held.bottom_reach(loud, "mud")[0], rel=1e-6)
    assert quieter == pytest.approx(held.bottom_reach(quiet, "mud")[0], rel=1e-6)
    assert np.isnan(held.bottom_reach(loud, "mud")[1:]).all()
    assert np.isnan(held.bottom_reach(drawn(noise=np.nan), "mud")[0])
    # Ground that is never found.
    assert held.bottom_reach(drawn(noise=300.0), "mud")[0] == 0.0


def test_the_sediment_on_top_decides_if_the_catalogue_has_it():
    element = drawn(noise_level_louder=50.0, noise_level_quieter=30.0)
    found = held.of_record(element, (SedimentTruth("mud", 0.2), SedimentTruth("rock", np.inf)), "kirchhoff")
    assert list(found) == ["bottom_reach", "bottom_reach_louder", "bottom_reach_quieter"]
    assert tuple(found.values()) == held.bottom_reach(element, "mud")
    for unknown in ((), (SedimentTruth("cheese", np.inf), SedimentTruth("mud", np.inf))):
        assert np.isnan(list(held.of_record(element, unknown, "kirchhoff").values())).all()
    with pytest.raises(KeyError):
        held.bottom_reach(element, "cheese")


def test_depths_are_computed_once_and_not_without_end(monkeypatch):
    asked = []

    def searched(*about):
        asked.append(about)
        return 100.0 + about[-1]

    monkeypatch.setattr(held, "_searched", searched)
    monkeypatch.setattr(held, "_KNOWN", {})
    one, other = drawn(noise=11.0), drawn(widths=(8.0, 12.0), noise=11.0)
    for element, sediment, law, count in (
        (one, "mud", "kirchhoff", 1), (one, "mud", "kirchhoff", 1), (other, "mud", "kirchhoff", 2),
        (one, "rock", "kirchhoff", 3), (one, "mud", "small-slope", 4), (drawn(noise=12.0), "mud", "kirchhoff", 5),
    ):  # fmt: skip
        assert held._held(element, sediment, law, element.info.noise_level) == 100.0 + element.info.noise_level
        assert len(asked) == count
    for noise in range(200):
        held._held(one, "mud", "kirchhoff", float(noise))
        assert len(held._KNOWN) <= held.MOST_KNOWN
