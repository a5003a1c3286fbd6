import base64
import zlib
from dataclasses import replace

import numpy as np
import pytest
import synthetic_record
from hypothesis import given
from hypothesis import strategies as st
from pingwright.echograms.record import FILL_VALUE
from pingwright.page import cells, curves


@pytest.fixture(scope="module")
def element():
    return synthetic_record.record(pings=37, step=0.05).elements[0]


def unpacked(packed):
    planes = np.frombuffer(zlib.decompress(base64.b64decode(packed["data"])), np.uint8).astype(np.uint16)
    high, low = planes[: len(planes) // 2], planes[len(planes) // 2 :]
    return ((high << 8) | low).reshape(packed["columns"], packed["rows"])


def levels(codes):
    return np.where(codes == 0, np.nan, cells.BASE + cells.STEP * (codes.astype(float) - 1))


@pytest.mark.parametrize("budget", [10**9, 5000, 700])
def test_every_cell_holds_the_largest_stored_level(element, budget):
    picture = cells.echogram(element, budget)
    assert picture.codes.size <= budget
    assert (picture.pings * picture.samples > 1) == (budget < 10**9)
    whole = np.asarray(element.echo_strength(), float)
    found = levels(picture.codes)
    for column, row in [(0, 0), (1, 3), (picture.codes.shape[0] - 1, picture.codes.shape[1] - 1), (2, 17)]:
        cell = whole[
            column * picture.pings : (column + 1) * picture.pings, row * picture.samples : (row + 1) * picture.samples
        ]
        assert abs(found[column, row] - cell.max()) <= cells.STEP / 2 + 1e-4


def test_packing_loses_nothing(element):
    picture = cells.echogram(element, 10**9)
    assert np.array_equal(unpacked(picture.packed()), picture.codes)


def test_a_cell_stands_where_its_samples_stand(element):
    picture = cells.echogram(element, 10**9)
    sample, ping = 321, 11
    assert picture.top + (sample + 0.5) * picture.height == pytest.approx(
        element.range[sample] + element.info.transducer_depth, abs=1e-9
    )
    assert picture.left + (ping + 0.5) * picture.width == pytest.approx(element.x[ping], abs=1e-9)


@given(pings=st.integers(1, 200_000), samples=st.integers(1, 100_000), budget=st.integers(20_000, 2_000_000))
def test_reduction_stays_within_the_budget_and_wastes_little(pings, samples, budget):
    per_ping, per_sample = cells.reduction(pings, samples, budget)
    columns, rows = -(-pings // per_ping), -(-samples // per_sample)
    assert columns * rows <= budget
    if pings * samples <= budget:
        assert (per_ping, per_sample) == (1, 1)


def test_missing_values_stay_missing_and_do_not_hide_their_neighbours(element):
    stored = np.array(element.echo_level)
    stored[0, :] = FILL_VALUE
    stored[5, 100] = FILL_VALUE
    picture = cells.echogram(replace(element, echo_level=stored), 10**9)
    assert (picture.codes[0] == 0).all()
    assert picture.codes[5, 100] == 0
    assert (picture.codes[1] > 0).all()


def test_an_enlarged_row_keeps_its_place_and_its_levels():
    level = np.array([[-40.0, -50.0], [-60.0, np.nan], [-20.0, -30.0]], np.float32)
    made = cells.of_chip(level, np.array([0.0, 1.0, 2.0]), np.array([0.9, 0.6, 0.3, 0.0]), 1, 1)
    assert (made.left, made.width, made.top) == (0.0, 1.0, 0.9)
    assert made.height == pytest.approx(-0.3)  # heights run up
    back = np.where(made.codes == 0, np.nan, cells.BASE + cells.STEP * (made.codes.astype(float) - 1))
    assert np.allclose(back.T, level, atol=cells.STEP / 2, equal_nan=True)


def test_a_boat_at_anchor_is_drawn_over_ping_number(element):
    still = replace(element, x=np.zeros(element.pings))
    assert cells.along_track(still) == (-0.5, 1.0, False)


def test_the_curve_over_a_fish_holds_every_sample_of_its_ping():
    """No sample is lost, and a cell is no higher than a sample or two: 15 mm echoes need that."""
    record = synthetic_record.record(pings=40, step=0.01)
    element = record.elements[0]
    mark = {"x": float(element.x[17]), "depth": 57.0, "height": 0.3}
    made = curves.packed(element, [mark], 3)
    codes = unpacked(made).astype(int)
    depth = element.range + element.info.transducer_depth
    inside = (depth >= 57.3 - 1.2) & (depth < 57.3 + 0.3)
    level = element.echo_strength(17)[inside]
    assert made["heights"][0] <= 2 * (depth[1] - depth[0]) + 1e-9
    assert cells.BASE + cells.STEP * (codes.max() - 1) == pytest.approx(level.max(), abs=cells.STEP / 2 + 1e-3)
    row = int((57.0 - made["tops"][0]) / made["heights"][0])
    near = np.abs(depth - 57.0) < 1.5 * made["heights"][0]
    assert cells.BASE + cells.STEP * (codes[0, row] - 1) <= element.echo_strength(17)[near].max() + cells.STEP
