"""A disk that is full or is read-only, met by the command itself; and a program that asks no clock."""

import ast
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from tiny_scenarios import LAKE

ROOT = Path(__file__).resolve().parents[1]
#: Room for nothing at all; for the echograms but no picture; for all but the page.
SIZES = ("200k", "700k", "1200k")

namespaces = pytest.mark.skipif(
    not shutil.which("unshare")
    or subprocess.run(["unshare", "-rm", "mount", "-t", "tmpfs", "none", "/mnt"], check=False).returncode != 0,
    reason="this machine lets nobody mount a small disk",
)


def run_on(disk: Path, options: str, line: str = "run lake.toml --out disk/o") -> subprocess.CompletedProcess[str]:
    """Run the lake into a small disk that is there for this process alone; print what is left on it."""
    (disk.parent / "lake.toml").write_text(LAKE.replace("pings = 40", "pings = 20"))
    script = (
        f"mount -t tmpfs -o {options} none {disk} && {{ {sys.executable} -m pingwright {line};"
        f" status=$?; ls -A {disk}/o 2>/dev/null; exit $status; }}"
    )
    return subprocess.run(
        ["unshare", "-rm", "sh", "-c", script],
        cwd=disk.parent, env=os.environ | {"PYTHONPATH": str(ROOT / "simulator")},
        capture_output=True, text=True, check=False,
    )  # fmt: skip


@namespaces
@pytest.mark.parametrize("size", SIZES)
def test_a_full_disk_ends_in_one_sentence_and_nothing_half_written(tmp_path, size):
    disk = tmp_path / "disk"
    disk.mkdir()
    done = run_on(disk, f"size={size}")
    assert done.returncode == 3, done.stderr
    assert "Traceback" not in done.stderr
    assert "no room left on the disk" in done.stderr or "are free on the disk" in done.stderr
    left = set(done.stdout.split())
    assert "summary.json" not in left, "what closes a set is written last"
    assert not any(name.startswith(".pingwright-part") for name in left)


@namespaces
@pytest.mark.parametrize("size", ["40k", "100k"])
def test_an_export_to_a_full_disk_ends_the_same_way(tmp_path, size):
    """HDF5 was seen to end the process (139) on a disk of 40 kB: the room is tried before it begins."""
    disk = tmp_path / "disk"
    disk.mkdir()
    fixture = ROOT / "tests/fixtures/echograms_format_1.h5"
    done = run_on(disk, f"size={size}", f"export {fixture} --out disk/e.nc && mkdir disk/o")
    assert done.returncode == 3, done.stderr
    assert done.stderr.count("\n") == 1
    assert "disk/e.nc could not be written: there is no room left on the disk" in done.stderr


@namespaces
def test_a_disk_that_can_only_be_read_is_told(tmp_path):
    disk = tmp_path / "disk"
    disk.mkdir()
    done = run_on(disk, "ro")
    assert done.returncode == 3, done.stderr
    assert "is read-only" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_changed_clock_changes_nothing():
    """No module asks what time it is or how old a file is, so none can be misled by a clock that is set."""
    steady = {
        "perf_counter",
        "process_time",
        "monotonic",
        "sleep",
    }  # count from wherever they like: no clock that is set moves them
    asks = {"now", "today", "utcnow", "st_mtime", "st_ctime", "st_atime", "getmtime", "strftime"}
    for path in (ROOT / "simulator/pingwright").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            modules = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            modules += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not asks.intersection(name.split(".")[0] for name in modules), path
            if isinstance(node, ast.ImportFrom) and node.module == "time":
                assert {alias.name for alias in node.names} <= steady, path
            if isinstance(node, ast.Attribute):
                assert node.attr not in asks, path
                of_time = isinstance(node.value, ast.Name) and node.value.id == "time"
                assert not of_time or node.attr in steady, path
