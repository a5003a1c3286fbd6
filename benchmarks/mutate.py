"""Change the formulas and the measures one small thing at a time, and count how many of the changes a test notices.

    nice -n 19 python benchmarks/mutate.py [--rooms acoustics,measure] [--sample 40] [--seed 1] [--jobs 1] [--kept FILE]

Changes: another operator or comparison, another sign, a number off by one (whole) or by a tenth (real), True for False,
`and` for `or`, a condition always or never met, a statement or a raise left out, a returned value lost, min for max,
sin for cos, any for all. Left alone: texts, type annotations, decorators.

`--sample` changes are drawn from each module at random without repetition (all, if it has fewer; 0: all). A change is
given to those tests alone that run its statement (all that touch the module, where it runs at import), quick first;
it counts as noticed when one of them fails, or takes more of the processor's time than ten times its usual plus 5 s:
a busy machine makes no mutant die. Each module's share comes with its interval (Wilson 1927, 95 %); the room's share
weighs the modules by their number of changes (Cochran 1977, Sampling techniques, ch. 5). Every survivor is printed.
A survivor that alters no result (say, > for >= where both give the same) counts as survived all the same.

How: one process collects the tests, and forks for each change. The child puts the changed function's code into the
function that all tests hold. A change outside functions, and every survivor, is tried (again) by a child that imports
the whole package anew with the change in it (a survivor: with tests worth 2 s). `--budget` limits the tests that one
change is given, so that the share is rather too low. `--kept FILE` keeps results as they come: a change tried once is
not tried again while its module stands as it was; `--again` tries survivors again. Exit status 1 below 85 %.
"""

import argparse
import ast
import hashlib
import importlib.abc
import importlib.util
import itertools
import json
import math
import mmap
import os
import random
import resource
import signal
import sys
import tempfile
import time
import types
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
WANTED = 0.85
Z = 1.959964  # 95 %
TESTS = {
    "acoustics": ["test_acoustics_*.py", "test_published.py", "test_element_signal.py", "test_world_fish.py"],
    "measure": ["test_measure_*.py", "test_measures*.py", "test_page_build.py"],
}
WARM = (
    "numpy",
    "scipy.optimize",
    "scipy.special",
    "scipy.stats",
    "scipy.signal",
    "scipy.integrate",
    "h5py",
    "pydantic",
)
NOTICED, SURVIVED, TOO_LONG, UNFIT = 1, 0, 2, 4
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
    """One change: where it stands, in which function's body, what it does, and the act that makes it in the tree."""

    module: Path
    number: int
    lines: range
    owner: str
    words: str
    act: Callable[[], None]
    tree: ast.Module

    @property
    def where(self) -> str:
        """Say what is changed, and where."""
        return f"{self.module.relative_to(ROOT)}:{self.lines[0]}: {self.words}"

    @property
    def key(self) -> str:
        """Return what tells it from any other change, also of another state of its module."""
        return f"{self.where} #{self.number} {hashlib.sha256(self.module.read_bytes()).hexdigest()[:16]}"


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
    elif isinstance(node, ast.Return) and getattr(node.value, "value", node.value) is not None:
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


def spanned(node: ast.AST) -> range:
    """Return a statement's lines, or those of its head where it holds others."""
    body = getattr(node, "body", None)
    last = body[0].lineno - 1 if isinstance(body, list) else node.end_lineno
    return range(node.lineno, max(last, node.lineno) + 1)


def mutants(path: Path) -> list[Mutant]:
    """Return every change of a module."""
    tree = ast.parse(path.read_text(encoding="utf-8"), str(path))
    found: list[Mutant] = []

    def visit(node: ast.AST, lines: range, path_of: str, owner: str) -> None:
        for field, value in ast.iter_fields(node):
            if field in {"annotation", "returns", "decorator_list", "names"} or isinstance(node, ast.JoinedStr):
                continue
            inside, holder = path_of, owner
            if isinstance(node, ast.FunctionDef | ast.ClassDef) and field == "body":
                inside = f"{path_of}.{node.name}".lstrip(".")
                holder = owner or (inside if isinstance(node, ast.FunctionDef) else "")
            for index, child in enumerate(value) if isinstance(value, list) else [(None, value)]:
                if isinstance(child, ast.AST):
                    here = spanned(child) if isinstance(child, ast.stmt) else lines
                    for words, act in (*of_expression(child), *of_place(node, field, index, child)):
                        found.append(Mutant(path, len(found), here, holder, words, act, tree))
                    visit(child, here, inside, holder)

    visit(tree, range(1), "", "")
    return found


class Changed(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Finds one module, changed."""

    def __init__(self, module: Path, code: types.CodeType) -> None:
        self.module, self.code, self.name = module, code, name_of(module)

    def find_spec(self, fullname: str, path: object, target: object = None) -> object:
        """Return the spec of the changed module, of no other."""
        if fullname != self.name:
            return None
        inside = [str(self.module.parent)] if self.module.stem == "__init__" else None
        return importlib.util.spec_from_file_location(
            fullname, self.module, loader=self, submodule_search_locations=inside
        )

    def create_module(self, spec: object) -> None:
        """Leave it to Python."""

    def exec_module(self, module: object) -> None:
        """Run the changed code."""
        exec(self.code, vars(module))


def name_of(module: Path) -> str:
    """Return the dotted name of a module."""
    return ".".join(module.relative_to(ROOT / "simulator").with_suffix("").parts).removesuffix(".__init__")


def within(code: types.CodeType, owner: str) -> list[types.CodeType]:
    """Return the codes of a function in a module's code."""
    inner = [const for const in code.co_consts if isinstance(const, types.CodeType)]
    return [each for each in inner if each.co_qualname == owner] + [
        found for each in inner if owner.startswith(f"{each.co_qualname}.") for found in within(each, owner)
    ]


def function_of(name: str, owner: str) -> types.FunctionType | None:
    """Return the plain function behind a name of a module, out of any wrapper; None where there is no single one."""
    thing: object = sys.modules.get(name)
    for part in owner.split("."):
        thing = vars(thing).get(part) if isinstance(thing, type | types.ModuleType) else None
    for _ in range(5):
        if isinstance(thing, types.FunctionType) and not hasattr(thing, "__wrapped__"):
            return thing if thing.__module__ == name and thing.__qualname__ == owner else None
        inner = [getattr(thing, field, None) for field in ("__wrapped__", "fget", "func", "__func__")]
        thing = next((each for each in inner if each is not None), None)
    return None


def put_in(mutant: Mutant, code: types.CodeType) -> bool:
    """Put the changed code into the function in use; return whether that was possible."""
    new = within(code, mutant.owner) if mutant.owner else []
    used = function_of(name_of(mutant.module), mutant.owner) if len(new) == 1 else None
    if used is None or used.__code__.co_freevars != new[0].co_freevars:
        return False
    used.__code__ = new[0]
    for module in [each for name, each in sys.modules.items() if name.startswith("pingwright.")]:
        for thing in list(vars(module).values()):
            if hasattr(thing, "cache_clear"):
                thing.cache_clear()
    return True


class Session:
    """The collected tests of a room: which of them run a line, how long each takes, and the trial of a change."""

    def __init__(self, session: object) -> None:
        self.session, self.items = session, {item.nodeid: item for item in session.items}
        self.seconds: dict[str, float] = {}
        self.lines: dict[str, dict[int, list[str]]] = {}
        self.wins: Counter[tuple[str, str]] = Counter()
        self.at = mmap.mmap(-1, 4)  # which test a child has come to

    def child(self, act: Callable[[], int]) -> int:
        """Return the status with which a forked child ends."""
        sys.stdout.flush()
        child = os.fork()
        if child == 0:
            status = 3
            try:
                if not os.environ.get("MUTATE_LOUD"):
                    quiet = os.open(os.devnull, os.O_WRONLY)
                    os.dup2(quiet, 1)
                    os.dup2(quiet, 2)
                status = act()
            finally:
                os._exit(status)
        return os.waitpid(child, 0)[1]

    def measure(self, room: str, into: Path) -> None:
        """Learn which tests run which lines, and for how long [s of the processor]; keep it by file of tests."""
        package = b"".join(path.read_bytes() for path in sorted((ROOT / "simulator/pingwright" / room).glob("*.py")))
        kept = json.loads(into.read_text()) if into.exists() else {}
        files: dict[Path, list[str]] = {}
        for nodeid, item in self.items.items():
            files.setdefault(Path(item.path), []).append(nodeid)
        for file, nodes in files.items():
            state = hashlib.sha256(package + file.read_bytes()).hexdigest()
            if kept.get(file.name, [None])[0] != state:
                fresh = into.with_suffix(".fresh")
                if self.child(lambda nodes=nodes, fresh=fresh: self.measured(room, nodes, fresh)):
                    message = f"{file.name}: a test fails before anything is changed; nothing can be learnt"
                    raise RuntimeError(message)
                kept[file.name] = [state, *json.loads(fresh.read_text())]
                into.write_text(json.dumps(kept))
            _, seconds, lines = kept[file.name]
            self.seconds |= seconds
            for name, each in lines.items():
                for line, texts in each.items():
                    self.lines.setdefault(name, {}).setdefault(int(line), []).extend(filter(None, texts))

    def run(self, nodes: list[str], at: int) -> None:
        """Run a test; what it shares with the next one is kept."""
        item, after = self.items[nodes[at]], self.items[nodes[at + 1]] if at + 1 < len(nodes) else None
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)

    def measured(self, room: str, nodes: list[str], into: Path) -> int:
        """Run tests with coverage, in a child; write their times and lines; return whether any failed."""
        import coverage

        watch = coverage.Coverage(data_file=None, source=[str(ROOT / "simulator/pingwright" / room)], config_file=False)
        watch.set_option("run:disable_warnings", ["no-data-collected"])  # tests of another room
        seconds = {}
        watch.start()
        for at, nodeid in enumerate(nodes):
            watch.switch_context(nodeid)
            begun = time.process_time()
            self.run(nodes, at)
            seconds[nodeid] = time.process_time() - begun
        watch.stop()
        data = watch.get_data()
        lines = {name: data.contexts_by_lineno(name) for name in data.measured_files()}
        into.write_text(json.dumps([seconds, lines]))
        return int(self.session.testsfailed > 0)

    def killers(self, mutant: Mutant, budget: float = math.inf) -> list[str]:
        """Return the tests that run a change, worth a budget [s]: quick ones first, and what found others here."""
        texts = self.lines.get(str(mutant.module), {})
        here = {text for line in mutant.lines for text in texts.get(line, ())}
        here = here or {text for each in texts.values() for text in each}
        place = str(mutant.module)
        order = sorted(here, key=lambda nodeid: (self.seconds[nodeid] / (1 + self.wins[place, nodeid]), nodeid))
        spent = itertools.accumulate(self.seconds[nodeid] for nodeid in order)
        return [
            nodeid for at, (nodeid, until) in enumerate(zip(order, spent, strict=True)) if at == 0 or until < budget
        ]

    def limited(self, nodeid: str) -> None:
        """Give a test ten times its usual time, plus 5 s, of the processor; after that this process is ended."""
        signal.signal(signal.SIGPROF, signal.SIG_DFL)
        signal.setitimer(signal.ITIMER_PROF, 10 * self.seconds[nodeid] + 5.0)

    def alive(self, mutant: Mutant | None, nodes: list[str], anew: bool) -> int:
        """Return whether all the tests pass with the change (None: without any), in a child."""

        def act() -> int:
            resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
            resource.setrlimit(resource.RLIMIT_AS, (6 << 30, 6 << 30))
            code = None
            if mutant is not None:
                mutant.act()
                code = compile(ast.fix_missing_locations(mutant.tree), str(mutant.module), "exec")
            if anew:
                return self.run_anew(mutant, code, nodes)
            if mutant is not None and not put_in(mutant, code):
                return UNFIT
            for at, nodeid in enumerate(nodes):
                self.at[:] = at.to_bytes(4, "little")
                self.limited(nodeid)
                self.run(nodes, at)
                if self.session.testsfailed:
                    return NOTICED
            return SURVIVED

        status = self.child(act)
        if os.WIFSIGNALED(status):
            if os.WTERMSIG(status) == signal.SIGPROF:
                return TOO_LONG
            print("ended by signal", os.WTERMSIG(status), mutant and mutant.where, flush=True)
            return NOTICED
        return os.WEXITSTATUS(status)

    def run_anew(self, mutant: Mutant | None, code: types.CodeType | None, nodes: list[str]) -> int:
        """Import package and tests again, changed, and run the tests."""
        import _pytest.config
        import pytest

        # It remembers the classes of warnings, which are imported anew below.
        _pytest.config.parse_warning_filter.cache_clear()
        for name, module in list(sys.modules.items()):
            file = getattr(module, "__file__", None)
            if name.split(".")[0] == "pingwright" or (file and Path(file).parent == ROOT / "tests"):
                del sys.modules[name]
        if mutant is not None:
            sys.meta_path.insert(0, Changed(mutant.module, code))
        limited = self.limited

        class Guard:
            """Limits each test."""

            def pytest_runtest_setup(self, item: object) -> None:
                limited(item.nodeid)

        # One that does not come to its tests at all (an endless loop at import) is ended too.
        signal.signal(signal.SIGPROF, signal.SIG_DFL)
        signal.setitimer(signal.ITIMER_PROF, 60.0)
        return NOTICED if int(pytest.main([*OPTIONS, "-x", *nodes], plugins=[Guard()])) else SURVIVED

    def tried(self, mutant: Mutant, budget: float) -> int:
        """Return whether a change is noticed: by the quick way, and what survives, by the sure one with quick tests."""
        nodes = self.killers(mutant, budget)
        if not nodes:
            return SURVIVED
        result = self.alive(mutant, nodes, anew=False)
        if result in {NOTICED, TOO_LONG}:
            self.wins[str(mutant.module), nodes[int.from_bytes(self.at, "little")]] += 1
        outside = result == UNFIT
        if outside or result == SURVIVED:
            result = self.alive(mutant, self.killers(mutant, budget if outside else min(budget, 2.0)), anew=True)
        return result


OPTIONS = [
    # Those of the project name a plugin that is not loaded here.
    "-o",
    "addopts=--strict-markers",
    "-q",
    "-s",
    "-p",
    "no:cacheprovider",
    "--no-header",
    "--tb=no",
    "-W",
    "ignore::pytest.PytestAssertRewriteWarning",
]


def sample(room: str, asked: argparse.Namespace) -> dict[Path, tuple[list[Mutant], int]]:
    """Return for each module of a room the changes to be tried, and the number of all."""
    chosen = {}
    for path in sorted((ROOT / "simulator/pingwright" / room).glob("*.py")):
        if asked.modules and path.stem not in asked.modules.split(","):
            continue
        every = mutants(path)
        if every:
            drawn = random.Random(f"{asked.seed} {path.stem}").sample(every, len(every))
            chosen[path] = (drawn[: asked.sample] if asked.sample else drawn, len(every))
    return chosen


def known(kept: Path) -> dict[str, int]:
    """Return the results kept."""
    lines = kept.read_text().splitlines() if kept.exists() else []
    return dict(json.loads(line) for line in lines)


def work(session: Session, chosen: list[Mutant], asked: argparse.Namespace) -> None:
    """Try changes that are not known to be noticed; keep each result."""
    before = known(Path(asked.kept))
    with Path(asked.kept).open("a") as out:
        for mutant in chosen:
            if mutant.key in before and not (asked.again and before[mutant.key] == SURVIVED):
                continue
            result = session.tried(mutant, asked.budget)
            print(json.dumps([mutant.key, result]), file=out, flush=True)
            if result == SURVIVED:
                print("survived:", mutant.where, "" if session.killers(mutant) else "(no test runs it)", flush=True)
            elif result == TOO_LONG:
                print("takes too long:", mutant.where, flush=True)


def try_room(session: object, room: str, asked: argparse.Namespace) -> None:
    """Try the sample of a room on the tests collected."""
    kept = Path(asked.kept)
    tests = Session(session)
    tests.measure(room, kept.with_suffix(".lines"))
    quick = [nodeid for nodeid, seconds in tests.seconds.items() if seconds < 0.3]
    if any(tests.alive(None, quick, anew) != SURVIVED for anew in (False, True)):
        message = f"{room}: the tests fail in a child although nothing is changed"
        raise RuntimeError(message)
    chosen = [mutant for drawn, _ in sample(room, asked).values() for mutant in drawn]
    random.Random(asked.seed).shuffle(chosen)  # Stopped early, what was tried is a sample as well.
    children = []
    for share in range(asked.jobs):
        child = os.fork()
        if child == 0:
            status = 1
            try:
                work(tests, chosen[share :: asked.jobs], asked)
                status = 0
            finally:
                sys.stdout.flush()
                os._exit(status)
        children.append(child)
    if any([os.waitpid(child, 0)[1] for child in children]):
        message = "a worker broke"
        raise RuntimeError(message)


def wilson(hits: int, count: int) -> tuple[float, float]:
    """Return the 95 % interval of a share."""
    z = Z
    middle = (hits + z * z / 2) / (count + z * z)
    half = z / (count + z * z) * math.sqrt(hits * (count - hits) / count + z * z / 4)
    return middle - half, middle + half


def report(room: str, asked: argparse.Namespace) -> bool:
    """Print the shares of a room; return whether enough was noticed."""
    results = known(Path(asked.kept))
    mean = variance = 0.0
    chosen = sample(room, asked)
    total = sum(count for _, count in chosen.values())
    counted = longer = tried_in_all = 0
    missing = False
    for path, (drawn, count) in chosen.items():
        tried = [results[mutant.key] for mutant in drawn if mutant.key in results]
        if not tried:
            print(f"{room}/{path.stem}: none of {count} tried")
            missing = True
            continue
        hits, size = sum(result != SURVIVED for result in tried), len(tried)
        low, high = wilson(hits, size)
        note = "" if size < count else " (all)"
        print(f"{room}/{path.stem}: {hits} of {size}{note} of {count} noticed, {100 * low:.0f} to {100 * high:.0f} %")
        share, weight = hits / size, count / total
        mean += weight * share
        guess = (hits + 1) / (size + 2)  # Laplace: no module is certain because its few changes were all noticed.
        variance += weight**2 * (1 - size / count) * guess * (1 - guess) / size
        counted, tried_in_all = counted + hits, tried_in_all + size
        longer += sum(result == TOO_LONG for result in tried)
    half = 100 * Z * math.sqrt(variance)
    print(
        f"{room}: {100 * mean:.1f} +- {half:.1f} % of {total} changes noticed ({counted} of {tried_in_all} tried, "
        f"{longer} of them by taking too long); seed {asked.seed}",
        flush=True,
    )
    return mean >= WANTED and not missing


def collected(room: str, asked: argparse.Namespace) -> int:
    """Collect a room's tests and try its changes on them; return pytest's exit status."""
    import hypothesis
    import pytest

    quick = [hypothesis.Phase.explicit, hypothesis.Phase.generate]
    hypothesis.settings.register_profile("mutate", phases=quick, database=None, derandomize=True, deadline=None)
    hypothesis.settings.load_profile("mutate")
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"

    class Loop:
        """Takes the place of pytest's own loop over the tests."""

        def pytest_runtestloop(self, session: object) -> bool:
            try_room(session, room, asked)
            return True

    files = [str(path) for pattern in TESTS[room] for path in sorted((ROOT / "tests").glob(pattern))]
    return int(pytest.main([*OPTIONS, *files], plugins=[Loop()]))


def main() -> int:
    """Report."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rooms", default="acoustics,measure")
    parser.add_argument("--modules", default="", help="only these, say beam,fish")
    parser.add_argument("--sample", type=int, default=40, help="changes tried in each module; 0: all")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--kept", default="", help="file of results that are kept from run to run")
    parser.add_argument("--again", action="store_true", help="try again what survived by the kept file")
    parser.add_argument("--budget", type=float, default=15.0, help="tests given to one change [s of the processor]")
    parser.add_argument("--report", action="store_true", help="only print what the kept file says")
    asked = parser.parse_args()
    os.chdir(ROOT)
    sys.path[:0] = [str(ROOT), str(ROOT / "tests")]
    enough = True
    with tempfile.TemporaryDirectory() as scratch:
        asked.kept = str(Path(asked.kept).resolve()) if asked.kept else f"{scratch}/kept"
        for name in WARM:
            importlib.import_module(name)
        for room in asked.rooms.split(","):
            # In a child, so that each room begins with a package nobody has loaded.
            child = os.fork() if not asked.report else None
            if child == 0:
                status = 2
                try:
                    status = collected(room, asked)
                finally:
                    sys.stdout.flush()
                    os._exit(status)
            if child is not None and os.waitpid(child, 0)[1]:
                return 2
            enough &= report(room, asked)
    return 0 if enough else 1


if __name__ == "__main__":
    raise SystemExit(main())
