"""From a scenario to a record: the same whatever the threads, in memory as in the file, and the header's numbers."""

import numpy as np
import pytest
from pingwright import recording
from pingwright.acoustics import absorption
from pingwright.echograms.file import read
from pingwright.inputs import scenario
from pingwright.recording.surroundings import with_surroundings
from pingwright.run.pipeline import simulate_to
from tiny_scenarios import LAKE


@pytest.fixture(scope="module")
def prepared():
    return recording.prepare(scenario.parse(LAKE, "lake.toml", {}))


@pytest.fixture(scope="module")
def record(prepared):
    return recording.in_memory(prepared, threads=1, keep_phase=True)


def test_two_threads_give_the_same_bits(prepared, record):
    other = recording.in_memory(prepared, threads=2, keep_phase=True)
    for a, b in zip(record.elements, other.elements, strict=True):
        assert np.array_equal(a.echo_level, b.echo_level)
        assert np.array_equal(a.echo, b.echo, equal_nan=True)  # the blanking range holds nan


def test_the_file_holds_what_memory_holds(prepared, record, tmp_path):
    simulate_to(tmp_path / "echograms.h5", prepared, keep_phase=True)
    stored = read(tmp_path / "echograms.h5")
    for a, b in zip(record.elements, stored.elements, strict=True):
        assert a.info == b.info
        assert np.array_equal(a.echo_level, b.echo_level[:])
        assert np.array_equal(a.echo, b.echo[:], equal_nan=True)
    assert stored.scenario == LAKE
    again = scenario.parse(stored.scenario_resolved, "resolved.toml", {})
    assert again == prepared.scenario


def test_stored_levels_are_those_of_the_echo(record):
    """The compiled packing against the plain one; where the record is blind it is saturated."""
    from pingwright.echograms import levels

    for element in record.elements:
        seen = element.range > element.info.blank_range + 0.05
        plain = levels.pack(element.echo[:, seen])
        assert np.abs(plain.astype(int) - element.echo_level[:, seen]).max() <= 1


def test_another_seed_gives_other_bits_in_every_element(record):
    other = recording.prepare(scenario.parse(LAKE.replace("seed = 3", "seed = 4"), "lake.toml", {}))
    for a, b in zip(record.elements, recording.in_memory(other).elements, strict=True):
        assert (a.echo_level != b.echo_level).mean() > 0.5


def test_axes_and_numbers_of_the_header(prepared, record):
    high, low = record.elements
    assert [e.info.slug for e in record.elements] == ["narrow-high", "low"]
    assert high.pings == 40
    assert np.allclose(high.x, -8 + 2 * 1852 / 3600 * 0.2 * np.arange(40))
    assert np.allclose(high.bottom_depth, 9.0)
    assert high.range[0] == pytest.approx(0.0, abs=high.range[1])
    assert high.range[-1] == pytest.approx(11.0, abs=0.02)
    # At least twice the bandwidth: the contract's sample rate.
    for element in record.elements:
        rate = element.info.assumed_sound_speed / 2 / np.diff(element.range).mean()
        assert rate >= 2 * (element.info.band_high - element.info.band_low) * (1 - 1e-9)
    # Fresh water at 14 degC, mean over a window of 11 m: the formula itself at mid-depth, pressure changes it little.
    expected = absorption.francois_garrison(170e3, 14.0, 0.0, 5.5, 8.0)
    assert high.info.absorption == pytest.approx(float(expected), rel=0.01)
    assert high.info.beamwidth_along_low > high.info.beamwidth_along > high.info.beamwidth_along_high
    middle = np.argmin(np.abs(high.beam.frequency - 170e3))
    inside = high.beam.angle[high.beam.along[middle] >= -3.0103]
    assert np.ptp(inside) == pytest.approx(high.info.beamwidth_along, abs=0.5)
    assert prepared.header.elements[0].echo_level is None


def test_elements_in_turn_share_the_pings():
    text = LAKE.replace('speed = "2 kn"', 'speed = "2 kn"\nin_turn = true')
    made = recording.prepare(scenario.parse(text, "lake.toml", {}))
    high, low = made.header.elements
    assert high.pings == low.pings == 40
    assert np.allclose(low.ping_time - high.ping_time, 0.2)
    record = recording.in_memory(made)
    assert all((element.echo_level[:, 200:] > -30000).any(axis=1).all() for element in record.elements)


@pytest.mark.parametrize("window", ['["40 m", "50 m"]', '["31 m", "70 m"]', '["0 m", "1 m"]'])
def test_fish_beside_steep_ground_outside_the_window_are_no_error(window):
    """Their surroundings are to be heard over ranges that the window does not hold: two internal errors."""
    text = f"""
title = "a wreck on a slope, and a window beside it"
[water]
temperature = 11
salinity = 34.5
[boat]
pings = 4
start = "-2 m"
[window]
depth = {window}
[[element]]
name = "low"
use = "low-pencil"
[seabed]
depth = "30 m"
slope = {{ along = "20 deg" }}
[[seabed.layer]]
sediment = "gravel"
[[structure]]
name = "wreck"
shape = {{ kind = "box", length = "5 m", width = "3 m", height = "2 m" }}
at = {{ x = "0 m", y = "0 m" }}
[[fish]]
name = "f"
swimbladder = "closed"
length = "40 cm"
count = 2
where = {{ x = ["-3 m", "3 m"], y = ["-1 m", "1 m"], above_bottom = ["0.3 m", "3 m"] }}
"""
    prepared = recording.prepare(scenario.parse(text))
    held = with_surroundings(prepared, threads=1).header.truth.surroundings
    assert held is None or held.level.shape[0] == len(held.ping)
    assert len(recording.in_memory(prepared, threads=1).elements[0].range) > 0
