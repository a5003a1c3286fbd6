"""What an assessment holds where nothing was asked for, and which share stands for an element."""

import math
from types import SimpleNamespace

import measure_lab as lab
import numpy as np
import pytest
from pingwright.echograms.record import FreshPasses, Record, Truth
from pingwright.measure import assess
from pingwright.measure.assessment import Assessment, ClosedForm, ElementAssessment, Share
from pingwright.measure.certainty import Repeated
from pingwright.measure.detect import Peaks
from pingwright.measure.judgements import Trials
from pingwright.measure.judgements import joined as joined_trials
from test_measure_marks import BOAT, echo, element, fishes

NONE = np.zeros(0)
SHARE = Share(1, 4, 0.25, 0.0, 0.8)


def plain(**given):
    return ElementAssessment(
        "a", "a", (), np.zeros(0, int), NONE, NONE, NONE, NONE, NONE, NONE, NONE, {}, SHARE, SHARE,
        Share(0, 9, 0.0, 0.0, 0.3), 0.01, 0.0, 0.0, ClosedForm(*[1.0] * 3, "", *[1.0] * 8), **given,
    )  # fmt: skip


def test_what_is_not_given_is_empty():
    found = plain()
    for name in ("pings_in_beam", "pings_detected", "pings_separated", "arch_length", "arch_depth", "false_alarms_of"):
        assert getattr(found, name).shape == (0,), name
    assert found.pings_in_beam.dtype == found.pings_detected.dtype == found.pings_separated.dtype == np.int64
    assert (found.nearest_mark, found.reason, found.rule, found.passes) == ((), (), (), None)
    assert (found.bottom_lost, dict(found.extra)) == (0, {})
    whole = Assessment("t", -60.0, (found,), {})
    assert (whole.either_detected, whole.either_separated) == (None, None)


def test_fresh_passes_say_more_than_one_recording():
    passes = Repeated(np.ones((4, 2), dtype=bool), np.array([[True, False]] * 4))
    assert plain().overall is SHARE
    assert plain(passes=passes).overall == passes.separates()
    assert plain(passes=passes).overall.hits == 4


def test_each_element_has_its_own_fresh_passes():
    """(pass, element, fish); without passes or fish there are none."""
    detected = np.arange(12).reshape(2, 2, 3) % 2 == 0
    separated = np.arange(12).reshape(2, 2, 3) % 4 == 0
    second = assess._repeated(FreshPasses(detected, separated), 1)
    assert second.detected.tolist() == [[False, True, False], [False, True, False]]
    assert second.separated.tolist() == [[False, True, False], [False, False, False]]
    assert assess._repeated(None, 0) is None
    assert assess._repeated(FreshPasses(detected[:, :, :0], separated[:, :, :0]), 0) is None


@pytest.mark.parametrize(
    ("text", "law"),
    [("", "kirchhoff"), ("[seabed]\nlaw = 'small-slope'\n", "small-slope"), ("[seabed]\n", "kirchhoff"),
     ("not a table", "kirchhoff")],
)  # fmt: skip
def test_the_law_of_the_bottom_is_the_scenarios(text, law):
    assert assess._law_of(text) == law


def test_trials_by_owner_side_by_side():
    """Owners 0, 2 and 3 of four; the widest has three pings, the others are filled up with False."""
    owner = np.array([0, 0, 2, 3, 3, 3])
    some = Trials(owner, np.arange(6), np.arange(6.0), np.full(6, 0.1))
    table = some.table(np.array([True, False, True, False, True, True]), 4)
    assert table.tolist() == [[True, False, False], [False] * 3, [True, False, False], [False, True, True]]
    assert some.keep(np.zeros(0, int)).table(np.zeros(0, bool), 2).shape == (2, 0)
    kept = some.keep(owner == 3)
    assert (kept.ping.tolist(), kept.range.tolist(), len(kept)) == ([3, 4, 5], [3.0, 4.0, 5.0], 3)
    both = joined_trials([kept, some])
    assert both.owner.tolist() == [3, 3, 3, 0, 0, 2, 3, 3, 3]
    assert (both.within.tolist(), both.owner.dtype, both.ping.dtype) == ([0.1] * 9, np.int64, np.int64)


def test_peaks_one_after_the_other():
    values = [np.arange(2) + 10 * k for k in range(6)]
    both = Peaks(*values).and_(Peaks(*(value + 100 for value in values)))
    assert (both.row.tolist(), both.threshold.tolist()) == ([0, 1, 100, 101], [50, 51, 150, 151])
    kept = both.keep(np.array([False, True, True, False]))
    assert [getattr(kept, name).tolist() for name in vars(kept)] == [[1 + 10 * k, 100 + 10 * k] for k in range(6)]
    assert len(kept) == 2


def recorded(made, truth):
    return Record("t", 1, "", "", made, truth, np.zeros((2, 2)), np.zeros((2, 2)))


def test_false_alarms_by_the_fish_that_lent_the_passes():
    """Fish 0 lent two passes, fish 2 three, fish 4 one, the others none."""
    hits = SimpleNamespace(is_separated=np.array([True, True, True, False, False, True]))
    scored = SimpleNamespace(ping=np.zeros(5), lender=np.array([0, 2, 2, 0, 2, 4]), blank=hits)
    found = assess._by_fish(scored)
    assert found[[0, 2, 4]] == pytest.approx([0.5, 2 / 3, 1.0])
    assert np.isnan(found[[1, 3]]).all()


def test_the_spread_of_the_bottoms_error_is_half_of_the_middle_68_hundredths():
    """25 pings: errors of k^2 mm, so that no two steps are alike; places 0.16, 0.5 and 0.84 of the 24 steps."""
    level = np.full((25, 600), 60.0)
    level[:, 300:320] = 100.0
    made = lab.element(lab.info(bandwidth=75e3, noise=20.0, source=120.0), 10 ** (level / 20),
                       4.0 + 0.004 * np.arange(600), 4.0 + 0.004 * 300 - 1e-3 * np.arange(25.0) ** 2)  # fmt: skip
    (only,) = assess.assess(recorded((made,), Truth(fishes([], [])))).elements
    error = np.sort(only.bottom_error)
    assert error - error[0] == pytest.approx(1e-3 * np.arange(25.0) ** 2)
    assert only.bottom_error_median == pytest.approx(error[12])
    low, high = (1 - 0.84) * error[3] + 0.84 * error[4], 0.84 * error[20] + 0.16 * error[21]
    assert only.bottom_error_spread == pytest.approx((high - low) / 2)
    assert only.bottom_peak == pytest.approx(4.0 + 0.004 * 300)


def test_a_fish_that_its_nearest_ping_misses_has_the_strongest_peak_of_its_pass():
    """Pings 58 to 62 but the nearest, 60; the strongest in ping 61."""
    shown = {58: -38.0, 59: -36.0, 61: -33.0, 62: -37.0}
    far = {k: math.hypot(20.0, 30.0 - BOAT[k]) for k in shown}
    made = element([(k, far[k], echo(far[k], shown[k])) for k in shown], samples=2100, noise=20.0)
    truth = Truth(fishes(30.0, 20.0))
    (only,) = assess.assess(recorded((made,), truth)).elements
    assert (only.nearest_mark, only.mark) == (("not_shown",), ("separated",))
    assert only.fish_peak[0] == pytest.approx(math.hypot(20.0, 0.5), abs=0.006)
    assert only.fish_strength[0] == pytest.approx(-33.0, abs=0.05)
    assert (only.pings_in_beam.tolist(), only.pings_detected.tolist()) == ([13], [4])
    assert only.rule == ("levels",)
    # With its nearest ping that one counts, although another is stronger.
    near = element([(60, 20.0, echo(20.0, -39.0)), (61, math.hypot(20.0, 0.5), echo(20.0, -33.0))],
                   samples=2100, noise=20.0)  # fmt: skip
    (only,) = assess.assess(recorded((near,), truth)).elements
    assert (only.nearest_mark, only.mark, only.reason) == (("separated",), ("not_shown",), ("few",))
    assert only.fish_strength[0] == pytest.approx(-39.0, abs=0.05)
    assert only.fish_peak[0] == pytest.approx(20.0, abs=0.006)


def test_elements_may_be_judged_side_by_side_and_either_counts():
    """One element shows the first fish, the other the second."""
    pings = {30.0: (59, 60, 61), 10.0: (19, 20, 21)}
    made = [
        element([(k, math.hypot(20.0, x - BOAT[k]), echo(math.hypot(20.0, x - BOAT[k]), -35.0)) for k in pings[x]],
                samples=2100, noise=20.0, position=position)
        for position, x in enumerate((30.0, 10.0))
    ]  # fmt: skip
    fish = fishes([30.0, 10.0, 50.0], [20.0, 20.0, 20.0])
    fish = type(fish)(**{**vars(fish), "strength": np.repeat(fish.strength, 2, axis=0),
                         "nearest_ping": np.repeat(fish.nearest_ping, 2, axis=0),
                         "apparent_depth": np.repeat(fish.apparent_depth, 2, axis=0)})  # fmt: skip
    told = []
    for threads in (1, 2):
        found = assess.assess(recorded(tuple(made), Truth(fish)), threads=threads,
                              progress=lambda *words: told.append(words))  # fmt: skip
        assert [one.mark for one in found.elements] == [
            ("separated", "not_shown", "not_shown"), ("not_shown", "separated", "not_shown")
        ]  # fmt: skip
        assert [one.counts["separated"] for one in found.elements] == [1, 1]
        assert (found.either_detected.hits, found.either_separated.hits, found.either_detected.of) == (2, 2, 3)
    assert told == [("measuring", 0, 2), ("measuring", 1, 2), ("measuring", 2, 2)] * 2
