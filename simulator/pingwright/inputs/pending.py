"""Keys that are read and checked but not acted on yet: refused where a scenario is made ready for work.

Each line goes with the change that makes its key act; an empty table goes altogether.
"""

from collections.abc import Callable, Mapping
from typing import Any

from pingwright.errors import Fault, ScenarioError

#: Key -> whether a scenario uses it.
PENDING: Mapping[str, Callable[[Any], bool]] = {
    "passes": lambda s: s.passes is not None,
    "boat.motion": lambda s: s.boat.motion is not None,
    "water.show_steps": lambda s: s.water.show_steps,
    "reverberation.background": lambda s: s.reverberation.background != "by water",
    "seabed.law": lambda s: s.seabed.law != "kirchhoff",
    "scattering_layer.above_bottom": lambda s: any(one.depth is None for one in s.scattering_layer),
    "scattering_layer.x, y": lambda s: any(one.x or one.y for one in s.scattering_layer),
}


def refuse(scenario: Any) -> None:
    """Raise ScenarioError for every key of the table that a scenario uses."""
    used = [key for key, uses in PENDING.items() if uses(scenario)]
    if used:
        message = "this key is known, but the program does not act on it yet; leave it out"
        raise ScenarioError([Fault(scenario.name or "scenario", 0, key, message) for key in used])
