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
    """Return handles of layers, ledge, structures, schools, targets and fish.

    fish: which fish each table has, of `alone.tables`.
    """
    layers, schools = ([s.box for s in record.truth.soft if s.kind == kind] for kind in ("scattering_layer", "school"))
    made: list[dict[str, Any]] = []
    for number, (layer, box) in enumerate(zip(scenario.scattering_layer, layers, strict=True), 1):
        kind = "depth" if layer.depth is not None else "above_bottom"
        made.append({"kind": "layer", "key": f"scattering_layer.{number}.{kind}", "name": layer.name,
                     "span": list(getattr(layer, kind)), "shown": list(box[4:]),
                     "stands": kind == "above_bottom"})  # fmt: skip
    if scenario.seabed.profile is not None:
        made.append({"kind": "ledge", "key": "seabed.profile", "points": [list(p) for p in scenario.seabed.profile]})
    for number, (one, outline) in enumerate(zip(scenario.structure, record.truth.structures, strict=False), 1):
        made.append({"kind": "structure", "key": f"structure.{number}.at", "name": one.name, "x": one.at.x,
                     "y": one.at.y, "shown": float(outline.side[:, 1].mean())})  # fmt: skip
    for number, (school, box) in enumerate(zip(scenario.school, schools, strict=True), 1):
        heights = {name: getattr(school.at, name) for name in ("depth", "above_bottom", "above")}
        made.append({"kind": "school", "key": f"school.{number}.at", "name": school.name, "x": school.at.x,
                     "y": school.at.y, "shown": (box[4] + box[5]) / 2}
                    | {name: height for name, height in heights.items() if height is not None})  # fmt: skip
    for number, target in enumerate(scenario.target, 1):
        made.append({"kind": "target", "key": f"target.{number}.at", "name": target.name, "x": target.at.x,
                     "y": target.at.y, "depth": target.at.depth, "shown": target.at.depth})  # fmt: skip
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
