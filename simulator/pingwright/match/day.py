"""A day as scenarios: its water, its bottom at one depth, every candidate; and its fish as trials want them."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from pingwright.echograms.record import FloatArray
from pingwright.inputs.scenario import Scenario
from pingwright.inputs.trip import Species as Asked
from pingwright.inputs.trip import Trip
from pingwright.trials.placement import LEAST_HEIGHT, Species

#: Depth of the transducer [m]; slices into which the day's span of depth is cut.
TRANSDUCER_DEPTH, SLICES = 0.6, 3


def edges(trip: Trip) -> FloatArray:
    """Return the depths of the bottom [m] (slice + 1) between which the slices of the day lie."""
    low, high = min(trip.day.depth), max(trip.day.depth)
    return np.linspace(low, high, (SLICES if high > low else 1) + 1)


def scenario(trip: Trip, depth: float) -> Scenario:
    """Return the day over a bottom of one depth [m], with every candidate. Raises ScenarioError."""
    from pingwright.inputs import scenario as inputs
    from pingwright.inputs.writing import toml_text

    day = trip.day
    boat: dict[str, Any] = {"speed": f"{day.speed!r} m/s", "transducer_depth": f"{TRANSDUCER_DEPTH} m"}
    if not day.speed:
        boat |= {"pings": 1}
    for name in ("roll", "pitch", "heave"):
        motion = getattr(day, name)
        if motion is not None:
            boat[name] = motion.model_dump(mode="json", exclude_none=True)
    if day.motion is not None:
        boat |= {"motion": day.motion, "hull_length": f"{day.hull_length!r} m"}
    tables: Mapping[str, Any] = {
        "title": "a trip",
        "seed": int(trip.seed),
        "water": {
            "temperature": f"{day.temperature!r} degC", "salinity": float(day.salinity), "wind": f"{day.wind!r} m/s",
        },
        "boat": boat,
        "element": [{"name": "stand-in", "use": "high-pencil"}],
        "seabed": {
            "depth": f"{depth!r} m", "slope": {"across": f"{day.slope!r} deg"},
            "layer": [{"sediment": day.sediment}],
        },
        "noise": {"own": day.own if isinstance(day.own, str) else f"{day.own!r} dB"},
        "structure": [] if day.wreck is None else [_wreck(day.wreck)],
    }  # fmt: skip
    parsed = inputs.parse(toml_text({key: value for key, value in tables.items() if value != []}), "trip.toml", {})
    return parsed.model_copy(update={"element": tuple(trip.element)})


def _wreck(wreck: Any) -> dict[str, Any]:
    size = {key: f"{float(getattr(wreck, key))!r} m" for key in ("length", "width", "height")}
    return {"name": "wreck", "shape": {"kind": "box", **size}, "at": {"x": "0 m", "y": "0 m"}}


def species(trip: Trip, asked: Asked, depth: float) -> Species:
    """Return a species of the trip over a bottom of one depth [m]; a fish that would lie in it stands just above."""
    from pingwright.world.resolve import STRENGTH_MODEL, TILT

    kind, where = str(asked.swimbladder), asked.where
    top, bottom = TRANSDUCER_DEPTH + 0.5, depth - LEAST_HEIGHT
    above, deep = None, None
    if where.above_bottom is not None:
        low, high = sorted(float(v) for v in where.above_bottom)
        above = (max(low, LEAST_HEIGHT), max(min(high, depth - top), LEAST_HEIGHT))
    elif where.depth is not None:
        low, high = (min(max(float(v), top), bottom) for v in sorted(where.depth))
        deep = (low, high)
    beside = None if trip.day.wreck is None else (min(trip.day.wreck.beside), max(trip.day.wreck.beside))
    return Species(
        kind, float(asked.length.mean), float(asked.length.sd), above, deep, TILT[kind], STRENGTH_MODEL[kind],
        beside=beside,
    )  # fmt: skip


def main_species(trip: Trip) -> int:
    """Return the index of the species with the largest share: swath, small fish and reach are about it."""
    return int(np.argmax([float(q.share) for q in trip.species]))
