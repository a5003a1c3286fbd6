"""Grounds from the top down as the laws of their interfaces and insides: surface, buried layers, strata."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pingwright.world import volume
from pingwright.world.looks import Look
from pingwright.world.scatterers import FloatArray, StrengthLaw
from pingwright.world.slopes import sloped
from pingwright.world.volume import Layer, Stratum


@dataclass(frozen=True)
class Stack:
    """One ground from the top down: strata of its uppermost layer, buried interfaces, and its laws' first number.

    edges (stratum + 1): true depths of the strata's borders [m]; buried: apparent depths of the interfaces below [m].
    Laws in order: surface, the same with its volume merged in where there are strata, buried interfaces, strata.
    """

    strata: tuple[Stratum, ...]
    edges: FloatArray
    buried: tuple[float, ...]
    speed_ratio: float
    attenuation: float
    first: int

    @property
    def buried_law(self) -> int:
        """Number of the first buried interface's law, an index."""
        return self.first + (2 if self.strata else 1)

    @property
    def stratum_law(self) -> int:
        """Number of the first stratum's law, an index."""
        return self.buried_law + len(self.buried)


def stack(
    layers: Sequence[Layer], looks: Sequence[Look], sound_speed: float, first: int, law: str
) -> tuple[Stack, list[StrengthLaw]]:
    """Return one ground and its laws, numbered from `first`."""
    top = layers[0]
    low, high = min(look.band[0] for look in looks), max(look.band[1] for look in looks)
    strata = volume.strata(top, low, high)
    faces = [volume.surface_law(top, sound_speed, with_volume=not strata, law=law)]
    if strata:
        faces.append(volume.surface_law(top, sound_speed, with_volume=True, law=law))
    faces += [volume.buried_law(layers, i, sound_speed, law) for i in range(1, len(layers))]
    laws = [sloped(face, top.sediment.slope_rms_deg) for face in faces] + [stratum.law for stratum in strata]
    stack = Stack(
        strata=strata,
        edges=np.array([s.top for s in strata] + [strata[-1].bottom]) if strata else np.zeros(1),
        buried=tuple(volume.apparent_depth(layers, i) for i in range(1, len(layers))),
        speed_ratio=top.sediment.speed_ratio,
        attenuation=top.sediment.attenuation,
        first=first,
    )
    return stack, laws
