"""Where the time of a run goes, by stage, one thread: world, geometry, hiding, spreading, FFT, noise, packing, writing.

    python benchmarks/stages.py [scenarios/01_wreck_on_gravel.toml] [--keep-phase] [--json FILE]

An unmeasured run comes first, so that compiled code is at hand. Stages are timed by wrapping the functions that do
them; a stage inside another one counts for the inner one only. Then the whole command is run as a user would, and one
ping is simulated and stored by a process of its own, beside an interpreter that imports numba and scipy.fft only.
"""

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from contextlib import ExitStack
from functools import wraps
from pathlib import Path
from unittest import mock

import scipy.fft
from pingwright import recording
from pingwright.echograms import file
from pingwright.engine import geometry, jobs, receiver, scattering_layers
from pingwright.engine import simulate as engine
from pingwright.engine.kernels import hiding, noise
from pingwright.engine.kernels import spread as kernels
from pingwright.run import pipeline

#: What does each stage: (stage, module or class, name of the function).
STAGES = (
    ("world", recording, "prepare"),
    ("world", geometry.Tiles, "get"),
    ("tables", engine, "prepare"),
    ("geometry", jobs._Scene, "__init__"),
    ("geometry", jobs._Scene, "sets"),
    ("geometry", geometry, "pose"),
    ("hiding", hiding, "hide"),
    ("hiding", hiding, "dim"),
    ("scattering_layer", scattering_layers.Cells, "add"),
    ("filter", receiver, "filtered"),
    ("FFT", scipy.fft, "fft"),
    ("FFT", scipy.fft, "ifft"),
    ("noise", noise, "add_noise"),
    ("packing", noise, "pack"),
    ("writing", file.Writer, "write"),
    ("writing", file.Writer, "__exit__"),
)


class Clock:
    """Time by stage [s]: an inner stage's time is taken off the outer one's."""

    def __init__(self):
        self.spent, self.running, self.since = Counter(), ["rest"], time.perf_counter()

    def turn(self):
        now = time.perf_counter()
        self.spent[self.running[-1]] += now - self.since
        self.since = now

    def timed(self, stage, function):
        @wraps(function)
        def measured(*arguments, **named):
            self.turn()
            self.running.append(stage)
            try:
                return function(*arguments, **named)
            finally:
                self.turn()
                self.running.pop()

        return measured


def simulated(path, folder, keep_phase):
    prepared = recording.prepare(pipeline.load(path))
    pipeline.simulate_to(folder / "echograms.h5", prepared, threads=1, keep_phase=keep_phase)


def stages(path, keep_phase):
    """Return the seconds of each stage of preparing, simulating and writing a scenario."""
    with tempfile.TemporaryDirectory() as name, ExitStack() as stack:
        simulated(path, Path(name), keep_phase)
        clock = Clock()
        for stage, place, function in STAGES:
            stack.enter_context(mock.patch.object(place, function, clock.timed(stage, getattr(place, function))))
        plain = kernels.spreader
        stack.enter_context(mock.patch.object(kernels, "spreader", lambda *a: clock.timed("spreading", plain(*a))))
        clock.since = time.perf_counter()
        simulated(path, Path(name), keep_phase)
        clock.turn()
    return dict(clock.spent)


def command(path, folder):
    """Return the seconds of `pingwright run` as its own process."""
    start = time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", "pingwright", "run", str(path), "--out", str(folder)], check=True, capture_output=True
    )
    return time.perf_counter() - start


ONE_PING = """
title = "one ping"
[water]
temperature = "11 degC"
salinity = 34.5
[boat]
speed = 0
pings = 1
[window]
depth = ["0 m", "70 m"]
[[element]]
name = "high"
use = "high-pencil"
[seabed]
depth = "58 m"
[[seabed.layer]]
sediment = "gravel"
"""
SIMULATE = """
import sys
from pathlib import Path
from pingwright import recording
from pingwright.run import pipeline
prepared = recording.prepare(pipeline.load(Path(sys.argv[1])))
pipeline.simulate_to(Path(sys.argv[1]).with_suffix(".h5"), prepared)
"""


def process(code, *arguments):
    """Return the seconds of a fresh interpreter that runs some code."""
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", code, *arguments], check=True)
    return time.perf_counter() - start


def one_ping(folder, repeats):
    """Return times of simulating and storing one ping, warm, and of importing numba and scipy.fft, in turn."""
    path = folder / "one.toml"
    path.write_text(ONE_PING)
    process(SIMULATE, str(path))
    return [(process(SIMULATE, str(path)), process("import numba, scipy.fft")) for _ in range(repeats)]


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("scenario", type=Path, nargs="?", default=Path("scenarios/01_wreck_on_gravel.toml"))
    asked.add_argument("--keep-phase", action="store_true")
    asked.add_argument("--repeats", type=int, default=3)
    asked.add_argument("--json", type=Path)
    options = asked.parse_args()
    spent = stages(options.scenario, options.keep_phase)
    total = sum(spent.values())
    for stage, seconds in sorted(spent.items(), key=lambda item: -item[1]):
        print(f"{stage:24s} {seconds:7.3f} s {100 * seconds / total:5.1f} %")
    with tempfile.TemporaryDirectory() as name:
        whole = [command(options.scenario, Path(name) / "out") for _ in range(options.repeats)]
        single = one_ping(Path(name), options.repeats)
    print(f"whole command, {os.cpu_count()} cores, warm: {statistics.median(whole):.2f} s")
    ratio = statistics.median(a / b for a, b in single)
    print(f"one ping simulated and stored, warm, / interpreter with numba and scipy.fft: {ratio:.2f}")
    if options.json:
        options.json.write_text(
            json.dumps({"stages": spent, "command": whole, "one ping / imports": ratio}, indent=1) + "\n"
        )


if __name__ == "__main__":
    main()
