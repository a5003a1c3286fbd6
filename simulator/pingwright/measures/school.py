"""Closed form of a school: the probability that a ping shows it, by the sonar equation for many fish in a beam.

The echo of a resolution shell is that of all fish inside beam and school, TS + 10 log n V (MacLennan, Fernandes & Dalen
2002), and fades as that of many fish does (Rayleigh). V is taken at the middle of the school: its outline from above,
through the recorded pattern, times the lesser of the pulse's shell and the school's height there. Left out: the
curvature of the shells (for a school much wider than the beam), and absorption by the school itself.
"""

import numpy as np

from pingwright.echograms.record import FloatArray
from pingwright.measure import passes as rule
from pingwright.measure.detect import FALSE_ALARM, FLOOR
from pingwright.measures import ahead, theory
from pingwright.measures.ahead import Ahead
from pingwright.measures.theory import Chances
from pingwright.trials.passes import Pings, own_axes
from pingwright.trials.placement import Species
from pingwright.trials.scene import Scene
from pingwright.world import strength

#: Cells on a side into which the part of a school inside the beam is cut.
CELLS = 7
#: Share of the shells of a school that count as independent looks; assumed.
INDEPENDENT = 0.5


def chances(at: Scene, index: int, species: Species, pings: Pings, bottom: Ahead) -> Chances:
    """Return the probabilities of each ping of a pass of one element: of a school (ping), of a fish (posture, ping)."""
    if species.school is None:
        return theory.ping_chances(at, index, species, pings, bottom, "pass")
    info, way = at.headers[index].info, pings.way()
    down = np.maximum(way[2], 0.1)
    area, height = _inside(at, index, species, pings)
    shell = 0.5 * info.assumed_sound_speed * info.effective_pulse
    volume = area * np.minimum(shell, height)
    law = strength.model(
        species.strength_model, species.swimbladder, species.tilt, float(np.median(down)) + at.face,
        info.assumed_sound_speed,
    )  # fmt: skip
    middle = 0.5 * (info.band_low + info.band_high)
    lengths = np.full(len(down), species.length)
    single = law.strength(lengths, down + at.face, middle) + species.gain
    echo = 10 ** (0.1 * single) * species.school.density * volume
    noise = info.noise_level - info.heard_level + 40 * np.log10(down) + 2 * info.absorption * down
    level = 10 ** (0.1 * noise) + np.interp(down, bottom.distance, bottom.leak, left=0.0)
    shown = rayleigh(echo, level)
    looks = np.maximum(INDEPENDENT * height / shell, 1.0)
    shown = np.where(volume > 0.0, 1.0 - (1.0 - shown) ** looks, 0.0)
    needed, clear = theory.clear_of(info)
    detected = shown * (down + needed < bottom.edge)
    return Chances(detected, shown * (down + 0.5 * height + clear < bottom.edge))


def rayleigh(echo: FloatArray, noise: FloatArray) -> FloatArray:
    """Return the probability that a fading echo passes the threshold and the floor, dimensionless (any shape).

    echo, noise: mean powers [m2, as target strength]. Exact for a Rayleigh echo in Gaussian noise (Swerling 1960).
    """
    threshold = np.maximum(-np.log(FALSE_ALARM) * noise, 10 ** (0.1 * FLOOR))
    return np.asarray(np.exp(-threshold / (echo + noise)))


def _inside(at: Scene, index: int, species: Species, pings: Pings) -> tuple[FloatArray, FloatArray]:
    """Return the area of the school in the beam [m2], two-way, and its height there [m] (ping)."""
    school = species.school
    if school is None:
        raise ValueError(species)
    way, header = pings.way(), at.headers[index]
    down = np.maximum(way[2], 0.1)
    lobe = rule.main_lobe(header.info, header.beam)
    sides = []
    for axis, (name, motion) in enumerate((("along", "pitch"), ("across", "roll"))):
        tilt, swing = float(getattr(at.elements[index].spec.tilt, name)), getattr(at.scenario.boat, motion)
        most, half = lobe[axis] + (0.0 if swing is None else float(swing.amplitude)), getattr(school, name) / 2
        ends = [np.tan(np.radians(np.clip(tilt + side * most, -80.0, 80.0))) * down for side in (-1.0, 1.0)]
        sides.append((np.maximum(way[axis] - half, ends[0]), np.minimum(way[axis] + half, ends[1])))
    part = (np.arange(CELLS) + 0.5) / CELLS
    area, tall = np.zeros(len(down)), np.zeros(len(down))
    (west, east), (port, board) = sides
    cell = np.maximum(east - west, 0.0) * np.maximum(board - port, 0.0) / CELLS**2
    for u in part:
        for v in part:
            x, y = west + u * (east - west), port + v * (board - port)
            off = ((x - way[0]) / (school.along / 2)) ** 2 + ((y - way[1]) / (school.across / 2)) ** 2
            own = own_axes(at.elements[index], pings.track, np.stack([x, y, down]))
            here = cell * (off <= 1.0) * 10 ** (0.1 * ahead.beam_gain(header, own)) * (own[2] > 0)
            area, tall = area + here, tall + here * np.sqrt(np.maximum(1.0 - off, 0.0))
    return area, school.height * tall / np.maximum(area, 1e-30)
