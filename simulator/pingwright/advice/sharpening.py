"""Passes and pings simulated for the numbers of a question, each a job of its own, on all cores.

Every element meets the same fish at the same places, beside a wreck or a reef where the day has one. A pass that shows
a fish, or its share, stands in place of the closed form, with its 95 % interval; schools keep their closed forms.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pingwright import costs, workers
from pingwright.advice import numbers, tables
from pingwright.advice.numbers import Banded
from pingwright.advice.tables import Found, Water, interval
from pingwright.inputs.trip import Trip
from pingwright.measure import limits
from pingwright.measure.intervals import clopper_pearson
from pingwright.measures.asked import Question
from pingwright.measures.bottom_reach import NOBODY, BottomReach
from pingwright.measures.finding import Found as Finder
from pingwright.measures.reach import Reach
from pingwright.measures.separated import Separated
from pingwright.measures.smallest_fish import SmallestFish
from pingwright.measures.swath import Swath
from pingwright.trials import day, placement
from pingwright.trials.batch import Settings, Trials
from pingwright.trials.ground import KEPT_BYTES, Bank
from pingwright.trials.scene import Scene, scene, single

#: Passes near the track, and passes over even offsets for the width searched.
PASSES, OFFSETS = 24, 24
#: Points of a search, as shares of the closed form, and pings or passes at each.
LADDER, EACH = (0.75, 0.87, 1.0, 1.15), 32
#: A share in passes differs from its closed form beyond this [1], if its interval does not hold it either.
APART = 0.1
FINDERS: dict[str, Finder] = {"fish": Reach(), "size": SmallestFish(), "bottom": BottomReach()}


@dataclass(frozen=True)
class Job:
    """Passes or pings for one number, or for one water.

    kind: "near", "wide", "fish", "size" or "bottom". trip: the day, with all elements ("near") or the one it is about.
    water: place in `Found.waters`, or -1; species: its place in the trip. bottom, fish [m]; half: tangent of half the
    narrowest beam; guess [m]: the closed form of a search. key: whose number it is.
    """

    kind: str
    trip: Trip
    water: int = -1
    species: int = 0
    element: int = 0
    bottom: float = 0.0
    fish: float | None = None
    guess: float = 0.0
    key: tuple[str, str] = ("", "")


Counts = tuple[Job, Any]


def sharpened(results: Found, threads: int | None = None, tell: Callable[[str], None] | None = None) -> Found:
    """Return the numbers with simulated ones in place of closed forms. tell: called with a line about each."""
    jobs = list(_jobs(results))
    processes = costs.processes(threads, KEPT_BYTES) if len(jobs) > 1 else 1
    done: list[Counts] = []
    with workers.team(None, processes) as team:
        for job, made in zip(jobs, team.map(work, jobs), strict=True):
            done.append((job, made))
            if tell and (line := _line(results, job, made)):
                tell(line)
    return replace(_put(results, done), formulas=results)


def _jobs(results: Found) -> Iterator[Job]:
    days = {one.label: one.trip for one in results.days}
    for place, water in enumerate(results.waters):
        trip = days[water.day]
        which = [str(entry.name) for entry in trip.species].index(water.species)
        if trip.species[which].size is not None:
            continue
        same = Job("", trip, place, which, bottom=water.bottom, fish=water.at)
        if water.passes[0] is not None:
            yield replace(same, kind="near")
        for i, spec in enumerate(trip.element):
            alone = replace(same, trip=trip.model_copy(update={"element": (spec,)}), element=i)
            small = water.smallest[i]
            if water.passes[i] is not None:
                yield replace(alone, kind="wide")
            if small is not None and water.wavelength[i] < small.value < numbers.LONGEST:
                yield replace(alone, kind="size", guess=small.value)
    for kind, each in (("fish", results.fish), ("bottom", results.bottom)):
        for key, values in each.items():
            yield from _searches(days[key[0]], kind, key, values)


def _searches(trip: Trip, kind: str, key: tuple[str, str], values: tuple[Banded, ...]) -> Iterator[Job]:
    which = [str(entry.name) for entry in trip.species].index(key[1]) if kind == "fish" else 0
    if kind == "fish" and trip.species[which].size is not None:
        return
    for i, (spec, number) in enumerate(zip(trip.element, values, strict=True)):
        if numbers.LADDER[0] < number.value < numbers.LADDER[-1] / LADDER[-1]:
            alone = trip.model_copy(update={"element": (spec,)})
            yield Job(kind, alone, species=which, element=i, guess=number.value, key=key)


def work(job: Job) -> Any:
    """Return what a job counts: see `_near`, `_wide` and `_search`."""
    if job.kind in ("fish", "size", "bottom"):
        return _search(job)
    return (_near if job.kind == "near" else _wide)(job, ground_of(job))


def ground_of(job: Job) -> Scene:
    """Return the scene of passes: over the day's bottom, past the wreck or reef if it has one."""
    return scene(day.scenario(job.trip, job.bottom), keep_structures=job.trip.day.standing is not None)


def _kind(job: Job) -> placement.Species:
    return tables.living(job.trip, job.species, job.bottom or max(job.trip.day.depth), job.fish)


def _near(job: Job, at: Scene) -> tuple[list[int], list[list[bool]]]:
    """Return by element how many of PASSES show the fish, and which of them show it clear of the bottom.

    The fish stand at even offsets over the -3 dB width of the narrowest beam, as in the closed form.
    """
    kind, question = _kind(job), Question("", "separated", at.scenario, _kind(job))
    narrow = min(placement.footprints(at), key=lambda p: p.half[1])
    fish = placement.draw(at, kind, None, int(job.trip.seed), job.water, PASSES, prints=(narrow,))
    fish = replace(fish, across=numbers.evenly(PASSES, narrow, at, kind))
    trials = Trials(at, kind, fish, int(job.trip.seed), job.water, Separated().judge(question), Bank(1))
    seen = trials.look(np.arange(PASSES), np.arange(0))
    return seen.shown.sum(axis=1).tolist(), seen.hit.tolist()


def _wide(job: Job, at: Scene) -> tuple[int, float]:
    """Return how many of OFFSETS passes show the fish, and the width [m] over which they are spread."""
    kind, one = _kind(job), single(at, 0)
    fish, wide = numbers.spread(one, kind, OFFSETS)
    judge = Swath().judge(Question("", "swath", one.scenario, kind))
    trials = Trials(one, kind, fish, int(job.trip.seed), 10_000 + job.water, judge, Bank(1))
    return int(trials.look(np.arange(OFFSETS), np.arange(0)).hit[0].sum()), wide


def _search(job: Job) -> tuple[list[float], list[int]]:
    """Return the points [m] of a search and how many of EACH pings or passes hit at each."""
    finder = FINDERS[job.kind]
    trip, sediment = job.trip, job.key[1]
    if job.kind == "bottom":
        trip = trip.model_copy(update={"day": trip.day.model_copy(update={"sediment": sediment})})
    scenario = day.scenario(trip, job.bottom or max(trip.day.depth))
    species = NOBODY if job.kind == "bottom" else _kind(job)
    question = Question("", finder.name, scenario, species, over="pass" if job.kind == "size" else "ping")
    settings = Settings(EACH, 0.95, int(trip.seed), 1)
    points = [job.guess * share for share in LADDER]
    return points, [finder.trials(question, 0, point, settings, 0, EACH) for point in points]


def _limit(job: Job, made: tuple[list[float], list[int]]) -> limits.Limit:
    finder = FINDERS[job.kind]
    hits, of = np.array(made[1]), np.full(len(made[1]), EACH)
    return limits.passing(np.array(made[0]), hits, of, finder.rising, finder.level)


def _put(results: Found, done: list[Counts]) -> Found:
    waters, deep = list(results.waters), {"fish": dict(results.fish), "bottom": dict(results.bottom)}
    for job, made in done:
        if job.kind in deep:
            values = deep[job.kind][job.key]
            deep[job.kind][job.key] = _with(values, job.element, _moved(values[job.element], _limit(job, made)))
        elif job.kind == "size":
            small = waters[job.water].smallest
            moved = _moved(small[job.element], _limit(job, made))
            waters[job.water] = replace(waters[job.water], smallest=_with(small, job.element, moved))
        else:
            waters[job.water] = _passed(waters[job.water], job, made)
    return replace(results, waters=tuple(waters), fish=deep["fish"], bottom=deep["bottom"])


def _passed(water: Water, job: Job, made: Any) -> Water:
    """Return a water with what passes show there."""
    if job.kind == "near":
        passes = tuple(
            p and replace(p, shown=shown / PASSES, separated=sum(clear) / PASSES, passes=PASSES, clear=tuple(clear))
            for p, shown, clear in zip(water.passes, *made, strict=True)
        )
        return replace(water, passes=passes)
    old, (hits, wide) = water.passes[job.element], made
    if old is None:
        return water
    ends = clopper_pearson(hits, OFFSETS)
    swath = _scaled(old.swath, wide * hits / OFFSETS, (wide * ends[0], wide * ends[1]))
    return replace(water, passes=_with(water.passes, job.element, replace(old, swath=swath)))


def _moved(old: Banded | None, limit: limits.Limit) -> Banded | None:
    """Return a number moved to its simulated value, if the points tried enclose it."""
    return old if old is None or not np.isfinite(limit.value) else _scaled(old, limit.value, (limit.low, limit.high))


def _scaled(old: Banded, value: float, span: tuple[float, float]) -> Banded:
    """Return the number with its band of own noise moved along with it."""
    by = value / old.value if old.value > 0 else 1.0
    return Banded(value, old.low * by, old.high * by, span=span)


def _with(values: tuple[Any, ...], place: int, value: Any) -> tuple[Any, ...]:
    return (*values[:place], value, *values[place + 1 :])


def _line(results: Found, job: Job, made: Any) -> str:
    """Return what a job found, in a line."""
    if job.kind == "near":
        water = results.waters[job.water]
        each = ", ".join(
            f"{name} {tables.share(sum(clear) / PASSES)} (formula {tables.share(p.separated)})"
            for name, p, clear in zip(results.elements, water.passes, made[1], strict=True) if p
        )  # fmt: skip
        day_ = f"{water.day}, " if water.day else ""
        return f"{PASSES} passes, {day_}{water.species} over {results.long(water.bottom)}, clear of the bottom: {each}"
    return _found(results, job, made) if job.kind in FINDERS else ""


def _found(results: Found, job: Job, made: Any) -> str:
    """Return the limit that a search found, in a line; nothing if the points tried do not enclose it."""
    limit, shown = _limit(job, made), results.long
    if not np.isfinite(limit.value):
        return ""
    what = {"bottom": f"a bottom of {job.key[1]} to", "fish": f"{job.key[1]} to", "size": "fish from"}[job.kind]
    day_ = f", {job.key[0]}" if job.key[0] else ""
    span = interval(results, limit.low, limit.high)
    return (
        f"{EACH} {'passes' if job.kind == 'size' else 'pings'} at each of {len(LADDER)} points: the"
        f" {results.elements[job.element]}{day_} shows {what} {shown(limit.value)}"
        f" ({f'{span}; ' if span else ''}formula {shown(job.guess)})"
    )


def _contradicts(formula: Banded, passes: Banded) -> bool:
    """Return whether a simulated width is another than its closed form, beyond chance and by the share APART."""
    if passes.span is None or passes.span[0] <= formula.value <= passes.span[1]:
        return False
    return abs(passes.value - formula.value) > APART * formula.value


def differences(results: Found) -> list[str]:
    """Return where passes differ from closed forms beyond chance and by APART (of a width: its share): sentences."""
    if results.formulas is None:
        return []
    texts = []
    for water, old in zip(results.waters, results.formulas.waters, strict=True):
        for name, p, before in zip(results.elements, water.passes, old.passes, strict=True):
            if p is None or before is None or not p.passes:
                continue
            place = f"{name}, {f'{water.day}, ' if water.day else ''}{water.species} over {results.long(water.bottom)}"
            if _contradicts(before.swath, p.swath):
                widths = f"{results.long(before.swath.value)} by formula, {results.long(p.swath.value)} in passes"
                texts.append(f"{place}, swath: {widths}.")
            for what, share in (("shown", "shown"), ("clear of the bottom", "separated")):
                closed, counted = (float(getattr(one, share)) for one in (before, p))
                low, high = clopper_pearson(round(counted * p.passes), p.passes)
                if abs(closed - counted) > APART and not low <= closed <= high:
                    texts.append(
                        f"{place}, {what}: {tables.share(closed)} by formula, {tables.share(counted)} in passes."
                    )
    return texts
