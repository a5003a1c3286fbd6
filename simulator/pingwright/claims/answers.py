"""A question answered: simulated and by closed form, with its verdict, why the two differ and what it depends on."""

import math
from dataclasses import asdict, dataclass
from typing import Any

from pingwright.inputs.claims import Over
from pingwright.measure.intervals import Outcome
from pingwright.measures.asked import Question
from pingwright.measures.base import Chart, Line, Result
from pingwright.measures.registry import measure
from pingwright.trials.batch import Settings

#: A closed form agrees with the simulation if it is this close: a probability, and a share of any other number.
CLOSE, CLOSE_SHARE = 0.05, 0.1


@dataclass(frozen=True)
class Answer:
    """The answer to one claim.

    value, low, high, theory in `unit`, None if not known or not enclosed. verdict: None if the claim has no bound.
    quick: closed form only. depends_on: assumptions that change the verdict, None if not checked. false, blanks, pings,
    lost, by_element, chart, notes: as in `measures.base.Result`. noise_band: by element, the closed form of a range
    with own noise 10 dB higher and lower; empty for other measures and without own noise.
    """

    text: str
    measure: str
    element: tuple[str, ...]
    bound: str
    verdict: Outcome | None
    value: float | None
    low: float | None
    high: float | None
    unit: str
    over: Over
    runs: int
    theory: float | None
    explained: str
    quick: bool = False
    depends_on: tuple[str, ...] | None = None
    false: tuple[float, ...] = ()
    blanks: int = 0
    pings: int = 0
    lost: int = 0
    by_element: tuple[float, ...] = ()
    chart: Chart | None = None
    notes: tuple[str, ...] = ()
    noise_band: tuple[tuple[float | None, float | None], ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Return it as plain data, for a checkpoint."""
        return asdict(self)


def from_dict(data: dict[str, Any]) -> Answer:
    """Return an answer from the plain data of `Answer.to_dict` (through JSON)."""
    chart = data.get("chart")
    if chart is not None:
        lines = tuple(Line(*(_tuple(line[k]) for k in ("name", "value", "low", "high"))) for line in chart["lines"])
        chart = Chart(chart["axis"], tuple(chart["points"]), lines, chart["wanted"], chart["unit"], chart.get("at"))
    return Answer(**{**{key: _tuple(value) for key, value in data.items()}, "chart": chart})


def _tuple(value: Any) -> Any:
    return tuple(_tuple(each) for each in value) if isinstance(value, list) else value


def answer(question: Question, settings: Settings, *, quick: bool = False) -> Answer:
    """Return the answer to a claim, never beyond the settings' runs of each trial; quick: by closed form alone."""
    chosen = measure(question.measure)
    if quick:
        theory = chosen.closed_form(question)
        result = Result(theory, theory, theory, 0, theory, chosen.over_of(question))
    else:
        result = chosen.result(question, settings)
    judged = chosen.verdict(question, result.low, result.high) if math.isfinite(result.value) or not quick else None
    return Answer(
        text=question.text,
        measure=question.measure,
        element=question.elements,
        bound=bound_in_words(question),
        verdict=judged,
        value=_number(result.value),
        low=None if quick else _number(result.low),
        high=None if quick else _number(result.high),
        unit=chosen.unit,
        over=result.over,
        runs=result.runs,
        theory=_number(result.theory),
        explained="" if quick else explained(question, result),
        quick=quick,
        false=result.false,
        blanks=result.blanks,
        pings=result.pings,
        lost=result.lost,
        by_element=result.by_element,
        chart=result.chart,
        notes=(*result.notes, *chosen.cautions(question, result.value)),
        noise_band=tuple((_number(louder), _number(quieter)) for louder, quieter in chosen.noise_band(question)),
    )


def bound_in_words(question: Question) -> str:
    """Return the bound as the claim states it, such as "at least 0.9"."""
    if question.bound is None:
        return ""
    side = "at least" if question.at_least is not None else "at most"
    return f"{side} {question.bound:.4g} {measure(question.measure).unit}".strip()


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def explained(question: Question, result: Result) -> str:
    """Return one or two sentences that say why simulation and closed form differ, or that they agree."""
    if not math.isfinite(result.theory) or not math.isfinite(result.value):
        return "No formula gives this number."
    near = CLOSE if measure(question.measure).unit == "" else CLOSE_SHARE * abs(result.theory)
    if abs(result.value - result.theory) <= near or result.low <= result.theory <= result.high:
        return "Simulation and closed form agree."
    seabed, reasons = question.scenario.seabed, [measure(question.measure).left_out]
    if question.keep_structures and question.scenario.structure:
        reasons.insert(0, "how the echoes of the structures that were kept vary from place to place")
    if seabed.relief is not None or seabed.roughness == "natural":
        reasons.append("the bottom's own relief")
    if any(spec.tilt.along or spec.tilt.across for spec in question.scenario.element):
        reasons.append("that a tilted beam meets the bottom off its axis at every frequency of its band")
    return f"The closed form differs because it leaves out: {'; '.join(reasons)}."
