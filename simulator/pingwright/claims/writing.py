"""claims.md, claims.json and a figure for each claim."""

import json
import math
from pathlib import Path
from typing import Any

import numpy as np

from pingwright import files
from pingwright.claims import beyond
from pingwright.claims.answers import Answer, Chart
from pingwright.claims.beyond import Beyond
from pingwright.claims.question import LIMITS
from pingwright.markdown import pasted, plain
from pingwright.measure.definitions import DEFINITIONS

TEXT, DATA = "claims.md", "claims.json"
OVERVIEW = "claims.png"

CAUTION = (
    "Simulated: synthetic echoes of a described world. Not for navigation, not for diving, no proof of any product's"
    " performance."
)
VERDICTS = {None: "a number was asked"}
LEAST_FALSE = 0.02


def picture(number: int) -> str:
    """Return the file name of a claim's figure, claims counted from 1."""
    return f"claim-{number:02d}.png"


def words(value: float | None, unit: str) -> str:
    """Return a number with its unit, in the digits its unit deserves; a dash where there is none."""
    if value is None or not math.isfinite(value):
        return "–"
    if unit == "":
        return f"{value:.3f}"
    if unit == "m" and abs(value) < 1:
        return f"{value * 100:.3g} cm"
    return f"{value:.4g} {unit}"


def draw(answer: Answer, folder: Path, number: int, carried: Any) -> None:
    """Write a claim's figure; carried: what it holds of the claims file (figures.embed.Carried)."""
    from pingwright.figures import save
    from pingwright.figures.charts import probability

    chart = answer.chart
    if chart is None:
        return
    along, curves = _curves(chart)
    theory = [line for line in chart.lines if line.is_theory]
    crosses = {line.name: np.asarray(line.value) for line in theory}
    title = f"{answer.says}: {answer.verdict}" if answer.verdict else answer.says
    asked = "one half" if answer.measure in LIMITS else "asked for"
    figure = probability.curves(along, curves, title, wanted=chart.wanted, theory=crosses, level=asked)
    with files.replacing(folder / picture(number)) as part:
        save.save(figure, part, carried, probability.alt(along, curves, answer.says))


def draw_overview(answers: tuple[Answer, ...], title: str, folder: Path, carried: Any) -> None:
    """Write the picture of all claims at a glance; carried: what it holds of the claims file."""
    from pingwright.figures import save
    from pingwright.figures.charts import overview

    rows = [_row(answer) for answer in answers]
    with files.replacing(folder / OVERVIEW) as part:
        save.save(overview.overview(rows, title), part, carried, overview.alt(rows, title))


def _row(answer: Answer) -> Any:
    """Return a claim as the overview draws it."""
    from pingwright.figures.charts.overview import Row

    value, low, high = (math.nan if v is None else v for v in (answer.value, answer.low, answer.high))
    side, _, rest = answer.bound.partition("least ") if "least" in answer.bound else answer.bound.partition("most ")
    bound = float(rest.split()[0]) if rest else math.nan
    two = len(answer.element) > 1
    return Row(answer.says, answer.verdict or "", value, low, high, bound, "least" in answer.bound, answer.unit, two)


def _curves(chart: Chart) -> tuple[Any, dict[str, Any]]:
    """Return the axis and the simulated curves of a claim's figure, as figures.probability takes them."""
    from pingwright.figures.charts.probability import Axis, Curve

    simulated = [line for line in chart.lines if not line.is_theory]
    curves = {line.name: Curve(*map(np.asarray, (line.value, line.low, line.high))) for line in simulated}
    return Axis(chart.axis, np.asarray(chart.points)), curves


def _told(answer: Answer, chart: Chart, number: int) -> list[str]:
    """Return the lines that show a claim's figure, with caption and alternative text to paste."""
    from pingwright.figures.charts import probability

    drawn = (*_curves(chart), answer.says)
    said = probability.alt(*drawn)
    lines = ["", f"![{plain(said)}]({picture(number)})", ""]
    return [*lines, *pasted("Caption", probability.caption(*drawn)), *pasted("Alternative text", said)]


def as_text(title: str, answers: tuple[Answer, ...], confidence: float, seed: int) -> str:
    """Return claims.md."""
    lines = [
        f"# {plain(title)}",
        "",
        CAUTION,
        "",
        "| claim | verdict | simulated | interval | closed form | fine | runs |",
    ]
    lines.append("|---|---|---|---|---|---|---|")
    for number, a in enumerate(answers, 1):
        interval = f"{words(a.low, a.unit)} to {words(a.high, a.unit)}"
        closed = words(a.theory, a.unit), words(a.fine, a.unit)
        row = (f"{number}. {a.says}", _verdict(a), words(a.value, a.unit), interval, *closed, a.runs)
        lines.append("| " + " | ".join(plain(str(part)) for part in row) + " |")
    lines += ["", *_how(answers, confidence, seed)]
    for number, a in enumerate(answers, 1):
        lines += ["", f"## {number}. {plain(a.says)}", "", *_story(a, number)]
    return "\n".join(lines) + "\n"


def _named(measure: str) -> str:
    return measure.replace("_", " ")


def _verdict(answer: Answer) -> str:
    return answer.verdict or "–"


def _how(answers: tuple[Answer, ...], confidence: float, seed: int) -> list[str]:
    used = dict.fromkeys(answer.measure for answer in answers)
    lines = [
        f"Intervals hold with {100 * confidence:g} % confidence. Where a bound is asked for they are always-valid"
        " sequences: runs stop as soon as the verdict is certain, and it may be looked at as often as one likes (a"
        " probability: beta mixture, Robbins 1970; a difference: bets on its mean, Waudby-Smith & Ramdas 2024; a median"
        " and limits: by inversion). Where only a number is asked for it is the Clopper-Pearson interval of all runs. A"
        f" claim is undecided while its bound lies inside. Seed {seed}.",
        "",
        "Closed form: geometry and the sonar equation for a fish of tilt-averaged strength with a Rayleigh echo"
        " (Swerling 1). Fine: with what the bottom leaks through the filter's side lobes into the water above it, and"
        " with the fish's aspect, its tilt and heading as seen from the element. The figures draw the fine one.",
        "",
        "What is measured:",
        "",
    ]
    return lines + [f"- **{_named(name)}**: {DEFINITIONS[name]}" for name in used]


def _story(answer: Answer, number: int) -> list[str]:
    name = " less ".join(answer.element)
    asked = f" (asked: {answer.bound})" if answer.bound else ""
    lines = [
        f"**{_verdict(answer)}**{asked}. {_named(answer.measure).capitalize()} of {plain(name)}:"
        f" {words(answer.value, answer.unit)}, interval"
        f" {words(answer.low, answer.unit)} to {words(answer.high, answer.unit)}, {answer.runs} runs. Closed form:"
        f" {words(answer.theory, answer.unit)}, fine {words(answer.fine, answer.unit)}. {answer.explained}"
    ]
    if answer.by_element:
        each = zip(answer.element, answer.by_element, strict=True)
        lines += ["", "Each: " + ", ".join(f"{plain(n)} {words(v, answer.unit)}" for n, v in each) + "."]
    if answer.false:
        rate = ", ".join(f"{100 * f:.2g} %" for f in answer.false)
        lines += ["", f"False rate, the same pings without the fish ({answer.twins} of them): {rate}."]
        if max(answer.false) > LEAST_FALSE:
            lines[-1] += " More than 2 %: the number above is partly chance."
    lines += [f"\n{note}" for note in answer.notes]
    if answer.chart is not None:
        lines += _told(answer, answer.chart, number)
    return lines


def as_data(answers: tuple[Answer, ...], seed: int) -> dict[str, Any]:
    """Return the contents of claims.json, without the digests of the other files."""
    claims = []
    for a in answers:
        claims.append({
            "says": a.says, "measure": a.measure, "element": list(a.element) if len(a.element) > 1 else a.element[0],
            "verdict": a.verdict, "value": a.value, "low": a.low, "high": a.high, "unit": a.unit, "runs": a.runs,
            "seed": seed, "theory": a.theory, "theory_fine": a.fine, "explained": a.explained, "bound": a.bound,
            "false_rate": list(a.false), "definition": DEFINITIONS[a.measure],
        })  # fmt: skip
    return {"program": "pingwright", "caution": CAUTION, "claims": claims}


def write(
    folder: Path,
    title: str,
    answers: tuple[Answer, ...],
    confidence: float,
    seed: int,
    names: list[str],
    more: Beyond | None,
) -> None:
    """Write claims.md, then claims.json, which closes the set with the sha256 of the others."""
    text = as_text(title, answers, confidence, seed)
    if more is not None:
        text += "\n".join(beyond.as_text(more)) + "\n"
    files.write_text(folder / TEXT, text)
    digests = {name: files.digest(folder / name) for name in (TEXT, *names)}
    data = as_data(answers, seed) | {"files": digests}
    if more is not None:
        data["beyond"] = beyond.as_data(more)
    files.write_text(folder / DATA, json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n")
