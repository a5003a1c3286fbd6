"""What README and DEVELOPERS say is true: commands, files, the least scenario, the floors."""

import re
from pathlib import Path

import pytest
from test_house import FLOORS, OWNERS

from simulator.inputs import scenario
from simulator.options import EXAMPLES, parser
from simulator.recording import prepare

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def blocks(kind: str) -> list[str]:
    return re.findall(rf"```{kind}\n(.*?)```", README, re.DOTALL)


def test_the_least_scenario_runs():
    (text,) = blocks("toml")
    prepared = prepare(scenario.parse(text, "readme.toml", {}))
    assert prepared.header.elements[0].pings > 10
    assert len(prepared.header.truth.fish.id) == 12


def test_the_first_two_commands_are_the_demo_and_the_tests():
    demo, tests = blocks("sh")[:2]
    assert "pingwright run scenarios/" in demo
    assert "pytest" in tests


@pytest.mark.parametrize(
    "line", [line for block in blocks("sh") for line in block.splitlines() if "pingwright " in line]
)
def test_commands_in_the_readme_parse(line):
    words = line.split("#")[0].split()
    asked = parser().parse_args([word for word in words[1:] if word != "&&"])
    assert asked.command in EXAMPLES


@pytest.mark.parametrize("example", EXAMPLES.values())
def test_examples_in_help_parse(example):
    asked = parser().parse_args(example.split(" > ")[0].split()[1:])
    assert asked.command in EXAMPLES


def test_files_that_are_named_are_there():
    named = set(
        re.findall(r"\b(?:scenarios|tests|simulator)/[\w./-]+\.\w+", README + DEVELOPERS + " ".join(EXAMPLES.values()))
    )
    assert named
    assert [name for name in named if not (ROOT / name).exists()] == []
    linked = re.findall(r"\]\(([^)h#][^)]*)\)", README)
    assert [name for name in linked if not (ROOT / name).exists()] == []


def test_the_table_of_floors_is_the_one_that_is_tested():
    rows = re.findall(r"^\| ([0-9½]) \| (.*?) \|(.*?)\|$", DEVELOPERS, re.MULTILINE)
    drawn = {}
    for floor, rooms, _ in rows:
        names = re.findall(r"`(\w+)/?`", re.sub(r"\([^()]*\)", "", rooms))
        drawn |= dict.fromkeys(names, 0.5 if floor == "½" else int(floor))
    assert drawn == FLOORS
    said = {name for _, _, owned in rows for name in re.findall(r"\w+", owned)}
    assert said <= set(OWNERS)


def test_every_room_of_the_package_is_on_a_floor():
    rooms = {p.stem for p in (ROOT / "simulator").glob("*.py")} | {
        p.parent.name for p in (ROOT / "simulator").glob("*/__init__.py")
    }
    assert rooms - {"__init__"} == set(FLOORS)
