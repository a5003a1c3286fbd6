"""Closed form of a school against the sonar equation by hand, and against limits."""

from dataclasses import replace

import numpy as np
import pytest
from pingwright.inputs import trip as inputs
from pingwright.inputs.typed import Typed, trip_file
from pingwright.measure.detect import FALSE_ALARM
from pingwright.measures import ahead, school
from pingwright.trials import day, passes
from pingwright.trials.placement import Fish, School
from pingwright.trials.scene import scene


@pytest.fixture(scope="module")
def at():
    trip = inputs.parse(trip_file(Typed("100 m", ("bait school, 10 cm, 400 m wide, 30 m high, 50..52 m deep",))))
    some = trip.model_copy(update={"element": trip.element[:1]})
    return scene(day.scenario(some, 100.0)), day.species(some, some.species[0], 100.0)


def pass_of(at, species, across):
    across = np.atleast_1d(np.asarray(across, float))
    one, none = np.ones(len(across)), np.zeros(len(across))
    fish = Fish(none, across, one * np.nan, 51.0 * one, species.length * one, none, none, none)
    return passes.lay_out(at, species, fish, 0, 0)


def test_a_school_that_fills_the_beam_has_its_equivalent_beam_angle(at):
    """TS + 10 log n + 10 log(psi r^2 c tau / 2): MacLennan, Fernandes & Dalen 2002; 0.4 dB for flat shells."""
    there, species = at
    info = there.headers[0].info
    pings = pass_of(there, species, 0.0)
    area, height = school._inside(there, 0, species, pings)
    middle = int(np.argmin(np.abs(pings.way()[0])))
    down = float(pings.way()[2, middle])
    psi = 10 * np.log10(area[middle] / down**2)
    assert psi == pytest.approx(info.equivalent_beam_angle, abs=0.4)
    assert height[middle] == pytest.approx(30.0, rel=0.01)


def test_a_fading_echo_follows_swerlings_first_case():
    """Swerling 1960, case 1: Pd = Pfa^(1 / (1 + snr)), here far over the picture's floor."""
    snr = np.array([1.0, 10.0, 100.0])
    assert school.rayleigh(snr, np.ones(3)) == pytest.approx(FALSE_ALARM ** (1 / (1 + snr)))


def test_denser_schools_show_more_and_beside_the_beam_nothing_does(at):
    there, species = at
    small = replace(species, school=School(4.0, 4.0, 2.0, 10.0))
    near, far = (school.chances(there, 0, small, pass_of(there, small, y), ahead.NO_BOTTOM) for y in (0.0, 60.0))
    thin = replace(small, school=School(4.0, 4.0, 2.0, 1e-6))
    assert near.detected.max() > 0.9
    assert far.detected.max() == 0.0
    assert school.chances(there, 0, thin, pass_of(there, thin, 0.0), ahead.NO_BOTTOM).detected.max() < 0.05
