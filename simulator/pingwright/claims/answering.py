"""Answers one claim: which trials its measure needs, and what they say."""

from collections.abc import Callable
from typing import Any

import numpy as np

from pingwright.claims import curves, echoes, explaining, limits, lots, theory, trials
from pingwright.claims.answers import Answer
from pingwright.claims.lots import Stage
from pingwright.claims.question import ECHOES, LIMITS, Question
from pingwright.claims.trials import Course
from pingwright.measure import intervals

Number = float | None


def answer(question: Question, course: Course) -> Answer:
    """Return the answer to a claim, never beyond the course's runs of each trial."""
    at = lots.stage(question.scenario, question.keep_structures)
    work: Callable[[Question, Stage, Course], Answer] = _counted
    if question.measure in LIMITS:
        work = _limit
    elif question.measure in ECHOES:
        work = _read
    return work(question, at, course)


def bound_in_words(question: Question) -> str:
    """Return the bound as the claim states it, such as "at least 0.9"."""
    if question.bound is None:
        return ""
    side = "at least" if question.at_least is not None else "at most"
    return f"{side} {question.bound:.4g} {question.unit}".strip()


def _number(value: float) -> Number:
    return float(value) if np.isfinite(value) else None


def _counted(question: Question, at: Stage, course: Course) -> Answer:
    tally, outcome = trials.count(question, at, course)
    sequence = question.bound is not None
    low, high = trials.interval(tally, question.is_difference, course.confidence, sequence)
    value = trials.value(tally, question.is_difference)
    share = tuple(h / tally.runs for h in tally.hits)
    return Answer(
        says=question.says,
        measure=question.measure,
        element=question.elements,
        bound=bound_in_words(question),
        verdict=outcome,
        value=value,
        low=low,
        high=high,
        unit=question.unit,
        runs=tally.runs,
        **_theory(question, at, (value, low, high)),
        false=tuple(h / max(tally.twins, 1) for h in tally.false),
        twins=tally.twins,
        by_element=share if question.is_difference else (),
        chart=curves.chart(question, at, course.seed, course.threads),
    )


def _theory(question: Question, at: Stage, found: tuple[Number, Number, Number]) -> dict[str, Any]:
    """Return what an answer says of the closed forms beside the simulated value and its interval."""
    plain, fine = theory.value(at, question), theory.value(at, question, fine=True)
    return {"theory": plain, "fine": fine, "explained": explaining.explained(question, found, plain, fine)}


def _limit(question: Question, at: Stage, course: Course) -> Answer:
    found = limits.find(question, at, course)
    value, low, high = limits.number(question, found)
    return Answer(
        says=question.says,
        measure=question.measure,
        element=question.elements,
        bound=bound_in_words(question),
        verdict=_verdict(question, low, high),
        value=_number(value),
        low=_number(low),
        high=_number(high),
        unit=question.unit,
        runs=int(max(np.max(f.of) for f in found)),
        **_theory(question, at, (_number(value), _number(low), _number(high))),
        by_element=tuple(f.limit.value for f in found) if question.is_difference else (),
        chart=limits.chart(question, at, found),
        notes=() if question.measure != "smallest_fish" else _outside_the_model(at, found),
    )


def _outside_the_model(at: Stage, found: list[limits.Found]) -> tuple[str, ...]:
    notes = []
    for element, one in zip(at.prepared.header.elements, found, strict=True):
        info = element.info
        wavelength = info.assumed_sound_speed / (0.5 * (info.band_low + info.band_high))
        if not one.limit.value >= wavelength:
            words = f"{info.name}: < lambda ({wavelength * 1000:.0f} mm): outside the model of fish strength."
            notes.append(words)
    return tuple(notes)


def _read(question: Question, at: Stage, course: Course) -> Answer:
    read = [echoes.read(question, at, i, course.seed, course.threads) for i in range(len(question.elements))]
    values = read[0] - read[1] if question.is_difference else read[0]
    values = values[np.isfinite(values)]
    low, high = intervals.median_sequence(values, course.confidence)
    value = float(np.median(values)) if len(values) else float("nan")
    return Answer(
        says=question.says,
        measure=question.measure,
        element=question.elements,
        bound=bound_in_words(question),
        verdict=_verdict(question, low, high),
        value=_number(value),
        low=_number(low),
        high=_number(high),
        unit=question.unit,
        runs=min(len(values), course.runs),
        **_theory(question, at, (_number(value), _number(low), _number(high))),
        by_element=tuple(float(np.nanmedian(r)) for r in read) if question.is_difference else (),
    )


def _verdict(question: Question, low: float, high: float) -> intervals.Outcome | None:
    if question.bound is None:
        return None
    return intervals.verdict(low, high, question.at_least, question.at_most)
