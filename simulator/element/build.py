"""Make an Element from a scenario's [[element]]."""

from collections.abc import Callable
from typing import Any

import numpy as np

from simulator.element.arrays import disc_array
from simulator.element.curved import Arc, Cap
from simulator.element.faces import Disc, Face, FloatArray, Rectangle
from simulator.element.measured import table
from simulator.element.model import Element
from simulator.element.signal import Signal, tone_band


def build(spec: Any, density: float, sound_speed: float, depth: float = 0.0) -> Element:
    """Return the element of a resolved spec in water of density [kg/m3] and sound_speed [m/s] at its face.

    depth [m] of the face matters only where the spec asks for the cavitation limit. ValueError for a spec that was not
    resolved (no pulse length) or a face of unknown shape.
    """
    signal = signal_of(spec)
    return Element(spec, face_of(spec.face, signal, sound_speed), signal, density, sound_speed, depth)


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


def face_of(spec: Any, signal: Signal, sound_speed: float) -> Face:
    """Return the radiating face of a scenario's face; ValueError for an unknown shape.

    The signal's band centre and sound_speed [m/s] place the acoustic axis of steered arrays and measured tables.
    """
    centre = sum(signal.band) / 2.0
    makers: dict[str, Callable[[], Face]] = {
        "disc": lambda: Disc(spec.diameter),
        "rectangle": lambda: Rectangle(spec.along, spec.across),
        "discs": lambda: disc_array(spec.diameter, spec.centres, spec.weights, spec.delays, centre, sound_speed),
        "arc": lambda: Arc(spec.radius, spec.opening, spec.width, spec.shading),
        "cap": lambda: Cap(spec.radius, spec.opening, spec.shading),
        "table": lambda: table(*columns(spec.pattern), centre, sound_speed),
    }
    if spec.shape not in makers:
        message = f"unknown face {spec.shape!r}"
        raise ValueError(message)
    return makers[spec.shape]()


def columns(pattern: Any) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return frequency [Hz], angle_along, angle_across [deg] and level [dB] of a measured pattern as arrays."""
    names = ("frequency", "angle_along", "angle_across", "level")
    f, along, across, level = (np.asarray(getattr(pattern, name), dtype=float) for name in names)
    return f, along, across, level
