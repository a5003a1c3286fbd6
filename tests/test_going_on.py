"""Claims and trips stopped by signals: what is said, what is left, what comes of going on."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from pingwright import checkpoint, files

ROOT = Path(__file__).resolve().parents[1]

BASE = """
title = "base"
[water]
temperature = 11
salinity = 34.5
[boat]
speed = "20 kn"
[[element]]
name = "high"
use = "high-pencil"
[seabed]
depth = "15 m"
[[seabed.layer]]
sediment = "gravel"
"""
CLAIMS = """
title = "It shows small fish"
scenario = "base.toml"
runs = 200
seed = 5
[[claim]]
says = "It shows small fish"
element = "high"
measure = "detected"
fish = { swimbladder = "closed", length = "4 cm", depth = "8 m" }
"""
TRIP = """
title = "Small"
seed = 3
[day]
depth = ["9 m", "9.2 m"]
speed = "20 kn"
sediment = "gravel"
temperature = 12
salinity = 35
[[species]]
name = "fish"
swimbladder = "closed"
length = "40 cm"
where = { depth = ["2 m", "2.5 m"] }
[candidates]
elements = ["high-pencil"]
"""


def line(command, out):
    # --plain: what a verdict depends on is stopped and resumed in test_claims, in this process
    return [sys.executable, "-m", "pingwright", command, f"{command}.toml", "--out", out, "--threads", "1", "--plain"]


@pytest.fixture(scope="module")
def command(request):
    return request.param


@pytest.fixture(scope="module")
def whole(command, tmp_path_factory):
    """The folder of the files, with the results of work that nobody stopped."""
    folder = tmp_path_factory.mktemp("whole")
    for name, text in {"base": BASE, "claims": CLAIMS, "match": TRIP}.items():
        (folder / f"{name}.toml").write_text(text)
    done = subprocess.run(
        line(command, f"{command}-whole"), cwd=folder, env=environment(), capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return folder


def environment():
    return os.environ | {"PYTHONPATH": str(ROOT / "simulator")}


def has_begun(state):
    """Whether a run has kept something so far."""
    try:
        return bool(json.loads(state.read_text())["values"])
    except (OSError, ValueError):
        return False


def stopped(folder, command, out, how):
    """Start the work, stop it once it has kept something, and return the process's status and what it said."""
    signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell's background work ignores it, and so would ours
    process = subprocess.Popen(
        line(command, out), cwd=folder, env=environment(), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    state = files.part_of(folder / out / f"{command}.state")
    for _ in range(30_000):
        if has_begun(state) or process.poll() is not None:
            break
        time.sleep(0.002)
    process.send_signal(how)
    printed, said = process.communicate()
    assert f"{command}.json" not in printed, "only an answer from formulas may stand there, no results"
    return process.returncode, said


@pytest.mark.parametrize(
    ("command", "how"),
    [*(("claims", how) for how in (signal.SIGTERM, signal.SIGKILL)), ("match", signal.SIGKILL)],
    ids=str,
    indirect=["command"],
)
def test_stopped_it_says_so_leaves_nothing_half_written_and_goes_on_to_the_same(whole, command, how):
    out = f"{command}-{how.name}"
    folder, status = whole / out, {signal.SIGKILL: -signal.SIGKILL}.get(how, 3)  # 3: the contract's "interrupted"
    code, said = stopped(whole, command, out, how)
    assert code == status, said
    if status == 3:
        (one,) = said.splitlines()
        assert one.endswith("The finished part is stored: the same command continues.")
    state = files.part_of(folder / f"{command}.state")
    assert {path.name for path in folder.iterdir()} <= {state.name, f"{state.name}-new", files.LOCK}
    assert has_begun(state)
    files.part_of(folder / f"{command}.json").write_text("half")  # what a kill -9 may leave besides
    done = subprocess.run(
        [*line(command, out), "--resume"], cwd=whole, env=environment(), capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    expected = whole / f"{command}-whole"
    assert sorted(os.listdir(folder)) == sorted(os.listdir(expected))
    for path in expected.iterdir():
        assert (folder / path.name).read_bytes() == path.read_bytes(), path.name


def test_what_is_kept_is_for_the_same_work_only_and_damage_counts_as_nothing(tmp_path, monkeypatch):
    path = tmp_path / "state"
    one = checkpoint.Checkpoint(path, checkpoint.fingerprint("text", 5))
    one.save({"a": {"runs": 3}, "b": [True]})
    one.save({"b": None})
    again = checkpoint.Checkpoint(path, checkpoint.fingerprint("text", 5))
    assert again.get("a") == {"runs": 3}
    assert again.get("b") is None
    assert checkpoint.Checkpoint(path, checkpoint.fingerprint("text", 6)).get("a") is None
    with monkeypatch.context() as changed:
        changed.setattr(checkpoint, "_program", lambda: "another program")
        assert checkpoint.Checkpoint(path, checkpoint.fingerprint("text", 5)).get("a") is None
    whole = path.read_text()
    for damaged in ("", "no json", "[]", "[" * 100_000, whole[:-9], whole.replace("3", "4"), whole.replace("{", "[")):
        path.write_text(damaged)
        assert checkpoint.Checkpoint(path, checkpoint.fingerprint("text", 5)).get("a") is None
    again.clear()
    assert not path.exists()
