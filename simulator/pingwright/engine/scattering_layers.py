"""Unresolved scatterers in a layer: complex Gaussian echoes on the spreading grid itself, new for every ping.

Power of one grid cell: s_v psi(f, r) r^2 c dt / 2 over r^4, psi the two-way beam's solid angle inside the layer; the
matched filter then makes the effective pulse of it. The boat's roll and pitch are left out of psi.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pingwright.element.model import Element
from pingwright.engine.settings import Sampling, Settings
from pingwright.engine.tables import Tables
from pingwright.world.scatterers import ScatteringLayer, World

FloatArray = NDArray[np.float64]

_ANGLES = 1441
_TURNS = 48


@dataclass(frozen=True)
class Cells:
    """Amplitudes of all scattering layers on one element's grid.

    rows (cell, 16); first (cell): grid position of the first one.
    """

    first: int
    rows: NDArray[np.float32]

    def add(self, grid: NDArray[np.float32], tables: Tables, key: int) -> None:
        """Add one ping's scattering layer to grid (real|imaginary, sample)."""
        if len(self.rows):
            from pingwright.engine.kernels.spread import cell_spreader

            kernel = cell_spreader(tables.nodes.half, tables.nodes.slope_pairs)
            kernel(grid, self.rows.ravel(), self.first, tables.nodes.taps, np.uint64(key))


def build(element: Element, tables: Tables, world: World, grid: Sampling, settings: Settings) -> Cells:
    """Tabulate all scattering layers on an element's grid."""
    if not world.scattering_layer:
        return Cells(0, np.zeros((0, 16), np.float32))
    depth, slowness = settings.transducer_depth, 1 / float(world.water.sound_speed(np.array([1.0]))[0])
    count = grid.spread_length - 16
    delay = grid.origin + np.arange(count) / grid.spread
    distance = np.maximum(delay / (2 * slowness), 1e-3)
    frequency = tables.nodes.frequency
    cumulative = _solid_angle(element, frequency)
    deepest = float(np.max(world.terrain.depth(world.track.x, world.track.y)))
    power = np.zeros((count, len(frequency)))
    for layer in world.scattering_layer:
        inside = _inside(layer, depth, deepest, distance, cumulative)
        power += inside * layer.volume_coefficient(frequency)
    mean = world.water.mean_absorption(frequency, depth, np.array([settings.window[1] + depth]))[0]
    # dr = c dt / 2 of one grid cell; r^2 of the shell over r^4 of spreading.
    cell = 1 / (2 * slowness * grid.spread)
    amplitude = np.sqrt(power * cell) / distance[:, None] * 10 ** (-distance[:, None] * mean / 10)
    heard = np.flatnonzero(power.max(axis=1) > 0)
    if not len(heard):
        return Cells(0, np.zeros((0, 16), np.float32))
    first, last = int(heard[0]), int(heard[-1]) + 1
    return Cells(first, tables.nodes.rows(amplitude[first:last]))


def _solid_angle(element: Element, frequency: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the two-way beam's solid angle within angle of the vertical: angles [rad] (n), sum [sr] (n, m)."""
    angle = np.linspace(0, np.pi / 2, _ANGLES)
    turn = (np.arange(_TURNS) + 0.5) * 2 * np.pi / _TURNS
    density = np.zeros((len(angle), len(frequency)))
    for t in turn:
        boat = np.stack([np.sin(angle) * np.cos(t), np.sin(angle) * np.sin(t), np.cos(angle)])
        u, v, w = np.asarray(element.rotation) @ boat
        density += np.abs(np.asarray(element.beam(u, v, frequency))) ** 4 * (w > 0)[:, None]
    ring = density * (2 * np.pi / _TURNS) * np.sin(angle)[:, None]
    step = angle[1] - angle[0]
    total = np.concatenate([np.zeros((1, ring.shape[1])), np.cumsum((ring[1:] + ring[:-1]) / 2 * step, axis=0)])
    return angle, total


def _inside(
    layer: ScatteringLayer, face: float, deepest: float, distance: FloatArray, solid: tuple[FloatArray, FloatArray]
) -> FloatArray:
    """Return the solid angle [sr] (distance, frequency) of the beam inside the layer at each distance."""
    angle, total = solid
    top, bottom = layer.depth[0], min(layer.depth[1], deepest)
    # Deeper edge: the smaller angle from the vertical.
    inner = np.arccos(np.clip((bottom - face) / distance, 0, 1))
    outer = np.arccos(np.clip((top - face) / distance, 0, 1))
    columns = [np.interp(outer, angle, t) - np.interp(inner, angle, t) for t in total.T]
    return np.asarray(np.maximum(np.stack(columns, axis=1), 0))
