"""The scene of one slice of a trip as a scenario: a plain bottom, the day's water, every element of the trip."""

from typing import Any

#: Depth of the transducer [m] and spectral level of the boat's own noise at the face at 50 kHz [dB re 1 uPa2/Hz]:
#: the circumstance in which reach is told.
TRANSDUCER_DEPTH = 0.6
VESSEL = 35.0

#: The window ends this much below the bottom, so that the whole first echo is judged.
_WINDOW = 1.12


def scenario(trip: Any, bottom: float) -> Any:
    """Return the scenario (inputs.scenario.Scenario) of a trip over a bottom at this depth [m]; its fish are examples.

    Fish sections stand in the order of the trip's quarries, so that each has its tilt and strength model resolved.
    """
    fish = "\n".join(_fish(quarry, bottom) for quarry in trip.quarry)
    return _with_elements(_text(trip, bottom) + fish, trip)


def with_target(trip: Any, bottom: float, depth: float) -> Any:
    """Return the scenario of one ping over a point target on the axis at a depth [m], for the range resolution."""
    target = f'[[target]]\nname = "point"\nstrength = -30.0\nat = {{ x = 0.0, y = 0.0, depth = {depth!r} }}\n'
    return _with_elements(_text(trip, bottom) + target, trip)


def _text(trip: Any, bottom: float) -> str:
    """Return everything but fish; `element` is a stand-in the trip's own elements replace."""
    day = trip.day
    return (
        f'title = "a trip"\nseed = {int(trip.seed)}\n'
        f"[water]\ntemperature = {float(day.temperature)!r}\nsalinity = {float(day.salinity)!r}\n"
        f"wind = {float(day.wind)!r}\n"
        f"[boat]\nspeed = 0.0\nstart = 0.0\npings = 1\ntransducer_depth = {TRANSDUCER_DEPTH!r}\n"
        f"[window]\ndepth = [0.0, {_WINDOW * bottom!r}]\n"
        f'[[element]]\nname = "stand-in"\nuse = "high-pencil"\n'
        f"[seabed]\ndepth = {bottom!r}\nslope = {{ along = 0.0, across = {float(day.slope)!r} }}\n"
        f'[[seabed.layer]]\nsediment = "{day.sediment}"\n'
        f"[noise]\nvessel = {VESSEL!r}\n"
    )


def _fish(quarry: Any, bottom: float) -> str:
    deep = 0.5 * bottom
    return (
        f'[[fish]]\nname = "quarry"\nswimbladder = "{quarry.swimbladder}"\n'
        f"length = {{ mean = {float(quarry.length.mean)!r}, sd = {float(quarry.length.sd)!r} }}\n"
        f"count = 1\nwhere = {{ x = [-1.0, 1.0], y = [-1.0, 1.0], depth = [{deep!r}, {deep + 0.1!r}] }}\n"
    )


def _with_elements(text: str, trip: Any) -> Any:
    from simulator.inputs import scenario as inputs

    parsed = inputs.parse(text, "trip.toml", {})
    return parsed.model_copy(update={"element": tuple(trip.element)})
