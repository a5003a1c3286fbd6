"""The checkpoint of long work: a file with the results so far, from which interrupted work resumes."""

import json
from collections.abc import Mapping
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from pingwright import files


@lru_cache(maxsize=1)
def _program() -> str:
    """Return a digest of all modules and catalogues: a version number does not show a changed source tree."""
    digest = sha256()
    for path in sorted(p for p in Path(__file__).parent.rglob("*") if p.suffix in {".py", ".toml"}):
        digest.update(path.read_bytes())
    return digest.hexdigest()


def fingerprint(*parts: object) -> str:
    """Return a text that is the same only for the same work by the same program.

    parts: all that the result depends on (texts, seeds), of types whose repr is complete.
    """
    digest = sha256()
    for part in (_program(), *parts):
        digest.update(repr(part).encode())
    return digest.hexdigest()


class Checkpoint:
    """Values by name, as JSON holds them. A file of other work, or a damaged one, counts as empty."""

    def __init__(self, path: Path, work: str) -> None:
        """path: the file; work: the fingerprint of the work."""
        self._path, self._work = path, work
        self._values: dict[str, Any] = {}
        try:
            stored = json.loads(path.read_text(encoding="utf-8"))
        except (OSError, ValueError, RecursionError):
            return
        if not isinstance(stored, dict) or stored.get("of") != work:
            return
        if stored.get("sha256") == _digest(stored.get("values")):
            self._values = stored["values"]

    def get(self, name: str) -> Any:
        """Return a value, None where there is none."""
        return self._values.get(name)

    def save(self, changes: Mapping[str, Any]) -> None:
        """Store values by name; None removes one. Raises UnfinishedError where the disk refuses."""
        changed = {name: value for name, value in {**self._values, **changes}.items() if value is not None}
        self._values = json.loads(json.dumps(changed))
        data = {"of": self._work, "sha256": _digest(self._values), "values": self._values}
        # Written under another name first: after an interruption the file holds the old state or the new one.
        new = self._path.with_name(self._path.name + "-new")
        try:
            new.write_text(json.dumps(data), encoding="utf-8")
            new.replace(self._path)
        except OSError as error:
            raise files.unfinished(error, self._path) from error

    def clear(self) -> None:
        """Remove the file: the work is done."""
        self._path.unlink(missing_ok=True)


def _digest(values: Any) -> str:
    return sha256(json.dumps(values).encode()).hexdigest()
