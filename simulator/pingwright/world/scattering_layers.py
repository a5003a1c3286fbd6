"""Scattering layers in the water, and schools as veils.

Bubbles driven under by wind are left out: no published law of their backscatter was found that holds from 40 to 250 kHz
(Chapman & Harris end at 6.4 kHz), so the top metres of a windy scene are cleaner here than at sea.
"""

from typing import Any

import numpy as np

from pingwright.acoustics import fish as formulas
from pingwright.world.contents import Body
from pingwright.world.scatterers import FloatArray, ScatteringLayer, Veil
from pingwright.world.strength import Model

#: Turn of each kind's frequency law [Hz]; assumed. Fluid: animals of about 2.5 cm turn from Rayleigh to geometric
#: scattering. Gas: bladders of a few mm resonate well below the bands here.
FLUID_TURN = 60e3
GAS_SLOPE = -0.5


def layer(spec: Any) -> ScatteringLayer:
    """Return a scattering layer of a `[[scattering_layer]]` table.

    spec: name, kind, depth span [m], volume_strength [dB re 1 m-1] at frequency [Hz].
    """
    at = 10.0 ** (float(spec.volume_strength) / 10.0)
    frequency, kind = float(spec.frequency), str(spec.kind)

    def coefficient(f: FloatArray) -> FloatArray:
        return np.asarray(at * relative(kind, np.asarray(f, dtype=np.float64)) / relative(kind, np.array(frequency)))

    return ScatteringLayer(str(spec.name), (float(spec.depth[0]), float(spec.depth[1])), coefficient)


def relative(kind: str, frequency: FloatArray) -> FloatArray:
    """Return how the volume backscattering coefficient of a kind goes with frequency [Hz], to a constant factor.

    fluid: f^4 / (1 + (f / 60 kHz)^4), Rayleigh scattering that levels off, as the high-pass model of Johnson 1977
    (JASA 61, 375-377) for animals of krill size; the turn is assumed. gas: f^-0.5, bladders above their resonance;
    assumed. flat: constant.
    """
    if kind == "fluid":
        turn = (frequency / FLUID_TURN) ** 4
        return turn / (1.0 + turn)
    return np.power(frequency, GAS_SLOPE) if kind == "gas" else np.ones_like(frequency)


def body(spec: Any) -> Body:
    """Return a scattering layer's place for the cutaway."""
    infinite = float("inf")
    return Body(
        "scattering_layer",
        str(spec.name),
        (-infinite, infinite, -infinite, infinite, float(spec.depth[0]), float(spec.depth[1])),
        lambda f: 10.0 * float(np.log10(layer(spec).volume_coefficient(np.array([f]))[0])),
    )


def veil(school: Any, count: float, length: float, model: Model) -> Veil:
    """Return a school of count fish of a mean length [m] as an absorber, by acoustics.fish.school_extinction."""
    semi = np.array([school.size.along, school.size.across, school.size.height], dtype=np.float64) / 2.0
    density = count / (4.0 / 3.0 * np.pi * float(np.prod(semi)))
    one, depth = np.array([length]), np.array([float(school.at.depth)])

    def extinction(frequency: FloatArray) -> FloatArray:
        strength = np.array([model.strength(one, depth, float(f))[0] for f in frequency])
        return formulas.school_extinction(strength, density)

    centre = np.array([school.at.x, school.at.y, school.at.depth], dtype=np.float64)
    return Veil(str(school.name), centre, semi, extinction)
