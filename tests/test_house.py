"""The shape of the house: floors, the wall, owners of heavy libraries, sizes, prints, units in docstrings."""

import ast
import importlib.util
import re
import subprocess
import sys
from functools import cache, partial
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "simulator" / "pingwright"

FLOORS = {
    "errors": 0, "units": 0, "quantities": 1, "seeds": 0, "palette": 0, "markdown": 0,
    "files": 1,  # above errors, which they need
    "acoustics": 2, "inputs": 2, "echograms": 2, "checkpoint": 2,
    "world": 3, "element": 3, "measure": 3, "workers": 3, "arguments": 3,
    "engine": 4, "words": 4, "calibration": 4,
    "recording": 5,
    "figures": 5, "page": 6, "export": 5,
    "report": 7, "costs": 7, "trials": 8, "measures": 9,
    "run": 10, "claims": 10, "match": 10, "options": 10, "sweeps": 10, "validation": 10, "advice": 10,
    "checking": 11, "bench": 11, "messages": 1, "stopping": 1, "progress": 0, "startup": 0,
    "__main__": 12, "api": 12,
}  # fmt: skip

OWNERS = {
    "pydantic": {"inputs"}, "h5py": {"echograms", "export"}, "trimesh": {"world"}, "numba": {"engine"},
    "llvmlite": {"engine"}, "matplotlib": {"figures", "api"}, "PIL": {"figures"},
    "rich": {"progress"}, "xarray": {"api"}, "pandas": {"api"}, "distributed": {"workers"}, "tornado": {"bench"},
}  # fmt: skip

HEAVY = {
    "numba", "llvmlite", "scipy", "h5py", "matplotlib", "PIL", "pydantic", "trimesh", "rich", "xarray",
    "pandas", "distributed",
}  # fmt: skip

MODULES = sorted(PACKAGE.rglob("*.py"))


def name_of(path: Path) -> str:
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def room_of(module: str) -> str:
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else ""


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


@cache
def imported(path: Path) -> list[tuple[str, int]]:
    """Every module a file imports, at the top or inside functions, with its line."""
    found = []
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            found += [(alias.name, node.lineno) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                package = path.relative_to(PACKAGE.parent).parent.parts
                base = ".".join((*package[: len(package) - node.level + 1], *filter(None, [node.module])))
            found += [(f"{base}.{alias.name}", node.lineno) for alias in node.names]
        elif isinstance(node, ast.Call):
            called = ast.unparse(node.func)
            if called in {"importlib.import_module", "import_module", "__import__"} and node.args:
                first = node.args[0]
                if isinstance(first, ast.JoinedStr) and ast.unparse(first)[:3] in {"f'.", 'f".'}:
                    found.append((".".join(path.relative_to(PACKAGE.parent).parent.parts), node.lineno))  # its own
                    continue
                text = ast.literal_eval(first) if isinstance(first, ast.Constant) else "pingwright.?"
                found.append((str(text), node.lineno))
    return found


def of_each_room(check, modules=MODULES):
    """One test a room, which checks each of its modules: thousands of tests of a millisecond cost more than they do."""
    rooms = sorted({room_of(name_of(path)) for path in modules})

    @pytest.mark.parametrize("room", rooms, ids=lambda room: room or "pingwright")
    def test(room):
        for path in modules:
            if room_of(name_of(path)) == room:
                try:
                    check(path)
                except AssertionError as fault:
                    fault.add_note(f"in {name_of(path)}")
                    raise

    return test


@of_each_room
def test_a_room_imports_strictly_lower_floors(path):
    room = room_of(name_of(path))
    ours = [(name, line) for name, line in imported(path) if name.split(".")[0] == "pingwright"]
    if not room:
        return
    assert room in FLOORS, f"the room {room} has no floor"
    for name, line in ours:
        other = room_of(name)
        assert other in FLOORS, f"{path.name}:{line} imports {name}, a room without a floor"
        assert other == room or FLOORS[other] < FLOORS[room], (
            f"{path.name}:{line}: {room} (floor {FLOORS[room]}) may not import {other} (floor {FLOORS[other]})"
        )


def test_the_package_loads_nothing_before_it_is_used():
    assert not loaded_modules("import pingwright") - {"pingwright"}


def test_nobody_imports_the_public_room():
    for path in MODULES:
        if room_of(name_of(path)) not in {"", "api"}:
            assert not any(name.startswith("pingwright.api") for name, _ in imported(path)), path.name


@of_each_room
def test_each_heavy_library_has_one_owner(path):
    room = room_of(name_of(path))
    for name, line in imported(path):
        owners = OWNERS.get(name.split(".")[0])
        assert owners is None or room in owners, f"{path.name}:{line}: only {owners} may import {name}"


def room_graph() -> dict[str, set[str]]:
    graph: dict[str, set[str]] = {}
    for path in MODULES:
        room = room_of(name_of(path))
        graph.setdefault(room, set()).update(
            room_of(name) for name, _ in imported(path) if name.startswith("pingwright.")
        )
    return graph


@pytest.mark.parametrize("judge", ["measure", "figures", "page", "report"])
def test_no_judge_reaches_the_world(judge):
    graph = room_graph()
    seen, waiting = set(), [judge]
    while waiting:
        room = waiting.pop()
        if room not in seen:
            seen.add(room)
            waiting += graph.get(room, set())
    assert not seen & {"world", "element", "engine"}


@of_each_room
def test_heavy_libraries_are_imported_late(path):
    """At the top of a module only where the module cannot be told without them (schemas, kernels)."""
    room = room_of(name_of(path))
    top = {
        alias.name.split(".")[0] for node in tree_of(path).body if isinstance(node, ast.Import) for alias in node.names
    }
    top |= {
        (node.module or "").split(".")[0]
        for node in tree_of(path).body
        if isinstance(node, ast.ImportFrom) and not node.level
    }
    allowed = {"inputs": {"pydantic"}, "engine": {"numba", "llvmlite"}}.get(room, set())
    assert not (top & HEAVY) - allowed


@of_each_room
def test_size_stays_readable(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 350
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            body = node.body[1:] if ast.get_docstring(node) else node.body
            lines = body[-1].end_lineno - body[0].lineno + 1 if body else 0
            assert lines <= 40, f"{node.name} has a body of {lines} lines"


@of_each_room
def test_only_the_command_line_prints_or_exits(path):
    if name_of(path) in {"pingwright.__main__", "pingwright.stopping"}:  # the latter ends what cannot be stopped
        return
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Call):
            called = ast.unparse(node.func) if isinstance(node.func, ast.Name | ast.Attribute) else ""
            assert called not in {"print", "exit", "quit", "sys.exit", "os._exit"}, f"line {node.lineno}: {called}"


@of_each_room
def test_no_star_import_and_no_global_random_numbers(path):
    text = path.read_text(encoding="utf-8")
    assert not re.search(r"^\s*from\s+\S+\s+import\s+\*", text, re.MULTILINE)
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Attribute) and node.value.attr == "random":
            dotted = ast.unparse(node)
            if dotted.startswith(("np.random.", "numpy.random.")):
                assert dotted.split(".")[2] in {"Generator", "SFC64", "SeedSequence", "BitGenerator", "default_rng"}, (
                    dotted
                )
    assert not any(name.split(".")[0] == "random" for name, _ in imported(path))


@of_each_room
def test_figures_never_use_pyplot(path):
    assert not any("pyplot" in name or "pylab" in name for name, _ in imported(path))


# Words that say what a number is in: a unit, or that it has none.
UNITS = re.compile(
    r"\[[^\]]+\]|(?<![\w'])(dB|Hz|kHz|deg|degC|metres?|seconds?|m/s|radians?|Pa|uPa|W|kg/m3|g/kg|bytes?|cycles?|pings?"
    r"|samples?|dimensionless|units?|per cent|fraction|share|ratio|probabilit\w+|count|number of|m|s|m2|1/m|sr)\b"
)


def public_functions(path: Path):
    for node in tree_of(path).body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            yield from (
                inner for inner in node.body if isinstance(inner, ast.FunctionDef) and not inner.name.startswith("_")
            )


def numeric(function: ast.FunctionDef) -> bool:
    """Say whether the function gives back floats or arrays of floats."""
    returned = ast.unparse(function.returns) if function.returns else ""
    return bool(re.search(r"^float\b|^tuple\[float|FloatArray|NDArray\[np\.(float|complex)", returned))


PHYSICS = {
    "quantities",
    "acoustics",
    "echograms",
    "world",
    "element",
    "measure",
    "engine",
    "recording",
    "run",
    "report",
}


@partial(of_each_room, modules=[p for p in MODULES if room_of(name_of(p)) in PHYSICS])
def test_public_numbers_name_their_unit(path):
    for function in public_functions(path):
        text = ast.get_docstring(function) or ""
        owner = next((c for c in tree_of(path).body if isinstance(c, ast.ClassDef) and function in c.body), None)
        text += (ast.get_docstring(owner) or "") if owner else ""
        assert text, f"{function.name} has no docstring"
        if numeric(function):
            assert UNITS.search(text), f"{function.name} gives a number and its docstring names no unit"


@partial(of_each_room, modules=[p for p in MODULES if room_of(name_of(p)) == "acoustics" and p.name != "__init__.py"])
def test_formulas_name_their_source(path):
    """A year somewhere in the docstrings of a module of formulas: the publication they were taken from."""
    nodes = [n for n in ast.walk(tree_of(path)) if isinstance(n, ast.Module | ast.FunctionDef | ast.ClassDef)]
    text = " ".join(ast.get_docstring(node) or "" for node in nodes)
    assert re.search(r"\b(18|19|20)\d\d\b|definition", text), "names no source"


def loaded_modules(statement: str) -> set[str]:
    """Our own modules that a statement loads in a fresh interpreter."""
    code = f"{statement}\nimport sys; print(*(m for m in sys.modules if m.split('.')[0] == 'pingwright'))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=PACKAGE.parent)
    return set(done.stdout.split())


def loaded_after(statement: str) -> set[str]:
    code = f"{statement}\nimport sys; print(' '.join(sorted({{m.split('.')[0] for m in sys.modules}})))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=PACKAGE.parent)
    return set(done.stdout.split())


@pytest.mark.parametrize(
    ("statement", "forbidden"),
    [
        ("import pingwright", HEAVY | {"numpy"}),
        ("import pingwright.__main__", HEAVY | {"numpy"}),
        ("import pingwright.measure", HEAVY),
        ("import pingwright.echograms.record", HEAVY),
        ("import pingwright.echograms.file", HEAVY),
        ("import pingwright.report", HEAVY),
        ("import pingwright.run", HEAVY),
    ],
)
def test_a_fresh_interpreter_stays_light(statement, forbidden):
    assert not loaded_after(statement) & forbidden


def test_every_folder_has_a_map():
    for folder in {path.parent for path in MODULES}:
        assert (folder / "__init__.py").exists(), f"{folder.name} has no __init__.py"
        assert ast.get_docstring(tree_of(folder / "__init__.py")), f"{folder.name}/__init__.py maps nothing"


def test_what_is_seldom_used_is_found_and_loaded_when_it_is():
    import numpy
    from pingwright import startup

    spec = startup._Later().find_spec("numpy.f2py", numpy.__path__)
    assert isinstance(spec.loader, importlib.util.LazyLoader)
    assert startup._Later().find_spec("numpy.linalg", numpy.__path__) is None
    with pytest.raises(ModuleNotFoundError):
        startup._Later().find_spec("coverage")


def test_masked_arrays_are_loaded_when_they_are_used():
    program = (
        "import sys; from pingwright import startup; startup.leave_for_later(); import numpy as np;"
        "print(np.unique(np.array([2, 1, 2])).tolist(), 'numpy.ma.core' in sys.modules);"
        "print(np.ma.is_masked(np.ma.masked_array([1, 2], [True, False])), 'numpy.ma.core' in sys.modules)"
    )
    found = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert found.stdout.split("\n")[:2] == ["[1, 2] False", "True True"]


def test_scipys_functions_keep_their_help_where_it_is_not_written_anew():
    import scipy._lib
    from pingwright import startup

    spec = startup._Later().find_spec("scipy._lib._array_api", scipy._lib.__path__)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)

    def function():
        """Say what it does."""

    assert module.xp_capabilities()(function) is function
    assert function.__doc__.strip() == "Say what it does."


def test_pictures_are_drawn_where_the_help_of_what_draws_them_is_not_written():
    # In a process of its own: matplotlib itself must be loaded in the other way.
    program = (
        "from pingwright import startup; startup.leave_for_later(); import matplotlib.artist as a;"
        "from matplotlib.figure import Figure; line, = Figure().add_subplot().plot([1, 2]);"
        "line.set(linewidth=3); print(repr(a.kwdoc(line)), line.get_xdata().tolist(), line.get_linewidth())"
    )
    found = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert found.stdout.split() == ["''", "[0.0,", "1.0]", "3.0"]
