"""Count which lines of the package the tests run: per floor and room, with every line that none runs.

    nice -n 19 python benchmarks/covered.py [--kept FOLDER] [--only test_files,test_signs] [--report]

Test files are run one after another, each in a process of its own; programs that tests start (the command line) count
as well. `--kept FOLDER` keeps what each file ran, so that a stopped count goes on; a file is run again when it or the
package has changed. What counts as a line stands in pyproject.toml under [tool.coverage]: kernels compiled by numba run
as machine code where no tracer sees them; their bodies are left out, and the number of lines left out is printed. They
are judged by their reference versions in `tests/test_engine_kernels.py` and `tests/test_engine_run.py`. Exit status 1
below 95 % of lines, or where a test fails.
"""

import argparse
import hashlib
import json
import os
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
WANTED = 95.0


def state_of(file: Path) -> str:
    """Return a digest of a test file, of the tests' helpers and of the package."""
    helpers = [path for path in (ROOT / "tests").glob("*.py") if not path.name.startswith("test_")]
    total = hashlib.sha256()
    for path in sorted({file, *helpers, *(ROOT / "simulator/pingwright").rglob("*.py")}):
        total.update(path.read_bytes())
    return total.hexdigest()


def run(file: Path, folder: Path) -> bool:
    """Run a test file with its lines counted; return whether its tests pass."""
    for old in folder.glob(f"{file.stem}.lines*"):
        old.unlink()
    setup = os.environ | {"NUMBA_JIT_COVERAGE": "0", "PYTHONPATH": str(ROOT / "simulator")}
    command = ["-m", "coverage", "run", f"--data-file={folder / file.stem}.lines", "-m"]
    begun = time.monotonic()
    command += ["pytest", "-q", "-p", "no:cacheprovider", "--tb=short", str(file)]
    done = subprocess.run([sys.executable, *command], check=False, cwd=ROOT, env=setup, capture_output=True, text=True)
    last = (done.stdout.strip().splitlines() or [""])[-1]
    print(f"{file.stem}: {last} ({time.monotonic() - begun:.0f} s)", flush=True)
    if done.returncode:
        print(done.stdout[-4000:], done.stderr[-2000:], flush=True)
    return done.returncode == 0


def runs(words: list[int]) -> str:
    """Return line numbers as ranges."""
    found: list[list[int]] = []
    for line in words:
        if found and line == found[-1][1] + 1:
            found[-1][1] = line
        else:
            found.append([line, line])
    return ", ".join(str(low) if low == high else f"{low}-{high}" for low, high in found)


def report(folder: Path) -> float:
    """Print lines run of each floor and room, and the lines no test runs; return the share of all [%]."""
    sys.path.insert(0, str(ROOT / "tests"))
    from test_house import FLOORS

    tool = [sys.executable, "-m", "coverage"]
    data = sorted(str(path) for path in folder.glob("*.lines*"))
    whole = folder / "whole"
    subprocess.run(
        [*tool, "combine", "--keep", "-q", f"--data-file={whole}", *data],
        cwd=ROOT,
        check=True,
        stdout=subprocess.DEVNULL,
    )
    wanted = ["json", f"--data-file={whole}", "-q", "-o", str(folder / "whole.json")]
    subprocess.run([*tool, *wanted], cwd=ROOT, check=True)
    files = json.loads((folder / "whole.json").read_text())["files"]
    rooms: dict[tuple[float, str], list[int]] = defaultdict(lambda: [0, 0, 0])
    for name, each in sorted(files.items()):
        parts = Path(name).with_suffix("").parts
        room = parts[1] if parts[1] in FLOORS else "(package)"
        counts = each["summary"]
        for at, key in enumerate(("covered_lines", "num_statements", "excluded_lines")):
            rooms[FLOORS.get(room, -1), room][at] += counts[key]
        if each["missing_lines"]:
            missing = runs(each["missing_lines"])
            print(f"{name}: {counts['covered_lines']} of {counts['num_statements']}; not {missing}")
    floors: dict[float, list[int]] = defaultdict(lambda: [0, 0, 0])
    for (floor, room), counts in sorted(rooms.items()):
        print(f"floor {floor:g} {room}: {words_of(counts)}")
        floors[floor] = [a + b for a, b in zip(floors[floor], counts, strict=True)]
    for floor, counts in sorted(floors.items()):
        print(f"floor {floor:g}: {words_of(counts)}")
    total = [sum(each) for each in zip(*floors.values(), strict=True)]
    print(f"all: {words_of(total)}", flush=True)
    return 100.0 * total[0] / total[1]


def words_of(counts: list[int]) -> str:
    """Say lines run, of how many, and how many are left out."""
    run_lines, lines, out = counts
    left = f", {out} left out" if out else ""
    return f"{100 * run_lines / max(lines, 1):.1f} % ({run_lines} of {lines}{left})"


def main() -> int:
    """Run and report."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kept", type=Path, help="folder in which counts are kept from run to run")
    parser.add_argument(
        "--only", default="", help="run only these test files, in this order, say test_files,test_signs"
    )
    parser.add_argument("--report", action="store_true", help="run nothing")
    asked = parser.parse_args()
    files = [ROOT / "tests" / f"{name}.py" for name in asked.only.split(",") if name]
    files = files or sorted((ROOT / "tests").glob("test_*.py"))
    well = True
    with tempfile.TemporaryDirectory() as scratch:
        folder = (asked.kept or Path(scratch)).resolve()
        folder.mkdir(parents=True, exist_ok=True)
        for file in files if not asked.report else ():
            mark, state = folder / f"{file.stem}.state", state_of(file)
            if mark.exists() and mark.read_text() == state:
                continue
            passed = run(file, folder)
            well &= passed
            if passed:
                mark.write_text(state)
        return 0 if report(folder) >= WANTED and well else 1


if __name__ == "__main__":
    raise SystemExit(main())
