"""What is known around a fish: levels drawn by hand, read part by part; and for which fish something is known."""

import math
from dataclasses import replace

import measure_lab as lab
import numpy as np
import pytest
from pingwright.echograms.record import StructureTruth, Surroundings, Truth
from pingwright.measure import beside, leak
from pingwright.measure.cells import grid
from pingwright.measure.judgements import Trials
from test_measure_marks import BOAT, COUNT, DEPTH, fishes

#: 1 cm cells of 2.5 samples, from 4 m on: 24 cells are 60 samples.
STEP, START, HALF = 0.004, 4.0, 60


def drawn(level, **about):
    made = lab.info(**({"bandwidth": 75e3} | about))
    element = lab.element(made, 10 ** (np.asarray(level) / 20), START + STEP * np.arange(np.shape(level)[1]))
    return element.echo_level, grid(element)


def profile(level, at, within):
    """Columns [dB] of one trial at a distance [m] in a ping of some levels."""
    return beside.profile(*drawn(np.asarray(level)[None]), np.zeros(1, int), np.array([at]), np.array([within]))[0]


@pytest.mark.parametrize(
    ("share", "part"),
    [(-1.0, 0), (-0.93, 0), (-0.84, 1), (-0.08, 5), (-0.07, 6), (0.0, 6), (0.07, 6), (0.08, 7), (0.84, 11), (0.85, 12),
     (1.0, 12), (1.3, 12), (-1.3, 0)],
)  # fmt: skip
def test_thirteen_equal_parts(share, part):
    """Each 2/13 = 0.154 of the distance that is left and right; what lies a little beyond belongs to the last ones."""
    assert beside.part(np.array([share * 0.3]), np.array([0.3]))[0] == part


@pytest.mark.parametrize("place", range(-25, 26, 5))
def test_a_spike_stands_in_its_own_part_and_in_the_mean(place):
    """25 samples of 40 dB either way, one of 90 dB: 13 parts of 51 samples hold 4 each, or 3."""
    level = np.full(600, 40.0)
    level[300 + place] = 90.0
    found = profile(level, START + 300 * STEP, 25 * STEP)
    wanted = np.full(13, 40.0)
    wanted[min(int((place / 25 + 1) * 6.5), 12)] = 90.0
    assert found[:13] == pytest.approx(wanted, abs=0.02)
    whole = 2 * HALF + 1
    assert found[13] == pytest.approx(10 * math.log10((10**9 + (whole - 1) * 10**4) / whole), abs=0.02)
    assert len(found) == beside.COLUMNS == 14


@pytest.mark.parametrize(
    ("away", "inside"), [(10, True), (11, True), (12, False), (-10, True), (-11, True), (-12, False)]
)
def test_what_lies_one_sample_beyond_counts_no_more(away, inside):
    level = np.full(600, 40.0)
    level[300 + away] = 90.0
    found = profile(level, START + 300 * STEP, 10.001 * STEP)
    assert found[:13].max() == pytest.approx(90.0 if inside else 40.0, abs=0.02)
    assert np.argmax(found[:13]) == ((12 if away > 0 else 0) if inside else np.argmax(found[:13]))


@pytest.mark.parametrize(("away", "inside"), [(60, True), (61, False), (-60, True), (-61, False)])
def test_the_mean_is_of_24_cells_either_way(away, inside):
    level = np.full(600, 40.0)
    level[300 + away] = 90.0
    assert (profile(level, START + 300 * STEP, 10 * STEP)[13] > 60.0) == inside


@pytest.mark.parametrize(("at", "none"), [(0, slice(0, 6)), (599, slice(7, 13))])
def test_beyond_the_record_nothing_echoes(at, none):
    """At its first or last sample six of the thirteen parts are not recorded; the mean repeats that sample."""
    level = np.full(600, 40.0)
    level[at] = 60.0
    found = profile(level, START + at * STEP, 25 * STEP)
    assert found[none].max() < -100.0
    assert found[6] == pytest.approx(60.0, abs=0.02)
    assert np.delete(found[:13], [*range(none.start, none.stop), 6]) == pytest.approx(40.0, abs=0.02)
    assert found[13] == pytest.approx(10 * math.log10((61 * 10**6 + 60 * 10**4) / 121), abs=0.03)


def test_each_trial_reads_its_own_ping_and_distance():
    level = np.full((3, 600), 40.0)
    level[0, 200], level[2, 400] = 70.0, 80.0
    stored, cells = drawn(level)
    found = beside.profile(
        stored, cells, np.array([2, 0, 0, 1]), START + STEP * np.array([400, 200, 400, 200]),
        STEP * np.array([10.0, 5.0, 10.0, 10.0]),
    )  # fmt: skip
    assert found[:, 6] == pytest.approx([80.0, 70.0, 40.0, 40.0], abs=0.02)
    assert beside.profile(stored, cells, np.zeros(0, int), np.zeros(0), np.zeros(0)).shape == (0, 14)


def test_a_peak_is_compared_with_its_part_and_both_neighbours():
    around = np.arange(14.0)[None] + 50.0
    for share, highest in ((-1.0, 51.0), (-0.8, 52.0), (0.0, 57.0), (0.8, 62.0), (1.0, 62.0)):
        found = beside.at_peaks(around, np.array([share]), np.ones(1))
        assert found[:, 0].tolist() == [highest, 63.0]
    for spike in range(13):
        level = np.where(np.arange(14) == spike, 90.0, 50.0)[None]
        assert beside.at_peaks(level, np.zeros(1), np.ones(1))[0, 0] == (90.0 if 5 <= spike <= 7 else 50.0)
    several = beside.at_peaks(np.stack([around[0], around[0, ::-1]]), np.array([0.0, 0.0]), np.ones(2))
    assert several.tolist() == [[57.0, 58.0], [63.0, 50.0]]


def run(**about):
    return lab.element(lab.info(**about), np.ones((COUNT, 1)), np.arange(4096) * 0.01, DEPTH, BOAT)


def trials(owner, ping, distance=20.0):
    owner = np.asarray(owner)
    return Trials(owner, np.asarray(ping), np.full(len(owner), distance), np.full(len(owner), 0.03))


#: Held of two elements, three fish, out of order; the level says which row it is.
HELD = Surroundings(
    np.array([0, 1, 0, 0, 1]), np.array([2, 0, 0, 0, 2]), np.array([7, 5, 9, 5, 7]),
    np.repeat(np.arange(5.0)[:, None], 14, axis=1), np.array([True, False, False, True, True]),
)  # fmt: skip


def known(surroundings=HELD, structures=()):
    return Truth(fishes([30.0, 40.0, 50.0], [20.0, 20.0, 20.0]), structures, surroundings=surroundings)


@pytest.mark.parametrize(
    ("position", "rows"), [(0, [3, 2, None, 0, None, None]), (1, [1, None, None, 4, None, None]), (2, [None] * 6)]
)
def test_each_fish_and_ping_has_its_own_row_or_none(position, rows):
    asked = trials([0, 0, 1, 2, 2, 0], [5, 9, 5, 7, 8, 90])
    found = beside.of_trials(known(), position, asked)
    assert found.shape == (6, 14)
    for got, row in zip(found, rows, strict=True):
        assert np.all(got == row) if row is not None else np.isnan(got).all()
    # Which of them is steep ground, which a structure.
    ground, built = beside.causes(run(position=position), known(), asked, found)
    assert ground.tolist() == [row in (0, 3, 4) for row in rows]
    assert built.tolist() == [row in (1, 2) for row in rows]


def test_files_that_say_nothing_or_of_another_form():
    asked = trials([0], [5])
    assert beside.of_trials(known(None), 0, asked) is None
    assert beside.of_trials(known(replace(HELD, level=HELD.level[:, :13])), 0, asked) is None
    for truth, around in ((known(None), None), (known(), None), (known(None), np.zeros((1, 14)))):
        ground, built = beside.causes(run(), truth, asked, around)
        assert (ground.tolist(), built.tolist()) == ([False], [False])


def test_files_that_do_not_say_which_take_the_structure_where_one_is_near():
    """A box whose top is 19 m down under x = 29 to 31 m: near a fish 20 m down there, not 20 m away along the track."""
    side = np.array([[29.0, 30.0], [31.0, 19.0]])
    plan = np.array([[29.0, -1.0], [31.0, 1.0]])
    truth = known(replace(HELD, ground=None), (StructureTruth("box", "steel", side, side, plan),))
    asked = trials([0, 0, 0, 2], [60, 20, 5, 7])
    around = np.where(np.array([True, True, False, False])[:, None], np.zeros((4, 14)), np.nan)
    ground, built = beside.causes(run(pulse_length=2e-4), truth, asked, around)
    assert built.tolist() == [True, False, False, False]
    assert ground.tolist() == [False, True, False, False]


@pytest.mark.parametrize(("share", "near"), [(0.98, False), (1.02, True)])
def test_a_structure_is_near_where_its_box_comes_within_the_fishs_range(share, near):
    """1 % is left, the tolerance of 3 cm, and half a pulse of 2 ms: 1.5 m. The box's top lies 18 m straight below."""
    side, plan = np.array([[29.0, 30.0], [31.0, 18.0]]), np.array([[29.0, -1.0], [31.0, 1.0]])
    truth = known(None, (StructureTruth("box", "steel", side, side, plan),))
    limit = 0.99 * 18.0 - 0.03 - 1.5
    made = run(pulse_length=2e-3)
    found = beside.near_structures(made, truth, trials([0, 0], [60, 60], share * limit))
    assert found.tolist() == ([0, 1] if near else [])
    ground = beside.near_ground(made, trials([0, 0], [60, 60], share * limit), np.array([18.0, 30.0]))
    assert ground.tolist() == ([0] if near else [])
    assert beside.near_structures(made, known(None), trials([0], [60])).tolist() == []


def test_several_elements_surroundings_as_one():
    first = replace(HELD, ground=None)
    both = beside.joined([HELD, HELD])
    assert both.element.tolist() == HELD.element.tolist() * 2
    assert both.level.tolist() == [*HELD.level.tolist(), *HELD.level.tolist()]
    assert both.ground.tolist() == HELD.ground.tolist() * 2
    assert beside.joined([HELD, first]).ground is None
    assert beside.joined([]) is None
    nothing = Surroundings(*(getattr(HELD, name)[:0] for name in ("element", "fish", "ping", "level", "ground")))
    assert beside.joined([nothing]) is None


@pytest.mark.parametrize("first", [0, 5, 130, 190, 199, 200, 250])
@pytest.mark.parametrize("pulse_length", [4e-5, 2e-4])
def test_what_leaks_is_the_sum_over_samples_through_their_side_lobes(first, pulse_length):
    """Sample by sample, as the docstring says: 10^(L/10) times the side lobe at its distance, to the record's end."""
    level = np.random.default_rng(2).uniform(40.0, 120.0, (2, 200))
    stored, cells = drawn(level, pulse_length=pulse_length, weighting="none")
    cells = replace(cells, per_cell=2.6)
    lobes = cells.filtering.lobes
    reach = int(len(lobes) / 8 * 2.6)
    found = leak.leak_ahead(stored, cells, np.array([first, 100]))
    assert found.shape == (2, reach + 1)
    for row, begin in ((0, first), (1, 100)):
        power = 10 ** (0.1 * np.round(level[row], 2))
        for j in (0, 1, reach // 2, reach - 1):
            total = sum(
                power[begin + i] * np.interp((i + j) * 8 / 2.6, np.arange(len(lobes)), lobes, right=0.0) * 8 / 2.6
                for i in range(min(reach, 200 - begin))
            )
            assert found[row, j] == pytest.approx(total, rel=3e-3, abs=1e-6 * power.max())
        assert found[row, -1] == 0.0


def test_a_pulse_shorter_than_a_sample_leaks_nothing():
    stored, cells = drawn(np.full((3, 50), 80.0))
    short = replace(cells, filtering=replace(cells.filtering, lobes=np.ones(3)))
    assert leak.leak_ahead(stored, short, np.array([0, 10, 60])).tolist() == [[0.0], [0.0], [0.0]]
    # Eight steps are a cell of 2.5 samples, rounded down; nothing echoes beyond the record.
    longer = replace(cells, filtering=replace(cells.filtering, lobes=np.ones(8)))
    assert leak.leak_ahead(stored, longer, np.array([60])).tolist() == [[0.0] * 3]
