"""What nothing in the package uses is left out of it: a test alone keeps no function alive."""

import ast
import re
from collections import Counter
from pathlib import Path

PACKAGE = Path(__file__).resolve().parents[1] / "simulator" / "pingwright"

#: Names that nothing in the package says, and why they stay.
KEPT = {
    "noise_plain": "the plain version that judges a compiled kernel",
    "spread_plain": "the plain version that judges a compiled kernel",
    "absorber_path": "the plain version that judges a compiled kernel",
    "_LanesModel": "numba finds it by its decorator",
    "_index_key": "numba calls it",
    "to_frame": "for users of Python",
    "refilter": "for users of Python",
    "_repr_html_": "notebooks call it",
    "set_default_headers": "the server's library calls it",
    "write_error": "the server's library calls it",
    "check_origin": "the server's library calls it",
    "on_message": "the server's library calls it",
}
#: A validator of an input is called by the schema library.
VALIDATORS = {"field_validator", "model_validator"}


def decorators(node):
    return {name.id for mark in node.decorator_list for name in ast.walk(mark) if isinstance(name, ast.Name)}


def defined(tree):
    """Every function, class and constant of a module, and every method of its classes."""
    for node in tree.body:
        if isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            yield from (target.id for target in targets if isinstance(target, ast.Name))
        elif isinstance(node, ast.FunctionDef | ast.ClassDef):
            inner = [n for n in node.body if isinstance(n, ast.FunctionDef)] if isinstance(node, ast.ClassDef) else []
            yield from (n.name for n in [node, *inner] if not decorators(n) & VALIDATORS)


def said(tree):
    """Every name that a module uses; short strings count, for what is looked up by its name."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
            yield node.id
        elif isinstance(node, ast.Attribute):
            yield node.attr
        elif isinstance(node, ast.alias):
            yield node.name.split(".")[-1]
        elif isinstance(node, ast.keyword) and node.arg:
            yield node.arg
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and len(node.value) < 80:
            yield from re.findall(r"\w+", node.value)


def test_everything_in_the_package_is_used_by_it():
    trees = {path: ast.parse(path.read_text(encoding="utf-8")) for path in sorted(PACKAGE.rglob("*.py"))}
    words = Counter(name for tree in trees.values() for name in said(tree))
    unused = {
        (path.relative_to(PACKAGE).as_posix(), name)
        for path, tree in trees.items()
        for name in defined(tree)
        if not words[name] and not name.startswith("__")
    }
    assert sorted(row for row in unused if row[1] not in KEPT) == []
    assert set(KEPT) == {name for _, name in unused}
