"""Bottom grids of the fewest rows: a plane given by its corners is that plane."""

import numpy as np
import pytest
from pingwright.inputs import scenario
from pingwright.world import terrain

TEXT = """title = "t"
[water]
temperature = 10
salinity = 35
[[element]]
name = "e"
use = "high-pencil"
[seabed]
grid = "g.csv"
[[seabed.layer]]
sediment = "mud"
"""


@pytest.mark.parametrize("x", [(-100, 100), (-100, 0, 100), (-100, -50, 0, 100)])
@pytest.mark.parametrize("y", [(-50, 50), (-50, -10, 50)])
def test_plane_is_read_as_a_plane(x: tuple[int, ...], y: tuple[int, ...]) -> None:
    rows = "\n".join(f"{a},{b},{40 + 0.05 * a + 0.02 * b}" for a in x for b in y)
    seabed = scenario.parse(TEXT, "t.toml", {"g.csv": f"x,y,depth\n{rows}".encode()}).seabed
    found = terrain.build(seabed, 0).depth(np.array([10.0, 50.0]), np.array([5.0, -20.0]))
    assert found == pytest.approx([40.6, 42.1], abs=1e-9)
