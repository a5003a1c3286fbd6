"""Calibration targets: points of flat strength, and elastic spheres by their exact series."""

from typing import Any

import numpy as np

from simulator.acoustics import sphere as formulas
from simulator.world.contents import Body
from simulator.world.gather import Gathering
from simulator.world.scatterers import FloatArray, StrengthLaw, Water

UP = np.array([[0.0], [0.0], [-1.0]])


def add(gathering: Gathering, target: Any, constants: Any, water: Water) -> Body:
    """Add a `[[target]]` to a gathering; return its place for the truth.

    target: name, at (x, y, depth [m]), strength [dB re 1 m2] or sphere (diameter [m]); constants of the sphere's
    material: density [kg/m3], compressional_speed, shear_speed [m/s], or None.
    """
    at = np.array([[target.at.x], [target.at.y], [target.at.depth]], dtype=np.float64)
    if target.strength is not None:
        law, amplitude = point_law(), 10.0 ** (float(target.strength) / 20.0)
    else:
        speed = float(water.sound_speed(at[2])[0])
        law, amplitude = sphere_law(float(target.sphere.diameter), constants, water.density, speed), 1.0
    gathering.add(at, UP, np.array([amplitude]), np.zeros(1), gathering.law(law))
    x, y, z = (float(v) for v in at[:, 0])
    return Body("target", str(target.name), (x, x, y, y, z, z))


def point_law() -> StrengthLaw:
    """Return the law of a target that echoes alike at all angles and frequencies, cross-section 1 m2."""

    def amplitude(cosine: FloatArray, frequency: FloatArray) -> FloatArray:
        return np.ones((len(cosine), len(frequency)))

    return StrengthLaw("point", amplitude, two_sided=True)


def sphere_law(diameter: float, constants: Any, density: float, sound_speed: float) -> StrengthLaw:
    """Return the law of an elastic sphere: diameter [m]; density [kg/m3], sound_speed [m/s] of the water.

    The magnitude only: the phase of the form function, a delay by the radius and the ringing, is left out, so the
    echo is that of a point at the centre. Nulls sharper than the band's nodes are smoothed.
    """

    def amplitude(cosine: FloatArray, frequency: FloatArray) -> FloatArray:
        form = formulas.amplitude_elastic(
            diameter / 2.0,
            frequency,
            float(constants.density) / density,
            float(constants.compressional_speed),
            float(constants.shear_speed),
            sound_speed,
        )
        return np.broadcast_to(np.abs(form)[None, :], (len(cosine), len(frequency))).copy()

    return StrengthLaw("sphere", amplitude, two_sided=True)
