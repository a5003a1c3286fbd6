"""examples: scenarios and notebooks that come with the program, copied where a user can change them.

They are in `scenarios/` of the source tree; an installed package holds them as data under share/pingwright.
"""

import sysconfig
from importlib import metadata
from pathlib import Path

from pingwright import files
from pingwright.errors import Fault, ScenarioError, UnfinishedError

#: Folder of the examples in an installed package, below the folder for data; and the suffixes of files to copy.
SHARED = "share/pingwright/scenarios"
SUFFIXES = frozenset({".toml", ".csv", ".ipynb"})


def source() -> Path:
    """Return the folder with the examples: that of the source tree, or that of the installed package.

    Raises UnfinishedError if neither exists.
    """
    package = Path(__file__).resolve().parents[1]
    tree = package.parents[1]
    if (tree / "pyproject.toml").is_file() and (tree / "scenarios").is_dir():
        return tree / "scenarios"
    for folder in (*_recorded(), Path(sysconfig.get_path("data")) / SHARED, package.parent / SHARED):
        if folder.is_dir():
            return folder.resolve()
    message = "The examples are not in this installation. Install the package again with `pip install` to get them."
    raise UnfinishedError(message)


def _recorded() -> list[Path]:
    """Return the folder that the installer recorded, for any kind of installation."""
    try:
        listed = metadata.files(files.PROGRAM) or []
    except metadata.PackageNotFoundError:
        return []
    placed = (Path(str(one.locate())) for one in listed if one.parent.as_posix().endswith(SHARED))
    return [path.parent for path in placed][:1]


def names(folder: Path) -> list[Path]:
    """Return the examples in a folder, relative to it, in order."""
    result = (path.relative_to(folder) for path in folder.rglob("*") if path.suffix in SUFFIXES and path.is_file())
    return sorted(path for path in result if not any(part.startswith(".") for part in path.parts))


def copy(target: Path) -> list[Path]:
    """Copy all examples into a folder, which is made, and return the paths of the copies.

    An unchanged copy that is already there stays. Raises ScenarioError, before anything is written, if a file with such
    a name holds something else; UnfinishedError if the disk refuses.
    """
    origin = source()
    chosen = names(origin)
    changed = [name for name in chosen if _differs(origin / name, target / name)]
    if changed:
        first = ", ".join(name.as_posix() for name in changed[:3])
        more = f" and {len(changed) - 3} more" if len(changed) > 3 else ""
        message = (
            f"already holds other files with these names: {first}{more}. Nothing was copied; choose another folder"
        )
        raise ScenarioError([Fault(str(target), 0, "", message)])
    for name in chosen:
        try:
            (target / name).parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise files.unfinished(error, target) from error
        if not (target / name).exists():
            files.copy(origin / name, target / name)
    return [target / name for name in chosen]


def _differs(origin: Path, copied: Path) -> bool:
    """Return whether something else than the example is at the place of its copy."""
    if not (copied.exists() or copied.is_symlink()):
        return False
    return not copied.is_file() or files.digest(copied) != files.digest(origin)
