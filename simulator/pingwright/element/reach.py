"""Detection range of an element under stated conditions: the closed forms behind `list elements`.

The conditions: sea water of 10 degC and salinity 35, wind 10 kn, a boat at 4 kn whose own noise is that of
`acoustics.noise.own_level` (assumed, to +-10 dB), one ping. Fish: 40 cm with a closed bladder, detected in half of the
pings with false alarms in 1e-4 of the cells, no seabed. Bottom: held in 9 of 10 pings. If an element's pulse follows
the depth, it is the pulse for the depth in question. Bubbles are left out: 0.06 dB two ways at 170 kHz in this wind.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from pingwright.acoustics import absorption, bottomecho, budget, fish, noise
from pingwright.acoustics.arrays import FloatArray
from pingwright.element.build import build
from pingwright.element.model import Element
from pingwright.inputs import catalogue, pulses
from pingwright.inputs.elements import Element as ElementSpec

#: The conditions, see the docstring of the module.
TEMPERATURE, SALINITY = 10.0, 35.0
DENSITY, SOUND_SPEED = 1027.0, 1490.0
KNOT = 1852 / 3600
WIND_SPEED, BOAT_SPEED = 10 * KNOT, 4 * KNOT
FISH_LENGTH = 0.40
FISH_TILT = (-5.0, 15.0)
#: Uncertainty of own noise [dB].
NOISE_BAND = 10.0
#: An element has the pulse for this distance if no distance is given [m].
USUAL_DISTANCE = 75.0


@dataclass(frozen=True)
class Banded:
    """A number, and its values with own noise 10 dB higher (low) and 10 dB lower (high)."""

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
    """Return a spec as an element under the conditions; without a pulse length, the pulse is that for a distance [m].

    far [m]: distance for the loss to harmonics, by default the same distance.
    """
    timed = pulses.with_length(spec, 2.0 * distance / SOUND_SPEED)
    return build(timed, DENSITY, SOUND_SPEED, far=distance if far is None else far)


def own_noise() -> float | None:
    """Return own noise under the conditions [dB re 1 uPa2/Hz at 50 kHz around the hull]."""
    return noise.own_level("by speed", BOAT_SPEED)


@dataclass(frozen=True)
class Sight:
    """The numbers of an element for the sonar equation under the conditions, for any distance with the pulse for it.

    element: with the pulse for the usual distance. flat: its source level without the loss to harmonics [dB re 1 uPa
    m]; ambient, own: noise after the filter [uPa2] by wind and heat, and by own noise of 0 dB; absorption [dB/m]; all
    at band centre. The noise of a chirp is taken to fall with its length: correct to 0.1 dB from 1 ms on.
    """

    spec: ElementSpec
    element: Element
    flat: float
    ambient: float
    own: float
    absorption: float

    def noise(self, distance: float, own: float | None) -> float:
        """Return the noise level [dB re 1 uPa] with the pulse for a distance [m], own noise as in `noise_psd`."""
        power = self.ambient + (0.0 if own is None else self.own * 10.0 ** (own / 10.0))
        given = self.spec.pulse
        timed = given.length or pulses.length_at(2.0 * distance / SOUND_SPEED, tone=given.tone is not None)
        return float(10.0 * np.log10(power * self.element.pulse_length / timed))

    def level(self, distance: float) -> float:
        """Return the source level [dB re 1 uPa m] minus the loss to harmonics up to a distance [m]."""
        return self.flat - replace(self.element, far=distance).finite_amplitude_loss


@lru_cache(maxsize=64)
def sight(spec: ElementSpec) -> Sight:
    """Return the numbers of an element that the closed forms need."""
    element = in_circumstance(spec)
    f = element.centre
    ambient, own = (element.noise_level(WIND_SPEED, *kind) for kind in ((True, None), (False, 0.0)))
    return Sight(
        spec, element,
        flat=element.source_level(f) + element.finite_amplitude_loss,
        ambient=10.0 ** (ambient / 10.0),
        own=10.0 ** (own / 10.0),
        absorption=float(absorption.francois_garrison(f, TEMPERATURE, SALINITY)),
    )  # fmt: skip


def fish_reach(spec: ElementSpec, own: float | None, length: float = FISH_LENGTH) -> float:
    """Return the depth [m] to which half of the pings detect a fish of a length [m], under the conditions."""
    seen = sight(spec)
    f = seen.element.centre
    strength = float(fish.strength_love_1971(length, f)) + 10.0 * np.log10(fish.tilt_average(*FISH_TILT))

    def at(distance: float) -> float:
        return float(budget.reach(seen.level(distance), seen.noise(distance, own), strength, seen.absorption))

    return _settled(at)


def _settled(at: Callable[[float], float]) -> float:
    """Return the distance that agrees with its own pulse, found by iteration: correct to 0.3 %."""
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
    return bottomecho.sediment_law(sediment, catalogue.sediments()[sediment], frequency, SOUND_SPEED, law)


def bottom_reach(spec: ElementSpec, own: float | None, sediment: str) -> float:
    """Return the depth [m] to which an element holds the bottom of a catalogue sediment, under the conditions."""
    seen = sight(spec)
    element = seen.element
    law, beam = bottom_law(sediment, element.centre), two_way(element)
    effective = element.effective_pulse * SOUND_SPEED / 2.0

    def at(distance: float) -> float:
        return bottomecho.bottom_reach(
            seen.level(distance), lambda depth: seen.noise(depth, own), seen.absorption, law, beam,
            element.range_resolution, effective,
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
