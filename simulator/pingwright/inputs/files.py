"""Reading a user's files: size limits checked before reading, nothing but plain files, nothing outside the folder."""

import difflib
import os
import re
import stat
from collections.abc import Callable
from contextlib import suppress
from itertools import islice
from pathlib import Path, PurePosixPath, PureWindowsPath

from pingwright.errors import Fault, ScenarioError
from pingwright.quantities import quoted

#: Largest size of each kind of input file [bytes].
LIMITS = {
    "scenario": 256 << 10,
    "profile": 1 << 20,
    "bottom grid": 8 << 20,
    "pattern table": 8 << 20,
    "mesh": 64 << 20,
}
#: Most bytes that all files of one scenario may have together.
TOTAL_LIMIT = 128 << 20


_PICTURE = "is a picture or a page, not a TOML file; `pingwright recall` prints the scenario that is in it"
#: What a file of another ending is, where a scenario, claims, trip or sweep file is expected.
_OTHERS = dict.fromkeys((".png", ".svg", ".pdf", ".html"), _PICTURE) | {
    ".h5": "holds echograms, it is not a TOML file; `pingwright draw` draws them, `pingwright recall` prints their"
    " scenario",
    ".json": "holds results, it is not a TOML file",
}


class FileRefusedError(ValueError):
    """A file cannot be used; the text is written for the user and names no path outside his folder."""


def mebibytes(size: int) -> str:
    """Return a size in bytes for a message."""
    if size >= 1 << 20:
        return f"{size / (1 << 20):.3g} MiB"
    return f"{size / 1024:.3g} KiB" if size >= 1024 else f"{size} bytes"


def base_refused(error: FileRefusedError, name: str) -> str:
    """Return why the base scenario of a file cannot be read, and how to write one that is not there."""
    absent = "there is no such file" in str(error) and re.fullmatch(r"[A-Za-z0-9_-]+\.toml", name)
    return f"{error}; `pingwright new {name}` writes one" if absent else str(error)


def read_file(path: Path, kind: str) -> bytes:
    """Return the bytes of the file a user named on the command line; links are followed, devices are not opened.

    Raises ScenarioError with one fault.
    """
    if not path.name.isprintable():
        message = "its name holds characters that cannot be shown; rename the file"
        raise ScenarioError([Fault(str(path), 0, "", message)])
    if kind == "scenario" and path.is_file() and (other := _OTHERS.get(path.suffix.lower())):
        raise ScenarioError([Fault(str(path), 0, "", other)])
    try:
        return _read(path, kind, follow=True)
    except FileRefusedError as error:
        text = str(error).removeprefix(f"{quoted(path.name)}: ").removeprefix(f"{quoted(path.name)} ")
        missing = not path.exists() and not path.is_symlink()
        raise ScenarioError([Fault(str(path), 0, "", text + (_beside(path) if missing else ""))]) from None


def _beside(path: Path) -> str:
    """Return what the folder of a missing file has instead: no folder, or a file of nearly that name."""
    with suppress(OSError):
        if not path.parent.is_dir():
            return f", nor a folder {quoted(str(path.parent))}"
        names = [one.name for one in islice(path.parent.iterdir(), 1000) if one.suffix == ".toml"]
        near = difflib.get_close_matches(path.name, names, n=1)
        return f'; did you mean "{path.with_name(near[0])}"?' if near else f" in {path.parent.resolve()}"
    return ""


def reader(folder: Path) -> Callable[[str, str], bytes]:
    """Return a function (name, kind) -> bytes for files named inside a file of this folder.

    It raises FileRefusedError for names that leave the folder, for links, devices and anything but a plain file.
    """
    total = 0

    def read(name: str, kind: str) -> bytes:
        nonlocal total
        content = _read(inside(folder, name), kind, follow=False)
        total += len(content)
        if total > TOTAL_LIMIT:
            message = f"all files together are larger than {mebibytes(TOTAL_LIMIT)}"
            raise FileRefusedError(message)
        return content

    return read


def inside(folder: Path, name: str) -> Path:
    """Return the path of a relative name, refusing whatever leaves the folder by its words or by links."""
    plain = PurePosixPath(name)
    windows = PureWindowsPath(name)
    if not name or len(name) > 255 or windows.drive or windows.root or plain.is_absolute() or "\\" in name:
        message = f"found {quoted(name)}; allowed: a file name relative to this file's folder, parts separated by /"
        raise FileRefusedError(message)
    if ".." in plain.parts or not plain.parts:
        message = f"found {quoted(name)}; a file must be inside the folder of the file that names it"
        raise FileRefusedError(message)
    path = folder
    for part in plain.parts:
        path = path / part
        if path.is_symlink():
            message = f"found {quoted(name)}, where {quoted(part)} is a link; links are not allowed"
            raise FileRefusedError(message)
    return path


def _read(path: Path, kind: str, *, follow: bool) -> bytes:
    """Read a plain file within its limit; a device or pipe is recognised before anything is read from it."""
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    if not follow:
        flags |= getattr(os, "O_NOFOLLOW", 0)
    limit = LIMITS[kind]
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            message = f"{quoted(path.name)} is not a regular file (it is a folder, device or pipe)"
            raise FileRefusedError(message)
        descriptor = os.open(path, flags)
        with os.fdopen(descriptor, "rb") as stream:
            state = os.fstat(descriptor)
            if not stat.S_ISREG(state.st_mode):
                message = f"{quoted(path.name)} is not a regular file"
                raise FileRefusedError(message)
            content = stream.read(limit + 1) if state.st_size <= limit else b""
    except (OSError, ValueError) as error:
        if isinstance(error, FileRefusedError):
            raise
        reason = "there is no such file" if isinstance(error, FileNotFoundError) else "it cannot be read"
        message = f"{quoted(path.name)}: {reason}"
        raise FileRefusedError(message) from None
    size = max(state.st_size, len(content))
    if size > limit:
        message = f"{quoted(path.name)} has {mebibytes(size)}; allowed for a {kind} file: {mebibytes(limit)}"
        raise FileRefusedError(message)
    return content
