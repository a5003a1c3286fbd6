"""The gallery is a tutorial: each file says what it teaches and is right; each scenario runs from file to results."""

import json
import re
from pathlib import Path

import pytest
from pingwright.inputs import claims, kind_of, scenario, sweep, trip
from pingwright.recording import prepare
from pingwright.run import pipeline

FOLDER = Path(__file__).parent.parent / "scenarios"
DEMOS = sorted(FOLDER.glob("[0-9][0-9]_*.toml"))
ALL = sorted(FOLDER.glob("*.toml"))
LOAD = {"scenario": scenario.load, "claims": claims.load, "trip": trip.load, "sweep": sweep.load}


def test_they_are_numbered_from_one_without_a_gap() -> None:
    assert [int(path.name[:2]) for path in DEMOS] == list(range(1, len(DEMOS) + 1))
    assert [path.stem for path in DEMOS[:4]] == [
        "01_wreck_on_gravel",
        "02_shoal_over_mud",
        "03_calibration_target",
        "04_freshwater_lake",
    ]


def test_there_is_one_for_each_kind_of_file() -> None:
    assert {kind_of(path) for path in ALL} == {"scenario", "claims", "trip", "sweep"}


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_each_opens_with_what_it_teaches_and_is_right(path: Path) -> None:
    head = path.read_text(encoding="utf-8").split("\n\n")[0]
    assert re.fullmatch(r"# What: .*(\n#      .*)*\n# New: .*(\n#      .*)*\n# See: .*(\n#      .*)*", head), head
    assert LOAD[kind_of(path)](path).title


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_none_needs_a_caution(path: Path) -> None:
    """A tutorial that is told to be wrong teaches the wrong thing."""
    assert prepare(scenario.load(path)).header.warnings == ()


def test_together_they_show_every_section_and_shape() -> None:
    texts = "\n".join(path.read_text(encoding="utf-8") for path in DEMOS)
    shown = (
        *("profile =", "assumed_sound_speed", "roll =", "pitch =", "heave =", "in_turn", "pings =", "ping_interval"),
        *("slope =", "relief =", "grid =", "thickness =", "tilt =", "swimming =", "body =", "swimbladder ="),
        *(
            'kind = "box"',
            'kind = "cylinder"',
            'kind = "hull"',
            "[[school]]",
            "[[scattering_layer]]",
            "[[target]]",
            "sphere =",
        ),
        *('shape = "disc"', 'shape = "rectangle"', 'shape = "discs"', "weighting =", "tone =", "taper ="),
        *("high-pencil", "high-cone", "medium-pencil", "medium-fan", "low-pencil"),
    )
    assert [word for word in shown if word not in texts] == []


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_demo_runs(path: Path, tmp_path: Path) -> None:
    loaded = scenario.load(path)
    for name, content in loaded.inputs.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(content)
    short = scenario.changed(loaded, {"boat.pings": 2})
    (tmp_path / path.name).write_text(scenario.to_toml(short), encoding="utf-8")
    # One draws its pictures; test_figures_room draws those of all.
    drawn = path == DEMOS[0]
    results = pipeline.run(tmp_path / path.name, tmp_path / "out", threads=1, no_pictures=not drawn)
    summary = json.loads((results.folder / "summary.json").read_text(encoding="utf-8"))
    assert summary
    expected = {"echograms.h5", *(["compare.png", "compare.html"] if drawn else [])}
    assert expected <= {file.name for file in results.folder.iterdir()}
