"""Make an Element from a scenario's [[element]]."""

from collections.abc import Callable
from typing import Any

import numpy as np

from pingwright.element.arrays import disc_array
from pingwright.element.curved import Arc, Cap
from pingwright.element.faces import Disc, Face, FloatArray, Rectangle
from pingwright.element.measured import table
from pingwright.element.model import Element
from pingwright.element.signal import Signal, tone_band
from pingwright.errors import UnfinishedError

#: Faces larger than this at the top of the band are refused [wavelengths]: flat ones, and the radius of curved ones.
MOST_WAVELENGTHS = 300
MOST_WAVELENGTHS_CURVED = 100


def build(spec: Any, density: float, sound_speed: float, depth: float = 0.0) -> Element:
    """Return the element of a resolved spec in water of density [kg/m3] and sound_speed [m/s] at its face.

    depth [m] of the face matters only where the spec asks for the cavitation limit. ValueError for a spec that was not
    resolved (no pulse length) or a face of unknown shape; UnfinishedError for a face of too many wavelengths.
    """
    signal = signal_of(spec)
    face = face_of(spec.face, signal, sound_speed)
    _refuse_huge(spec, face, signal.band[1] / sound_speed)
    return Element(spec, face, signal, density, sound_speed, depth)


def _refuse_huge(spec: Any, face: Face, per_metre: float) -> None:
    """Raise UnfinishedError where integrals over the pattern would take minutes; per_metre: wavelengths [1/m]."""
    curved = face.virtual_depth > 0.0
    size = max(*face.extent, face.virtual_depth) * per_metre
    most = MOST_WAVELENGTHS_CURVED if curved else MOST_WAVELENGTHS
    if size > most and not (face.radial and not curved):
        message = (
            f"Element {spec.name!r} has a face of {size:.0f} wavelengths at the top of its band: more than {most} "
            "are not worked out. Make the face smaller or the band lower."
        )
        raise UnfinishedError(message)


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
