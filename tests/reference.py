"""The judge of the engine: the sum of design, written out directly in double precision numpy, and nothing clever.

    Y(f) = P(f) conj(P(f)) W(f) / E  sum_i S(f) b_i(f)^2 10^(-2 A_i(f)/20) / r_i^2  s_i(f) exp(-2 pi j f tau_i)

Every factor is evaluated for every scatterer at every in-band frequency; no table, no interpolation.
"""

import numpy as np
from pingwright.engine import geometry, settings


def every_scatterer(world, place, reach):
    """Return all scatterers of a world that a ping at place (3) can hear: seabed tiles, then discrete ones at rest."""
    parts = []
    if world.seabed is not None:
        tiles = geometry.Tiles(world.seabed)
        parts.append(geometry.stretch(tiles, np.asarray(place)[:, None], reach).points)
    parts.append(world.discrete.scatterers)
    return geometry.join(parts)


def spectrum(world, element, pose, points, frequency, weight=None, bounce=False, transmit=None, last=np.inf):
    """Return the sum over scatterers at frequency (m): everything but pulse and source level, complex (m).

    last [s]: echoes later than this are left out; on a circular grid they would come round to its beginning.
    """
    face = pose[:3]
    offset = points.position - face[:, None]
    r = np.sqrt((offset**2).sum(axis=0))
    unit = offset / r
    u, v, w = pose[3:].reshape(3, 3) @ unit
    cosine = -(unit * points.axis).sum(axis=0)
    z = points.position[2]
    delay = 2 * r * world.water.mean_slowness(face[2], z)
    path = r
    if bounce:
        slowness = 1 / world.water.sound_speed(np.array([face[2]]))[0]
        delay, path = 2 * delay + 2 * face[2] * slowness, 2 * r + face[2]
    heard = (w > 0) & (delay < last)
    beam = element.beam(np.where(heard, u, 0), np.where(heard, v, 0), frequency)
    if transmit is None:
        beam = beam * beam
    else:
        tu, tv, tw = transmit.rotation @ element.rotation.T @ np.stack([u, v, w])
        beam = beam * transmit.beam(tu, tv, frequency) * (tw > 0)[:, None]
    strength = np.zeros((len(r), len(frequency)))
    for kind, law in enumerate(world.laws):
        mine = points.law == kind
        turned = np.abs(cosine[mine]) if law.two_sided else cosine[mine]
        facing = turned >= 0
        strength[mine] = law.amplitude(np.where(facing, turned, 1.0), frequency) * facing[:, None]
    loss = 10 ** (-2 * path[:, None] * world.water.mean_absorption(frequency, face[2], z) / 20)
    amplitude = points.amplitude * heard / r**2 * (1 if weight is None else weight)
    gain = world.bounce.gain(frequency) if bounce else 1.0
    phase = np.exp(-2j * np.pi * (delay[:, None] * frequency - points.phase[:, None]))
    return (amplitude[:, None] * beam * strength * loss * gain * phase).sum(axis=0)


def ping(world, element, run_settings, index, weight=None, bounce=False, points=None, block=200, transmit=None):
    """Return one ping's noise-free matched filter output [uPa] (sample) on the record's own sample times."""
    grid = settings.sampling(element, run_settings)
    frequency = (element.band[0] + element.band[1]) / 2 + grid.bins * grid.step
    place = geometry.origin(world.track, index)
    reach = settings.reach(run_settings, [grid], world)
    points = every_scatterer(world, place, reach) if points is None else points
    weight = np.ones(len(points)) if weight is None else weight
    pose = geometry.pose(world.track, index, element)
    total = np.zeros(len(frequency), complex)
    for start in range(0, len(points), block):
        part = geometry.take(points, slice(start, start + block))
        for echo in (False, True) if bounce else (False,):
            held = weight[start : start + block]
            total += spectrum(world, element, pose, part, frequency, held, echo, transmit, grid.end - 16 / grid.spread)
    replica, weighting = element.replica_spectrum(frequency), element.weighting(frequency)
    energy = (np.abs(replica) ** 2 * weighting).sum()
    sender = element if transmit is None else transmit
    total *= sender.source_amplitude(frequency) * sender.replica_spectrum(frequency) * np.conj(replica) * weighting
    # The grid's time starts at `origin`: a phase over the in-band offsets.
    total *= np.exp(2j * np.pi * grid.bins * grid.step * grid.origin) / energy
    whole = np.zeros(grid.stored_length, complex)
    whole[grid.bins] = total
    return (np.fft.ifft(whole) * grid.stored_length)[grid.first : grid.first + grid.count]
