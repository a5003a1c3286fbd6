"""recall: the scenario a picture, a page or a file of echograms was made from."""

from dataclasses import dataclass
from pathlib import Path

from simulator.echograms.file import read
from simulator.errors import EchogramError
from simulator.figures import embed


@dataclass(frozen=True)
class Recalled:
    """scenario: its TOML text; names: of the files it refers to."""

    scenario: str
    names: tuple[str, ...]


def recall(path: Path) -> Recalled:
    """Return what a picture (PNG, SVG, PDF), page or echograms.h5 was made from.

    Raises EchogramError where the file holds no scenario of ours.
    """
    if path.suffix == ".h5":
        record = read(path)
        return Recalled(record.scenario, tuple(record.inputs))
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
    return Recalled(carried.scenario, (*carried.inputs, *carried.missing))
