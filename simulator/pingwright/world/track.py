"""Place and lean of the boat at each transmission."""

from typing import TYPE_CHECKING

import numpy as np

from pingwright.inputs.fields import known
from pingwright.inputs.sections import AngularMotion, HeaveMotion
from pingwright.world.scatterers import FloatArray, Track

if TYPE_CHECKING:
    from pingwright.inputs.fields import known
from pingwright.inputs.sections import Boat

_GRAVITY = 9.81

#: transmissions are counted up to this
COUNTED = 10**9


def pings_of_run(length: float, speed: float, interval: float) -> int:
    """Return how many transmissions fit on a run of `length` [m] at `speed` [m/s], `interval` [s] apart.

    A speed so low that there would be more than COUNTED gives COUNTED: no run is that long, and a step may round to 0.
    """
    step = max(speed * interval, length / COUNTED)
    return min(int(np.floor(length / step + 1e-9)) + 1, COUNTED)


def build(boat: "Boat", transmissions: int) -> Track:
    """Return the poses of a straight run along +x at y = 0 (scenario section `boat`, resolved).

    boat: start [m], speed [m/s], ping_interval [s], transducer_depth [m], roll, pitch [deg] and heave [m] as
    sinusoids (amplitude, period [s], phase [deg]) or None. Heading is 0 throughout.
    """
    time = np.arange(transmissions, dtype=np.float64) * known(boat.ping_interval, "boat.ping_interval")
    heave = _swing(boat.heave, time)
    return Track(
        time=time,
        x=float(boat.start) + float(boat.speed) * time,
        y=np.zeros_like(time),
        depth=float(boat.transducer_depth) - heave,
        heave=heave,
        roll=_swing(boat.roll, time),
        pitch=_swing(boat.pitch, time),
        heading=np.zeros_like(time),
    )


def by_wind(boat: "Boat", wind: float) -> "Boat":
    """Return a boat whose roll, pitch and heave, if not given, are those in a fully developed sea of a wind [m/s].

    Height 0.21 U^2 / g and period 2 pi U / (0.877 g) of the sea: Pierson & Moskowitz 1964 (from memory), deep water, a
    long fetch. Assumed: one sinusoid of the sea's rms height; waves shorter than the hull move it less, by 1 / (1 + (2
    hull / wavelength)^2); pitch follows the waves' slope, roll 1.5 times it.
    """
    if boat.motion is None or wind <= 0.0:
        return boat
    period = max(2.0 * np.pi * wind / (0.877 * _GRAVITY), 0.5)
    length = _GRAVITY * period**2 / (2.0 * np.pi)
    share = 1.0 / (1.0 + (2.0 * float(boat.hull_length) / length) ** 2)
    height = min(0.21 * wind**2 / _GRAVITY / np.sqrt(8.0) * share, 10.0)
    slope = min(float(np.degrees(2.0 * np.pi * height / length)), 30.0)
    period = float(min(period, 60.0))
    changes = {
        "heave": boat.heave or HeaveMotion(amplitude=float(height), period=period),
        "pitch": boat.pitch or AngularMotion(amplitude=slope, period=period, phase=90.0),
        "roll": boat.roll or AngularMotion(amplitude=1.5 * slope, period=period, phase=40.0),
    }
    return boat.model_copy(update=changes)


def _swing(motion: AngularMotion | HeaveMotion | None, time: FloatArray) -> FloatArray:
    """Sinusoid of a motion [unit of its amplitude]; None is no motion."""
    if motion is None:
        return np.zeros_like(time)
    turns = time / float(motion.period) + float(getattr(motion, "phase", 0.0)) / 360.0
    return float(motion.amplitude) * np.sin(2.0 * np.pi * turns)
