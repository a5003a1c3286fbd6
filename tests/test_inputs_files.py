"""What a scenario may name: plain files inside its own folder, within limits."""

import os
from pathlib import Path

import pytest
from pingwright.errors import ScenarioError
from pingwright.inputs import files, kinds, scenario

GOOD = """title = "t"
[water]
profile = "{name}"
[[element]]
name = "e"
use = "high-pencil"
[seabed]
depth = "40 m"
[[seabed.layer]]
sediment = "mud"
"""
PROFILE = "depth,temperature,salinity\n0,14,34\n50,9,35\n"


def written(folder: Path, name: str = "water.csv") -> Path:
    path = folder / "scene.toml"
    path.write_text(GOOD.format(name=name), encoding="utf-8")
    return path


def refusal(path: Path) -> str:
    with pytest.raises(ScenarioError) as caught:
        scenario.load(path)
    assert all(fault.file for fault in caught.value.faults)
    return str(caught.value)


def test_file_in_the_folder_is_read_and_kept(tmp_path: Path) -> None:
    (tmp_path / "water.csv").write_text(PROFILE, encoding="utf-8")
    loaded = scenario.load(written(tmp_path))
    assert loaded.inputs == {"water.csv": PROFILE.encode()}
    assert loaded.water.profile is not None
    assert loaded.water.profile.temperature == (14.0, 9.0)


def test_file_in_a_folder_below_is_read(tmp_path: Path) -> None:
    (tmp_path / "below").mkdir()
    (tmp_path / "below" / "water.csv").write_text(PROFILE, encoding="utf-8")
    assert scenario.load(written(tmp_path, "below/water.csv")).water.profile is not None


@pytest.mark.parametrize(
    "name", ["../water.csv", "/etc/passwd", "below/../../water.csv", "C:/x.csv", "a\\\\b.csv", "~/../x", "."]
)
def test_names_that_leave_the_folder_are_refused(tmp_path: Path, name: str) -> None:
    folder = tmp_path / "inner"
    folder.mkdir()
    (tmp_path / "water.csv").write_text(PROFILE, encoding="utf-8")
    assert "water.profile" in refusal(written(folder, name))


def test_links_are_refused(tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    folder = tmp_path / "inner"
    outside.mkdir()
    folder.mkdir()
    (outside / "water.csv").write_text(PROFILE, encoding="utf-8")
    (folder / "water.csv").symlink_to(outside / "water.csv")
    assert "links are not allowed" in refusal(written(folder))
    (folder / "way").symlink_to(outside)
    assert "links are not allowed" in refusal(written(folder, "way/water.csv"))


def test_pipes_folders_and_devices_are_refused_without_waiting(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "water.csv")
    assert "not a regular file" in refusal(written(tmp_path))
    (tmp_path / "folder.csv").mkdir()
    assert "not a regular file" in refusal(written(tmp_path, "folder.csv"))
    for path in (tmp_path / "water.csv", Path("/dev/zero"), tmp_path):
        with pytest.raises(ScenarioError, match="not a regular file"):
            scenario.load(path)


def test_size_is_checked_before_reading(tmp_path: Path) -> None:
    with (tmp_path / "water.csv").open("wb") as stream:
        stream.truncate(1 << 40)  # a hole in the disk: a terabyte that would not fit
    assert "allowed for a profile file: 1 MiB" in refusal(written(tmp_path))
    with (tmp_path / "scene.toml").open("wb") as stream:
        stream.truncate(files.LIMITS["scenario"] + 1)
    assert "allowed for a scenario file: 256 KiB" in refusal(tmp_path / "scene.toml")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (GOOD.encode("utf-16"), "not UTF-8"),
        (GOOD.replace("t", "\xe9", 1).encode("latin-1"), "not UTF-8"),
        (b'title = "a\x00b"', "U+0000"),
        (b'title = "a\x1b[31m"', "U+001B"),
        ('title = "a\u202eb"'.encode(), "U+202E"),
        (b"title = " + b"[" * 5000, "are nested more than 32"),
        (b"a." * 5000 + b"a = 1", "are nested more than 32"),
        (b"x = " + b"9" * 10_000, "too many digits"),
        (b"\xff\xfe", "not UTF-8"),
        (GOOD.encode("utf-16-le"), "saved as UTF-16"),
        (GOOD.encode("utf-32-be"), "saved as UTF-16 or UTF-32"),
        ('title = "a\u200bb"'.encode(), "U+200B"),
        ('title = "a\u200fb"'.encode(), "U+200F"),
        (b"", "title: is missing"),
    ],
)
def test_hostile_texts_are_refused(tmp_path: Path, content: bytes, words: str) -> None:
    path = tmp_path / "scene.toml"
    path.write_bytes(content)
    assert words in refusal(path)


def test_byte_order_mark_and_foreign_line_ends_are_read(tmp_path: Path) -> None:
    (tmp_path / "water.csv").write_bytes(b"\xef\xbb\xbf" + PROFILE.replace("\n", "\r\n").encode())
    path = tmp_path / "scene.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.format(name="water.csv").replace("\n", "\r\n").encode())
    assert scenario.load(path).title == "t"


def test_missing_file_is_said_so(tmp_path: Path) -> None:
    assert "no such file" in refusal(tmp_path / "nothing.toml")
    assert "no such file" in refusal(written(tmp_path))


@pytest.mark.parametrize(
    ("text", "kind"),
    [("[[claim]]\n", "claims"), ("[[species]]\n", "trip"), ("[day]\n", "trip"), ("[water]\n", "scenario")],
)
def test_kind_of_a_file_is_told_by_its_tables(tmp_path: Path, text: str, kind: str) -> None:
    path = tmp_path / "file.toml"
    path.write_text(text, encoding="utf-8")
    assert kinds.kind_of(path) == kind


@pytest.mark.parametrize(
    ("name", "said"),
    [("compare.png", "recall"), ("compare.HTML", "recall"), ("echograms.h5", "draw"), ("summary.json", "results")],
)
def test_another_kind_of_file_is_named_and_not_measured(tmp_path: Path, name: str, said: str) -> None:
    """A picture was told that it was too large for a scenario."""
    (tmp_path / name).write_bytes(bytes(300 << 10))
    with pytest.raises(ScenarioError, match=f"not a TOML file.*{said}|{said}.*not a TOML file"):
        scenario.load(tmp_path / name)
    with pytest.raises(ScenarioError, match="there is no such file"):
        scenario.load(tmp_path / f"no-{name}")
