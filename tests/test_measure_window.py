"""The bottom pick does not depend on where a record begins: cutting water off its top changes nothing."""

from dataclasses import replace

import numpy as np
import pytest
import world_lab as lab
from pingwright import recording
from pingwright.inputs.scenario import parse
from pingwright.measure import bottom, cells

DEPTH = 40.0
LAYER = (
    '[[scattering_layer]]\nname = "l"\nkind = "flat"\ndepth = [8, 36]\nvolume_strength = -60\nfrequency = "120 kHz"\n'
)


def picked(row, first):
    """Return the bottom of an element's pings, the record cut to begin at a sample."""
    cut = replace(row, range=row.range[first:], echo_level=row.echo_level[:, first:])
    grid = cells.grid(cut)
    return bottom.find(cut.echo_level, grid), grid


@pytest.mark.parametrize(("slope", "sediment", "body"), [(0, "gravel", LAYER), (12, "mud", LAYER), (20, "mud", "")])
def test_cutting_water_off_the_top_changes_no_pick(slope, sediment, body):
    sheet = lab.text(body, pings=24, depth=DEPTH, end=50, slope=slope, sediment=sediment)
    made = lab.spread_out(recording.prepare(parse(sheet.replace("ambient = false", "ambient = true"))))
    row = recording.in_memory(made, quiet=True).elements[0]
    whole, grid = picked(row, 0)
    # Source: the nearest point of a plane, d cos(slope).
    latest = bottom.record_from(DEPTH * np.cos(np.radians(slope)), grid.cell)
    assert latest < DEPTH * np.cos(np.radians(slope)) * 0.92
    for share in (1.0, 0.6):
        first = int(grid.index(np.asarray(share * latest)))
        part, _ = picked(row, first)
        assert part.pick == pytest.approx(whole.pick, abs=1e-6, nan_ok=True)
        assert part.level == pytest.approx(whole.level, abs=1e-6, nan_ok=True)
        assert np.array_equal(part.peak[part.peak >= 0] + first, whole.peak[whole.peak >= 0])
    assert np.isfinite(whole.pick).sum() >= 12
