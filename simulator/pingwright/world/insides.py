"""The inside of a sediment in parts: what each look needs of it, which is mostly a small share of what lies there.

A narrow beam of a wide band close above mud needs hundreds of scatterers a square metre; a wide beam, whose cells are
larger, needs a tenth of them, and high bands do not hear the deep ones. So the scatterers are kept apart from the
surface's, by the looks that hear them and in blocks small enough to lie inside or outside a beam.
"""

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from pingwright.acoustics.seabed import two_way_attenuation
from pingwright.world import volume
from pingwright.world.looks import Look
from pingwright.world.mixing import mixed
from pingwright.world.scatterers import FloatArray, Scatterers
from pingwright.world.stacks import Stack

VOLUME_A_CELL = 3.0  # for the late part of the echo, which is weaker and shares its cells with the surface's echo
DENSEST = 600.0  # scatterers a square metre, or as many as there are patches
#: Scatterers in a block, about; most blocks along a side of a tile.
A_BLOCK, MOST_BLOCKS = 500, 4


def needs(stack: Stack, height: float, angle: float, looks: Sequence[Look]) -> FloatArray:
    """Return the scatterers in a square metre that each look needs of each stratum (look, stratum), 0 where it is deaf.

    height [m]: of the faces above the seabed; angle [deg]: off the vertical from the nearest ping.
    """
    tops, thickness = stack.edges[:-1], np.diff(stack.edges)
    result = np.zeros((len(looks), len(thickness)))
    for n, look in enumerate(looks):
        if angle > look.reach:
            continue
        # The beam's other width, where its band is highest, from the reach, which is that where its band is lowest.
        other = max(look.beam_width, (look.reach - look.tilt) * look.band[0] / look.band[1])
        along, across = (np.tan(np.radians(width / 2.0)) for width in (look.beam_width, other))
        spot = np.pi * height**2 * along * across
        density = VOLUME_A_CELL * thickness / (spot * look.range_resolution * stack.speed_ratio)
        heard = tops * float(two_way_attenuation(stack.attenuation, look.band[0])) < volume.DEAF_DB
        result[n] = density * heard
    return result


def capped(needed: FloatArray, patches: float) -> FloatArray:
    """Return needs (stratum) [1/m2] made smaller where they are too many; patches [1/m2]: of the surface."""
    return np.asarray(needed * min(1.0, max(DENSEST, patches) / max(float(needed.sum()), 1e-30)))


def parts(
    points: Scatterers, stratum: NDArray[np.int64], density: FloatArray, own: FloatArray, flat: FloatArray
) -> list[tuple[Scatterers, FloatArray]]:
    """Return scatterers of the inside in parts, and the share of each that is enough for each look (look, 2).

    stratum: of each; density (stratum) [1/m2]: of what lies there; own (look, stratum): what each look alone would have
    there, see `needs` and `capped`. Inside the beam a look gets that much of the stratum that it needs most. Outside,
    where rings of flat ground reach from all around, as many as patches (flat (look) [1/m2]): eight a cell, all strata
    together.
    """
    result, share = [], np.minimum(own / np.maximum(density, 1e-30), 1.0)
    who = np.sum((own > 0) * 2.0 ** np.arange(len(own))[:, None], axis=0)
    for code in np.unique(who):
        strata = np.flatnonzero(who == code)
        inside = share[:, strata].max(axis=1)
        shares = np.stack([inside, np.minimum(inside, flat / max(float(density.sum()), 1e-30))], axis=1)
        result += [(mixed(block), shares) for block in _blocks(_some(points, np.isin(stratum, strata)))]
    return result


def _blocks(points: Scatterers) -> Iterator[Scatterers]:
    """Yield scatterers block by block of the square that holds them."""
    side = int(min(np.sqrt(len(points) / A_BLOCK), MOST_BLOCKS))
    if side < 2:
        if len(points):
            yield points
        return
    place = points.position[:2]
    low, high = place.min(axis=1, keepdims=True), place.max(axis=1, keepdims=True)
    row, column = np.minimum(((place - low) / (high - low) * side).astype(np.int64), side - 1)
    for block in range(side * side):
        yield _some(points, row * side + column == block)


def _some(points: Scatterers, which: NDArray[np.bool_]) -> Scatterers:
    return Scatterers(
        points.position[:, which], points.axis[:, which], points.amplitude[which], points.phase[which],
        points.law[which],
    )  # fmt: skip
