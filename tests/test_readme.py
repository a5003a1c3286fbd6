"""What README and DEVELOPERS say is true: commands, files, the least scenario, the floors."""

import re
import shlex
from pathlib import Path

import h5py
import numpy as np
import pytest
from pingwright.acoustics import sphere
from pingwright.inputs import scenario
from pingwright.options import EXAMPLES, parser
from pingwright.recording import prepare
from pingwright.run import pipeline
from test_house import FLOORS, OWNERS

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


def short_run(name: str, pings: int, folder: Path) -> Path:
    """Simulate a few pings of a scenario of the gallery into out/NAME/echograms.h5 of a folder."""
    short = scenario.changed(scenario.load(ROOT / "scenarios" / f"{name}.toml"), {"boat.pings": pings})
    target = folder / "out" / name / "echograms.h5"
    target.parent.mkdir(parents=True)
    pipeline.simulate_to(target, prepare(short))
    return target


def test_the_python_reads_what_it_says(monkeypatch, capsys):
    """The exact series of the sphere at 170 kHz, as recomputed in the project's reference sheet, is the judge."""
    (code,) = blocks("python")
    stated = float(re.search(r"# (-[\d.]+)$", code, re.MULTILINE)[1])
    monkeypatch.chdir(ROOT)
    exec(compile(code, "README.md", "exec"), {})
    read = float(capsys.readouterr().out)
    carbide = sphere.amplitude_elastic(0.01905, 170e3, 14900 / 1026.95, 6853.0, 4171.0, 1490.0)
    assert stated == pytest.approx(float(sphere.target_strength(carbide)), abs=0.1)
    assert read == pytest.approx(stated, abs=0.2), "the chirp's band weighs the series' peaks and holes"


def test_the_files_own_comment_reads_the_scattering_layer(tmp_path):
    """Volume strength by the formula in the file: the scenario puts -60 dB re 1 m-1; README and gallery say 0.3 dB.

    24 pings x 6 m / 1.4 cm are some 10,000 independent cells: the mean of so many exponentials strays by 0.04 dB.
    """
    target = short_run("09_layer_to_integrate", 24, tmp_path)
    with h5py.File(target) as file:
        comment = file["elements"].attrs["comment"]
        formula = re.search(r"Sv = (.*?) \[dB re 1 m-1\]", comment)[1]
        element = file["elements/high"]
        stored, r = element["echo_level"], element["range"][:]
        level = stored[:] * stored.attrs["scale_factor"] + stored.attrs["add_offset"]
        inside = (r > 27) & (r < 33)
        words = {name: element.attrs[name] for name in element.attrs} | {"log10": np.log10}
        words |= {"echo_level": level[:, inside], "r": r[inside]}
        written = re.sub(r"(\w) (?=[a-z])", r"\1 * ", formula)  # products stand side by side, as on paper
        strength = eval(written, words)
    assert 10 * np.log10(np.mean(10 ** (strength / 10))) == pytest.approx(-60.0, abs=0.3)


@pytest.mark.parametrize(
    "line", [line for block in blocks("sh") for line in block.splitlines() if "pingwright " in line]
)
def test_commands_in_the_readme_parse(line):
    words = line.split("#")[0].split()
    asked = parser().parse_args([word for word in words[1:] if word != "&&"])
    assert asked.command in EXAMPLES


@pytest.mark.parametrize("example", EXAMPLES.values())
def test_examples_in_help_parse(example):
    asked = parser().parse_args(shlex.split(example.split(" > ")[0])[1:])
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
    rows = re.findall(r"^\| (\d+) \| (`.*?) \|(.*?)\|$", DEVELOPERS, re.MULTILINE)
    drawn = {}
    for floor, rooms, _ in rows:
        names = re.findall(r"`(\w+)/?`", re.sub(r"\([^()]*\)", "", rooms))
        drawn |= dict.fromkeys(names, int(floor))
    assert drawn == FLOORS
    said = {name for _, _, owned in rows for name in re.findall(r"\w+", owned)}
    assert said <= set(OWNERS)


def test_every_room_of_the_package_is_on_a_floor():
    rooms = {p.stem for p in (ROOT / "simulator/pingwright").glob("*.py")} | {
        p.parent.name for p in (ROOT / "simulator/pingwright").glob("*/__init__.py")
    }
    assert rooms - {"__init__"} == set(FLOORS)
