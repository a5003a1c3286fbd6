"""Fish whose echoes lie on each other, so that a reader sees one arch where there are several fish."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import ElementRecord
from pingwright.measure.bottom import Bottom
from pingwright.measure.cells import FloatArray, Grid
from pingwright.measure.detect import FALSE_ALARM, FLOOR, IntArray
from pingwright.measure.judgements import Trials
from pingwright.measure.rules import SEEN
from pingwright.measure.separated import Verdicts, score_pair

BoolArray = NDArray[np.bool_]

#: What is said of such fish, after their numbers.
ONE_ARCH = "share one arch"

#: With more fish than this none is looked for: nobody tells single arches of a shoal from each other.
MOST = 200


@dataclass(frozen=True)
class Judged:
    """All pings of the passes of fish under one element, with their verdicts.

    trials: by fish, then ping; around (trial, beside.COLUMNS): see `separated.score`.
    """

    element: ElementRecord
    cells: Grid
    bottom: Bottom
    trials: Trials
    verdicts: Verdicts
    around: FloatArray | None
    floor: float = FLOOR
    false_alarm: float = FALSE_ALARM


def one_arch(judged: Judged) -> tuple[tuple[int, ...], ...]:
    """Return sets of fish that make one arch, by their places in the truth's arrays; other fish are left out.

    Two fish are told apart in a ping that shows only one of them, or both out of reach of each other's peaks, or both
    as a pair, with a gap between them (`score_pair`). They make one arch if both are seen in their passes, and the
    pings that tell them apart are too few for a mark of each by the rule of a pass. Fish that share one with a third
    belong to one set. Empty where there are more than MOST fish.
    """
    trials, shown = judged.trials, judged.verdicts.detected
    count = 1 + int(trials.owner.max(initial=-1))
    if count > MOST:
        return ()
    seen, sets = SEEN.met(trials.table(shown, count)), list(range(count))
    for first, second in _pairs(trials, judged.verdicts, count):
        if seen[first] and seen[second] and not _apart(judged, first, second):
            old, new = sets[second], sets[first]
            sets = [new if one == old else one for one in sets]
    whole = [tuple(k for k in range(count) if sets[k] == number) for number in dict.fromkeys(sets)]
    return tuple(one for one in whole if len(one) > 1)


def within(sets: Sequence[Sequence[int]], fish: Iterable[int]) -> list[list[int]]:
    """Return the sets of one arch as far as they are among some fish, two or more of them, rising."""
    mine = {int(k) for k in fish}
    parts = [sorted(mine.intersection(one)) for one in sets]
    return [part for part in parts if len(part) > 1]


def _pairs(trials: Trials, verdicts: Verdicts, count: int) -> list[tuple[int, int]]:
    """Return pairs of fish that have the same strongest peak in at least one ping."""
    shown = np.flatnonzero(verdicts.detected)
    shown = shown[np.lexsort((trials.owner[shown], verdicts.peak[shown], trials.ping[shown]))]
    ping, peak, owner = trials.ping[shown], verdicts.peak[shown], trials.owner[shown]
    found: set[tuple[int, int]] = set()
    for step in range(1, count):
        same = (ping[step:] == ping[:-step]) & (peak[step:] == peak[:-step])
        if not same.any():
            break
        found |= set(zip(owner[:-step][same].tolist(), owner[step:][same].tolist(), strict=True))
    return sorted(found)


def _apart(judged: Judged, *pair: int) -> bool:
    """Return whether the pings that tell two fish apart are enough for a mark of each."""
    trials = judged.trials
    own = [np.flatnonzero((trials.owner == fish) & judged.verdicts.detected) for fish in pair]
    pings = np.intersect1d(trials.ping[own[0]], trials.ping[own[1]])
    both = np.stack([rows[np.searchsorted(trials.ping[rows], pings)] for rows in own], axis=1)
    near = np.abs(np.diff(trials.range[both])[:, 0]) <= trials.within[both].sum(axis=1)
    if all(_enough(trials.ping[rows], pings[near]) for rows in own):
        return True
    alike = near.copy()
    alike[near] = ~_clear(judged, pings[near], both[near])
    return all(_enough(trials.ping[rows], pings[alike]) for rows in own)


def _clear(judged: Judged, pings: IntArray, both: IntArray) -> BoolArray:
    """Return in which pings (ping) two fish stand as a pair, a gap between them; both (ping, 2): their trials."""
    first, last = int(pings.min(initial=judged.element.pings)), 1 + int(pings.max(initial=-1))
    bottom = Bottom(*(getattr(judged.bottom, name)[first:last] for name in ("level", "peak", "pick", "lines")))
    places, within = judged.trials.range[both], judged.trials.within[both]
    around = None if judged.around is None else judged.around[both]
    stored = np.asarray(judged.element.echo_level[first:last])
    rest = (judged.floor, judged.false_alarm, around)
    return score_pair(stored, judged.cells, bottom, pings - first, places, within, *rest)


def _enough(shown: IntArray, alike: IntArray) -> bool:
    """Return whether pings that tell a fish from another meet the rule of a pass.

    shown: the pings that detect it; alike: those of them that do not tell the two apart.
    """
    own, least = np.setdiff1d(shown, alike, assume_unique=True), SEEN.hits - 1
    if len(own) <= least:
        return False
    if (own[least:] - own[:-least] == least).any():  # so many in turn
        return True
    table = np.zeros((2, int(shown.max()) - int(shown.min()) + 1), dtype=bool)
    table[0, shown - shown.min()] = True
    table[1, own - shown.min()] = True
    return bool(SEEN.met(table[:1], table[1:])[0])
