"""The summary as text for people and as data for programs, both from the same numbers."""

import math
from typing import Any

from pingwright.echograms.form import program, scenario_digest
from pingwright.echograms.layout import COMMENT
from pingwright.echograms.record import Record
from pingwright.files import PROGRAM
from pingwright.markdown import pasted, plain
from pingwright.measure.assessment import Assessment, Share
from pingwright.report.numbers import NUMBERS, Number, finite

FOOT = 0.3048

# Factor and unit in which a number is shown to people, by its SI unit.
SHOWN = {"Hz": (1e-3, "kHz"), "s": (1e3, "ms"), "dB/m": (1e3, "dB/km")}


def shown(number: Number, value: float) -> str:
    """Return a number in words for people: three figures, its unit, feet beside metres; a dash where there is none."""
    if not math.isfinite(value):
        return "none" if number.name == "noise_level" else "-"
    if not number.unit:
        return f"{100 * value:.3g} %" if number.name.startswith(("share", "false")) else f"{value:.0f}"
    if number.unit == "m":
        if abs(value) < 1:
            return f"{figures(value * 100)} cm ({figures(value / FOOT * 12, 2)} in)"
        return f"{figures(value)} m ({figures(value / FOOT)} ft)"
    factor, unit = SHOWN.get(number.unit, (1.0, number.unit))
    return f"{figures(value * factor, 4)} {unit}"


def figures(value: float, count: int = 3) -> str:
    """Return a number with so many significant figures, never in powers of ten (in the unit it came in)."""
    if value == 0:
        return "0"
    places = count - 1 - math.floor(math.log10(abs(value)))
    text = f"{round(value, places):.{max(places, 0)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _interval(share: Share) -> dict[str, float | int | None]:
    return {"hits": share.hits, "of": share.of, "low": finite(share.low), "high": finite(share.high)}


def as_data(record: Record, assessment: Assessment, answer: str, digests: dict[str, str]) -> dict[str, Any]:
    """Return what summary.json holds: every number with unit and definition, and the sha256 of the other files."""
    elements = []
    for element, found in zip(record.elements, assessment.elements, strict=True):
        numbers = {
            number.name: {
                "value": finite(number.value(element.info, found)),
                "unit": number.unit,
                "definition": number.definition,
            }
            for number in NUMBERS
        }
        for name, share in (
            ("share_separated", found.separated),
            ("share_detected", found.detected),
            ("false_alarms", found.false_alarms),
        ):
            numbers[name] |= _interval(share)
        if found.closed.smallest_fish_text:
            numbers["smallest_fish"]["says"] = found.closed.smallest_fish_text
        elements.append({"name": element.info.name, "slug": element.info.slug, "numbers": numbers})
    return {
        "program": PROGRAM,
        "made_by": program(),
        "synthetic": COMMENT,
        "title": record.title,
        "seed": record.seed,
        "scenario_sha256": scenario_digest(record.scenario),
        "answer": answer,
        "elements": elements,
        "warnings": list(record.warnings),
        "files": digests,
    }


def _table(record: Record, assessment: Assessment) -> list[str]:
    names = [plain(element.info.name) for element in record.elements]
    lines = [f"| | {' | '.join(names)} |", f"| --- |{' --- |' * len(names)}"]
    for number in NUMBERS:
        cells = []
        for element, found in zip(record.elements, assessment.elements, strict=True):
            value = shown(number, number.value(element.info, found))
            if number.name == "smallest_fish" and "<" in found.closed.smallest_fish_text:
                value = found.closed.smallest_fish_text
            cells.append(value)
        lines.append(f"| {number.label} | {' | '.join(cells)} |")
    return lines


def as_text(record: Record, assessment: Assessment, answer: str) -> str:
    """Return summary.md: the answer, the numbers, the picture's caption and alternative text, what each number is."""
    from pingwright.figures.compare import captions

    parts = [
        f"# {plain(record.title)}",
        "",
        f"**{plain(answer)}**",
        "",
        COMMENT,
        "",
        *(line for warning in record.warnings for line in (f"- Note: {plain(warning)}",)),
        *([""] if record.warnings else []),
        *_table(record, assessment),
        "",
        "![The elements side by side](compare.png)",
        "",
        "The same with linked zoom: [compare.html](compare.html). All levels: `echograms.h5`.",
        "",
        "## To paste with the picture",
        "",
        *pasted("Caption", captions.caption(record, assessment)),
        *pasted("Alternative text", captions.alt(record, assessment)),
        "## What each number is",
        "",
        *(f"- **{number.label}** (`{number.name}`): {number.definition}" for number in NUMBERS),
        "",
        f"Seed {record.seed}, {program()}, scenario sha256 `{scenario_digest(record.scenario)}`.",
        "",
    ]
    return "\n".join(parts)
