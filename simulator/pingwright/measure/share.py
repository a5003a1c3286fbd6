"""Marks of the fish in a recording, and the share of the fish in the water that are seen and separated."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import ElementRecord, FishTruth, Truth
from pingwright.measure.assessment import Mark, Share
from pingwright.measure.bottom import BLOCK, Bottom, find
from pingwright.measure.cells import FloatArray, Grid, grid
from pingwright.measure.detect import FALSE_ALARM, FLOOR, IntArray
from pingwright.measure.intervals import clopper_pearson
from pingwright.measure.separated import Verdicts, score, tolerance

BoolArray = NDArray[np.bool_]

#: At most so many pings without fish are judged for the false rate.
EMPTY_PINGS = 200
#: At most so many fish lend their heights to that.
LENT_HEIGHTS = 20


@dataclass(frozen=True)
class Scored:
    """One element's judgement of every fish, and of the same places in pings without fish.

    fish, empty: verdicts; ping, true_range [m]: by fish; bottom: of all pings.
    """

    fish: Verdicts
    ping: IntArray
    true_range: FloatArray
    empty: Verdicts
    bottom: Bottom


def share(hits: Sequence[bool] | BoolArray) -> Share:
    """Return the share of hits with its two-sided 95 % Clopper-Pearson interval."""
    trials = np.asarray(hits, dtype=bool)
    of, found = len(trials), int(trials.sum())
    low, high = clopper_pearson(found, of)
    return Share(found, of, found / of if of else float("nan"), low, high)


def marks(verdicts: Verdicts) -> tuple[Mark, ...]:
    """Return the mark of each fish: separated, merged or not_shown."""
    found: list[Mark] = []
    for seen, clear in zip(verdicts.detected, verdicts.separated, strict=True):
        found.append("separated" if clear else "merged" if seen else "not_shown")
    return tuple(found)


def score_element(
    element: ElementRecord, truth: Truth, floor: float = FLOOR, false_alarm: float = FALSE_ALARM
) -> Scored:
    """Return the judgement of every fish at the ping nearest to it, reading the recording once, by blocks."""
    cells, fish = grid(element), truth.fish
    index = element.info.position
    ping = np.asarray(fish.nearest_ping[index], dtype=np.int64)
    true_range = fish.apparent_range(index, element.info)
    within = tolerance(cells, fish.length)
    empty_ping, empty_range, empty_within = _empty_trials(element, truth, cells)
    bottoms: list[Bottom] = []
    found: list[tuple[IntArray, Verdicts]] = []
    void: list[Verdicts] = []
    for start in range(0, element.pings, BLOCK):
        stored = np.asarray(element.echo_level[start : min(start + BLOCK, element.pings)])
        bottom = find(stored, cells)
        bottoms.append(bottom)
        here = np.flatnonzero((ping >= start) & (ping < start + BLOCK))
        verdicts = score(stored, cells, bottom, ping[here] - start, true_range[here], within[here], floor, false_alarm)
        found.append((here, verdicts))
        at = np.flatnonzero((empty_ping >= start) & (empty_ping < start + BLOCK))
        row = empty_ping[at] - start
        void.append(score(stored, cells, bottom, row, empty_range[at], empty_within[at], floor, false_alarm))
    whole = Bottom(*(np.concatenate([getattr(b, name) for b in bottoms]) for name in ("level", "peak", "pick")))
    return Scored(_scatter(found, len(ping)), ping, true_range, _joined(void), whole)


def _joined(parts: list[Verdicts]) -> Verdicts:
    names = ("detected", "separated", "peak", "strength")
    return Verdicts(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))


def _scatter(parts: list[tuple[IntArray, Verdicts]], count: int) -> Verdicts:
    out = Verdicts(np.zeros(count, bool), np.zeros(count, bool), np.full(count, np.nan), np.full(count, np.nan))
    for where, verdicts in parts:
        out.detected[where], out.separated[where] = verdicts.detected, verdicts.separated
        out.peak[where], out.strength[where] = verdicts.peak, verdicts.strength
    return out


def _empty_trials(element: ElementRecord, truth: Truth, cells: Grid) -> tuple[IntArray, FloatArray, FloatArray]:
    """Return ping, range [m] and tolerance [m] of trials at the fish's heights in pings that hold no fish there."""
    fish, info = truth.fish, element.info
    if len(fish.x) == 0 or element.pings == 0:
        return np.zeros(0, np.int64), np.zeros(0), np.zeros(0)
    pings = np.unique(np.linspace(0, element.pings - 1, EMPTY_PINGS).astype(np.int64))
    pings = pings[~_over_structure(element, truth, pings)]
    lent = np.unique(np.linspace(0, len(fish.x) - 1, LENT_HEIGHTS).astype(np.int64))
    above = element.bottom_depth[pings] + element.heave[pings] - info.transducer_depth
    wanted = above[:, None] - fish.height[lent]
    within = np.broadcast_to(tolerance(cells, fish.length[lent]), wanted.shape)
    clear = (
        (wanted > info.blank_range) & (wanted < element.range[-1]) & ~_near_fish(element, fish, pings, wanted, within)
    )
    at = np.broadcast_to(pings[:, None], wanted.shape)
    return at[clear], wanted[clear], within[clear]


def _near_fish(
    element: ElementRecord, fish: FishTruth, pings: IntArray, wanted: FloatArray, within: FloatArray
) -> BoolArray:
    """Return which (ping, place) have a fish within twice the tolerance of their range and 1.5 beam widths."""
    info = element.info
    across = np.hypot(fish.x - element.x[pings][:, None], fish.y - element.y[pings][:, None])
    down = fish.depth - info.transducer_depth + element.heave[pings][:, None]
    slant = np.hypot(across, down)
    width = max(info.beamwidth_along_low, info.beamwidth_across_low, info.beamwidth_along, info.beamwidth_across)
    in_beam = np.degrees(np.arctan2(across, down)) < 1.5 * width
    near = np.zeros(wanted.shape, dtype=bool)
    for i in range(wanted.shape[1]):
        close = np.abs(slant - wanted[:, i : i + 1]) < 2 * within[:, i : i + 1] + 6 * info.range_resolution
        near[:, i] = (close & in_beam).any(axis=1)
    return near


def _over_structure(element: ElementRecord, truth: Truth, pings: IntArray) -> BoolArray:
    """Return which pings have a structure within twice the beam of straight below."""
    info, over = element.info, np.zeros(len(pings), dtype=bool)
    half = np.tan(np.radians(min(max(info.beamwidth_along, info.beamwidth_across), 80.0)))
    for structure in truth.structures:
        low, high = structure.plan.min(axis=0), structure.plan.max(axis=0)
        margin = half * element.bottom_depth[pings]
        x, y = element.x[pings], element.y[pings]
        inside_x = (x > low[0] - margin) & (x < high[0] + margin)
        over |= inside_x & (y > low[1] - margin) & (y < high[1] + margin)
    return over
