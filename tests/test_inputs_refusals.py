"""Refusals that few files meet: each names the key and what is allowed."""

import math
import os
from pathlib import Path

import pytest
from pingwright import quantities
from pingwright.errors import Fault, ScenarioError
from pingwright.inputs import files, scenario, writing
from pingwright.inputs.changing import ChangeError, setting
from pingwright.inputs.first_edition import translated

FACE = 'face = { shape = "disc", diameter = "70 mm" }'
SCENE = f"""title = "t"
[water]
temperature = "11 degC"
salinity = 34.5
[[element]]
name = "own"
use = "high-pencil"
{FACE}
[seabed]
depth = "40 m"
layer = [{{ sediment = "mud" }}]
"""
DISCS = 'face = { shape = "discs", diameter = "20 mm", centres = '


def faults(text: str) -> dict[str, str]:
    with pytest.raises(ScenarioError) as caught:
        scenario.parse(text, "scene.toml")
    return {fault.path: fault.message for fault in caught.value.faults}


@pytest.mark.parametrize(
    ("old", "new", "path", "words"),
    [
        (FACE, f"{DISCS}[] }}", "element[1].face", "found no centres; allowed: 1 to 256"),
        (
            FACE,
            f"{DISCS}[[0, 0, 0], [0.03, 0, 0]], weights = [0, 0] }}",
            "element[1].face",
            "found weights that are all 0; allowed: at least one that is not",
        ),
        (FACE, "face = 3", "element[1].face", "found 3; allowed: a table"),
        (FACE, 'pulse = { kind = "tone" }', "element[1].pulse", "found kind tone without a tone; allowed"),
        (FACE, 'pulse = { kind = "chirp", tone = "200 kHz" }', "element[1].pulse", "found a tone in a chirp; allowed"),
        (
            FACE,
            f"{DISCS}[[0, 0, 0]], weights = 3 }}",
            "element[1].face.weights",
            "found 3; allowed: a list of 1 to 256 numbers",
        ),
        ('temperature = "11 degC"\nsalinity = 34.5', "profile = 3", "water.profile", "allowed: the name of a file"),
        ('depth = "40 m"', "grid = 3", "seabed.grid", "allowed: the name of a file"),
        ('layer = [{ sediment = "mud" }]', "layer = []", "seabed", "found no layer; allowed: at least one [[seabed"),
        ("[[element]]", "[element]", "element", "allowed"),
    ],
)
def test_a_scenario_of_these_is_refused(old: str, new: str, path: str, words: str) -> None:
    assert old in SCENE
    told = faults(SCENE.replace(old, new))
    assert words in told.get(path, ""), told


def test_the_scenario_itself_is_without_fault() -> None:
    assert scenario.parse(SCENE, "scene.toml").element[0].name == "own"


@pytest.mark.parametrize("elements", ["[]", "[3]"])
def test_elements_that_are_none_are_refused(elements: str) -> None:
    told = faults(f'title = "t"\nelement = {elements}\n' + SCENE[SCENE.index("[water]") : SCENE.index("[[element]]")])
    assert any(path.startswith("element") for path in told), told


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (-math.inf, math.inf, "any finite number"),
        (2.0, math.inf, "at least 2 m"),
        (-math.inf, 3.0, "at most 3 m"),
        (2.0, 3.0, "2 m to 3 m"),
    ],
)
def test_a_span_is_told_with_the_ends_it_has(low: float, high: float, words: str) -> None:
    assert quantities.bounds(quantities.LENGTH, low, high) == words


def test_what_no_file_may_hold_is_not_written() -> None:
    with pytest.raises(ValueError, match="TOML cannot hold a complex"):
        writing.toml_text({"x": 1j})


def test_a_pipe_in_place_of_a_file_is_refused_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.csv")
    text = SCENE.replace('temperature = "11 degC"\nsalinity = 34.5', 'profile = "pipe.csv"')
    (tmp_path / "scene.toml").write_text(text)
    with pytest.raises(ScenarioError, match="not a regular file"):
        scenario.load(tmp_path / "scene.toml")


def test_files_too_large_together_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "TOTAL_LIMIT", 4)
    (tmp_path / "water.csv").write_text("depth,sound_speed\n0,1500\n50,1490\n")
    text = SCENE.replace('temperature = "11 degC"\nsalinity = 34.5', 'profile = "water.csv"')
    (tmp_path / "scene.toml").write_text(text)
    with pytest.raises(ScenarioError, match="all files together are larger than"):
        scenario.load(tmp_path / "scene.toml")


def test_what_nests_without_end_is_refused_or_left_as_it_is() -> None:
    deep = "[" * 20_000
    with pytest.raises(ChangeError, match="is nested too deeply"):
        setting(f"seabed.depth={deep}")
    assert translated(f"a = {deep}") == f"a = {deep}"


def test_a_fault_shows_no_character_that_acts_on_a_terminal() -> None:
    shown = str(Fault("a\x1b[2J.toml", 3, "fish.\x00", "found \x9b31m; allowed: none"))
    assert shown.isprintable()
    assert shown.startswith("a\\x1b[2J.toml:3: fish.\\x00: found")
