"""How deep an element sees, in one stated circumstance: the closed forms behind `list elements`.

The circumstance: sea water of 10 degC and salinity 35, wind 10 kn, a boat at 4 kn whose own noise is that of
`acoustics.noise.own_level` (assumed, to +-10 dB), one ping. Fish: 40 cm with a closed bladder, detected half the time
at a false alarm of 1e-4 a cell, no seabed. Bottom: held in 9 of 10 pings. The pulse is that of the depth asked about
where the element leaves it to the depth.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from pingwright.acoustics import absorption, bottomecho, budget, fish, noise, seabed, slopes, smallslope
from pingwright.acoustics.arrays import FloatArray
from pingwright.element.build import build
from pingwright.element.model import Element
from pingwright.inputs import catalogue, pulses
from pingwright.inputs.elements import Element as ElementSpec

#: The circumstance, see the module's text.
TEMPERATURE, SALINITY = 10.0, 35.0
DENSITY, SOUND_SPEED = 1027.0, 1490.0
KNOT = 1852 / 3600
WIND_SPEED, BOAT_SPEED = 10 * KNOT, 4 * KNOT
FISH_LENGTH = 0.40
FISH_TILT = (-5.0, 15.0)
#: Own noise is not known better than this [dB].
NOISE_BAND = 10.0
#: Distance whose pulse an element has where none is asked about [m].
USUAL_DISTANCE = 75.0


@dataclass(frozen=True)
class Banded:
    """A number with its value where own noise is 10 dB louder (low) and 10 dB quieter (high)."""

    value: float
    low: float
    high: float


def with_noise_band(closed_form: Callable[[float | None], float], own: float | None) -> Banded:
    """Return a closed form of own noise [dB re 1 uPa2/Hz at 50 kHz around the hull, None for none] with its band.

    closed_form: the number, falling with the level it is given. Without own noise the band is empty.
    """
    if own is None:
        value = closed_form(None)
        return Banded(value, value, value)
    return Banded(*(closed_form(own + more) for more in (0.0, NOISE_BAND, -NOISE_BAND)))


def in_circumstance(spec: ElementSpec, distance: float = USUAL_DISTANCE, far: float | None = None) -> Element:
    """Return a spec as an element in the circumstance, its pulse that of a distance [m] where it leaves it open.

    far [m]: where the loss to harmonics is worked out, by default at the distance.
    """
    timed = pulses.with_length(spec, 2.0 * distance / SOUND_SPEED)
    return build(timed, DENSITY, SOUND_SPEED, far=distance if far is None else far)


def own_noise() -> float | None:
    """Return own noise in the circumstance [dB re 1 uPa2/Hz at 50 kHz around the hull]."""
    return noise.own_level("by speed", BOAT_SPEED)


def fish_reach(spec: ElementSpec, own: float | None, length: float = FISH_LENGTH) -> float:
    """Return how deep [m] a fish of some length [m] is detected half the time under own noise, in the circumstance."""

    def at(distance: float) -> float:
        element = in_circumstance(spec, distance)
        f = element.centre
        strength = float(fish.strength_love_1971(length, f)) + 10.0 * np.log10(fish.tilt_average(*FISH_TILT))
        level = element.noise_level(WIND_SPEED, ambient=True, own=own)
        loss = float(absorption.francois_garrison(f, TEMPERATURE, SALINITY))
        return float(budget.reach(element.source_level(f), level, strength, loss))

    return _settled(at)


def _settled(at: Callable[[float], float]) -> float:
    """Return the distance that its own pulse gives, by going on from one to the next: right to 0.3 %."""
    distance = 300.0
    for _ in range(20):
        before, distance = distance, at(distance)
        if abs(distance - before) < 3e-3 * before:
            break
    return distance


@lru_cache(maxsize=64)
def bottom_law(sediment: str, frequency: float, law: str = "kirchhoff") -> Callable[[FloatArray], FloatArray]:
    """Return a catalogue sediment's backscattering coefficient [1] over the cosine of incidence (n), slopes averaged.

    frequency [Hz]; law: see `seabed.surface_backscatter`. KeyError for an unknown sediment.
    """
    entry = catalogue.sediments()[sediment]
    known = {name: getattr(entry, name) for name in seabed.Sediment.__dataclass_fields__ if hasattr(entry, name)}
    ground = seabed.Sediment(**known, elastic=smallslope.GROUNDS.get(sediment))

    def coefficient(cosine: FloatArray, f: FloatArray) -> FloatArray:
        return seabed.backscatter(ground, cosine, f, SOUND_SPEED, law)

    mean = slopes.averaged(coefficient, entry.slope_rms_deg)
    angle = np.linspace(0.0, np.pi / 2, 1801)
    table = mean(np.cos(angle), np.array([frequency]))[:, 0]
    return lambda cosine: np.interp(np.arccos(np.clip(cosine, 0.0, 1.0)), angle, table)


def bottom_reach(spec: ElementSpec, own: float | None, sediment: str) -> float:
    """Return the depth [m] to which an element holds the bottom of a catalogue sediment, in the circumstance."""
    usual = in_circumstance(spec)
    law, beam = bottom_law(sediment, usual.centre), two_way(usual)
    loss = float(absorption.francois_garrison(usual.centre, TEMPERATURE, SALINITY))

    def at(distance: float) -> float:
        element = in_circumstance(spec, distance)
        return bottomecho.bottom_reach(
            element.source_level(element.centre),
            element.noise_level(WIND_SPEED, ambient=True, own=own),
            loss, law, beam, element.range_resolution,
            element.effective_pulse * SOUND_SPEED / 2.0,
        )  # fmt: skip

    return _settled(at)


def two_way(element: Element) -> Callable[[FloatArray], FloatArray]:
    """Return an upright element's two-way beam power [1] at band centre over the angle off its normal [deg] (n).

    The mean around the normal, 1 where the axis is the normal.
    """
    angle = np.linspace(0.0, 90.0, 1801)
    around = np.linspace(0.0, 2.0 * np.pi, 1 if element.face.radial else 48, endpoint=False)
    sine = np.sin(np.radians(angle))
    u, v = np.outer(sine, np.cos(around)), np.outer(sine, np.sin(around))
    pressure = element.beam(u.ravel(), v.ravel(), np.array([element.centre]))[:, 0]
    mean = np.mean((np.abs(pressure) ** 4).reshape(u.shape), axis=1)
    return lambda degrees: np.interp(degrees, angle, mean)
