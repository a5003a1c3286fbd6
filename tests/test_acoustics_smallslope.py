"""The grounds of the small-slope law against the handbook's formulas of grain size, and by their echo at vertical."""

import numpy as np
import pytest
from pingwright.acoustics import seabed, smallslope


@pytest.mark.parametrize(
    ("name", "grain_size"),
    [("gravel", -1.0), ("coarse sand", 0.5), ("medium sand", 1.5), ("fine sand", 2.5), ("silt", 6.0)],
)
def test_soft_grounds_are_those_of_the_handbook(name, grain_size):
    """Fits over grain size, APL-UW TR 9407 (1994), section IV; relief in m where the handbook has cm."""
    ground, handbook = smallslope.GROUNDS[name], seabed.sediment_from_grain_size(grain_size)
    assert ground.density_ratio == pytest.approx(handbook.density_ratio, rel=1e-3)
    assert ground.speed_ratio == pytest.approx(handbook.speed_ratio, rel=1e-3)
    assert ground.loss == pytest.approx(handbook.loss, rel=1e-3)
    if name != "gravel":  # the law's authors give it another relief
        relief = smallslope.fluid_ground(1.0, 1.0, 0.0, 3.25, handbook.roughness_w2).w2
        assert ground.exponent == handbook.roughness_exponent
        assert ground.w2 == pytest.approx(relief, rel=4e-3)


@pytest.mark.parametrize(
    ("name", "loss"),
    [("rough rock", 3.05), ("rock", 3.05), ("cobble", 3.93), ("gravel", 5.38), ("coarse sand", 6.52),
     ("medium sand", 8.64), ("fine sand", 12.67), ("silt", 24.0)],
)  # fmt: skip
def test_the_loss_of_a_reflection_at_vertical(name, loss):
    """-20 log of (z - 1) / (z + 1), z density times speed ratio, by hand; shear has no part in it."""
    found = smallslope.reflection_elastic(smallslope.GROUNDS[name], 1.0)
    assert -20 * np.log10(abs(complex(found))) == pytest.approx(loss, abs=0.03)


def test_ground_without_shear_reflects_as_a_fluid_does():
    """At every angle; beyond 90 degrees, by rounding, as at grazing."""
    fluid = smallslope.fluid_ground(1.845, 1.1782, 0.01624, 3.25, 0.0044)
    assert (fluid.shear_ratio, fluid.shear_loss, fluid.exponent) == (0.002, 1.0, 3.25)
    cosine = np.cos(np.radians([0.0, 20.0, 50.0, 80.0]))
    sediment = seabed.sediment_from_grain_size(1.5)
    assert abs(smallslope.reflection_elastic(fluid, cosine)) == pytest.approx(
        abs(seabed.reflection(cosine, sediment.density_ratio, sediment.speed_ratio, sediment.loss)), abs=2e-3
    )
    ends = smallslope.reflection_elastic(fluid, [0.0, -1e-9, 1e-4])
    assert ends == pytest.approx(ends[2])


@pytest.mark.parametrize(("name", "hertz"), [("rock", 20e3), ("coarse sand", 300e3)])
def test_the_law_takes_every_angle_with_every_frequency_and_scales_with_wavelength(name, hertz):
    """The same ground in water of another sound speed: at the same wavelength the same echo."""
    ground, cosine = smallslope.GROUNDS[name], np.array([1.0, 0.9, 0.5])
    both = smallslope.small_slope(ground, cosine, [hertz, 2 * hertz])
    assert both.shape == (3, 2)
    assert both[:, 0] == pytest.approx(smallslope.small_slope(ground, cosine, hertz)[:, 0])
    assert smallslope.small_slope(ground, cosine, 1.1 * hertz, 1650.0)[:, 0] == pytest.approx(both[:, 0])
    assert (both > 0).all()
    # At vertical the law is even: a tenth of a degree off it is the same to a hundredth of a decibel.
    near = smallslope.small_slope(ground, np.cos(np.radians([0.0, 0.02])), [20e3])[:, 0]
    assert 10 * np.log10(near[1] / near[0]) == pytest.approx(0.0, abs=0.02)
