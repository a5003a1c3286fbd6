"""The bottom's echo: its stretches by a general library's quadrature, its chances by that library's gamma law."""

import math

import numpy as np
import pytest
from pingwright.acoustics import bottomecho, seabed, slopes
from pingwright.inputs import catalogue
from scipy import integrate, optimize, stats

LEVEL, LOSS, CELL, EFFECTIVE = 200.0, 0.04, 0.05, 0.07


def ground(cosine):
    return 0.02 * np.asarray(cosine) ** 6


def beam(degrees):
    return np.exp(-((np.asarray(degrees) / 12.0) ** 2))


@pytest.mark.parametrize("depth", [3.0, 40.0])
def test_a_stretch_is_the_mean_of_its_rings_through_beam_and_loss(depth):
    """Eight cells are 0.4 m; the rings' area is 2 pi r dr, their echo falls as r^-4 and by 2 alpha r."""

    def density(r):
        cosine = depth / r
        ring = 2 * math.pi * r * ground(cosine) * beam(math.degrees(math.acos(cosine)))
        return ring * 10 ** (0.1 * (LEVEL - 2 * LOSS * r)) / r**4

    found = bottomecho.stretch_levels(LEVEL, depth, LOSS, ground, beam, CELL, EFFECTIVE, 3)
    for k, level in enumerate(found):
        whole = integrate.quad(density, depth + 0.4 * k, depth + 0.4 * (k + 1), epsabs=0.0, epsrel=1e-10)[0]
        assert level == pytest.approx(10 * math.log10(EFFECTIVE * whole / 0.4), abs=1e-3)
    assert len(found) == 3


@pytest.mark.parametrize(
    ("depth", "cell", "count"),
    [
        (10.0, 0.0626, 1), (10.0, 0.0624, 2),  # half a metre of eight cells
        (50.0, 0.1251, 1), (50.0, 0.1249, 2), (100.0, 0.0624, 5),  # 2 % of depth
    ],
)  # fmt: skip
@pytest.mark.parametrize("effective", [0.04, 3.0])
def test_the_bottom_is_found_where_one_stretch_exceeds_ten_decibels(depth, cell, count, effective):
    """Means of 8 cell / effective looks of exponential power, one at least: a gamma law; stretches independent."""
    levels = bottomecho.stretch_levels(LEVEL, depth, LOSS, ground, beam, cell, effective, count)
    noise = levels.max() - 9.0
    mean = 10 ** (0.1 * (levels - noise))
    looks = max(8 * cell / effective, 1.0)
    each = stats.gamma.sf(10.0 / (mean + 1.0), looks, scale=1.0 / looks)
    found = bottomecho.bottom_found(LEVEL, noise, depth, LOSS, ground, beam, cell, effective)
    assert found == pytest.approx(1.0 - np.prod(1.0 - each), rel=1e-9)
    assert 0.1 < found < 0.9


def test_the_bottom_is_held_to_where_nine_of_ten_pings_find_it():
    reach = bottomecho.bottom_reach(LEVEL, 60.0, LOSS, ground, beam, CELL, EFFECTIVE)
    assert 50.0 < reach < 2000.0
    assert bottomecho.bottom_found(LEVEL, 60.0, reach, LOSS, ground, beam, CELL, EFFECTIVE) == pytest.approx(
        0.9, abs=1e-3
    )
    # Noise may depend on depth.
    falling = bottomecho.bottom_reach(LEVEL, lambda depth: 60.0 - depth / 100, LOSS, ground, beam, CELL, EFFECTIVE)
    at = 60.0 - falling / 100
    assert falling == pytest.approx(bottomecho.bottom_reach(LEVEL, at, LOSS, ground, beam, CELL, EFFECTIVE), rel=1e-4)


def test_a_bottom_never_found_or_always_found():
    """Between 1 m and 20 km, where the search ends."""
    assert bottomecho.bottom_reach(LEVEL, 500.0, LOSS, ground, beam, CELL, EFFECTIVE) == 0.0
    assert bottomecho.bottom_reach(LEVEL, -200.0, 0.0, ground, beam, CELL, EFFECTIVE) == 20e3
    about = (LOSS, ground, beam, CELL, EFFECTIVE)
    limit = optimize.brentq(lambda noise: bottomecho.bottom_found(LEVEL, noise, 1.0, *about) - 0.9, 100.0, 200.0)
    assert bottomecho.bottom_reach(LEVEL, limit + 0.01, *about) == 0.0
    assert 1.0 < bottomecho.bottom_reach(LEVEL, limit - 0.01, *about) < 1.01


@pytest.mark.parametrize(("chance", "odds"), [(0.9, math.log(9)), (0.5, 0.0), (0.0, -math.log(1e15)), (1.0, 34.5)])
def test_the_logarithm_of_odds_stays_finite(chance, odds):
    assert bottomecho._log_odds(chance) == pytest.approx(odds, abs=0.06)


@pytest.mark.parametrize(
    ("function", "low", "high", "root"),
    [
        (lambda x: 3.0 - 2.0 * x, 0.0, 10.0, 1.5),
        (lambda x: math.exp(-x) - 0.3, 0.0, 10.0, math.log(1 / 0.3)),
        (lambda x: 2.0 - x**3, -1.0, 4.0, 2.0 ** (1 / 3)),
        (lambda x: math.atan(5.0 - x), 0.0, 9.0, 5.0),
    ],
)
def test_a_crossing_is_found_in_half_the_calls_of_halving(function, low, high, root):
    """Halving from 10 to 1e-5 takes 20 calls; one straight line takes three."""
    calls = []

    def counted(x):
        calls.append(x)
        return function(x)

    assert bottomecho._crossing(counted, low, high, 1e-5) == pytest.approx(root, abs=2e-5)
    assert len(calls) <= 14
    assert all(low <= x <= high for x in calls)


@pytest.mark.parametrize("name", ["gravel", "mud"])
def test_a_sediments_law_is_its_backscatter_over_its_natural_slopes(name):
    """Read from a table of 0.05 degrees; beyond vertical by rounding it stays what it is there."""
    entry = catalogue.sediments()[name]
    known = {key: getattr(entry, key) for key in seabed.Sediment.__dataclass_fields__ if hasattr(entry, key)}

    def plain(cosine, frequency):
        return seabed.backscatter(seabed.Sediment(**known), cosine, frequency, 1480.0, "kirchhoff")

    cosine = np.cos(np.radians([0.0, 3.3, 21.7, 60.2]))
    expected = slopes.averaged(plain, entry.slope_rms_deg)(cosine, np.array([120e3]))[:, 0]
    law = bottomecho.sediment_law(name, entry, 120e3, 1480.0)
    assert 10 * np.log10(law(cosine)) == pytest.approx(10 * np.log10(expected), abs=0.01)
    assert law(np.array([1.0 + 1e-12]))[0] == pytest.approx(law(np.array([1.0]))[0])
    assert law(np.array([-1e-12]))[0] == pytest.approx(law(np.array([0.0]))[0])
