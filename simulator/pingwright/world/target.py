"""Calibration targets: points of flat strength, and elastic spheres by their exact series."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pingwright.acoustics import sphere as formulas
from pingwright.inputs.fields import known
from pingwright.world import materials
from pingwright.world.contents import Body
from pingwright.world.gather import Gathering
from pingwright.world.scatterers import FloatArray, StrengthLaw, Water

if TYPE_CHECKING:
    from pingwright.inputs.bodies import Target
    from pingwright.inputs.catalogue import SphereEntry

OVERSAMPLING = 1.25  # of the points' spacing over the bands' span
RINGING = 48.0  # diameters of travel until the ringing is cut off
DAMPING = 1e-3
UP = np.array([[0.0], [0.0], [-1.0]])
#: The law of a target's points, which no structure has.
POINT = "point"


def add(gathering: Gathering, target: "Target", water: Water, bands: Sequence[tuple[float, float]]) -> Body:
    """Add a `[[target]]` to a gathering; return its place for the truth.

    target: name, at (x, y, depth [m]), strength [dB re 1 m2] or sphere (diameter [m], material of
    the catalogue). bands [Hz] in which a sphere is heard.
    """
    at = np.array([target.at.x, target.at.y, target.at.depth], dtype=np.float64)
    if target.strength is not None:
        offset, amplitude = np.zeros(1), np.array([10.0 ** (float(target.strength) / 20.0) + 0j])
        strength = _flat(float(target.strength))
    else:
        sphere, speed = known(target.sphere, "target.sphere"), float(water.sound_speed(at[2:])[0])
        diameter, constants = float(sphere.diameter), materials.sphere_material(sphere.material)
        delay, amplitude = sphere_echo(diameter, constants, water.density, speed, bands)
        offset = delay * speed / 2.0
        strength = _of_sphere(diameter, constants, water.density, speed)
    places = np.repeat(at[:, None], len(offset), axis=1)
    places[2] += offset
    phase = np.angle(amplitude) / (2.0 * np.pi)
    up = np.repeat(UP, len(offset), axis=1)
    gathering.add(places, up, np.abs(amplitude), phase, gathering.law(point_law()))
    x, y, z = (float(v) for v in at)
    return Body("target", str(target.name), (x, x, y, y, z, z), strength)


def _flat(level: float) -> Callable[[float], float]:
    return lambda frequency: level


def _of_sphere(diameter: float, constants: "SphereEntry", density: float, speed: float) -> Callable[[float], float]:
    """Return the target strength [dB re 1 m2] of a sphere as a function of frequency [Hz]."""

    def level(frequency: float) -> float:
        one = form_function(diameter, constants, density, speed, np.array([frequency]))
        return 20.0 * float(np.log10(np.abs(one[0])))

    return level


def point_law() -> StrengthLaw:
    """Return the law of a target that echoes alike at all angles and frequencies, cross-section 1 m2."""

    def amplitude(cosine: FloatArray, frequency: FloatArray) -> FloatArray:
        return np.ones((len(cosine), len(frequency)))

    return StrengthLaw(POINT, amplitude, two_sided=True, key=POINT)


def sphere_echo(
    diameter: float, constants: "SphereEntry", density: float, sound_speed: float, bands: Sequence[tuple[float, float]]
) -> tuple[FloatArray, NDArray[np.complex128]]:
    """Return the echo of an elastic sphere as a row of points: delays [s] about its centre (n), amplitudes [m] (n).

    The points' sum follows the exact complex form function inside the bands [Hz]: the reflection off the front, then
    the ringing. They lie one above the other, which is correct from above; seen 20 degrees from the side, the ringing
    is 6 % too early. Resonances that ring longer than RINGING diameters' travel are smoothed: the error is up to 4 % of
    the form function's rms for spheres of 23 to 60 mm between 42 and 210 kHz (measured).
    """
    low, high = min(b[0] for b in bands), max(b[1] for b in bands)
    across = diameter / sound_speed
    step = 1.0 / (OVERSAMPLING * (high - low))
    delay = np.arange(np.floor(-2.0 * across / step), np.ceil(RINGING * across / step) + 1.0) * step
    count = [int(np.ceil(3.0 * (b[1] - b[0]) * (delay[-1] - delay[0]))) + 8 for b in bands]
    frequency = np.concatenate([np.linspace(*b, n) for b, n in zip(bands, count, strict=True)])
    needed = form_function(diameter, constants, density, sound_speed, frequency)
    # Least squares with a little damping, so that points do not cancel each other where no band needs them. The delays
    # are evenly spaced, so the matrix of the normal equations is a Toeplitz matrix, given by its first column.
    from scipy.linalg import solve_toeplitz

    column = _at_delays(np.ones(len(frequency)), frequency, delay - delay[0])
    column[0] += DAMPING**2 * len(frequency)
    return delay, np.asarray(solve_toeplitz(column, _at_delays(needed, frequency, delay)), np.complex128)


def _at_delays(spectrum: NDArray[Any], frequency: FloatArray, delay: FloatArray) -> NDArray[np.complex128]:
    """Return the sum over frequency [Hz] of spectrum exp(2 pi i f d) at evenly spaced delays d [s] (n).

    A delay is that of its block and one within the block, so the sum is a product of two small matrices.
    """
    width = int(np.ceil(np.sqrt(len(delay))))
    step = float(delay[1] - delay[0])
    inner = np.exp(2j * np.pi * np.outer(frequency, np.arange(width) * step))
    outer = np.exp(2j * np.pi * np.outer(frequency, delay[0] + np.arange(width) * width * step))
    return np.asarray(((outer.T * spectrum) @ inner).ravel()[: len(delay)])


def form_function(
    diameter: float, constants: "SphereEntry", density: float, sound_speed: float, frequency: FloatArray
) -> NDArray[np.complex128]:
    """Return the backscattering amplitude [m] of an elastic sphere at frequency [Hz], phases for exp(+i omega t)."""
    inward = formulas.amplitude_elastic(
        diameter / 2.0,
        frequency,
        float(constants.density) / density,
        float(constants.compressional_speed),
        float(constants.shear_speed),
        sound_speed,
    )
    return np.conj(inward)
