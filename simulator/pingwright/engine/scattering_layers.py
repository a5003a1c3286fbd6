"""Unresolved scatterers in a layer: complex Gaussian echoes on the spreading grid itself, new for every ping.

Power of one grid cell: s_v psi(f, r) r^2 c dt / 2 over r^4, psi the two-way beam's solid angle inside the layer; the
matched filter then turns dt into the effective pulse. psi ignores the boat's roll and pitch.
"""

import itertools
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pingwright.acoustics.bubbles import two_way_loss, volume_backscatter
from pingwright.element.model import RING_DOWN, Element
from pingwright.engine.remembered import face_key, remembered
from pingwright.engine.settings import Sampling, Settings
from pingwright.engine.tables import Tables
from pingwright.world.scatterers import ScatteringLayer, World

FloatArray = NDArray[np.float64]

#: Bubbles farther below the face than this [m] are left out: with 1 / e for each metre, nothing is left of them.
_DEEPEST_BUBBLES = 8.0
#: Up to this change of the seabed's depth along a run, layers that reach the seabed end at its greatest depth.
LEVEL = 0.02
_ANGLES = 1441
_TURNS = 48


@dataclass(frozen=True)
class Cells:
    """Amplitudes of scattering layers on one element's grid.

    rows (cell, 16); first (cell): grid position of the first one; depth (cell) [m]: straight below the face. layer:
    None where all of them are the same in every ping; reference [m]: the depth of seabed for which they stand; step
    [m]: from cell to cell.
    """

    first: int
    rows: NDArray[np.float32]
    depth: FloatArray
    layer: ScatteringLayer | None
    reference: float
    step: float

    @property
    def number(self) -> int:
        """Number of the layer's random draws, from its name, so that another layer does not change them."""
        return 0 if self.layer is None else zlib.crc32(self.layer.name.encode())

    def add(self, grid: NDArray[np.float32], tables: Tables, key: int, x: float, y: float, bottom: float) -> None:
        """Add one ping's echoes to grid (real|imaginary, sample); x, y of the boat and the seabed under it [m]."""
        from pingwright.engine.kernels.cells import cell_spreader

        first, rows = self.first, self.rows
        if self.layer is not None:
            first, rows = self._here(x, y, bottom, grid.shape[1])
        if len(rows):
            kernel = cell_spreader(tables.nodes.half, tables.nodes.slope_pairs)
            kernel(grid, np.ascontiguousarray(rows).ravel(), first, tables.nodes.taps, np.uint64(key))

    def _here(self, x: float, y: float, bottom: float, width: int) -> tuple[int, NDArray[np.float32]]:
        """Return the cells as one ping receives them."""
        layer = self.layer
        if layer is None:
            return self.first, self.rows
        moved = round((bottom - self.reference) / self.step) if layer.follows else 0
        gain = np.ones(len(self.rows))
        if layer.texture is not None:
            # At ranges beyond the seabed's depth, echoes come from the side, from at most the depth of the seabed.
            gain = np.sqrt(layer.texture(x, y, np.minimum(self.depth, self.reference if layer.follows else bottom)))
        if not layer.follows and layer.depth[1] > bottom:
            # Beyond the seabed's depth is ground under the boat; the echo of the bottom hides the water to the side.
            gain[self.depth > bottom] = 0.0
        first = self.first + moved
        low, high = max(0, -first), min(len(self.rows), width - 16 - first)
        if not gain.any() or high <= low:
            return first, self.rows[:0]
        return first + low, self.rows[low:high] * gain[low:high, None].astype(np.float32)


def build(element: Element, tables: Tables, world: World, grid: Sampling, settings: Settings) -> list[Cells]:
    """Tabulate all scattering layers on an element's grid, those that are the same in every ping together."""
    windy = world.bubbles and world.wind_speed > 0
    cluttered = windy and grid.origin < 6 * _DEEPEST_BUBBLES / world.water.surface_sound_speed
    if not (world.scattering_layer or cluttered):
        return []
    face, slowness = settings.transducer_depth, 1 / float(world.water.sound_speed(np.array([1.0]))[0])
    delay = grid.origin + np.arange(grid.spread_length - 16) / grid.spread
    distance = np.maximum(delay / (2 * slowness), 1e-3)
    frequency = tables.nodes.frequency
    solid = _solid_angle(element, frequency)
    seabed = world.terrain.depth(world.track.x, world.track.y)
    deepest, level = float(np.max(seabed)), float(np.ptp(seabed)) < LEVEL * float(np.max(seabed))
    mean = world.water.mean_absorption(frequency, face, np.array([settings.window[1] + face]))[0]
    # dr = c dt / 2 of one grid cell; r^2 of the shell over r^4 of spreading.
    step = 1 / (2 * slowness * grid.spread)
    # Echoes that end within the blind range are left out: those of the first millimetres are so strong that rounding in
    # single precision put 43 dB into 400 m of water whose noise was 34 dB (wind of 20 kn).
    heard_later = delay[:, None] > RING_DOWN
    loss = np.sqrt(step) / distance[:, None] * 10 ** (-distance[:, None] * mean / 10) * heard_later

    through = 10 ** (-two_way_loss(frequency, world.wind_speed, face) / 10)
    near = distance < 3 * _DEEPEST_BUBBLES  # farther out, sound meets bubbles only at grazing angles

    def cells(layers: list[ScatteringLayer], own: ScatteringLayer | None) -> Cells:
        power = np.zeros((len(distance), len(frequency)))
        for one in layers:
            power += _inside(one, face, deepest, distance, solid) * one.volume_coefficient(frequency) * through
        for one in bubbles(world.wind_speed, face) if own is None and cluttered else []:
            power[near] += _inside(one, face, deepest, distance[near], solid) * one.volume_coefficient(frequency)
        heard = np.flatnonzero(np.max(power, axis=1) > 0)
        first, last = (int(heard[0]), int(heard[-1]) + 1) if len(heard) else (0, 0)
        rows = tables.nodes.rows((np.sqrt(power) * loss)[first:last])
        return Cells(first, rows, face + distance[first:last], own, deepest, step)

    changing = [one for one in world.scattering_layer if one.texture is not None or one.follows or not level]
    still = [one for one in world.scattering_layer if one not in changing]
    made = [*(cells([one], one) for one in changing), cells(still, None)]
    return [one for one in made if len(one.rows)]


def bubbles(wind: float, face: float) -> list[ScatteringLayer]:
    """Return the bubbles below the surface as layers, thick enough to be few: wind [m/s], depth of the face [m].

    Bubbles between the face and a layer absorb its echo, so in strong wind the clutter ends by itself.
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
