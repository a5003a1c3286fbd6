"""Examples: every scenario travels with the package, and a user's own copy is never overwritten."""

import tomllib
from pathlib import Path

import pytest
from pingwright.__main__ import main
from pingwright.errors import UnfinishedError
from pingwright.run import examples

ROOT = Path(__file__).resolve().parents[1]
SCENARIOS = ROOT / "scenarios"


def test_the_wheel_carries_every_example_where_it_is_looked_for():
    """The build reads the same table; README's way, an installed wheel, is tried before a change is taken (.ci/run)."""
    table = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]["data-files"]
    for name in examples.names(SCENARIOS):
        target = "/".join(("share/pingwright/scenarios", *name.parent.parts))
        assert any((SCENARIOS / name) in ROOT.glob(pattern) for pattern in table[target]), name
    assert examples.SHARED in table


def test_an_installed_package_finds_its_own(monkeypatch, tmp_path):
    """Outside a source tree: first where the installer put them, then the interpreter's folder for data."""
    monkeypatch.setattr(examples, "__file__", str(tmp_path / "site" / "pingwright" / "run" / "examples.py"))
    monkeypatch.setattr(examples, "_recorded", list)
    monkeypatch.setattr(examples.sysconfig, "get_path", lambda name: str(tmp_path / "data"))
    with pytest.raises(UnfinishedError, match="are not in this installation"):
        examples.source()
    for folder in (tmp_path / "site" / examples.SHARED, tmp_path / "data" / examples.SHARED):
        folder.mkdir(parents=True)
        assert examples.source() == folder.resolve()
    placed = tmp_path / "user" / examples.SHARED
    placed.mkdir(parents=True)
    monkeypatch.setattr(examples, "_recorded", lambda: [placed])
    assert examples.source() == placed.resolve()


def test_the_command_copies_all_and_overwrites_nothing(tmp_path, capsys):
    folder = tmp_path / "mine"
    assert main(["examples", str(folder)]) == 0
    shown = capsys.readouterr().out.splitlines()
    assert shown == [str(folder / name) for name in examples.names(SCENARIOS)]
    assert all((folder / name).read_bytes() == (SCENARIOS / name).read_bytes() for name in examples.names(SCENARIOS))
    (folder / "03_calibration_target.toml").unlink()
    assert main(["examples", str(folder)]) == 0, "what is unchanged stays, what is missing comes back"
    assert (folder / "03_calibration_target.toml").is_file()
    (folder / "01_wreck_on_gravel.toml").write_text("my own work", encoding="utf-8")
    (folder / "03_calibration_target.toml").unlink()
    assert main(["examples", str(folder)]) == 2
    assert "01_wreck_on_gravel.toml" in capsys.readouterr().err
    assert (folder / "01_wreck_on_gravel.toml").read_text(encoding="utf-8") == "my own work"
    assert not (folder / "03_calibration_target.toml").exists(), "nothing is copied where one file stands in the way"
    assert main(["examples", str(folder / "01_wreck_on_gravel.toml")]) in {2, 3}, "a file is no folder"
