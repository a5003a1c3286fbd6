"""Install the wheel and the sdist in empty folders, with the newest and the oldest allowed libraries, and use them.

    python benchmarks/dependencies.py [--work FOLDER] [--tests 'test_engine_*.py,test_echograms_*.py,...']

Four environments, each new: wheel and newest, sdist and newest, wheel and oldest (every dependency at the floor that
pyproject.toml names), and, in the oldest, the tests named. In each but the last, in an empty folder: `--help`, which
may load no slow library; `new`; `check` and `run` of a small scenario; `check` of its results. The small scenario's
levels are compared between newest and oldest. Exit status 1 on any failure. Needs a package registry.
"""

import argparse
import re
import subprocess
import sys
import tempfile
import time
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
TESTS = (
    "test_engine_*.py,test_echograms_*.py,test_acoustics_*.py,test_element_*.py,test_measure_*.py,test_published.py,"
    "test_inputs_*.py,test_quantities.py,test_world_*.py,test_figures_*.py,test_page_build.py,test_recording.py"
)
HEAVY = {"numba", "llvmlite", "scipy", "h5py", "matplotlib", "PIL", "pydantic", "trimesh", "rich"}

LOADED = """
import runpy, sys
sys.argv = ["pingwright", "--help"]
try:
    runpy.run_module("pingwright", run_name="__main__")
except SystemExit:
    print("LOADED", *sorted(sys.modules))
"""

COMPARED = """
import sys
import numpy as np
from pingwright.echograms.file import read
a, b = (read(path) for path in sys.argv[1:])
for left, right in zip(a.elements, b.elements, strict=True):
    every = slice(0, left.pings)
    x, y = left.level(every), right.level(every)
    both = np.isfinite(x) & np.isfinite(y)
    print(f"{left.info.name}: {x.size} levels, {np.sum(np.isfinite(x) != np.isfinite(y))} filled in one alone,"
          f" largest difference {np.abs(x - y)[both].max():.3f} dB, share that differs {np.mean((x != y)[both]):.2e}")
"""


def floors() -> list[str]:
    """Return every dependency of the package, and of the tests that need it, pinned at its floor."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    return [re.sub(r"\s*>=\s*", "==", line) for line in project["dependencies"]]


def said(command: list[object], where: Path) -> str:
    """Run a command; return what it printed; raise with its last words where it fails."""
    done = subprocess.run([str(word) for word in command], cwd=where, capture_output=True, text=True, check=False)
    if done.returncode:
        words = " ".join(str(word) for word in command)[-200:]
        message = f"{words}: exit status {done.returncode}\n{(done.stdout + done.stderr)[-3000:]}"
        raise RuntimeError(message)
    return done.stdout + done.stderr


def environment(folder: Path, *packages: object) -> Path:
    """Make an environment; return its Python."""
    said([sys.executable, "-m", "venv", folder], ROOT)
    python = folder / "bin" / "python"
    said([python, "-m", "pip", "install", "-q", *packages], folder)
    return python


def used(python: Path, empty: Path) -> Path:
    """Use the installed command in an empty folder as a newcomer would; return the echograms."""
    command = python.parent / "pingwright"
    empty.mkdir()
    sys.path.insert(0, str(ROOT / "tests"))
    from tiny_scenarios import LAKE

    begun = time.perf_counter()
    said([command, "--help"], empty)
    print(f"  --help in {time.perf_counter() - begun:.2f} s")
    names = set(said([python, "-c", LOADED], empty).rsplit("LOADED", 1)[1].split())
    if slow := names.intersection(HEAVY):
        message = f"--help loads {', '.join(sorted(slow))}"
        raise RuntimeError(message)
    said([command, "new", "first.toml"], empty)
    said([command, "check", "first.toml"], empty)
    (empty / "lake.toml").write_text(LAKE)
    said([command, "check", "lake.toml"], empty)
    said([command, "run", "lake.toml"], empty)
    said([command, "check", "out/lake/summary.json"], empty)
    return empty / "out" / "lake" / "echograms.h5"


def main() -> int:
    """Report."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--work", type=Path)
    parser.add_argument("--tests", default=TESTS)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        work = asked.work or Path(scratch)
        work.mkdir(parents=True, exist_ok=True)
        copy = work / "copy"
        copy.mkdir()
        said(["sh", "-c", f"git archive HEAD | tar -x -C {copy}"], ROOT)
        builder = environment(work / "builder", "build")
        said([builder, "-m", "build", "--outdir", work / "dist", copy], work)
        (wheel,), (sdist,) = (work / "dist").glob("*.whl"), (work / "dist").glob("*.tar.gz")
        print("wheel, newest")
        newest = used(environment(work / "wheel", wheel), work / "empty_wheel")
        print("sdist, newest")
        used(environment(work / "sdist", sdist), work / "empty_sdist")
        print("wheel, oldest:", " ".join(floors()))
        oldest = environment(work / "oldest", wheel, *floors())
        levels = used(oldest, work / "empty_oldest")
        print(said([work / "wheel/bin/python", "-c", COMPARED, newest, levels], work))
        said(
            [
                oldest,
                "-m",
                "pip",
                "install",
                "-q",
                "pytest",
                "hypothesis",
                "gsw",
                "xarray",
                "netCDF4",
                "pypdf",
                *floors(),
            ],
            work,
        )
        files = sorted({path for name in asked.tests.split(",") for path in (copy / "tests").glob(name)})
        print(said([oldest, "-m", "pytest", "-q", "-p", "no:cacheprovider", *files], copy)[-300:])
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
