"""The line of the seabed behind a structure's echo, on echoes drawn by hand; and where a record may begin."""

import measure_lab as lab
import numpy as np
import pytest
from pingwright.measure import bottom, cells

START = 100.0


def drawn(level, start=START, **about):
    """A recording of levels [dB re 1 uPa]: (ping, sample); 1 cm cells of 2.5 samples; source level 120 dB."""
    made = lab.info(**({"bandwidth": 75e3, "noise": 20.0, "source": 120.0} | about))
    element = lab.element(made, 10 ** (np.asarray(level) / 20), start + 0.004 * np.arange(np.shape(level)[1]))
    return element.echo_level, cells.grid(element)


def two(later, water, at=400, first=300, samples=700, between=None):
    """Eight cells of 100 dB from sample 300 on, water, eight cells `later` [dB] under that, water of 20 dB."""
    level = np.full(samples, 20.0)
    level[first : first + 20] = 100.0
    level[first + 20 : at] = 100.0 + water
    level[at : at + 20] = 100.0 + later
    if between is not None:
        level[between] = 90.0
    return level


def line(*levels, **about):
    return bottom.find(*drawn(np.stack(levels), **about)).lines


@pytest.mark.parametrize(
    ("later", "water", "is_line"),
    [
        # Within 10 dB of the strongest, out of water 20 dB below the bottom level.
        (-9.5, -20.3, True), (-9.5, -19.7, False), (-10.5, -34.7, False),
        # Within 20 dB, out of water 35 dB below.
        (-10.5, -35.3, True), (-19.5, -35.3, True), (-19.5, -34.7, False), (-20.5, -44.7, False),
        # Within 30 dB, out of water 45 dB below; no line is weaker.
        (-20.5, -45.3, True), (-29.5, -45.3, True), (-30.5, -79.0, False),
    ],
)  # fmt: skip
def test_a_later_echo_out_of_quiet_water_is_the_seabeds_line(later, water, is_line):
    found = line(two(later, water))[0]
    if is_line:
        assert found == pytest.approx(START + 0.004 * 400, abs=1e-9)
    else:
        assert np.isnan(found)


@pytest.mark.parametrize(("at", "is_line"), [(350, True), (349, False)])
def test_the_water_between_is_twelve_cells_long(at, is_line):
    """30 samples of 2.5 a cell, from the end of the first echo, 320, on."""
    assert np.isfinite(line(two(-5.0, -70.0, at=at))[0]) == is_line


@pytest.mark.parametrize(("between", "is_line"), [(351, True), (360, True), (371, True), (340, True), (339, True)])
def test_the_quiet_stretch_is_unbroken_and_the_last_one_counts(between, is_line):
    """100 samples of water with a spot of 90 dB: 30 unbroken ones are left ahead of it or behind it."""
    found = line(two(-5.0, -70.0, at=420, between=between))[0]
    wanted = 420 if between < 390 else between
    assert found == pytest.approx(START + 0.004 * wanted, abs=1e-9)
    assert np.isnan(line(two(-5.0, -70.0, at=378, between=349))[0])


def test_the_last_of_the_strong_echoes_counts_and_of_two_limits_the_later():
    level = two(-5.0, -70.0, at=400, samples=900)
    level[500:520] = 93.0
    assert line(level)[0] == pytest.approx(START + 0.004 * 500, abs=1e-9)
    # 15 dB below, out of water 40 dB below: found by the second limit, and it is later than the first one's.
    level[500:520] = 85.0
    level[420:500] = 60.0
    assert line(level)[0] == pytest.approx(START + 0.004 * 500, abs=1e-9)
    # The third limit is asked only where the first two find none.
    level[500:520] = 75.0
    assert line(level)[0] == pytest.approx(START + 0.004 * 400, abs=1e-9)
    level[320:400] = 20.0
    level[400:420] = 20.0
    level[420:500] = 20.0
    assert line(level)[0] == pytest.approx(START + 0.004 * 500, abs=1e-9)


@pytest.mark.parametrize(("at", "is_line"), [(760, True), (830, False)])
def test_at_twice_the_range_the_second_echo_comes(at, is_line):
    """The first from 2.2 m on, sample 300 of a record from 1 m on; 1.9 times that is 4.18 m, sample 795."""
    level = two(-10.0, -70.0, at=at, samples=1100)
    found = line(level, start=1.0, blank_range=0.5)[0]
    assert np.isfinite(found) == is_line
    if is_line:
        assert found == pytest.approx(1.0 + 0.004 * at, abs=1e-9)


def test_each_ping_has_its_own_line_or_none():
    none = np.full(700, 20.0)
    alone = np.full(700, 20.0)
    alone[300:320] = 100.0
    pings = [two(-5.0, -70.0), none, alone, two(-5.0, -70.0, at=500), two(-5.0, -70.0, at=250, first=150)]
    found = bottom.find(*drawn(np.stack(pings)))
    assert found.lines[[0, 3, 4]] == pytest.approx(START + 0.004 * np.array([400, 500, 250]), abs=1e-9)
    assert np.isnan(found.lines[[1, 2]]).all()
    assert np.isnan(bottom.Bottom(found.level, found.peak, found.pick).lines).all()
    assert len(bottom.Bottom(found.level, found.peak, found.pick).lines) == 5


def test_the_line_as_the_bottom_of_the_pings_that_have_one():
    """Its peak is the strongest of the eight cells from its edge on; its level stays that of the first echo."""
    late = two(-5.0, -70.0)
    late[411] = 97.0
    late[421] = 99.0  # beyond eight cells
    alone = np.full(700, 20.0)
    alone[300:320] = 100.0
    end = two(-5.0, -70.0, at=680)
    stored, grid = drawn(np.stack([late, alone, end]))
    found = bottom.find(stored, grid)
    behind = found.behind(stored, grid)
    assert behind.peak.tolist() == [411, -1, 680]
    assert behind.pick[[0, 2]] == pytest.approx(START + 0.004 * np.array([400, 680]), abs=1e-9)
    assert behind.level[[0, 2]].tolist() == found.level[[0, 2]].tolist()
    assert np.isnan([behind.pick[1], behind.level[1]]).all()


@pytest.mark.parametrize(
    ("nearest", "cell", "begin"), [(40.0, 0.01, 40 * 0.92 * 0.98 - 0.8), (100.0, 0.1, 90.16 - 8.0), (0.5, 0.01, 0.0)]
)
def test_a_record_begins_ahead_of_what_onset_and_averages_look_at(nearest, cell, begin):
    """8 % of onset, 2 % of water beyond it, and twice 32 + 8 cells; not before the face."""
    assert bottom.record_from(nearest, cell) == pytest.approx(begin)


def test_bottoms_one_after_the_other():
    one = bottom.Bottom(np.array([1.0]), np.array([2]), np.array([3.0]))
    other = bottom.Bottom(np.array([4.0]), np.array([5]), np.array([6.0]), np.array([7.0]))
    both = bottom.joined([one, other])
    assert (both.level.tolist(), both.peak.tolist(), both.pick.tolist()) == ([1.0, 4.0], [2, 5], [3.0, 6.0])
    assert np.isnan(both.lines[0])
    assert both.lines[1] == 7.0


TAIL = {"behind": (85.0, 82.0, 80.0, 78.0, 76.0), "ahead": (60.0,) * 5}


def tail(left=400, width=20, noise=50.0, peak=450, **levels):
    """Whether stretches of 2 `width` samples behind and ahead of an echo of 100 dB [dB] are the tail of ground.

    So far away that spreading is even. Each stretch alternates: half is 3 dB higher, half nothing.
    """
    made = TAIL | levels
    level = np.full(peak + left + 1, 20.0)
    for k, (behind, ahead) in enumerate(zip(made["behind"], made["ahead"], strict=True)):
        first = width * (1 + 2 * k)
        on = np.arange(0, 2 * width, 2)
        level[(peak + first + on)[peak + first + on < len(level)]] = behind + 3.0103
        level[peak - first - on] = ahead + 3.0103
    stored, grid = drawn(level[None], start=1000.0, noise=noise, source=120.0)
    return bottom._has_tail(stored[0], peak, 100.0 + float(grid.surface_gain[peak]), grid)


@pytest.mark.parametrize(
    ("levels", "is_tail"),
    [
        ({}, True),
        # 8 dB below the echo at first, 20 at last.
        ({"behind": (91.9, 88.0, 84.0, 80.0, 76.0)}, True), ({"behind": (92.1, 88.0, 84.0, 80.0, 76.0)}, False),
        ({"behind": (85.0, 82.0, 81.0, 80.0, 79.9)}, True), ({"behind": (85.0, 82.0, 81.0, 80.0, 80.1)}, False),
        # Each no more than 4 dB over the one before.
        ({"behind": (80.0, 83.9, 80.0, 78.0, 76.0)}, True), ({"behind": (80.0, 84.1, 80.0, 78.0, 76.0)}, False),
        ({"behind": (80.0, 78.0, 76.0, 72.0, 75.9)}, True), ({"behind": (80.0, 78.0, 76.0, 72.0, 76.1)}, False),
        # 6 dB over the noise, all of them.
        ({"noise": 69.9}, True), ({"noise": 70.1}, False),
        ({"behind": (85.0, 55.9, 59.0, 60.0, 62.0)}, False),
        ({"behind": (85.0, 56.1, 59.0, 60.0, 62.0), "ahead": (40.0,) * 5}, True),
        # 6 dB over what lies as far ahead: three of five.
        ({"ahead": (78.9, 75.9, 73.9, 90.0, 90.0)}, True), ({"ahead": (79.1, 75.9, 73.9, 90.0, 90.0)}, False),
        ({"ahead": (90.0, 90.0, 73.9, 71.9, 69.9)}, True), ({"ahead": (90.0, 90.0, 73.9, 71.9, 70.1)}, False),
    ],
)  # fmt: skip
def test_a_tail_of_ground_at_its_limits(levels, is_tail):
    assert tail(**levels) == is_tail


@pytest.mark.parametrize(
    ("left", "width", "count", "is_tail"),
    [
        (220, 20, 5, True),  # eleven times 20 samples: five stretches of the full width
        (100, 9, 5, True),  # 100 / 11
        (83, 7, 5, False),  # eleven times 7.5 samples are left, but 7 are fewer than three cells
        (88, 8, 5, True),
        (82, 11, 3, True),  # fewer: three stretches of 82 / 7
        (56, 8, 3, True),
        (55, 7, 3, False),
    ],
)
def test_where_the_record_ends_soon_the_stretches_are_shorter_and_fewer(left, width, count, is_tail):
    """The last one counted is the one that must lie 20 dB below: of five the fifth, of three the third."""
    falls = (85.0, 80.0, 79.0, 79.0, 79.0) if count == 5 else (85.0, 82.0, 79.0, 90.0, 90.0)
    assert tail(left=left, width=width, behind=falls) == is_tail
    stays = (85.0, 84.0, 83.0, 82.0, 81.0) if count == 5 else (85.0, 84.0, 83.0, 70.0, 70.0)
    assert not tail(left=left, width=width, behind=stays)


def test_in_the_blind_range_nothing_lies_ahead():
    """A peak 100 samples behind its end: the stretches further ahead are silence, whatever was stored there."""
    level = np.full(700, 20.0)
    for k, behind in enumerate(TAIL["behind"]):
        level[200 + 20 * (1 + 2 * k) : 200 + 20 * (3 + 2 * k)] = behind
    level[:100] = 150.0
    for blank, is_tail in ((1000.3981, True), (900.0, False)):
        stored, grid = drawn(level[None], start=1000.0, noise=50.0, source=120.0, blank_range=blank)
        assert bottom._has_tail(stored[0], 200, 100.0 + float(grid.surface_gain[200]), grid) == is_tail
