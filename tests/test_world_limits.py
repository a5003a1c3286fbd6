"""Worlds too large to be built: refused by file and key before anything is placed; odd meshes that are none of that."""

import numpy as np
import pytest
from pingwright.errors import ScenarioError
from pingwright.inputs import scenario
from pingwright.world import build, mesh, structure
from pingwright.world.resolve import resolve
from world_lab import LOOKS

BARE = """title = "t"
[water]
temperature = 11
salinity = 35
[boat]
speed = 0
pings = 2
[[element]]
name = "e"
use = "low-pencil"
[seabed]
depth = 40
[[seabed.layer]]
sediment = "mud"
"""
FISH = """[[fish]]
name = "f{0}"
swimbladder = "closed"
length = "10 cm"
{1}
where = {{ x = [-50, 50], y = [-50, 50], depth = [1, 39] }}
"""
SCHOOL = """[[school]]
name = "s{0}"
swimbladder = "closed"
length = "10 cm"
count = 10000000
at = {{ x = 0, y = 0, depth = 20 }}
size = {{ along = 10, across = 10, height = 10 }}
"""
BOX = """[[structure]]
name = "b{0}"
shape = {{ kind = "box", length = 300, width = 300, height = 20 }}
at = {{ x = 0, y = 0 }}
"""
FILE = """[[structure]]
name = "m{0}"
shape = {{ kind = "mesh", file = "{1}" }}
at = {{ x = 0, y = 0 }}
"""


def world(more, files=None):
    return build.build(resolve(scenario.parse(BARE + more, "scene.toml", files or {})), LOOKS)


@pytest.mark.parametrize(
    ("more", "place"),
    [
        (FISH.format(1, "density = 9000"), r"fish\[1\]"),
        ("".join(FISH.format(i, "count = 100000") for i in range(21)), r"fish\[1\]"),
        ("".join(SCHOOL.format(i) for i in range(14)), r"school\[1\]"),
        (FISH.format(1, "count = 1") + FISH.format(2, "density = 6"), r"fish\[2\]"),
    ],
)
def test_too_many_fish_are_refused_by_the_key_that_asks_for_most(more, place):
    with pytest.raises(ScenarioError, match=rf"scene\.toml: {place}: found [0-9,]+ fish .* allowed: 2,000,000"):
        world(more)


def test_structures_too_large_together_are_refused_before_they_are_sown(monkeypatch):
    sown = []
    monkeypatch.setattr(
        structure, "sample_faces", lambda placed, rng: sown.append(placed) or (_ for _ in ()).throw(KeyError)
    )
    monkeypatch.setattr(structure, "MOST_IN_ALL", 1_000_000)
    with pytest.raises(ScenarioError, match=r"scene\.toml: structure\[1\]: found 1,5[0-9]{2},[0-9]{3} patches"):
        world(BOX.format(1))
    assert sown == []


def test_triangles_of_one_file_used_again_and_again_are_counted_each_time(monkeypatch):
    monkeypatch.setattr(structure, "MOST_IN_ALL", 4_000)
    tetrahedra = b"".join(
        b"v %d 0 0\nv %d 1 0\nv %d 0 1\nv %d 0 0\nf -4 -2 -3\nf -4 -3 -1\nf -4 -1 -2\nf -1 -3 -2\n" % (i, i, i, i + 1)
        for i in range(400)
    )
    shapes = "".join(FILE.format(i, "t.obj").replace('"t.obj"', '"t.obj", unit = "cm"') for i in range(4))
    with pytest.raises(ScenarioError, match=r"structure\[3\]: found 4,800 triangles"):
        world(shapes, {"t.obj": tetrahedra})


def test_a_sheet_has_no_inside_for_fish_to_avoid():
    sheet = b"v -9 -9 0\nv 9 -9 0\nv 9 9 0\nv -9 9 0\nf 1 2 3\nf 1 3 4\n"
    made = world(FILE.format(1, "s.obj") + FISH.format(1, "count = 500"), {"s.obj": sheet})
    assert len(made.contents.stocks[0].id) == 500


def test_a_box_that_is_solid_through_and_through_keeps_its_fish():
    room = FISH.format(1, "count = 20000").replace("-50, 50", "-3, 3").replace("[1, 39]", "[30, 39]")
    made = world(BOX.format(1) + room)
    assert len(made.contents.stocks[0].id) == 20_000


def test_what_is_inside_does_not_depend_on_how_many_are_asked_at_once(monkeypatch):
    made = structure.Placed("b", world(BOX.format(1)).occluders[0], closed=True)
    low, high = made.occluder.vertices.min(axis=0) - 5, made.occluder.vertices.max(axis=0) + 5
    points = np.random.default_rng(1).uniform(low, high, (500, 3)).T
    together = made.contains(points)
    monkeypatch.setattr(structure, "_AT_ONCE", 1)
    assert np.array_equal(together, made.contains(points))
    assert 0.3 < together.mean() < 0.9


SEPARATED = {
    "obj": b"mtllib ../../x\nv 0 0 0\nv 10 0 0\nv 0 4 0\nv 0 0 3\n"
    + b"".join(b"g %d\nusemtl m%d\nf 1/1/1 3/9 \\\n 2//7\n" % (i, i) for i in range(300))
    + b"o last\nf 1 2 4\nf 1 4 3\nf 2 3 4\n",
    "stl": b"".join(
        b"solid %d\nfacet normal 0 0 1\nouter loop\nvertex %d %d %d\nvertex %d %d %d\nvertex %d %d %d\nendloop\n"
        b"endfacet\nendsolid %d\n" % (i, *corners, i)
        for i, corners in enumerate(
            [(0, 0, 0, 0, 4, 0, 10, 0, 0), (0, 0, 0, 10, 0, 0, 0, 0, 3), (0, 0, 0, 0, 0, 3, 0, 4, 0),
             (10, 0, 0, 0, 4, 0, 0, 0, 3)]
        )
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", SEPARATED)
def test_a_file_of_many_parts_is_one_surface(kind, monkeypatch):
    """The library makes a mesh of each part, which takes minutes for ten thousand: the parts are told to it as one."""
    import trimesh

    parsed = []
    true = trimesh.load_mesh
    monkeypatch.setattr(trimesh, "load_mesh", lambda *a, **k: parsed.append(true(*a, **k)) or parsed[-1])
    (_, triangles), closed = mesh.load(SEPARATED[kind], f"parts.{kind}", 1.0)
    assert isinstance(parsed[0], trimesh.Trimesh)
    assert len(triangles) >= 4
    assert closed == (kind == "stl")


@pytest.mark.parametrize("value", [b"1e300", b"inf", b"nan", b"9" * 400])
def test_coordinates_out_of_all_measure_are_refused_and_warn_of_nothing(value):
    wild = b"v %s 0 0\nv 0 %s 0\nv 0 0 %s\nv 0 0 0\nf 1 2 3\nf 1 2 4\n" % (value, value, value)
    with pytest.raises(ScenarioError, match=r"wild\.obj: found .*allowed"):
        mesh.load(wild, "wild.obj", 1.0)
