"""Run small scenes of every kind once with every index into an array checked, in the kernels too.

    python benchmarks/bounds.py [--pings 2] [--scenes 07,08,09]

The kernels are compiled anew with NUMBA_BOUNDSCHECK=1 into a cache of their own, and the spreading kernel, which reads
its tables by address, in its checked form. Scenes: the one of fuzz_kinds.py that holds every table, and the gallery.
An index out of bounds ends in an IndexError, which is shown. Exit status 1 on any.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def run_all(pings: int, chosen: str) -> int:
    """Simulate and measure each scene; return the number that failed."""
    import warnings
    from functools import partial

    import fuzz_kinds
    from pingwright.engine.kernels import spread
    from pingwright.inputs import scenario
    from pingwright.measure.assess import assess
    from pingwright.recording import in_memory, prepare

    warnings.simplefilter("ignore")
    spread.spreader = partial(spread.spreader, checked=True)
    scenes = {}
    if not chosen:
        scenes["every table"] = fuzz_kinds.rich()
        scenes["every table, hearing each other"] = scenario.changed(fuzz_kinds.rich(), {"boat.crosstalk": True})
    for path in sorted((ROOT / "scenarios").glob("0*.toml")):
        if not chosen or path.name[:2] in chosen.split(","):
            scenes[path.name] = scenario.load(path)
    wrong = 0
    for name, scene in scenes.items():
        begun = time.perf_counter()
        try:
            assess(in_memory(prepare(scenario.changed(scene, {"boat.pings": pings, "passes": None})), threads=1))
            outcome = "no index out of bounds"
        except Exception as error:  # noqa: BLE001 (whatever is wrong is what is looked for)
            outcome, wrong = f"{type(error).__name__}: {error}", wrong + 1
        print(f"{name}: {outcome}; {time.perf_counter() - begun:.0f} s", flush=True)
    return wrong


def main() -> int:
    """Report, in a process of its own that compiles with checks."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pings", type=int, default=2)
    parser.add_argument("--scenes", default="", help="first two letters of the gallery's files (default: all scenes)")
    parser.add_argument("--here", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.here:
        return 1 if run_all(asked.pings, asked.scenes) else 0
    with tempfile.TemporaryDirectory() as cache:
        paths = os.pathsep.join([str(ROOT / "simulator"), str(ROOT / "benchmarks")])
        settings = {"NUMBA_BOUNDSCHECK": "1", "NUMBA_CACHE_DIR": cache, "PYTHONPATH": paths}
        command = [sys.executable, __file__, "--here", "--pings", str(asked.pings), "--scenes", asked.scenes]
        return subprocess.run(command, env=os.environ | settings, check=False).returncode


if __name__ == "__main__":
    raise SystemExit(main())
