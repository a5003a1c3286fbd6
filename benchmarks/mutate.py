"""Change the formulas and the measures one small thing at a time, and count how many of the changes a test notices.

    python benchmarks/mutate.py [--rooms acoustics,measure] [--sample 300] [--seed 1] [--jobs 1] [--limit 60]

Changes: another operator or comparison, another sign, a number off by one (whole) or by a tenth (real), True for False,
`and` for `or`, a condition always or never met, a statement or a raise left out, a returned value lost, min for max,
sin for cos, any for all. Left alone: texts, type annotations, decorators. A change is given to those tests alone that
run its line (all that touch the module, where the line runs at import); it counts as noticed when one of them fails or
takes longer than the limit [s]. Each room's sample is drawn without repetition; the share noticed comes with its
interval (Wilson 1927, 95 %). Every survivor is printed: module, line, what was changed. Exit status 1 below 85 %.
"""

import argparse
import ast
import importlib.abc
import importlib.util
import json
import math
import os
import random
import signal
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
WANTED = 0.85
TESTS = {
    "acoustics": ["test_acoustics_*.py", "test_published.py", "test_quantities.py"],
    "measure": ["test_measure_*.py", "test_published.py"],
}
OTHER = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.MatMult: ast.Mult,
}
OTHERS = {
    ast.Lt: (ast.LtE, ast.Gt),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.Lt),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
NAMES = {"min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "sin": "cos", "cos": "sin"}
NAMES |= {"any": "all", "all": "any", "floor": "ceil", "ceil": "floor", "argmax": "argmin", "argmin": "argmax"}


@dataclass(frozen=True)
class Mutant:
    """One change: where it stands, what it does, and the act that makes it in the module's tree."""

    module: Path
    line: int
    words: str
    act: Callable[[], None]
    tree: ast.Module


def setter(thing: object, field: str, value: object) -> Callable[[], None]:
    """Return the act of giving a node's field another value."""
    return lambda: setattr(thing, field, value)


def replacer(parent: ast.AST, field: str, index: int | None, node: ast.AST) -> Callable[[], None]:
    """Return the act of putting another node in a place."""

    def act() -> None:
        if index is None:
            setattr(parent, field, node)
        else:
            getattr(parent, field)[index] = node

    return act


def numbers(value: object) -> list[object]:
    """Return what a constant may be changed into."""
    if isinstance(value, bool):
        return [not value]
    if isinstance(value, int):
        return [value + 1, value - 1]
    if isinstance(value, float):
        return [value * 1.1 if value else 1.0]
    return []


def of_expression(node: ast.AST) -> Iterator[tuple[str, Callable[[], None]]]:
    """Yield the changes inside one expression."""
    if isinstance(node, ast.BinOp) and type(node.op) in OTHER:
        new = OTHER[type(node.op)]
        yield f"{type(node.op).__name__} -> {new.__name__}", setter(node, "op", new())
    elif isinstance(node, ast.AugAssign) and type(node.op) in OTHER:
        new = OTHER[type(node.op)]
        yield f"{type(node.op).__name__}= -> {new.__name__}=", setter(node, "op", new())
    elif isinstance(node, ast.Compare):
        for at, sign in enumerate(node.ops):
            for new in OTHERS.get(type(sign), ()):
                ops = [*node.ops[:at], new(), *node.ops[at + 1 :]]
                yield f"{type(sign).__name__} -> {new.__name__}", setter(node, "ops", ops)
    elif isinstance(node, ast.BoolOp):
        new = ast.Or if isinstance(node.op, ast.And) else ast.And
        yield f"{type(node.op).__name__} -> {new.__name__}", setter(node, "op", new())
    elif isinstance(node, ast.Constant):
        for value in numbers(node.value):
            yield f"{node.value!r} -> {value!r}", setter(node, "value", value)
    elif isinstance(node, ast.Attribute | ast.Name):
        field = "attr" if isinstance(node, ast.Attribute) else "id"
        name = getattr(node, field)
        if name in NAMES and isinstance(node.ctx, ast.Load):
            yield f"{name} -> {NAMES[name]}", setter(node, field, NAMES[name])


def of_place(parent: ast.AST, field: str, index: int | None, node: ast.AST) -> Iterator[tuple[str, Callable[[], None]]]:
    """Yield the changes that put another node in this one's place."""
    nothing = ast.copy_location(ast.Pass(), node) if isinstance(node, ast.stmt) else None
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.Not | ast.Invert):
        yield f"{type(node.op).__name__} left out", replacer(parent, field, index, node.operand)
    elif isinstance(node, ast.Return) and node.value is not None:
        lost = ast.copy_location(ast.Return(ast.copy_location(ast.Constant(None), node)), node)
        yield "returns None", replacer(parent, field, index, lost)
    elif isinstance(node, ast.If | ast.IfExp):
        for value in (True, False):
            yield f"if {value}", setter(node, "test", ast.copy_location(ast.Constant(value), node))
    elif isinstance(node, ast.Raise | ast.AugAssign | ast.Assign) or (
        isinstance(node, ast.Expr) and not isinstance(node.value, ast.Constant)
    ):
        message = isinstance(node, ast.Assign) and isinstance(node.value, ast.JoinedStr)
        text = isinstance(node, ast.Assign) and isinstance(node.value, ast.Constant) and type(node.value.value) is str
        if not (message or text):
            yield f"left out: {ast.unparse(node)[:70]}", replacer(parent, field, index, nothing)


def mutants(path: Path) -> list[Mutant]:
    """Return every change of a module."""
    tree = ast.parse(path.read_text(encoding="utf-8"), str(path))
    found: list[Mutant] = []

    def visit(node: ast.AST) -> None:
        for field, value in ast.iter_fields(node):
            if field in {"annotation", "returns", "decorator_list", "names"} or isinstance(node, ast.JoinedStr):
                continue
            for index, child in enumerate(value) if isinstance(value, list) else [(None, value)]:
                if isinstance(child, ast.AST):
                    for words, act in (*of_expression(child), *of_place(node, field, index, child)):
                        found.append(Mutant(path, getattr(child, "lineno", 0), words, act, tree))
                    visit(child)

    visit(tree)
    return found


def tests_by_line(patterns: list[str], room: str, folder: Path) -> dict[str, dict[int, list[str]]]:
    """Return for each file of a room the tests that run each of its lines, measured by one run with coverage."""
    files = [str(path) for pattern in patterns for path in sorted((ROOT / "tests").glob(pattern))]
    setup = folder / "coveragerc"
    setup.write_text(
        f"[run]\ndata_file = {folder / 'coverage'}\ndynamic_context = test_function\n"
        f"source = {ROOT / 'simulator' / room}\n"
    )
    command = [
        sys.executable,
        "-m",
        "coverage",
        "run",
        f"--rcfile={setup}",
        "-m",
        "pytest",
        "-q",
        "-p",
        "no:cacheprovider",
    ]
    subprocess.run([*command, *files], cwd=ROOT, check=True, stdout=subprocess.DEVNULL)
    wanted = ["json", f"--rcfile={setup}", "--show-contexts", "-q", "-o", str(folder / "lines.json")]
    subprocess.run([sys.executable, "-m", "coverage", *wanted], cwd=ROOT, check=True)
    measured = json.loads((folder / "lines.json").read_text())["files"]
    return {
        str((ROOT / name).resolve()): {
            int(line): [text for text in texts if text] for line, texts in each["contexts"].items()
        }
        for name, each in measured.items()
    }


def node_of(context: str) -> str | None:
    """Return what pytest calls a test that coverage calls test_file.test_function."""
    module, _, function = context.partition(".")
    path = ROOT / "tests" / f"{module.removeprefix('tests.')}.py"
    return f"{path}::{function}" if path.exists() and function.startswith("test_") else None


class Changed(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Finds one module, changed."""

    def __init__(self, mutant: Mutant) -> None:
        parts = mutant.module.relative_to(ROOT).with_suffix("").parts
        self.name, self.mutant = ".".join(parts), mutant

    def find_spec(self, fullname: str, path: object, target: object = None) -> object:
        return (
            importlib.util.spec_from_file_location(fullname, self.mutant.module, loader=self)
            if fullname == self.name
            else None
        )

    def create_module(self, spec: object) -> None:
        return None

    def exec_module(self, module: object) -> None:
        exec(compile(self.mutant.tree, str(self.mutant.module), "exec"), vars(module))


def survives(mutant: Mutant | None, nodes: list[str], limit: int) -> bool:
    """Return whether all the tests pass with the change (None: without any), in a child process."""
    import pytest

    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.alarm(limit)
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        status = 1
        try:
            if mutant is not None:
                mutant.act()
                ast.fix_missing_locations(mutant.tree)
                sys.meta_path.insert(0, Changed(mutant))
            options = [
                "-x",
                "-q",
                "-p",
                "no:cacheprovider",
                "--no-header",
                "--tb=no",
                "-W",
                "ignore::pytest.PytestAssertRewriteWarning",
            ]
            status = int(pytest.main([*options, *nodes]))
        finally:
            os._exit(1 if status else 0)
    return os.waitpid(child, 0)[1] == 0


def wilson(hits: int, count: int) -> tuple[float, float]:
    """Return the 95 % interval of a share."""
    z = 1.959964
    middle = (hits + z * z / 2) / (count + z * z)
    half = z / (count + z * z) * math.sqrt(hits * (count - hits) / count + z * z / 4)
    return middle - half, middle + half


def work(
    room: str, asked: argparse.Namespace, share: int, folder: Path, lines: dict[str, dict[int, list[str]]]
) -> None:
    """Try every jobs-th change of the sample, in this process; write one line for each."""
    import hypothesis

    quick = [hypothesis.Phase.explicit, hypothesis.Phase.generate]
    hypothesis.settings.register_profile("mutate", phases=quick, database=None, derandomize=True)
    hypothesis.settings.load_profile("mutate")
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    chosen = sample(room, asked)
    unchanged = next(node for each in lines.values() for texts in each.values() for t in texts if (node := node_of(t)))
    if not share and not survives(None, [unchanged], 10 * asked.limit):
        message = f"{room}: the tests fail before anything is changed; nothing can be learnt"
        print(message, flush=True)
        raise RuntimeError(message)
    with (folder / f"{room}-{share}").open("w") as out:
        for mutant in chosen[share :: asked.jobs]:
            texts = lines.get(str(mutant.module), {})
            here = texts.get(mutant.line) or sorted({text for each in texts.values() for text in each})
            nodes = sorted({node for text in here if (node := node_of(text))})
            alive = not nodes or survives(mutant, nodes, asked.limit)
            where = f"{mutant.module.relative_to(ROOT)}:{mutant.line}: {mutant.words}"
            print(json.dumps([alive, where]), file=out, flush=True)
            if alive:
                print("survived:", where, "" if nodes else "(no test runs it)", flush=True)


def sample(room: str, asked: argparse.Namespace) -> list[Mutant]:
    """Return the changes to be tried of a room."""
    every = [mutant for path in sorted((ROOT / "simulator" / room).glob("*.py")) for mutant in mutants(path)]
    random.Random(asked.seed).shuffle(every)
    return every[: asked.sample] if asked.sample else every


def main() -> int:
    """Report."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rooms", default="acoustics,measure")
    parser.add_argument("--sample", type=int, default=300, help="changes tried in each room; 0: all")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--limit", type=int, default=60)
    asked = parser.parse_args()
    os.chdir(ROOT)
    sys.path[:0] = [str(ROOT), str(ROOT / "tests")]
    enough = True
    for room in asked.rooms.split(","):
        total = len(sample(room, argparse.Namespace(seed=0, sample=0)))
        with tempfile.TemporaryDirectory() as scratch:
            folder = Path(scratch)
            lines = tests_by_line(TESTS[room], room, folder)
            children = []
            for share in range(asked.jobs):
                child = os.fork()
                if child == 0:
                    try:
                        work(room, asked, share, folder, lines)
                        sys.stdout.flush()
                        os._exit(0)
                    finally:
                        os._exit(1)
                children.append(child)
            if any([os.waitpid(child, 0)[1] for child in children]):
                return 2
            tried = [json.loads(line) for share in range(asked.jobs) for line in (folder / f"{room}-{share}").open()]
        noticed = sum(not alive for alive, _ in tried)
        low, high = wilson(noticed, len(tried))
        print(
            f"{room}: {noticed} of {len(tried)} changes noticed, {100 * noticed / len(tried):.1f} % "
            f"({100 * low:.1f} to {100 * high:.1f} %); {total} changes possible; seed {asked.seed}",
            flush=True,
        )
        enough &= noticed >= WANTED * len(tried)
    return 0 if enough else 1


if __name__ == "__main__":
    raise SystemExit(main())
