"""recall: the scenario from which a picture, a page or a file of echograms was made, and the files that it names."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from pingwright import files
from pingwright.echograms.file import read
from pingwright.echograms.reading import file_of
from pingwright.errors import EchogramError, Fault, ScenarioError
from pingwright.figures import embed
from pingwright.inputs.document import control_character, tables
from pingwright.inputs.files import FileRefusedError, inside
from pingwright.inputs.scenario import references
from pingwright.quantities import quoted

#: the name that `restore` gives a scenario, a claims file or a trip file
NAME = "recalled.toml"
#: allowed endings of a stored file: tables, meshes, and the scenario of a claims file
ENDINGS = frozenset({".csv", ".txt", ".dat", ".xyz", ".stl", ".obj", ".ply", ".toml"})


@dataclass(frozen=True)
class Recalled:
    """scenario: its TOML text; inputs: name -> bytes of the files that it names; missing: those not stored."""

    scenario: str
    inputs: Mapping[str, bytes] = field(default_factory=dict)
    missing: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all files that the scenario names."""
        return (*self.inputs, *self.missing)


def recall(path: Path) -> Recalled:
    """Return the source of a picture (PNG, SVG, PDF), page or echograms.h5.

    Raises EchogramError if the file holds no scenario that Pingwright wrote.
    """
    path = file_of(path)
    if path.suffix == ".h5":
        record = read(path)
        return Recalled(record.scenario, record.inputs)
    try:
        if not path.is_file():
            message = "does not exist" if not path.exists() else "is a folder" if path.is_dir() else "is not a file"
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
    shown = [*carried.scenario.split("\n"), *carried.inputs, *carried.missing]
    if any(control_character(text.removesuffix("\r")) for text in shown):
        message = f"{path}: the stored scenario holds control characters, so Pingwright did not write it."
        raise EchogramError(message)
    return Recalled(carried.scenario, carried.inputs, carried.missing)


def restore(recalled: Recalled, folder: Path) -> list[Path]:
    """Write a scenario and the files it refers to into a folder, so that it can be run again; return their paths.

    A picture may come from anyone. So only files that the scenario names are written, with endings of tables and
    meshes, inside the folder, and never over an existing file; all of them or none. Raises EchogramError for a name
    that cannot be used, ScenarioError for a file that exists, UnfinishedError if the disk refuses.
    """
    contents = {folder / NAME: recalled.scenario.encode()}
    for name, content in recalled.inputs.items():
        contents[_place(folder, name, _referred(recalled))] = content
    there = [path for path in contents if path.exists() or path.is_symlink()]
    if there:
        raise ScenarioError([Fault(str(path), 0, "", "already exists and is not overwritten") for path in there])
    written: list[Path] = []
    try:
        for path, content in contents.items():
            try:
                path.parent.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise files.unfinished(error, path) from error
            files.write_bytes(path, content)
            written.append(path)
    except BaseException:
        for path in written:
            path.unlink(missing_ok=True)
        raise
    return written


def _place(folder: Path, name: str, referred: frozenset[str]) -> Path:
    """Return the path of a stored file. Raises EchogramError if its name cannot be used."""
    try:
        path = inside(folder, name)
    except FileRefusedError as error:
        reason = str(error)
    else:
        hidden = any(part.startswith(".") for part in path.relative_to(folder).parts)
        if name in referred and not hidden and path.suffix.lower() in ENDINGS and path != folder / NAME:
            return path
        reason = (
            f"found {quoted(name)}; allowed: files that the scenario names, which end in {', '.join(sorted(ENDINGS))}"
        )
    message = f"a file stored in this picture has a name that cannot be used here: {reason}"
    raise EchogramError(message)


def _referred(recalled: Recalled) -> frozenset[str]:
    """Return the names of the files in the text of a scenario, a claims file or a trip."""
    try:
        data = tables(recalled.scenario)
        base = data.get("scenario")
        inner = recalled.inputs.get(base, b"").decode() if isinstance(base, str) else ""
        names = [name for one in (data, tables(inner)) for name, _ in references(one)]
    except ValueError:
        return frozenset()
    return frozenset([*names, base] if isinstance(base, str) else names)
