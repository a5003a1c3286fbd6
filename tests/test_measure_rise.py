"""Where the water ahead of a bottom is calm, from plain means; the search close ahead against the whole search."""

import measure_lab as lab
import numpy as np
import pytest
from pingwright.measure import bottom, cells, detect, rise
from pingwright.measure.bottom import Bottom


def drawn(level, noise=40.0, start=100.0, **about):
    """Levels [dB re 1 uPa] drawn by hand; 1 cm cells of 2.5 samples, so that 8 cells are 20 samples."""
    made = lab.info(**({"bandwidth": 75e3, "noise": noise, "source": 120.0} | about))
    element = lab.element(made, 10 ** (np.asarray(level) / 20), start + 0.004 * np.arange(np.shape(level)[1]))
    return element.echo_level, cells.grid(element)


@pytest.mark.parametrize("begin", [0, 37, 60])
@pytest.mark.parametrize("noise", [-50.0, 75.0])
def test_calm_water_is_weak_over_8_16_and_32_cells_that_end_there(begin, noise):
    """10, 13 and 17 dB below the bottom, noise counted 1.3 times in the longer ones; plain means of powers.

    Ground: no weaker than -30 dB re 1 m2 or -26 dB re 1 m-1, than noise by 10 dB, and 3 dB over 32 cells.
    """
    m, rng = 20, np.random.default_rng(3)
    level = np.repeat(rng.uniform(60.0, 96.0, (2, 50)), 12, axis=1)
    stored, grid = drawn(level, noise=noise)
    mean, size = bottom.averaged_surface_power(stored, grid)
    assert size == m
    power = 10 ** (0.1 * (np.round(level, 2) + grid.surface_gain))
    most = np.full(2, 10 ** (0.1 * (100.0 + 40.0 - 120.0)))
    found, water = rise._calm(mean[:, begin:], begin, most, m, grid)
    gain = 20 * np.log10(grid.range) - 120.0
    seen = set()
    for row in range(2):
        for j in range(begin + 3 * m, mean.shape[1], 7):
            eight, sixteen, whole = (power[row, j - k * m : j + m].mean() for k in (0, 1, 3))
            own = 1.3 * 10 ** (0.1 * (noise + grid.surface_gain[j + 9]))
            calm = [
                eight <= most[0] * 10**-1.0, sixteen <= most[0] * 10**-1.3 + own, whole <= most[0] * 10**-1.7 + own
            ]  # fmt: skip
            assert found[row, j - begin] == all(calm)
            least = max(-30.0 - 20 * np.log10(grid.range[j]), -19.0 - 20.0 - 26.0)
            loud = max(least, noise + gain[j + 9] + 10.0)
            ground = 10 * np.log10(eight) >= loud and whole <= eight * 10**-0.3
            assert water[row, j - begin] == (all(calm) and not ground)
            seen |= {(calm[0], calm[1], calm[2]), ground}
    assert {True, False, (True, True, True), (True, True, False)} <= seen


def test_the_search_close_ahead_finds_what_the_whole_search_finds():
    """Bottoms anywhere, with noise that forbids the first drop, with none at all, with water that is never calm."""
    rng = np.random.default_rng(4)
    level = rng.uniform(20.0, 40.0, (60, 1500))
    level[30:45] = rng.uniform(86.0, 90.0, (15, 1500))
    level[45:50] = rng.uniform(92.0, 96.0, (5, 1500))
    for row in range(60):
        at = rng.integers(700, 1400)
        level[row, max(at - rng.integers(1, 600), 0) : at] += rng.uniform(0.0, 55.0) if row < 30 or row >= 50 else 0.0
        level[row, at : at + 60] = rng.uniform(99.0, 101.0)
    stored, grid = drawn(level, noise=88.0)
    mean, m = bottom.averaged_surface_power(stored, grid)
    first = np.argmax(mean, axis=1)
    peak = first + m // 2
    most = mean[np.arange(60), first]
    about = (10 * np.log10(most) - grid.surface_gain[first + 9], peak)
    found = rise.edges(stored, mean, m, grid, most, *about)
    whole = rise._edges(grid.blank, stored, mean, m, grid, most, *about)
    for one, other in zip(found, whole, strict=True):
        for mine, plain in zip(one, other, strict=True):
            assert np.array_equal(mine, plain, equal_nan=True)
    assert peak.min() - rise.CLOSE * m > grid.blank
    assert {15.0, 6.0} <= set(found[0][1][np.isfinite(found[0][1])].tolist())
    assert np.isnan(found[0][1]).any()


@pytest.mark.parametrize("floor", [-70.0, -40.0])
def test_what_may_be_detected_holds_all_that_is(floor):
    """Maxima of noise and of echoes: none over its threshold and the floor is left out; most of the noise is."""
    rng = np.random.default_rng(5)
    level = 40.0 + 10 * np.log10(rng.exponential(size=(4, 2000)))
    level[:, 300::170] = rng.uniform(45.0, 90.0, (4, 10))
    stored, grid = drawn(level, start=4.0)
    row, index = np.nonzero((stored[:, 1:-1] > stored[:, :-2]) & (stored[:, 1:-1] > stored[:, 2:]))
    index += 1
    none = Bottom(np.full(4, np.nan), np.full(4, -1), np.full(4, np.nan))
    may, where = detect.possible(stored, grid, row, index, floor, 1e-4)
    peaks = detect.examine(stored, grid, none, row, index, 1e-4)
    assert (may | ~peaks.exceeding(floor)).all()
    assert where == pytest.approx(peaks.range, abs=1e-12)
    assert 10 < peaks.exceeding(floor).sum() <= may.sum() < 0.2 * len(may)
    # Exactly: over the least threshold of known noise, and the floor.
    spread = round(grid.filtering.spread, 4)
    least = 40.0 + 10 * np.log10(min(detect.factors(n, 1e-4, spread).t_noise for n in range(17)))
    assert may.tolist() == ((peaks.level >= least - 1e-6) & (peaks.strength >= floor)).tolist()
