"""Places of the trials: their laws, and that every element is shown the same."""

from types import SimpleNamespace

import numpy as np
import pytest
from pingwright.match import plan
from scipy import stats

BOTTOM = SimpleNamespace(above_bottom=(0.3, 1.5), depth=None)
SURFACE = SimpleNamespace(above_bottom=None, depth=(5.0, 30.0))
FOOT = plan.Footprint(3.5, 5.0)
AT = plan.Slice(40.0, 44.0, 0.6)


def random(seed=1):
    return np.random.default_rng(seed)


def test_slices_cover_the_day_and_a_single_depth_is_one_slice():
    found = plan.slices((40.0, 60.0), 0.6)
    assert found[0].low == 40
    assert found[-1].high == 60
    assert all(a.high == pytest.approx(b.low) for a, b in zip(found[:-1], found[1:], strict=True))
    assert len(plan.slices((50.0, 50.0), 0.6)) == 1


def test_places_are_uniform_by_area_over_the_footprint():
    """Kolmogorov-Smirnov at 1e-3: squared radius over that of the ellipse is uniform, and so is the angle."""
    fish = plan.spot(BOTTOM, 0, AT, FOOT, random(), 4000)
    down = fish.depth - AT.face
    u = fish.along / (down * np.tan(np.radians(FOOT.along)))
    v = fish.across / (down * np.tan(np.radians(FOOT.across)))
    assert stats.kstest(u**2 + v**2, "uniform").pvalue > 1e-3
    assert stats.kstest(np.arctan2(v, u) / (2 * np.pi) + 0.5, "uniform").pvalue > 1e-3


def test_heights_and_depths_are_uniform_over_what_the_trip_says():
    low = plan.swim(BOTTOM, 0, AT, random(), 3000)
    assert stats.kstest((low.height - 0.3) / 1.2, "uniform").pvalue > 1e-3
    high = plan.swim(SURFACE, 0, AT, random(), 3000)
    assert np.isnan(high.height).all()
    assert stats.kstest((high.depth - 5) / 25, "uniform").pvalue > 1e-3


def test_no_fish_lies_in_the_bottom_or_above_the_boat():
    deep = SimpleNamespace(above_bottom=None, depth=(30.0, 200.0))
    fish = plan.swim(deep, 0, AT, random(), 500)
    assert (fish.depth <= fish.bottom - plan.LEAST_HEIGHT).all()
    tall = SimpleNamespace(above_bottom=(0.0, 200.0), depth=None)
    fish = plan.swim(tall, 0, AT, random(), 500)
    assert (fish.depth > AT.face).all()
    assert (fish.height >= plan.LEAST_HEIGHT).all()


def test_every_run_of_an_experiment_has_a_bottom_of_its_own():
    fish = plan.spot(BOTTOM, 0, AT, FOOT, random(), plan.SPOT_RUNS)
    assert len(np.unique(fish.bottom)) == plan.SPOT_RUNS
    fall = plan.fall((40.0, 60.0), plan.SPOT_RUNS)
    apart = np.diff(np.sort(fish.bottom)) / fall
    assert apart.min() >= plan.STEP * 0.999
    assert fall <= plan.FALL


def test_the_fall_of_the_bottom_hides_nothing():
    """A plane tilted by an angle a is nearer by d (1 - cos a): under 5 mm at 300 m."""
    assert 300 * (1 - np.cos(np.arctan(plan.fall((0.0, 1000.0), 40)))) < 0.005


def test_axes_hold_every_point_equally_often():
    for places, points, value in (
        (plan.offsets(SURFACE, 0, AT, random()), plan.OFFSETS, lambda p: np.abs(p.across) / (p.depth - AT.face)),
        (plan.lengths(SURFACE, 0, AT, FOOT, random()), plan.LENGTHS, lambda p: p.length),
        (plan.depths(0, AT, random()), plan.DEPTHS, lambda p: (p.depth - AT.face) / (p.bottom - AT.face)),
    ):
        found = value(places).reshape(len(points), plan.AXIS_RUNS)
        assert found == pytest.approx(np.repeat(points[:, None], plan.AXIS_RUNS, axis=1))


def test_the_same_seed_draws_the_same_places_and_another_does_not():
    first, again, other = (plan.spot(BOTTOM, 0, AT, FOOT, plan.stream(s, 2, 1), 20) for s in (5, 5, 6))
    assert np.array_equal(first.along, again.along)
    assert not np.array_equal(first.along, other.along)


def test_beside_a_wreck_the_fish_stand_as_far_from_its_side_as_the_day_says():
    wreck = SimpleNamespace(length=30.0, width=8.0, beside=(0.5, 5.0))
    fish = plan.beside(plan.spot(BOTTOM, 0, AT, FOOT, random(), 500), wreck, AT, 400.0, 0.005, random(2))
    off = fish.y + fish.across - 4.0
    assert stats.kstest((off - 0.5) / 4.5, "uniform").pvalue > 1e-3
    assert stats.kstest((fish.x - 385.0) / 30.0, "uniform").pvalue > 1e-3
    assert fish.bottom == pytest.approx(AT.middle + 0.005 * (fish.x - 400.0))
    assert fish.depth == pytest.approx(fish.bottom - fish.height)


def test_in_line_each_ping_stands_where_the_bottom_has_its_depth():
    fish = plan.spot(BOTTOM, 0, AT, FOOT, random(), 50)
    assert plan.in_line(fish, 40.0, 0.005).x == pytest.approx((fish.bottom - 40.0) / 0.005)
    level = plan.in_line(fish, 40.0, 0.0)
    assert np.diff(level.x) == pytest.approx(plan.STEP)
    assert not level.y.any()
