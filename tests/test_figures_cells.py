"""Reduction to cells by maximum."""

from dataclasses import replace

import numpy as np
import pytest
import synthetic_record
from hypothesis import given, settings
from hypothesis import strategies as st
from pingwright.figures import cells


@pytest.fixture(scope="module")
def element():
    return synthetic_record.record(pings=30, step=0.1, kinds=synthetic_record.KINDS[:1]).elements[0]


@given(st.integers(1, 60), st.integers(1, 60))
@settings(max_examples=60, deadline=None)
def test_every_value_is_in_a_cell_and_every_cell_has_a_value(count, cell_count):
    centres = np.arange(count, dtype=float)
    edges = cells.edges_of(centres, cell_count)
    first, past = cells.spans(centres, edges)
    assert (past > first).all()
    covered = np.zeros(count, bool)
    for a, b in zip(first, past, strict=True):
        covered[a:b] = True
    assert covered.all() or cell_count > count
    values = np.random.default_rng(count).normal(size=(3, count))
    expected = np.stack([values[:, a:b].max(axis=1) for a, b in zip(first, past, strict=True)], axis=1)
    assert np.array_equal(cells.reduce_max(values, first, past), expected)


def test_the_strongest_sample_is_never_lost(element):
    shown = cells.echogram(element, 17, 7)
    assert shown.level.max() == pytest.approx(element.echo_strength().max(), abs=1e-4)
    assert shown.level.shape == (17, 7)
    assert shown.samples > 1
    assert shown.pings > 1


def test_blocks_of_pings_change_nothing(element, monkeypatch):
    whole = cells.echogram(element, 40, 11)
    monkeypatch.setattr(cells, "BLOCK", 4)
    parts = cells.echogram(element, 40, 11)
    assert np.array_equal(whole.level, parts.level)
    strip = cells.strip(element, element.bottom_depth - 0.6, 2.0, 0.4, 30, 11)
    monkeypatch.setattr(cells, "BLOCK", 1000)
    assert np.array_equal(strip.level, cells.strip(element, element.bottom_depth - 0.6, 2.0, 0.4, 30, 11).level)


def test_a_fine_picture_shows_every_sample_once(element):
    shown = cells.echogram(element, 10**6, 10**6)
    assert np.array_equal(shown.level, element.echo_strength().T)
    assert (shown.pings, shown.samples) == (1, 1)


def test_beyond_the_recording_there_is_nothing(element):
    deep = np.full(element.pings, element.range[-1] - 0.2)
    shown = cells.strip(element, deep, 1.0, 1.0, 20, 30)
    assert np.isnan(shown.level[-4:]).all()
    assert np.isfinite(shown.level[:10]).all()


def test_gaps_in_the_pick_are_bridged():
    assert np.allclose(cells.filled(np.array([np.nan, 1, np.nan, 3, np.nan])), [1, 1, 2, 3, 3])
    assert np.isnan(cells.filled(np.array([np.nan, np.nan]))).all()


def test_a_single_ping_is_drawn(element):
    one = replace(
        element,
        **{n: getattr(element, n)[:1] for n in ("ping_time", "x", "y", "roll", "pitch", "heave", "bottom_depth")},
        echo_level=element.echo_level[:1],
    )
    assert cells.echogram(one, 20, 20).level.shape == (20, 1)
