"""What putting claims to the test will take, told before it starts: memory, time expected, time at most.

Counted are calls of the engine and their pings, as answering, curves and sweeps make them; how soon a verdict is
certain is foreseen by the closed form.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from pingwright import costs
from pingwright.claims import bench, beyond, curves, echoes, limits, lots, sweeps, theory, trials
from pingwright.claims.lots import Stage
from pingwright.claims.question import ECHOES, LIMITS, Question, everyone, questions
from pingwright.claims.trials import Tally

#: Seconds for: starting; drawing a figure; and of one thread for each element: a stage, a call of the engine, a ping
#: with all that judges it. A curved face has tables that take longer.
START, DRAWING, STAGE, CALL, PING = 3.0, 0.6, 0.1, 0.05, 0.3e-3
STAGE_CURVED, CALL_CURVED = 0.9, 0.6
#: Seconds of the chart of the question turned round, and of one closed form of a least height.
INVERSE, CLOSED = 1.6, 0.15
BYTES_A_RUN = 2000  # of a world that holds the fish of all runs of a call, and what is laid out for them
#: Scatterers of one fish.
HIGHLIGHTS = 5
#: Stages built to foresee verdicts [s of STAGE and STAGE_CURVED]; claims beyond take the mean of these.
PATIENCE = 5.0
SMALLER = "Fewer runs or claims, shallower water or fewer elements make it smaller;"


@dataclass(frozen=True)
class Work:
    """Seconds of one thread; alone: of them those that no other thread can share; pings: of all calls; largest: of one.

    A comparison's pings are counted once, whatever the number of its elements.
    """

    seconds: float = 0.0
    alone: float = 0.0
    pings: float = 0
    largest: int = 0

    def __add__(self, other: "Work") -> "Work":
        """Return both together."""
        return Work(
            self.seconds + other.seconds,
            self.alone + other.alone,
            self.pings + other.pings,
            max(self.largest, other.largest),
        )

    def times(self, count: float) -> "Work":
        """Return the same work so many times."""
        return Work(self.seconds * count, self.alone * count, self.pings * count, self.largest)


def estimate(asked: Any, *, threads: int | None = None) -> costs.Needs:
    """Return what a claims file (inputs.claims.ClaimsFile) needs. ScenarioError: a claim cannot be built."""
    wanted = questions(asked)
    runs, confidence = int(asked.runs), float(asked.confidence)
    stages: dict[Any, Stage] = {}
    found: list[tuple[Work, Work]] = []
    memory = 0
    built = 0.0
    for claim, question in zip(asked.claim, wanted, strict=True):
        key = (question.elements, repr(sorted(claim.change.items())))
        if key not in stages:
            if built > PATIENCE:
                continue
            stages[key] = lots.stage(question.scenario, question.keep_structures)
            built += _staging(stages[key]).seconds
        at = stages[key]
        usual, most = (_claim(question, at, n, runs) for n in (_expected(question, at, runs, confidence), runs))
        found.append((usual, most))
        memory = max(memory, _memory(at, most, threads))
    share, more = len(wanted) / len(found), _beyond(asked, wanted)
    usual, most = (sum((f[i] for f in found), Work()).times(share) + more for i in (0, 1))
    time, longest = START + _seconds(usual, threads), START + _seconds(most, threads)
    return costs.Needs(file=4 << 20, memory=memory, time=time, longest=longest)


def refuse_what_will_not_fit(asked: Any, folder: Path, *, threads: int | None = None) -> None:
    """Raise UnfinishedError where disk, memory or time will not do."""
    costs.refuse_what_will_not_fit(estimate(asked, threads=threads), folder, SMALLER)


def _seconds(work: Work, threads: int | None) -> float:
    return work.alone + (work.seconds - work.alone) / costs.cores(threads)


def _memory(at: Stage, work: Work, threads: int | None) -> int:
    each = [_ping(at, i, at.face, free=False) for i in range(len(at.prepared.elements))]
    samples, heard = sum(e[1] for e in each), max(e[2] for e in each)
    held = samples * bench.ROUND * 32
    thread = heard * costs.BYTES_A_SCATTERER * costs.threads_of(threads)
    end = _bottom(at) * (1 + bench.TRAIL_OF_DEPTH) + bench.TRAIL
    across = float(np.sqrt(end**2 - _bottom(at) ** 2))
    bottom = costs.tiles(at.prepared.world, (0.0, 0.0), across, lots.SPACING * work.largest)
    memory = costs.BYTES_TO_START + costs.jobs(samples, threads) + held + thread + bottom
    return int(memory + work.largest * BYTES_A_RUN)


def _curved(at: Stage, index: int) -> bool:
    return bool(at.prepared.elements[index].face.virtual_depth > 0)


def _staging(at: Stage) -> Work:
    every = range(len(at.prepared.elements))
    seconds = sum(STAGE_CURVED if _curved(at, i) else STAGE for i in every)
    return Work(seconds, seconds)


def _bottom(at: Stage) -> float:
    """Return the bottom's depth below the transducers [m] straight under the boat."""
    return float(at.depth(np.zeros(1), np.zeros(1))[0]) - at.face


def _ping(at: Stage, index: int, below: float, *, free: bool) -> tuple[float, int, float]:
    """Return seconds, samples and scatterers looked at by a ping on a fish so far below [m]; free: without a bottom."""
    header = at.prepared.header.elements[index]
    cell, bottom = header.info.cell, _bottom(at)
    lead = bench.LEAD + bench.LEAD_CELLS * cell
    heard, span = float(HIGHLIGHTS), 2 * lead
    if not free:
        tilt = max(float(np.hypot(spec.tilt.along, spec.tilt.across)) for spec in at.scenario.element)
        deep = bottom / np.cos(np.radians(min(tilt, 60.0)))
        end = max(deep * (1 + bench.TRAIL_OF_DEPTH), below) + bench.TRAIL + 10 * cell
        world = costs.among(at.prepared.world, (0.0, 0.0), end, lots.SPACING)
        heard += costs.visited(world, (0.0, 0.0, at.face), end)
        top = min(min(below, at.crest - at.face) - lead, bench.onset_ahead(bottom, cell))
        span = end - max(top, 0.0)
    samples = int(span / float(header.range[1] - header.range[0])) + 1
    return PING + heard * costs.SECONDS_A_VISIT + samples * costs.SECONDS_A_SAMPLE, samples, heard


def _call(at: Stage, indices: Any, pings: int, below: float, *, seabed: bool = True) -> Work:
    """Return a call of the engine with so many pings of each of some elements."""
    free = not seabed or below + bench.FREE_WATER < _bottom(at)
    fixed = sum(CALL_CURVED if _curved(at, i) else CALL for i in indices)
    seconds = sum(pings * _ping(at, i, below, free=free)[0] for i in indices)
    return Work(fixed + seconds, fixed + 0.3 * seconds, pings, pings)


def _claim(question: Question, at: Stage, expected: int, runs: int) -> Work:
    """Return the work of one claim whose verdict comes after so many expected runs."""
    drawing = Work(DRAWING, DRAWING)
    every = range(len(question.elements))
    below = theory.fish_depth(at, question.species)
    if question.measure in ECHOES:
        pings = echoes.READINGS * (echoes.DIRECTIONS if question.measure == "beam_width" else 1)
        each = [_call(at, (i,), pings, below, seabed=False) for i in every]
        return sum(each, _staging(at))
    if question.measure in LIMITS:
        return sum((_limit(question, at, i, expected, runs) for i in every), _staging(at) + drawing)
    twins = min(trials.TWINS, runs)
    counted = _call(at, every, expected + twins, below)
    # The world holds the fish of all runs, however few are pinged.
    counted = replace(counted, largest=runs + twins)
    chart = _call(at, every, curves.RUNS * curves.POINTS, below)
    return _staging(at) + counted + chart + drawing


def _limit(question: Question, at: Stage, index: int, expected: int, runs: int) -> Work:
    """Return the work of one element's limit: its points, and how often one of them is tried again."""
    seabed = question.measure == "swath"
    axis = limits.axis_of(question, at)
    below = theory.fish_depth(at, question.species)
    first = _call(at, (index,), min(limits.RUNS, runs), below, seabed=seabed)
    again = max(expected - limits.RUNS, 0)
    more = _call(at, (index,), min(limits.MORE, runs), below, seabed=seabed).times(again / limits.MORE)
    return first.times(int(axis.first.sum())) + more


def _expected(question: Question, at: Stage, runs: int, confidence: float) -> int:
    """Return after how many runs the closed form lets the verdict be certain; of a limit: runs of its own point."""
    if question.bound is None or question.measure in ECHOES:
        return runs
    if question.measure in LIMITS and question.is_difference:
        return min(runs, limits.RUNS + 4 * limits.MORE)
    certain = (_passed if question.measure in LIMITS else _foreseen)(question, at, confidence)
    tried = np.unique(np.geomspace(16, max(runs, 17), 40).astype(int)).tolist()
    return int(next((min(n, runs) for n in tried if certain(n)), runs))


def _passed(question: Question, at: Stage, confidence: float) -> Callable[[int], bool]:
    """Return whether n runs at a limit's bound that go as the closed form has it are certain to be above or below."""
    point = np.array([question.bound]) / (2.0 if question.measure == "swath" else 1.0)
    chance = float(theory.along(at, question, 0, limits.AXIS[question.measure], point, fine=True)[0])

    def certain(n: int) -> bool:
        low, high = trials.interval(Tally(runs=n, hits=(round(chance * n),)), False, confidence)
        return low > 0.5 or high < 0.5

    return certain


def _foreseen(question: Question, at: Stage, confidence: float) -> Callable[[int], bool]:
    """Return whether the verdict is certain after n runs that go as the closed form has it."""
    first, last = (theory.of_element(at, question, i, fine=True) for i in (0, len(question.elements) - 1))

    def certain(n: int) -> bool:
        gains, losses = round(n * first * (1 - last)), round(n * last * (1 - first))
        hits = (round(n * first), round(n * last))[: len(question.elements)]
        tally = Tally(runs=n, hits=hits, gains=gains, losses=losses)
        return trials.verdict_of(question, tally, confidence) in ("holds", "does not hold")

    return certain


def _beyond(asked: Any, wanted: tuple[Question, ...]) -> Work:
    """Return the work of what goes beyond the verdicts."""
    index = beyond.subject(wanted)
    if index is None:
        return Work()
    every = everyone(asked, wanted[index], index)
    at = lots.stage(every.scenario)
    below, total = theory.fish_depth(at, every.species), Work(INVERSE, INVERSE)
    changes = len(sweeps.DEPTHS) + len(sweeps.SLOPES) + len(sweeps.SEDIMENTS)
    for i in range(len(every.elements)):
        staging = _staging(lots.single(at, i))
        height = _call(at, (i,), sweeps.HEIGHTS * sweeps.HEIGHT_RUNS, below) + Work(CLOSED, CLOSED)
        deep = _call(at, (i,), (len(sweeps.LENGTHS) + 1) * sweeps.DEEP_RUNS, below, seabed=False)
        total += (staging + height).times(changes) + staging + deep.times(len(sweeps.DEEP))
    total += _call(at, (0,), sweeps.SIDE**2 * sweeps.MAP_RUNS, below)
    return total + Work(DRAWING, DRAWING).times(len(beyond.NAMES))
