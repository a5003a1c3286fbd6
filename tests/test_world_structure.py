"""Structures: closed surfaces of known area, their echo, what is inside, and files that are no mesh."""

from types import SimpleNamespace

import numpy as np
import pytest
from pingwright.acoustics import seabed as formulas
from pingwright.errors import ScenarioError
from pingwright.inputs import catalogue
from pingwright.world import materials, mesh, solids, structure, terrain
from pingwright.world.gather import Gathering
from pingwright.world.scatterers import Occluder


def ground(along=0.0, depth=30.0):
    slope, layer = SimpleNamespace(along=along, across=0.0), (SimpleNamespace(sediment="mud"),)
    return terrain.build(SimpleNamespace(depth=depth, grid=None, slope=slope, relief=None, layer=layer), 1)


def spec(shape, heading=0.0, depth=None, x=0.0, y=0.0):
    at = SimpleNamespace(x=x, y=y, depth=depth)
    return SimpleNamespace(name="thing", shape=shape, at=at, heading=heading, material="steel")


BOX = SimpleNamespace(kind="box", length=30.0, width=8.0, height=4.0)
CYLINDER = SimpleNamespace(kind="cylinder", length=20.0, diameter=3.0)
HULL = SimpleNamespace(kind="hull", length=40.0, width=8.0, height=5.0, list=20.0, broken=False)
WRECK = SimpleNamespace(kind="hull", length=40.0, width=8.0, height=5.0, list=20.0, broken=True)
SHAPES = {"box": BOX, "cylinder": CYLINDER, "hull": HULL, "wreck": WRECK}


def placed(shape, scenario=None, **changes):
    return structure.place(spec(shape, **changes), ground(), scenario)


def volume(thing):
    a, b, c = thing.corners()
    return float(np.sum(np.cross(a, b) * c)) / 6.0


def area(thing):
    a, b, c = thing.corners()
    return float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()) / 2.0


@pytest.mark.parametrize("name", SHAPES)
def test_every_edge_joins_two_triangles_the_right_way_round(name):
    triangles = placed(SHAPES[name]).occluder.triangles
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    forward = {tuple(edge) for edge in edges}
    assert len(forward) == len(edges)
    assert {(b, a) for a, b in forward} == forward
    assert volume(placed(SHAPES[name])) > 0


def test_a_box_has_its_area_and_volume():
    thing = placed(BOX, heading=33.0)
    assert area(thing) == pytest.approx(2 * (30 * 8 + 30 * 4 + 8 * 4))
    assert volume(thing) == pytest.approx(30 * 8 * 4)


def test_a_cylinder_has_its_area_and_volume():
    # 72 facets fall short of the circle by 0.13 % in volume.
    assert area(placed(CYLINDER)) == pytest.approx(np.pi * 3 * 20 + 2 * np.pi * 1.5**2, rel=2e-3)
    assert volume(placed(CYLINDER)) == pytest.approx(np.pi * 1.5**2 * 20, rel=2e-3)


@pytest.mark.parametrize("name", SHAPES)
def test_structures_stand_on_the_seabed_unless_a_depth_is_given(name):
    standing = placed(SHAPES[name])
    assert standing.occluder.vertices[:, 2].max() == pytest.approx(30.0)
    assert placed(SHAPES[name], depth=12.0).occluder.vertices[:, 2].max() == pytest.approx(12.0)


def test_heading_turns_from_ahead_to_starboard():
    thing = placed(SimpleNamespace(kind="box", length=30.0, width=1.0, height=1.0), heading=90.0)
    assert np.ptp(thing.occluder.vertices[:, 1]) == pytest.approx(30.0)


def test_a_hull_lists_to_starboard():
    upright = SimpleNamespace(**{**vars(HULL), "list": 0.0})
    # What stands high leans over to the side that goes down.
    assert abs(placed(upright).occluder.vertices[:, 1].mean()) < 0.05
    assert placed(HULL).occluder.vertices[:, 1].mean() > 0.5


def test_a_broken_hull_lies_in_two_parts_apart():
    points = structure.sample_faces(placed(WRECK), np.random.default_rng(1))[0]
    assert np.diff(np.sort(points[0])).max() > 1.0


def test_the_stern_of_a_broken_hull_lists_22_and_turns_14_degrees_more():
    # The shape of the break is the project's own, assumed. Decks are what faces up most, the bulkheads at the break
    # what faces along it: their normals tell list and turn.
    position, normal, _ = structure.sample_faces(placed(WRECK), np.random.default_rng(1))
    x = np.sort(position[0])
    split = x[np.argmax(np.diff(x))] + 1e-6
    for side, list_deg, turn in ((1.0, 20.0, 0.0), (-1.0, 42.0, 14.0)):
        part = side * (position[0] - split) > 0.0
        away, facing = side * position[0][part], normal[:, part]
        assert np.degrees(np.arccos(np.quantile(-facing[2], 0.99))) == pytest.approx(list_deg, abs=1.0)
        broken = facing[:, (away < away.min() + 2.5) & (side * facing[0] < -0.9)]
        middle = np.median(broken, axis=1)
        assert np.degrees(np.arctan(middle[1] / middle[0])) == pytest.approx(turn, abs=1.0)


@pytest.mark.parametrize("name", SHAPES)
def test_patches_cover_the_surface_by_area_with_unit_outward_normals(name):
    thing = placed(SHAPES[name], heading=20.0)
    position, normal, share = structure.sample_faces(thing, np.random.default_rng(3))
    assert share.sum() == pytest.approx(area(thing))
    assert len(share) / area(thing) >= 16.0 - 1e-9
    assert np.linalg.norm(normal, axis=0) == pytest.approx(1.0)
    # Divergence theorem: the flux of position through the surface is three times the volume (1 % of sampling).
    flux = np.sum((position - position.mean(axis=1, keepdims=True)) * normal * share)
    assert flux / 3 == pytest.approx(volume(thing), rel=0.02)


def test_units_of_meshes_are_the_standard_ones():
    # Source: the international inch and foot, exact (1959).
    assert mesh.UNITS == {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254, "km": 1000.0}


def test_what_is_buried_does_not_echo():
    gathering = Gathering()
    thing = structure.place(spec(BOX), ground(along=10.0), None)
    count = structure.add(gathering, thing, materials.material("steel"), ground(along=10.0), np.random.default_rng(1))
    found = gathering.discrete().scatterers
    assert count == len(found) < len(structure.sample_faces(thing, np.random.default_rng(1))[2])
    assert np.all(found.position[2] < ground(along=10.0).depth(found.position[0], found.position[1]))


@pytest.mark.parametrize("name", catalogue.materials())
def test_the_surface_law_glints_at_square_incidence_and_gives_no_more_than_it_gets(name):
    material = materials.material(name)
    cosine = np.linspace(0, 1, 20001)
    strength = structure.surface_law(material).amplitude(cosine, np.array([1e5]))[:, 0] ** 2
    tangent = np.tan(np.radians(material.slope_rms_deg))
    assert strength[-1] == pytest.approx(material.reflection**2 / (8 * np.pi * tangent**2) + 0.01)
    assert strength.argmax() > 19900
    # Gaussian slopes conserve energy: the lobe's integral of 4 S cos over incidence is |R|^2 of the slopes seen.
    lobe = strength - formulas.lambert(cosine, -20.0)
    seen = np.trapezoid(4 * lobe[1:] * cosine[1:] ** 0 * 2 * np.pi, cosine[1:])
    assert seen == pytest.approx(material.reflection**2, rel=0.35)


@pytest.mark.parametrize("name", SHAPES)
def test_inside_is_inside(name):
    thing = placed(SHAPES[name], heading=20.0)
    position, normal, _ = structure.sample_faces(thing, np.random.default_rng(3))
    assert thing.contains(position[:, ::40] - 0.02 * normal[:, ::40]).mean() > 0.98
    # Where a deckhouse stands on its deck, each lies outside its own surface but inside the other: some 5 % of a hull.
    assert thing.contains(position[:, ::40] + 0.02 * normal[:, ::40]).mean() < (
        0.02 if name in {"box", "cylinder"} else 0.09
    )


def test_outlines_span_the_structure():
    outline = structure.outline(placed(HULL), "steel")
    low, high = placed(HULL).occluder.vertices.min(axis=0), placed(HULL).occluder.vertices.max(axis=0)
    assert np.array_equal(outline.side[0], outline.side[-1])
    assert outline.side[:, 1].min() == pytest.approx(low[2])
    assert outline.side[:, 1].max() == pytest.approx(high[2])
    assert np.ptp(outline.plan[:, 0]) == pytest.approx(high[0] - low[0], rel=0.03)


# Meshes


def sphere_mesh(kind, subdivisions=3, scale=1.0):
    import trimesh

    ball = trimesh.creation.icosphere(subdivisions=subdivisions, radius=2.0 * scale)
    data = ball.export(file_type=kind)
    return data.encode() if isinstance(data, str) else data


def mesh_shape(file, unit="m", scale=1.0):
    return SimpleNamespace(kind="mesh", file=file, unit=unit, scale=scale)


@pytest.mark.parametrize("kind", ["stl", "obj", "ply"])
@pytest.mark.parametrize(("unit", "size"), [("m", 1.0), ("cm", 100.0), ("mm", 1000.0), ("ft", 1 / 0.3048)])
def test_meshes_load_in_their_unit(kind, unit, size):
    scenario = SimpleNamespace(inputs={f"ball.{kind}": sphere_mesh(kind, scale=size)})
    thing = placed(mesh_shape(f"ball.{kind}", unit), scenario)
    # An icosphere of 1280 triangles falls 0.9 % short in volume.
    assert volume(thing) == pytest.approx(4 / 3 * np.pi * 8, rel=0.02)
    assert thing.closed
    assert thing.occluder.vertices[:, 2].max() == pytest.approx(30.0)


def test_200_000_triangles_load():
    scenario = SimpleNamespace(inputs={"ball.stl": sphere_mesh("stl", subdivisions=7)})
    thing = placed(mesh_shape("ball.stl"), scenario)
    assert len(thing.occluder.triangles) == 327_680
    assert thing.contains(np.array([[0.0, 9.0], [0.0, 0.0], [28.0, 28.0]])).tolist() == [True, False]


def test_an_open_mesh_echoes_on_both_sides():
    import trimesh

    sheet = trimesh.Trimesh([[0, 0, 0], [5, 0, 0], [5, 5, 1], [0, 5, 1]], [[0, 1, 2], [0, 2, 3]], process=False)
    scenario = SimpleNamespace(inputs={"sheet.stl": sheet.export(file_type="stl")})
    thing, gathering = placed(mesh_shape("sheet.stl"), scenario, depth=20.0), Gathering()
    count = structure.add(gathering, thing, materials.material("steel"), ground(), np.random.default_rng(1))
    axis = gathering.discrete().scatterers.axis
    assert not thing.closed
    assert np.sum(axis[2] < 0) == np.sum(axis[2] > 0) == count / 2


JUNK = {
    "empty.stl": b"",
    "noise.stl": bytes(range(256)) * 40,
    "short.stl": b"\0" * 80 + (10).to_bytes(4, "little") + b"\0" * 70,
    "words.obj": b"these are only words\n",
    "points.obj": b"v 0 0 0\nv 1 0 0\nv 0 1 0\n",
    "wild.obj": b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n",
    "nan.obj": b"v nan 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n",
    "header.ply": b"ply\nformat ascii 1.0\nelement vertex 3\n",
    "tiny.obj": b"v 0 0 0\nv 0.001 0 0\nv 0 0.001 0\nf 1 2 3\n",
    "huge.obj": b"v 0 0 0\nv 90000 0 0\nv 0 1 0\nf 1 2 3\n",
    "shape.step": b"ISO-10303-21;",
}


@pytest.mark.parametrize("name", JUNK)
def test_junk_is_refused_by_name(name):
    with pytest.raises(ScenarioError) as refused:
        placed(mesh_shape(name), SimpleNamespace(inputs={name: JUNK[name]}))
    assert name in str(refused.value)
    assert "allowed" in str(refused.value) or "no readable" in str(refused.value)


def test_too_large_a_file_is_refused_before_it_is_read(monkeypatch):
    monkeypatch.setattr(mesh, "MOST_BYTES", 100)
    monkeypatch.setattr(mesh, "_read", lambda *_: pytest.fail("parsed"))
    with pytest.raises(ScenarioError, match=r"ball\.stl"):
        mesh.load(sphere_mesh("stl"), "ball.stl", 1.0)


def test_faces_of_a_mesh_keep_their_outside_when_its_across_axis_is_turned():
    solid, closed = mesh.load(sphere_mesh("ply"), "ball.ply", 1.0)
    vertices, triangles = solid
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    assert closed
    assert float(np.sum(np.cross(a, b) * c)) > 0


def test_a_hull_of_the_contract_has_a_bow_ahead():
    vertices, _ = solids.hull(40.0, 8.0, 5.0)
    house = vertices[vertices[:, 2] > 5.1]
    assert house[:, 0].mean() < 0


def test_edges_of_a_box_are_strips_with_normals_between_its_faces():
    # By hand: twelve edges, each a quarter of a cylinder of the stated radius.
    thing = placed(BOX)
    low, high = thing.occluder.vertices.min(axis=0), thing.occluder.vertices.max(axis=0)
    position, normal, area = structure.sample_edges(thing, np.random.default_rng(5))
    length = 4 * float((high - low).sum())
    assert area.sum() == pytest.approx(structure.EDGE_RADIUS * np.pi / 2 * length, rel=1e-6)
    assert len(area) == pytest.approx(structure.EDGE_PATCHES_A_METRE * length, abs=1)
    assert np.linalg.norm(normal, axis=0) == pytest.approx(1.0)
    out = (position - (low + high)[:, None] / 2) / ((high - low)[:, None] / 2)
    # On an edge two coordinates lie at their faces; the normal has no part along it and points outwards.
    at_face = np.abs(np.abs(out) - 1.0) < 0.02
    assert np.all(at_face.sum(axis=0) >= 2)
    along = np.argmin(np.abs(normal), axis=0)
    assert np.abs(np.take_along_axis(normal, along[None], axis=0)).max() < 1e-6
    assert np.all(np.sum(normal * np.where(at_face, out, 0.0), axis=0) > 0.9)
    turned = np.degrees(np.arctan2(np.sort(np.abs(normal), axis=0)[1], np.sort(np.abs(normal), axis=0)[2]))
    assert turned.mean() == pytest.approx(22.5, abs=1.0)  # even from 0 to 45 degrees off the nearer face


def test_neither_flat_nor_hollow_borders_are_edges():
    import trimesh

    ball = trimesh.creation.icosphere(subdivisions=3, radius=2.0)
    thing = structure.Placed("ball", Occluder("ball", np.asarray(ball.vertices), np.asarray(ball.faces)), True)
    assert len(structure.sample_edges(thing, np.random.default_rng(1))[2]) == 0
    # Turned inside out a box has hollow corners only; an open surface has no edges.
    box = placed(BOX)
    hollow = Occluder("hollow", box.occluder.vertices, box.occluder.triangles[:, ::-1].copy())
    assert len(structure.sample_edges(structure.Placed("hollow", hollow, True), np.random.default_rng(1))[2]) == 0
    assert len(structure.sample_edges(structure.Placed("open", box.occluder, False), np.random.default_rng(1))[2]) == 0


def test_an_edge_met_squarely_gives_what_its_strip_of_facets_does():
    # Source: the law integrated over the quarter cylinder by scipy; steel, the edge turned up, seen from above.
    from scipy import integrate

    law = structure.surface_law(materials.material("steel"))

    def strength(angle):
        return law.amplitude(np.array([np.cos(angle)]), np.array([1e5]))[0, 0] ** 2

    wanted = structure.EDGE_RADIUS * integrate.quad(strength, -np.pi / 4, np.pi / 4)[0]
    assert 10 * np.log10(wanted) == pytest.approx(-20, abs=2)  # the docstring's number
    root = np.sqrt(0.5)
    turn = np.array([[1.0, 0, 0], [0, root, -root], [0, root, root]])
    box = placed(BOX).occluder
    thing = structure.Placed("box", Occluder("box", box.vertices @ turn.T, box.triangles), True)
    found = []
    for seed in range(40):
        position, normal, area = structure.sample_edges(thing, np.random.default_rng(seed))
        top = position[2] < position[2].min() + 0.02
        seen = law.amplitude(-normal[2, top], np.array([1e5]))[:, 0] ** 2
        found.append(np.sum(area[top] * seen) / np.ptp(position[0]))
    assert np.mean(found) == pytest.approx(wanted, rel=0.05)
