"""Claims, match and sweep over results that stand: a file that will not fit, another run in the folder.

Old whole or new whole. The bench writes nothing on this computer: what it saves goes to the browser.
"""

import resource
import signal
from contextlib import contextmanager

import pytest
from pingwright import __main__ as command
from pingwright import files
from pingwright.sweeps import pipeline
from test_going_on import BASE, CLAIMS, TRIP

SWEEP = 'title = "s"\nscenario = "base.toml"\n[vary]\n"seabed.depth" = ["14 m", "15 m"]\n'
LINES = {
    "claims": ["claims", "claims.toml", "--quick"],
    "match": ["match", "match.toml", "--quick"],
    "sweep": ["sweep", "sweep.toml", "--no-pictures"],
}
CLOSING = {"claims": "claims.json", "match": "match.json", "sweep": "sweep.json"}


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
    """A folder with the files of all three commands, where a sweep takes no time."""
    for name, text in {"base": BASE, "claims": CLAIMS, "match": TRIP, "sweep": SWEEP}.items():
        (tmp_path / f"{name}.toml").write_text(text)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(pipeline, "work", numbers)
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


@pytest.mark.parametrize("name", LINES)
def test_a_second_run_into_the_folder_is_refused_and_touches_nothing(work, name, capsys):
    (work / "o").mkdir()
    with files.claimed(work / "o", (CLOSING[name],)):
        assert command.main([*LINES[name], "--out", "o"]) == 3
        assert "Another run is writing into o" in capsys.readouterr().err
    assert standing(work / "o") == {}
