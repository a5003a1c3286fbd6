"""Stop commands at random moments, over results that stand: afterwards each file is the old one or the new one, whole.

    python benchmarks/stops.py [--stops 12] [--only ask,sweep,export,examples,validate,passes,claims,match] [--seed 1]

Each command writes A, then B is begun over it again and again and stopped by KILL, INT or TERM in turn, from loading to
the last file. After each stop: no traceback, status 3 and one line after INT and TERM (or a good end), and every file
equal to that of A or of B. At the end B is run undisturbed (with --resume where there is one): its files must be those
of a run that nobody stopped, and no half-written file may be left. A stop that comes while Python itself still starts
ends in Python's own way. Exit status 1 on any failure.
"""

import argparse
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "simulator"), str(ROOT / "tests")]

from pingwright import files  # noqa: E402
from tiny_scenarios import LAKE  # noqa: E402

SIGNALS = (signal.SIGKILL, signal.SIGINT, signal.SIGTERM)
SWEEP = 'title = "s"\nscenario = "lake.toml"\nseeds = [1, 2]\n[vary]\n"seabed.depth" = ["8 m", "9 m"]\n'
CLAIMS = """
title = "Tiny claims"
scenario = "lake.toml"
runs = 40
[[claim]]
says = "The narrow high element detects a perch"
element = "narrow high"
measure = "detected"
fish = { swimbladder = "closed", length = "25 cm", above_bottom = "2 m" }
place = { along = "0 m", across = "0 m" }
holds_if = { at_least = 0.3 }
[[claim]]
says = "The low element reads the range to a metre"
element = "low"
measure = "range_resolution"
holds_if = { at_most = "1 m" }
"""
TRIP = """
title = "Tiny trip"
[day]
depth = "9 m"
sediment = "mud"
temperature = "14 degC"
salinity = 0
[[species]]
name = "perch"
swimbladder = "closed"
length = "25 cm"
where = { above_bottom = ["1 m", "3 m"] }
share = 1.0
[candidates]
elements = ["high-pencil", "high-cone"]
pairs = false
"""
ASK = ["--species", "perch, 30 cm", "--elements", "high-pencil"]


@dataclass(frozen=True)
class Case:
    """A command in two versions, A and B; into: the option or place of its results; again: how B is resumed."""

    first: list[str]
    second: list[str]
    again: tuple[str, ...] = ()
    into: str = "--out"


CASES: Mapping[str, Case] = {
    "ask": Case(["ask", "swath", "--depth", "20 m", *ASK], ["ask", "swath", "--depth", "40 m", *ASK]),
    "sweep": Case(["sweep", "sweep.toml", "--threads", "1"], ["sweep", "sweep.toml", "--threads", "1", "--seed", "5"]),
    "export": Case(["export", "a.h5"], ["export", "b.h5"]),
    "examples": Case(["examples"], ["examples"], into=""),
    "validate": Case(["validate", "--quick"], ["validate", "--quick"]),
    "passes": Case(
        ["run", "lake.toml", "--passes", "2"], ["run", "lake.toml", "--passes", "12", "--seed", "5"], ("--resume",)
    ),
    "claims": Case(["claims", "claims.toml", "--plain"], ["claims", "claims.toml", "--plain", "--seed", "5"]),
    "match": Case(["match", "trip.toml", "--plain"], ["match", "trip.toml", "--plain", "--seed", "6"]),
}


def line(case: Case, words: list[str], out: Path) -> list[str]:
    """Return a whole command line with its results in `out`."""
    target = out / "e.nc" if words[0] == "export" else out
    option = [case.into] if case.into else []
    return [sys.executable, "-m", "pingwright", *words, *option, str(target), "--quiet"]


def run(arguments: list[str], folder: Path, stop: tuple[float, signal.Signals] | None = None) -> tuple[int, str]:
    """Run a command, stopped after a time [s] by a signal; return its status and what it said."""
    environment = os.environ | {"PYTHONPATH": str(ROOT / "simulator")}
    process = subprocess.Popen(
        arguments, cwd=folder, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
    )
    if stop is not None:
        try:
            process.wait(stop[0])
        except subprocess.TimeoutExpired:
            process.send_signal(stop[1])
    return process.wait(600), process.stderr.read() if process.stderr else ""


def standing(folder: Path) -> dict[str, bytes]:
    """Return the results in a folder, by name."""
    paths = (path for path in folder.rglob("*") if path.is_file() and not path.name.startswith(".pingwright"))
    return {str(path.relative_to(folder)): path.read_bytes() for path in paths}


def judged(
    status: int, said: str, how: signal.Signals, now: dict[str, bytes], old: tuple[dict[str, bytes], ...]
) -> str:
    """Return what is wrong after a stop, nothing where all is well; old: the sets whose files may stand there."""
    if status == -how and "importlib" in said:
        return ""
    if "Traceback" in said or "internal error" in said:
        return f"status {status}: {said[-300:]}"
    if status not in {0, 3, -how} or (status == 3 and len(said.strip().splitlines()) != 1):
        return f"status {status}: {said[-300:]}"
    odd = [name for name, content in now.items() if content not in [one.get(name) for one in old]]
    return f"neither old nor new: {odd}" if odd else ""


def tried(name: str, case: Case, folder: Path, stops: int, dice: random.Random) -> tuple[list[str], dict[str, int]]:
    """Stop one command again and again; return what was wrong, and how often each status was seen."""
    out, plain = folder / f"{name}-out", folder / f"{name}-plain"
    for each in (out, plain):
        each.mkdir()
    begun = time.perf_counter()
    run(line(case, case.first, out), folder)
    first = standing(out)
    run(line(case, case.second, plain), folder)
    took, second = (time.perf_counter() - begun) / 2, standing(plain)
    if case.first == case.second:
        shutil.rmtree(out)
        out.mkdir()
    wrong, seen = [], dict[str, int]()
    for number in range(stops):
        if standing(out) == second != first:  # B is done: done again it would end at once, so A is put back
            for path in out.rglob("*"):
                if path.is_file():
                    path.unlink()
            for item, content in first.items():
                (out / item).write_bytes(content)
        how = SIGNALS[number % len(SIGNALS)]
        status, said = run(line(case, case.second, out), folder, (dice.uniform(0.1, 1.05) * took, how))
        fault = judged(status, said, how, standing(out), (first, second))
        seen[f"{how.name} {status}"] = seen.get(f"{how.name} {status}", 0) + 1
        wrong += [f"{name} {number} {how.name}: {fault}"] if fault else []
    status, said = run([*line(case, case.second, out), *case.again], folder)
    left = [path.name for path in out.rglob(f"{files.PART}*")]
    if status != 0 or standing(out) != second or left:
        wrong.append(f"{name}: the last run, undisturbed: status {status} {said[-300:]} {left}")
    return wrong, seen


def main() -> int:
    """Report."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--stops", type=int, default=12)
    parser.add_argument("--only", default=",".join(CASES))
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell's background work ignores it
    dice, failures = random.Random(asked.seed), list[str]()
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        (folder / "lake.toml").write_text(LAKE.replace("pings = 40", "pings = 12"))
        for file, text in (("sweep", SWEEP), ("claims", CLAIMS), ("trip", TRIP)):
            (folder / f"{file}.toml").write_text(text)
        for name, seed in (("a", "1"), ("b", "2")) if "export" in asked.only else ():
            words = ["run", "lake.toml", "--seed", seed, "--no-pictures", "--out", str(folder / name), "--quiet"]
            run([sys.executable, "-m", "pingwright", *words], folder)
            (folder / name / "echograms.h5").replace(folder / f"{name}.h5")
        for name in asked.only.split(","):
            wrong, seen = tried(name, CASES[name], folder, asked.stops, dice)
            print(f"{name:9} {asked.stops} stops: {seen}; {len(wrong)} failures", flush=True)
            print("\n".join(wrong), end="\n" if wrong else "", flush=True)
            failures += wrong
    return 1 if failures else 0


if __name__ == "__main__":
    raise SystemExit(main())
