"""Sets single keys by dotted paths, in a file's tables and in its text: for `change`, `--set` and `--seed`."""

import contextlib
import re
import tomllib
from collections.abc import Iterator, Mapping
from copy import deepcopy
from typing import Any

from pingwright.errors import Fault, ScenarioError
from pingwright.inputs import catalogue
from pingwright.inputs.document import Document, hidden_characters, read_document
from pingwright.inputs.fields import nearest
from pingwright.inputs.lines import DEEPEST, Path, lines, too_deep
from pingwright.inputs.writing import toml_text, value_text
from pingwright.quantities import quoted


class ChangeError(ValueError):
    """A dotted key does not exist; the message is for the user."""


def setting(text: str) -> tuple[str, Any]:
    """Return key and value of "KEY=VALUE": a TOML value if it can be read as one, else a text; None without a value.

    Raises ChangeError where there is no "=" or no key.
    """
    key, equals, written = text.partition("=")
    if not equals or not key.strip():
        message = f'found {quoted(text)}; allowed: KEY=VALUE, such as "seabed.depth=58 m"'
        raise ChangeError(message)
    written = written.strip()
    if too_deep(written):
        if not written.startswith(("[", "{")):
            return key.strip(), written
        message = f"found a value for {quoted(key.strip())} that is nested too deeply; allowed: {DEEPEST} levels"
        raise ChangeError(message)
    try:
        value = tomllib.loads(f"value = {written}")["value"]
    except ValueError:
        value = written or None
    return key.strip(), value


def plain(value: Any) -> Any:
    """Return a value as a file may hold it: numpy numbers and arrays as Python's, tuples as lists."""
    if isinstance(value, Mapping):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(one) for one in value]
    return value.tolist() if hasattr(value, "tolist") else value


def with_changes(data: Mapping[str, Any], changes: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, str]]:
    """Return nested tables with keys set by dotted paths, and a message for each path that does not exist.

    Lists are entered by number from 1 or by the name of the item: `seabed.layer.1.sediment`, `element.narrow
    high.power`. None removes a key, so that its default holds. Of keys that give the same thing in different ways
    (boat.pings, boat.length), the one that is set replaces the others.
    """
    new = deepcopy(dict(data))
    wrong: dict[str, str] = {}
    for dotted, value in _with_removals(changes).items():
        try:
            _set(new, dotted, value)
        except ChangeError as error:
            wrong[dotted] = str(error)
        for _, bad in hidden_characters({dotted: plain(value)}, ()):
            wrong[dotted] = f"found control character {bad}; allowed: plain text"
    return new, wrong


#: Keys of one table that exclude each other: the table's name, and the keys.
_ALTERNATIVES = (
    ("boat", ("pings", "length")),
    ("seabed", ("depth", "profile", "grid")),
    ("where", ("above_bottom", "above", "depth")),
)


def _with_removals(changes: Mapping[str, Any]) -> dict[str, Any]:
    """Return changes, each after the removal of the keys that it replaces."""
    more: dict[str, Any] = {}
    for dotted, value in changes.items():
        table, _, key = dotted.rpartition(".")
        for name, group in _ALTERNATIVES:
            if key in group and value is not None and (table == name or table.endswith(f".{name}")):
                others = (f"{table}.{other}" for other in group if other != key)
                more |= dict.fromkeys((other for other in others if other not in changes), None)
        more[dotted] = value
    return more


def document_with(document: Document, changes: Mapping[str, Any]) -> Document:
    """Return a document with keys set by dotted paths. Raises ScenarioError for every path that does not exist."""
    if not changes:
        return document
    _, wrong = with_changes(document.data, changes)
    if wrong:
        raise ScenarioError([Fault(document.name, 0, key[:200], message) for key, message in wrong.items()])
    return read_document(edited(document.text, changes), document.name)


def edited(text: str, changes: Mapping[str, Any]) -> str:
    """Return a TOML text with keys set by dotted paths; comments stay where a key can be replaced on its own line.

    Where it cannot, the whole text is written anew. Raises ChangeError for a path that does not exist.
    """
    for dotted, value in _with_removals(changes).items():
        new = tomllib.loads(text)
        path = _set(new, dotted, value)
        text = _first_that_reads_as(new, _edits(text, new, path)) or toml_text(new)
    return text


def _first_that_reads_as(data: Mapping[str, Any], texts: Iterator[str]) -> str:
    """Return the first text that gives these tables, "" if there is none."""
    for text in texts:
        with contextlib.suppress(ValueError):
            if tomllib.loads(text) == data:
                return text
    return ""


_PAIR = re.compile(r"(\s*[^=#\n]*=\s*)(.*?)(\s+#.*)?")


def _edits(text: str, new: Mapping[str, Any], path: Path) -> Iterator[str]:
    """Yield texts that may hold the change: the value on its line replaced, or a line added to its table."""
    rows, places = text.split("\n"), lines(text)
    if _at(new, path) is None:
        yield text
    for length in range(len(path), 0, -1):
        value, line = _at(new, path[:length]), places.get(path[:length], 0)
        match = _PAIR.fullmatch(rows[line - 1]) if line else None
        if match and value is not None:
            yield "\n".join([*rows[: line - 1], f"{match[1]}{value_text(value)}{match[3] or ''}", *rows[line:]])
        elif match:
            yield "\n".join([*rows[: line - 1], *rows[line:]])
    if _at(new, path) is None:
        return
    added = toml_text({str(path[-1]): _at(new, path)}).rstrip("\n")
    above = places.get(path[:-1], 0) if len(path) > 1 else min(places.values(), default=1) - 1
    yield "\n".join([*rows[:above], added, *rows[above:]])
    yield f"{text.rstrip()}\n\n[{'.'.join(map(str, path[:-1]))}]\n{added}\n"


def _at(data: Any, path: Path) -> Any:
    """Return the value at a path, None if there is none."""
    for part in path:
        if isinstance(data, Mapping):
            data = data.get(part)
        else:
            data = data[part] if isinstance(part, int) and isinstance(data, list) else None
    return data


def _set(data: dict[str, Any], dotted: str, value: Any) -> Path:
    """Set a key in place and return its path."""
    node: Any = data
    path: Path = ()
    rest = dotted
    for _ in range(DEEPEST):
        if isinstance(node, list):
            number, rest = _item(node, rest)
            if not rest:
                message = f"{quoted(dotted)} is a whole table; allowed: a key of that table"
                raise ChangeError(message)
            node, path = node[number], (*path, number)
            continue
        head, _, rest = rest.partition(".")
        if not head or (not rest and dotted.endswith(".")):
            break
        path = (*path, head)
        if not rest:
            _put(node, head, plain(value))
            return path
        node = _entered(node, head)
        if not isinstance(node, (dict, list)):
            message = f"{quoted(dotted)}: {quoted(head)} is a single value and has no keys"
            raise ChangeError(message)
    message = f'{quoted(dotted)} is not a key with dots, such as "seabed.depth"'
    raise ChangeError(message)


def _entered(node: dict[str, Any], key: str) -> Any:
    """Return the value of a key; if there is none, the catalogue entry's table, or an empty one."""
    if key not in node:
        node[key] = deepcopy(_entry(node).get(key, {}))
    return node[key]


def _entry(table: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return the keys that a table takes from the catalogue."""
    for word, entries in (("use", catalogue.elements), ("body", catalogue.fish)):
        name = table.get(word)
        if isinstance(name, str) and name in (known := entries()):
            return known[name].keys
    return {}


def _put(node: dict[str, Any], key: str, value: Any) -> None:
    """Set a key; a new catalogue entry brings its own keys, which drop those of the entry before."""
    if key in {"use", "body"} and isinstance(value, str):
        for dropped in _entry({key: value}):
            node.pop(dropped, None)
    if value is None:
        node.pop(key, None)
    else:
        node[key] = deepcopy(value)


def _item(items: list[Any], rest: str) -> tuple[int, str]:
    """Return which item a path enters, and the path after it."""
    head, _, after = rest.partition(".")
    if head.isascii() and head.isdigit() and len(head) < 6 and 1 <= int(head) <= len(items):
        return int(head) - 1, after
    names = [str(item.get("name", "")) if isinstance(item, dict) else "" for item in items]
    # The longest name first: a name may contain dots.
    for number in sorted(range(len(names)), key=lambda i: -len(names[i])):
        name = names[number]
        if name and (rest == name or rest.startswith(name + ".")):
            return number, rest[len(name) + 1 :]
    known = [name for name in names if name]
    by_name = f" or a name: {', '.join(known)}" if known else ""
    message = f"found no item {quoted(head)}; allowed: a number from 1 to {len(items)}{by_name}{nearest(head, known)}"
    raise ChangeError(message)
