"""Integrals of a pattern over the forward hemisphere, and beam widths found by search.

Nothing radiates behind the baffle. Every integral uses Gauss-Legendre nodes in the angle from the normal and the
trapezoidal rule around it, with four nodes (round faces) or ten to a lobe of the largest dimension.
"""

from functools import lru_cache
from typing import Any

import numpy as np

from pingwright.acoustics.arrays import FloatArray
from pingwright.element.faces import Face

#: Above this many nodes Gauss-Legendre quadrature is made of panels, because finding n nodes takes time with n cubed.
_PANEL = 128
#: Numbers of nodes are multiples of this.
_ROUND = 16
#: Steps outwards that are looked at together: most beams end long before the edge of the hemisphere.
_STEPS = 32


@lru_cache(maxsize=32)
def gauss(count: int) -> tuple[FloatArray, FloatArray]:
    """Return at least `count` nodes and weights of Gauss-Legendre quadrature on -1..1 [1], in panels where many.

    Counts are rounded up, so that few sets of nodes serve all faces and frequencies.
    """
    panels, count = -(-count // _PANEL), -(-count // _ROUND) * _ROUND
    if count > _PANEL or panels > 1:
        return _in_panels(panels)
    return _nodes_of(count)


@lru_cache(maxsize=8)
def _nodes_of(count: int) -> tuple[FloatArray, FloatArray]:
    x, weight = np.polynomial.legendre.leggauss(count)
    return np.asarray(x), np.asarray(weight)


def _in_panels(panels: int) -> tuple[FloatArray, FloatArray]:
    """Return nodes and weights of panels of equal width that fill -1..1."""
    x, weight = _nodes_of(_PANEL)
    starts = -1.0 + 2.0 * np.arange(panels)[:, None] / panels
    return (starts + (x + 1.0) / panels).ravel(), np.tile(weight / panels, panels)


def _nodes(face: Face, frequency: float, sound_speed: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return u, v and solid angle [sr] (node) of a quadrature over the hemisphere."""
    lobes = max(face.extent) * frequency / sound_speed
    # Round faces are smooth in the angle: four nodes to a lobe leave 1e-12. Others may have a kink at its end.
    count = int(32 + 4 * lobes) if face.radial else int(48 + 10 * lobes)
    x, weight = gauss(count)
    count = len(x)
    polar = (x + 1.0) * np.pi / 4.0
    solid = weight * np.pi / 4.0 * np.sin(polar)
    if face.radial:
        return np.sin(polar), np.zeros(count), 2.0 * np.pi * solid
    around = int(16 + 4 * lobes) if face.even else int(48 + 16 * lobes)
    # An even pattern needs one quadrant only: midpoints keep the rule that of the whole circle.
    span = np.pi / 2.0 if face.even else 2.0 * np.pi
    phi = (np.arange(around) + 0.5) * span / around
    u = np.outer(np.sin(polar), np.cos(phi)).ravel()
    v = np.outer(np.sin(polar), np.sin(phi)).ravel()
    return u, v, np.repeat(solid, around) * (2.0 * np.pi / around)


def mean_power(face: Face, frequency: FloatArray, sound_speed: float, power: int = 1) -> FloatArray:
    """Return the integral of |pattern|^(2 power) over the forward hemisphere [sr] (frequency).

    power 1 gives 4 pi / directivity factor, power 2 the equivalent two-way beam angle. frequency [Hz], 1-D.
    """
    return _mean_powers(face, tuple(np.asarray(frequency, dtype=float).tolist()), sound_speed, power).copy()


@lru_cache(maxsize=1024)
def _mean_powers(face: Face, frequencies: tuple[float, ...], sound_speed: float, power: int) -> FloatArray:
    """Return it; the results are stored, because another own noise or another pulse needs them again."""
    frequency, result = np.array(frequencies), np.zeros(len(frequencies))
    if not frequencies:
        return result
    # One set of nodes, fine enough for the highest frequency; a few frequencies at a time to bound the memory.
    u, v, solid = _nodes(face, float(np.max(frequency)), sound_speed)
    block = 400_000
    step = max(1, block // len(u))
    for i in range(0, len(frequency), step):
        few = slice(i, i + step)
        for start in range(0, len(u), block):
            part = slice(start, start + block)
            pattern = face.pattern(u[part], v[part], frequency[few], sound_speed)
            result[few] += solid[part] @ (pattern.real**2 + pattern.imag**2) ** power
    return result


@lru_cache(maxsize=256)
def directivity_fit(face: Face, low: float, high: float, sound_speed: float) -> FloatArray:
    """Return Chebyshev coefficients of the natural logarithm of the directivity factor between two frequencies [Hz].

    The results are stored by face, because the same element with another pulse or power needs them again.
    """
    # The factor has one ripple for every half wavelength of the face: six nodes for each ripple. For large faces the
    # ripples do not matter: they are below 0.001 dB where the limit of the number of nodes is reached.
    count = int(min(24 + 12 * max(face.extent) * (high - low) / sound_speed, 128))

    def level(x: Any) -> Any:
        nodes = (low + high) / 2.0 + x * (high - low) / 2.0
        return np.log(4.0 * np.pi / mean_power(face, nodes, sound_speed))

    return np.asarray(np.polynomial.chebyshev.chebinterpolate(level, count - 1))


def plane_cut(axis: tuple[float, float], angle: FloatArray, across: bool) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return u, v, w of directions turned by angle [rad] from an acoustic axis, in one of its two planes.

    The along plane holds the axis and leans towards +u, the across plane towards +v.
    """
    u0, v0 = axis
    normal = np.array([u0, v0, np.sqrt(max(0.0, 1.0 - u0**2 - v0**2))])
    lean = np.array([0.0, 1.0, 0.0]) if across else np.array([1.0, 0.0, 0.0])
    lean = lean - normal * (normal @ lean)
    lean /= np.linalg.norm(lean)
    d = np.cos(angle)[:, None] * normal + np.sin(angle)[:, None] * lean
    return d[:, 0], d[:, 1], d[:, 2]


def half_power_angle(face: Face, frequency: float, sound_speed: float, across: bool, sign: int) -> float:
    """Return the angle from the acoustic axis [deg] at which power first falls to one half, at most 90 from the normal.

    The search walks outwards from the axis in steps of a sixteenth of a lobe and then bisects.
    """
    steps = int(200 + 24 * max(face.extent) * frequency / sound_speed)
    angle = sign * np.linspace(0.0, np.pi / 2.0, steps)
    f = np.array([frequency])

    def excess(a: FloatArray) -> FloatArray:
        u, v, w = plane_cut(face.axis, a, across)
        level = np.abs(face.pattern(u, v, f, sound_speed)[:, 0]) ** 2 - 0.5
        return np.asarray(np.where(w > -1e-9, level, -1.0))

    for start in range(0, steps, _STEPS):
        below = np.flatnonzero(excess(angle[start : start + _STEPS]) < 0.0)
        if len(below):
            break
    else:
        return 90.0
    low, high = angle[start + below[0] - 1], angle[start + below[0]]
    for _ in range(5):
        fine = np.linspace(low, high, 33)
        first = int(np.flatnonzero(np.append(excess(fine[:-1]), -1.0) < 0.0)[0])
        low, high = fine[max(first - 1, 0)], fine[first]
    return float(np.rad2deg(abs(low + high) / 2.0))


@lru_cache(maxsize=1024)
def beamwidth(face: Face, frequency: float, sound_speed: float) -> tuple[float, float]:
    """Return the full one-way half-power (-3.01 dB) widths along and across [deg] through the acoustic axis."""

    def width(across: bool) -> float:
        one = half_power_angle(face, frequency, sound_speed, across, 1)
        mirrored = face.even and face.axis == (0.0, 0.0)
        return one + (one if mirrored else half_power_angle(face, frequency, sound_speed, across, -1))

    along = width(False)
    return along, along if face.radial else width(True)
