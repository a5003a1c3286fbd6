"""Files that appear whole or not at all, and folders only one run at a time writes to."""

import errno
import json
import os
import sys
from collections.abc import Collection, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from pingwright.errors import Fault, ScenarioError, UnfinishedError

#: Every unfinished file of ours starts so; what follows is the name it will have (the suffix is kept).
PART = ".pingwright-part."
LOCK = ".pingwright-lock"
PROGRAM = "pingwright"

#: The file that closes each kind of results; it says `"program": "pingwright"` and is written last.
CLOSING = ("summary.json", "claims.json", "match.json", "sweep.json", "validation.json")

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
    """What a command leaves: its folder, the names of its files, the answer in one sentence, warnings for the user."""

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
    return UnfinishedError(f"{path} could not be written: {reason}. Any earlier file there is unchanged.")


def part_of(path: Path, suffix: str = "") -> Path:
    """Return the name a file has while it is being written; it stands beside its target so that renaming is atomic."""
    return path.with_name(f"{PART}{path.name}{suffix}")


def sync_folder(folder: Path) -> None:
    """Make a renaming in the folder last through a power cut, where the system can."""
    if sys.platform == "win32":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        with suppress(OSError):  # some file systems refuse to sync a folder: the rename itself is still atomic
            os.fsync(handle)
    finally:
        os.close(handle)


def put_in_place(part: Path, target: Path) -> None:
    """Sync a finished file and give it its name: from then on the whole new one stands there, until then the old."""
    try:
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        part.replace(target)
        sync_folder(target.parent)
    except OSError as error:
        raise unfinished(error, target) from error


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """Give a path to write to; on success it becomes `path` at once, on any fault it goes and `path` stays as it was.

    Raises UnfinishedError where the disk is full or refuses.
    """
    part = part_of(path)
    try:
        yield part
        put_in_place(part, path)
    except OSError as error:
        raise unfinished(error, path) from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def write_bytes(path: Path, data: bytes) -> None:
    """Write a whole file at once, or leave what was there."""
    with replacing(path) as part:
        part.write_bytes(data)


def write_text(path: Path, text: str) -> None:
    """Write a whole UTF-8 file at once, or leave what was there."""
    write_bytes(path, text.encode("utf-8"))


def create(path: Path, text: str) -> None:
    """Write a new UTF-8 file, whole or not at all, and never over one that is there.

    Raises ScenarioError where something of that name exists, UnfinishedError where the disk refuses.
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
    """Copy a file so that the target is the old whole one or the new whole one."""
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
    """Say whether a closing file (summary, claims or match) was written by us."""
    try:
        with path.open("rb") as file:
            content = json.loads(file.read(1 << 24))
    except (OSError, ValueError, RecursionError):
        return False
    return isinstance(content, dict) and content.get("program") == PROGRAM


def strangers(folder: Path, closing: str = CLOSING[0]) -> list[str]:
    """Return the names of files in a folder of results that are missing or are not of the set its closing file closed.

    An empty list: the set is whole. Raises ValueError where there is no closing file of ours, or it names no files.
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
    """Say whether a folder holds results of ours: a closing file, or the lock of a run that was cut off."""
    return (folder / LOCK).exists() or any(is_ours(folder / name) for name in CLOSING)


def _refused(folder: Path, message: str) -> ScenarioError:
    return ScenarioError([Fault(str(folder), 0, "--out", message)])


def _prepare(folder: Path, names: Collection[str]) -> None:
    """Make the folder, or refuse one in which files of our names are not ours."""
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
    """Open the lock file and hold it; the system lets go when the process ends, however it ends."""
    while True:
        # A link of that name, which anyone may have put there, is not followed: it would make a file where it points.
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
        # The holder before us may have removed the name between our opening and our locking: then try again.
        with suppress(FileNotFoundError):
            if os.fstat(handle).st_ino == path.stat().st_ino:
                return handle
        os.close(handle)


def clean(folder: Path, keep: Collection[Path] = ()) -> None:
    """Remove what cut-off runs left half-written, but for what is kept to resume from."""
    for left in folder.glob(f"{PART}*"):
        if left not in keep and (left.is_file() or left.is_symlink()):
            with suppress(OSError):
                left.unlink()


@contextmanager
def claimed(folder: Path, names: Collection[str], keep: Collection[Path] = ()) -> Iterator[Path]:
    """Hold a folder for results of these file names, alone, for the time of the `with` block.

    folder is made where it is not there; one that holds files of these names which are not ours is refused, other files
    are left alone. Half-written files of earlier runs go, but for those in `keep`.
    Raises ScenarioError (the folder is not for us) or UnfinishedError (another run is at work; disk).
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
        # A folder with our files and no closing file yet keeps the lock file as the sign that they are ours.
        closed = any(is_ours(folder / name) for name in CLOSING)
        if closed or not any((folder / name).exists() for name in names):
            with suppress(OSError):
                lock.unlink()
        os.close(handle)
