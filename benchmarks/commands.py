"""What a user waits for: a whole run by ping over its floor, a small run, a dragged fish, a changed depth.

    python benchmarks/commands.py [slope] [small] [bench]       (all three where none is named; about a minute)

slope: the whole command `run` at two lengths of the track, a fresh process each, two elements of different bands over
75 m of sand, window 150 m; what a ping adds is divided by what the IFFTs and normals of as many stored samples take
(the floor of `engine.py`), measured in between. small: processor seconds of one scene of 20 m, 37 pings and one
element, with pictures and without, the second time. bench: three elements over the demo's kept ground: levels in memory
for a dragged fish, and the whole answer (levels, marks, the page's data) for a dragged fish and for a changed depth;
median of 3, wall and processor seconds.
"""

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from engine import floor
from pingwright.bench import view
from pingwright.bench.grounds import Grounds
from pingwright.bench.tables import Tables
from pingwright.echograms.reading import read
from pingwright.measure.assess import assess

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "scenarios" / "01_wreck_on_gravel.toml"
SCENE = """
title = "Fish over sand"
[water]
temperature = "11 degC"
salinity = 34.5
[boat]
length = "{length} m"
[seabed]
depth = "{depth} m"
[[seabed.layer]]
sediment = "medium sand"
[[fish]]
name = "fish"
swimbladder = "closed"
length = "40 cm"
count = 3
where = {{ x = ["-2 m", "2 m"], y = ["-1 m", "1 m"], above_bottom = "1 m" }}
"""
FAR = '[window]\ndepth = ["0 m", "150 m"]\n'
HIGH, MEDIUM = (f'[[element]]\nname = "{name}"\nuse = "{name}-pencil"\n' for name in ("high", "medium"))


def run(text: str, *options: str) -> tuple[float, float, Path]:
    """Return wall and processor seconds of the command `run` of a scenario, and its folder."""
    folder = Path(tempfile.mkdtemp())
    (folder / "scene.toml").write_text(text)
    program = [sys.executable, "-m", "pingwright", "run", str(folder / "scene.toml"), "--out", str(folder / "out")]
    began, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    environment = os.environ | {"PYTHONPATH": str(ROOT / "simulator")}
    subprocess.run([*program, "--quiet", *options], check=True, env=environment, stdout=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return time.perf_counter() - began, spent, folder / "out"


def slope() -> None:
    """Print what a ping adds to a whole run, over the floor, by wall and by processor seconds."""
    points = []
    for length in (100, 400):
        wall, spent, out = run(SCENE.format(length=length, depth=75) + FAR + HIGH + MEDIUM)
        shapes = [element.echo_level.shape for element in read(out / "echograms.h5").elements]
        base, used = time.perf_counter(), time.process_time()
        for pings, samples in shapes:
            floor(2 * (samples // 2), pings, os.cpu_count() or 1)
        base, used = time.perf_counter() - base, time.process_time() - used
        points.append(np.array([shapes[0][0], wall, spent, base, used]))
    pings, *added = points[1] - points[0]
    wall, spent, base, used = (1e3 * a / pings for a in added)
    print(f"a ping more, of {pings:.0f}: {wall:.2f} ms / floor {base:.2f} ms = {wall / base:.1f};", end=" ")
    print(f"{spent:.2f} CPU ms / floor {used:.2f} = {spent / used:.1f}", flush=True)


def small() -> None:
    """Print the processor seconds of a small scene by command."""
    text = SCENE.format(length=30, depth=20) + HIGH
    run(text)
    for name, options in (("with pictures", ()), ("without", ("--no-pictures",))):
        runs = [run(text, *options)[:2] for _ in range(3)]
        wall, spent = (statistics.median(column) for column in zip(*runs, strict=True))
        print(f"a small scene {name}: {spent:.2f} CPU s, {wall:.2f} s", flush=True)


def bench() -> None:
    """Print how long the bench works on a dragged fish, and on a changed depth."""
    tables, grounds = Tables(DEMO.read_text(), {}), Grounds()

    def changed(number: int, key: str) -> dict[str, object]:
        made = {name: value for name, value in tables.data.items()}
        if key == "fish":
            first = dict(made["fish"][0])
            first["where"] = dict(first["where"]) | {"above_bottom": f"{0.3 + 0.1 * number:.1f} m"}
            made["fish"] = [first, *made["fish"][1:]]
        else:
            made["seabed"] = dict(made["seabed"]) | {"depth": f"{58 + number} m"}
        return made

    for key in ("fish", "depth"):
        rows = []
        for number in range(4):
            data, marks = changed(number, key), [(time.perf_counter(), time.process_time())]
            record = grounds.record(data, {})
            marks.append((time.perf_counter(), time.process_time()))
            view.shown(record, assess(record, threads=os.cpu_count() or 1), "m")
            marks.append((time.perf_counter(), time.process_time()))
            rows.append(np.diff(np.array(marks), axis=0).ravel())
        wall, spent, more, used = np.median(rows[1:], axis=0)
        print(f"{key} changed: levels {1e3 * wall:.0f} ms ({1e3 * spent:.0f} CPU ms),", end=" ")
        print(f"whole {1e3 * (wall + more):.0f} ms ({1e3 * (spent + used):.0f} CPU ms)", flush=True)


if __name__ == "__main__":
    for part in (slope, small, bench):
        if len(sys.argv) == 1 or part.__name__ in sys.argv[1:]:
            part()
    print("load of this machine:", " ".join(f"{load:.1f}" for load in os.getloadavg()), "on", os.cpu_count(), "cores")
