"""The echo of one fish over its pass, ping by ping: its arch."""

from dataclasses import dataclass

import numpy as np

from pingwright.echograms.record import ElementRecord, Truth
from pingwright.measure import beside
from pingwright.measure.assessment import Assessment
from pingwright.measure.bottom import find
from pingwright.measure.cells import FloatArray, grid
from pingwright.measure.detect import FLOOR, IntArray
from pingwright.measure.marks import fish_trials
from pingwright.measure.separated import score


@dataclass(frozen=True)
class Arch:
    """The pings (n) of a pass that detect a fish, and the range of its peak in each [m] (n) on the range axis."""

    ping: IntArray
    peak: FloatArray


def arch(element: ElementRecord, truth: Truth, fish: int, floor: float = FLOOR) -> Arch:
    """Return the arch of a fish (its index in the truth group) as judged by `marks.score_element`; floor [dB]."""
    cells = grid(element)
    trials = fish_trials(element, truth, cells)
    mine = trials.ping[trials.owner == fish]
    if not len(mine):
        return Arch(mine, np.zeros(0))
    first, past = int(mine.min()), int(mine.max()) + 1
    here = trials.keep(np.flatnonzero((trials.ping >= first) & (trials.ping < past)))
    stored = np.asarray(element.echo_level[first:past])
    around = beside.of_trials(truth, element.info.position, here)
    judged = score(
        stored, cells, find(stored, cells), here.ping - first, here.range, here.within, floor, around=around
    )  # fmt: skip
    hit = judged.detected & (here.owner == fish)
    return Arch(here.ping[hit], judged.peak[hit])


def best(assessment: Assessment, x: FloatArray, ends: tuple[float, float]) -> int | None:
    """Return the fish with the best arch: shown by most elements, in most pings, completely inside the run; or None.

    x [m] (fish): places; ends [m]: of the run, or of the part of it that is shown. Among equals, the one with the
    deepest arms.
    """
    if not len(x):
        return None
    shown = np.sum([[mark != "not_shown" for mark in one.mark] for one in assessment.elements], axis=0)
    half = np.max([np.nan_to_num(one.arch_length) for one in assessment.elements], axis=0) / 2
    whole = (x - half > ends[0]) & (x + half < ends[1])
    inside = (x > ends[0]) & (x < ends[1])
    pings = np.sum([one.pings_detected for one in assessment.elements], axis=0)
    arms = np.sum([np.nan_to_num(one.arch_depth) for one in assessment.elements], axis=0)
    return int(np.lexsort((arms, pings, whole, shown, inside))[-1])
