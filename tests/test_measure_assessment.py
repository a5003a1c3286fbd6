"""What an assessment holds where nothing was asked for, and which share stands for an element."""

import numpy as np
import pytest
from pingwright.echograms.record import FreshPasses
from pingwright.measure import assess
from pingwright.measure.assessment import Assessment, ClosedForm, ElementAssessment, Share
from pingwright.measure.certainty import Repeated
from pingwright.measure.detect import Peaks
from pingwright.measure.judgements import Trials
from pingwright.measure.judgements import joined as joined_trials

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
