"""What can be dragged in the drawing: the keys that it sets, and its place [m]."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import Record

if TYPE_CHECKING:
    from pingwright.inputs.scenario import Scenario

_SPANS = ("x", "y", "above_bottom", "above", "depth")


def handles(scenario: "Scenario", record: Record, fish: Sequence[NDArray[np.intp]]) -> list[dict[str, Any]]:
    """Return handles of layers, ledge, structures, schools and fish, those to be found first where they overlap last.

    fish: which fish each table has, of `alone.tables`.
    """
    made: list[dict[str, Any]] = []
    for number, layer in enumerate(scenario.scattering_layer, 1):
        if layer.depth is not None:
            made.append({"kind": "layer", "key": f"scattering_layer.{number}.depth", "name": layer.name,
                         "depth": list(layer.depth)})  # fmt: skip
    if scenario.seabed.profile is not None:
        made.append({"kind": "ledge", "key": "seabed.profile", "points": [list(p) for p in scenario.seabed.profile]})
    for number, (one, outline) in enumerate(zip(scenario.structure, record.truth.structures, strict=False), 1):
        made.append({"kind": "structure", "key": f"structure.{number}.at", "name": one.name, "x": one.at.x,
                     "y": one.at.y, "depth": None, "shown": float(outline.side[:, 1].mean())})  # fmt: skip
    for number, school in enumerate(scenario.school, 1):
        box = next(s.box for s in record.truth.soft if s.kind == "school" and s.name == school.name)
        made.append({"kind": "school", "key": f"school.{number}.at", "name": school.name, "x": school.at.x,
                     "y": school.at.y, "depth": school.at.depth, "shown": (box[4] + box[5]) / 2})  # fmt: skip
    return made + _fish(scenario, fish)


def _fish(scenario: "Scenario", fish: Sequence[NDArray[np.intp]]) -> list[dict[str, Any]]:
    """Return a handle for each table of fish; numbers: those of its fish within the table, as `without` has them."""
    made = []
    for number, (group, places) in enumerate(zip(scenario.fish, fish, strict=True), 1):
        if not len(places):
            continue
        spans = {name: getattr(group.where, name) for name in _SPANS}
        drawn = [k for k in range(1, len(places) + len(group.without) + 1) if k not in group.without]
        made.append(
            {"kind": "fish", "key": f"fish.{number}", "name": group.name, "fish": places.tolist(), "numbers": drawn,
             "entry": number, "next": len(scenario.fish) + 1, "alone": group.count is not None and len(places) > 1}
            | {name: list(span) for name, span in spans.items() if span is not None}
        )  # fmt: skip
    return made
