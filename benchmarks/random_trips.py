"""Closed forms against passes over random trips: how far shares of fish differ, and whether the order is the same.

    python benchmarks/random_trips.py --count 60 --passes 16 [--kept FILE] [--ground wreck]

Each trip has one depth, one kind of fish, one speed and the whole catalogue; over a ground that is not bare (wreck,
reef, ledge) fish near the bottom, beside what stands there, of random size. The shares seen in passes are kept in FILE
(JSON), so that other formulas can be compared with them in seconds. Printed: median and 95 % of the differences of
both shares (detected, separated), those beyond chance, and in how many trips the first three by formulas are not
contradicted by the passes. Nothing is judged.
"""

import argparse
import json
import re
from pathlib import Path

import numpy as np
from pingwright.inputs import trip as inputs
from pingwright.inputs.typed import Typed, trip_file
from pingwright.match import simulated, trials
from pingwright.measure.intervals import clopper_pearson

ELEMENTS = (
    "high-pencil", "high-cone", "medium-pencil", "medium-fan", "low-pencil", "low-pencil-large", "tone-200", "tone-50",
)  # fmt: skip
PLACES = ("tight to the bottom", "near the bottom", "mid-water", "top {top} m")
GROUNDS = ("bare", "wreck", "reef", "ledge")
SHARES = ("detected", "separated")
SEDIMENTS = ("rock", "gravel", "medium sand", "mud")


def trip(number: int):
    """Return a random trip and its words."""
    rng = np.random.default_rng([7, number])
    depth = float(np.exp(rng.uniform(np.log(8.0), np.log(150.0))))
    place = str(rng.choice(PLACES)).format(top=max(round(0.4 * depth), 3))
    typed = Typed(
        f"{depth:.0f} m", (f"fish, {rng.integers(12, 70)} cm, {place}",), f"{rng.integers(2, 9)} kn",
        str(rng.choice(SEDIMENTS)), wind=f"{rng.integers(0, 16)} kn", roll=str(rng.choice(["", "", "8 deg"])),
    )  # fmt: skip
    text = trip_file(typed).replace('elements = "all"\npairs = true', f"elements = {list(ELEMENTS)!r}\npairs = false")
    return inputs.parse(f"seed = {number}\n{text}", "random.toml"), typed


def beside(ground: str, number: int):
    """Return a random trip with a wreck, a reef or a ledge of random size, fish beside it, and its words."""
    rng = np.random.default_rng([9, GROUNDS.index(ground), number])
    depth, low = float(np.exp(rng.uniform(np.log(12.0), np.log(120.0)))), float(rng.uniform(0.1, 1.5))
    sides = {"length": rng.uniform(8, 40), "width": rng.uniform(4, 15), "height": rng.uniform(1, 6)}
    typed = Typed(
        f"{depth:.0f} m", (f"fish, {rng.integers(20, 70)} cm, near the bottom",), f"{rng.integers(2, 7)} kn",
        str(rng.choice(SEDIMENTS)), ground, wind="8 kn",
    )  # fmt: skip
    far = rng.uniform(3.0, 6.0)
    if ground == "ledge":
        size = f'height = "{sides["height"]:.1f} m", beside = "{far - 2.5:.1f} m"'
    else:
        size = "".join(f'{k} = "{v:.1f} m", ' for k, v in sides.items()) + f'beside = ["0.5 m", "{far:.1f} m"]'
    text = trip_file(typed).replace('elements = "all"\npairs = true', f"elements = {list(ELEMENTS)!r}\npairs = false")
    text = text.replace(f'ground = "{ground}"', f"{ground} = {{ {size} }}")
    text = re.sub(r"where = .*", f'where = {{ above_bottom = ["{low:.2f} m", "{low + 0.5:.2f} m"] }}', text)
    return inputs.parse(f"seed = {number}\n{text}", "random.toml"), typed


def seen_in_passes(number: int, day, passes: int, kept: Path | None):
    """Return the shares of fish detected and separated (share, element) in passes, simulated or from a file."""
    known = json.loads(kept.read_text()) if kept and kept.exists() else {}
    key = f"{number} {passes}"
    if key not in known:
        hits = trials.run(day, threads=1, runs=passes)
        known[key] = [getattr(hits, name).mean(axis=(1, 2, 3)).tolist() for name in SHARES]
        if kept:
            kept.write_text(json.dumps(known))
    return np.array(known[key])


def contradicted(closed, seen, passes: int) -> bool:
    """Return whether passes put one of the first three by formulas behind another beyond chance."""
    order = np.argsort(-closed, kind="stable")
    for place, one in enumerate(order[:3]):
        for other in order[place + 1 :]:
            apart = np.sqrt((seen[one] * (1 - seen[one]) + seen[other] * (1 - seen[other])) / passes + 1e-4)
            if seen[other] - seen[one] > 2.6 * apart:
                return True
    return False


def main() -> None:
    """Compare and print."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--count", type=int, default=60)
    options.add_argument("--first", type=int, default=0)
    options.add_argument("--passes", type=int, default=16)
    options.add_argument("--kept", type=Path)
    options.add_argument("--ground", choices=GROUNDS, default="bare")
    given = options.parse_args()
    simulated.SWATH_RUNS, simulated.BLANKS = 1, 1  # not looked at here
    differences, beyond, turned = [], 0, 0
    for number in range(given.first, given.first + given.count):
        day, typed = trip(number) if given.ground == "bare" else beside(given.ground, number)
        closed = trials.run(day, threads=1, quick=True, runs=given.passes)
        pairs = []
        for name, passes in zip(SHARES, seen_in_passes(number, day, given.passes, given.kept), strict=True):
            formula = getattr(closed, name).mean(axis=(1, 2, 3))
            spans = [clopper_pearson(round(share * given.passes), given.passes) for share in passes]
            beyond += sum(not low <= one <= high for one, (low, high) in zip(formula, spans, strict=True))
            pairs.append((formula, passes))
        turned += contradicted(*pairs[1], given.passes)
        off = np.abs([formula - passes for formula, passes in pairs])
        differences += list(off.ravel())
        worst = np.unravel_index(np.argmax(off), off.shape)
        formula, passes = (side[worst[1]] for side in pairs[worst[0]])
        print(
            f"{number}: {typed.depth}, {typed.species[0]}, {typed.speed}, {typed.bottom}, wind {typed.wind},"
            f" roll {typed.roll or 'none'}: worst {off[worst]:.2f}, {SHARES[worst[0]]} by"
            f" {ELEMENTS[worst[1]]}: formula {formula:.2f}, passes {passes:.2f}",
            flush=True,
        )
    of = len(differences)
    print(f"differences of {of}: median {np.median(differences):.3f}, 95 % {np.quantile(differences, 0.95):.3f}")
    print(f"formula outside the 95 % interval of the passes: {beyond} of {of}; order contradicted in {turned} trips")


if __name__ == "__main__":
    main()
