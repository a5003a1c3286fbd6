"""A day as scenarios: its water, its bottom at one depth, every candidate; and its fish in the form for trials."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from pingwright.echograms.record import FloatArray
from pingwright.inputs.scenario import Scenario
from pingwright.inputs.trip import Day, Trip
from pingwright.inputs.trip_parts import Species as Asked
from pingwright.inputs.trip_parts import Weed
from pingwright.trials.placement import LEAST_HEIGHT, School, Species

#: Depth of the transducer [m]; number of slices into which the day's span of depth is cut.
TRANSDUCER_DEPTH, SLICES = 0.6, 3
#: Horizontal length [m] of the face of a ledge.
FACE_WIDTH = 0.2


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
        "seabed": {"layer": [{"sediment": day.sediment}], **_shape(day, depth)},
        "noise": {"own": day.own if isinstance(day.own, str) else f"{day.own!r} dB"},
        "structure": [] if day.standing is None else [_standing(day)],
        "scattering_layer": [] if day.weed is None else [_weed(day.weed)],
    }  # fmt: skip
    parsed = inputs.parse(toml_text({key: value for key, value in tables.items() if value != []}), "trip.toml", {})
    return parsed.model_copy(update={"element": tuple(trip.element)})


def _shape(day: Day, depth: float) -> dict[str, Any]:
    """Return the keys of the seabed's shape: a plane, or a ledge whose foot lies a little astern of the fish."""
    slope = {"across": f"{day.slope!r} deg"}
    if day.ledge is None:
        return {"depth": f"{depth!r} m", "slope": slope}
    edge, far = -float(day.ledge.beside), 4.0 * depth + 100.0
    top = depth - float(day.ledge.height)
    places = ((-far, top), (edge - FACE_WIDTH, top), (edge, depth), (far, depth))
    return {"profile": [[f"{x!r} m", f"{z!r} m"] for x, z in places], "slope": slope}


def _standing(day: Day) -> dict[str, Any]:
    size = {key: f"{float(getattr(day.standing, key))!r} m" for key in ("length", "width", "height")}
    name, kind = ("wreck", "box") if day.wreck is not None else ("reef", "reef")
    return {"name": name, "shape": {"kind": kind, **size}, "at": {"x": "0 m", "y": "0 m"}}


def _weed(weed: Weed) -> dict[str, Any]:
    """Return weed as a layer with the same strength in every band: its frequency does not matter."""
    return {
        "name": "weed", "kind": "flat", "above_bottom": f"{float(weed.height)!r} m", "frequency": "100 kHz",
        "volume_strength": f"{float(weed.volume_strength)!r} dB",
    }  # fmt: skip


def species(trip: Trip, asked: Asked, depth: float) -> Species:
    """Return a species of the trip over a bottom of one depth [m]; a fish inside the bottom is moved just above it."""
    from pingwright.world.resolve import STRENGTH_MODEL, TILT

    kind, where, stands = str(asked.swimbladder), asked.where, trip.day.standing
    top, bottom = TRANSDUCER_DEPTH + 0.5, depth - LEAST_HEIGHT
    above, deep = None, None
    if where.above_bottom is not None:
        low, high = sorted(float(v) for v in where.above_bottom)
        above = (max(low, LEAST_HEIGHT), max(min(high, depth - top), LEAST_HEIGHT))
    else:
        crest = depth - (0.0 if stands is None else float(stands.height))
        column = None if where.column is None else [depth * float(v) for v in where.column]
        span = where.depth or column or [crest - float(v) for v in reversed(where.above or ())]
        low, high = (min(max(float(v), top), bottom) for v in sorted(span))
        deep = (low, high)
    beside = (float(stands.beside[0]), float(stands.beside[1])) if stands and where.above is None else None
    tilt = TILT[kind] if asked.tilt is None else (float(asked.tilt.mean), float(asked.tilt.sd))
    size = asked.size
    school = None if size is None else School(size.along, size.across, size.height, asked.fish_per_volume)
    return Species(
        kind, float(asked.length.mean), float(asked.length.sd), above, deep, tilt,
        asked.strength_model or STRENGTH_MODEL[kind], beside=beside, school=school,
    )  # fmt: skip


def main_species(trip: Trip) -> int:
    """Return the index of the species with the largest share: swath, small fish and detection range are for it."""
    return int(np.argmax([float(q.share) for q in trip.species]))
