"""Marks of the fish in a recording: each fish is judged over its whole pass, by the rule of a scrolling screen."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import ElementRecord, Truth
from pingwright.measure import beside, passes
from pingwright.measure.assessment import Mark, Rule
from pingwright.measure.blank import blank_trials
from pingwright.measure.bottom import BLOCK, Bottom, find
from pingwright.measure.bottom import joined as joined_bottoms
from pingwright.measure.cells import FloatArray, Grid, grid
from pingwright.measure.detect import FALSE_ALARM, FLOOR, IntArray
from pingwright.measure.geometry import drawn_over_slant, ground_range, view
from pingwright.measure.judgements import Trials, joined
from pingwright.measure.rules import SEEN
from pingwright.measure.separated import Verdicts, score, tolerance
from pingwright.measure.together import Judged, one_arch

BoolArray = NDArray[np.bool_]

#: Most pings of one fish that are judged, those closest to its nearest ping: an anchored boat has it in all pings.
MOST_PINGS = 300


@dataclass(frozen=True)
class Passes:
    """Results of passes, arrays over (pass): of fish, or of the same passes at places without fish.

    in_beam, detected, separated (int): pings in the main lobe, of these detected and separated; is_detected,
    is_separated (bool): by the rule of `passes`; length [m]: distance of the boat from the first to the last ping that
    detects it; depth [m]: range of its farthest peak less that of its nearest; peak, strength: range [m] and echo
    strength [dB re 1 m2] of the strongest peak; nan where nothing was detected.
    """

    in_beam: IntArray
    detected: IntArray
    separated: IntArray
    is_detected: BoolArray
    is_separated: BoolArray
    length: FloatArray
    depth: FloatArray
    peak: FloatArray
    strength: FloatArray


@dataclass(frozen=True)
class Scored:
    """Judgement of one element about every fish, and about their passes moved to places without fish.

    fish, blank: passes; lender (blank pass): the fish it was taken from; nearest: verdicts at the ping nearest to each
    fish, ping, true_range [m] of it (fish); trials: the judged pings of each fish, bottom: of all pings; lost (ping):
    no bottom was picked although it is in the record; rule (fish): a key of `assessment.RULE_WORDS`; one_arch: see
    `together.one_arch`.
    """

    fish: Passes
    blank: Passes
    lender: IntArray
    nearest: Verdicts
    ping: IntArray
    true_range: FloatArray
    trials: Trials
    bottom: Bottom
    lost: BoolArray
    rule: tuple[Rule, ...] = ()
    one_arch: tuple[tuple[int, ...], ...] = ()


def marks(judged: Passes) -> tuple[Mark, ...]:
    """Return the mark of each fish: separated, merged or not_shown."""
    both = zip(judged.is_detected.tolist(), judged.is_separated.tolist(), strict=True)
    return tuple("separated" if clear else "merged" if shown else "not_shown" for shown, clear in both)


def single(judged: Verdicts) -> tuple[Mark, ...]:
    """Return the mark of each fish by one ping alone."""
    both = zip(judged.detected.tolist(), judged.separated.tolist(), strict=True)
    return tuple("separated" if clear else "merged" if shown else "not_shown" for shown, clear in both)


def score_element(
    element: ElementRecord, truth: Truth, floor: float = FLOOR, false_alarm: float = FALSE_ALARM
) -> Scored:
    """Return the judgement of every fish over its pass, reading the recording once, by blocks."""
    cells = grid(element)
    trials, nearest = fish_trials(element, truth, cells), _nearest(element, truth, cells)
    beyond = ground_range(element) > element.range[-1]
    around = [beside.of_trials(truth, element.info.position, one) for one in (trials, nearest)]
    near = tuple(trials.owner[due] for due in beside.causes(element, truth, trials, around[0]))
    blank, lender = blank_trials(element, truth, trials, np.unique(near[0]))
    every = joined((trials, blank, nearest))
    first, second = len(trials), len(trials) + len(blank)
    there = np.arange(len(every)) < first
    bottom, verdicts = _read(element, cells, every, _laid(around, len(blank)), there, beyond, floor, false_alarm)
    of_fish = _part(verdicts, 0, first)
    return Scored(
        fish=passes_of(element, trials, of_fish, len(nearest)),
        blank=passes_of(element, blank, _part(verdicts, first, second), len(lender)),
        lender=lender,
        nearest=_part(verdicts, second, len(verdicts.detected)),
        ping=nearest.ping,
        true_range=nearest.range,
        trials=trials,
        bottom=bottom,
        lost=(bottom.peak < 0) & ~beyond,
        rule=_rules(element, truth, trials, near, len(nearest)),
        one_arch=one_arch(Judged(element, cells, bottom, trials, of_fish, around[0], floor, false_alarm)),
    )


def _rules(
    element: ElementRecord, truth: Truth, trials: Trials, near: tuple[IntArray, ...], count: int
) -> tuple[Rule, ...]:
    """Return what each fish is judged by; near: fish that known echoes of steep ground, and of structures, are near."""
    ground, built = ((np.bincount(one, minlength=count) > 0).tolist() for one in near)
    names: dict[tuple[bool, bool], Rule] = {
        (True, True): "both", (True, False): "ground", (False, True): "structure", (False, False): "levels",
    }  # fmt: skip
    rules = [names[pair] for pair in zip(ground, built, strict=True)]
    if truth.surroundings is None and truth.structures:
        for fish in np.unique(trials.owner[beside.near_structures(element, truth, trials)]):
            rules[fish] = "unknown"
    return tuple(rules)


def judged(element: ElementRecord, truth: Truth, cells: Grid) -> Trials:
    """Return all judgements of fish, each once: the pings of their passes, and their nearest pings."""
    both = joined((fish_trials(element, truth, cells), _nearest(element, truth, cells)))
    _, first = np.unique(both.owner * element.pings + both.ping, return_index=True)
    return both.keep(first)


def _nearest(element: ElementRecord, truth: Truth, cells: Grid) -> Trials:
    """Return the nearest ping of each fish."""
    fish, position = truth.fish, element.info.position
    ping = np.asarray(fish.nearest_ping[position], dtype=np.int64)
    return Trials(
        np.arange(len(ping)), ping, fish.apparent_range(position, element.info), tolerance(cells, fish.length)
    )


def fish_trials(element: ElementRecord, truth: Truth, cells: Grid) -> Trials:
    """Return the pings of each fish's pass, in which it lies within the main lobe, and where its echo is drawn then."""
    fish, index = truth.fish, element.info.position
    lobe = passes.main_lobe(element.info, element.beam)
    factor = drawn_over_slant(element, fish)
    nearest = np.asarray(fish.nearest_ping[index], dtype=np.int64)
    result: list[Trials] = []
    within = tolerance(cells, fish.length)
    for start in range(0, element.pings, BLOCK):
        pings = np.arange(start, min(start + BLOCK, element.pings))
        seen = view(element, pings, fish.at(element.ping_time[pings]))
        row, owner = np.nonzero(
            passes.inside(lobe, seen.along, seen.across, seen.out)
            & (np.abs(pings[:, None] - nearest) <= MOST_PINGS // 2)
        )
        result.append(Trials(owner, pings[row], seen.slant[row, owner] * factor[owner], within[owner]))
    whole = joined(tuple(result))
    return whole.keep(np.lexsort((whole.ping, whole.owner)))


def _laid(around: Sequence[FloatArray | None], blank: int) -> FloatArray | None:
    """Return what is known around fish, in their passes and nearest pings, with passes without fish between: nothing.

    Those lie away from structures.
    """
    first, last = around
    if first is None or last is None:
        return None
    return np.concatenate([first, np.full((blank, beside.COLUMNS), np.nan), last])


def _read(
    element: ElementRecord,
    cells: Grid,
    trials: Trials,
    around: FloatArray | None,
    there: BoolArray,
    beyond: BoolArray,
    floor: float,
    false_alarm: float,
) -> tuple[Bottom, Verdicts]:
    """Return the bottom of every ping and the verdict of every trial, reading block by block."""
    bottoms: list[Bottom] = []
    count = len(trials)
    out = Verdicts(np.zeros(count, bool), np.zeros(count, bool), np.full(count, np.nan), np.full(count, np.nan))
    order = np.argsort(trials.ping, kind="stable")
    edges = np.searchsorted(trials.ping[order], np.arange(0, element.pings + BLOCK, BLOCK))
    for number, start in enumerate(range(0, element.pings, BLOCK)):
        stop = min(start + BLOCK, element.pings)
        stored = np.asarray(element.echo_level[start:stop])
        bottom = find(stored, cells)
        bottoms.append(bottom)
        at = order[edges[number] : edges[number + 1]]
        here = trials.keep(at)
        one = score(
            stored, cells, bottom, here.ping - start, here.range, here.within, floor, false_alarm, beyond[start:stop],
            None if around is None else around[at], there[at],
        )  # fmt: skip
        out.detected[at], out.separated[at] = one.detected, one.separated
        out.peak[at], out.strength[at] = one.peak, one.strength
    return joined_bottoms(bottoms), out


def _part(verdicts: Verdicts, first: int, last: int) -> Verdicts:
    names = ("detected", "separated", "peak", "strength")
    return Verdicts(*(getattr(verdicts, name)[first:last] for name in names))


def passes_of(element: ElementRecord, trials: Trials, verdicts: Verdicts, count: int) -> Passes:
    """Return the results of `count` passes; trials in the order of passes, then pings."""
    shown, clear = trials.table(verdicts.detected, count), trials.table(verdicts.separated, count)
    hits = verdicts.detected
    x = element.x[trials.ping]
    return Passes(
        in_beam=np.bincount(trials.owner, minlength=count).astype(np.int64),
        detected=shown.sum(axis=1).astype(np.int64),
        separated=clear.sum(axis=1).astype(np.int64),
        is_detected=SEEN.met(shown),
        is_separated=SEEN.met(shown, clear),
        length=_span(trials.owner[hits], x[hits], count),
        depth=_span(trials.owner[hits], verdicts.peak[hits], count),
        peak=_strongest(trials.owner, verdicts, verdicts.peak, count),
        strength=_strongest(trials.owner, verdicts, verdicts.strength, count),
    )


def _span(owner: IntArray, values: FloatArray, count: int) -> FloatArray:
    """Return the largest less the smallest value of each owner; nan where it has none."""
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, owner, values)
    np.maximum.at(high, owner, values)
    return np.where(np.isfinite(low), high - np.where(np.isfinite(low), low, 0.0), np.nan)


def _strongest(owner: IntArray, verdicts: Verdicts, values: FloatArray, count: int) -> FloatArray:
    """Return the value at each owner's strongest peak; nan if it has none."""
    hits = np.flatnonzero(verdicts.detected)
    order = hits[np.argsort(verdicts.strength[hits], kind="stable")]  # the strongest is written last and stays
    out = np.full(count, np.nan)
    out[owner[order]] = values[order]
    return out
