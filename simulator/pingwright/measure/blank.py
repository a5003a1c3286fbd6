"""False alarms of a recording: the passes of the fish, moved along the track to places where there is nothing."""

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import ElementRecord, Truth
from pingwright.measure.bottom import BLOCK
from pingwright.measure.cells import FloatArray
from pingwright.measure.geometry import box_ranges, drawn_over_slant, ground_range, view
from pingwright.measure.judgements import Trials, joined

BoolArray = NDArray[np.bool_]

#: Largest number of passes without fish ...
MOST_PASSES = 200
#: ... and of fish whose passes are used.
MOST_FISH = 20
#: Share of the pings of a pass that must be without real things.
LEAST_LEFT = 0.5
#: A real thing counts up to this many beam widths off the axis.
BEAMS_AWAY = 1.5


def blank_trials(
    element: ElementRecord, truth: Truth, fish: Trials, without: NDArray[np.int64] | None = None
) -> tuple[Trials, NDArray[np.int64]]:
    """Return passes of the fish, each moved along the track to pings where nothing real is at its ranges.

    The second result (pass) is the fish each pass was taken from. without: fish whose passes are not moved, because the
    echo of the steep ground around them is known: there no peak of the ground counts.

    fish: their own passes, in the order of fish. A pass keeps its height above the bottom. Pings with a fish of any
    kind, a school or a target near that place, or with a structure in the beam, are removed; the pass counts if
    LEAST_LEFT of its pings are left.
    """
    owners, first, counts = np.unique(fish.owner, return_index=True, return_counts=True)
    usable = np.flatnonzero(~np.isin(owners, without)) if without is not None else np.arange(len(owners))
    chosen = np.unique(np.linspace(0, len(usable) - 1, MOST_FISH).astype(np.int64)) if len(usable) else usable
    lent = usable[chosen]
    each = max(MOST_PASSES // max(len(lent), 1), 1)
    parts: list[Trials] = []
    lender: list[int] = []
    for k in lent:
        one = fish.keep(np.arange(first[k], first[k] + counts[k]))
        parts += _moved(element, one, each, len(parts))
        lender += [int(owners[k])] * (len(parts) - len(lender))
    if not parts:
        return fish.keep(np.zeros(0, dtype=np.int64)), np.zeros(0, dtype=np.int64)
    whole = joined(parts)
    near = near_real(element, truth, whole) | over_structure(element, truth)[whole.ping]
    inside = (whole.range > element.info.blank_range) & (whole.range < element.range[-1])
    clear = ~near & inside
    pings, left = (np.bincount(whole.owner, weights=w, minlength=len(parts)) for w in (None, clear))
    enough = left >= np.maximum(LEAST_LEFT * pings, 1)
    remaining = whole.keep(clear & enough[whole.owner])
    renumbered = np.cumsum(enough) - 1
    moved = Trials(renumbered[remaining.owner], remaining.ping, remaining.range, remaining.within)
    return moved, np.asarray(lender, dtype=np.int64)[enough]


def _moved(element: ElementRecord, one: Trials, most: int, number: int) -> list[Trials]:
    """Return at most `most` copies of a pass along the track, evenly spread, numbered from `number` on."""
    lowest, highest = -int(one.ping.min()), element.pings - 1 - int(one.ping.max())
    down = ground_range(element)
    result: list[Trials] = []
    for shift in np.unique(np.linspace(lowest, highest, most).astype(np.int64)):
        ping = one.ping + shift
        place = one.range + down[ping] - down[one.ping]
        result.append(Trials(np.full(len(ping), number + len(result)), ping, place, one.within))
    return result


def near_real(element: ElementRecord, truth: Truth, trials: Trials) -> BoolArray:
    """Return which trials (trial) have a fish, school or target within twice their tolerance and 6 cells of range.

    Fish and targets count within BEAMS_AWAY beam widths of the axis, where they are in that very ping; schools anywhere
    abeam.
    """
    info, fish = element.info, truth.fish
    width = max(info.beamwidth_along_low, info.beamwidth_across_low, info.beamwidth_along, info.beamwidth_across)
    factor = drawn_over_slant(element, fish)
    near = np.zeros(len(trials), dtype=bool)
    margin = 2 * trials.within + 6 * info.cell
    used, back = np.unique(trials.ping, return_inverse=True)
    order = np.argsort(back, kind="stable")
    edges = np.searchsorted(back[order], np.arange(len(used) + 1))
    for start in range(0, len(used), BLOCK):
        pings = used[start : start + BLOCK]
        seen = view(element, pings, fish.at(element.ping_time[pings]))
        place, heard = seen.slant * factor, seen.off_axis < BEAMS_AWAY * width
        for row in range(len(pings)):
            at = order[edges[start + row] : edges[start + row + 1]]
            near[at] = _within(np.sort(place[row, heard[row]]), trials.range[at], margin[at])
    for soft in truth.soft:
        if soft.kind in {"school", "target"}:
            low, high = (info.drawn_over_true * edge[back] for edge in box_ranges(element, used, soft))
            near |= (trials.range > low - margin) & (trials.range < high + margin)
    return near


def _within(real: FloatArray, place: FloatArray, margin: FloatArray) -> BoolArray:
    """Return which places [m] have one of the sorted real ranges [m] closer than a margin [m]."""
    if not len(real):
        return np.zeros(len(place), dtype=bool)
    after = np.searchsorted(real, place)
    beside = [np.abs(place - real[np.clip(after - k, 0, len(real) - 1)]) for k in (0, 1)]
    return np.asarray(np.minimum(*beside) < margin)


def over_structure(element: ElementRecord, truth: Truth) -> BoolArray:
    """Return which pings (ping) have a structure within twice the beam of straight below."""
    info, over = element.info, np.zeros(element.pings, dtype=bool)
    half = np.tan(np.radians(min(max(info.beamwidth_along, info.beamwidth_across), 80.0)))
    margin = half * element.bottom_depth
    for structure in truth.structures:
        low, high = structure.plan.min(axis=0), structure.plan.max(axis=0)
        inside_x = (element.x > low[0] - margin) & (element.x < high[0] + margin)
        over |= inside_x & (element.y > low[1] - margin) & (element.y < high[1] + margin)
    return over
