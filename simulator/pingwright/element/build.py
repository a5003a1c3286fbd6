"""Make an Element from a scenario's [[element]]."""

from typing import assert_never

import numpy as np

from pingwright.acoustics.arrays import FloatArray
from pingwright.acoustics.signal import Signal, tone_band
from pingwright.element.arrays import disc_array
from pingwright.element.curved import Arc, Cap
from pingwright.element.faces import Disc, Ellipse, Face, Rectangle
from pingwright.element.measured import table
from pingwright.element.model import FAR, Element
from pingwright.errors import UnfinishedError
from pingwright.inputs import faces
from pingwright.inputs.elements import Element as ElementSpec

#: Faces larger than this at the top of the band are refused [wavelengths]: size if flat, radius if curved.
MOST_WAVELENGTHS = 300
MOST_WAVELENGTHS_CURVED = 100


def build(spec: ElementSpec, density: float, sound_speed: float, depth: float = 0.0, far: float = FAR) -> Element:
    """Return the element of a resolved spec in water of density [kg/m3] and sound_speed [m/s] at its face.

    depth [m] of the face matters only if the spec has the cavitation limit. far [m]: distance, such as the depth of the
    bottom, for which the loss to harmonics is computed. ValueError for a spec that was not resolved (no pulse length);
    UnfinishedError for a face of too many wavelengths.
    """
    signal = signal_of(spec)
    face = face_of(spec.face, signal, sound_speed)
    _refuse_huge(spec, face, signal.band[1] / sound_speed)
    return Element(spec, face, signal, density, sound_speed, depth, far)


def _refuse_huge(spec: ElementSpec, face: Face, per_metre: float) -> None:
    """Raise UnfinishedError if integrals over the pattern would take minutes; per_metre: wavelengths [1/m]."""
    curved = face.virtual_depth > 0.0
    size = max(*face.extent, face.virtual_depth) * per_metre
    most = MOST_WAVELENGTHS_CURVED if curved else MOST_WAVELENGTHS
    if size > most and not (face.radial and not curved):
        message = (
            f"Element {spec.name!r} has a face of {size:.0f} wavelengths at the top of its band: more than {most} "
            "are not computed. Make the face smaller or the band lower."
        )
        raise UnfinishedError(message)


def signal_of(spec: ElementSpec) -> Signal:
    """Return the pulse and receiver band of a spec; ValueError where the pulse length is not resolved."""
    pulse = spec.pulse
    if pulse.length is None:
        message = f"element {spec.name!r} has no pulse length: resolve the scenario first"
        raise ValueError(message)
    low, high = spec.band
    band = (float(low), float(high))
    if pulse.tone is not None:
        low = high = pulse.tone
        band = tone_band(pulse.tone, pulse.length)
    return Signal(
        float(low), float(high), pulse.length, pulse.taper, pulse.direction, band, spec.weighting, spec.filter
    )


def face_of(spec: faces.Face, signal: Signal, sound_speed: float) -> Face:  # noqa: PLR0911  a line a face
    """Return the radiating face of a scenario's face.

    The band centre of the signal and sound_speed [m/s] give the acoustic axis of steered arrays and measured tables.
    """
    centre = sum(signal.band) / 2.0
    match spec:
        case faces.Disc():
            return Disc(spec.diameter)
        case faces.Rectangle():
            return Rectangle(spec.along, spec.across)
        case faces.Ellipse():
            return Ellipse(spec.along, spec.across)
        case faces.Discs():
            return disc_array(spec.diameter, spec.centres, spec.weights, spec.delays, centre, sound_speed)
        case faces.Arc():
            return Arc(spec.radius, spec.opening, spec.width, spec.shading)
        case faces.Cap():
            return Cap(spec.radius, spec.opening, spec.shading)
        case faces.Table():
            return table(*columns(spec.pattern), centre, sound_speed)
        case _:
            assert_never(spec)


def columns(pattern: faces.PatternTable) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return frequency [Hz], angle_along, angle_across [deg] and level [dB] of a measured pattern as arrays."""
    names = ("frequency", "angle_along", "angle_across", "level")
    f, along, across, level = (np.asarray(getattr(pattern, name), dtype=float) for name in names)
    return f, along, across, level
