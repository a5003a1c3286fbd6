"""A scenario's tables as a user writes them, edited by dotted keys; undo and redo."""

import tomllib
from collections.abc import Mapping
from copy import deepcopy
from typing import Any

from pingwright.errors import Fault, ScenarioError

#: Number of states to which undo can return.
DEEPEST = 200


class Tables:
    """The tables of one scenario and their history; `data` is the present state, plain dicts, lists and values."""

    def __init__(self, text: str, files: Mapping[str, bytes]) -> None:
        self._past: list[dict[str, Any]] = []
        self._future: list[dict[str, Any]] = []
        self._gesture: object = None
        self.first = tomllib.loads(text)
        self.data: dict[str, Any] = deepcopy(self.first)
        self.files = dict(files)

    @property
    def changed(self) -> bool:
        """Whether anything differs from the first state."""
        return self.data != self.first

    def edited(self, changes: Mapping[str, Any]) -> dict[str, Any]:
        """Return the tables with dotted keys set; the present state does not change.

        Items of lists are numbered from 1. A value of None removes the key (or the item of a list); a number one past
        the end of a list appends. Raises ScenarioError for a key that does not exist.
        """
        data = deepcopy(self.data)
        for path, value in changes.items():
            _set(data, path, value)
        return data

    def keep(self, data: dict[str, Any], gesture: object = None) -> None:
        """Make `data` the present state; `undo` brings the old one back.

        gesture: one drag, or one press of a key: all its changes are one step back. None: a step by itself.
        """
        if data == self.data:
            return
        if gesture is None or gesture != self._gesture:
            self._past = [*self._past, self.data][-DEEPEST:]
        self._gesture, self._future, self.data = gesture, [], data

    def undo(self) -> bool:
        """Go back one state; return whether there was one."""
        return self._step(self._past, self._future)

    def redo(self) -> bool:
        """Go forward one state; return whether there was one."""
        return self._step(self._future, self._past)

    def start_again(self) -> None:
        """Go back to the first state, as one step that can be undone."""
        self.keep(deepcopy(self.first))

    def _step(self, source: list[dict[str, Any]], target: list[dict[str, Any]]) -> bool:
        if not source:
            return False
        self._gesture = None
        target.append(self.data)
        self.data = source.pop()
        return True


def _set(data: dict[str, Any], path: str, value: Any) -> None:
    *way, last = path.split(".")
    place: Any = data
    for word in way:
        place = _item(place, word, path)
    if isinstance(place, list):
        index = _index(place, last, path, extra=1)
        if value is None:
            del place[index]
        elif index == len(place):
            place.append(deepcopy(value))
        else:
            place[index] = deepcopy(value)
    elif not isinstance(place, dict):
        raise ScenarioError([Fault("bench", 0, path, "is a single value, not a table")])
    elif value is None:
        place.pop(last, None)
    else:
        place[last] = deepcopy(value)


def _item(place: Any, word: str, path: str) -> Any:
    if isinstance(place, list):
        return place[_index(place, word, path, extra=0)]
    if isinstance(place, dict):
        return place.setdefault(word, {})
    raise ScenarioError([Fault("bench", 0, path, "is a single value, not a table")])


def _index(place: list[Any], word: str, path: str, extra: int) -> int:
    if not word.isdecimal() or not 1 <= int(word) <= len(place) + extra:
        raise ScenarioError([Fault("bench", 0, path, f"found item {word[:20]!r}; allowed: 1 to {len(place) + extra}")])
    return int(word) - 1
