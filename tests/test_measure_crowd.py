"""Fish among fish: their echoes are no reverberation for each other; cells counted by hand."""

import measure_lab as lab
import numpy as np
import pytest
from pingwright.measure import bottom, cells, detect, separated
from pingwright.measure.beside import MIDDLE


def drawn(level, noise=40.0, **about):
    """Levels [dB re 1 uPa] drawn by hand, (ping, sample), 2 samples a cell; the first 10 are blind."""
    about = lab.info(**({"bandwidth": 75e3, "noise": noise, "blank_range": 0.0475} | about))
    element = lab.element(about, 10 ** (np.asarray(level) / 20), 0.005 * np.arange(np.shape(level)[1]))
    return element.echo_level, cells.grid(element)


def nothing(count=1):
    return bottom.Bottom(np.full(count, np.nan), np.full(count, -1), np.full(count, np.nan))


@pytest.fixture(scope="module")
def grid():
    return drawn(np.full((1, 2000), 40.0))[1]


def spans(grid, row, centre, half=None, there=None):
    row, centre = np.array(row, dtype=np.int64), np.array(centre, dtype=float)
    half = np.full(len(row), 4.0) if half is None else np.array(half, dtype=float)
    return separated.crowd_of(grid, row, centre, half, None if there is None else np.array(there))


def listed(found, trial):
    """The spans of one trial that are not empty, in order."""
    return sorted(tuple(pair) for pair in found[trial].tolist() if not np.isnan(pair[0]))


def test_the_other_fish_of_a_ping_and_no_others(grid):
    """Each spans its own tolerance and three cells of two samples to either side."""
    found = spans(grid, [0, 0, 1, 0, 2], [100, 130, 110, 90, 130], [4, 5, 6, 7, 8])
    assert found.shape[::2] == (5, 2)
    first, second, fourth = (90.0, 110.0), (119.0, 141.0), (77.0, 103.0)
    assert listed(found, 0) == [fourth, second]
    assert listed(found, 1) == [fourth, first]
    assert listed(found, 3) == [first, second]
    assert listed(found, 2) == listed(found, 4) == []


def test_one_fish_a_ping_is_no_crowd_and_a_fish_judged_twice_is_one(grid):
    assert spans(grid, [0, 1, 2], [100, 100, 100]) is None
    assert spans(grid, [0, 0], [100.0, 100.4]) is None
    assert spans(grid, [0, 0], [100.0, 100.6]) is not None
    assert spans(grid, [], []) is None


def test_where_there_is_no_fish_there_is_no_echo_of_one(grid):
    """A trial of a blank pass sees the fish of its ping, and they do not see it."""
    found = spans(grid, [0, 0, 0], [100, 130, 160], there=[True, False, True])
    assert listed(found, 0) == [(150.0, 170.0)]
    assert listed(found, 1) == [(90.0, 110.0), (150.0, 170.0)]
    assert listed(found, 2) == [(90.0, 110.0)]
    assert spans(grid, [0, 0], [100, 130], there=[False, False]) is None


def test_of_many_fish_the_six_nearest_on_each_side_count(grid):
    centre = 100.0 + 30 * np.arange(20)
    found = spans(grid, [3] * 20, centre)
    for k in (0, 5, 10, 19):
        middles = [sum(pair) / 2 for pair in listed(found, k)]
        near = [c for c in centre[max(k - 6, 0) : k + 6] if c != centre[k]]
        assert middles == near


@pytest.mark.parametrize(
    ("place", "free"), [(9, True), (10, False), (15, False), (20, False), (21, True), (30, False), (31, True)]
)
def test_a_cell_is_free_outside_every_span(place, free):
    crowd = np.array([[[10.0, 20.0], [np.nan, np.nan], [30.0, 30.5]]])
    assert detect._free(np.array([[place]]), crowd).tolist() == [[free]]
    assert detect._free(np.array([[place]]), None).tolist() == [[True]]


def test_the_first_eight_free_cells():
    free = np.ones((2, 20), dtype=bool)
    free[1, [0, 3, 4]] = False
    first = detect._first(free)
    assert np.flatnonzero(first[0]).tolist() == list(range(8))
    assert np.flatnonzero(first[1]).tolist() == [1, 2, 5, 6, 7, 8, 9, 10]


def threshold(level, index, crowd=None, others=None, found=None, **about):
    stored, grid = drawn(np.asarray(level)[None], **about)
    return detect.local_threshold(
        stored, grid, found or nothing(), np.zeros(1, int), np.array([index]), 1e-4,
        None if others is None else np.array(others)[:, None], None if crowd is None else np.array(crowd)[None],
    )[0]  # fmt: skip


#: Reference cells lie 6, 12 .. 48 samples to either side, with a crowd up to 144.
STEPS = 6 * np.arange(1, 25)


def test_cells_with_other_fish_are_left_out_and_farther_ones_taken():
    """Water of 50 dB, fish of 110 dB on the second and third cell behind: as if they were not there."""
    level = np.full(1200, 50.0)
    clear = threshold(level, 600)
    level[610:620] = 110.0
    assert threshold(level, 600) > clear + 5.0
    assert threshold(level, 600, [[608.0, 622.0]]) == pytest.approx(clear, abs=1e-6)
    # Eight free cells on each side: what stands beyond the tenth cell on that side is not looked at, the tenth is.
    for cell, counts in ((9, True), (10, False)):
        more = level.copy()
        more[600 + STEPS[cell]] = 110.0
        assert (threshold(more, 600, [[608.0, 622.0]]) > clear + 1.0) == counts
        # Pairs at equal distance: the same ahead of the fish.
        more = level.copy()
        more[600 - STEPS[cell]] = 110.0
        assert (threshold(more, 600, [[608.0, 622.0]]) > clear + 1.0) == counts


def test_where_all_24_cells_hold_fish_the_noise_alone_counts():
    """Rice's threshold of known noise: no cell is left on either side."""
    level = np.full(1200, 90.0)
    found = threshold(level, 600, [[400.0, 800.0]])
    grid = drawn(level[None])[1]
    assert found == pytest.approx(
        40.0 + 10 * np.log10(detect.factors(0, 1e-4, round(grid.filtering.spread, 4)).t_noise)
    )


def test_close_to_the_blanking_range_the_water_behind_counts():
    """Three cells ahead: those behind, eight of them, and the three; a bottom behind leaves those ahead alone."""
    level = np.full(400, 50.0)
    level[:31] = 90.0
    assert threshold(level, 31) > threshold(np.full(400, 50.0), 31) + 5.0


@pytest.mark.parametrize(
    ("others", "wanted"),
    [
        # 12 dB over what is known, where nothing unknown is around.
        (70.0, 82.0), (60.0, 72.0),
        # Where the local threshold is less, 6 dB over what is known will do.
        (95.0, 101.0),
    ],
)  # fmt: skip
def test_where_all_else_is_known_the_threshold_stands_over_that(others, wanted):
    """Water of 50 dB, as is known; 7 of 16 cells of 120 dB, of some structure, raise the local threshold."""
    level = np.full(1200, 50.0)
    level[600 + STEPS[:4]], level[600 - STEPS[:3]] = 120.0, 120.0
    assert 90.0 < threshold(level, 600) < 101.0
    assert threshold(level, 600, others=[others, 50.0]) == pytest.approx(wanted, abs=0.01)


@pytest.mark.parametrize(("middle", "known"), [(52.9, True), (53.3, False)])
def test_what_stands_over_all_that_is_known_raises_the_threshold(middle, known):
    """The middle one of the cells around at most 3 dB over noise of 40 and a mean of 50 dB that is known (50.4 dB)."""
    level = np.full(1200, middle + 0.41)
    level[600 + STEPS[:2]], level[600 - STEPS[:2]] = 95.0, 95.0
    found = threshold(level, 600, others=[45.0, 50.0])
    assert found == pytest.approx(57.0 if known else middle + 0.41 + 12.0 + MIDDLE, abs=0.02)


def test_the_threshold_never_falls_below_noise_and_side_lobes():
    """Rice's factor over noise of 60 dB, although what is known there is 38 dB; water of 65, as is known."""
    level = np.full(1200, 65.0)
    grid = drawn(level[None], noise=60.0)[1]
    least = 60.0 + 10 * np.log10(detect.factors(0, 1e-4, round(grid.filtering.spread, 4)).t_noise)
    assert threshold(level, 600, others=[38.0, 63.0], noise=60.0) == pytest.approx(least, abs=1e-6)


def test_a_crowd_does_not_count_where_all_else_is_known():
    """Cells farther than what is known around would hold what is not known; where nothing is known it counts."""
    level = np.full(1200, 50.0)
    level[610:620] = 110.0
    crowd = [[608.0, 622.0]]
    assert threshold(level, 600, crowd, [45.0, 50.0]) == threshold(level, 600, None, [45.0, 50.0])
    unknown = threshold(level, 600, crowd, [np.nan, np.nan])
    assert unknown == pytest.approx(threshold(level, 600, crowd), abs=1e-9)
