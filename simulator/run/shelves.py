"""list: what the catalogues hold, as tables for people and as plain data for programs."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from simulator.errors import Fault, ScenarioError


@dataclass(frozen=True)
class Shelf:
    """One catalogue. entries: name -> its values; columns and rows: the same as text, one row an entry."""

    name: str
    entries: Mapping[str, Any]
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def shelves(name: str | None = None) -> tuple[Shelf, ...]:
    """Return one catalogue, or all of them. Raises ScenarioError for a name that is none, saying the nearest."""
    import difflib

    from simulator.inputs import catalogue

    names = catalogue.names()
    if name is None:
        return tuple(_shelf(one) for one in names)
    if name not in names:
        near = difflib.get_close_matches(name, names, n=1)
        hint = f"; did you mean {near[0]}?" if near else ""
        raise ScenarioError([Fault("list", 0, "", f"{name!r} is no catalogue; there are {', '.join(names)}{hint}")])
    return (_shelf(name),)


def _shelf(name: str) -> Shelf:
    from simulator.inputs import catalogue

    entries = {entry: plain(value) for entry, value in catalogue.of(name).items()}
    keys: dict[str, None] = {}
    for value in entries.values():
        keys |= dict.fromkeys(value)
    columns = ("name", *keys)
    rows = tuple((entry, *(_text(value.get(key, "")) for key in keys)) for entry, value in entries.items())
    return Shelf(name, entries, columns, rows)


def plain(value: Any) -> Any:
    """Return an entry as JSON may hold it: models and tuples as dicts and lists, what is not finite as None."""
    if hasattr(value, "model_dump"):
        value = value.model_dump()
    if isinstance(value, Mapping):
        return {str(key): plain(one) for key, one in value.items() if one is not None}
    if isinstance(value, list | tuple):
        return [plain(one) for one in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def _text(value: Any) -> str:
    if isinstance(value, Mapping):
        return ", ".join(f"{key} {_text(one)}" for key, one in value.items())
    if isinstance(value, list):
        return " to ".join(_text(one) for one in value) if len(value) == 2 else ", ".join(_text(one) for one in value)
    return f"{value:.6g}" if isinstance(value, float) else str(value)
