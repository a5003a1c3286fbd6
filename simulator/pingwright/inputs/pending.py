"""Keys that are read and checked but not acted on yet: refused where a scenario is made ready for work.

Each line goes with the change that makes its key act; an empty table goes altogether.
"""

from collections.abc import Callable, Mapping
from typing import Any

from pingwright.errors import Fault, ScenarioError

#: Key -> whether a scenario uses it.
PENDING: Mapping[str, Callable[[Any], bool]] = {
    "passes": lambda s: s.passes is not None,
}


def refuse(scenario: Any) -> None:
    """Raise ScenarioError for every key of the table that a scenario uses."""
    used = [key for key, uses in PENDING.items() if uses(scenario)]
    if used:
        message = "this key is known, but the program does not act on it yet; leave it out"
        raise ScenarioError([Fault(scenario.name or "scenario", 0, key, message) for key in used])
