"""The lessons run from the first cell to the last, warnings as errors, draw their figures and store nothing."""

import ast
import io
import json
import warnings
from pathlib import Path

import matplotlib.pyplot as plt
import nbformat
import pytest

FOLDER = Path(__file__).resolve().parents[1] / "scenarios" / "notebooks"
NAMES = sorted(path.name for path in FOLDER.glob("*.ipynb"))


def shown(cell, names):
    """Run a cell and return the value of its last line as a notebook shows it; None if it has none."""
    *lines, last = ast.parse(cell).body
    if not isinstance(last, ast.Expr):
        lines, last = [*lines, last], None
    exec(compile(ast.Module(lines, []), "cell", "exec"), names)
    value = last and eval(compile(ast.Expression(last.value), "cell", "eval"), names)
    return value._repr_html_() if hasattr(value, "_repr_html_") else value


@pytest.mark.parametrize("name", NAMES)
def test_a_lesson_runs_and_draws(name, monkeypatch, capsys):
    """As a notebook runs it, but in this process, which has loaded the engine already: one cell after the other."""
    monkeypatch.chdir(FOLDER)
    plt.switch_backend("agg")
    names, pictures = {"__name__": "__main__"}, 0
    for cell in nbformat.read(name, 4).cells:
        if cell.cell_type != "code":
            continue
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            shown(cell.source, names)
            for number in plt.get_fignums():
                plt.figure(number).savefig(io.BytesIO(), format="png", dpi=40)
                plt.close(number)
                pictures += 1
    assert pictures >= 2
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("name", NAMES)
def test_a_lesson_is_light_and_says_what_it_is(name):
    data = json.loads((FOLDER / name).read_text(encoding="utf-8"))
    nbformat.validate(data)
    code = [cell for cell in data["cells"] if cell["cell_type"] == "code"]
    assert all(cell["outputs"] == [] and cell["execution_count"] is None for cell in code), "no outputs are stored"
    assert (FOLDER / name).stat().st_size < 12_000
    assert sum("assert " in "".join(cell["source"]) for cell in code) >= 1, "it checks its own numbers"
    assert "not for navigation" in "".join(data["cells"][-1]["source"])


def test_there_are_six():
    assert [name[0] for name in NAMES] == list("123456")
