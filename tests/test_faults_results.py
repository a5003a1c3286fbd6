"""Commands over results that stand: a file that will not fit, another run in the folder.

Old whole or new whole. The bench writes nothing on this computer: what it saves goes to the browser. Kills of these
commands: benchmarks/stops.py.
"""

import resource
import signal
from contextlib import contextmanager

import pytest
from pingwright import __main__ as command
from pingwright import checking, files
from pingwright.run import examples
from pingwright.sweeps import pipeline
from pingwright.validation import pipeline as validating
from test_going_on import BASE, CLAIMS, TRIP

SWEEP = 'title = "s"\nscenario = "base.toml"\n[vary]\n"seabed.depth" = ["14 m", "15 m"]\n'
LINES = {
    "claims": ["claims", "claims.toml", "--quick"],
    "match": ["match", "match.toml", "--quick"],
    "sweep": ["sweep", "sweep.toml", "--no-pictures"],
    "ask": [
        "ask",
        "swath",
        "--depth",
        "20 m",
        "--species",
        "perch, 30 cm",
        "--elements",
        "high-pencil",
        "--quick",
    ],  # fmt: skip
    "validate": ["validate", "--quick"],
}
CLOSING = {name: f"{name}.json" for name in LINES} | {"validate": "validation.json"}


def numbers(job):
    """What a scene of a sweep comes to, without simulating it."""
    value = {"value": 9.0, "unit": "m", "definition": "d" * 2000}
    scene = job.scene
    found = {"number": scene.number, "changes": dict(scene.changes), "seed": scene.seed}
    return found | {"elements": {"high": {"reach": value}}, "message": "", "warnings": []}


@contextmanager
def files_of_at_most(size):
    """No file may be longer than `size` [bytes], as on a disk that is full."""
    before, was = signal.signal(signal.SIGXFSZ, signal.SIG_IGN), resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, was[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, was)
        signal.signal(signal.SIGXFSZ, before)


@pytest.fixture
def work(tmp_path, monkeypatch):
    """A folder with the files of all commands, where a sweep and a validation take no time."""
    for name, text in {"base": BASE, "claims": CLAIMS, "match": TRIP, "sweep": SWEEP}.items():
        (tmp_path / f"{name}.toml").write_text(text)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(pipeline, "work", numbers)
    nothing = validating.Validation((), ())
    monkeypatch.setattr(validating, "validate", lambda **_: nothing)
    monkeypatch.setattr("pingwright.validation.curves.CURVES", {})
    return tmp_path


def standing(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir() if not path.name.startswith(".pingwright")}


@pytest.mark.parametrize("name", LINES)
def test_what_does_not_fit_leaves_the_old_whole_and_the_next_run_makes_it_new(work, name, capsys):
    line, out = [*LINES[name], "--out", "o", "--quiet"], work / "o"
    assert command.main(line) in {0, 1}, capsys.readouterr().err
    before = standing(out)
    for size in (0, 400):
        with files_of_at_most(size):
            assert command.main(line) == 3
        said = capsys.readouterr().err.strip()
        assert "\n" not in said
        assert "could not be written" in said
        assert standing(out) == before
        assert files.strangers(out, CLOSING[name]) == []
    assert command.main(line) in {0, 1}
    assert standing(out) == before
    assert not list(out.glob(f"{files.PART}*"))
    assert not (out / files.LOCK).exists(), "the closing file alone says whose results these are"
    assert "complete set" in checking.check(out).lines[0]


def test_examples_that_do_not_fit_leave_only_whole_ones(tmp_path, capsys):
    with files_of_at_most(3000):
        assert command.main(["examples", str(tmp_path / "mine")]) == 3
    assert "could not be written" in capsys.readouterr().err
    for copied in (path for path in (tmp_path / "mine").rglob("*") if path.is_file()):
        assert copied.read_bytes() == (examples.source() / copied.relative_to(tmp_path / "mine")).read_bytes()
    assert command.main(["examples", str(tmp_path / "mine")]) == 0


@pytest.mark.parametrize("name", LINES)
def test_a_second_run_into_the_folder_is_refused_and_touches_nothing(work, name, capsys):
    (work / "o").mkdir()
    with files.claimed(work / "o", (CLOSING[name],)):
        assert command.main([*LINES[name], "--out", "o"]) == 3
        assert "Another run is writing into o" in capsys.readouterr().err
    assert standing(work / "o") == {}
