"""claims.md, claims.json and a figure for each claim."""

import json
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pingwright import files
from pingwright.claims.answers import Answer
from pingwright.markdown import pasted, plain
from pingwright.measures.base import Chart
from pingwright.measures.registry import measure
from pingwright.palette import Face
from pingwright.trials.assumptions import IN_WORDS
from pingwright.words import Units, length

if TYPE_CHECKING:
    from pingwright.figures.charts.overview import Row
    from pingwright.figures.charts.probability import Axis, Curve
    from pingwright.figures.embed import Carried

TEXT, DATA, OVERVIEW = "claims.md", "claims.json", "claims.png"
CAUTION = (
    "Simulated: synthetic echoes of an invented world. Not for navigation or diving; no proof of any product's"
    " performance."
)
FORMULAS = (
    "Computed from formulas; nothing was simulated. Not for navigation or diving; no proof of any product's"
    " performance."
)
#: The report warns of false alarms above this share.
MOST_FALSE = 0.02


def picture(number: int) -> str:
    """Return the file name of a claim's figure, claims counted from 1."""
    return f"claim-{number:02d}.png"


def words(value: float | None, unit: str, units: Units = "m") -> str:
    """Return a number with its unit and a suitable number of digits, a length in `units`; a dash for none."""
    if value is None or not math.isfinite(value):
        return "–"
    if unit == "m" and units != "m":
        return length(value, units, 3)
    if unit == "":
        return f"{value:.3f}"
    if unit == "m" and abs(value) < 1:
        return f"{value * 100:.3g} cm"
    return f"{value:.4g} {unit}"


def _noise_ends(answer: Answer) -> tuple[float, float]:
    """Return a range, or the difference of two, with own noise 10 dB higher and lower; nan where there is no band."""
    if not answer.noise_band:
        return math.nan, math.nan
    ends = np.array([[math.nan if end is None else end for end in pair] for pair in answer.noise_band])
    louder, quieter = ends[0] - ends[1] if len(ends) == 2 else ends[0]
    return float(louder), float(quieter)


def _banded(answer: Answer, value: float | None, units: Units) -> str:
    """Return a number, and in brackets what it is with own noise 10 dB higher and lower if that is known."""
    shown, ends = words(value, answer.unit, units), _noise_ends(answer)
    if not all(map(math.isfinite, ends)):
        return shown
    return f"{shown} ({words(ends[0], answer.unit, units)} to {words(ends[1], answer.unit, units)})"


def draw(
    answer: Answer, folder: Path, number: int, carried: "Carried", units: Units = "m", faces: tuple[Face, ...] = ()
) -> None:
    """Write a claim's figure; carried: the claims file stored in it; faces: of its elements, for their colours."""
    from pingwright.figures import save
    from pingwright.figures.charts import probability

    chart = answer.chart
    if chart is None:
        return
    along, curves = _curves(chart)
    crosses = {line.name: np.asarray(line.value) for line in chart.lines if line.is_theory}
    title = f"{answer.text}: {answer.verdict}" if answer.verdict else answer.text
    level = "asked for" if answer.unit == "" else "the limit"
    figure = probability.curves(
        along, curves, title, wanted=chart.wanted, theory=crosses, level=level, at=chart.at, units=units, faces=faces,
        noise=_noise(answer),
    )  # fmt: skip
    with files.replacing(folder / picture(number)) as part:
        save.save(figure, part, carried, probability.alt(along, curves, title, units, _noise(answer)))


def _noise(answer: Answer) -> dict[str, tuple[float, float]]:
    """Return the band of own noise by element, for figures.probability."""
    known = zip(answer.element, answer.noise_band, strict=False)
    return {name: (low, high) for name, (low, high) in known if low is not None and high is not None}


def draw_overview(
    answers: tuple[Answer, ...], title: str, folder: Path, carried: "Carried", units: Units = "m"
) -> None:
    """Write the overview of all claims; carried: the claims file stored in it."""
    from pingwright.figures import save
    from pingwright.figures.charts import overview

    rows, simulated = [_row(answer) for answer in answers], not _quick(answers)
    figure = overview.overview(rows, title, units=units, simulated=simulated)
    with files.replacing(folder / OVERVIEW) as part:
        save.save(figure, part, carried, overview.alt(rows, title, units, simulated=simulated))


def _quick(answers: tuple[Answer, ...]) -> bool:
    """Return whether all answers come from formulas alone."""
    return all(answer.quick for answer in answers)


def _row(answer: Answer) -> "Row":
    """Return the row of a claim in the overview."""
    from pingwright.figures.charts.overview import Row

    value, low, high = (math.nan if v is None else v for v in (answer.value, answer.low, answer.high))
    rest = answer.bound.partition("least ")[2] or answer.bound.partition("most ")[2]
    bound, two = float(rest.split()[0]) if rest else math.nan, len(answer.element) > 1
    side, noise = "least" in answer.bound, _noise_ends(answer)
    return Row(answer.text, answer.verdict or "", value, low, high, bound, side, answer.unit, two, noise)


def _curves(chart: Chart) -> "tuple[Axis, dict[str, Curve]]":
    """Return the axis and the simulated curves of a claim's figure, for figures.probability."""
    from pingwright.figures.charts.probability import Axis, Curve

    simulated = [line for line in chart.lines if not line.is_theory]
    curves = {line.name: Curve(*map(np.asarray, (line.value, line.low, line.high))) for line in simulated}
    return Axis(chart.axis, np.asarray(chart.points)), curves


def _shown(answer: Answer, chart: Chart, number: int, units: Units) -> list[str]:
    """Return the lines that show a claim's figure, with caption and alternative text to paste."""
    from pingwright.figures.charts import probability

    drawn = (
        *_curves(chart),
        f"{answer.text}: {answer.verdict}" if answer.verdict else answer.text,
        units,
        _noise(answer),
    )
    text = probability.alt(*drawn)
    lines = ["", f"![{plain(text)}]({picture(number)})", ""]
    return [*lines, *pasted("Caption", probability.caption(*drawn)), *pasted("Alternative text", text)]


def as_text(title: str, answers: tuple[Answer, ...], confidence: float, seed: int, units: Units = "m") -> str:
    """Return claims.md; units: of lengths."""
    lines = [f"# {plain(title)}", "", FORMULAS if _quick(answers) else CAUTION, ""]
    lines.append("| claim | verdict | simulated | interval | closed form | over | depends on |")
    lines.append("|---|---|---|---|---|---|---|")
    for number, a in enumerate(answers, 1):
        low, high = (words(end, a.unit, units) for end in (a.low, a.high))
        interval = low if low == high else f"{low} to {high}"
        row = (
            f"{number}. {a.text}", _verdict(a), "–" if a.quick else words(a.value, a.unit, units), interval,
            _banded(a, a.theory, units), a.over, _depends_briefly(a),
        )  # fmt: skip
        lines.append("| " + " | ".join(plain(str(part)) for part in row) + " |")
    lines += ["", *_how(answers, confidence, seed)]
    for number, a in enumerate(answers, 1):
        lines += ["", f"## {number}. {plain(a.text)}", "", *_story(a, number, units)]
    return "\n".join(lines) + "\n"


def _named(name: str) -> str:
    return name.replace("_", " ")


def _verdict(answer: Answer) -> str:
    return answer.verdict or "number only"


def _depends_briefly(answer: Answer) -> str:
    if answer.depends_on is None:
        return "–"
    return ", ".join(answer.depends_on) or "none of those tried"


def _how(answers: tuple[Answer, ...], confidence: float, seed: int) -> list[str]:
    used = dict.fromkeys(answer.measure for answer in answers)
    lines = [
        f"Intervals hold with {100 * confidence:g} % confidence. A claim is undecided while its bound lies inside the"
        " interval. For a probability with a bound, a difference, a limit or a median, the interval stays valid at"
        " every look, so the runs stop as soon as the verdict is certain (a probability: beta mixture, Robbins 1970;"
        " a difference: bets on its mean, Waudby-Smith & Ramdas 2024; limits and medians: by inversion, each point of"
        " an axis with its share of the error). A probability without a bound has the Clopper-Pearson interval of all"
        " its runs."
        f" Seed {seed}.",
        "",
        *_of_noise(answers),
        "Over a pass: the boat runs straight past the fish at its speed and pings at its own interval. A ping counts"
        " if the fish is in the main lobe of the beam, up to the first null and at most 45 degrees off the axis. Each"
        " run has its own fish, whose posture changes from ping to ping, and its own ground. All elements meet the"
        " same fish and ground; their noise is independent.",
        "",
        "Closed form: the sonar equation, without simulation. The fish has its tilt-averaged target strength, and its"
        " echo fades with its posture, which changes slowly, so that pings close in time fade together. The equation is"
        " solved ping by ping over the same passes, with the boat's motion,"
        " and with the echo of the bottom that comes through the side lobes of the filter.",
        "",
        "What is measured:",
        "",
    ]
    return lines + [f"- **{_named(name)}**: {measure(name).definition}" for name in used]


def _of_noise(answers: tuple[Answer, ...]) -> list[str]:
    """Return the paragraph about the band of own noise, if a claim has one."""
    if not any(answer.noise_band for answer in answers):
        return []
    return ["In brackets behind a range: the same with the boat's own noise 10 dB higher and 10 dB lower. That noise is"
            " assumed.", ""]  # fmt: skip


def _bound(answer: Answer, units: Units) -> str:
    """Return the bound of a claim, such as "at least 200 ft"."""
    if answer.unit != "m" or units == "m":
        return answer.bound
    side, number = answer.bound.split()[:2], answer.bound.split()[2]
    return f"{' '.join(side)} {words(float(number), 'm', units)}"


def _story(answer: Answer, number: int, units: Units = "m") -> list[str]:
    name, unit = " less ".join(answer.element), answer.unit
    bound = f" (asked: {_bound(answer, units)})" if answer.bound else ""
    if answer.quick:
        what = f"{words(answer.value, unit, units)} by closed form; nothing was simulated"
    else:
        value, low, high, theory = (
            words(v, unit, units) for v in (answer.value, answer.low, answer.high, answer.theory)
        )
        what = f"{value}, interval {low} to {high}, {answer.runs} runs. Closed form: {theory}"
    measured = f"{_named(answer.measure).capitalize()} of {plain(name)}"
    lines = [f"**{_verdict(answer)}**{bound}. {measured}: {what}. {answer.explained}".rstrip()]
    if answer.by_element:
        each = zip(answer.element, answer.by_element, strict=True)
        lines += ["", "Each: " + ", ".join(f"{plain(n)} {words(v, unit, units)}" for n, v in each) + "."]
    if answer.noise_band:
        lines += ["", noise_in_words(answer, units)]
    if answer.depends_on is not None:
        lines += ["", depends_in_words(answer)]
    if answer.blanks:
        rate = ", ".join(f"{100 * f:.2g} %" for f in answer.false)
        lines += [
            "",
            f"False alarms, in the same {_trials(answer)} without the fish ({answer.blanks} of them): {rate}.",
        ]
        if max(answer.false) > MOST_FALSE:
            lines[-1] += " This is more than 2 %, so the number above is partly chance."
    if answer.lost:
        lines += ["", f"Pings in which the bottom was not found: {answer.lost} of {answer.pings}."]
    lines += [f"\n{note}" for note in answer.notes]
    if answer.chart is not None:
        lines += _shown(answer, answer.chart, number, units)
    return lines


def _trials(answer: Answer) -> str:
    return "passes" if answer.over == "pass" else "pings"


def noise_in_words(answer: Answer, units: Units = "m") -> str:
    """Return what a detection range is with own noise 10 dB higher and lower, in a sentence."""
    each = "; ".join(
        f"{plain(name)} {words(louder, answer.unit, units)} to {words(quieter, answer.unit, units)}"
        for name, (louder, quieter) in zip(answer.element, answer.noise_band, strict=True)
    )
    return f"With the boat's own noise 10 dB higher to 10 dB lower, by closed form: {each}."


def depends_in_words(answer: Answer) -> str:
    """Return what the verdict depends on, in a sentence."""
    if not answer.depends_on:
        return (
            f"It {_verdict(answer)} even if the pulse, the noise, the target strength of the fish or the roughness of"
            " the bottom changes."
        )
    turns = "; ".join(IN_WORDS[name] for name in answer.depends_on)
    return f"The verdict changes if these assumptions change: {turns}."


def as_data(answers: tuple[Answer, ...], seed: int) -> dict[str, Any]:
    """Return the contents of claims.json, without the digests of the other files."""
    claims = []
    for a in answers:
        claims.append({
            "says": a.text, "measure": a.measure, "element": list(a.element) if len(a.element) > 1 else a.element[0],
            "verdict": a.verdict, "value": a.value, "low": a.low, "high": a.high, "unit": a.unit, "runs": a.runs,
            "seed": seed, "over": a.over, "depends_on": None if a.depends_on is None else list(a.depends_on),
            "theory": a.theory, "quick": a.quick, "explained": a.explained, "bound": a.bound,
            "false_alarms": list(a.false), "blanks": a.blanks, "pings": a.pings, "pings_without_bottom": a.lost,
            "by_element": list(a.by_element), "noise_band": [list(pair) for pair in a.noise_band],
            "definition": measure(a.measure).definition,
            "curves": [] if a.chart is None else _points(a.chart),
        })  # fmt: skip
    return {"program": files.PROGRAM, "caution": FORMULAS if _quick(answers) else CAUTION, "claims": claims}


def _points(chart: Chart) -> list[dict[str, Any]]:
    """Return the points of a figure's curves; a closed form has no interval."""
    return [
        {
            "name": f"{line.name}, closed form" if line.is_theory else line.name,
            "x_name": chart.axis, "x": list(chart.points), "x_unit": chart.unit, "value": _known(line.value),
            "low": _known(line.low) if line.low else None, "high": _known(line.high) if line.high else None,
        }
        for line in chart.lines
    ]  # fmt: skip


def _known(values: tuple[float, ...]) -> list[float | None]:
    return [float(v) if math.isfinite(v) else None for v in values]


def write(
    folder: Path,
    title: str,
    answers: tuple[Answer, ...],
    confidence: float,
    seed: int,
    names: list[str],
    units: Units = "m",
) -> None:
    """Write claims.md, then claims.json, which holds the sha256 of all other files; units: of the text."""
    files.write_text(folder / TEXT, as_text(title, answers, confidence, seed, units))
    digests = {name: files.digest(folder / name) for name in (TEXT, *names)}
    data = as_data(answers, seed) | {"files": digests}
    files.write_text(folder / DATA, json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n")
