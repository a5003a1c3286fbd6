"""Throw mutated input files at every loader; only the errors meant for users may come out.

    python benchmarks/fuzz_inputs.py [--count 20000] [--seed 1] [--resolve] [--tiny 1.0] [--only scenario,mesh,...]

Kinds: scenario, claims, trip, profile, grid, pattern, mesh (STL of text and of bytes, OBJ, PLY), echograms (a
stranger's HDF5 file; one of ours with bytes, or with objects, attributes and links, changed), and those of
fuzz_kinds.py: settings, sweep, typed, ask, first, bench, export. Each input must be read,
or be refused with a message that names the file; slower than 10 s, or memory over 2 GiB, fails as well. What is read
must survive being written as TOML and read again, and (with --resolve) being resolved; of it the share given by --tiny
is run, tiny (fuzz_tiny.py): results, or an error meant for users, within a minute. Exit status 1 on any failure; each
failing input is kept in the folder fuzz_failures/.
"""

import argparse
import io
import math
import os
import random
import re
import resource
import signal
import struct
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "simulator"), str(ROOT / "benchmarks"), str(ROOT / "tests")]

import fuzz_kinds  # noqa: E402
from pingwright.errors import EchogramError, PingwrightError  # noqa: E402
from pingwright.inputs import claims, scenario, trip  # noqa: E402

SLOWEST_S = 10.0  # of the processor's time, so that other work on the machine fails nobody
PATIENCE = 6  # times as long may pass on the clock
SLOWEST_TINY_S = 60.0
ENDINGS = (".toml", ".csv", ".stl", ".obj", ".ply", ".h5")
MEMORY_GIB = 2.0
#: Kinds of which some of what is read is run.
RUN = {"scenario", "claims", "trip", "profile", "grid", "pattern", "mesh"}

NASTY = [
    b'"9**9**9 m"',
    b'"1e400 m"',
    b'"6 ft 3 in"',
    b'"5 \\u0000m"',
    b'"\\u202e5 m"',
    b'"' + b"9" * 3000 + b' m"',
    b"9" * 3000,
    b"1" + b"0" * 5000,
    b"nan",
    b"9223372036854775807",
    b"-9223372036854775809",
    b"-inf",
    b"1e400",
    b"-0.0",
    b"5e-324",
    b"9223372036854775808",
    b"0x" + b"f" * 2000,
    b"1979-05-27T07:32:00Z",
    b"true",
    b'""',
    b"[]",
    b"{}",
    b"[[[[[[[[[[]]]]]]]]]]",
    b"[" * 500 + b"]" * 500,
    b"{ a = " * 200 + b"1" + b" }" * 200,
    b'"../../../etc/passwd"',
    b'"/dev/zero"',
    b'"C:\\\\x"',
    b"\"__import__('os').system('true')\"",
    b"'''\nmany\nlines'''",
    b'"\xf0\x9f\x90\x9f fish"',
    b'"\\uD800"',
    b'"10 kn"',
    b'"0 m"',
    b'"-1 m"',
    b'["1 m", "2 m"]',
    b'["2 m", "1 m", "3 m"]',
    b"{ mean = 1, sd = 2 }",
]
TYPOS = [b"depht", b"__class__", b"inputs", b"text", b"pattern", b"name", b"use", b"kind", b"shape", b"model_config"]

CLAIMS = b"""title = "claims"
scenario = "wreck.toml"
runs = 400
confidence = 0.95
seed = 5
keep = ["structure"]
[[claim]]
says = "parts a fish"
element = "narrow high"
measure = "separated"
fish = { swimbladder = "closed", length = "40 cm", above_bottom = "0.3 m" }
place = "anywhere"
change = { "seabed.depth" = "58 m", "seabed.layer.1.sediment" = "mud", "element.narrow high.power" = "600 W" }
holds_if = { at_least = 0.9 }
[[claim]]
says = "reaches further"
element = ["narrow high", "low-pencil"]
measure = "reach"
fish = { swimbladder = "closed", length = "40 cm" }
place = { along = "0 m", across = "2 m" }
holds_if = { at_most = "100 m" }
"""
TRIP = b"""title = "trip"
seed = 5
[day]
depth = ["40 m", "60 m"]
sediment = "gravel"
slope = "3 deg"
wind = "8 kn"
speed = "3 kn"
temperature = "11 degC"
salinity = 34.5
[[species]]
name = "bottom fish"
swimbladder = "closed"
length = "45 cm"
where = { above_bottom = ["0.3 m", "1.5 m"] }
share = 1.0
[weights]
separated = 3
[candidates]
elements = "all"
pairs = true
[[element]]
name = "own"
use = "low-pencil"
power = "300 W"
"""
WITH_FILES = """title = "files"
[water]
profile = "water.csv"
[[element]]
name = "measured"
use = "high-pencil"
face = { shape = "table", file = "pattern.csv" }
[seabed]
grid = "bottom.csv"
[[seabed.layer]]
sediment = "gravel"
[[structure]]
name = "thing"
shape = { kind = "mesh", file = "thing.stl" }
"""


def profile_csv() -> bytes:
    return b"depth,temperature,salinity\n" + b"\n".join(f"{z},{14 - z / 20},{34 + z / 100}".encode() for z in range(60))


def grid_csv() -> bytes:
    rows = [f"{x},{y},{40 + x / 50}" for x in range(-100, 101, 25) for y in range(-40, 41, 20)]
    return b"x,y,depth\n" + "\n".join(rows).encode()


def pattern_csv() -> bytes:
    rows = [
        f"{f},{a},{b},{-(a * a + b * b) / 9:.2f}"
        for f in (120e3, 170e3, 220e3)
        for a in range(-20, 21, 5)
        for b in range(-20, 21, 5)
    ]
    return b"frequency,angle_along,angle_across,level\n" + "\n".join(rows).encode()


def mesh_stl() -> bytes:
    corners = [(0, 0, 0), (10, 0, 0), (0, 4, 0), (0, 0, 3)]
    out = ["solid thing"]
    for a, b, c in ((0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3)):
        vertices = "".join(f"vertex {x} {y} {z}\n" for x, y, z in (corners[a], corners[b], corners[c]))
        out.append(f"facet normal 0 0 1\nouter loop\n{vertices}endloop\nendfacet")
    return "\n".join([*out, "endsolid thing"]).encode()


def mesh_stl_bytes() -> bytes:
    corners = [(0, 0, 0), (10, 0, 0), (0, 4, 0), (0, 0, 3)]
    faces = [(corners[a], corners[b], corners[c]) for a, b, c in ((0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3))]
    body = b"".join(struct.pack("<12fH", 0, 0, 1, *(x for corner in face for x in corner), 0) for face in faces)
    return b"thing".ljust(80) + struct.pack("<I", len(faces)) + body


def mesh_obj() -> bytes:
    return b"v 0 0 0\nv 10 0 0\nv 0 4 0\nv 0 0 3\nf 1 3 2\nf 1 2 4\nf 1 4 3\nf 2 3 4\n"


def mesh_ply() -> bytes:
    head = b"ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\n"
    faces = b"element face 4\nproperty list uchar int vertex_indices\nend_header\n"
    return head + faces + b"0 0 0\n10 0 0\n0 4 0\n0 0 3\n3 0 2 1\n3 0 1 3\n3 0 3 2\n3 1 2 3\n"


GOOD_FILES = {
    "water.csv": profile_csv(),
    "bottom.csv": grid_csv(),
    "pattern.csv": pattern_csv(),
    "thing.stl": mesh_stl(),
}
FILE_OF = {"profile": "water.csv", "grid": "bottom.csv", "pattern": "pattern.csv"}


def mutate(data: bytes, other: bytes, rng: random.Random) -> bytes:
    """Return data after one to five mutations of bytes, lines, values, keys, size or encoding."""
    for _ in range(rng.choice([1, 1, 1, 2, 2, 3, 5])):
        data = rng.choice(MUTATIONS)(data, other, rng)[: 1 << 21]
    return data


def flip(data: bytes, other: bytes, rng: random.Random) -> bytes:
    at = rng.randrange(len(data) + 1)
    return data[:at] + bytes([rng.randrange(256)]) + data[at + rng.randint(0, 1) :]


def mutated(name: str, whole: bytes, other: bytes, rng: random.Random) -> bytes:
    """Return an input of a kind."""
    if name in {"echograms", "export"} and rng.random() < 0.5:
        return rebuild(whole, rng)
    if name == "bench" and rng.random() < 0.7:
        return fuzz_kinds.message(whole, rng)
    return mutate(whole, other, rng)


def cut(data: bytes, other: bytes, rng: random.Random) -> bytes:
    a, b = sorted((rng.randrange(len(data) + 1), rng.randrange(len(data) + 1)))
    return data[:a] + data[b:] if rng.random() < 0.5 else data[:b]


def splice(data: bytes, other: bytes, rng: random.Random) -> bytes:
    a, b = rng.randrange(len(data) + 1), rng.randrange(len(other) + 1)
    return data[:a] + other[b : b + rng.randint(1, 400)] + data[a:]


def scale(data: bytes, other: bytes, rng: random.Random) -> bytes:
    """Make one number larger or smaller, so that what is odd but allowed comes up as well."""
    numbers = list(re.finditer(rb"(?<![\w.])\d{1,12}(\.\d{1,12})?(?![\w.])", data))
    if not numbers:
        return data
    found = rng.choice(numbers)
    factor = rng.choice([0.0, 1e-3, 0.01, 0.1, 0.5, 2.0, 10.0, 100.0, 1000.0])
    value = float(found[0]) * factor
    if not math.isfinite(value):  # hundreds of digits
        return data
    text = b"%d" % value if value == int(value) and b"." not in found[0] else b"%.6g" % value
    return data[: found.start()] + text + data[found.end() :]


def shuffle_lines(data: bytes, other: bytes, rng: random.Random) -> bytes:
    lines = data.split(b"\n")
    at, to = rng.randrange(len(lines)), rng.randrange(len(lines))
    kind = rng.randrange(4)
    if kind == 0:
        lines.insert(to, lines[at])
    elif kind == 1:
        lines.insert(to, lines.pop(at))
    elif kind == 2:
        del lines[at]
    else:
        lines[at:at] = [lines[at]] * rng.choice([2, 20, 500])
    return b"\n".join(lines)


def new_value(data: bytes, other: bytes, rng: random.Random) -> bytes:
    lines = data.split(b"\n")
    with_value = [i for i, line in enumerate(lines) if b"=" in line or b"," in line]
    if not with_value:
        return data
    at = rng.choice(with_value)
    key, sign, rest = lines[at].partition(b"=")
    if not sign:
        cells = lines[at].split(b",")
        cells[rng.randrange(len(cells))] = rng.choice(NASTY).strip(b'"')
        lines[at] = b",".join(cells)
    elif rng.random() < 0.3:
        lines[at] = rng.choice(TYPOS) + b" =" + rest
    elif b"=" in rest and rng.random() < 0.6:
        parts = rest.split(b"=")
        j = rng.randrange(1, len(parts))
        tail = parts[j].partition(b",")
        parts[j] = b" " + rng.choice(NASTY) + tail[1] + tail[2]
        lines[at] = key + b"=" + b"=".join(parts)
    else:
        lines[at] = key + b"= " + rng.choice(NASTY)
    return b"\n".join(lines)


def new_number(data: bytes, other: bytes, rng: random.Random) -> bytes:
    digits = [i for i in range(len(data)) if data[i : i + 1].isdigit()]
    if not digits:
        return data
    at = rng.choice(digits)
    return data[:at] + rng.choice([b"0", b"-", b"9", b"e9", b".", b"99999", b"1e-300", b"_"]) + data[at + 1 :]


def recode(data: bytes, other: bytes, rng: random.Random) -> bytes:
    if rng.random() < 0.8:
        return data
    text = data.decode("utf-8", "replace")
    return text.encode(rng.choice(["utf-16", "utf-16-le", "utf-8-sig", "utf-32", "cp037"]), "replace")


def grow(data: bytes, other: bytes, rng: random.Random) -> bytes:
    if rng.random() < 0.9:
        return data
    filler = rng.choice([b"a." * 20000, b"[" * 50000, b"#" * 900000, b'"' * 30000, b"\\" * 30000, b"x,1\n" * 100000])
    at = rng.randrange(len(data) + 1)
    return data[:at] + filler + data[at:]


MUTATIONS = (
    flip, cut, splice, shuffle_lines, new_value, new_value, new_value, new_number, new_number, recode, grow,
    scale, scale, scale, scale, scale,
)  # fmt: skip


def corpus() -> list[bytes]:
    files = sorted((ROOT / "scenarios").glob("0*.toml")) + sorted(
        (ROOT / "simulator/pingwright/inputs/templates").glob("*.toml")
    )
    return [path.read_bytes() for path in files]


def with_table(key: str, resolving: bool) -> Callable[[bytes], None]:
    """Return a loader of a scenario in which one of the named files is the mutated one."""

    def load(data: bytes) -> None:
        through_scenario(WITH_FILES.encode(), {**GOOD_FILES, key: data}, resolving)

    return load


def through_scenario(text: bytes, files: dict[str, bytes], resolving: bool) -> None:
    from pingwright.inputs.document import read_document

    loaded = scenario.parse(read_document(text, "fuzz.toml").text, "fuzz.toml", files)
    again = scenario.parse(scenario.to_toml(loaded), "again.toml", loaded.inputs)
    if again != loaded:
        message = "written and read again it is another scenario"
        raise AssertionError(message)
    if resolving:
        from pingwright.world.resolve import resolve

        resolved = resolve(loaded)
        if scenario.parse(scenario.to_toml(resolved), "resolved.toml", resolved.inputs) != resolved:
            message = "resolved, written and read again it is another scenario"
            raise AssertionError(message)


def load_mesh(data: bytes) -> None:
    from pingwright.world import mesh

    kind = "ply" if data[:3] == b"ply" else "obj" if data[:2] == b"v " else "stl"
    mesh.load(data, f"thing.{kind}", 1.0)


def load_claims(data: bytes) -> None:
    from pingwright.inputs.document import read_document

    base = (ROOT / "scenarios/01_wreck_on_gravel.toml").read_bytes()
    claims.parse(read_document(data, "claims.toml").text, "claims.toml", {"wreck.toml": base})


def load_trip(data: bytes) -> None:
    from pingwright.inputs.document import read_document

    trip.parse(read_document(data, "trip.toml").text, "trip.toml", {})


def ran(name: str, data: bytes, folder: Path, number: int) -> str:
    """Run what a file that was read asks for, tiny; every tenth of claims and trips with all that belongs to it."""
    import fuzz_tiny
    from pingwright.inputs.document import read_document

    if name in {"claims", "trip"}:
        (folder / "wreck.toml").write_bytes((ROOT / "scenarios/01_wreck_on_gravel.toml").read_bytes())
        (folder / f"{name}.toml").write_bytes(data)
        run = fuzz_tiny.claims if name == "claims" else fuzz_tiny.trip
        return run(folder / f"{name}.toml", folder / f"out-{name}", whole=number % 10 == 0)
    if name == "scenario":
        return fuzz_tiny.scenario(scenario.parse(read_document(data, "fuzz.toml").text, "fuzz.toml", {}))
    text, files = WITH_FILES, dict(GOOD_FILES)
    if name == "mesh":
        kind = "ply" if data[:3] == b"ply" else "obj" if data[:2] == b"v " else "stl"
        text, files = text.replace("thing.stl", f"thing.{kind}"), {**files, f"thing.{kind}": data}
    else:
        files[FILE_OF[name]] = data
    if name != "pattern":  # its tables take longest
        text = text.replace('face = { shape = "table", file = "pattern.csv" }\n', "")
    return fuzz_tiny.scenario(scenario.parse(text, "fuzz.toml", files))


def load_echograms(folder: Path) -> Callable[[bytes], None]:
    from pingwright.echograms.file import read

    path = folder / "echograms.h5"

    def load(data: bytes) -> None:
        path.write_bytes(data)
        record = read(path)
        for element in record.elements:
            element.level(slice(0, 1))

    return apart(load)


def apart(load: Callable[[bytes], None]) -> Callable[[bytes], None]:
    """Return a loader that works in a child process: an alarm ends it even inside a library's own loop."""

    def in_child(data: bytes) -> None:
        child = os.fork()
        if child == 0:
            status = 1
            signal.setitimer(signal.ITIMER_PROF, SLOWEST_S)
            signal.alarm(int(PATIENCE * SLOWEST_S))
            try:
                load(data)
                status = 0
            except PingwrightError as error:
                status = 2 if "echograms.h5" in str(error) else 3
            finally:
                os._exit(status)
        status = os.waitpid(child, 0)[1]
        if os.WIFSIGNALED(status):
            message = f"ended by signal {os.WTERMSIG(status)} (27, 14: took longer than {SLOWEST_S:g} s)"
            raise TimeoutError(message)
        if os.WEXITSTATUS(status) == 2:
            message = "echograms.h5: refused"
            raise EchogramError(message)
        if os.WEXITSTATUS(status) != 0:
            message = "an error that is not for users"
            raise RuntimeError(message)

    return in_child


def echograms() -> list[bytes]:
    """Return a small HDF5 file that is not one of ours, and one that is."""
    import h5py
    import numpy as np

    stream = io.BytesIO()
    with h5py.File(stream, "w") as file:
        file.attrs["format_version"] = "1"
        file["elements/a/echo_level"] = np.zeros((3, 4), dtype="i2")
    return [stream.getvalue(), (ROOT / "tests/fixtures/echograms_format_1.h5").read_bytes()]


def rebuild(data: bytes, rng: random.Random) -> bytes:
    """Return an echogram file with one to three objects, attributes or links in it put in another's place."""
    import h5py
    import numpy as np

    stream = io.BytesIO(data)
    with h5py.File(stream, "r+") as file:
        for _ in range(rng.randint(1, 3)):
            names: list[str] = []
            file.visit(names.append)
            if not names:
                break
            name = rng.choice(names)
            kind = rng.randrange(6)
            try:
                attributes = file[name].attrs if rng.random() < 0.7 else file.attrs
            except KeyError:  # a link to nowhere that an earlier turn has put there
                continue
            if kind == 0 and list(attributes):
                value = [np.nan, -1, 2**62, "\x1b[31m", "x" * 70_000, np.zeros((3, 3)), b"\xff", h5py.Empty("f8")]
                attributes[rng.choice(list(attributes))] = rng.choice(value)
            elif kind == 1 and list(attributes):
                del attributes[rng.choice(list(attributes))]
            else:
                del file[name]
                if kind == 2:
                    shape = rng.choice([(), (0,), (7,), (3, 3), (1 << 40,), (1 << 20, 1 << 20)])
                    chunks = tuple(min(side, 64) for side in shape) if shape and 0 not in shape else None
                    file.create_dataset(name, shape, dtype=rng.choice(["i2", "f8", "u1", "S3", "c16"]), chunks=chunks)
                elif kind == 3:
                    file[name] = rng.choice(
                        [h5py.SoftLink("/"), h5py.SoftLink("/nowhere"), h5py.ExternalLink("/dev/zero", "/")]
                    )
                elif kind == 4:
                    file.create_group(name)
    return stream.getvalue()


def kinds(folder: Path, resolving: bool) -> dict[str, tuple[list[bytes], Callable[[bytes], None], int]]:
    """Return for each kind of file its seeds, its loader, and its share of the inputs."""
    scenarios = [*corpus(), *[fuzz_kinds.RICH] * 4]
    return fuzz_kinds.kinds(folder, scenarios[0], echograms()) | {
        "scenario": (scenarios, lambda data: through_scenario(data, {}, resolving), 40),
        "claims": ([CLAIMS], load_claims, 15),
        "trip": ([TRIP], load_trip, 15),
        "profile": ([profile_csv()], with_table("water.csv", resolving), 7),
        "grid": ([grid_csv()], with_table("bottom.csv", resolving), 7),
        "pattern": ([pattern_csv()], with_table("pattern.csv", resolving), 7),
        "mesh": ([mesh_stl(), mesh_stl_bytes(), mesh_obj(), mesh_ply()], load_mesh, 5),
        "echograms": (echograms(), load_echograms(folder), 4),
    }


def attempt(work: Callable[[], object]) -> tuple[str, str, float]:
    """Return "done", "refused" or "FAILED", the message or what the work returned, and the time [s] it took."""
    begun, since = time.perf_counter(), time.process_time()
    outcome, said = "FAILED", ""
    try:
        said = str(work())
        outcome = "done"
    except PingwrightError as error:
        outcome, said = "refused", str(error)
    except Exception as error:  # whatever is not for users is what is looked for
        said = f"{type(error).__name__}: {str(error)[:200]}\n{traceback.format_exc()}"
    spent = max(time.process_time() - since, (time.perf_counter() - begun) / PATIENCE)
    return outcome, said, spent


def ill(outcome: str, said: str) -> str:
    """Return what is wrong with a refusal, or how it failed, nothing where all is well."""
    if outcome == "FAILED":
        return said.split("\n", maxsplit=1)[0]
    if outcome == "refused" and not any(ending in said for ending in ENDINGS):
        return f"names no file: {said[:200]}"
    return "an unprintable message" if "\x00" in said or "\x1b" in said else ""


def throw(
    count: int, seed: int, resolving: bool, only: tuple[str, ...], keep: Path | None, tiny: float = 0.0
) -> tuple[Counter[tuple[str, str]], float, list[str]]:
    """Return counts by (kind, outcome), the slowest input's time [s], and a line for each failure."""
    rng = random.Random(seed)
    outcomes: Counter[tuple[str, str]] = Counter()
    failures: list[str] = []
    slowest = 0.0
    with tempfile.TemporaryDirectory() as scratch:
        table = {name: row for name, row in kinds(Path(scratch), resolving).items() if not only or name in only}
        names = rng.choices(list(table), [row[2] for row in table.values()], k=count)
        everything = [data for seeds, _, _ in table.values() for data in seeds]
        for number, name in enumerate(names):
            seeds, load, _ = table[name]
            whole = rng.choice(seeds)
            other = rng.choice(everything)
            data = mutated(name, whole, other, rng)
            outcome, said, spent = attempt(lambda: load(data))  # noqa: B023 (called at once)
            wrong = [words for words in (ill(outcome, said),) if words]
            wrong += [f"took {spent:.1f} s"] if spent > SLOWEST_S else []
            slowest = max(slowest, spent)
            outcomes[name, {"done": "read"}.get(outcome, outcome)] += 1
            if number % 1000 == 999:
                print(f"{number + 1} inputs", file=sys.stderr, flush=True)
            if outcome == "done" and name in RUN and rng.random() < tiny:
                outcome, said, spent = attempt(lambda: ran(name, data, Path(scratch), number))  # noqa: B023
                wrong += [f"tiny: {words}" for words in (ill(outcome, said),) if words]
                wrong += [f"tiny: took {spent:.1f} s"] if spent > SLOWEST_TINY_S else []
                outcomes[name, f"tiny {said if outcome == 'done' else outcome}"] += 1
            for words in wrong:
                failures.append(f"{name} {number}: {words}")
                print(failures[-1], flush=True)
                if keep is not None:
                    keep.mkdir(exist_ok=True)
                    (keep / f"{name}-{seed}-{number}").write_bytes(data)
                    (keep / f"{name}-{seed}-{number}.txt").write_text(f"{words}\n\n{said}")
    return outcomes, slowest, failures


def main() -> int:
    """Report."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--resolve", action="store_true")
    parser.add_argument("--tiny", type=float, default=0.0, help="share of what is read that is run")
    parser.add_argument("--only", default="")
    asked = parser.parse_args()
    begun = time.perf_counter()
    only = tuple(name for name in asked.only.split(",") if name)
    outcomes, slowest, failures = throw(asked.count, asked.seed, asked.resolve, only, Path("fuzz_failures"), asked.tiny)
    peak = max(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)) / (
        1 << 20
    )
    if peak > MEMORY_GIB:
        failures.append(f"memory {peak:.2f} GiB")
    for name in sorted({name for name, _ in outcomes}):
        counts = {outcome: value for (of, outcome), value in sorted(outcomes.items()) if of == name}
        print(f"{name:10} " + "  ".join(f"{outcome} {value}" for outcome, value in counts.items()))
    print(f"{asked.count} inputs in {time.perf_counter() - begun:.0f} s, slowest {slowest:.2f} s, peak {peak:.2f} GiB")
    print(f"{len(failures)} failures")
    return 1 if failures else 0


if __name__ == "__main__":
    raise SystemExit(main())
