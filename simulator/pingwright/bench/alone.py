"""One fish of a group by itself: which fish a table of `[[fish]]` has, and a table of its own for one of them.

`fish.1.alone` is the name of a knob, no key of a scenario. `whole` makes scenario keys of it: the fish is left out of
its group by `without`, so the others stay as they are, and gets a `[[fish]]` table of its own at the end of the list.
"""

import re
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pingwright.errors import Fault, ScenarioError

if TYPE_CHECKING:
    from pingwright.inputs.scenario import Scenario
    from pingwright.recording import Prepared

_KEY = re.compile(r"fish\.(\d+)\.(alone|.+)")
#: Keys of a group that say which fish it has; a fish alone has its own.
_OF_GROUP = ("count", "density", "without", "where", "length")


def tables(prepared: "Prepared") -> list[NDArray[np.intp]]:
    """Return which fish each `[[fish]]` table has, by their places in the truth group."""
    sizes = [len(stock) for stock in prepared.world.contents.stocks if not stock.school]
    return np.split(np.arange(sum(sizes)), np.cumsum(sizes)[:-1]) if sizes else []


def touched(changes: Mapping[str, Any]) -> int | None:
    """Return the number of the `[[fish]]` table that changes are about, from 0; None where they are about none."""
    for path, value in changes.items():
        if found := _KEY.fullmatch(path):
            entry = value.get("entry") if found[2] == "alone" and isinstance(value, dict) else int(found[1])
            return entry - 1 if isinstance(entry, int) else None
    return None


def whole(changes: Mapping[str, Any], present: "Callable[[], Scenario]", data: Mapping[str, Any]) -> dict[str, Any]:
    """Return changes with a fish that is moved by itself as scenario keys.

    Its value is a table: `fish`, its number in the group from 1; `entry`, the number of its own table, the next or the
    one it has already; `where`, its place; `length`, its length. present: returns the scenario before the change, data:
    its tables. Raises ScenarioError where the group has no such fish.
    """
    made: dict[str, Any] = {}
    for path, value in changes.items():
        found = _KEY.fullmatch(path)
        if found is None or found[2] != "alone":
            made[path] = value
        else:
            made |= _taken(path, int(found[1]), value, present(), data)
    return made


def _taken(path: str, number: int, value: Any, scenario: "Scenario", data: Mapping[str, Any]) -> dict[str, Any]:
    groups = scenario.fish
    if not isinstance(value, dict) or not 1 <= number <= len(groups):
        raise ScenarioError([Fault("bench", 0, path, f"allowed: a table of a fish of group 1 to {len(groups)}")])
    group, fish, entry = groups[number - 1], value.get("fish"), value.get("entry")
    if group.count is None:
        text = "these fish are given by their density; give their count to move one of them by itself"
        raise ScenarioError([Fault("bench", 0, path, text)])
    if not isinstance(fish, int) or not 1 <= fish <= group.count:
        raise ScenarioError([Fault("bench", 0, f"{path}.fish", f"allowed: 1 to {group.count}")])
    if fish in group.without and isinstance(entry, int) and number < entry <= len(groups):
        return {f"fish.{entry}.where": value.get("where")}
    if fish in group.without or entry != len(groups) + 1:
        text = f"allowed: {len(groups) + 1}, or the table that the fish has already"
        raise ScenarioError([Fault("bench", 0, f"{path}.entry", text)])
    written = data["fish"][number - 1]
    length = value.get("length") if group.length.sd else written["length"]
    rest = {key: one for key, one in written.items() if key not in _OF_GROUP}
    own = rest | {"length": length, "count": 1, "where": value.get("where")}
    left: dict[str, Any] = {}
    for key, one in written.items():
        left[key] = one
        if key == "count":  # beside its count, where a person would write it
            left["without"] = None
    left["without"] = sorted([*group.without, fish])
    return {f"fish.{number}": left, f"fish.{entry}": own}
