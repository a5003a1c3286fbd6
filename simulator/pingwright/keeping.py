"""What long work knows so far, in a file that a stop leaves, so that the same work goes on where it was."""

import json
from collections.abc import Mapping
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from pingwright import files


@lru_cache(maxsize=1)
def _program() -> str:
    """Return a digest of our modules and catalogues: a version number does not tell a changed source tree."""
    digest = sha256()
    for path in sorted(p for p in Path(__file__).parent.rglob("*") if p.suffix in {".py", ".toml"}):
        digest.update(path.read_bytes())
    return digest.hexdigest()


def fingerprint(*parts: object) -> str:
    """Return what stopped work must share with what goes on, as text: parts, such as texts and seeds, and our code.

    parts: whatever the result depends on, of types whose repr says all of them.
    """
    digest = sha256()
    for part in (_program(), *parts):
        digest.update(repr(part).encode())
    return digest.hexdigest()


class Kept:
    """Values by name, as JSON holds them. A file of other work, or one that is damaged, counts as none."""

    def __init__(self, path: Path, of: str) -> None:
        """path: the file; of: the fingerprint of the work."""
        self._path, self._of = path, of
        self._values: dict[str, Any] = {}
        try:
            found = json.loads(path.read_text(encoding="utf-8"))
        except (OSError, ValueError, RecursionError):
            return
        if isinstance(found, dict) and found.get("of") == of and found.get("sha256") == _digest(found.get("values")):
            self._values = found["values"]

    def get(self, name: str) -> Any:
        """Return a value, None where there is none."""
        return self._values.get(name)

    def put(self, changes: Mapping[str, Any]) -> None:
        """Keep values by name, those of None no longer. Raises UnfinishedError where the disk refuses."""
        changed = {name: value for name, value in {**self._values, **changes}.items() if value is not None}
        self._values = json.loads(json.dumps(changed))
        data = {"of": self._of, "sha256": _digest(self._values), "values": self._values}
        # One file after the other under a new name, so that a stop leaves the old state or the new one.
        new = self._path.with_name(self._path.name + "-new")
        try:
            new.write_text(json.dumps(data), encoding="utf-8")
            new.replace(self._path)
        except OSError as error:
            raise files.unfinished(error, self._path) from error

    def drop(self) -> None:
        """Remove the file: the work is done."""
        self._path.unlink(missing_ok=True)


def _digest(values: Any) -> str:
    return sha256(json.dumps(values).encode()).hexdigest()
