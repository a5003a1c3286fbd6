"""CPU time of a sweep of small scenes: python benchmarks/sweeps.py [--scenes 40] [--pings 4] [--profile].

With `--teams local:1,local:2` the same scenes by workers of Dask instead: time on the clock (an idle machine!) of each
team, start-up included, and how many times faster the last is than the first. The tables must be equal.

The scenes are those that a table of a course or a paper would hold: two elements, some fish, 40 pings over nine metres
of fresh water, depth varied. The first scene compiles and is not counted. CPU time of this process, so that
other programs disturb it little; wall time of several processes is for an idle machine.
"""

import argparse
import cProfile
import pstats
import sys
import tempfile
import time
import warnings
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from pingwright.sweeps.plan import Plan  # noqa: E402
from pingwright.sweeps.scene import Job, work  # noqa: E402
from tiny_scenarios import LAKE  # noqa: E402


def jobs(scenes: int, pings: int) -> list[Job]:
    """Return the scenes of a sweep over depth."""
    depths = [f"{5 + 0.02 * k:.2f} m" for k in range(scenes + 1)]
    plan = Plan("Depth", LAKE.replace("pings = 40", f"pings = {pings}"), {}, {"seabed.depth": depths}, seeds=(3,))
    return [Job(plan.text, (), scene) for scene in plan.scenes()]


def by_teams(scenes: int, pings: int, teams: list[str]) -> None:
    """Measure whole sweeps by teams of workers and print."""
    from pingwright.sweeps import pipeline

    depths = [f"{5 + 0.002 * k:.3f} m" for k in range(scenes)]
    plan = Plan("Depth", LAKE.replace("pings = 40", f"pings = {pings}"), {}, {"seabed.depth": depths}, seeds=(3,))
    took, tables = [], set()
    for team in teams:
        with tempfile.TemporaryDirectory() as scratch:
            begin = time.perf_counter()
            results = pipeline.run(plan, Path(scratch) / "out", cluster=team, pictures=False)
            took.append(time.perf_counter() - begin)
            tables.add((results.folder / "sweep.csv").read_bytes())
        print(f"{scenes} scenes on {team}: {took[-1]:.1f} s", flush=True)
    print(f"{took[0] / took[-1]:.2f} times as fast; tables {'equal' if len(tables) == 1 else 'DIFFER'}")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--scenes", type=int, default=40)
    parser.add_argument("--pings", type=int, default=40)
    parser.add_argument("--profile", action="store_true")
    parser.add_argument("--teams", default="")
    asked = parser.parse_args()
    warnings.simplefilter("ignore")
    if asked.teams:
        by_teams(asked.scenes, asked.pings, asked.teams.split(","))
        return
    first, *rest = jobs(asked.scenes, asked.pings)
    assert work(first)["elements"]
    profile = cProfile.Profile()
    begin = time.process_time()
    if asked.profile:
        profile.enable()
    for job in rest:
        assert work(job)["elements"]
    profile.disable()
    spent = time.process_time() - begin
    print(f"{len(rest)} scenes: {spent:.2f} CPU s, {spent / len(rest):.3f} CPU s a scene")
    if asked.profile:
        pstats.Stats(profile).sort_stats("cumulative").print_stats(60)


if __name__ == "__main__":
    main()
