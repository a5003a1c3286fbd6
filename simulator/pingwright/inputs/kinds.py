"""Which kind of input file a TOML file is, by the tables it holds."""

from pathlib import Path

from pingwright.errors import Fault, ScenarioError
from pingwright.inputs.document import Document, read_document
from pingwright.inputs.files import read_file
from pingwright.inputs.first_edition import TRIP_KEYS


def kind_of(path: str | Path) -> str:
    """Return "scenario", "claims", "trip" or "sweep". Raises ScenarioError where the file is no TOML text.

    A claims file has [[claim]], a trip file [[species]] or [day], a sweep [vary]; all else is taken for a scenario,
    whose loader then says what is missing.
    """
    path = Path(path)
    return _by_tables(read_document(read_file(path, "scenario"), path.name)) or "scenario"


def expect(kind: str, document: Document) -> None:
    """Raise ScenarioError with one fault where a document is plainly of another kind than the one asked for."""
    result = _by_tables(document)
    if result and result != kind:
        command, does = _COMMANDS[result]
        message = f"is a {result} file, not a {kind} file; `pingwright {command}` {does}"
        raise ScenarioError([Fault(document.name, 0, "", message)])


_COMMANDS = {
    "scenario": ("run", "simulates it"),
    "claims": ("claims", "tests it"),
    "trip": ("match", "ranks elements for it"),
    "sweep": ("sweep", "simulates its scenes"),
}


def _by_tables(document: Document) -> str:
    """Return the kind that a document's tables show, or "" where they show none."""
    data = document.data
    if "claim" in data:
        return "claims"
    if "day" in data or any(key in data for key in TRIP_KEYS):
        return "trip"
    if "vary" in data:
        return "sweep"
    return "scenario" if "water" in data and "seabed" in data else ""
