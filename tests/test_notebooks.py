"""The lessons run from the first cell to the last, warnings as errors, draw their figures and store nothing."""

import json
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

FOLDER = Path(__file__).resolve().parents[1] / "scenarios" / "notebooks"
NAMES = sorted(path.name for path in FOLDER.glob("*.ipynb"))
FRESH = "%reset -f\nimport warnings\nwarnings.simplefilter('error')"


@pytest.fixture(scope="module")
def outputs():
    """Outputs of every code cell by notebook: one kernel runs them all, its names forgotten in between."""
    whole, begins = nbformat.v4.new_notebook(), {}
    for name in NAMES:
        begins[name] = len(whole.cells) + 1
        whole.cells += [nbformat.v4.new_code_cell(FRESH), *nbformat.read(FOLDER / name, 4).cells]
    NotebookClient(whole, timeout=120, allow_errors=True, resources={"metadata": {"path": str(FOLDER)}}).execute()
    ends = [*list(begins.values())[1:], len(whole.cells) + 1]
    return {
        name: [cell.outputs for cell in whole.cells[first : end - 1] if cell.cell_type == "code"]
        for (name, first), end in zip(begins.items(), ends, strict=True)
    }


@pytest.mark.parametrize("name", NAMES)
def test_a_lesson_runs_and_draws(outputs, name):
    shown = [output for cell in outputs[name] for output in cell]
    errors = [f"{one.ename}: {one.evalue}" for one in shown if one.output_type == "error"]
    assert not errors
    assert not [one.text for one in shown if one.output_type == "stream" and one.name == "stderr"]
    assert sum("image/png" in one.get("data", {}) for one in shown) >= 2


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
