"""The shape of the ground as knobs: flat, a slope, or a ledge of some height at some place along the track.

`seabed.shape` and `seabed.ledge.*` are names of knobs, no keys of a scenario. `whole` makes scenario keys of them: a
ledge is a `profile` of two points, the ends of its face, which can be dragged as well.
"""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from pingwright.bench.dials import Choice, Slider, length
from pingwright.errors import Fault, ScenarioError
from pingwright.quantities import LENGTH, QuantityError, read
from pingwright.units import METRES_PER_FOOT

if TYPE_CHECKING:
    from pingwright.inputs.scenario import Scenario
    from pingwright.inputs.sections import Seabed

SHAPE, LEDGE = "seabed.shape", "seabed.ledge."
SHAPES = {"flat": "flat", "slope": "slope", "ledge": "ledge"}
#: Shapes that a file may have and the list cannot make.
OTHERS = {"profile": "profile of the file", "grid": "soundings of the file"}
#: A new ledge: its height [m, ft], at most half of the depth, and how steep its face is [deg]. A new slope [deg].
HEIGHT, FACE, SLOPE = (3.0, 10.0), 60.0, 10.0
#: Ends of a profile that is a ledge.
ENDS = 2


def shape_of(seabed: "Seabed") -> str:
    """Return the shape of the ground, a key of SHAPES or OTHERS."""
    if seabed.grid is not None:
        return "grid"
    if seabed.profile is not None:
        return "ledge" if len(seabed.profile) == ENDS else "profile"
    return "slope" if seabed.slope.along or seabed.slope.across else "flat"


def choice(scenario: "Scenario") -> Choice:
    """Return the list of shapes."""
    shape = shape_of(scenario.seabed)
    every = SHAPES | ({shape: OTHERS[shape]} if shape in OTHERS else {})
    why = "Shape of the ground. A ledge can be dragged in the drawing, and so can both edges of its face."
    return Choice(SHAPE, "Ground", shape, tuple(every), tuple(every.values()), why, more=True)


def sliders(scenario: "Scenario", feet: bool) -> list[Slider]:
    """Return the sliders of a ground with a profile: its depth, and height and place of a ledge."""
    profile = scenario.seabed.profile
    if profile is None:
        return []
    deepest = max(depth for _, depth in profile)
    value, unit = length(deepest, feet)
    low, high = (10.0, 2000.0) if feet else (3.0, 600.0)
    made = [Slider(f"{LEDGE}depth", "Depth", unit, value, low, high, 1.0, "logarithmic",
                   "Depth of the deepest part of the ground.")]  # fmt: skip
    if len(profile) == ENDS:
        (x0, top), (x1, foot) = profile
        size = METRES_PER_FOOT if feet else 1.0
        ends = [round(end / size) for end in _track(scenario)]
        low, high = (1.0, 100.0) if feet else (0.3, 30.0)
        made.append(Slider(f"{LEDGE}height", "Ledge height", unit, length(abs(foot - top), feet)[0], low, high, 0.5,
                           "logarithmic", "From the foot of the ledge to its top. The face stays as steep as it is.",
                           more=True))  # fmt: skip
        made.append(Slider(f"{LEDGE}place", "Ledge at", unit, length((x0 + x1) / 2, feet)[0], ends[0], ends[1], 1.0,
                           "even", "Middle of the face along the track.", more=True))  # fmt: skip
    return made


def whole(changes: Mapping[str, Any], present: "Callable[[], Scenario]", feet: bool) -> dict[str, Any]:
    """Return changes with the knobs of the ground's shape as scenario keys, lengths as texts in feet or metres.

    present: returns the scenario before the change. Raises ScenarioError for a shape or length that is none, or where
    there is no ledge.
    """
    made: dict[str, Any] = {}
    for path, value in changes.items():
        if path == SHAPE:
            made |= _shaped(present(), value, feet)
        elif path.startswith(LEDGE):
            made["seabed.profile"] = _moved(present(), path, value, feet)
        else:
            made[path] = value
    return made


def _shaped(scenario: "Scenario", shape: Any, feet: bool) -> dict[str, Any]:
    if not isinstance(shape, str) or shape not in SHAPES:
        raise ScenarioError([Fault("bench", 0, SHAPE, f"allowed: {', '.join(SHAPES)}")])
    if shape == shape_of(scenario.seabed):
        return {}
    deep, made = _depth(scenario), dict.fromkeys(("seabed.profile", "seabed.grid", "seabed.slope"))
    if shape == "ledge":
        height = min(HEIGHT[1] * METRES_PER_FOOT if feet else HEIGHT[0], deep / 2)
        half, middle = height / np.tan(np.radians(FACE)) / 2, sum(_track(scenario)) / 2
        points = [(middle - half, deep - height), (middle + half, deep)]
        return made | {"seabed.depth": None, "seabed.profile": _texts(points, feet)}
    if scenario.seabed.depth is None:
        made["seabed.depth"] = _text(deep, feet)
    return made | ({"seabed.slope": {"across": f"{SLOPE:g} deg"}} if shape == "slope" else {})


def _moved(scenario: "Scenario", path: str, value: Any, feet: bool) -> list[list[str]]:
    """Return the profile with its depth, or the height or place of its ledge, changed."""
    profile, kind = scenario.seabed.profile, path.removeprefix(LEDGE)
    allowed = ("depth",) if profile is not None and len(profile) != ENDS else ("depth", "height", "place")
    if profile is None or kind not in allowed:
        raise ScenarioError([Fault("bench", 0, path, "the ground has no such ledge")])
    try:
        goal = read(value, LENGTH)
    except QuantityError as error:
        raise ScenarioError([Fault("bench", 0, path, str(error))]) from None
    deepest = max(depth for _, depth in profile)
    if kind == "depth":
        return _texts([(x, depth + goal - deepest) for x, depth in profile], feet)
    middle, old = sum(x for x, _ in profile) / ENDS, deepest - min(depth for _, depth in profile)
    if kind == "place":
        return _texts([(x + goal - middle, depth) for x, depth in profile], feet)
    if goal <= 0 or old <= 0:
        raise ScenarioError([Fault("bench", 0, path, "allowed: more than 0, on a ground that is not level")])
    return _texts(
        [(middle + (x - middle) * goal / old, deepest + (d - deepest) * goal / old) for x, d in profile], feet
    )


def _depth(scenario: "Scenario") -> float:
    """Return the depth [m] that a new shape begins with: as typed, or the deepest of a profile, or at the origin."""
    from pingwright.world import terrain

    seabed = scenario.seabed
    if seabed.depth is not None:
        return seabed.depth
    if seabed.profile is not None:
        return max(depth for _, depth in seabed.profile)
    return float(terrain.build(seabed, scenario.seed).depth(np.zeros(1), np.zeros(1))[0])


def _track(scenario: "Scenario") -> tuple[float, float]:
    """Return where the track begins and ends along x [m]; 100 m long where the scene does not say."""
    boat = scenario.boat
    return boat.start, boat.start + (boat.length or 100.0)


def _text(metres: float, feet: bool) -> str:
    return f"{metres / METRES_PER_FOOT:.5g} ft" if feet else f"{metres:.5g} m"


def _texts(points: list[tuple[float, float]], feet: bool) -> list[list[str]]:
    return [[_text(x, feet), _text(depth, feet)] for x, depth in points]
