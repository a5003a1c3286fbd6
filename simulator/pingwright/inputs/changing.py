"""Setting single keys of a scenario by dotted paths, as the `change` of a claim does."""

from collections.abc import Mapping
from copy import deepcopy
from typing import Any

from pingwright.inputs import catalogue
from pingwright.inputs.fields import nearest
from pingwright.inputs.lines import DEEPEST
from pingwright.quantities import quoted


class ChangeError(ValueError):
    """A dotted key leads nowhere; worded for the user."""


def with_changes(data: Mapping[str, Any], changes: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, str]]:
    """Return nested tables with keys set by dotted paths, and a message for each path that leads nowhere.

    Lists are entered by number from 1 or by the name of the item: `seabed.layer.1.sediment`,
    `element.narrow high.power`.
    """
    new = deepcopy(dict(data))
    wrong: dict[str, str] = {}
    for dotted, value in changes.items():
        try:
            _set(new, dotted, value)
        except ChangeError as error:
            wrong[dotted] = str(error)
    return new, wrong


def _set(data: dict[str, Any], dotted: str, value: Any) -> None:
    node: Any = data
    rest = dotted
    for _ in range(DEEPEST):
        if isinstance(node, list):
            number, rest = _item(node, rest)
            if not rest:
                message = f"{quoted(dotted)} names a whole table; allowed: a key of it"
                raise ChangeError(message)
            node = node[number]
            continue
        head, _, rest = rest.partition(".")
        if not head or (not rest and dotted.endswith(".")):
            break
        if not rest:
            _put(node, head, value)
            return
        node = node.setdefault(head, {})
        if not isinstance(node, (dict, list)):
            message = f"{quoted(dotted)}: {quoted(head)} is a single value and has no keys"
            raise ChangeError(message)
    message = f'{quoted(dotted)} is no dotted key, such as "seabed.depth"'
    raise ChangeError(message)


def _put(node: dict[str, Any], key: str, value: Any) -> None:
    """Set a key; a new catalogue entry brings its own keys, which drop those of the entry before."""
    if key in {"use", "body"} and isinstance(value, str):
        entries: Mapping[str, Any] = catalogue.elements() if key == "use" else catalogue.fish()
        for dropped in entries[value].keys if value in entries else ():
            node.pop(dropped, None)
    node[key] = deepcopy(value)


def _item(items: list[Any], rest: str) -> tuple[int, str]:
    """Return which item a path enters, and the path after it."""
    head, _, after = rest.partition(".")
    if head.isascii() and head.isdigit() and len(head) < 6 and 1 <= int(head) <= len(items):
        return int(head) - 1, after
    names = [str(item.get("name", "")) if isinstance(item, dict) else "" for item in items]
    # The longest name first: a name may hold dots itself.
    for number in sorted(range(len(names)), key=lambda i: -len(names[i])):
        name = names[number]
        if name and (rest == name or rest.startswith(name + ".")):
            return number, rest[len(name) + 1 :]
    known = [name for name in names if name]
    by_name = f" or a name: {', '.join(known)}" if known else ""
    message = f"found no item {quoted(head)}; allowed: a number from 1 to {len(items)}{by_name}{nearest(head, known)}"
    raise ChangeError(message)
