"""What comes from strangers, or goes to a terminal: pictures, names, closed outputs; none of it acts or takes long."""

import json
import os
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import pytest
from pingwright import __main__ as command
from pingwright import files
from pingwright.echograms import layout
from pingwright.echograms.file import Writer, read
from pingwright.errors import EchogramError, UnfinishedError
from pingwright.figures import embed
from pingwright.run import recalling
from tests_made import header, write_all

ROOT = Path(__file__).resolve().parents[1]
SCENARIO = 'title = "x"\n[water]\nprofile = "water.csv"\n[seabed]\ngrid = ".git/config.csv"\n'


def picture(path: Path, scenario: str, inputs: dict[str, bytes]) -> Path:
    path.write_bytes(embed.into_svg(b"<svg></svg>", embed.packed(scenario, 1, inputs), "t", "d"))
    return path


@pytest.mark.parametrize("name", ["recalled.toml", ".bashrc", ".git/config.csv", "other.csv", "water.sh", "lock.csv"])
def test_a_picture_gives_back_only_files_its_scenario_names(tmp_path, capsys, name):
    """Not one that takes the scenario's place, a hidden one, one it does not name, or one of another kind."""
    there = tmp_path / "there"
    made = picture(tmp_path / "p.svg", SCENARIO, {"water.csv": b"1", name: b"2"})
    assert command.main(["recall", str(made), "--out", str(there)]) == 2
    assert "cannot be used here" in capsys.readouterr().err
    assert not there.exists()


def test_the_files_a_claims_file_rests_on_are_given_back(tmp_path):
    claims = 'title = "c"\nscenario = "base.toml"\n'
    inputs = {"base.toml": b'[water]\nprofile = "deep/water.csv"\n', "deep/water.csv": b"1"}
    written = recalling.restore(recalling.Recalled(claims, inputs), tmp_path / "there")
    assert sorted(path.name for path in written) == ["base.toml", "recalled.toml", "water.csv"]


def test_half_a_folder_is_not_left(tmp_path):
    (tmp_path / "deep").write_text("a file where a folder is needed")
    inputs = {"deep/water.csv": b"1"}
    with pytest.raises(Exception, match="could not be written"):
        recalling.restore(recalling.Recalled('[water]\nprofile = "deep/water.csv"\n', inputs), tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["deep"]


@pytest.mark.parametrize("text", ["title = 'x'\n\x1b[31m", "title = '\x9b31m'", "\x07"])
def test_a_picture_sends_nothing_to_the_terminal(tmp_path, capsys, text):
    assert command.main(["recall", str(picture(tmp_path / "p.svg", text, {}))]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert "control characters" in shown.err
    assert "p.svg" in shown.err


@pytest.mark.parametrize(
    "arguments", [["check", "a\x1b[31m.toml"], ["\x1b[31mrun"], ["list", "\x1b]0;x\x07"], ["run", "a.toml", "--s\x1b"]]
)
def test_names_on_the_command_line_are_made_printable(capsys, arguments):
    assert command.main(arguments) == 2
    assert "\x1b" not in "".join(capsys.readouterr())


@pytest.mark.parametrize("name", ["a\0b", "\ud800", ""])
def test_a_name_that_no_file_can_have_is_refused(capsys, name):
    assert command.main(["recall", "x.png", "--out", name]) == 2
    assert "not a possible file name" in capsys.readouterr().err


@pytest.mark.parametrize("closed", ["stdout", "stderr"])
def test_a_closed_output_is_no_fault(closed):
    line = f"{sys.executable} -m pingwright list keys {'>' if closed == 'stdout' else '2>'}&-"
    environment = os.environ | {"PYTHONPATH": str(ROOT / "simulator")}
    done = subprocess.run(["sh", "-c", line], capture_output=True, text=True, env=environment, check=False)
    assert (done.returncode, done.stderr) == (0, "")


def png(*chunks: tuple[bytes, bytes]) -> bytes:
    out = b"\x89PNG\r\n\x1a\n"
    for kind, body in chunks:
        out += struct.pack(">I4s", len(body), kind) + body + struct.pack(">I", zlib.crc32(kind + body))
    return out


def packed_chunk(text: bytes) -> tuple[bytes, bytes]:
    return b"iTXt", embed.KEY.encode() + b"\0\1\0\0\0" + zlib.compress(text, 9)


HOSTILE = {
    "markup that never ends": b"<html>" + b"<script " * 20_000,
    "names without end": b"<html>" + b'id="pingwright-scenario" ' * 20_000,
    "streams without end": b"%PDF-1.4" + b"stream\n" * 100_000,
    "streams that begin like ours": b"%PDF-1.4" + b'stream\n{"version"' * 100_000,
    "a picture that unpacks": png(packed_chunk(b"[" + b"[]," * 21_000_000)),
    "many that unpack": png(*[packed_chunk(b" " * 7_000_000)] * 9),
}


@pytest.mark.parametrize("data", HOSTILE.values(), ids=HOSTILE)
def test_hostile_pictures_are_refused_at_once(data):
    """Reading is linear in the size, and little is unpacked: a quadratic search took 25 s and more for each."""
    with pytest.raises(EchogramError, match="no scenario can be read"):
        embed.read(data)


def test_a_pdf_saved_again_is_read_by_its_content():
    what = json.dumps({"version": "1", "seed": 1, "scenario": "title = 'x'", "inputs": {}}).encode()
    for body in (what, zlib.compress(what)):
        assert embed.read(b"%PDF-1.4 1 0 obj stream\n" + body + b"\nendstream endobj").scenario == "title = 'x'"


def test_all_files_in_a_record_together_have_a_limit(tmp_path, monkeypatch):
    """Each may be small and their sum still fill the memory."""
    made = header(pings=20, samples=50)
    monkeypatch.setattr(layout, "MOST_INPUT_BYTES", sum(map(len, made.inputs.values())) - 1)
    with Writer(tmp_path / "echograms.h5", made) as writer:
        write_all(writer, made)
    with pytest.raises(EchogramError, match="all input files together"):
        read(tmp_path / "echograms.h5")


def test_check_knows_an_interrupted_run_from_any_other_folder(tmp_path, capsys):
    assert command.main(["check", str(tmp_path)]) == 2
    assert "a folder without finished results" in capsys.readouterr().err
    (tmp_path / files.LOCK).write_text("")
    assert command.main(["check", str(tmp_path)]) == 2
    assert "an interrupted run" in capsys.readouterr().err


def test_a_planted_link_is_no_lock(tmp_path):
    (tmp_path / "there").mkdir()
    (tmp_path / "there" / files.LOCK).symlink_to(tmp_path / "elsewhere")
    with pytest.raises(UnfinishedError), files.claimed(tmp_path / "there", ("a.txt",)):
        pass
    assert not (tmp_path / "elsewhere").exists()
