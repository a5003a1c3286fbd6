"""recall: the scenario a picture, a page or a file of echograms was made from, and the files it refers to."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from pingwright import files
from pingwright.echograms.file import read
from pingwright.errors import EchogramError, Fault, ScenarioError
from pingwright.figures import embed
from pingwright.inputs.files import FileRefusedError, inside

#: the name a scenario gets where `restore` writes it; a claims or trip file likewise
NAME = "recalled.toml"


@dataclass(frozen=True)
class Recalled:
    """scenario: its TOML text; inputs: name -> bytes of the files it refers to; missing: those not carried."""

    scenario: str
    inputs: Mapping[str, bytes] = field(default_factory=dict)
    missing: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all files the scenario refers to."""
        return (*self.inputs, *self.missing)


def recall(path: Path) -> Recalled:
    """Return what a picture (PNG, SVG, PDF), page or echograms.h5 was made from.

    Raises EchogramError where the file holds no scenario of ours.
    """
    if path.suffix == ".h5":
        record = read(path)
        return Recalled(record.scenario, record.inputs)
    try:
        if not path.is_file():
            message = "is not there" if not path.exists() else "is a folder" if path.is_dir() else "is not a file"
            raise EchogramError(message)
        with path.open("rb") as file:
            data = file.read(embed.READ_LIMIT + 1)
        carried = embed.read(data)
    except OSError as error:
        message = f"{path} cannot be read: {error.strerror}."
        raise EchogramError(message) from error
    except EchogramError as error:
        message = f"{path}: {error}."
        raise EchogramError(message) from error
    return Recalled(carried.scenario, carried.inputs, carried.missing)


def restore(recalled: Recalled, folder: Path) -> list[Path]:
    """Write a scenario and the files it refers to into a folder, so that it can be run again; return their paths.

    A picture may come from anyone: names that leave the folder are refused, and nothing there is written over. Raises
    EchogramError for such a name, ScenarioError for a file that exists, UnfinishedError where the disk refuses.
    """
    wanted = {folder / NAME: recalled.scenario.encode()}
    for name, content in recalled.inputs.items():
        try:
            wanted[inside(folder, name)] = content
        except FileRefusedError as error:
            message = f"a file this picture carries has a name that cannot be used here: {error}"
            raise EchogramError(message) from error
    there = [path for path in wanted if path.exists()]
    if there:
        raise ScenarioError([Fault(str(path), 0, "", "exists already and is not overwritten") for path in there])
    for path, content in wanted.items():
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise files.unfinished(error, path) from error
        files.write_bytes(path, content)
    return list(wanted)
