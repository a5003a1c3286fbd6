"""Pings that cannot show the fish, not even by chance: they count as missed without being simulated."""

from dataclasses import replace

import numpy as np

from pingwright.echograms.record import BeamPattern, FloatArray
from pingwright.measure.detect import FALSE_ALARM, FLOOR
from pingwright.measure.separated import EXTENT_OF_LENGTH
from pingwright.recording.surroundings import BEHIND, BEHIND_M
from pingwright.trials.placement import BoolArray, Species
from pingwright.trials.scene import Scene
from pingwright.world import strength
from pingwright.world.scatterers import Track
from pingwright.world.terrain import ROCKY

#: An echo is almost never this much [dB] above the fish's mean: a Rayleigh echo in one ping of ten million.
RISE = 12.0
#: A fish farther than the nearest bottom by this share and this number of metres is behind the pick, on slopes up to
#: GENTLE [deg]; over rough rock and steeper slopes, where picks come late, by BEHIND and BEHIND_M. Measured over gravel
#: at 58 m with waves of 0.1 m, high and low pencil: none of 823 pings beyond 0.15 m detected anything.
SMOOTH, SMOOTH_M, GENTLE = 0.003, 0.35, 3.0


def possible(
    at: Scene, index: int, species: Species, track: Track, way: FloatArray, own: FloatArray, length: FloatArray
) -> BoolArray:
    """Return which pings may show the fish at all (ping).

    way, own (3, ping): from the boat to the fish in world axes and in the element's; length [m] (ping). Pings are left
    out if the echo would stay below the floor or the noise even RISE above its mean at the band's best frequency, or if
    the fish lies behind the bottom. A random peak there, in a pass with or without a fish, is lost: fewer than one in a
    thousand pings.
    """
    header = at.headers[index]
    info, slant = header.info, np.linalg.norm(way, axis=0)
    law = strength.model(
        species.strength_model, species.swimbladder, species.tilt, float(np.median(way[2])) + at.face,
        info.assumed_sound_speed,
    )  # fmt: skip
    centre = 0.5 * (info.band_low + info.band_high)
    echo = law.strength(length, way[2] + at.face, centre) + species.gain + RISE - least_loss(header.beam, own)
    noise = info.noise_level - info.heard_level + 40 * np.log10(slant) + 2 * info.absorption * slant
    threshold = 10 * np.log10(-np.log(FALSE_ALARM))
    loud = (echo - info.number("bubble_loss", 0.0) >= FLOOR) & (echo >= noise + threshold)
    return np.asarray(loud & (slant <= _farthest(at, track) + EXTENT_OF_LENGTH * length))


def least_loss(beam: BeamPattern, own: FloatArray) -> FloatArray:
    """Return the least two-way loss [dB, positive] (ping) of a beam over its band, for directions own (3, ping)."""
    along, across = (np.degrees(np.arctan2(own[k], own[2])) for k in (0, 1))
    if np.allclose(beam.along, beam.across, atol=0.01):
        loudest = replace(beam, along=beam.along.max(axis=0)[None], across=beam.across.max(axis=0)[None])
        return np.asarray(-2 * one_way(loudest, 0, along, across))
    best = np.full(own.shape[1], -np.inf)
    for row in range(len(beam.frequency)):
        best = np.maximum(best, one_way(beam, row, along, across))
    return np.asarray(-2 * best)


def one_way(beam: BeamPattern, row: int, along: FloatArray, across: FloatArray) -> FloatArray:
    """Return the one-way level [dB re axis] of a beam at one of its frequencies towards angles [deg] (any one shape).

    A round beam by its angle off the axis, another by the sum of its two patterns.
    """
    if np.allclose(beam.along[row], beam.across[row], atol=0.01):
        off = np.degrees(np.arctan(np.hypot(np.tan(np.radians(along)), np.tan(np.radians(across)))))
        return np.asarray(np.interp(off, beam.angle, beam.along[row]))
    both = np.interp(along, beam.angle, beam.along[row]) + np.interp(across, beam.angle, beam.across[row])
    return np.asarray(both)


def _farthest(at: Scene, track: Track) -> FloatArray:
    """Return the range [m] (ping) beyond which a fish lies behind the bottom; infinite over structures and grids."""
    seabed = at.scenario.seabed
    bare = seabed.grid is None and getattr(seabed, "profile", None) is None and not at.scenario.structure
    if not bare:
        return np.full(len(track.x), np.inf)
    slope = np.tan(np.radians([seabed.slope.along, seabed.slope.across]))
    upright = 1.0 / np.sqrt(1.0 + np.sum(slope**2))
    waves = 0.0 if seabed.relief is None else float(seabed.relief.height)
    nearest = (at.depth(track.x, track.y) - at.face + waves) * upright
    rough = upright < np.cos(np.radians(GENTLE)) or str(seabed.layer[0].sediment) in ROCKY
    share, more = (BEHIND, BEHIND_M) if rough or seabed.patch else (SMOOTH, SMOOTH_M)
    return np.asarray(nearest * (1 + share) + more)
