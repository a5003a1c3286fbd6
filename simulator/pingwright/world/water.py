"""Sound speed, slowness and absorption along the path: constant water, or a profile over depth.

The path is straight; what bends a ray is left out, what delays and weakens it is summed along the way.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pingwright.acoustics import absorption as losses
from pingwright.acoustics import water as formulas
from pingwright.world.scatterers import FloatArray

if TYPE_CHECKING:
    from pingwright.inputs.sections import Water as Spec

STEP = 0.5  # m, between nodes: 1/c and absorption are taken to be linear over it


@dataclass(frozen=True)
class LayeredWater:
    """Water by depth, tabulated on an even grid and kept constant above and below it (world.scatterers.Water).

    nodes (k): depth [m], 0 first, evenly STEP apart. speed (k) [m/s]. absorption(frequency [Hz] (m)) -> (k, m) [dB/m].
    density [kg/m3] and surface_sound_speed [m/s] are those at the transducer.
    """

    nodes: FloatArray
    speed: FloatArray
    slowness_integral: FloatArray
    absorption: Callable[[FloatArray], FloatArray]
    density: float
    surface_sound_speed: float

    def sound_speed(self, depth: FloatArray) -> FloatArray:
        """Return sound speed [m/s] at depth [m], any shape."""
        return np.interp(depth, self.nodes, self.speed)

    def mean_slowness(self, top: float, depth: FloatArray) -> FloatArray:
        """Return the mean of 1/c [s/m] between `top` and `depth` [m], any shape; at equal depths 1/c there."""
        depth = np.asarray(depth, dtype=np.float64)
        span = depth - top
        near = np.abs(span) < 1e-3
        difference = self._integral(depth) - self._integral(np.asarray(top))
        mean = difference / np.where(near, 1.0, span)
        return np.where(near, 1.0 / self.sound_speed(0.5 * (depth + top)), mean)

    def mean_absorption(self, frequency: FloatArray, top: float, depth: FloatArray) -> FloatArray:
        """Return mean absorption [dB/m] between `top` and `depth` [m] (n), at frequency [Hz] (m): (n, m)."""
        depth = np.atleast_1d(np.asarray(depth, dtype=np.float64))
        table = self.absorption(np.atleast_1d(np.asarray(frequency, dtype=np.float64)))
        steps = np.diff(self.nodes)[:, None] * 0.5 * (table[1:] + table[:-1])
        total = np.vstack([np.zeros((1, table.shape[1])), np.cumsum(steps, axis=0)])
        # Where the depths nearly agree, the mean over a small span round them is the limit.
        span = depth - top
        low = np.where(np.abs(span) < 1e-3, top - 1e-3, np.minimum(top, depth))
        high = np.where(np.abs(span) < 1e-3, top + 1e-3, np.maximum(top, depth))
        difference = _extended(high, self.nodes, total, table) - _extended(low, self.nodes, total, table)
        return np.asarray(difference / (high - low)[:, None])

    def travel_time(self, top: float, depth: FloatArray) -> FloatArray:
        """Return the one-way vertical travel time [s] from `top` to `depth` [m]."""
        return self.mean_slowness(top, depth) * np.abs(np.asarray(depth, dtype=np.float64) - top)

    def _integral(self, depth: FloatArray) -> FloatArray:
        return _extended(depth, self.nodes, self.slowness_integral, 1.0 / self.speed)


def build(spec: "Spec", transducer_depth: float, deepest: float) -> LayeredWater:
    """Return the water of a scenario's `water` section, tabulated to `deepest` [m].

    spec: temperature [degC], salinity [g/kg], acidity [pH], profile or None (tuples of depth [m], temperature,
    salinity, increasing depth). Between the rows of a profile temperature and salinity are linear, beyond them
    constant. Sound speed and absorption: acoustics.water.
    """
    nodes = np.arange(0.0, max(deepest, 10.0) + STEP, STEP)
    profile = spec.profile
    if profile is None:
        temperature = np.full_like(nodes, spec.temperature)
        salinity = np.full_like(nodes, spec.salinity)
    else:
        temperature = np.interp(nodes, profile.depth, profile.temperature)
        salinity = np.interp(nodes, profile.depth, profile.salinity)
    acidity = float(spec.acidity)
    speed = np.asarray(formulas.sound_speed(temperature, salinity, nodes), dtype=np.float64)
    slowness = np.concatenate([[0.0], np.cumsum(0.5 * STEP * (1.0 / speed[1:] + 1.0 / speed[:-1]))])

    def absorption(frequency: FloatArray) -> FloatArray:
        columns = (temperature[:, None], salinity[:, None], nodes[:, None], acidity)
        return np.asarray(losses.francois_garrison(frequency[None, :], *columns), dtype=np.float64)

    at = float(np.interp(transducer_depth, nodes, temperature)), float(np.interp(transducer_depth, nodes, salinity))
    return LayeredWater(
        nodes=nodes,
        speed=speed,
        slowness_integral=slowness,
        absorption=absorption,
        density=float(formulas.density(at[0], at[1], transducer_depth)),
        surface_sound_speed=float(np.interp(transducer_depth, nodes, speed)),
    )


def _extended(depth: FloatArray, nodes: FloatArray, integral: FloatArray, rate: FloatArray) -> FloatArray:
    """Return an integral over depth whose rate is linear between the nodes and constant outside them.

    depth (n); integral and rate (node) or (node, m): (n) or (n, m).
    """
    inside = np.clip(depth, nodes[0], nodes[-1])
    i = np.minimum((inside / STEP).astype(np.int64), len(nodes) - 2)
    part, over, under = inside / STEP - i, np.minimum(depth - nodes[0], 0.0), np.maximum(depth - nodes[-1], 0.0)
    if rate.ndim == 2:
        part, over, under = part[:, None], over[:, None], under[:, None]
    grown = STEP * part * (rate[i] + 0.5 * part * (rate[i + 1] - rate[i]))
    return np.asarray(integral[i] + grown + over * rate[0] + under * rate[-1], dtype=np.float64)
