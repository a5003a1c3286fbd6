"""What every face keeps to that a scenario may name: what it says of its pattern is so, its beam follows its size."""

import numpy as np
import pytest
from pingwright.element.build import build
from test_element_curved import CONE
from test_element_flat import FACES, RHO, C, spec

#: An example of each shape; a new face needs one here.
EXAMPLES = {
    "disc": {"diameter": 0.061},
    "rectangle": {"along": 0.05, "across": 0.02},
    "ellipse": {"along": 0.05, "across": 0.02},
    "discs": {"diameter": 0.02, "centres": [(0.0, 0.0, 0.0), (0.03, 0.0, 0.0), (0.0, 0.04, 0.0)], "weights": None,
              "delays": None},
    "arc": {"radius": 0.02, "opening": 90.0, "width": 0.04, "shading": "cos"},
    "cap": CONE,
    "table": None,  # its pattern is the file's: tests/test_element_arrays.py
}  # fmt: skip
FREQUENCY = np.array([130e3, 170e3, 210e3])


@pytest.fixture(params=[shape for shape in FACES if EXAMPLES[shape] is not None])
def face(request):
    return build(spec({"shape": request.param, **EXAMPLES[request.param]}), RHO, C).face


@pytest.fixture
def directions():
    rng = np.random.default_rng(1)
    sine, turn = np.sin(np.radians(60.0 * rng.random(40))), 2 * np.pi * rng.random(40)
    return sine * np.cos(turn), sine * np.sin(turn)


def test_what_a_face_says_of_its_pattern_is_so(face, directions):
    u, v = directions
    pattern = face.pattern(u, v, FREQUENCY, C)
    assert pattern.shape == (40, 3)
    on_axis = face.pattern(np.array([face.axis[0]]), np.array([face.axis[1]]), FREQUENCY, C)
    assert on_axis == pytest.approx(np.ones((1, 3)), abs=1e-6)
    turned = face.pattern(np.hypot(u, v), 0 * u, FREQUENCY, C)
    assert face.radial == bool(np.abs(turned - pattern).max() < 1e-5)
    assert face.even == all(
        np.abs(face.pattern(a, b, FREQUENCY, C) - pattern).max() < 1e-5 for a, b in ((-u, v), (u, -v))
    )
    assert face.real == bool(np.abs(pattern.imag).max() < 1e-6)


def test_a_face_has_a_size_an_area_and_a_near_field(face):
    along, across = face.extent
    assert face.area > 0
    flat = face.virtual_depth == 0.0
    assert face.area <= along * across * (1 + 1e-9) or not flat
    assert 0 < face.near_field(C / 130e3) < face.near_field(C / 210e3) or not flat
    assert hash(face) == hash(face)


def test_the_longer_side_of_a_flat_face_has_the_narrower_beam(face):
    if face.virtual_depth > 0.0:
        return  # a curved face is wide the way it is curved
    side, zero = np.array([np.sin(np.radians(5.0))]), np.zeros(1)
    along, across = (np.abs(face.pattern(*way, FREQUENCY, C)).mean() for way in ((side, zero), (zero, side)))
    sizes = face.extent
    assert (along < across - 1e-9) == (sizes[0] > sizes[1] + 1e-9)
