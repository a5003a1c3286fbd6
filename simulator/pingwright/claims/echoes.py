"""Beam width and range resolution, read from the echoes of a point, again and again."""

from dataclasses import replace
from typing import Any

import numpy as np

from pingwright import seeds
from pingwright.claims import bench, lots
from pingwright.claims.limits import deepened
from pingwright.claims.lots import FloatArray, Stage, single
from pingwright.claims.question import Question
from pingwright.echograms.record import ElementRecord
from pingwright.measure.cells import grid
from pingwright.measure.detect import parabola
from pingwright.measure.widths import beam_width, echo_width

#: Readings of each number; directions of one crossing of the beam, over so many times its width.
READINGS, DIRECTIONS, SPAN = 32, 81, 1.7
#: The point: strength [dB re 1 m2], and its range as a share of the seabed's depth.
STRENGTH, SHARE = -20.0, 0.6


def read(question: Question, at: Stage, index: int, seed: int, threads: int | None = None) -> FloatArray:
    """Return READINGS of the question's number for one element: widths [deg] or resolutions [m]."""
    one = single(at, index)
    info = one.prepared.header.elements[0].info
    bottom = float(one.depth(np.zeros(1), np.zeros(1))[0]) - one.face
    deep = max(SHARE * bottom, 1.5 * info.blank_range, 2 * float(info.extra.get("near_field", 0.0)))
    rng = seeds.stream(seed, "target")
    if question.measure == "range_resolution":
        slant = deep * (1 + 0.01 * rng.random(READINGS))
        record = _pinged(one, slant, np.zeros(READINGS), "across", seed, threads)
        row, top = _tops(record, slant)
        return echo_width(np.asarray(record.echo_level), grid(record), row, top)
    width = info.beamwidth_across if question.plane == "across" else info.beamwidth_along
    step = SPAN * width / (DIRECTIONS - 1)
    ladder = (np.arange(DIRECTIONS) - (DIRECTIONS - 1) / 2) * step
    angle = np.clip((ladder + step * rng.random((READINGS, 1))).ravel(), -85.0, 85.0)
    record = _pinged(one, np.full(len(angle), deep), angle, question.plane, seed, threads)
    row, top = _tops(record, np.full(len(angle), deep))
    level = parabola(np.asarray(record.echo_level), row, top)[1]
    pairs = zip(angle.reshape(READINGS, -1), level.reshape(READINGS, -1), strict=True)
    return np.array([beam_width(a, s, 6.0206) for a, s in pairs])


def _pinged(
    at: Stage, slant: FloatArray, angle: FloatArray, plane: str, seed: int, threads: int | None
) -> ElementRecord:
    """Return the record of one ping for each point, at slant [m] and angle [deg] off the element's axis in a plane."""
    from pingwright.world import build, target
    from pingwright.world.fish import Placed
    from pingwright.world.gather import Gathering

    count = len(slant)
    turn = np.radians(angle)
    own = np.zeros((3, count))
    own[1 if plane == "across" else 0], own[2] = np.sin(turn), np.cos(turn)
    direction = at.prepared.elements[0].rotation.T @ own
    still = {name: np.zeros(count) for name in ("roll", "pitch", "heave")}
    track = replace(lots.poses(at, seed, count), depth=np.full(count, at.face), **still)
    place = np.stack([track.x, track.y, track.depth]) + slant * direction
    deep = deepened(at, max(float(place[2].max()), at.face + float(slant.max())))
    nobody = Placed(np.zeros((3, 0)), np.zeros(0), np.zeros(0), np.zeros(0), np.zeros(0, dtype=np.int64))
    empty = bench.group_of(("closed", (0.0, 10.0), "love-1971"))
    world = build.monte_carlo(deep.scenario, track, nobody, empty, seed)
    gathering = Gathering()
    size = np.full(count, 10 ** (STRENGTH / 20))
    up = np.repeat(target.UP, count, axis=1)
    gathering.add(place, up, size, np.zeros(count), len(world.laws), ping=np.arange(count))
    world = replace(world, laws=(*world.laws, target.point_law()), discrete=gathering.discrete())
    world = bench.open_water(world)
    window = (at.face + max(float(slant.min()) * 0.97 - 1.0, 0.0), at.face + float(slant.max()) * 1.03 + 1.0)
    parts = [records[0] for _, records in bench.records(deep, world, window, seed, 0, threads)]
    return replace(
        parts[0],
        x=np.concatenate([p.x for p in parts]),
        ping_time=np.concatenate([p.ping_time for p in parts]),
        echo_level=np.concatenate([p.echo_level for p in parts]),
    )


def _tops(record: ElementRecord, slant: FloatArray) -> tuple[Any, Any]:
    """Return each ping's row and its strongest sample near the point."""
    stored = np.asarray(record.echo_level)
    near = np.abs(record.range[None, :] / slant[:, None] - 1) < 0.02
    value = np.where(near, stored, np.iinfo(np.int16).min)
    return np.arange(len(stored)), np.clip(np.argmax(value, axis=1), 1, stored.shape[1] - 2)
