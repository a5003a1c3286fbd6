"""Heights over whatever stands highest, reefs, and things out of place."""

import numpy as np
import pytest
import world_lab as lab
from pingwright.inputs.scenario import parse
from pingwright.world import build, reef, resolve

BOX = """
[[structure]]
name = "box"
shape = { kind = "box", length = "10 m", width = "6 m", height = "4 m" }
"""
FISH = """
[[fish]]
name = "f"
swimbladder = "closed"
length = "40 cm"
count = 300
where = { x = ["-12 m", "12 m"], y = ["-6 m", "6 m"], %s }
"""


def world_of(body, **keys):
    return build.build(resolve.resolve(parse(lab.text(body, **keys))), lab.LOOKS)


def test_above_counts_from_the_structure_where_it_is_and_from_the_seabed_elsewhere():
    world = world_of(BOX + FISH % 'above = ["0.5 m", "1 m"]')
    x, y, depth = world.contents.stocks[0].position
    on = (np.abs(x) < 5) & (np.abs(y) < 3)
    assert 40 < on.sum() < 200
    assert np.all((depth[on] >= 25.0 - 1e-9) & (depth[on] <= 25.5 + 1e-9))
    assert np.all((depth[~on] >= 29.0 - 1e-9) & (depth[~on] <= 29.5 + 1e-9))


def test_one_value_serves_as_a_span_and_a_school_may_stand_above_too():
    school = """
[[school]]
name = "s"
swimbladder = "open"
length = "12 cm"
at = { %s }
size = { along = "2 m", across = "2 m", height = "1 m" }
count = 50
"""
    one = world_of(BOX + FISH.replace('["-12 m", "12 m"]', '"2 m"') % 'above = "0.3 m"').contents.stocks[0]
    assert np.all(one.position[0] == 2.0)
    for at, depth in (("above = 2", 24.0), ("above_bottom = 2", 28.0), ("x = 20, above = 2", 28.0)):
        made = world_of(BOX + school % at)
        assert made.contents.stocks[0].position[2].mean() == pytest.approx(depth, abs=0.2)
        assert np.mean(made.contents.bodies[0].box[4:]) == pytest.approx(depth)


def test_a_reef_is_a_pile_of_rocks_within_its_size_and_the_same_for_the_same_seed():
    made, again, other = (reef.reef(12.0, 8.0, 3.0, 0.6, np.random.default_rng(s)) for s in (1, 1, 2))
    assert np.array_equal(made[0], again[0])
    assert not np.array_equal(made[0], other[0])
    low, high = made[0].min(axis=0), made[0].max(axis=0)
    assert np.all(low >= [-6, -4, 0])
    assert np.all(high <= [6, 4, 3])
    assert high[2] > 2.5
    corners = made[0][made[1]]
    enclosed = np.sum(np.cross(corners[:, 0], corners[:, 1]) * corners[:, 2]) / 6
    assert enclosed > 0


REEF = '\n[[structure]]\nname = "rocks"\nshape = { kind = "reef", length = 12, width = 8, height = 3, boulder = 0.6 }\n'


def test_a_reef_echoes_above_the_seabed_and_hides_it():
    made, bare = (lab.recording.prepare(parse(lab.text(body, depth=30))) for body in (REEF, ""))
    assert made.world.contents.outlines[0].material == "rock"
    with_reef, without = (lab.recording.in_memory(m, quiet=True).elements[0] for m in (made, bare))
    top = (without.range > 26.9) & (without.range < 29.4)
    assert with_reef.level(0)[top].max() > without.level(0)[top].max() + 20
    fish = made.world.terrain.depth(np.zeros(1), np.zeros(1))
    assert fish[0] == 30.0


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (BOX + "at = { depth = 10 }\n", "hangs in the water"),
        (BOX + "at = { x = 40, depth = 2 }\n", "rises 2.0 m out of the water"),
        (FISH.replace('["-6 m", "6 m"]', "[60, 70]") % "depth = [5, 6]", "300 of 300 fish are never in the main lobe"),
    ],
)
def test_things_out_of_place_are_said(body, words):
    assert any(words in text for text in world_of(body).warnings)
