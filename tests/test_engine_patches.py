"""Patches where they count: an element gets those of the seabed that its beam and resolution need, and no more."""

import numpy as np
import pytest
from pingwright.engine import geometry, jobs, look, preparing
from pingwright.engine.kernels import plain
from pingwright.inputs import scenario
from pingwright.recording import prepare
from scipy import ndimage, stats

SLOPE = """
title = "A slope under a pencil, a tilted pencil and a cone"
seed = 9
[water]
temperature = "11 degC"
salinity = 34.5
[boat]
speed = "4 kn"
pings = 48
ping_interval = "0.5 s"
[window]
depth = ["0 m", "26 m"]
[[element]]
name = "pencil"
use = "high-pencil"
pulse = { length = "0.5 ms" }
[[element]]
name = "tilted"
use = "high-pencil"
pulse = { length = "0.5 ms" }
tilt = { across = "15 deg" }
[[element]]
name = "low"
use = "low-pencil"
pulse = { length = "0.5 ms" }
[seabed]
depth = "12 m"
slope = { across = "12 deg" }
roughness = "none"
[[seabed.layer]]
sediment = "gravel"
[reverberation]
second_echo = false
"""


@pytest.fixture(scope="module")
def run():
    prepared = prepare(scenario.parse(SLOPE, "slope.toml", {}))
    run = preparing.Run(prepared.world, prepared.elements, prepared.settings, quiet=True)
    preparing.prepare(run)
    return run


def power(run):
    """Return each element's echo power (ping, sample)."""
    chunks = [jobs.job(run, range(start, start + 16), True) for start in (0, 16, 32)]
    return [np.abs(np.concatenate([c[e].echo for c in chunks])) ** 2 for e in range(3)]


def whole(self, tiles, e, pose):
    some = geometry.segments(self.seabed.slices[tiles])
    return some, np.ones(len(some), np.float32)


def with_all_patches(monkeypatch):
    """Let jobs hold all patches of their tiles, and every element receive them all."""
    joined = geometry.Tiles.joined
    monkeypatch.setattr(geometry.Tiles, "joined", lambda self, order, looks: joined(self, order))
    monkeypatch.setattr(jobs._Scene, "_shared", whole)


def test_a_part_of_the_patches_keeps_mean_power_and_its_statistics(run, monkeypatch):
    thinned = power(run)
    with_all_patches(monkeypatch)
    full = power(run)
    for few, all_, grid in zip(thinned, full, run.samplings, strict=True):
        range_ = (grid.origin + (grid.first + np.arange(grid.count)) / grid.stored) * 745
        for low, high in ((13.5, 16.0), (16.0, 20.0), (20.0, 25.0)):
            part = (range_ > low) & (range_ < high)
            levels = [10 * np.log10(p[:, part].mean()) for p in (few, all_)]
            # Some 48 pings x 100 cells of exponential power: 0.06 dB each; beams of side lobes vary more over a slope.
            assert levels[0] == pytest.approx(levels[1], abs=0.5)
    # Far down the side lobes of the pencil the power is still exponential about its local mean (Rayleigh envelopes):
    # every fourth sample, so that draws are apart by two cells.
    few, grid = thinned[0], run.samplings[0]
    range_ = (grid.origin + (grid.first + np.arange(grid.count)) / grid.stored) * 745
    far = few[:, (range_ > 20) & (range_ < 25)]
    smooth = np.apply_along_axis(lambda row: np.convolve(row, np.ones(65) / 65, "same"), 0, far.mean(axis=0))
    ratio = (far / smooth)[:, 40:-40:4].ravel()
    assert stats.kstest(ratio / ratio.mean(), "expon").statistic < 0.03


def test_shares_are_needs_over_what_lies_there(run):
    shares = run.tiles.get([(0, 0)])[0][0].shares
    assert shares.shape == (3, 2)
    # The tilted pencil asks for most; outside any beam flat rings do, eight times fewer than the densest; the low
    # element's cells are 3.5 times as long (80 kHz of bandwidth against 23).
    assert shares[1, 0] == pytest.approx(1.0)
    assert shares[0, 1] < 0.4
    assert shares[2, 1] == pytest.approx(shares[0, 1] * 23 / 80, rel=0.02)


def test_tiles_are_chosen_as_by_plain_numpy(run):
    rng = np.random.default_rng(4)
    pings = np.arange(len(run.world.track))
    scene = jobs._Scene(run, pings)
    many = 0
    for ping in rng.choice(pings, 12, replace=False):
        place = geometry.origin(run.world.track, int(ping))
        tiles = scene.seabed.tiles(place, run.reach)
        part = scene.sets(int(ping), range(len(run.elements)))[0]
        for e, element in enumerate(run.elements):
            pose = geometry.pose(run.world.track, int(ping), element)
            compiled, shares = part.heard[e]
            want = plain.thin_plain(scene.seabed, tiles, e, run.lobes[e], pose)
            assert np.array_equal(compiled, np.concatenate([some for some, _ in want]))
            gains = np.concatenate([np.full(len(some), gain) for some, gain in want])
            assert np.abs(shares / gains - 1).max() < 1e-7  # single precision
            many += len(want)
    assert many > 50


def test_a_ring_far_out_of_the_beam_has_as_many_patches_as_one_straight_below():
    # Rings of one range cell dr have the area 2 pi r dr: even patches that are 8 a cell below are 8 r / h at r.
    offset = np.array([[0.0, 30.0, 200.0], [0.0, 40.0, 0.0], [50.0, 50.0, 50.0]])
    spare = plain.spare(offset, np.zeros(3))
    assert spare == pytest.approx([1.0, 50 / np.sqrt(5000), 50 / np.sqrt(42500)])
    assert plain.spare(offset, np.full(3, 5.0)) == pytest.approx(
        [1.0, 50 / (np.sqrt(5000) - 5), 50 / (np.sqrt(42500) - 5)]
    )


def test_distances_from_the_lobes_are_those_of_a_distance_transform():
    rng = np.random.default_rng(2)
    bright = rng.random((65, 65)) < 0.002
    cosine = np.linspace(-1, 1, 65)
    want = ndimage.distance_transform_edt(~bright, sampling=cosine[1] - cosine[0])
    assert look._distance(bright, cosine) == pytest.approx(want, abs=1e-12)


LAKE = """
title = "lake"
[water]
temperature = 18
salinity = 0
[boat]
speed = "15 m/s"
ping_interval = "0.2 s"
pings = 48
[[element]]
name = "pencil"
use = "high-pencil"
[[element]]
name = "fan"
use = "medium-fan"
[[element]]
name = "low"
use = "low-pencil"
[seabed]
depth = "6 m"
roughness = "none"
[[seabed.layer]]
sediment = "mud"
[window]
depth = ["4 m", "9 m"]
[reverberation]
second_echo = false
"""


def test_jobs_hold_of_each_tile_what_their_elements_need(run):
    """The first patches of each tile, with room for its number in full; the rest is never looked at."""
    tiles, places = run.tiles, np.zeros((3, 1))
    full, part = (geometry.stretch(tiles, places, 20.0, looks) for looks in (None, [2]))
    assert np.array_equal(full.slices, full.whole)
    assert len(part.points) < 0.5 * len(full.points)
    assert np.array_equal(np.diff(part.whole, axis=1), np.diff(full.slices, axis=1))
    need = part.shares[:, 2].max(axis=1)
    counts = np.diff(part.slices, axis=1)[:, 0]
    assert (counts >= np.floor(need * np.diff(full.slices, axis=1)[:, 0])).all()
    for (start, stop), (first, _) in zip(part.slices, full.slices, strict=True):
        assert np.array_equal(
            part.points.position[:, start:stop], full.points.position[:, first : first + stop - start]
        )


def test_each_element_gets_the_part_of_mud_that_it_needs_and_its_power_stays(monkeypatch):
    prepared = prepare(scenario.parse(LAKE, "lake.toml", {}))
    run = preparing.Run(prepared.world, prepared.elements, prepared.settings, quiet=True)
    preparing.prepare(run)
    scene = jobs._Scene(run, np.arange(2))
    part = scene.sets(0, range(3))[0]
    heard = [int(np.diff(part.heard[e][0], axis=1).sum()) for e in range(3)]
    assert max(heard) < 0.4 * len(part.points)
    thinned = power(run)
    with_all_patches(monkeypatch)
    full = power(run)
    for few, all_, grid in zip(thinned, full, run.samplings, strict=True):
        range_ = (grid.origin + (grid.first + np.arange(grid.count)) / grid.stored) * 738
        # Behind the first echo: of mud that is the glint of a few patches, and 48 pings tell its mean to 1.5 dB alone.
        for low, high in ((6.2, 7.0), (7.0, 8.2)):
            some = (range_ > low) & (range_ < high)
            levels = [10 * np.log10(p[:, some].mean()) for p in (few, all_)]
            # 48 pings x 25 cells and more, a few of them strong: 0.2 dB each.
            assert levels[0] == pytest.approx(levels[1], abs=0.6)
