"""Seconds of a trip on its whole catalogue: CPU s and wall s, of closed forms, of passes, and of what it depends on.

python benchmarks/match.py [FILE] [--quick] [--threads N]; FILE: scenarios/trip-wreck.toml if left out.
"""

import argparse
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from pingwright.inputs import trip as inputs
from pingwright.match import depends, pipeline, reasons

WRECK = Path(__file__).resolve().parents[1] / "scenarios" / "trip-wreck.toml"


def timed(name: str, function: Callable[[], Any]) -> Any:
    """Return what a function returns, and print its seconds."""
    cpu, wall = time.process_time(), time.perf_counter()
    found = function()
    print(f"{name:12} {time.process_time() - cpu:6.1f} CPU s {time.perf_counter() - wall:6.1f} s")
    return found


def main() -> None:
    """Judge a trip and print what it took."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", nargs="?", type=Path, default=WRECK)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--threads", type=int)
    asked = parser.parse_args()
    trip = inputs.load(asked.file)
    match = timed("closed forms", lambda: pipeline.judge(trip, quick=True, threads=asked.threads))
    if not asked.quick:
        match = timed("passes", lambda: pipeline.judge(trip, threads=asked.threads))
        rest = (trip, match.hits, match.ranked, match.weights, asked.threads)
        print(timed("depends on", lambda: depends.depends_on(*rest)))
    for ranked in match.ranked[:5]:
        name = reasons.name_of(match.hits, ranked.members)
        print(f"{ranked.score:.3f} ({ranked.low:.3f} to {ranked.high:.3f}) {name}")


if __name__ == "__main__":
    main()
