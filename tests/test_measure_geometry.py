"""Places as an element sees them: by plane geometry, and one trial at a time as all together."""

import math
from dataclasses import replace

import measure_lab as lab
import numpy as np
import pytest
from pingwright.echograms.record import FishTruth, Paths, SoftTruth, StructureTruth
from pingwright.measure import geometry

COUNT = 200


def element(draft=0.5, extra=None, **about):
    """A boat along x at 2 m a ping, each 0.2 s; every angle and heave at will."""
    x = 2.0 * np.arange(COUNT)
    made = lab.element(
        lab.info(transducer_depth=draft, extra=extra or {}), np.ones((COUNT, 1)), np.arange(9.0), 30.0, x
    )
    return replace(made, **{name: np.full(COUNT, value) for name, value in about.items()})


def fish(x, y, depth, path=None, ping=0, drawn=None):
    x = np.asarray(x, float)
    depth = np.zeros(len(x)) + depth
    slant = depth if drawn is None else np.asarray(drawn, float)
    return FishTruth(
        np.arange(len(x)), ("f",) * len(x), x, np.zeros(len(x)) + y, depth, np.full(len(x), 0.3), np.ones(len(x)),
        np.full((1, len(x)), -35.0), np.full((1, len(x)), ping), slant[None], path,
    )  # fmt: skip


def seen(made, place, ping=0):
    found = geometry.view(made, np.array([ping]), np.array(place, float)[:, None, None])
    return [float(value[0, 0]) for value in (found.along, found.across, found.out, found.slant)]


@pytest.mark.parametrize(
    ("about", "place", "wanted"),
    [
        # Along, across, out: a level boat sees the world, from its face half a metre down.
        ({}, (3.0, 4.0, 12.5), (3.0, 4.0, 12.0)),
        ({"heave": 0.2}, (0.0, 0.0, 12.5), (0.0, 0.0, 12.2)),  # lifted: farther from the ground
        ({"y": 1.0}, (0.0, 4.0, 12.5), (0.0, 3.0, 12.0)),
        # Starboard down by 30 deg: what is straight below lies to starboard of the axis.
        ({"roll": 30.0}, (0.0, 0.0, 10.5), (0.0, 5.0, 10 * math.cos(math.pi / 6))),
        # Bow up by 30 deg: the axis leans forward, what is straight below lies behind it.
        ({"pitch": 30.0}, (0.0, 0.0, 10.5), (-5.0, 0.0, 10 * math.cos(math.pi / 6))),
        # Bow up by 90 deg, then starboard down by 90: what is ahead of the boat is ... along the axis of pitch alone.
        ({"pitch": 90.0}, (7.0, 0.0, 0.5), (0.0, 0.0, 7.0)),
        ({"roll": 90.0}, (0.0, 7.0, 0.5), (0.0, 0.0, -7.0)),
        # Roll turns first, about the boat's own bow.
        ({"roll": 90.0, "pitch": 90.0}, (0.0, 7.0, 0.5), (0.0, 0.0, -7.0)),
        ({"roll": 90.0, "pitch": 90.0}, (0.0, 0.0, -6.5), (7.0, 0.0, 0.0)),
        # An element's own tilt: towards the bow, to starboard.
        ({"extra": {"tilt_along": 30.0}}, (0.0, 0.0, 10.5), (-5.0, 0.0, 10 * math.cos(math.pi / 6))),
        ({"extra": {"tilt_across": 30.0}}, (0.0, 0.0, 10.5), (0.0, -5.0, 10 * math.cos(math.pi / 6))),
        ({"extra": {"tilt_across": 45.0}}, (0.0, 3.0, 3.5), (0.0, 0.0, 3 * math.sqrt(2))),
        ({"extra": {"tilt_along": 45.0, "tilt_across": 45.0}}, (3.0, 3.0, 3.5), (0.0, 0.0, 3 * math.sqrt(3))),
    ],
)  # fmt: skip
def test_a_place_in_the_elements_own_axes(about, place, wanted):
    made = element(**about)
    found = seen(made, place)
    assert found[:3] == pytest.approx(wanted, abs=1e-9)
    assert found[3] == pytest.approx(math.dist(wanted, (0, 0, 0)))
    off = geometry.view(made, np.array([0]), np.array(place, float)[:, None, None]).off_axis[0, 0]
    assert off == pytest.approx(math.degrees(math.atan2(math.hypot(*wanted[:2]), wanted[2])), abs=1e-9)


def test_each_trial_is_seen_as_when_all_fish_are():
    """More pings than one block of 64, out of order, a swimming fish, a boat that turns."""
    time = np.array([0.0, 40.0])
    place = np.stack([[[0.0, 50.0, 9.0], [400.0, 60.0, -3.0]], [[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]],
                      [[10.0, 11.0, 12.0], [20.0, 21.0, 22.0]]])  # fmt: skip
    swimmers = fish([0.0, 50.0, 9.0], 0.0, 10.0, path=Paths(time, place))
    rng = np.random.default_rng(1)
    made = replace(
        element(), roll=rng.normal(0, 9, COUNT), pitch=rng.normal(0, 9, COUNT), heave=rng.normal(0, 1, COUNT)
    )
    ping, owner = rng.integers(0, COUNT, 300), rng.integers(0, 3, 300)
    found = geometry.of_trials(made, swimmers, ping, owner)
    whole = geometry.view(made, np.arange(COUNT), swimmers.at(made.ping_time))
    for name in ("slant", "along", "across", "out"):
        assert getattr(found, name) == pytest.approx(getattr(whole, name)[ping, owner], abs=1e-9), name
    # By hand, of a level boat: half of the way after 20 s, in ping 100 at 200 m.
    level = geometry.of_trials(element(), swimmers, np.array([100]), np.array([0]))
    assert (level.along[0], level.across[0], level.out[0]) == pytest.approx((0.0, 2.5, 14.5))
    assert level.slant[0] == pytest.approx(math.hypot(2.5, 14.5))


@pytest.mark.parametrize(
    ("drawn", "ratio"),
    [(20.5, 1.0), (20.9, 1.02), (10.6, 0.505), (10.4, 1.0), (40.4, 1.995), (40.6, 1.0), (np.nan, 1.0)],
)
def test_drawn_range_over_slant_range_where_it_is_believable(drawn, ratio):
    """A fish 20 m below the face; more than half, less than twice."""
    assert geometry.drawn_over_slant(element(), fish([0.0], 0.0, 20.5, drawn=[drawn]))[0] == pytest.approx(ratio)


def test_the_ratio_is_taken_at_the_nearest_ping():
    one = fish([100.0, 100.0], [0.0, 15.0], 20.5, ping=50, drawn=[22.5, 25.5])
    assert geometry.drawn_over_slant(element(), one) == pytest.approx([1.1, 1.0])


def test_the_ground_is_drawn_below_the_face_by_its_assumed_sound_speed():
    """30 m of water, 0.5 m of draft, lifted by 0.2 m: 29.7 m; at 1500 for a mean of 1470 m/s 2 % more."""
    assert geometry.ground_range(element(heave=0.2)) == pytest.approx(29.7)
    slow = element(heave=0.2, extra={"mean_sound_speed": 1470.0})
    assert geometry.ground_range(slow) == pytest.approx(29.7 * 1500 / 1470)


@pytest.mark.parametrize(
    ("box", "near", "far"),
    [
        ((4.0, 7.0, -1.0, 2.0, 12.5, 16.5), 160**0.5, 309**0.5),
        ((-7.0, -4.0, -2.0, -1.0, 12.5, 16.5), 161**0.5, 309**0.5),
        ((-1.0, 2.0, 3.0, 5.0, 0.0, 16.5), 9**0.5, 285**0.5),
        ((-3.0, 2.0, -1.0, 1.0, 0.0, 8.5), 0.0, 74**0.5),
    ],
)  # fmt: skip
def test_nearest_and_farthest_point_of_a_box(box, near, far):
    """From a face at 0, 0, half a metre down; then after 1 s, in ping 5 at x = 10 m, drifted as far as the boat."""
    low, high = geometry.box_ranges(element(), np.array([0]), SoftTruth("school", "s", box))
    assert (low[0], high[0]) == pytest.approx((near, far))
    along = SoftTruth("school", "s", box, drift=(10.0, 0.0, 0.0))
    low, high = geometry.box_ranges(element(), np.array([5, 0]), along)
    assert low == pytest.approx([near, near])
    assert high == pytest.approx([far, far])


@pytest.mark.parametrize(
    ("x", "y", "top", "distance", "angle"),
    [
        ((-1.0, 1.0), (-1.0, 1.0), 20.5, 20.0, 0.0),
        ((15.0, 18.0), (-1.0, 1.0), 20.5, 25.0, math.degrees(math.atan(0.75))),
        ((-18.0, -15.0), (-1.0, 1.0), 20.5, 25.0, math.degrees(math.atan(0.75))),
        ((-1.0, 1.0), (15.0, 18.0), 20.5, 25.0, math.degrees(math.atan(0.75))),
        ((9.0, 12.0), (12.0, 18.0), 20.5, 25.0, math.degrees(math.atan(0.75))),
        ((15.0, 18.0), (-1.0, 1.0), 0.2, 15.0, 90.0),  # beside the face
    ],
)
def test_the_nearest_point_of_a_structures_box_and_its_direction(x, y, top, distance, angle):
    side, plan = np.array([[x[0], 29.0], [x[1], top]]), np.array([[x[0], y[0]], [x[1], y[1]]])
    box = StructureTruth("box", "steel", side[::-1], side, plan[::-1])
    found = geometry.structure_range(element(), np.array([0]), box)
    assert (found[0][0], found[1][0]) == pytest.approx((distance, angle))
