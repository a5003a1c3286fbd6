"""Make an Element from a scenario's [[element]]."""

from typing import Any

from simulator.element.faces import Disc, Face, Rectangle
from simulator.element.model import Element
from simulator.element.signal import Signal, tone_band


def build(spec: Any, density: float, sound_speed: float, depth: float = 0.0) -> Element:
    """Return the element of a resolved spec in water of density [kg/m3] and sound_speed [m/s] at its face.

    depth [m] of the face matters only where the spec asks for the cavitation limit. ValueError for a spec that was not
    resolved (no pulse length) or a face of unknown shape.
    """
    return Element(spec, face_of(spec.face), signal_of(spec), density, sound_speed, depth)


def signal_of(spec: Any) -> Signal:
    """Return the pulse and receiver band of a spec; ValueError where the pulse length is not resolved."""
    pulse = spec.pulse
    if pulse.length is None:
        message = f"element {spec.name!r} has no pulse length: resolve the scenario first"
        raise ValueError(message)
    low, high = spec.band
    band = (float(low), float(high))
    if pulse.kind == "tone":
        low = high = pulse.tone
        band = tone_band(pulse.tone, pulse.length)
    return Signal(float(low), float(high), pulse.length, pulse.taper, pulse.direction, band, spec.weighting)


def face_of(spec: Any) -> Face:
    """Return the radiating face of a scenario's face; ValueError for an unknown shape."""
    if spec.shape == "disc":
        return Disc(spec.diameter)
    if spec.shape == "rectangle":
        return Rectangle(spec.along, spec.across)
    message = f"unknown face {spec.shape!r}"
    raise ValueError(message)
