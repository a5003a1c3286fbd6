"""Kernels in plain numpy: the same arithmetic, to read it and to test the compiled ones."""

import numpy as np
from numpy.typing import NDArray

from pingwright.engine.geometry import Stretch, segments
from pingwright.engine.kernels.limits import NEAREST
from pingwright.engine.nodes import NodeSet
from pingwright.engine.tables import Tables
from pingwright.world.scatterers import Scatterers

FloatArray = NDArray[np.float64]
_ROW = 16


def _lerp(table: FloatArray, place: FloatArray) -> FloatArray:
    """Return rows (n, 16) of table (row, 16) at fractional places (n), constant beyond the ends."""
    row = np.clip(place.astype(np.int64), 0, len(table) - 2)
    part = (place - row)[:, None]
    return np.asarray(table[row] + part * (table[row + 1] - table[row]))


def _spline(part: FloatArray) -> FloatArray:
    """Return the four cubic B-spline weights (n, 4)."""
    rest = 1 - part
    middle = (4 - 6 * part**2 + 3 * part**3, 1 + 3 * (part + part**2 - part**3))
    return np.stack([rest**3, *middle, part**3], axis=1) / 6


def beam_rows(tables: Tables, u: FloatArray, v: FloatArray) -> FloatArray:
    """Return the two-way beam's node rows (n, part, 16), ratios of amplitude, in directions u, v [1]."""
    parts = tables.parts
    if not tables.plane:
        table = tables.beam.reshape(tables.beam_shape[0], parts * _ROW).astype(float)
        place = np.minimum(np.hypot(u, v), 1) * (tables.beam_shape[0] - 1)
        return _lerp(table, place).reshape(-1, parts, _ROW)
    nu, nv, mirrored = (int(n) for n in tables.beam_shape)
    knots = tables.beam.reshape(nu, nv, parts * _ROW).astype(float)
    su = (np.abs(u) if mirrored else (u + 1) / 2) * (nu - 5) + 2
    sv = (np.abs(v) if mirrored else (v + 1) / 2) * (nv - 5) + 2
    iu, iv = np.minimum(su.astype(int), nu - 3), np.minimum(sv.astype(int), nv - 3)
    wu, wv = _spline(su - iu), _spline(sv - iv)
    total = np.zeros((len(u), parts * _ROW))
    for a in range(4):
        for b in range(4):
            total += (wu[:, a] * wv[:, b])[:, None] * knots[iu + a - 1, iv + b - 1]
    return total.reshape(-1, parts, _ROW)


def node_rows(
    tables: Tables, points: Scatterers, weight: FloatArray, pose: FloatArray, clock: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, NDArray[np.bool_]]:
    """Return node amplitudes (n, part, 16), grid positions (n), carrier phases (n) [turns], which are received (n)."""
    offset = points.position - pose[:3, None]
    r = np.sqrt((offset**2).sum(axis=0))
    apart = np.maximum(r, NEAREST)
    unit = offset / apart
    u, v, w = pose[3:].reshape(3, 3) @ unit
    cosine = -(unit * points.axis).sum(axis=0)
    cosine = np.where(tables.two_sided[points.law] > 0, np.abs(cosine), cosine)
    place = np.clip((points.position[2] - clock[0]) * clock[1], 0, tables.slowness.shape[1] - 1)
    row = place.astype(int)
    mean = tables.slowness[0, row] + tables.slowness[1, row] * (place - row)
    delay = 2 * r * mean * clock[2] + clock[3]
    path = r * clock[2] + clock[4]
    strong = points.amplitude * weight
    at = (delay - clock[5]) * clock[6]
    heard = (w > 0) & (cosine >= 0) & (strong != 0) & (at >= 0) & (r >= NEAREST)
    rows = tables.strength.astype(float)
    strength = np.zeros((len(points), _ROW))
    for kind in np.unique(points.law):
        mine = points.law == kind
        strength[mine] = _lerp(rows[kind], np.sqrt(np.maximum(1 - cosine[mine], 0)) * (rows.shape[1] - 1))
    loss = tables.loss.reshape(*tables.loss_shape, _ROW).astype(float)
    deep = np.maximum((points.position[2] - clock[9]) * clock[10], 0)
    layer = np.minimum(deep.astype(int), tables.loss_shape[1] - 2)
    deep = np.minimum(deep - layer, 1)[:, None]
    near = np.clip((path * clock[8]).astype(int), 0, tables.loss_shape[0] - 2)
    part = (path * clock[8] - near)[:, None]
    lower = loss[near, layer] + part * (loss[near + 1, layer] - loss[near, layer])
    upper = loss[near, layer + 1] + part * (loss[near + 1, layer + 1] - loss[near, layer + 1])
    node = strength * (lower + deep * (upper - lower)) * tables.gain * (strong / apart**2)[:, None]
    turns = delay * clock[7] - clock[11]
    turns = np.floor(turns + 0.5) - turns + points.phase
    return node[:, None, :] * beam_rows(tables, u, v), at, turns, heard


def spread_plain(
    grid: NDArray[np.float32],
    tables: Tables,
    points: Scatterers,
    weight: FloatArray,
    pose: FloatArray,
    clock: FloatArray,
) -> None:
    """Add the echoes of points to grid (2, n) as the compiled kernel does; weight (n) multiplies amplitudes."""
    node, at, turns, heard = node_rows(tables, points, weight, pose, clock)
    heard &= at < grid.shape[1] - _ROW
    node, at, turns = node[heard], at[heard], turns[heard]
    half, steps, pairs = tables.nodes.half, tables.nodes.delays, list(tables.nodes.slope_pairs)
    table = tables.nodes.taps.reshape(steps + 1, half + len(pairs), 2, _ROW).astype(float)
    here = at.astype(np.int64)
    between = (at - here) * steps
    step = (between + 0.5).astype(int)
    taps = table[step, :half]
    taps[:, pairs] += (between - step)[:, None, None, None] * table[step, half:]
    even = node[:, :, :half] + node[:, :, 8 : 8 + half]
    odd = node[:, :, :half] - node[:, :, 8 : 8 + half]
    response = np.einsum("ipj,ijt->ipt", even, taps[:, :, 0]) + 1j * np.einsum("ipj,ijt->ipt", odd, taps[:, :, 1])
    value = response[:, 0] + (1j * response[:, 1] if tables.parts == 2 else 0)
    value = value * np.exp(2j * np.pi * turns)[:, None]
    slots = here[:, None] + np.arange(_ROW)
    total = np.zeros(grid.shape[1], complex)
    np.add.at(total, slots, value)
    grid[0] += total.real.astype(np.float32)
    grid[1] += total.imag.astype(np.float32)


def cells_plain(
    grid: NDArray[np.float32], rows: NDArray[np.float32], first: int, nodes: NodeSet, draws: NDArray[np.complex128]
) -> None:
    """Add cells to grid (2, n) as the compiled kernel does: rows (cell, 16), their first sample, draws (cell)."""
    table = nodes.taps.reshape(nodes.delays + 1, -1, 2, _ROW)[0, : nodes.half].astype(float)
    upper, lower = rows[:, : nodes.half].astype(float), rows[:, 8 : 8 + nodes.half].astype(float)
    taps = (upper + lower) @ table[:, 0] + 1j * (upper - lower) @ table[:, 1]
    total = np.zeros(grid.shape[1], complex)
    np.add.at(total, first + np.arange(len(rows))[:, None] + np.arange(_ROW), taps * draws[:, None])
    grid[0] += total.real.astype(np.float32)
    grid[1] += total.imag.astype(np.float32)


def inside(apart: FloatArray, offset: FloatArray, radius: FloatArray, axes: FloatArray) -> NDArray[np.bool_]:
    """Return which balls (n) are inside any lobe: apart from `look.lobes`, offset (3, n) [m] from the face, radius (n).

    axes (3, 3): rows u, v, w of the face. A ball around the face counts as inside, one behind it as outside.
    """
    distance = np.maximum(np.sqrt((offset**2).sum(axis=0)), 1e-6)
    u, v, w = axes @ (offset / distance)
    cells = len(apart) - 1
    place = [np.clip(np.rint((a + 1) / 2 * cells), 0, cells).astype(int) for a in (u, v)]
    wide = radius / distance
    return np.asarray((apart[place[0], place[1]] <= wide + 2 / cells) & (w > -wide))


def spare(offset: FloatArray, radius: FloatArray) -> FloatArray:
    """Return the share of its patches that a tile out of the beam needs for as many a cell as straight below (tile).

    offset (3, tile) [m] of tiles from the face, radius (tile) [m]. Rings of one range cell grow in area as the range r,
    so that even patches are r / h times as many in a cell as straight below, at height h.
    """
    nearest = np.sqrt((offset**2).sum(axis=0)) - radius
    return np.asarray(np.minimum(np.abs(offset[2]) / np.maximum(nearest, 1e-6), 1.0))


def thin_plain(
    seabed: Stretch, tiles: NDArray[np.int64], element: int, apart: FloatArray, pose: FloatArray
) -> list[tuple[NDArray[np.int64], float]]:
    """Return what `jobs._Scene.shared` makes of `thin.thin`: segments (s, 2) of patches, and the amplitude of each."""
    offset, radius = seabed.middle[tiles].T - pose[:3, None], seabed.radius[tiles]
    near = inside(apart, offset, radius, pose[3:].reshape(3, 3))
    need = np.where(near, seabed.shares[tiles, element, 0], seabed.shares[tiles, element, 1] * spare(offset, radius))
    steps = np.floor(-4 * np.log2(np.clip(need, 1 / 64, 1.0)) + 1e-9).astype(int)
    result = []
    for step in np.unique(steps):
        slices = seabed.whole[tiles[steps == step]]
        if step:
            count = np.rint((slices[:, 1] - slices[:, 0]) * 2.0 ** (-step / 4)).astype(np.int64)
            slices = np.stack([slices[:, 0], slices[:, 0] + np.maximum(count, 1)], axis=1)
        result.append((segments(slices), float(2.0 ** (step / 8))))
    return result
