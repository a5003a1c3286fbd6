"""Arrays whose address a kernel keeps must live as long as the address: numba frees an array after its last use."""

import ast
from pathlib import Path

import pytest

FILES = sorted((Path(__file__).parent.parent / "simulator" / "pingwright" / "engine").rglob("*.py"))


def freed_too_early(function):
    """Return (array, address, line) where a local array is last named before an address taken from it is."""
    names = [node for node in ast.walk(function) if isinstance(node, ast.Name)]
    last = {name: max(n.lineno for n in names if n.id == name) for name in {n.id for n in names}}
    found = []
    for node in ast.walk(function):
        if not isinstance(node, ast.Assign):
            continue
        pairs = [(node.targets[0], node.value)]
        if isinstance(node.targets[0], ast.Tuple) and isinstance(node.value, ast.Tuple):
            pairs = list(zip(node.targets[0].elts, node.value.elts, strict=True))
        for target, value in pairs:
            taken = [a.value.value.id for a in ast.walk(value) if _is_address(a)]
            found += [
                (array, target.id, node.lineno)
                for array in taken
                if isinstance(target, ast.Name) and last[target.id] > last[array] and array not in _arguments(function)
            ]
    return found


def _is_address(node):
    return (
        isinstance(node, ast.Attribute)
        and node.attr == "data"
        and isinstance(node.value, ast.Attribute)
        and node.value.attr == "ctypes"
        and isinstance(node.value.value, ast.Name)
    )


def _arguments(function):
    """Return the arguments of a function and of those inside it: the caller keeps them alive."""
    inside = [node for node in ast.walk(function) if isinstance(node, ast.FunctionDef)]
    return {a.arg for each in inside for a in each.args.args}


def test_the_search_finds_what_it_looks_for():
    bad = ast.parse("def f():\n a = np.empty(9)\n p = (a.ctypes.data + 63) // 64\n store(p)").body[0]
    good = ast.parse("def f():\n a = np.empty(9)\n p = (a.ctypes.data + 63) // 64\n store(p)\n a[0] = 0").body[0]
    assert freed_too_early(bad) == [("a", "p", 3)]
    assert freed_too_early(good) == []


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_arrays_outlive_their_addresses(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef):
            assert freed_too_early(node) == [], f"{path.name}, {node.name}: numba frees the array while it is used"
