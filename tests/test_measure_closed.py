"""The closed form beside a measured number, against the same equations solved by other means."""

import math
from dataclasses import replace

import measure_lab as lab
import numpy as np
import pytest
import world_lab
from pingwright import recording
from pingwright.acoustics import budget, deadzone
from pingwright.echograms.record import BeamPattern, FishTruth, Truth
from pingwright.inputs import pulses
from pingwright.inputs.scenario import parse
from pingwright.measure import closed
from scipy import integrate, optimize

# 170 kHz at 1500 m/s.
WAVELENGTH = 1500.0 / 170e3
#: A Rayleigh echo passes a threshold one time in two when its mean stands 10 log(1/ln 2) = 1.59 dB above it.
MEAN_OVER_MEDIAN = -10 * math.log10(math.log(2))
#: Rayleigh echo in Rayleigh noise: P_fa = P_d^(1 + snr), Urick 1983, section 12.
NEEDED = 10 * math.log10(math.log(1e-4) / math.log(0.5) - 1)


def love(length):
    """Love 1971, JASA 49, maximum dorsal: 19.1 log L - 0.9 log f - 62.0, L in cm, f in kHz (constants from memory)."""
    return 19.1 * math.log10(100 * length) - 0.9 * math.log10(170.0) - 62.0


def tilt_loss():
    """Mean of 1 / (1 + 24 sin^2)^2 over tilts N(-5, 15 deg) [dB]: the spheroid of ratio 5, by scipy's quadrature."""

    def part(tilt):
        chance = math.exp(-0.5 * ((tilt + 5) / 15) ** 2) / (15 * math.sqrt(2 * math.pi))
        return chance / (1 + 24 * math.sin(math.radians(tilt)) ** 2) ** 2

    return 10 * math.log10(integrate.quad(part, -90, 90, limit=200)[0])


def fishes(length, height, strength):
    count = len(length)
    flat = np.zeros(count)
    return Truth(
        FishTruth(
            np.arange(count), ("f",) * count, flat, flat, flat, np.asarray(length, float), np.asarray(height, float),
            np.asarray(strength, float), np.zeros((len(strength), count), int), np.zeros((len(strength), count)),
        )
    )  # fmt: skip


def recorded(about, depth, count=5, beam=None):
    made = lab.element(about, np.zeros((count, 64)), np.arange(64) * 0.5, depth)
    return made if beam is None else type(made)(**(vars(made) | {"beam": beam}))


def test_default_strength_is_loves_over_the_spread_of_tilts():
    assert closed.default_strength(0.4, 170e3) == pytest.approx(love(0.4) + tilt_loss(), abs=0.15)


def test_lengths_by_geometry():
    """Trigonometry: footprint 2 d tan(width/2); bottom as near as the fish within 2 sqrt(2 d h - h^2)."""
    found = closed.closed_form(lab.info(beamwidth_along=10.0, beamwidth_across=20.0), 50.0, 0.4, 2.0, -35.0)
    assert found.footprint_along == pytest.approx(2 * 50 * math.tan(math.radians(5)))
    assert found.footprint_across == pytest.approx(2 * 50 * math.tan(math.radians(10)))
    assert found.geometric_width == pytest.approx(2 * math.sqrt(2 * 50 * 2 - 4))
    # A fish on the edge of the beam as far away as the bottom below stands d - d cos above it.
    assert found.edge_height == pytest.approx(50 * (1 - math.cos(math.radians(10))))
    assert found.wavelength == pytest.approx(WAVELENGTH)
    assert (found.depth, found.fish_length, found.fish_height) == (50.0, 0.4, 2.0)


@pytest.mark.parametrize(("height", "width"), [(-1.0, 0.0), (60.0, 100.0)])
def test_heights_out_of_the_water_are_taken_as_its_edge(height, width):
    """At the bottom nothing is searched; beside the element, the whole circle of the depth."""
    found = closed.closed_form(lab.info(), 50.0, 0.4, height, -35.0)
    assert found.geometric_width == pytest.approx(width)
    if height > 50:
        assert found.swath == 0.0


def test_reach_and_smallest_fish_solve_the_sonar_equation():
    about = lab.info(noise=50.0, absorption=0.05)
    found = closed.closed_form(about, 80.0, 0.4, 1.0, -35.0)

    def excess(distance, strength):
        return 215.0 + strength - 40 * math.log10(distance) - 2 * 0.05 * distance - 50.0 - NEEDED

    assert found.reach == pytest.approx(optimize.brentq(lambda r: excess(r, -35.0), 1, 1e4), rel=1e-6)
    # The smallest fish at the bottom: Love's, tilted; the noise or the picture's floor decides, whichever is higher.
    by_noise = optimize.brentq(lambda length: excess(80.0, love(length) + tilt_loss()), 1e-3, 10.0)
    by_floor = optimize.brentq(lambda length: love(length) + tilt_loss() - (-60.0) - MEAN_OVER_MEDIAN, 1e-3, 10.0)
    assert by_noise < by_floor
    assert found.smallest_fish == pytest.approx(by_floor, rel=0.02)
    noisy = closed.closed_form(lab.info(noise=80.0, absorption=0.05), 80.0, 0.4, 1.0, -35.0)
    by_noise = optimize.brentq(lambda length: excess(80.0, love(length) + tilt_loss()) - 30, 1e-3, 10.0)
    assert noisy.smallest_fish == pytest.approx(by_noise, rel=0.02)
    assert noisy.smallest_fish_text == f"{noisy.smallest_fish:.3f} m"


def test_a_smallest_fish_under_a_wavelength_is_said_to_be_outside_the_model():
    found = closed.closed_form(lab.info(), 5.0, 0.4, 1.0, -35.0, floor=-200.0)
    assert found.smallest_fish < WAVELENGTH
    assert found.smallest_fish_text == "< lambda (9 mm): outside the model"  # 8.8 mm


def test_without_noise_nothing_that_needs_it_is_told():
    about = lab.info(noise=float("nan"))
    found = closed.closed_form(about, 50.0, 0.4, 1.0)
    assert np.isnan([found.reach, found.smallest_fish, found.swath]).all()
    assert found.smallest_fish_text == "not known without noise"
    made = recorded(about, 50.0)
    widths = closed.searched_by_depth(made, fishes([0.4], [1.0], [[-35.0]]), np.array([20.0, 50.0]), 1.0)
    assert widths.shape == (2,)
    assert np.isnan(widths).all()


def test_a_gaussian_beam_loses_six_decibels_at_its_edge():
    about = lab.info(beamwidth_along=10.0, beamwidth_across=20.0)
    edge = np.array([0.0, 5.0, 10.0])
    zero = np.zeros(3)
    assert closed.two_way_loss(about, None, edge, zero) == pytest.approx([0, 6.0206, 24.0824], abs=1e-3)
    assert closed.two_way_loss(about, None, zero, edge) == pytest.approx([0, 1.50515, 6.0206], abs=1e-3)
    assert closed.two_way_loss(about, None, edge, edge) == pytest.approx([0, 7.52575, 30.103], abs=1e-3)


def test_a_recorded_beam_counts_twice_on_both_ways_at_the_middle_of_the_band():
    angle = np.array([-30.0, 0.0, 30.0])
    along = np.array([[-1.0, 0, -1.0], [-3.0, 0, -3.0], [-9.0, 0, -9.0]])
    beam = BeamPattern(np.array([130e3, 170e3, 210e3]), angle, along, 2 * along)
    loss = closed.two_way_loss(lab.info(), beam, np.array([30.0, 0.0, 15.0]), np.array([0.0, 30.0, -15.0]))
    assert loss == pytest.approx([6.0, 12.0, 9.0])  # -3 dB, -6 dB, half of both; there and back
    assert closed.two_way_loss(lab.info(), BeamPattern(np.zeros(1), angle[:2], along, along), angle[:1], angle[1:2])[
        0
    ] == pytest.approx(2 * 3.0103 * (30 / 4) ** 2)


def test_the_swath_ends_where_the_beam_the_noise_or_the_bottom_ends_it():
    """Roots by scipy of the sonar equation with a Gaussian beam; the step of the search is depth / 4000."""
    depth, height = 50.0, 2.0
    down = depth - height

    def angle(y):
        return math.degrees(math.atan2(y, down))

    def by_floor(y):
        return -35.0 - 2 * 3.0103 * (angle(y) / 4.0) ** 2 + 60.0 - MEAN_OVER_MEDIAN

    def by_noise(y, noise):
        slant = math.hypot(down, y)
        return 215.0 - 35.0 - 2 * 3.0103 * (angle(y) / 4.0) ** 2 - 40 * math.log10(slant) - noise - NEEDED

    by_bottom = math.sqrt(depth**2 - down**2)
    step = 2 * depth / 4000
    floor = 2 * optimize.brentq(by_floor, 0.0, 40.0)
    assert floor < 2 * by_bottom
    assert closed.swath(lab.info(), depth, height, -35.0) == pytest.approx(floor, abs=step)
    noise = 2 * optimize.brentq(lambda y: by_noise(y, 90.0), 0.0, 40.0)
    assert noise < floor
    assert closed.swath(lab.info(noise=90.0), depth, height, -35.0) == pytest.approx(noise, abs=step)
    wide = lab.info(beamwidth_across=120.0)
    assert closed.swath(wide, depth, height, -35.0) == pytest.approx(2 * by_bottom, abs=step)
    assert closed.swath(lab.info(), depth, height, -75.0) == 0.0
    assert closed.swath(lab.info(), depth, depth, -35.0) == 0.0
    # A fish so loud, in so deep a place of a fish near the element, that nothing ends it: the end of the search.
    omni = lab.info(beamwidth_across=1e6)
    assert closed.swath(omni, 10.0, 9.999, 80.0, floor=-500.0) == pytest.approx(20.0, abs=0.01)


def test_the_median_fish_is_a_fish_of_the_truth():
    truth = fishes([0.5, 0.1, 0.3], [1.0, 2.0, 6.0], [[-30.0, -50.0, -40.0], [-31.0, -51.0, -41.0]])
    assert closed.median_fish(lab.info(), truth) == (0.3, 2.0, -40.0)
    assert closed.median_fish(lab.info(position=1), truth) == (0.3, 2.0, -41.0)
    assert closed.median_fish(lab.info(), fishes([], [], np.zeros((1, 0)))) == (0.4, 0.3, None)


def test_the_numbers_of_a_recording_are_those_of_its_median_fish_and_bottom():
    about = lab.info(transducer_depth=2.0)
    truth = fishes([0.5, 0.1, 0.3], [1.0, 2.0, 6.0], [[-30.0, -50.0, -40.0]])
    made = recorded(about, np.array([30.0, 52.0, 90.0, 50.0, 54.0]))
    found = closed.of_record(made, truth, -70.0)
    assert (found.depth, found.fish_length, found.fish_height) == (50.0, 0.3, 2.0)
    assert found == closed.closed_form(about, 50.0, 0.3, 2.0, -40.0, -70.0, made.beam)


@pytest.mark.parametrize("known", [True, False])
def test_the_swath_over_depth_is_that_of_each_depth(known):
    about = lab.info()
    truth = fishes([0.3], [9.0], [[-40.0]]) if known else fishes([], [], np.zeros((1, 0)))
    made = recorded(about, 50.0)
    depth = np.array([1.0, 2.0, 20.0, 50.0])
    got = closed.searched_by_depth(made, truth, depth, 2.0, -70.0)
    assert np.isnan(got[:2]).all()
    strength = -40.0 if known else love(0.4) + tilt_loss()
    wanted = [closed.swath(about, d, 2.0, strength, -70.0) for d in depth[2:]]
    assert got[2:] == pytest.approx(wanted, abs=0.1 if not known else 1e-12)


def test_the_house_has_the_same_rayleigh_threshold_as_urick():
    """The constants of this file against the formulas they judge."""
    assert float(budget.needed_strength(215.0, 60.0, 1.0, 0.0, 0.5, 1e-4)) == pytest.approx(60 - 215 + NEEDED)
    assert float(deadzone.swath(50.0, 2.0)) == pytest.approx(2 * math.sqrt(196))


def test_the_detection_range_takes_the_pulse_of_its_own_depth_and_the_low_band_reaches_deepest():
    # Common practice, no source: low over medium over high, by 20 m each, a 40 cm fish at 4 kn in 10 kn of wind.
    others = "".join(f'[[element]]\nname = "{use}"\nuse = "{use}"\n' for use in ("medium-pencil", "low-pencil"))
    text = world_lab.text(others, depth=58, end=70, water='wind = "10 kn"')
    text = text.replace("speed = 0", 'speed = "4 kn"').replace("ambient = false", "ambient = true")
    made = recording.prepare(parse(text))
    found = []
    for one in made.header.elements:
        strength = closed.default_strength(0.4, 0.5 * (one.info.band_low + one.info.band_high))
        found.append(closed.detection_range(one.info, one.info.noise_level, strength))
        # The same range from a pulse that is given and as long as that depth asks for: the sonar equation once.
        long = pulses.length_at(2 * found[-1] / one.info.assumed_sound_speed)
        quieter = one.info.noise_level - 10 * np.log10(long / one.info.pulse_length)
        given = replace(one.info, pulse_length=long, extra={**one.info.extra, "pulse_choice": "as given"})
        assert closed.detection_range(given, quieter, strength) == pytest.approx(found[-1], abs=0.5)
        short = replace(one.info, extra={**one.info.extra, "pulse_choice": "as given"})
        assert closed.detection_range(short, one.info.noise_level, strength) < found[-1] - 20
    assert found[1] > found[0] + 20
    assert found[2] > found[1] + 20


def test_ranges_with_louder_and_quieter_own_noise_are_those_of_the_fish_or_of_the_usual_one():
    """Where the recording gives these levels: the sonar equation with each, by a general root finder."""
    about = lab.info(absorption=0.05, extra={"noise_level_louder": 60.0, "noise_level_quieter": 25.0})
    nobody = fishes([], [], np.zeros((1, 0)))
    some = fishes([0.2, 0.6, 0.3], [1.0, 2.0, 3.0], np.array([[-40.0, -30.0, -37.0]]))
    usual = love(0.4) + tilt_loss()
    for truth, strength in ((some, -37.0), (nobody, usual)):
        found = closed.noise_bands(about, truth)
        assert list(found) == ["reach_louder", "reach_quieter"]
        for level, name in ((60.0, "reach_louder"), (25.0, "reach_quieter")):
            merit = 215.0 - level + strength - NEEDED
            root = optimize.brentq(lambda r, merit=merit: 40 * math.log10(r) + 0.1 * r - merit, 1.0, 1e5)
            assert found[name] == pytest.approx(root, rel=2e-4)
    one = replace(about, extra={"noise_level_louder": 60.0})
    assert list(closed.noise_bands(one, some)) == ["reach_louder"]
