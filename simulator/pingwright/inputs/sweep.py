"""The sweep file: a scenario, what is varied in it, the seeds, and what is kept of each scene."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, ValidationError

from pingwright.errors import Fault, ScenarioError
from pingwright.inputs import scenario
from pingwright.inputs.document import Document, read_document
from pingwright.inputs.fields import Name, Section
from pingwright.inputs.files import FileRefusedError, base_refused, read_file, reader
from pingwright.inputs.kinds import expect
from pingwright.inputs.scenario import LARGEST_SEED, Note, Scenario, Title
from pingwright.inputs.wording import faults_of
from pingwright.quantities import QuantityError, kind_of_value

MOST_SEEDS = 10_000
TOGETHER = "together"


def _seeds(value: object) -> object:
    """Accept a number of seeds, or a list of them."""
    if isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= MOST_SEEDS:
        return value
    if isinstance(value, (list, tuple)) and 1 <= len(value) <= MOST_SEEDS:
        whole = all(isinstance(one, int) and not isinstance(one, bool) and 0 <= one <= LARGEST_SEED for one in value)
        if whole and len(set(value)) == len(value):
            return tuple(value)
    message = (
        f"found {kind_of_value(value)}; allowed: how many (1 to {MOST_SEEDS}), or a list of different seeds from 0 to"
        f" {LARGEST_SEED}"
    )
    raise QuantityError(message)


class SweepKeys(Section):
    """The keys a sweep file may hold.

    seeds: how many, from the scenario's own on, or a list of them. vary: dotted key -> list of values, every
    combination of them; under vary.together lists of the same length that change together.
    """

    title: Title
    note: Note = ""
    scenario: Name
    seeds: Annotated[int | tuple[int, ...], BeforeValidator(_seeds)] = 1
    keep: Literal["numbers", "echograms"] = "numbers"
    vary: dict[str, Any]


class SweepFile(SweepKeys):
    """A sweep with its base scenario; grid: keys of `vary` that make a grid, together: those that change together."""

    base: Scenario
    name: str = ""

    @property
    def grid(self) -> dict[str, Any]:
        """Dotted key -> values, every combination."""
        return {key: values for key, values in self.vary.items() if key != TOGETHER}

    @property
    def together(self) -> dict[str, Any]:
        """Dotted key -> values that change together."""
        return dict(self.vary.get(TOGETHER, {}))


def load(path: str | Path) -> SweepFile:
    """Return the sweep of a file with its scenario and every file that one names. Raises ScenarioError."""
    path = Path(path)
    document = read_document(read_file(path, "scenario"), path.name)
    return _validated(document, reader(path.parent))


def _validated(document: Document, read: Any) -> SweepFile:
    expect("sweep", document)
    faults: list[Fault] = []
    filed = None
    try:
        filed = SweepKeys.model_validate(document.data)
    except ValidationError as error:
        faults += faults_of(error, document, SweepKeys, document.data)
    base = _base(document, read, faults)
    lists = list(_lists(document.data.get("vary"), document, faults))
    if base is not None:
        faults += [fault for path, values in lists for fault in _key_faults(base, path, values, document)]
    if filed is None or base is None or faults:
        raise ScenarioError(sorted(faults, key=lambda fault: (fault.file != document.name, fault.line)))
    values = {key: getattr(filed, key) for key in SweepKeys.model_fields}
    return SweepFile.model_construct(**values, base=base, name=document.name)


def _base(document: Document, read: Any, faults: list[Fault]) -> Scenario | None:
    """Return the base scenario, or None with its faults added."""
    name = document.data.get("scenario")
    if not isinstance(name, str):
        return None
    try:
        inner = read_document(read(name, "scenario"), name)
        files_ = scenario.named_files(inner.data, read)
        return scenario.parse(inner.text, name, files_)
    except FileRefusedError as error:
        faults.append(document.fault(("scenario",), base_refused(error, name)))
    except ScenarioError as error:
        faults.extend(error.faults)
    return None


def _lists(vary: object, document: Document, faults: list[Fault]) -> Iterator[tuple[tuple[str, ...], list[Any]]]:
    """Yield key path and values of every varied key; what is no list is added to the faults."""
    if not isinstance(vary, Mapping):
        return
    if not vary:
        faults.append(document.fault(("vary",), "found no key; allowed: at least one, with a list of values"))
    for key, values in vary.items():
        inner = values.items() if key == TOGETHER and isinstance(values, Mapping) else ((key, values),)
        for name, row in inner:
            path = ("vary", TOGETHER, name) if key == TOGETHER and inner is not values else ("vary", name)
            if isinstance(row, list) and row:
                yield path, row
            else:
                hint = '; a dotted key needs quotes: "seabed.depth"' if isinstance(row, Mapping) else ""
                words = f"found {kind_of_value(row)}; allowed: a list of at least one value{hint}"
                faults.append(document.fault(path, words))


def _key_faults(base: Scenario, path: tuple[str, ...], values: list[Any], document: Document) -> list[Fault]:
    """Return what is wrong with a key of which no value will do alone; a single refused value is a row of failures."""
    if path[1] == TOGETHER:  # its keys may need each other
        return []
    key, last = path[-1], None
    if key.rsplit(".", 1)[-1] == "name":
        return [document.fault(path, "a name cannot be varied: the results are stored under it")]
    for value in values:
        try:
            scenario.changed(base, {key: value})
        except ScenarioError as error:
            last = error
        else:
            return []
    return [document.fault(path, _told(fault, key)) for fault in last.faults] if last else []


def _told(fault: Fault, key: str) -> str:
    return fault.message if fault.path in {key, ""} else f"{fault.path}: {fault.message}"
