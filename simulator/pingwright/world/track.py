"""Where the boat is, and how it leans, at each transmission."""

from typing import Any

import numpy as np

from pingwright.world.scatterers import FloatArray, Track


def pings_of_run(length: float, speed: float, interval: float) -> int:
    """Return how many transmissions fit on a run of `length` [m] at `speed` [m/s], `interval` [s] apart."""
    return int(np.floor(length / (speed * interval) + 1e-9)) + 1


def build(boat: Any, transmissions: int) -> Track:
    """Return the poses of a straight run along +x at y = 0 (scenario section `boat`, resolved).

    boat: start [m], speed [m/s], ping_interval [s], transducer_depth [m], roll, pitch [deg] and heave [m] as
    sinusoids (amplitude, period [s], phase [deg]) or None. Heading is 0 throughout.
    """
    time = np.arange(transmissions, dtype=np.float64) * float(boat.ping_interval)
    heave = _swing(getattr(boat, "heave", None), time)
    return Track(
        time=time,
        x=float(boat.start) + float(boat.speed) * time,
        y=np.zeros_like(time),
        depth=float(boat.transducer_depth) - heave,
        heave=heave,
        roll=_swing(getattr(boat, "roll", None), time),
        pitch=_swing(getattr(boat, "pitch", None), time),
        heading=np.zeros_like(time),
    )


def still(x: FloatArray, y: FloatArray, transducer_depth: float, interval: float = 1.0) -> Track:
    """Return a level track through the given places [m] (n), one ping each, `interval` [s] apart (Monte Carlo)."""
    zero = np.zeros(len(x))
    return Track(
        time=np.arange(len(x), dtype=np.float64) * interval,
        x=np.asarray(x, dtype=np.float64),
        y=np.asarray(y, dtype=np.float64),
        depth=zero + transducer_depth,
        heave=zero,
        roll=zero,
        pitch=zero,
        heading=zero,
    )


def _swing(motion: Any, time: FloatArray) -> FloatArray:
    """Sinusoid of a motion [unit of its amplitude]; None is no motion."""
    if motion is None:
        return np.zeros_like(time)
    turns = time / float(motion.period) + float(getattr(motion, "phase", 0.0)) / 360.0
    return float(motion.amplitude) * np.sin(2.0 * np.pi * turns)
