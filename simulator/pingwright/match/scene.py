"""The scene of a trip as a scenario: a bottom that falls along the track, the day's water, every element."""

import math
from collections.abc import Sequence
from typing import Any

#: Depth of the transducer [m].
TRANSDUCER_DEPTH = 0.6


def scenario(trip: Any, fall: float, window: float, wrecks: Sequence[float] = ()) -> Any:
    """Return the scenario (inputs.scenario.Scenario) of a trip; its fish are examples that carry the species' kinds.

    fall [m/m]: of the bottom along the track, which lies at the day's least depth at x = 0. window [m]: depth recorded.
    wrecks [m]: where along the track the middle of a wreck lies, if the day has one.
    """
    from pingwright.inputs import scenario as inputs

    text = _text(trip, fall, window) + "".join(_wreck(trip.day.wreck, i, x) for i, x in enumerate(wrecks))
    parsed = inputs.parse(text, "trip.toml", {})
    return parsed.model_copy(update={"element": tuple(trip.element)})


def _text(trip: Any, fall: float, window: float) -> str:
    """Return the scenario's text; its element is a stand-in that the trip's own replace."""
    day, low = trip.day, float(min(trip.day.depth))
    return (
        f'title = "a trip"\nseed = {int(trip.seed)}\n'
        f"[water]\ntemperature = {float(day.temperature)!r}\nsalinity = {float(day.salinity)!r}\n"
        f"wind = {float(day.wind)!r}\n"
        f"[boat]\nspeed = 0.0\nstart = 0.0\npings = 1\ntransducer_depth = {TRANSDUCER_DEPTH!r}\n"
        f"[window]\ndepth = [0.0, {float(window)!r}]\n"
        f'[[element]]\nname = "stand-in"\nuse = "high-pencil"\n'
        f"[seabed]\ndepth = {low!r}\n"
        f"slope = {{ along = {math.degrees(math.atan(fall))!r}, across = {float(day.slope)!r} }}\n"
        f'[[seabed.layer]]\nsediment = "{day.sediment}"\n'
        f"[noise]\nown = {_own(day.own)}\n"
    ) + "".join(_fish(species, low) for species in trip.species)


def _own(own: Any) -> str:
    return f'"{own}"' if isinstance(own, str) else repr(float(own))


def _fish(species: Any, low: float) -> str:
    deep = 0.5 * low
    return (
        f'[[fish]]\nname = "species"\nswimbladder = "{species.swimbladder}"\n'
        f"length = {{ mean = {float(species.length.mean)!r}, sd = {float(species.length.sd)!r} }}\n"
        f"count = 1\nwhere = {{ x = [-1.0, 1.0], y = [-1.0, 1.0], depth = [{deep!r}, {deep + 0.1!r}] }}\n"
    )


def _wreck(wreck: Any, number: int, x: float) -> str:
    size = ", ".join(f"{key} = {float(getattr(wreck, key))!r}" for key in ("length", "width", "height"))
    return (
        f'[[structure]]\nname = "wreck {number}"\nshape = {{ kind = "box", {size} }}\n'
        f"at = {{ x = {float(x)!r}, y = 0.0 }}\n"
    )
