"""The bottom's level and pick: within a cell of the edge, and deaf to what is not the bottom."""

import measure_lab as lab
import numpy as np
import pytest
from pingwright.measure import bottom, cells, widths


def find(about, points, count, samples=2048, start=3.0, seed=1, **options):
    pressure, ranges = lab.pings(about, np.random.default_rng(seed), count, samples, points, start=start, **options)
    element = lab.element(about, pressure, ranges)
    grid = cells.grid(element)
    return element, grid, bottom.find(element.echo_level, grid)


def test_pick_lies_within_two_cells_of_a_rough_edge_and_does_not_break_inside_the_echo():
    about, rng, count = lab.info(), np.random.default_rng(4), 3000
    points = lab.rough_bottom(about, rng, count, 5.0, about.source_level - 28)
    _, grid, found = find(about, points, count)
    error = (found.pick - 5.0) / grid.cell
    assert np.mean(np.abs(error) < 2) > 0.99
    assert np.mean(np.abs(error) > 10) < 0.002
    assert -1.5 < np.median(error) < 0


def test_level_is_the_largest_power_averaged_over_eight_cells():
    about, rng, count = lab.info(), np.random.default_rng(5), 50
    points = lab.rough_bottom(about, rng, count, 5.0, about.source_level - 28)
    element, grid, found = find(about, points, count)
    power = 10 ** (0.1 * element.level().astype(float))
    m = round(8 * grid.per_cell)
    plain = np.lib.stride_tricks.sliding_window_view(power[:, grid.blank :], m, axis=1).mean(axis=2).max(axis=1)
    # The maximum is sought with 20 log r taken off: over 1.5 m at 5 m this may pick a later stretch 0.3 dB weaker,
    # and the curve's one-sample steps are not those of the plain average.
    assert found.level == pytest.approx(10 * np.log10(plain), abs=0.6)


def test_fish_near_and_far_and_second_echo_are_not_taken_for_the_bottom():
    about, rng, count = lab.info(noise=10.0), np.random.default_rng(6), 400
    level = about.source_level - 40 * np.log10(8) + 4
    points = lab.rough_bottom(about, rng, count, 8.0, level, length=0.5)
    points += lab.rough_bottom(about, rng, count, 16.0, level - 6 - 2.8, length=0.5)  # rock: bottom loss 2.8 dB
    points += [(r, lab.amplitude(about, s, r)) for r, s in ((2.5, -30), (4.0, -35), (7.5, -32))]
    _, _, found = find(about, points, count, samples=4200, start=1.6)
    assert np.abs(found.pick - 8.0).max() < 0.3
    assert np.mean(np.abs(found.pick - 8.0) < 0.02) > 0.98


@pytest.mark.parametrize("fish", [[(1.9, -28)], [(1.9, -28), (3.2, -27)], [(1.9, -26), (2.0, -28), (7.5, -30)]])
def test_a_fish_close_to_the_boat_is_not_taken_for_a_bottom_far_below(fish):
    """Once a fish of -33 dB 0.8 m under the face hid itself: its echo was taken for that of sand 7 m below."""
    about, rng, count = lab.info(noise=10.0), np.random.default_rng(8), 60
    points = lab.rough_bottom(about, rng, count, 18.0, about.source_level - 40 * np.log10(18) - 22, length=0.5)
    points += [(r, lab.amplitude(about, s, r)) for r, s in fish]
    _, _, found = find(about, points, count, samples=4200, start=1.6)
    assert np.abs(found.pick - 18.0).max() < 0.3


def test_echoes_between_bottom_and_surface_are_not_taken_for_the_bottom_even_without_loss():
    # Spherical spreading removed, the n-th echo of a rough bottom lies 10 log n below the first, less n - 1 losses.
    about, rng, count = lab.info(noise=10.0), np.random.default_rng(9), 200
    points = []
    for n in (1, 2, 3, 4):
        level = about.source_level - 33 - 20 * np.log10(2.5 * n) - 10 * np.log10(n)
        points += lab.rough_bottom(about, rng, count, 2.5 * n, level, length=0.3)
    _, _, found = find(about, points, count, samples=4200, start=1.6)
    assert np.abs(found.pick - 2.5).max() < 0.3


def test_no_bottom_is_found_in_noise_nor_in_a_fish():
    about = lab.info()
    points = [(4.0, lab.amplitude(about, -32, 4.0))]
    _, _, found = find(about, points, 30)
    assert np.all(found.peak == -1)
    assert np.all(np.isnan(found.pick))
    assert np.all(np.isnan(found.level))


def test_a_soft_bottom_is_found_by_its_length():
    # Mud under a narrow high beam: -50 dB with spherical spreading removed, going on over some twenty cells; a lone
    # fish of -30 dB at 5 m reads as much in its eight cells and is none.
    about, rng, count = lab.info(noise=10.0), np.random.default_rng(8), 200
    level = about.source_level - 20 * np.log10(5.0) - 50
    _, _, found = find(about, lab.rough_bottom(about, rng, count, 5.0, level, length=0.3, fall=0.2), count)
    assert np.mean(np.abs(found.pick - 5.0) < 0.05) > 0.9
    _, _, alone = find(about, [(5.0, lab.amplitude(about, -30, 5.0))], count)
    assert np.all(np.isnan(alone.pick))


def test_the_edge_is_ahead_of_the_first_strong_stretch():
    # A bottom whose strongest part comes half a metre after its onset, with a quiet gap between: the onset is picked.
    about, rng, count = lab.info(noise=10.0), np.random.default_rng(9), 200
    level = about.source_level - 20 * np.log10(8.0) - 30
    points = lab.rough_bottom(about, rng, count, 8.0, level - 2, length=0.2)
    points += lab.rough_bottom(about, rng, count, 8.5, level, length=0.2)
    _, _, found = find(about, points, count, samples=2400)
    assert np.mean(np.abs(found.pick - 8.0) < 0.05) > 0.9


def test_the_edge_is_that_of_the_first_weak_echo_not_a_gap_in_it():
    # Over sand waves the side of a crest echoes ahead of the trough, 8 dB weaker, and fades as Rayleigh power does: its
    # onset is the edge, a fish 0.12 m (13 cells) ahead of that and as strong as its mean is not.
    about, rng, count = lab.info(noise=10.0), np.random.default_rng(12), 600
    level = about.source_level - 20 * np.log10(8.0) - 30
    points = lab.rough_bottom(about, rng, count, 8.0, level - 8, length=1.2, fall=50.0)
    points += lab.rough_bottom(about, rng, count, 9.2, level, length=0.3)
    for fish in ([], [(7.88, 10 ** ((level - 8) / 20))]):
        _, _, found = find(about, points + fish, count, samples=3000)
        assert np.mean(np.abs(found.pick - 8.0) < 0.05) > 0.8
        assert np.mean(found.pick > 8.2) < 0.01


def test_a_weak_bottom_far_below_is_found_where_no_fish_is_as_strong():
    # Mud on a slope of 12 degrees under a narrow high beam: -57 dB with spherical spreading removed. At 40 m that is an
    # averaged strength of -25 dB re 1 m2; a fish of -25 dB has that in one cell alone.
    about, rng, count = lab.info(noise=10.0), np.random.default_rng(13), 200
    level = about.source_level - 20 * np.log10(40.0) - 57
    points = lab.rough_bottom(about, rng, count, 40.0, level, length=0.3, fall=0.2)
    _, _, found = find(about, points, count, start=38.0)
    assert np.mean(np.isfinite(found.pick)) > 0.95  # power fades around its mean
    assert np.all(np.abs(found.pick[np.isfinite(found.pick)] - 40.0) < 0.05)
    _, _, alone = find(about, [(40.0, lab.amplitude(about, -25.0, 40.0))], count, start=38.0)
    assert np.all(np.isnan(alone.pick))


def test_a_weak_bottom_close_below_is_found_by_its_length():
    # The same at 9 m, where its echo goes on over 16 averages; the echo of a fish as strong does not. A dense school's
    # does, -33 dB re 1 m-1 in a beam of -19 dB re 1 sr and cells of 9.4 mm, but is weaker: its strongest 8 cells -29.
    about, rng, count = lab.info(noise=10.0), np.random.default_rng(14), 200
    level = about.source_level - 20 * np.log10(9.0) - 57
    _, _, found = find(about, lab.rough_bottom(about, rng, count, 9.0, level, length=2.0, fall=1.0), count, start=7.0)
    assert np.mean(np.abs(found.pick - 9.0) < 0.05) > 0.95
    _, _, alone = find(about, [(9.0, lab.amplitude(about, -30.0, 9.0))], count, start=7.0)
    assert np.all(np.isnan(alone.pick))
    dense = about.source_level - 20 * np.log10(9.0) - 33 - 19 + 10 * np.log10(about.range_resolution)
    _, _, school = find(about, lab.rough_bottom(about, rng, count, 9.0, dense, length=2.0, fall=1e3), count, start=7.0)
    # Its strongest stretch is sought over a quarter of range, wherever the record begins: one ping in 200 exceeds.
    assert np.mean(np.isnan(school.pick)) >= 0.99


def test_a_bottom_little_above_the_noise_is_picked_at_its_edge():
    # 14 dB above: the noise before it is no echo, though its power over 32 cells is less than 17 dB below the bottom.
    about, rng, count = lab.info(noise=60.0, source=90.0), np.random.default_rng(15), 400
    points = lab.rough_bottom(about, rng, count, 8.0, 60.0 + 14.0, length=1.0)
    _, _, found = find(about, points, count, samples=2400, start=5.0)
    assert np.mean(np.abs(found.pick - 8.0) < 0.1) > 0.8


def test_pick_error_takes_heave_and_transducer_depth_off():
    about = lab.info(transducer_depth=0.6)
    rng, count = np.random.default_rng(7), 20
    points = lab.rough_bottom(about, rng, count, 5.0, about.source_level - 28)
    pressure, ranges = lab.pings(about, rng, count, 2048, points, start=3.0)
    element = lab.element(about, pressure, ranges, bottom_depth=5.35, heave=0.25)
    error = bottom.pick_error(element, bottom.find(element.echo_level, cells.grid(element)))
    assert error == pytest.approx(0.0, abs=0.03)


def test_range_resolution_of_a_hann_filter_is_harris_width():
    # Harris 1978: -3 dB width 1.4405, -6 dB width 1.9968 bins for Hann; a bin is a cell here.
    about, rng = lab.info(noise=-60.0), np.random.default_rng(8)
    where = 4 + rng.random(200) * 0.1
    for oversampling in (2.0, 2.3, 4.0):
        pressure, ranges = lab.pings(
            about, rng, 200, 1600, [(where, 1e6)], noise=False, oversampling=oversampling, start=2.5
        )
        element = lab.element(about, pressure, ranges)
        grid = cells.grid(element)
        index = np.argmax(element.echo_level, axis=1)
        for drop, width in ((3.0103, 1.4405), (6.0206, 1.9968)):  # measured at 2 B: 1.2 % at -6 dB
            found = widths.echo_width(element.echo_level, grid, np.arange(200), index, drop)
            assert np.median(found) / grid.cell == pytest.approx(width, rel=0.015)


@pytest.mark.parametrize(("wavenumber_radius", "width"), [(10, 18.604), (20, 9.271), (30, 6.177)])
def test_beam_width_of_a_piston_is_the_handbooks(wavenumber_radius, width):
    # Full -3 dB widths 2 asin(1.61634 / ka): exact. Echoes every half degree of arc with 0.2 dB of scatter.
    from scipy.special import j1

    rng = np.random.default_rng(9)
    angle = np.arange(-25, 25, 0.25) + 0.07
    x = wavenumber_radius * np.sin(np.radians(angle))
    strength = -40 + 40 * np.log10(np.abs(2 * j1(x) / x)) + rng.normal(0, 0.1, len(angle))
    shuffled = rng.permutation(len(angle))
    assert widths.beam_width(angle[shuffled], strength[shuffled], 6.0206) == pytest.approx(width, abs=0.15)
    assert np.isnan(widths.beam_width(angle[angle > 0], strength[angle > 0]))


def drawn(level, start=4.0, step=0.004, **about):
    """A recording of levels [dB re 1 uPa] drawn by hand: (ping, sample); 1 cm cells of 2.5 samples."""
    made = lab.info(**({"bandwidth": 75e3, "noise": 20.0, "source": 120.0} | about))
    element = lab.element(made, 10 ** (np.asarray(level) / 20), start + step * np.arange(np.shape(level)[1]))
    return element, cells.grid(element)


def test_averaged_power_is_that_of_a_plain_mean_with_spreading_taken_off():
    """m = 8 cells of 2.5 samples; source level 215 dB; runs that touch the blind range are nothing."""
    level = np.random.default_rng(15).uniform(40, 120, (3, 200))
    level[:, :26] = 400.0  # what is sent leaves no trace in the sums
    element, grid = drawn(level, source=215.0, absorption=0.1, blank_range=4.1)
    mean, m = bottom.averaged_surface_power(element.echo_level, grid)
    assert m == 20
    loss = 20 * np.log10(element.range) + 2 * 0.1 * element.range - 215.0
    power = 10 ** (0.1 * (element.level().astype(float) + loss))
    plain = np.lib.stride_tricks.sliding_window_view(power, 20, axis=1).mean(axis=2)
    first = int(np.flatnonzero(element.range > 4.1)[0])
    assert mean[:, first:] == pytest.approx(plain[:, first:], rel=1e-4)
    assert np.all(mean[:, :first] == 0)
    short, all_of_it = bottom.averaged_surface_power(element.echo_level[:, :7], cells.grid(drawn(level[:, :7])[0]))
    assert (short.shape, all_of_it) == ((3, 1), 7)


def test_the_edge_of_a_drawn_step_by_hand():
    """Quiet at 60 dB, then 100 dB over 8 cells from sample 300 on: 15 dB under that is 5/8 of the step."""
    level = np.full((2, 600), 60.0)
    level[:, 300:320] = 100.0
    level[:, 310] = 101.0
    element, grid = drawn(level)
    found = bottom.find(element.echo_level, grid)
    assert found.level == pytest.approx(10 * np.log10((19 * 1e10 + 10**10.1) / 20), abs=0.02)
    assert found.peak.tolist() == [310, 310]
    height = (found.level - 15.0 - 60.0) / 40.0
    assert found.pick == pytest.approx(4.0 + 0.004 * (299 + height), abs=1e-4)


def test_pings_of_one_block_may_have_their_bottom_anywhere():
    """A step in the ground: each ping has its own bottom, and one has none."""
    level = np.full((6, 900), 40.0)
    at = [100, 780, 300, 500, 101, None]
    for row, first in enumerate(at):
        if first is not None:
            level[row, first : first + 100] = 100.0
    element, grid = drawn(level)
    found = bottom.find(element.echo_level, grid)
    assert np.isnan(found.pick[5])
    assert found.peak[5] == -1
    assert found.pick[:5] == pytest.approx([4.0 + 0.004 * first for first in at[:5]], abs=0.004)


def test_blocks_join_without_a_seam():
    """130 pings are three blocks; none is no bottom at all."""
    level = np.full((130, 400), 40.0)
    for row in range(130):
        level[row, 100 + row : 200 + row] = 100.0
    element, grid = drawn(level)
    found = bottom.find(element.echo_level, grid)
    assert found.pick == pytest.approx(4.0 + 0.004 * (100 + np.arange(130)), abs=0.004)
    assert len(found.level) == len(found.peak) == 130
    none = bottom.find(element.echo_level[:0], grid)
    assert (len(none.level), len(none.peak), len(none.pick)) == (0, 0, 0)


@pytest.mark.parametrize(("over_noise", "seen"), [(9.5, False), (10.5, True)])
def test_a_bottom_stands_ten_decibels_over_the_noise(over_noise, seen):
    about = {"source": 20 + over_noise + 40.0}  # strong for its source: -26 dB with spreading taken off
    level = np.full((1, 600), 5.0)
    level[:, 300:400] = 20.0 + over_noise
    element, grid = drawn(level, **about)
    assert np.isfinite(bottom.find(element.echo_level, grid).pick[0]) == seen


@pytest.mark.parametrize(("surface", "seen"), [(-48.5, False), (-47.5, True)])
def test_a_short_echo_must_be_strong_for_a_bottom(surface, seen):
    """8 cells of one level at 5.2 m, -48 dB with spherical spreading taken off as the code's table says."""
    level = np.full((1, 600), 5.0)
    level[:, 300:320] = 215.0 - 20 * np.log10(5.2 + 0.04) + surface
    element, grid = drawn(level, source=215.0)
    assert np.isfinite(bottom.find(element.echo_level, grid).pick[0]) == seen


def even(surface, first, last, samples=600, step=0.004, quiet=40.0):
    """One ping from 0 m on, source 120 dB: stretches whose level with spherical spreading taken off is even [dB]."""
    level = np.full(samples, quiet)
    for one, begin, end in zip(surface, first, last, strict=True):
        level[begin:end] = 120.0 + one - 20 * np.log10(step * np.arange(begin, end))
    return level[None]


def test_the_level_is_that_of_the_middle_of_the_stretch():
    """21 samples of one level at 0.27 m, where one is 0.12 dB of spreading; 6 samples rms: 10 log(1 + 36.7/70^2)."""
    level = np.full((1, 200), 30.0)
    level[0, 60:81] = 100.0
    element, grid = drawn(level, start=0.0, step=0.01 / 2.625, blank_range=0.1)
    assert bottom.averaged_surface_power(element.echo_level, grid)[1] == 21
    assert bottom.find(element.echo_level, grid).level[0] == pytest.approx(100.032, abs=0.02)


@pytest.mark.parametrize(("first", "at"), [(-5.8, 300), (-6.2, 450)])
def test_the_first_stretch_within_six_decibels_of_the_highest_is_the_bottom(first, at):
    element, grid = drawn(even([first, 0.0], [300, 450], [320, 470]) - 20.0, start=0.0, blank_range=0.1)
    found = bottom.find(element.echo_level, grid)
    assert at <= found.peak[0] < at + 20
    assert found.pick[0] == pytest.approx(0.004 * at, abs=0.004)


@pytest.mark.parametrize(("later", "stronger"), [(386, True), (390, False)])
def test_the_maximum_lies_in_the_quarter_of_range_behind_the_first_strong_stretch(later, stronger):
    """20 samples at -2 dB from 300 on: 8 of them in a stretch make -6 dB, so from 288 on; 360 and 20 end at 380.

    The stretch of 20 from there holds 14 samples of a stronger echo from 386 on (-1.5 dB), 10 of one from 390 (-3 dB).
    """
    level = even([-2.0, 0.0], [300, later], [320, later + 20]) - 20.0
    element, grid = drawn(level, start=0.0, blank_range=0.1)
    found = bottom.find(element.echo_level, grid)
    assert (found.peak[0] >= later) == stronger
    assert found.pick[0] == pytest.approx(0.004 * 300, abs=0.004)


@pytest.mark.parametrize(("at", "fits"), [(28, False), (31, False), (32, True), (300, True)])
def test_the_edge_needs_two_quiet_cells_beyond_the_blind_range(at, fits):
    """Blind to 4.102 m, sample 25. Two cells are 6 samples: from 32 on they fit. The peak is the first of 20 samples.

    20 samples, 19 of 100 and one of 103 dB, average to 100.2125 dB; 15 dB under that, between 60 and 103 dB.
    """
    level = np.full((1, 600), 60.0)
    level[0, at : at + 20], level[0, at] = 100.0, 103.0
    element, grid = drawn(level, blank_range=4.102)
    assert (grid.blank, grid.gap) == (26, 6)
    found = bottom.find(element.echo_level, grid)
    assert found.peak[0] == at
    part = (10 * np.log10((19 * 1e10 + 10**10.3) / 20) - 15.0 - 60.0) / 43.0
    assert found.pick[0] == pytest.approx(4.0 + 0.004 * (at - 1 + part if fits else at), abs=1e-4)


@pytest.mark.parametrize(("quiet", "drop"), [(84.0, 15.0), (86.0, 6.0)])
def test_where_noise_forbids_fifteen_decibels_six_will_do(quiet, drop):
    """Noise at 88 dB as stated or less, a bottom of 100 dB: the edge is where it passes 15, else 6 dB under that."""
    level = np.full((1, 600), quiet)
    level[0, 300:320] = 100.0
    element, grid = drawn(level, noise=88.0)
    found = bottom.find(element.echo_level, grid)
    assert found.pick[0] == pytest.approx(4.0 + 0.004 * (299 + (100.0 - drop - quiet) / (100.0 - quiet)), abs=1e-4)


@pytest.mark.parametrize(
    ("noise", "before", "length", "gap", "ahead"),
    [
        # Noise of no account: over 32 cells (80 samples) 60 samples of it, 1.2 dB less, must lie 17 dB below.
        (20.0, -16.2, 200, 20, False),
        (20.0, -14.8, 200, 20, True),
        # Noise 12 dB below counts 1.3 times in the longer averages: 10 of 20 samples, 3 dB less, must lie 10 dB below.
        (88.0, -7.4, 20, 10, False),
        (88.0, -6.6, 20, 10, True),
        # Noise 14 dB below: 20 of 40 samples 10^-1.3 + 1.3 x 10^-1.4, so -6.9 dB.
        (86.0, -7.3, 20, 20, False),
        (86.0, -6.5, 20, 20, True),
        # The same three to a tenth of a decibel.
        (20.0, -15.85, 200, 20, False),
        (20.0, -15.65, 200, 20, True),
        (88.0, -7.1, 20, 10, False),
        (88.0, -6.9, 20, 10, True),
        (86.0, -7.0, 20, 20, False),
        (86.0, -6.8, 20, 20, True),
    ],
)
def test_the_water_ahead_of_the_edge_is_calm(noise, before, length, gap, ahead):
    """A weaker echo (dB) and a quiet gap ahead of a bottom of 100 dB: the edge lies ahead of it or behind it."""
    level = np.full((1, 600), 30.0)
    level[0, 300 - gap - length : 300 - gap] = 100.0 + before
    level[0, 300:320] = 100.0
    # So far away that spreading is even; blind for 26 samples; so loud a source that a fish may be as strong.
    element, grid = drawn(level, noise=noise, start=100.0, blank_range=100.102, source=190.0)
    edge = 300 - gap - length if ahead else 300
    assert bottom.find(element.echo_level, grid).pick[0] == pytest.approx(100.0 + 0.004 * edge, abs=0.004)


@pytest.mark.parametrize(
    ("strength", "about", "is_ground"),
    [
        # Denser than any school: -26 dB re 1 m-1, in -19 dB re 1 sr and cells of 1 cm, is -65 dB and so 84.9 dB here.
        (84.5, {}, False),
        (85.3, {}, True),
        # Stronger than any one fish: in a narrower beam -30 dB re 1 m2, which is 79.8 dB here.
        (79.4, {"equivalent_beam_angle": -25.0}, False),
        (80.2, {"equivalent_beam_angle": -25.0}, True),
        # A bottom stands 10 dB over the noise.
        (87.6, {"noise": 78.0}, False),
        (88.4, {"noise": 78.0}, True),
    ],
)
def test_a_short_echo_that_only_ground_gives_belongs_to_the_bottom(strength, about, is_ground):
    """An echo of 5 samples, and 6 quiet ones behind it, ahead of a bottom of 100 dB at 101.2 m; source level 190 dB.

    strength [dB]: of the echo averaged over 8 cells, 20 samples: 6 dB below its own. A fish of it is left in the water.
    """
    level = np.full((1, 600), 30.0)
    level[0, 289:294] = strength + 10 * np.log10(4)
    level[0, 300:320] = 100.0
    element, grid = drawn(level, start=100.0, source=190.0, **about)
    edge = 289 if is_ground else 300
    assert bottom.find(element.echo_level, grid).pick[0] == pytest.approx(100.0 + 0.004 * edge, abs=0.004)


@pytest.mark.parametrize(("water", "calm"), [(-11.6, True), (-11.25, False)])
def test_water_little_louder_than_the_noise_is_calm(water, calm):
    """Noise 14 dB below the bottom: 10^-1.7 + 1.3 x 10^-1.4 are -11.44 dB. Else only the recording's start is calm."""
    level = np.full((1, 600), 100.0 + water)
    level[0, 300:320] = 100.0
    element, grid = drawn(level, noise=86.0, start=100.0)
    pick = bottom.find(element.echo_level, grid).pick[0]
    if calm:
        assert pick == pytest.approx(100.0 + 0.004 * (300 - 6.0 / -water), abs=4e-4)
    else:
        assert pick < 100.0 + 0.004 * 80


@pytest.mark.parametrize(
    ("noise", "below", "length", "gap", "ahead"),
    [
        # No noise to speak of: what is joined to the edge is onset, down to 35 dB.
        (20.0, 25.0, 60, 0, True),
        (20.0, 34.5, 60, 0, True),
        (20.0, 35.5, 60, 0, False),
        # Two cells, 6 samples, of quiet part it from the edge; 5 do not.
        (20.0, 25.0, 60, 6, False),
        (20.0, 25.0, 60, 5, True),
        # What is not 10 dB over the noise is water.
        (64.0, 25.0, 60, 0, True),
        (66.0, 25.0, 60, 0, False),
    ],
)
def test_the_onset_of_an_echo_is_its_beginning(noise, below, length, gap, ahead):
    """A weak first part (dB below 100), over water of 30 dB, then 60 samples at 82 and a bottom of 100 dB from 300 on.

    82 dB is weaker than the edge's 85: without the onset the pick is at 300. The last of it stands over what leaks.
    """
    level = np.full((1, 600), 30.0)
    level[0, 240:300] = 82.0
    level[0, 240 - gap - length : 240 - gap] = 100.0 - below
    level[0, 300:320] = 100.0
    element, grid = drawn(level, noise=noise, start=100.0)
    edge = 240 - gap - length if ahead else 240
    assert bottom.find(element.echo_level, grid).pick[0] == pytest.approx(100.0 + 0.004 * edge, abs=0.004)


@pytest.mark.parametrize(("length", "onset"), [(6, False), (8, True)])
def test_an_onset_is_longer_than_two_cells(length, onset):
    """Six samples at 82 dB may be the filter's own flank, and the pick stays where 85 dB are passed."""
    level = np.full((1, 600), 30.0)
    level[0, 300 - length : 300] = 82.0
    level[0, 300:320] = 100.0
    element, grid = drawn(level, noise=20.0, start=100.0, source=190.0)
    edge = 300 - length if onset else 300
    assert bottom.find(element.echo_level, grid).pick[0] == pytest.approx(100.0 + 0.004 * edge, abs=0.004)


@pytest.mark.parametrize(("length", "onset"), [(190, True), (210, False)])
def test_an_onset_is_shorter_than_eight_hundredths_of_range(length, onset):
    """From 300 samples on, 10.0 m: 0.8 m are 200 samples, the gap ahead of it included; beside a ping far shallower."""
    level = np.full((2, 600), 30.0)
    level[0, 300 - length : 300], level[1, 60:110] = 82.0, 82.0
    level[0, 300:320], level[1, 110:130] = 100.0, 100.0
    element, grid = drawn(level, noise=20.0, start=8.8)
    edge = [300 - length if onset else 300, 60]
    assert bottom.find(element.echo_level, grid).pick == pytest.approx(8.8 + 0.004 * np.array(edge), abs=0.004)
