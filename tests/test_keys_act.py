"""Every key a user may write is read by what works with it: none is bounded, listed, taught and then left unused."""

import re
import sys
import tomllib
import warnings
from pathlib import Path
from typing import get_args

import pytest
from pingwright.inputs import claims, scenario, sweep, trip
from pingwright.inputs.fields import Section
from pingwright.measure.assess import assess
from pingwright.recording import in_memory, prepare
from pingwright.report import summary

sys.path.append(str(Path(__file__).parents[1] / "benchmarks"))
#: Keys that act within `inputs/` itself, or on the file alone, and why nothing else need read them.
ELSEWHERE = {
    ("ScenarioFile", "note"): "for people: it stays in the file's text",
    ("ScenarioFile", "passes"): "run.pipeline hands it to the passes, see the tests of passes",
    ("ScenarioFile", "units"): "the texts of pictures and summaries, by the stored text",
    ("Boat", "begin"): "export, by the stored text",
    ("Boat", "heading"): "export, by the stored text",
    ("Boat", "origin"): "export, by the stored text",
    ("Fish", "body"): "inputs fill the fish's other keys from it",
    ("School", "body"): "inputs fill the school's other keys from it",
    ("Fish", "density"): "inputs make it a count",
    **{(table, "file"): "inputs read the file" for table in ("Profile", "Grid", "Table", "PatternTable")},
    ("Pulse", "kind"): "says whether it is a chirp or a tone",
}
PACKAGE = Path(scenario.__file__).parents[1]
FACES = (
    '{ shape = "arc", radius = "6 cm", opening = "60 deg", width = "4 cm", shading = "cos2" }',
    '{ shape = "cap", radius = "6 cm", opening = "60 deg", shading = "cos2" }',
    '{ shape = "rectangle", along = "4 cm", across = "6 cm" }',
    '{ shape = "ellipse", along = "4 cm", across = "6 cm" }',
    '{ shape = "discs", diameter = "2 cm", centres = [[0, 0, 0], [0.03, 0, 0]], weights = [1, 0.5], delays = [0, 0] }',
    '{ shape = "table", file = "pattern.csv" }',
)
BODIES = (
    '{ kind = "box", length = "2 m", width = "1 m", height = "1 m" }',
    '{ kind = "cylinder", length = "2 m", diameter = "1 m" }',
    '{ kind = "hull", length = "6 m", width = "2 m", height = "1 m", list = "10 deg", broken = true }',
    '{ kind = "mesh", file = "thing.stl", unit = "m" }',
)


def sections(kind, seen=None):
    """Return every table's class that a class of tables leads to."""
    seen = set() if seen is None else seen
    stack = [kind]
    while stack:
        one = stack.pop()
        if isinstance(one, type) and issubclass(one, Section):
            if one not in seen:
                seen.add(one)
                stack += [field.annotation for field in one.model_fields.values()]
        else:
            stack += get_args(one)
    return seen


@pytest.fixture
def read(monkeypatch):
    """(class, key) of what is read outside of `inputs/`, while the test runs."""
    found = set()

    def spy(self, name):
        if name in type(self).model_fields and not sys._getframe(1).f_globals["__name__"].startswith(
            ("pingwright.inputs", "pydantic")
        ):
            found.update((one.__name__, name) for one in type(self).__mro__)
        return object.__getattribute__(self, name)

    monkeypatch.setattr(Section, "__getattribute__", spy)
    return found


def rich():
    import fuzz_kinds

    return scenario.changed(fuzz_kinds.rich(), {"boat.pings": 1, "passes": None})


def others():
    """Yield changes, and the files they name, that bring in the tables which the rich scene leaves out."""
    import fuzz_inputs

    for face in FACES:
        yield {"element.1.face": tomllib.loads(f"a = {face}")["a"]}, {"pattern.csv": fuzz_inputs.pattern_csv()}
    for shape in BODIES:
        yield (
            {"structure.1.shape": tomllib.loads(f"a = {shape}")["a"]},
            {"thing.stl": fuzz_inputs.mesh_stl()},
        )
    yield {"seabed.depth": "20 m", "fish.1.where": {"depth": "4 m", "x": "0 m", "y": "0 m"}}, {}
    yield {"seabed.grid": "bottom.csv"}, {"bottom.csv": fuzz_inputs.grid_csv()}
    deep = {"water.temperature": None, "water.salinity": None, "water.profile": "water.csv"}
    yield deep, {"water.csv": fuzz_inputs.profile_csv()}


def test_every_key_of_a_scenario_is_read(read):
    warnings.simplefilter("ignore")
    record = in_memory(prepare(rich()), threads=1)
    found = assess(record)
    summary.as_text(record, found, "")
    wanted = {(kind.__name__, key) for kind in sections(scenario.ScenarioFile) for key in kind.model_fields}
    for changes, files in others():
        prepare(scenario.changed(rich().model_copy(update={"inputs": files}), changes))
    assert sorted(wanted - read - set(ELSEWHERE)) == []
    assert sorted(set(ELSEWHERE) & read) == [], "listed as read nowhere else, and is"


@pytest.mark.parametrize("root", [claims.ClaimsFile, trip.Trip, sweep.SweepFile], ids=lambda root: root.__name__)
def test_every_key_of_claims_trips_and_sweeps_is_named_outside_of_the_schemas(root):
    """Weaker than the test of scenarios: the name of the key is looked for, not its use."""
    modules = (path for path in PACKAGE.rglob("*.py") if "inputs" not in path.parts)
    text = "\n".join(path.read_text(encoding="utf-8") for path in modules)
    own = [
        (kind.__name__, key) for kind in sections(root) - sections(scenario.ScenarioFile) for key in kind.model_fields
    ]
    assert own
    assert [one for one in own if not re.search(rf'\.{one[1]}\b|"{one[1]}"', text)] == []
