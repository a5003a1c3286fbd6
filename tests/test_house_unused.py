"""What nothing in the package uses is left out of it: a test alone keeps no function alive.

Published formulas are for users as well, so those that run nowhere else are none of this test's business. Their rows
are loaded by the name of their module.
"""

import ast
import re
from collections import defaultdict
from pathlib import Path

SOURCE = Path(__file__).resolve().parents[1] / "simulator"
TREES = {
    ".".join(path.relative_to(SOURCE).with_suffix("").parts).removesuffix(".__init__"): ast.parse(
        path.read_text(encoding="utf-8")
    )
    for path in sorted((SOURCE / "pingwright").rglob("*.py"))
}

#: Names that nothing in the package says, and why they stay.
KEPT = {
    "pingwright.engine.kernels.noise.noise_plain": "the plain version that judges a compiled kernel",
    "pingwright.engine.kernels.plain.cells_plain": "the plain version that judges a compiled kernel",
    "pingwright.engine.kernels.plain.thin_plain": "the plain version that judges a compiled kernel",
    "pingwright.engine.kernels.plain.spread_plain": "the plain version that judges a compiled kernel",
    "pingwright.engine.kernels.hiding.absorber_path": "the plain version that judges a compiled kernel",
    "pingwright.echograms.levels.unpack": "the plain version that judges a compiled kernel",
    "pingwright.inputs.claims.parse": "claims as a text, beside the other kinds of input",
    "pingwright.engine.kernels.vectors._LanesModel": "numba finds it by its decorator",
}
#: Methods that others call: numba, notebooks, users of Python, the server's library.
CALLED = {
    "_index_key", "_repr_html_", "to_frame", "refilter", "set_default_headers", "write_error", "check_origin",
    "on_message", "simulate", "component", "to_xarray", "ts", "sv",
}  # fmt: skip
#: Called by the schema library.
VALIDATORS = {"field_validator", "model_validator"}


def modules_by_name(tree):
    """The modules that a name may mean anywhere in a module; a name may be given twice, in two functions."""
    meant = defaultdict(set)
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            for one in node.names:
                meant[one.asname or one.name].add(f"{node.module}.{one.name}")
    return meant


def used_in(name, tree):
    """Full names of what a module uses, of its own and of others; imported is used."""
    meant = modules_by_name(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            yield from (f"{node.module}.{one.name}" for one in node.names)
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
            yield f"{name}.{node.id}"
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and len(node.value) < 80:
            yield from (f"{name}.{word}" for word in re.findall(r"\w+", node.value))  # quoted annotations
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            yield from (f"{module}.{node.attr}" for module in meant[node.value.id])


def named(body):
    for node in body:
        if isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            yield from (target.id for target in targets if isinstance(target, ast.Name))
        elif isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node.name


def test_everything_in_the_package_is_used_by_it():
    used = {full for name, tree in TREES.items() for full in used_in(name, tree)}
    defined = {
        f"{name}.{own}"
        for name, tree in TREES.items()
        for own in named(tree.body)
        if not own.startswith("__") and not re.search(r"\.acoustics|\.rows\.", name)
    }
    assert sorted(defined - used - set(KEPT)) == []
    assert sorted(set(KEPT) - (defined - used)) == []


def test_every_method_is_called():
    attributes = {n.attr for tree in TREES.values() for n in ast.walk(tree) if isinstance(n, ast.Attribute)}
    attributes |= {n.arg for tree in TREES.values() for n in ast.walk(tree) if isinstance(n, ast.keyword)}
    methods = {
        method.name
        for tree in TREES.values()
        for owner in ast.walk(tree)
        if isinstance(owner, ast.ClassDef)
        for method in owner.body
        if isinstance(method, ast.FunctionDef)
        and not method.name.startswith("__")
        and not VALIDATORS & {n.id for mark in method.decorator_list for n in ast.walk(mark) if isinstance(n, ast.Name)}
    }
    assert methods - attributes == CALLED
