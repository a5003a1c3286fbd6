"""From pings to marks: spans, strongest peaks, who is judged when, and by which rule; by hand."""

from dataclasses import replace

import measure_lab as lab
import numpy as np
import pytest
from pingwright.echograms.record import FishTruth, StructureTruth, Surroundings, Truth
from pingwright.measure import marks
from pingwright.measure.beside import COLUMNS
from pingwright.measure.cells import grid
from pingwright.measure.judgements import Trials
from pingwright.measure.separated import Verdicts


def run(count=121, step=0.5, x=None, **about):
    """A boat along x, or at some places; 20 samples of silence."""
    place = step * np.arange(count) if x is None else x
    return lab.element(lab.info(**about), np.ones((len(place), 20)), np.arange(20) * 2.0, 30.0, place)


def fishes(x, depth=20.0, y=0.0, nearest=None, length=0.1, height=10.0):
    x = np.asarray(x, float)
    nearest = np.rint(x / 0.5) if nearest is None else np.asarray(nearest)
    full = np.ones(len(x))
    return FishTruth(
        np.arange(len(x)), ("f",) * len(x), x, y * full, depth * full, length * full, height * full,
        np.full((1, len(x)), -35.0), nearest.astype(int)[None], depth * full[None],
    )  # fmt: skip


def test_a_pass_counts_its_pings_and_reads_its_strongest_peak():
    """Three passes of 4, 0 and 5 pings."""
    owner = np.array([0] * 4 + [2] * 5)
    trials = Trials(owner, np.array([3, 4, 5, 6, 10, 11, 12, 13, 20]), np.full(9, 20.0), np.full(9, 0.1))
    detected = np.array([1, 1, 1, 0, 0, 1, 0, 1, 1], dtype=bool)
    separated = np.array([1, 1, 1, 0, 0, 1, 0, 0, 1], dtype=bool)
    peak = np.where(detected, 20.0 + 0.1 * np.arange(9), np.nan)
    strength = np.where(detected, [-40.0, -35, -38, 0, 0, -50, 0, -49, -51], np.nan)
    found = marks.passes_of(run(), trials, Verdicts(detected, separated, peak, strength), 3)
    assert found.in_beam.tolist() == [4, 0, 5]
    assert found.detected.tolist() == [3, 0, 3]
    assert found.separated.tolist() == [3, 0, 2]
    # Three with one missed between are a mark; the last two of them are separated, which is not enough.
    assert found.is_detected.tolist() == [True, False, True]
    assert found.is_separated.tolist() == [True, False, False]
    assert found.length[[0, 2]].tolist() == [1.0, 4.5]  # pings half a metre apart
    assert found.depth[[0, 2]] == pytest.approx([0.2, 0.3])
    assert found.peak[[0, 2]] == pytest.approx([20.1, 20.7])
    assert found.strength[[0, 2]].tolist() == [-35.0, -49.0]
    assert np.isnan([found.length[1], found.depth[1], found.peak[1], found.strength[1]]).all()
    assert marks.marks(found) == ("separated", "not_shown", "merged")
    assert found.in_beam.dtype == found.detected.dtype == found.separated.dtype == np.int64


def test_marks_of_one_ping():
    both = Verdicts(np.array([True, True, False]), np.array([True, False, False]), np.zeros(3), np.zeros(3))
    assert marks.single(both) == ("separated", "merged", "not_shown")


def test_an_anchored_boat_judges_150_pings_to_either_side_of_the_nearest():
    made = run(x=np.zeros(400))
    trials = marks.fish_trials(made, Truth(fishes([0.0, 0.0], nearest=[200, 100])), grid(made))
    assert trials.ping[trials.owner == 0].tolist() == list(range(50, 351))
    assert trials.ping[trials.owner == 1].tolist() == list(range(251))
    assert trials.owner.tolist() == sorted(trials.owner.tolist())


@pytest.mark.parametrize(("length", "within"), [(0.1, 3 * 1500 / 160e3), (0.112, 3 * 1500 / 160e3), (1.0, 0.25)])
def test_how_far_off_a_peak_counts(length, within):
    """Three cells of 9.4 mm, or a quarter of the fish's length."""
    made, truth = run(), Truth(fishes([30.0], length=length))
    for trials in (marks.fish_trials(made, truth, grid(made)), marks._nearest(made, truth, grid(made))):
        assert trials.within == pytest.approx(within)


def test_each_judgement_once():
    """The nearest ping of a fish in its pass is not judged twice; one outside its pass is judged all the same."""
    made = run()
    truth = Truth(fishes([30.0, 30.0], y=np.array([0.0, 15.0])))
    found = marks.judged(made, truth, grid(made))
    assert found.owner.tolist() == [0] * 13 + [1]
    assert found.ping.tolist() == [*range(54, 67), 60]
    assert found.range[-1] == 20.0  # where the truth says it is drawn


def test_passes_without_fish_have_nothing_known_around():
    own, near = np.full((3, COLUMNS), 1.0), np.full((2, COLUMNS), 2.0)
    laid = marks._laid([own, near], 4)
    assert laid.shape == (9, COLUMNS)
    assert (laid[:3] == 1.0).all()
    assert np.isnan(laid[3:7]).all()
    assert (laid[7:] == 2.0).all()
    assert marks._laid([None, near], 4) is None
    assert marks._laid([own, None], 4) is None


def test_by_which_rule_each_fish_is_judged():
    """Ground near fish 0 and 1, a structure near 1 and 2; in files that say nothing, a structure near is unknown."""
    made = run(pulse_length=2e-4)
    truth = Truth(fishes([10.0, 12.0, 30.0, 50.0]))
    near = (np.array([0, 0, 1]), np.array([1, 2]))
    none = marks.fish_trials(made, truth, grid(made))
    assert marks._rules(made, truth, none, near, 4) == ("ground", "both", "structure", "levels")
    side, plan = np.array([[29.0, 30.0], [31.0, 19.0]]), np.array([[29.0, -1.0], [31.0, 1.0]])
    wreck = Truth(truth.fish, (StructureTruth("w", "steel", side, side, plan),))
    nobody = (np.zeros(0, int), np.zeros(0, int))
    assert marks._rules(made, wreck, none, nobody, 4) == ("levels", "levels", "unknown", "levels")
    says = replace(wreck, surroundings=Surroundings(*[np.zeros(0, int)] * 3, np.zeros((0, COLUMNS))))
    assert marks._rules(made, says, none, nobody, 4) == ("levels",) * 4


@pytest.mark.parametrize("count", [1, 63, 64, 65, 130])
def test_blocks_of_pings_are_read_each_once_and_in_order(count):
    """A bottom in every ping, one sample deeper each; a fish of -35 dB 3 m above it in some."""
    samples = 900
    level = np.full((count, samples), 20.0)
    for ping in range(count):
        level[ping, 400 + ping : 440 + ping] = 160.0
        level[ping, 100 + ping] = 215.0 - 40 * np.log10(4.0 + 0.01 * (100 + ping)) - 35.0
    made = lab.element(lab.info(bandwidth=75e3, noise=20.0), 10 ** (level / 20), 4.0 + 0.01 * np.arange(samples))
    ping = np.arange(count)[::-1]
    trials = Trials(np.arange(count), ping, 5.0 + 0.01 * ping, np.full(count, 0.03))
    there = np.ones(count, dtype=bool)
    found, verdicts = marks._read(made, grid(made), trials, None, there, ~there, -60.0, 1e-4)
    assert found.pick == pytest.approx(8.0 + 0.01 * np.arange(count), abs=0.011)
    assert verdicts.detected.all()
    assert verdicts.separated.all()
    assert verdicts.peak == pytest.approx(trials.range, abs=1e-6)
    assert verdicts.strength == pytest.approx(-35.0, abs=0.01)


def test_fish_over_steep_ground_lend_no_passes_and_those_beside_structures_do():
    made = lab.element(lab.info(noise=20.0), np.ones((121, 2100)), np.arange(2100) * 0.01, 30.0, 0.5 * np.arange(121))
    fish = fishes([20.0, 40.0])
    held = Surroundings(np.zeros(2, int), np.array([0, 1]), np.array([40, 80]), np.zeros((2, COLUMNS)),
                        np.array([True, False]))  # fmt: skip
    scored = marks.score_element(made, Truth(fish, surroundings=held))
    assert np.unique(scored.lender).tolist() == [1]
    assert scored.rule == ("ground", "structure")
    assert np.unique(marks.score_element(made, Truth(fish)).lender).tolist() == [0, 1]
    # The bottom, 30 m down, lies beyond the record of 21 m: none of it was lost.
    assert not scored.lost.any()
    shallow = replace(made, bottom_depth=np.full(121, 20.0))
    assert marks.score_element(shallow, Truth(fish)).lost.all()


def test_files_that_do_not_say_what_is_near_take_ground_where_no_structure_is():
    made = lab.element(lab.info(noise=20.0), np.ones((121, 2100)), np.arange(2100) * 0.01, 30.0, 0.5 * np.arange(121))
    held = Surroundings(np.zeros(1, int), np.zeros(1, int), np.array([40]), np.zeros((1, COLUMNS)))
    scored = marks.score_element(made, Truth(fishes([20.0, 40.0]), surroundings=held))
    assert scored.rule == ("ground", "levels")
    assert np.unique(scored.lender).tolist() == [1]


def test_only_the_passes_of_fish_have_a_fish_in_them(monkeypatch):
    """Not those moved to other places; and the nearest pings, which are judged a second time, do not count again."""
    seen = {}
    read = marks._read

    def watched(element, cells, trials, around, there, *rest):
        seen["there"], seen["trials"] = there, trials
        return read(element, cells, trials, around, there, *rest)

    monkeypatch.setattr(marks, "_read", watched)
    made = lab.element(lab.info(noise=20.0), np.ones((121, 2100)), np.arange(2100) * 0.01, 30.0, 0.5 * np.arange(121))
    scored = marks.score_element(made, Truth(fishes([20.0, 40.0])))
    own = len(scored.trials)
    assert seen["there"].tolist() == [True] * own + [False] * (len(seen["trials"]) - own)
    assert len(seen["trials"]) - own == scored.blank.in_beam.sum() + 2
