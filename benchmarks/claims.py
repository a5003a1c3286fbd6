"""Seconds of a file of claims, or of its closed forms: CPU s and wall s a claim and in all, with verdicts.

python benchmarks/claims.py [FILE] [--quick] [--plain] [--threads N]; FILE: scenarios/claims-trade.toml if left out.
Fourteen claims over passes with what they depend on took 240 CPU s on cores shared with other work; with every variant
on grounds of its own and all pings of passes looked at, a claim near the bottom alone took 34 to 55.
"""

import argparse
import time
from dataclasses import replace
from pathlib import Path

from pingwright.claims import answers, depends
from pingwright.claims.questions import questions
from pingwright.inputs import claims
from pingwright.trials.batch import Settings
from pingwright.trials.ground import Bank

TRADE = Path(__file__).resolve().parents[1] / "scenarios" / "claims-trade.toml"


def main() -> None:
    """Ask every claim and print what it took."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", nargs="?", type=Path, default=TRADE)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--plain", action="store_true")
    parser.add_argument("--threads", type=int)
    asked = parser.parse_args()
    file, bank = claims.load(asked.file), Bank(asked.threads)
    settings = Settings(int(file.runs), float(file.confidence), int(file.seed), asked.threads, held=bank)
    cpu, wall = time.process_time(), time.perf_counter()
    for number, question in enumerate(questions(file), 1):
        start, begun = time.process_time(), time.perf_counter()
        found = answers.answer(question, settings, quick=asked.quick)
        if not (asked.quick or asked.plain) and found.verdict is not None:
            found = replace(found, depends_on=depends.depends_on(question, found, settings))
        took = f"{time.process_time() - start:6.1f} CPU s {time.perf_counter() - begun:6.1f} s"
        print(f"{number:3} {took}  {found.verdict}: {found.value} ({found.low} to {found.high}), {found.depends_on}")
    print(f"all {time.process_time() - cpu:6.1f} CPU s {time.perf_counter() - wall:6.1f} s")


if __name__ == "__main__":
    main()
