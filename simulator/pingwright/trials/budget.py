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
#: GENTLE [deg]; by ROUGH_M instead over rough rock; on steeper slopes, where picks come late, by BEHIND and BEHIND_M.
#: Measured: over gravel at 58 m with waves of 0.1 m, high and low pencil, none of 823 pings beyond 0.15 m detected
#: anything. Beyond 0.2 m, with the fish and without: beside a wreck on gravel at 43 to 57 m under all elements of the
#: catalogue none of 3455, on rock at 61 m none of 2293, beside a reef there none of 2437, over bare rock none of 699.
SMOOTH, SMOOTH_M, ROUGH_M, GENTLE = 0.003, 0.35, 0.7, 3.0


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
    """Return the range [m] (ping) beyond which a fish lies behind the bottom; infinite over grids and profiles.

    Over structures too: the seabed that shows last is that straight below, or that beside what stands in between.
    """
    seabed = at.scenario.seabed
    if seabed.grid is not None or getattr(seabed, "profile", None) is not None:
        return np.full(len(track.x), np.inf)
    slope = np.tan(np.radians([seabed.slope.along, seabed.slope.across]))
    upright = 1.0 / np.sqrt(1.0 + np.sum(slope**2))
    waves = 0.0 if seabed.relief is None else float(seabed.relief.height)
    below = at.depth(track.x, track.y) - at.face + waves
    share, more = SMOOTH, ROUGH_M if str(seabed.layer[0].sediment) in ROCKY else SMOOTH_M
    if upright < np.cos(np.radians(GENTLE)) - 1e-9 or seabed.patch:
        share, more = BEHIND, BEHIND_M
    nearest = below * upright
    if at.scenario.structure:
        aside = _to_open_ground(at, track)
        nearest = np.hypot(below + aside * float(np.hypot(*slope)), aside)
    return np.asarray(nearest * (1 + share) + more)


def _to_open_ground(at: Scene, track: Track) -> FloatArray:
    """Return how far aside [m] (ping) from the boat the box around all structures ends; 0 where it is not over it."""
    low, high = at.around or (np.zeros(2), np.zeros(2))
    place = np.stack([track.x, track.y], axis=1)
    return np.asarray(np.maximum(np.minimum(place - low, high - place).min(axis=1), 0.0))
