"""Marks over a pass, passes moved to where nothing is, and reasons: against geometry and echoes made by hand."""

import math
from dataclasses import replace

import measure_lab as lab
import numpy as np
import pytest
from pingwright.echograms.record import FishTruth, Paths, SoftTruth, StructureTruth, Truth
from pingwright.measure import blank, marks, reasons, share
from pingwright.measure.cells import grid
from pingwright.measure.geometry import view
from pingwright.measure.judgements import Trials
from scipy import stats

COUNT, STEP, DEPTH = 121, 0.5, 30.0
BOAT = np.arange(COUNT) * STEP
PINGS = np.arange(COUNT)


def element(echoes=(), samples=4096, **about):
    """A run along x at y = 0, 0 to 60 m, silent but for echoes (ping, range [m], level [dB re 1 uPa])."""
    level = np.full((COUNT, samples), 0.0)
    for ping, distance, loud in echoes:
        level[ping, round(distance / 0.01)] = loud
    return lab.element(lab.info(**about), 10 ** (level / 20), np.arange(samples) * 0.01, DEPTH, BOAT)


def fishes(x, depth, y=0.0, strength=-35.0, path=None):
    x, depth = np.atleast_1d(np.asarray(x, float)), np.atleast_1d(np.asarray(depth, float))
    y = np.zeros(len(x)) + y
    nearest = np.clip(np.rint(x / STEP), 0, COUNT - 1).astype(int)
    return FishTruth(
        np.arange(len(x)), ("fish",) * len(x), x, y, depth, np.full(len(x), 0.1), DEPTH - depth,
        np.full((1, len(x)), strength), nearest[None, :], np.hypot(depth, y)[None, :], path,
    )  # fmt: skip


def echo(distance, strength, source=215.0):
    """Level of a point on the axis by the contract's formula, no absorption."""
    return source - 40 * math.log10(distance) + strength


@pytest.mark.parametrize(("roll", "pitch", "tilt"), [(20.0, 0.0, (0, 20)), (0.0, -20.0, (20, 0)), (0.0, 0.0, (0, 0))])
def test_a_tilt_that_undoes_the_boats_turn_leaves_the_axis_straight_down(roll, pitch, tilt):
    """Starboard down turns the axis to port, bow up turns it forward: an opposite tilt brings it back."""
    made = element(extra={"tilt_along": float(tilt[0]), "tilt_across": float(tilt[1])})
    made = replace(made, roll=np.full(COUNT, roll), pitch=np.full(COUNT, pitch))
    place = np.zeros((3, 1, 1))
    place[2] = 10.0
    seen = view(made, np.array([0]), place)
    assert seen.off_axis[0, 0] == pytest.approx(0.0, abs=1e-5)
    assert seen.slant[0, 0] == pytest.approx(10.0)


def test_directions_of_a_level_boat_are_those_of_the_world():
    place = np.array([3.0, 4.0, 12.0])[:, None, None]
    seen = view(element(), np.array([0]), place)
    assert (seen.along[0, 0], seen.across[0, 0], seen.out[0, 0]) == pytest.approx((3.0, 4.0, 12.0))
    assert seen.slant[0, 0] == pytest.approx(13.0)


def test_a_pass_is_the_pings_whose_main_lobe_holds_the_fish():
    """8 deg wide at -3 dB, no pattern recorded: the lobe ends at 1.2 x 8 = 9.6 deg, 20 tan 9.6 = 3.38 m: 6 pings."""
    made = element()
    trials = marks.fish_trials(made, Truth(fishes(30.0, 20.0)), grid(made))
    assert trials.ping.tolist() == list(range(54, 67))
    assert trials.range == pytest.approx(np.hypot(20.0, BOAT[54:67] - 30.0))


def test_a_swimmer_is_judged_where_it_is():
    """Along with the boat and 20 m down: right below it in every ping."""
    time = np.arange(COUNT) * 0.2  # of the laboratory's pings
    place = np.stack([BOAT, np.zeros(COUNT), np.full(COUNT, 20.0)])[:, :, None]
    made = element()
    trials = marks.fish_trials(made, Truth(fishes(30.0, 20.0, path=Paths(time, place))), grid(made))
    assert len(trials) == COUNT
    assert trials.range == pytest.approx(20.0)


@pytest.mark.parametrize(
    ("hits", "mark", "reason"),
    [((59, 60, 61), "separated", ""), ((58, 60, 62), "separated", ""), ((60, 61), "not_shown", "few"),
     ((56, 60, 64), "not_shown", "few")],
)  # fmt: skip
def test_three_pings_with_one_missed_between_make_a_mark(hits, mark, reason):
    """The contract's rule, on echoes of -35 dB put into some pings; the window ends ahead of the bottom."""
    far = [math.hypot(20.0, 30.0 - BOAT[k]) for k in hits]
    made = element([(k, r, echo(r, -35.0)) for k, r in zip(hits, far, strict=True)], samples=2100, noise=20.0)
    truth = Truth(fishes(30.0, 20.0))
    scored = marks.score_element(made, truth)
    assert marks.marks(scored.fish) == (mark,)
    assert scored.fish.detected.tolist() == [len(hits)]
    assert reasons.reasons(made, truth, scored) == (reason,)
    assert scored.fish.length[0] == pytest.approx((hits[-1] - hits[0]) * STEP)
    assert scored.fish.depth[0] == pytest.approx(max(far) - min(far), abs=0.011)
    assert marks.single(scored.nearest) == ("separated" if 60 in hits else "not_shown",)


def test_reasons_from_the_sonar_equation():
    """Beside the beam; mean echo under the floor; over it, but under the noise: 215 - 40 log 20 - 55 = 108 dB."""
    about = {"samples": 2100, "noise": 20.0}
    cases = [
        (fishes(30.0, 10.0, y=15.0), about, "outside"),
        (fishes(30.0, 20.0, strength=-75.0), about, "floor"),
        (fishes(30.0, 20.0, strength=-55.0), about | {"noise": 105.0}, "noise"),
    ]
    for fish, keys, reason in cases:
        made, truth = element(**keys), Truth(fish)
        assert reasons.reasons(made, truth, marks.score_element(made, truth)) == (reason,)


def test_the_reason_of_a_fish_in_a_crowd_is_judged_by_the_rule_of_its_mark():
    """Its echo of -50 dB is missing in the recording; around it are louder fish, which are no reverberation."""
    made = element(samples=2400, noise=20.0)
    cell = grid(made).cell
    others = [20.0 + side * (3 + 3 * k) * cell for side in (-1, 1) for k in range(1, 8)]
    crowd = [
        (k, math.hypot(r, 30.0 - BOAT[k]) + off * 0.01, echo(r, -42.0))
        for k in range(54, 67) for r in others for off in range(-round(150 * cell), round(150 * cell) + 1)
    ]  # fmt: skip
    made = element(crowd, samples=2400, noise=20.0)
    truth = Truth(fishes([30.0] * 15, [20.0, *others], strength=np.array([-50.0] + [-42.0] * 14)))
    scored = marks.score_element(made, truth)
    assert reasons.reasons(made, truth, scored)[0] == "faded"
    alone = Truth(fishes(30.0, 20.0, strength=-50.0))
    assert reasons.reasons(made, alone, marks.score_element(made, alone)) == ("surroundings",), "not known as fish"


def test_what_lies_behind_the_pick_is_in_the_bottom_or_behind_a_structure():
    made, truth = element(samples=2100, noise=20.0), Truth(fishes(30.0, 20.0))
    scored = marks.score_element(made, truth)
    picked = replace(scored, bottom=replace(scored.bottom, pick=np.full(COUNT, 19.0), peak=np.full(COUNT, 1950)))
    assert reasons.reasons(made, truth, picked) == ("bottom",)
    side = np.array([[25.0, 30.0], [35.0, 30.0], [35.0, 18.0], [25.0, 18.0]])
    plan = np.array([[25.0, -2.0], [35.0, -2.0], [35.0, 2.0], [25.0, 2.0]])
    wreck = Truth(truth.fish, (StructureTruth("w", "steel", side, side, plan),))
    assert reasons.reasons(made, wreck, picked) == ("structure",)


def moved(truth, made=None):
    made = element() if made is None else made
    return blank.blank_trials(made, truth, marks.fish_trials(made, truth, grid(made)))[0]


def test_moved_passes_keep_clear_of_the_fish_themselves():
    trials = moved(Truth(fishes(30.0, 20.0)))
    assert len(np.unique(trials.owner)) > 50
    slant = np.hypot(20.0, BOAT[trials.ping] - 30.0)
    # Source: the docstring's margin: twice 3 cells and 6 cells of 1500 / (2 x 80 kHz), within 1.5 x 9 deg of the axis.
    near = (np.abs(slant - trials.range) < 12 * 1500 / 160e3) & (np.abs(BOAT[trials.ping] - 30) < 20 * math.tan(0.2356))
    assert not near.any()


def test_a_moved_pass_names_the_fish_it_was_taken_from():
    """A low fish has false alarms of the ground beside it; one far above it has not, and is not charged with them."""
    made = element([(k, 18.0, echo(18.0, -30.0)) for k in range(COUNT)])  # something that is no fish, in every ping
    truth = Truth(fishes([30.0, 40.0], [18.0, 12.0]))
    scored = marks.score_element(made, truth)
    assert set(scored.lender.tolist()) == {0, 1}
    own = [scored.blank.is_detected[scored.lender == fish].mean() for fish in (0, 1)]
    assert own[0] > own[1] == 0


def test_a_school_and_a_target_are_real_and_a_swimmer_is_where_it_is_in_that_ping():
    """The fish of review 1.5: members of a school at the fish's own depth were counted as false."""
    fish = fishes(30.0, 20.0)
    made = element()
    free = len(moved(Truth(fish)))
    school = SoftTruth("school", "s", (0.0, 60.0, -5.0, 5.0, 18.0, 22.0))
    assert len(moved(Truth(fish, (), (school,)))) == 0
    away = replace(school, drift=(0.0, 1e3, 0.0))  # gone after the first ping
    assert len(moved(Truth(fish, (), (away,)))) > 0.8 * free
    target = SoftTruth("target", "t", (10.0, 10.0, 0.0, 0.0, 20.0, 20.0))
    one = Trials(np.zeros(2, int), np.array([20, 90]), np.array([20.0, 20.0]), np.array([0.03, 0.03]))
    assert blank.near_real(made, Truth(fishes([], []), (), (target,)), one).tolist() == [True, False]
    place = np.stack([BOAT, np.zeros(COUNT), np.full(COUNT, 20.0)])[:, :, None]
    swimmer = Truth(fishes(30.0, 20.0, path=Paths(np.arange(COUNT) * 0.2, place)))
    assert blank.near_real(made, swimmer, one).tolist() == [True, True]


def test_no_moved_pass_over_a_structure():
    plan = np.array([[20.0, -3.0], [25.0, -3.0], [25.0, 3.0], [20.0, 3.0]])
    barge = StructureTruth("barge", "steel", plan, plan, plan)
    made = element()
    margin = DEPTH * math.tan(math.radians(8.0))
    over = blank.over_structure(made, Truth(fishes([], []), (barge,)))
    assert np.flatnonzero(over).tolist() == [k for k in range(COUNT) if 20 - margin < BOAT[k] < 25 + margin]
    trials = moved(Truth(fishes(50.0, 20.0), (barge,)))
    assert len(trials)
    assert not over[trials.ping].any()


def test_shares_are_clopper_pearsons():
    got = share.share(np.array([True, True, False]))
    exact = stats.binomtest(2, 3).proportion_ci(0.95, method="exact")
    assert (got.hits, got.of, got.value) == (2, 3, pytest.approx(2 / 3))
    assert (got.low, got.high) == pytest.approx((exact.low, exact.high))
    assert math.isnan(share.share([]).value)


def test_every_reason_has_words():
    assert all(words and not words.endswith(".") for words in reasons.REASONS.values())


def test_a_world_without_noise_shows_its_fish():
    far = [math.hypot(20.0, 30.0 - BOAT[k]) for k in (59, 60, 61)]
    made = element([(k, r, echo(r, -35.0)) for k, r in zip((59, 60, 61), far, strict=True)], samples=2100)
    stored = np.where(np.asarray(made.echo_level) < 0, -32766, made.echo_level).astype(np.int16)
    silent = replace(made, info=replace(made.info, noise_level=-np.inf), echo_level=stored)
    with np.errstate(divide="raise", invalid="raise"):
        assert marks.marks(marks.score_element(silent, Truth(fishes(30.0, 20.0))).fish) == ("separated",)
