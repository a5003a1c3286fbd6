"""Compute one small scene for other processors' instruction sets and compare every array with this processor's own.

    python benchmarks/sameness.py [--targets generic,haswell] [--other PYTHON ...]

Each target runs in a process and a compiler's cache of its own (NUMBA_CPU_NAME, NUMBA_CPU_FEATURES, NUMBA_CACHE_DIR).
--other: Pythons of environments with other versions of the libraries, run for this processor. Compared, for each
element: the complex envelope of every ping, as the largest difference over the ping's peak (allowed: 1e-6), and the
stored levels in steps (allowed: 1) where they stand within 60 dB of the ping's peak; below that a millionth of the
peak is more than a step. Beside them the share of levels that differ there. Exit status 1 where more differs.
"""

import argparse
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
ALLOWED, STEPS, STRONG = 1e-6, 1, 1e-3

MAKE = """
import sys
import numpy as np
sys.path.insert(0, "tests")
from tiny_scenarios import LAKE
from pingwright.engine.simulate import simulate
from pingwright.inputs import scenario
from pingwright.recording import prepare
prepared = prepare(scenario.parse(LAKE, "lake.toml", {}))
found = {}
for chunk in simulate(prepared.world, prepared.elements, prepared.settings, threads=1, keep_phase=True):
    found[f"{chunk.element}-{chunk.first_ping:04}-level"] = chunk.level
    found[f"{chunk.element}-{chunk.first_ping:04}-echo"] = chunk.echo
np.savez(sys.argv[1], **found)
import numba, scipy
print(f"numpy {np.__version__}, scipy {scipy.__version__}, numba {numba.__version__}")
"""


def made(python: str, target: str, folder: Path, number: int) -> tuple[dict[str, np.ndarray], str]:
    """Return the arrays of the scene for a target ("host": this processor), and the versions they were made with."""
    path = folder / f"{number}.npz"
    setting = {
        "PYTHONPATH": str(ROOT / "simulator"),
        "NUMBA_CACHE_DIR": str(folder / f"cache{number}"),
        "NUMBA_CPU_FEATURES": "",
    }
    if target != "host":
        setting["NUMBA_CPU_NAME"] = target
    else:
        del setting["NUMBA_CPU_FEATURES"]
    done = subprocess.run(
        [python, "-c", MAKE, str(path)], cwd=ROOT, env=os.environ | setting, check=True, capture_output=True, text=True
    )
    with np.load(path) as kept:
        return {name: kept[name] for name in kept.files}, done.stdout.strip()


def compared(host: dict[str, np.ndarray], other: dict[str, np.ndarray]) -> tuple[float, int, float, str]:
    """Return the largest difference over the ping's peak; of strong levels, the largest in steps and the share that
    differs; and in words the largest of the weak ones."""
    assert host.keys() == other.keys()
    apart, steps, unequal, count, weak, words = 0.0, 0, 0, 0, 0, ""
    for name in (name for name in host if name.endswith("echo")):
        a, b = host[name].astype(np.complex128), other[name].astype(np.complex128)
        peak = np.abs(a).max(axis=-1, keepdims=True)
        apart = max(apart, float((np.abs(a - b) / np.where(peak > 0, peak, 1.0)).max()))
        level, changed = (each[name.replace("echo", "level")].astype(np.int64) for each in (host, other))
        strong, difference = np.abs(a) > STRONG * peak, np.abs(level - changed)
        steps = max(steps, int(difference[strong].max(initial=0)))
        unequal, count = unequal + np.count_nonzero(difference[strong]), count + np.count_nonzero(strong)
        at = np.unravel_index(np.argmax(np.where(strong, 0, difference)), level.shape)
        if difference[at] > weak:
            ratio = np.abs(a[at]) / peak[at[0], 0]
            weak, words = (
                int(difference[at]),
                f"weak ones: {difference[at]} steps at {ratio:.1e} of the peak, {level[at]}",
            )
    return apart, steps, unequal / max(count, 1), words


def main() -> int:
    """Report."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--targets", default="generic,haswell")
    parser.add_argument("--other", nargs="*", default=[])
    asked = parser.parse_args()
    good = True
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        host, versions = made(sys.executable, "host", folder, 0)
        print(f"host: {len(host)} arrays, {sum(array.size for array in host.values())} numbers; {versions}", flush=True)
        others = [(sys.executable, name) for name in asked.targets.split(",") if name] + [
            (name, "host") for name in asked.other
        ]
        for number, (python, target) in enumerate(others, 1):
            found, versions = made(python, target, folder, number)
            apart, steps, share, weak = compared(host, found)
            good &= apart <= ALLOWED and steps <= STEPS
            print(
                f"{target}: {apart:.2e} of the ping's peak, {steps} step, {share:.2e} of the strong levels; "
                f"{weak}; {versions}",
                flush=True,
            )
    return 0 if good else 1


if __name__ == "__main__":
    raise SystemExit(main())
