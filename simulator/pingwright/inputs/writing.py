"""Writing a scenario as TOML text: every value with its unit, in the order of the schema."""

import datetime
from collections.abc import Mapping
from typing import Any


def toml_text(data: Mapping[str, Any], comments: Mapping[str, str] | None = None) -> str:
    """Return nested tables, lists, texts, numbers and booleans as TOML.

    Values first, then tables, then lists of tables; tables inside those stay on one line. comments: text above the
    table of that dotted name. Raises ValueError for values that TOML cannot hold.
    """
    out: list[str] = []
    _table(data, (), out, comments or {})
    return "\n".join(out).strip("\n") + "\n"


def _table(data: Mapping[str, Any], path: tuple[str, ...], out: list[str], comments: Mapping[str, str]) -> None:
    later = [key for key, value in data.items() if _stands_alone(value, path)]
    out.extend(f"{_key(key)} = {value_text(value)}" for key, value in data.items() if key not in later)
    for key in later:
        value, name = data[key], ".".join(_key(part) for part in (*path, key))
        rows = value if isinstance(value, (list, tuple)) else [value]
        for row in rows:
            out.extend(["", *(f"# {line}" for line in comments.get(name, "").splitlines())])
            out.append(f"[[{name}]]" if isinstance(value, (list, tuple)) else f"[{name}]")
            _table(row, (*path, key), out, comments)


def _stands_alone(value: Any, path: tuple[str, ...]) -> bool:
    """Return whether a value gets its own header: tables at the top, and lists of tables near the top."""
    many = isinstance(value, (list, tuple)) and bool(value) and all(isinstance(row, Mapping) for row in value)
    return (isinstance(value, Mapping) and not path) or (many and len(path) < 2)


def _key(key: str) -> str:
    bare = key.isascii() and key.replace("-", "").replace("_", "").isalnum()
    return key if bare else _text(key)


def value_text(value: Any) -> str:
    """Return a value as TOML, a table on one line. Raises ValueError for values that TOML cannot hold."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, (datetime.date, datetime.time)):
        return value.isoformat()
    if isinstance(value, Mapping):
        inner = ", ".join(f"{_key(key)} = {value_text(one)}" for key, one in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(value_text(one) for one in value)}]"
    message = f"TOML cannot hold a {type(value).__name__}"
    raise ValueError(message)


_ESCAPES = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t", "\r": "\\r"}


def _text(text: str) -> str:
    return '"' + "".join(_ESCAPES.get(c, c if ord(c) >= 32 and c != "\x7f" else f"\\u{ord(c):04X}") for c in text) + '"'
