"""What a scenario puts where no echo can be told is said before anybody wonders about an empty picture."""

import pytest
from pingwright.inputs.scenario import parse
from pingwright.recording import prepare
from tiny_scenarios import LAKE

BOX = """
[[structure]]
name = "crate"
shape = { kind = "box", length = "40 m", width = "20 m", height = "5 m" }
at = { x = "-4 m", y = "0 m" }
"""
TARGET = """
[[target]]
name = "ball"
strength = "-40 dB"
at = { x = "0 m", y = "0 m", depth = "DEPTH" }
"""
SCHOOL = """
[[school]]
name = "fry"
body = "baitfish"
at = { x = "-4 m", y = "0 m", depth = "DEPTH" }
size = { along = "2 m", across = "2 m", height = "1 m" }
count = 50
"""


def warnings(text: str) -> tuple[str, ...]:
    # What is said of the power over the face is the element's, not the scene's.
    return tuple(
        words for words in prepare(parse(text)).header.warnings if not words.startswith("The electrical power")
    )


def test_the_lake_as_it_is_has_none():
    assert warnings(LAKE) == ()


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('above_bottom = ["0.3 m", "3 m"]', 'depth = "9.5 m"', "perch: 6 of 6 fish are below the seabed."),
        ('["0 m", "11 m"]', '["0 m", "4 m"]', "perch: 6 of 6 fish are deeper than the window, which ends at 4 m."),
        ('x = ["-8 m", "0 m"]', 'x = ["300 m", "310 m"]', "perch: 6 of 6 fish are never in the main lobe"),
        ('y = ["-1 m", "1 m"]', 'y = ["20 m", "30 m"]', "perch: 6 of 6 fish are never in the main lobe"),
        ("[[fish]]", f"{BOX}\n[[fish]]", "perch: 6 of 6 fish are inside a structure."),
        ("[[fish]]", TARGET.replace("DEPTH", "9.5 m") + "[[fish]]", "ball: the target is below the seabed."),
        ("[[fish]]", SCHOOL.replace("DEPTH", "10 m") + "[[fish]]", "fry: 50 of 50 fish are below the seabed."),
    ],
)
def test_what_cannot_be_told_is_named(old, new, said):
    assert old in LAKE
    found = warnings(LAKE.replace(old, new))
    assert any(line.startswith(said) for line in found), found


def test_an_element_that_looks_aside_may_see_what_lies_aside():
    aside = LAKE.replace('y = ["-1 m", "1 m"]', 'y = ["20 m", "30 m"]')
    tilted = aside.replace('use = "high-pencil"\n', 'use = "high-pencil"\ntilt = { across = "60 deg" }\n')
    assert not any("out of sight" in line for line in warnings(tilted))


def test_targets_and_schools_in_the_water_are_right():
    assert warnings(LAKE + TARGET.replace("DEPTH", "4 m") + SCHOOL.replace("DEPTH", "4 m")) == ()
