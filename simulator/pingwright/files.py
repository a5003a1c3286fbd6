"""Files that are written completely or not at all, and folders to which only one run at a time writes."""

import errno
import json
import os
import re
import sys
from collections.abc import Collection, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from pingwright.errors import Fault, ScenarioError, UnfinishedError

#: Every unfinished file of ours starts with this, followed by its later name (with the same suffix).
PART = ".pingwright-part."
LOCK = ".pingwright-lock"
PROGRAM = "pingwright"

#: The file that is written last in each kind of results; it holds `"program": "pingwright"`.
CLOSING = ("summary.json", "claims.json", "match.json", "ask.json", "sweep.json", "validation.json")

REASONS = {
    errno.ENOSPC: "there is no room left on the disk",
    errno.EDQUOT: "your disk quota is used up",
    errno.EACCES: "permission denied",
    errno.EPERM: "permission denied",
    errno.EROFS: "this disk is read-only",
    errno.ENOENT: "there is no such folder",
    errno.ENOTDIR: "part of the path is a file, not a folder",
    errno.EFBIG: "the file would be larger than this disk allows",
    errno.EIO: "the disk reports an error",
}


@dataclass(frozen=True)
class Results:
    """The results of a command: folder, names of its files, the answer in one sentence, warnings for the user."""

    folder: Path
    names: tuple[str, ...]
    answer: str
    warnings: tuple[str, ...]


def version() -> str:
    """Return the program's version, '0+source' if it runs without being installed."""
    from importlib import metadata

    try:
        return metadata.version(PROGRAM)
    except metadata.PackageNotFoundError:
        return "0+source"


def unfinished(error: OSError, path: Path | str) -> UnfinishedError:
    """Return the message for the user when writing `path` failed."""
    reason = REASONS.get(error.errno or 0, error.strerror or str(error))
    named = Path(path).with_name(Path(path).name.removeprefix(PART)) if Path(path).name != PART else path
    return UnfinishedError(f"{named} could not be written: {reason}. Any earlier file there is unchanged.")


def refusal(error: OSError | RuntimeError) -> OSError:
    """Return what the disk refused; a RuntimeError that names no error of the system is raised again.

    The HDF5 library raises one when it closes a file that it could not write, with the number in its text.
    """
    if isinstance(error, OSError):
        return error
    number = re.search(r"errno = (\d+)", str(error))
    if number is None:
        raise error
    return OSError(int(number[1]), os.strerror(int(number[1])))


def part_of(path: Path, suffix: str = "") -> Path:
    """Return the name of a file while it is being written; it is in the same folder, so that renaming is atomic."""
    return path.with_name(f"{PART}{path.name}{suffix}")


def sync_folder(folder: Path) -> None:
    """Make a renaming in the folder survive a power cut, if the system can do that."""
    if sys.platform == "win32":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        with suppress(OSError):  # some file systems refuse to sync a folder: the rename itself is still atomic
            os.fsync(handle)
    finally:
        os.close(handle)


def put_in_place(part: Path, target: Path) -> None:
    """Sync a finished file and give it its name: before, the old file is there; after, the complete new one."""
    try:
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        part.replace(target)
        sync_folder(target.parent)
    except OSError as error:
        raise unfinished(error, target) from error


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """Give a path to write to; on success it becomes `path` at once; on an error it is removed, `path` does not change.

    Raises UnfinishedError if the disk is full or refuses.
    """
    part = part_of(path)
    try:
        yield part
        put_in_place(part, path)
    except (OSError, RuntimeError) as error:
        raise unfinished(refusal(error), path) from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def try_room(part: Path, size: int) -> None:
    """Raise OSError if the disk has no room for a file of this size [bytes]; nothing is left.

    For files that a library writes: HDF5 may end the process when the disk is full in the middle of its work.
    """
    if hasattr(os, "posix_fallocate"):
        try:
            with part.open("wb") as file:
                os.posix_fallocate(file.fileno(), 0, size)
        finally:
            with suppress(OSError):
                part.unlink(missing_ok=True)


def write_bytes(path: Path, data: bytes) -> None:
    """Write a complete file at once, or leave the old one."""
    with replacing(path) as part:
        part.write_bytes(data)


def write_text(path: Path, text: str) -> None:
    """Write a complete UTF-8 file at once, or leave the old one."""
    write_bytes(path, text.encode("utf-8"))


def create(path: Path, text: str) -> None:
    """Write a new UTF-8 file, completely or not at all, and never over an existing one.

    Raises ScenarioError if something with that name exists, UnfinishedError if the disk refuses.
    """
    part = part_of(path)
    try:
        part.write_text(text, encoding="utf-8", newline="\n")
        os.link(part, path)  # unlike a rename, a link never replaces
    except FileExistsError:
        raise ScenarioError([Fault(str(path), 0, "", "already exists and is not overwritten")]) from None
    except OSError as error:
        raise unfinished(error, path) from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def copy(source: Path, target: Path) -> None:
    """Copy a file so that the target is always the complete old one or the complete new one."""
    import shutil

    with replacing(target) as part:
        shutil.copyfile(source, part)


def digest(path: Path) -> str:
    """Return the sha256 of a file, in hexadecimal."""
    total = sha256()
    with path.open("rb") as file:
        while block := file.read(1 << 20):
            total.update(block)
    return total.hexdigest()


def is_ours(path: Path) -> bool:
    """Return whether Pingwright wrote a closing file (summary, claims or match)."""
    try:
        with path.open("rb") as file:
            content = json.loads(file.read(1 << 24))
    except (OSError, ValueError, RecursionError):
        return False
    return isinstance(content, dict) and content.get("program") == PROGRAM


def strangers(folder: Path, closing: str = CLOSING[0]) -> list[str]:
    """Return the names of files in a folder of results that are missing or do not match its closing file.

    An empty list: the set is complete. Raises ValueError if there is no closing file of Pingwright, or if it names no
    files.
    """
    if not is_ours(folder / closing):
        msg = f"{folder} holds no {closing} that Pingwright wrote"
        raise ValueError(msg)
    closed = json.loads((folder / closing).read_text(encoding="utf-8")).get("files")
    if not isinstance(closed, dict) or not closed:
        msg = f"{closing} does not say which files belong to it"
        raise ValueError(msg)
    return [
        name if name.isprintable() else repr(name)
        for name, known in closed.items()
        if name != Path(name).name or not (folder / name).is_file() or digest(folder / name) != known
    ]


def holds_our_results(folder: Path) -> bool:
    """Return whether a folder holds results of Pingwright: a closing file, or the lock of an interrupted run."""
    return (folder / LOCK).exists() or any(is_ours(folder / name) for name in CLOSING)


def _refused(folder: Path, message: str) -> ScenarioError:
    return ScenarioError([Fault(str(folder), 0, "--out", message)])


def _prepare(folder: Path, names: Collection[str]) -> None:
    """Make the folder, or refuse one with files of our names that Pingwright did not write."""
    if folder.exists() and not folder.is_dir():
        raise _refused(folder, "is a file; give a folder for the results")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise unfinished(error, folder) from error
    clash = sorted(name for name in names if (folder / name).exists() or (folder / name).is_symlink())
    if clash and not holds_our_results(folder):
        raise _refused(
            folder,
            f"already holds {', '.join(clash)}, and it is not known that Pingwright wrote it, so nothing is changed;"
            " choose another folder",
        )


def _lock(path: Path) -> int:
    """Open the lock file and lock it; the system releases it when the process ends, in any way."""
    while True:
        # A link with that name, which anyone may have put there, is not followed: it would make a file at its target.
        handle = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o644)
        try:
            if sys.platform == "win32":
                import msvcrt

                msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
            else:
                import fcntl

                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            os.close(handle)
            raise
        # The run before us may have removed the file between our opening and our locking: then try again.
        with suppress(FileNotFoundError):
            if os.fstat(handle).st_ino == path.stat().st_ino:
                return handle
        os.close(handle)


def clean(folder: Path, keep: Collection[Path] = ()) -> None:
    """Remove half-written files of interrupted runs, except those from which work can resume."""
    for left in folder.glob(f"{PART}*"):
        if left not in keep and (left.is_file() or left.is_symlink()):
            with suppress(OSError):
                left.unlink()


@contextmanager
def claimed(folder: Path, names: Collection[str], keep: Collection[Path] = ()) -> Iterator[Path]:
    """Lock a folder for results with these file names, for the time of the `with` block.

    The folder is made if it does not exist. It is refused if it holds files with these names that Pingwright did not
    write; other files are not changed. Half-written files of earlier runs are removed, except those in `keep`. Raises
    ScenarioError (the folder cannot be used) or UnfinishedError (another run is at work; disk).
    """
    _prepare(folder, names)
    lock = folder / LOCK
    try:
        handle = _lock(lock)
    except (BlockingIOError, PermissionError) as error:
        if isinstance(error, PermissionError) and not os.access(folder, os.W_OK):
            raise unfinished(error, folder) from error
        message = f"Another run is writing into {folder}; wait for it to end or choose another folder with --out."
        raise UnfinishedError(message) from error
    except OSError as error:
        raise unfinished(error, folder) from error
    try:
        clean(folder, keep)
        yield folder
    finally:
        # In a folder with our files and no closing file yet, the lock file stays as the sign that they are ours.
        closed = any(is_ours(folder / name) for name in CLOSING)
        if closed or not any((folder / name).exists() for name in names):
            with suppress(OSError):
                lock.unlink()
        os.close(handle)
