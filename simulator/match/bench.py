"""One fish to a ping: simulates places under every element at once, and judges each ping.

The world of a ping holds its own fish only; pings stand STEP apart along the track, so each has its own bottom.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from simulator.echograms.record import ElementInfo, ElementRecord
from simulator.match.hits import BoolArray, FloatArray
from simulator.match.plan import Places
from simulator.recording import Prepared

#: Distance between pings [m]: far beyond any correlation of the bottom's echo, which is under a face's length.
STEP = 3.0
#: Where the fish of a ping that is judged without one is put [m along the track]: out of hearing.
_AWAY = 1e6


@dataclass(frozen=True)
class Judged:
    """Verdicts by element and ping: detected, parted (element, n)."""

    detected: BoolArray
    parted: BoolArray


def simulate(
    prepared: Prepared,
    group: Any,
    places: Places,
    seed: int,
    *,
    seabed: bool = True,
    threads: int | None = None,
) -> Judged:
    """Simulate one ping for each place and judge it. group: a resolved `fish` section; prepared: of the slice.

    seabed: whether there is one. The same arguments but threads give the same verdicts.
    """
    from simulator.engine.settings import from_scenario
    from simulator.engine.simulate import simulate as pings
    from simulator.world import build, track

    scenario = prepared.scenario
    face = float(scenario.boat.transducer_depth)
    x = STEP * np.arange(len(places), dtype=np.float64)
    poses = track.still(x, np.zeros_like(x), face, float(scenario.boat.ping_interval))
    world = build.monte_carlo(scenario, poses, _placed(places, x, group, seed), group, seed)
    if not seabed:
        world = replace(world, seabed=None, bounce=None)
    settings = replace(from_scenario(scenario, world), seed=seed)
    stored: list[list[Any]] = [[] for _ in prepared.elements]
    for chunk in pings(world, prepared.elements, settings, threads=threads):
        stored[chunk.element].append(chunk.level)
    verdicts = [
        _judge(_record(header, x, world, np.concatenate(levels)), places, world, float(group.length.mean))
        for header, levels in zip(prepared.header.elements, stored, strict=True)
    ]
    return Judged(np.stack([v[0] for v in verdicts]), np.stack([v[1] for v in verdicts]))


def resolution(prepared: Prepared, depth: float) -> FloatArray:
    """Return each element's range resolution [m]: the width at -3 dB of one point's echo on the axis, without noise.

    prepared: of a scenario with one ping over one target at this depth [m]. nan where the echo is not found.
    """
    from simulator.measure.cells import grid
    from simulator.measure.widths import echo_width
    from simulator.recording import in_memory

    found = []
    for element in in_memory(prepared, quiet=True).elements:
        cells, stored = grid(element), np.asarray(element.echo_level)
        near = np.abs(element.range - (depth - element.info.transducer_depth)) < 1.0
        index = np.flatnonzero(near)[np.argmax(stored[0, near])]
        found.append(float(echo_width(stored, cells, np.array([0]), np.array([index]))[0]))
    return np.array(found)


def _placed(places: Places, x: FloatArray, group: Any, seed: int) -> Any:
    """Return the fish as the world wants them: absolute places, and postures of the group."""
    from simulator import seeds
    from simulator.world import fish

    random, count = seeds.stream(seed, "fish", 0), len(places)
    own = fish.lengths(random, float(group.length.mean), float(group.length.sd), count)
    length = np.where(np.isnan(places.length), own, places.length)
    tilt = np.clip(random.normal(float(group.tilt.mean), float(group.tilt.sd), count), -90.0, 90.0)
    yaw = random.uniform(0.0, 360.0, count)
    along = np.where(places.present > 0, x + places.along, _AWAY)
    return fish.Placed(
        np.stack([along, places.across, places.depth]), length, tilt, yaw, np.arange(count, dtype=np.int64)
    )


def _record(header: ElementRecord, x: FloatArray, world: Any, stored: Any) -> ElementRecord:
    zero = np.zeros(len(x))
    return replace(
        header, ping_time=world.track.time, x=x, y=zero, roll=zero, pitch=zero, heave=zero,
        bottom_depth=world.terrain.depth(x, zero), echo_level=stored,
    )  # fmt: skip


def _judge(element: ElementRecord, places: Places, world: Any, usual: float) -> tuple[BoolArray, BoolArray]:
    """Return which pings detect and which part the fish at its true range (n); usual: its mean length [m]."""
    from simulator.measure.bottom import BLOCK, find
    from simulator.measure.cells import grid
    from simulator.measure.parted import score, tolerance

    cells = grid(element)
    length = np.where(np.isnan(places.length), usual, places.length)
    within = tolerance(cells, length)
    ranges = drawn_range(places, world, element.info)
    detected, parted = [], []
    for start in range(0, len(places), BLOCK):
        part = slice(start, start + BLOCK)
        stored = np.asarray(element.echo_level[part])
        row = np.arange(len(stored), dtype=np.int64)
        verdicts = score(stored, cells, find(stored, cells), row, ranges[part], within[part])
        detected.append(verdicts.detected)
        parted.append(verdicts.parted)
    return np.concatenate(detected), np.concatenate(parted)


def drawn_range(places: Places, world: Any, info: ElementInfo) -> FloatArray:
    """Return where each fish's echo is drawn on the range axis [m] (n): true travel time at the assumed speed."""
    face = info.transducer_depth
    slant = np.sqrt(places.along**2 + places.across**2 + (places.depth - face) ** 2)
    return np.asarray(slant * world.water.mean_slowness(face, places.depth) * info.assumed_sound_speed)
