"""Unresolved scatterers in a layer: complex Gaussian echoes on the spreading grid itself, new for every ping.

Power of one grid cell: s_v psi(f, r) r^2 c dt / 2 over r^4, psi the two-way beam's solid angle inside the layer; the
matched filter then makes the effective pulse of it. The boat's roll and pitch are left out of psi.
"""

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pingwright.acoustics.bubbles import two_way_loss, volume_backscatter
from pingwright.element.model import Element
from pingwright.engine.remembered import face_key, remembered
from pingwright.engine.settings import Sampling, Settings
from pingwright.engine.tables import Tables
from pingwright.world.scatterers import ScatteringLayer, World

FloatArray = NDArray[np.float64]

#: Bubbles are left out farther below the face than this [m]: 1 / e a metre leaves nothing of them.
_DEEPEST_BUBBLES = 8.0
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
    cluttered = world.wind_speed > 0 and grid.origin < 6 * _DEEPEST_BUBBLES / world.water.surface_sound_speed
    if not (world.scattering_layer or cluttered):
        return Cells(0, np.zeros((0, 16), np.float32))
    depth, slowness = settings.transducer_depth, 1 / float(world.water.sound_speed(np.array([1.0]))[0])
    count = grid.spread_length - 16
    delay = grid.origin + np.arange(count) / grid.spread
    distance = np.maximum(delay / (2 * slowness), 1e-3)
    frequency = tables.nodes.frequency
    cumulative = _solid_angle(element, frequency)
    deepest = float(np.max(world.terrain.depth(world.track.x, world.track.y)))
    power = np.zeros((count, len(frequency)))
    through = 10 ** (-two_way_loss(frequency, world.wind_speed, depth) / 10)
    for layer in world.scattering_layer:
        inside = _inside(layer, depth, deepest, distance, cumulative)
        power += inside * layer.volume_coefficient(frequency) * through
    near = distance < 3 * _DEEPEST_BUBBLES  # farther out they are met at grazing angles only
    for layer in bubbles(world.wind_speed, depth):
        power[near] += _inside(layer, depth, deepest, distance[near], cumulative) * layer.volume_coefficient(frequency)
    mean = world.water.mean_absorption(frequency, depth, np.array([settings.window[1] + depth]))[0]
    # dr = c dt / 2 of one grid cell; r^2 of the shell over r^4 of spreading.
    cell = 1 / (2 * slowness * grid.spread)
    amplitude = np.sqrt(power * cell) / distance[:, None] * 10 ** (-distance[:, None] * mean / 10)
    heard = np.flatnonzero(power.max(axis=1) > 0)
    if not len(heard):
        return Cells(0, np.zeros((0, 16), np.float32))
    first, last = int(heard[0]), int(heard[-1]) + 1
    return Cells(first, tables.nodes.rows(amplitude[first:last]))


def bubbles(wind: float, face: float) -> list[ScatteringLayer]:
    """Return the bubbles below the surface as layers, thick enough to be few: wind [m/s], depth of the face [m].

    What lies between face and a layer takes its share of it, so that in strong wind the clutter ends by itself.
    """
    if wind <= 0:
        return []
    edges = face + np.array([0.0, 0.3, 0.7, 1.2, 1.8, 2.6, 4.0, _DEEPEST_BUBBLES])
    return [_slab(wind, face, float(top), float(bottom)) for top, bottom in itertools.pairwise(edges)]


def _slab(wind: float, face: float, top: float, bottom: float) -> ScatteringLayer:
    """Return the bubbles between two depths [m]."""
    middle = np.linspace(top, bottom, 9)
    middle = (middle[1:] + middle[:-1]) / 2

    def coefficient(frequency: FloatArray) -> FloatArray:
        f = np.asarray(frequency)[:, None]
        above = two_way_loss(f, wind, face) - two_way_loss(f, wind, middle)
        return np.asarray((volume_backscatter(f, wind, middle) * 10 ** (-above / 10)).mean(axis=1))

    return ScatteringLayer("bubbles", (top, bottom), coefficient)


def _solid_angle(element: Element, frequency: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the two-way beam's solid angle within angle of the vertical: angles [rad] (n), sum [sr] (n, m)."""
    angle = np.linspace(0, np.pi / 2, _ANGLES)

    def made() -> tuple[FloatArray]:
        ring = _around(element, frequency, angle) * (2 * np.pi) * np.sin(angle)[:, None]
        step = angle[1] - angle[0]
        return (np.concatenate([np.zeros((1, ring.shape[1])), np.cumsum((ring[1:] + ring[:-1]) / 2 * step, axis=0)]),)

    (total,) = remembered(("solid angle", face_key(element), frequency.tobytes()), made)
    return angle, total


def _around(element: Element, frequency: FloatArray, angle: FloatArray) -> FloatArray:
    """Return the two-way beam's power at angles from the vertical, mean over all turns about it (angle, frequency)."""
    upright = bool(np.allclose(element.rotation, np.eye(3)))
    if element.symmetry == "radial":
        fine = np.linspace(0, np.pi / 2, 4 * (len(angle) - 1) + 1) if not upright else angle
        power = np.abs(element.beam(np.sin(fine), np.zeros_like(fine), frequency)) ** 4
        if upright:
            return np.asarray(power)
    # A pattern that is the same in all quadrants needs one of them.
    turn = (np.arange(_TURNS // 4 if upright and element.face.even else _TURNS) + 0.5) * 2 * np.pi / _TURNS
    total = np.zeros((len(angle), len(frequency)))
    for t in turn:
        boat = np.stack([np.sin(angle) * np.cos(t), np.sin(angle) * np.sin(t), np.cos(angle)])
        u, v, w = np.asarray(element.rotation) @ boat
        if element.symmetry == "radial":
            off = np.arccos(np.clip(w, 0, 1))
            seen = np.stack([np.interp(off, fine, column) for column in power.T], axis=1)
        else:
            seen = np.abs(np.asarray(element.beam(u, v, frequency))) ** 4
        total += seen * (w > 0)[:, None]
    return np.asarray(total / len(turn))


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
