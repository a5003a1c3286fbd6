"""Scenes that cannot be are refused, with the key and what was found: no quiet nonsense in a clean picture."""

import pytest
from pingwright.errors import ScenarioError
from pingwright.inputs.scenario import parse
from pingwright.recording import prepare
from pingwright.world.resolve import resolve
from tiny_scenarios import LAKE

BOX = """
[[structure]]
name = "crate"
shape = { kind = "box", length = "4 m", width = "4 m", height = "HEIGHT" }
at = { x = "-4 m", y = "0 m"DEPTH }
"""
SCHOOL = """
[[school]]
name = "fry"
body = "baitfish"
at = { x = "-4 m", y = "0 m", depth = "DEPTH" }
size = { along = "20 m", across = "20 m", height = "4 m" }
density = "NUMBER"
"""
BALL = """
[[target]]
name = "ball"
sphere = { material = "tungsten carbide", diameter = "50 cm" }
at = { x = "-4 m", depth = "5 m" }
"""
ABOVE = 'above_bottom = ["0.3 m", "3 m"]'


def refusal(text: str) -> dict[str, str]:
    with pytest.raises(ScenarioError) as caught:
        resolve(parse(text))
    return {fault.path: fault.message for fault in caught.value.faults}


def box(height: str, depth: str = "") -> str:
    return LAKE + BOX.replace("HEIGHT", height).replace("DEPTH", f', depth = "{depth}"' if depth else "")


def school(depth: str, number: str = "1 per m3") -> str:
    return LAKE + SCHOOL.replace("DEPTH", depth).replace("NUMBER", number)


@pytest.mark.parametrize(
    ("text", "path", "words"),
    [
        (
            LAKE.replace("[boat]", '[boat]\nheave = { amplitude = "9 m", period = "5 s" }'),
            "boat.heave.amplitude",
            "strike the seabed",
        ),
        (box("2 m", "60 m"), "structure[1].at.depth", "under the ground"),
        (box("2 m", "0 m"), "structure[1].at.depth", "stand in the air"),
        (LAKE.replace(ABOVE, 'above_bottom = ["20 m", "30 m"]'), "fish[1].where", "would be in the air"),
        (LAKE.replace(ABOVE, 'above_bottom = ["1 m", "10 m"]'), "fish[1].where", "some fish would be in the air"),
        (school("1 m"), "school[1].at", "out of the water"),
        (school("4 m", "20000 per m3"), "school[1].density", "allowed: 10,000,000"),
        (
            LAKE.replace('use = "high-pencil"', 'use = "high-pencil"\nband = ["10 kHz", "1 MHz"]') + BALL,
            "target[1].sphere.diameter",
            "at most 23.9 cm",
        ),
        (LAKE.replace('["0 m", "11 m"]', '["0 m", "0.3 m"]'), "window.depth", "blanking range"),
        (LAKE.replace('["0 m", "11 m"]', '["40 m", "60 m"]'), "window.depth", "nothing echoes below"),
    ],
)
def test_what_cannot_be_is_refused(text, path, words):
    assert words in refusal(text).get(path, "")


def test_what_just_fits_is_taken():
    for text in (school("2 m"), box("2 m", "10.9 m"), LAKE.replace(ABOVE, 'above_bottom = ["1 m", "8.9 m"]')):
        assert resolve(parse(text)).boat.pings == 40


@pytest.mark.parametrize("height", ["8.9 m", "30 m"])
def test_a_boat_does_not_run_through_a_wreck(height):
    """A box of steel around the transducer once gave clean water, and the bottom through the steel."""
    text = box(height).replace("[boat]", '[boat]\ntransducer_depth = "0.5 m"')
    with pytest.raises(ScenarioError, match=r"structure\[1\]: the transducer runs into it at x"):
        prepare(parse(text))


def test_a_large_sphere_is_made_too():
    """50 cm rings for some 3500 points; as dense equations they took minutes, and `check` with them."""
    made = prepare(parse(LAKE.replace("pings = 40", "pings = 2") + BALL))
    assert len(made.world.discrete.scatterers) > 3000
