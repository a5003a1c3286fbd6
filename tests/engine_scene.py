"""Small worlds and real elements for the engine's tests."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
from pingwright.element.build import build
from pingwright.engine import jobs, preparing
from pingwright.engine import simulate as engine
from pingwright.engine.nodes import ACCURACIES
from pingwright.engine.settings import Settings
from pingwright.inputs.elements import Pulse
from pingwright.inputs.fields import Tilt
from pingwright.world import water as real_water
from pingwright.world.scatterers import Discrete, Occluder, Posture, Scatterers, StrengthLaw, Track, World
from test_element_flat import spec

C, RHO = 1490.0, 1027.0
DISC = {"shape": "disc", "diameter": 0.061}
RECTANGLE = {"shape": "rectangle", "along": 0.05, "across": 0.009}
#: 16 discs in a square, steered 5 degrees to starboard by delays.
STEERED = {
    "shape": "discs", "diameter": 0.008,
    "centres": [[0.01 * i, 0.01 * j, 0.0] for i in range(4) for j in range(4)],
    "weights": [1.0] * 16,
    "delays": [-0.01 * j * np.sin(np.radians(5)) / C for i in range(4) for j in range(4)],
}  # fmt: skip
CAP = {"shape": "cap", "radius": 0.105, "opening": 68.0, "shading": "cos2"}
ARC = {"shape": "arc", "radius": 0.08, "opening": 146.0, "width": 0.04, "shading": "cos"}

WATER = SimpleNamespace(temperature=11.0, salinity=34.5, acidity=8.0, profile=None)
LAYERED = SimpleNamespace(
    temperature=None, salinity=None, acidity=8.0,
    profile=SimpleNamespace(
        depth=(0.0, 10.0, 15.0, 60.0), temperature=(18.0, 17.5, 9.0, 7.0), salinity=(30.0, 30.0, 34.0, 35.0)
    ),
)  # fmt: skip


class StillWater:
    """One sound speed, and an absorption that goes linearly with frequency and depth: means by hand."""

    density, surface_sound_speed = RHO, C

    def sound_speed(self, depth):
        return np.full(np.shape(depth), C)

    def mean_slowness(self, top, depth):
        return np.full(np.shape(depth), 1 / C)

    def mean_absorption(self, frequency, top, depth):
        return np.outer(1 - 3e-5 * (np.asarray(depth) + top), 0.0003 * np.asarray(frequency) / 1e3)


class Lossless(StillWater):
    """Water without absorption."""

    def mean_absorption(self, frequency, top, depth):
        return np.zeros((len(depth), len(frequency)))


class Flat:
    """A level seabed."""

    def __init__(self, z):
        self.z = z

    def depth(self, x, y):
        return np.full(np.shape(x), self.z)


def layered_water(top=0.5, deepest=200.0):
    return real_water.build(LAYERED, top, deepest)


def sea_water(top=0.5, deepest=200.0):
    return real_water.build(WATER, top, deepest)


def element(face=None, band=(130e3, 210e3), length=2e-3, tilt=(0.0, 0.0), name="e", **changes):
    """Return a real element; changes: fields of the scenario's [[element]], or of its pulse (kind, tone, ..)."""
    pulse = {"kind": "chirp", "length": length, "taper": 0.1, "tone": None, "direction": "up"}
    pulse |= {k: changes.pop(k) for k in list(changes) if k in pulse}
    shape = spec(face or DISC, band, name=name, receive_efficiency=0.5, pulse=Pulse.model_construct(**pulse),
                 tilt=Tilt(along=tilt[0], across=tilt[1]))  # fmt: skip
    return build(shape.model_copy(update=changes), RHO, C)


def settings(start=0.0, end=60.0, accuracy="normal", **changes):
    plain = Settings(
        seed=7, window=(start, end), assumed_sound_speed=C, transducer_depth=0.5, interval=0.2, in_turn=False,
        ambient=True, own_noise=None, wind=5.0, span=0.0, accuracy=ACCURACIES[accuracy],
    )  # fmt: skip
    return replace(plain, **changes)


def track(pings=4, spacing=0.1, interval=0.2, **fields):
    zero = np.zeros(pings)
    level = {"time": np.arange(pings) * interval, "x": np.arange(pings) * spacing, "y": zero, "depth": zero + 0.5}
    level |= {"heave": zero, "roll": zero, "pitch": zero, "heading": zero}
    return Track(**(level | {k: zero + v for k, v in fields.items()}))


def scatterers(position, axis=None, amplitude=1.0, phase=0.0, law=0):
    """Return points at position (3, n) [m], facing up unless told otherwise."""
    position = np.asarray(position, float).reshape(3, -1)
    n = position.shape[1]
    up = np.tile(np.array([[0.0], [0.0], [-1.0]]), (1, n)) if axis is None else np.asarray(axis, float)
    fill = np.ones(n)
    return Scatterers(
        position, up.astype(np.float32), (fill * amplitude).astype(np.float32), (fill * phase).astype(np.float32),
        (np.ones(n, int) * law).astype(np.int32),
    )  # fmt: skip


def random_points(count, rng, depth=(3.0, 42.0), half_width=25.0):
    """Return a rough seabed in the last tenth of the depths and fish above it, half of each, sorted by x."""
    x = np.sort(rng.uniform(-half_width, half_width, count))
    law = rng.integers(0, 2, count)
    bed = depth[1] + 0.02 * depth[1] * rng.random(count)
    z = np.where(law == 0, bed, rng.uniform(depth[0], 0.95 * depth[1], count))
    axis = rng.normal(size=(3, count))
    axis[:2] *= np.where(law == 0, 0.1, 1.0)
    axis[2] = np.where(law == 0, -1.0, axis[2])
    axis /= np.sqrt((axis**2).sum(axis=0))
    edge = 2 * half_width / np.sqrt(count / 2)
    position = np.stack([x, rng.uniform(-half_width, half_width, count), z])
    return scatterers(position, axis, np.where(law == 0, edge, 1.0), rng.random(count), law)


def patch_amplitude(cosine, frequency):
    """A seabed-like lobe over a floor."""
    return 0.3 * np.exp(-(1 - cosine) / 0.1)[:, None] * np.ones(len(frequency)) + 0.03


def fish_amplitude(cosine, frequency):
    """Weaker away from broadside, and with a slope over the band."""
    return np.outer(1 - 0.5 * cosine, (np.asarray(frequency) / 1e5) ** -0.3) * 0.01


def unit_amplitude(cosine, frequency):
    """A cross-section of 1 m2: target strength 0 dB."""
    return np.ones((len(cosine), len(frequency)))


LAWS = (StrengthLaw("patch", patch_amplitude), StrengthLaw("fish", fish_amplitude, True))
POINT = (StrengthLaw("point", unit_amplitude, True),)


def discrete(points, velocity=None, time=None, ping=None):
    n = len(points)
    ping = np.full(n, -1) if ping is None else ping
    return Discrete(
        points, np.zeros((3, n)) if velocity is None else velocity, np.zeros(n) if time is None else time,
        ping, np.arange(n), ping, Posture.rigid(n),
    )  # fmt: skip


def world(points, laws=LAWS, water=None, path=None, **changes):
    """Return a world of nothing but these points."""
    return World(
        seed=11, water=water or StillWater(), track=path or track(), terrain=Flat(75.0), laws=laws,
        discrete=discrete(points) if isinstance(points, Scatterers) else points, seabed=None, **changes,
    )  # fmt: skip


def box(low, high):
    """Return a closed box between two corners [m] that hides what is behind it."""
    corners = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)]) * (np.subtract(high, low)) + low
    faces = [
        (0, 1, 3), (0, 3, 2), (4, 6, 7), (4, 7, 5), (0, 4, 5), (0, 5, 1),
        (2, 3, 7), (2, 7, 6), (0, 2, 6), (0, 6, 4), (1, 5, 7), (1, 7, 3),
    ]  # fmt: skip
    return Occluder("box", corners.astype(float), np.array(faces))


def run_of(w, elements, run_settings, quiet=True):
    """Return a prepared run."""
    run = preparing.Run(w, tuple(elements), run_settings, quiet)
    preparing.prepare(run)
    return run


def echoes(w, elements, run_settings, quiet=True, pings=None):
    """Return each element's complex output [uPa] (ping, sample) of pings (default: all)."""
    run = run_of(w, elements, run_settings, quiet)
    first, last = (0, len(w.track)) if pings is None else (pings[0], pings[-1] + 1)
    return [chunk.echo for chunk in jobs.job(run, range(first, last), True)]


def times(e, run_settings):
    """Return the record's sample times [s]."""
    return engine.ranges(e, run_settings) * 2 / run_settings.assumed_sound_speed


def finer(echo, factor=16):
    """Return echo (sample) on a grid `factor` times finer, by its Fourier series."""
    from scipy.signal import resample

    return resample(echo, len(echo) * factor)


def decibel(power):
    return 10 * np.log10(power)
