"""Backscatter of the seabed's interfaces and of the sediments' insides, as strength laws; places of the insides.

A sediment's volume is cut into strata. Each gets the share of the published coefficient that its depth sends back
after the attenuation above it, so the strata together are that coefficient at each incidence and frequency.
Rays bend by Snell's law inside a law only; scatterers are placed at depth / (speed ratio), so that a straight ray at
the water's speed has the right two-way time at vertical (at 20 degrees, in mud, it is 0.3 % of the depth wrong).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from pingwright.acoustics import seabed as formulas
from pingwright.acoustics.seabed import Sediment
from pingwright.world.scatterers import FloatArray, StrengthLaw

STEP_DB = 2.0  # two-way loss over one stratum, at the highest frequency that still reaches it
DEAF_DB = 45.0  # two-way loss at which a stratum is taken to be silent
SHORTEST_TAIL = 0.1  # m: a two-way 10 dB depth below this is not seen apart from the interface
_FLATTEST = 0.05  # cosine below which a refracted ray counts as travelling along the interface


@dataclass(frozen=True)
class Layer:
    """One layer of the bottom: its sediment, relative to the water above, and thickness [m], None for the last."""

    sediment: Sediment
    thickness: float | None


@dataclass(frozen=True)
class Stratum:
    """A slice of the top layer's inside: true depth below the interface from top to bottom [m]; how it echoes."""

    top: float
    bottom: float
    law: StrengthLaw


def surface_law(layer: Layer, sound_speed: float, with_volume: bool, law: str = "kirchhoff") -> StrengthLaw:
    """Return the law of the seabed's surface, with the volume of the layer under it merged in or without.

    law: of rough bottoms, acoustics.seabed.LAWS.
    """
    sediment = layer.sediment

    def amplitude(cosine: FloatArray, frequency: FloatArray) -> FloatArray:
        total = formulas.surface_backscatter(sediment, cosine, frequency, sound_speed, law)
        if with_volume:
            volume = formulas.volume_backscatter(np.maximum(cosine, 0.0), sediment)
            total = total + volume[:, None] * _share(sediment, cosine, frequency, 0.0, layer.thickness)
        return np.sqrt(np.where(cosine[:, None] > 0.0, total, 0.0))

    name = "seabed with volume" if with_volume else "seabed surface"
    return StrengthLaw(name, amplitude, key=(name, layer, sound_speed, law))


def strata(layer: Layer, low: float, high: float) -> tuple[Stratum, ...]:
    """Return the strata of a layer whose tail is long enough to be seen in a band from low to high [Hz].

    Empty where the tail is too short, and where the sediment has a Lambert floor: gravel and rock have no published
    volume law of their own here. The last stratum of a layer without end holds all that lies deeper.
    """
    sediment = layer.sediment
    slow, fast = (float(formulas.two_way_attenuation(sediment.attenuation, f)) for f in (low, high))
    if slow <= 0.0 or 10.0 / slow < SHORTEST_TAIL or sediment.lambert_floor_db is not None:
        return ()
    if sediment.volume_parameter <= 0.0:
        return ()
    end = DEAF_DB / slow if layer.thickness is None else min(DEAF_DB / slow, layer.thickness)
    edges = [0.0]
    while edges[-1] < end:
        heard = min(fast, max(slow, DEAF_DB / max(edges[-1], 1e-9)))
        edges.append(edges[-1] + STEP_DB / heard)
    edges[-1] = end
    closed = layer.thickness is not None and end == layer.thickness
    return tuple(
        Stratum(a, b, _stratum_law(sediment, a, b if closed or i < len(edges) - 2 else None))
        for i, (a, b) in enumerate(zip(edges[:-1], edges[1:], strict=True))
    )


def buried_law(layers: Sequence[Layer], index: int, sound_speed: float, law: str = "kirchhoff") -> StrengthLaw:
    """Return the law of a buried interface, seen from the water: layers[index] under those above it.

    Backscatter of the lower sediment relative to the one above it, at the incidence bent by Snell's law, times
    (1 - R^2)^2 of each interface passed and the attenuation of each layer, there and back. The widening of the rays by
    refraction is left out (below 0.2 dB for mud and silt). A Lambert floor falls with the reflection coefficient.
    """
    above, below = layers[index - 1].sediment, layers[index].sediment
    relative = _relative(above, below)
    through = 1.0
    for i in range(index):
        upper = layers[i - 1].sediment if i else None
        through *= (1.0 - formulas.impedance_reflection(upper, layers[i].sediment) ** 2) ** 2
    speed = sound_speed * above.speed_ratio

    def amplitude(cosine: FloatArray, frequency: FloatArray) -> FloatArray:
        bent = _refracted(above, cosine)
        total = through * formulas.backscatter(relative, bent, frequency, speed, law)
        for layer in layers[:index]:
            total = total * (1.0 - _share(layer.sediment, cosine, frequency, 0.0, layer.thickness))
        return np.sqrt(np.where(cosine[:, None] > 0.0, total, 0.0))

    key = ("buried", tuple(layers[: index + 1]), sound_speed, law)
    return StrengthLaw(f"buried layer {index + 1}", amplitude, key=key)


def apparent_depth(layers: Sequence[Layer], index: int) -> float:
    """Return how far below the seabed [m] the interface above layers[index] lies, at the water's sound speed."""
    return sum((layer.thickness or 0.0) / layer.sediment.speed_ratio for layer in layers[:index])


def _relative(above: Sediment, below: Sediment) -> Sediment:
    """Return a sediment relative to another above it instead of to water."""
    floor = below.lambert_floor_db
    if floor is not None:
        buried, bare = (abs(formulas.impedance_reflection(a, below)) for a in (above, None))
        floor = floor + 20.0 * float(np.log10(max(buried, 1e-6) / bare))
    return replace(
        below,
        density_ratio=below.density_ratio / above.density_ratio,
        speed_ratio=below.speed_ratio / above.speed_ratio,
        lambert_floor_db=floor,
        elastic=None,  # of a buried layer the small-slope law takes what is fluid of it
    )


def _stratum_law(sediment: Sediment, top: float, bottom: float | None) -> StrengthLaw:
    """Return the law of the volume between two depths [m]; bottom None takes all below top."""

    def amplitude(cosine: FloatArray, frequency: FloatArray) -> FloatArray:
        volume = formulas.volume_backscatter(np.maximum(cosine, 0.0), sediment)[:, None]
        total = volume * _share(sediment, cosine, frequency, top, bottom)
        return np.sqrt(np.where(cosine[:, None] > 0.0, total, 0.0))

    return StrengthLaw(f"sediment {top:.2f} m down", amplitude, key=("inside", sediment, top, bottom))


def _share(
    sediment: Sediment, cosine: FloatArray, frequency: FloatArray, top: float, bottom: float | None
) -> FloatArray:
    """Return the share of the volume's echo that comes from between two depths [1], (n, m)."""
    slant = (
        formulas.two_way_attenuation(sediment.attenuation, frequency)[None, :] / _refracted(sediment, cosine)[:, None]
    )
    nepers = slant * np.log(10.0) / 10.0
    deeper = np.zeros_like(nepers) if bottom is None else np.exp(-nepers * bottom)
    return np.asarray(np.exp(-nepers * top) - deeper)


def _refracted(sediment: Sediment, cosine: FloatArray) -> FloatArray:
    """Return the cosine of incidence inside a sediment [1] by Snell's law, kept off zero."""
    sine_square = sediment.speed_ratio**2 * (1.0 - np.clip(cosine, 0.0, 1.0) ** 2)
    return np.sqrt(np.maximum(1.0 - sine_square, _FLATTEST**2))
