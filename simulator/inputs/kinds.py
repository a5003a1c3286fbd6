"""Which kind of input file a TOML file is, told by the tables it holds."""

from pathlib import Path

from simulator.inputs.document import read_document
from simulator.inputs.files import read_file


def kind_of(path: str | Path) -> str:
    """Return "scenario", "claims" or "trip". Raises ScenarioError where the file is no TOML text.

    A claims file has [[claim]], a trip file [[quarry]] or [day]; all else is taken for a scenario, whose loader then
    says what is missing.
    """
    path = Path(path)
    data = read_document(read_file(path, "scenario"), path.name).data
    if "claim" in data:
        return "claims"
    return "trip" if "quarry" in data or "day" in data else "scenario"
