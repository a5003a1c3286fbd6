"""The scenario: its schema, and how it is loaded, written and changed."""

import contextlib
import tomllib
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError

from pingwright.errors import Fault, ScenarioError
from pingwright.inputs import catalogue
from pingwright.inputs.bodies import Fish, Label, ScatteringLayer, School, Structure, Target
from pingwright.inputs.changing import edited, with_changes
from pingwright.inputs.document import Document, dotted, read_document
from pingwright.inputs.elements import Element, merged
from pingwright.inputs.fields import Section, Text, Whole
from pingwright.inputs.files import FileRefusedError, read_file, reader
from pingwright.inputs.kinds import expect
from pingwright.inputs.sections import Boat, Noise, Reverberation, Seabed, Water, Window
from pingwright.inputs.wording import faults_of
from pingwright.inputs.writing import toml_text
from pingwright.quantities import quoted

MOST_ELEMENTS = 16
MOST_GROUPS = 200
LARGEST_SEED = 2**63 - 1

Title = Annotated[str, Text(200)]
Note = Annotated[str, Text(10_000, many=True, empty=True)]
Seed = Annotated[int, Whole(0, LARGEST_SEED)]
MOST_PASSES = 4096
Units = Literal["m", "ft", "fathoms"]
Groups = Field(max_length=MOST_GROUPS)


class ScenarioFile(Section):
    """The keys a scenario file may hold, all values in SI units (angles deg, degC, g/kg, levels dB).

    units: what pictures, pages and summaries show first. passes: fresh passes over the scene's fish, for probabilities
    (None: the one pass that is drawn).
    """

    title: Title
    note: Note = ""
    units: Units = "m"
    seed: Seed = 0
    passes: Annotated[int, Whole(1, MOST_PASSES)] | None = None
    water: Water
    boat: Boat = Boat()
    window: Window = Window()
    element: Annotated[tuple[Element, ...], Field(max_length=MOST_ELEMENTS)]
    seabed: Seabed
    structure: Annotated[tuple[Structure, ...], Groups] = ()
    fish: Annotated[tuple[Fish, ...], Groups] = ()
    school: Annotated[tuple[School, ...], Groups] = ()
    scattering_layer: Annotated[tuple[ScatteringLayer, ...], Groups] = ()
    target: Annotated[tuple[Target, ...], Groups] = ()
    label: Annotated[tuple[Label, ...], Groups] = ()
    noise: Noise = Noise()
    reverberation: Reverberation = Reverberation()


class Scenario(ScenarioFile):
    """A scenario with what it was read from.

    text: the TOML; name: the file's name; inputs: the bytes of every file it names. Two scenarios are equal when all
    but text and name are.
    """

    text: Annotated[str, Field(exclude=True, repr=False)] = ""
    name: Annotated[str, Field(exclude=True)] = ""
    inputs: Annotated[Mapping[str, bytes], Field(exclude=True, repr=False)] = {}

    def __eq__(self, other: object) -> bool:
        """Return whether everything but text and name is the same."""
        if not isinstance(other, Scenario):
            return NotImplemented
        keys = [*ScenarioFile.model_fields, "inputs"]
        return all(getattr(self, key) == getattr(other, key) for key in keys)

    __hash__ = None  # type: ignore[assignment]


def load(path: str | Path) -> Scenario:
    """Return the scenario of a file, with every file it names. Raises ScenarioError with all faults."""
    path = Path(path)
    document = read_document(read_file(path, "scenario"), path.name)
    return _validated(document, named_files(document.data, reader(path.parent)))


def parse(text: str, name: str = "scenario.toml", files: Mapping[str, bytes | str] | None = None) -> Scenario:
    """Return the scenario of a text. Raises ScenarioError with all faults.

    files: the bytes of every file it names, or the reason why it is refused as a text.
    """
    return _validated(read_document(text, name), files or {})


def to_toml(scenario: Scenario) -> str:
    """Return a scenario as TOML with every default written out; parsing it with the same files gives an equal one."""
    comments = {"seabed": _sediments_in_words(scenario)}
    return toml_text(tables(scenario), comments)


def tables(scenario: ScenarioFile) -> dict[str, Any]:
    """Return a scenario as nested tables of texts with units, as a file would hold them."""
    written = scenario.model_dump(mode="json", exclude_none=True)
    return {key: value for key, value in written.items() if value != []}


def changed(scenario: Scenario, changes: Mapping[str, Any]) -> Scenario:
    """Return a scenario with keys set by dotted paths: `element.narrow high.power`, `seabed.layer.1.sediment`.

    Values are as a file holds them; numbers may be numpy's; None leaves a key out, so that its default holds. The
    change is made in what the user wrote, and the new text reads as the new scenario. Meant for scenarios as loaded:
    what `world.resolve` has filled in does not follow a change. Raises ScenarioError whose faults name the dotted keys.
    """
    text = _as_written(scenario)
    if not changes and text == scenario.text:
        return scenario
    data, wrong = with_changes(tomllib.loads(text), changes)
    if wrong:
        raise ScenarioError([Fault(scenario.name, 0, key[:200], message) for key, message in wrong.items()])
    new = _validated(Document(scenario.name, "", data), scenario.inputs)
    return new.model_copy(update={"text": edited(text, changes)})


def _as_written(scenario: Scenario) -> str:
    """Return the text of a scenario: the user's own, or one written from its values where they have changed since."""
    if scenario.text:
        with contextlib.suppress(ScenarioError):
            if parse(scenario.text, scenario.name, scenario.inputs) == scenario:
                return scenario.text
    return to_toml(scenario)


def _sediments_in_words(scenario: ScenarioFile) -> str:
    """Return the catalogue's numbers for each sediment of the seabed: a comment for whoever reads the text later."""
    entries = catalogue.of("sediments")
    used = dict.fromkeys(layer.sediment for layer in scenario.seabed.layer)
    return "\n".join(f"{name}: " + _in_words(entries[name]) for name in used)


def _in_words(row: Mapping[str, Any]) -> str:
    return ", ".join(f"{key} {value}" for key, value in row.items() if value is not None)


def references(data: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Yield (file name, kind of file) for every file a scenario's tables name."""
    water, seabed = data.get("water"), data.get("seabed")
    if isinstance(water, Mapping) and isinstance(water.get("profile"), str):
        yield water["profile"], "profile"
    if isinstance(seabed, Mapping) and isinstance(seabed.get("grid"), str):
        yield seabed["grid"], "bottom grid"
    for group, key, kind in (("element", "face", "pattern table"), ("structure", "shape", "mesh")):
        rows = data.get(group)
        for row in rows if isinstance(rows, list) else ():
            part = row.get(key) if isinstance(row, Mapping) else None
            if isinstance(part, Mapping) and isinstance(part.get("file"), str):
                yield part["file"], kind


def named_files(data: Mapping[str, Any], read: Callable[[str, str], bytes]) -> dict[str, bytes | str]:
    """Return the bytes of every named file; where one is refused, the reason as a text."""
    result: dict[str, bytes | str] = {}
    for name, kind in references(data):
        if name not in result:
            try:
                result[name] = read(name, kind)
            except FileRefusedError as error:
                result[name] = str(error)
    return result


def _validated(document: Document, files: Mapping[str, bytes | str]) -> Scenario:
    expect("scenario", document)
    data = _completed(document.data)
    faults = _names(data, document)
    filed = None
    try:
        filed = ScenarioFile.model_validate(data, context={"files": files})
    except ValidationError as error:
        faults += faults_of(error, document, ScenarioFile, data)
    if faults or filed is None:
        raise ScenarioError(sorted(faults, key=lambda fault: (fault.file != document.name, fault.line)))
    used = {name: content for name, _ in references(data) if isinstance(content := files[name], bytes)}
    values = {key: getattr(filed, key) for key in ScenarioFile.model_fields}
    return Scenario.model_construct(**values, text=document.text, name=document.name, inputs=used)


def _completed(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return a scenario's tables with the catalogue entries of `use` and `body` under the keys given."""
    new = dict(data)
    for group, complete in (("element", merged), ("fish", embodied), ("school", embodied)):
        rows = new.get(group)
        if isinstance(rows, list):
            new[group] = [complete(row) for row in rows]
    return new


def embodied(group: object) -> object:
    """Return a table of fish with the body plan of `body` under the keys given."""
    if not isinstance(group, dict) or not isinstance(group.get("body"), str):
        return group
    entry = catalogue.fish().get(group["body"])
    return {**entry.keys, **group} if entry is not None else group


def _names(data: Mapping[str, Any], document: Document) -> list[Fault]:
    """Return faults of the elements as a list: none at all, or two of one name."""
    rows = data.get("element")
    if not isinstance(rows, list):
        return []
    if not rows:
        return [document.fault(("element",), "found no element; allowed: at least one [[element]]")]
    seen: dict[str, int] = {}
    faults = []
    for number, row in enumerate(rows):
        name = row.get("name") if isinstance(row, Mapping) else None
        if isinstance(name, str) and name in seen:
            message = f"found {quoted(name)} again; {dotted(('element', seen[name]))} has this name already"
            faults.append(document.fault(("element", number, "name"), message))
        elif isinstance(name, str):
            seen[name] = number
    return faults
