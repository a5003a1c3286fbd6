"""Give mutated files and words to the commands as a user would, and run those that pass, shortened to two pings.

    python benchmarks/fuzz_command.py [--count 200] [--tiny 40] [--seed 1]

Three in four are files for `check`; the others are words for `ask --quick` and `match --quick`, files for `export`,
`draw` and `recall`, and settings for `run --set` (which must be refused, or end in a file of echograms of two pings).
Expected of every command: exit status 0, 2 or 3, no traceback, a message that names the file, 10 s and 2 GiB at most.
Expected of every tiny run: results, or an error that is meant for users. Exit status 1 on any failure.
"""

import argparse
import os
import random
import resource
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

import fuzz_inputs as fuzz
import fuzz_kinds
import fuzz_tiny

SLOWEST_S = 10.0  # of the processor's time, so that other work on the machine fails nobody
LONGEST_S = 600.0  # on the clock
LIMIT_BYTES = 2 << 30


def files(folder: Path) -> dict[str, tuple[str, list[bytes]]]:
    """Return for each kind the file to mutate and its seeds; whatever it stands beside is written whole."""
    base = (fuzz.ROOT / "scenarios/01_wreck_on_gravel.toml").read_bytes()
    for name, content in {
        "wreck.toml": base,
        "files.toml": fuzz.WITH_FILES.encode(),
        "water.csv": fuzz.profile_csv(),
        "bottom.csv": fuzz.grid_csv(),
        "pattern.csv": fuzz.pattern_csv(),
        "thing.stl": fuzz.mesh_stl(),
    }.items():
        (folder / name).write_bytes(content)
    (folder / "link.csv").symlink_to("/etc/hostname")
    (folder / "out").symlink_to("/etc")
    os.mkfifo(folder / "pipe.csv")
    return {
        "scene.toml": ("scene.toml", fuzz.corpus()),
        "claims.toml": ("claims.toml", [fuzz.CLAIMS]),
        "trip.toml": ("trip.toml", [fuzz.TRIP]),
        "water.csv": ("files.toml", [fuzz.profile_csv()]),
        "bottom.csv": ("files.toml", [fuzz.grid_csv()]),
        "pattern.csv": ("files.toml", [fuzz.pattern_csv()]),
        "thing.stl": ("files.toml", [fuzz.mesh_stl(), fuzz.mesh_stl_bytes(), huge_stl()]),
        "files.toml": ("files.toml", [fuzz.WITH_FILES.encode()]),
        "sweep.toml": ("sweep.toml", [fuzz_kinds.SWEEP]),
        "echograms.h5": ("echograms.h5", fuzz.echograms()[1:]),
    }


#: Names that lead out of the folder, to a device, to nothing that ends, or to a file of another kind.
NAMES = [b"link.csv", b"out/hostname", b"pipe.csv", b"/dev/zero", b"../water.csv", b".", b"thing.stl", b"files.toml"]


def huge_stl() -> bytes:
    """Return a mesh of text that says 20 solids one inside the other, 2 MB long."""
    return fuzz.mesh_stl().replace(b"endsolid thing", b"solid thing\n" * 20 + fuzz.mesh_stl()[11:]) * 1000


def renamed(data: bytes, rng: random.Random) -> bytes:
    """Return a scenario in which one of the named files is another."""
    return data.replace(rng.choice([b"water.csv", b"bottom.csv", b"pattern.csv", b"thing.stl"]), rng.choice(NAMES))


def limited() -> None:
    """Give a child the memory and the processor's time a check may take; more address space than is used."""
    resource.setrlimit(resource.RLIMIT_AS, (4 * LIMIT_BYTES, 4 * LIMIT_BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (int(SLOWEST_S) + 1, int(SLOWEST_S) + 2))


def command(arguments: list[str], folder: Path) -> tuple[int, str, float]:
    """Return exit status, standard error and time [s, of the processor] of a command."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    environment = {**os.environ, "PYTHONPATH": str(fuzz.ROOT / "simulator")}
    try:
        done = subprocess.run(
            [sys.executable, "-m", "pingwright", *arguments],
            cwd=folder,
            env=environment,
            capture_output=True,
            timeout=LONGEST_S,
            check=False,
            preexec_fn=limited,  # noqa: PLW1509 (no thread runs here)
        )
    except subprocess.TimeoutExpired:
        return -1, "timed out", LONGEST_S
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return done.returncode, done.stderr.decode("utf-8", "replace"), spent


def picture() -> bytes:
    """Return a picture of ours that carries a scenario and its files."""
    from pingwright.figures import embed

    files = {"water.csv": fuzz.profile_csv(), "bottom.csv": fuzz.grid_csv()}
    return embed.into_svg(b"<svg></svg>", embed.packed(fuzz.WITH_FILES, 1, files), "t", "d")


def other(folder: Path, rng: random.Random) -> list[str]:
    """Return the arguments of another command than `check`, its words or the file that it reads mutated."""
    kind = rng.choice(["ask", "match", "export", "draw", "recall", "run"])
    seeds = {
        "ask": fuzz_kinds.ASK,
        "match": fuzz_kinds.TYPED,
        "export": fuzz.echograms()[1:],
        "draw": fuzz.echograms()[1:],
        "recall": [picture()],
        "run": [line for line in fuzz_kinds.SETTINGS.split(b"\n") if line],
    }[kind]
    seed = rng.choice(seeds)
    data = (
        fuzz.rebuild(seed, rng) if kind in {"export", "draw"} and rng.random() < 0.5 else fuzz.mutate(seed, seed, rng)
    )
    if kind in {"export", "draw", "recall"}:
        name = "picture.svg" if kind == "recall" else "echograms.h5"
        (folder / name).write_bytes(data)
        return [kind, name, "--out", "e.nc" if kind == "export" else "recalled"]
    lines = [line for line in data.decode("utf-8", "replace").replace("\x00", "").split("\n") if line]
    if kind == "run":
        setting = lines[0] if lines else "="
        return ["run", "rich.toml", f"--set={setting}", "--set", "boat.pings=2", "--no-pictures", "--out", "o"]
    if kind == "match":
        flags = ("--depth", "--species", "--speed", "--bottom", "--wind")
        both = [f"{flag}={line}" for flag, line in zip(flags, lines, strict=False)]
        one = ['--set=candidates.elements=["high-pencil"]', "--set=candidates.pairs=false"]
        return ["match", *both, "--quick", *one, "--out", "m"]
    return ["ask", *lines, "--quick"]


def tiny(path: Path, opened: str) -> str:
    """Run what a file asks for, tiny (fuzz_tiny.py)."""
    from pingwright.inputs import scenario

    if opened in {"claims.toml", "trip.toml"}:
        run = fuzz_tiny.claims if opened == "claims.toml" else fuzz_tiny.trip
        return run(path, path.parent / f"out-{opened}")
    return fuzz_tiny.scenario(scenario.load(path))


def judged(status: int, message: str, spent: float, name: str) -> list[str]:
    """Return what is wrong with one check."""
    wrong = []
    if status not in {0, 2, 3, 4}:
        wrong.append(f"exit status {status}: {message[-200:]}")
    if "Traceback" in message:
        wrong.append("a traceback")
    if status == 4:
        wrong.append(message[-200:])
    if (
        status == 2
        and name
        and name.rsplit(".", 1)[0] not in message
        and ".csv" not in message
        and ".stl" not in message
    ):
        wrong.append(f"names no file: {message[:200]}")
    if spent > SLOWEST_S:
        wrong.append(f"took {spent:.1f} s")
    return wrong


def of_another(folder: Path, rng: random.Random) -> tuple[list[str], str, float]:
    """Run another command than `check`; return a line for each thing wrong, its name and exit status, its time [s]."""
    arguments = other(folder, rng)
    status, message, spent = command(arguments, folder)
    wrong = [f"{arguments}: {said}" for said in judged(status, message, spent, "")]
    for line in wrong:
        print(line, flush=True)
    return wrong, f"{arguments[0]} {status}", spent


def kept(wrong: list[str], name: str, data: bytes) -> list[str]:
    """Show what is wrong with an input, and keep that input in fuzz_failures/; return the same lines."""
    for line in wrong:
        print(line, flush=True)
        Path("fuzz_failures").mkdir(exist_ok=True)
        (Path("fuzz_failures") / f"command-{name}").write_bytes(data)
    return wrong


def too_large() -> list[str]:
    """Print the most memory that a command took, and return a line if that is too much."""
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss * 1024
    line = f"largest command {peak / 2**30:.2f} GiB"
    print(line)
    return [line] if peak > LIMIT_BYTES else []


def main() -> int:
    """Report."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--tiny", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    rng = random.Random(asked.seed)
    outcomes: Counter[str] = Counter()
    failures: list[str] = []
    slowest = 0.0
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        table = files(folder)
        whole = {name: (folder / name).read_bytes() for name in table if (folder / name).exists()}
        (folder / "rich.toml").write_bytes(fuzz_kinds.RICH)
        for number in range(asked.count):
            if rng.random() < 0.25:
                wrong, name, spent = of_another(folder, rng)
                failures += wrong
                outcomes[name] += 1
                slowest = max(slowest, spent)
                continue
            mutated = rng.choice(["scene.toml"] * 4 + list(table))
            opened, seeds = table[mutated]
            seed = rng.choice(seeds)
            if mutated == "files.toml" and rng.random() < 0.7:
                data = renamed(seed, rng)
            elif mutated == "echograms.h5" and rng.random() < 0.5:
                data = fuzz.rebuild(seed, rng)
            else:
                data = fuzz.mutate(seed, rng.choice(seeds), rng)
            (folder / mutated).write_bytes(data)
            status, message, spent = command(["check", opened], folder)
            wrong = judged(status, message, spent, opened)
            if status == 0 and opened.endswith(".toml") and outcomes["tiny: run"] < asked.tiny:
                try:
                    outcomes[f"tiny: {tiny(folder / opened, opened)}"] += 1
                except fuzz.PingwrightError:
                    outcomes["tiny: refused"] += 1
                except Exception as error:  # whatever is not for users is what is looked for
                    wrong.append(f"tiny run: {type(error).__name__}: {error}")
            failures += kept(
                [f"{mutated} {number}: {words}" for words in wrong], f"{asked.seed}-{number}-{mutated}", data
            )
            if mutated in whole:
                (folder / mutated).write_bytes(whole[mutated])
            outcomes[f"exit {status}"] += 1
            slowest = max(slowest, spent)
    print("  ".join(f"{name}: {count}" for name, count in sorted(outcomes.items())))
    print(f"slowest command {slowest:.1f} CPU s")
    failures += too_large()
    print("\n".join(failures) or "no failures")
    return 1 if failures else 0


if __name__ == "__main__":
    raise SystemExit(main())
