"""The summary as text for people and as data for programs, both from the same numbers."""

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.form import program, scenario_digest
from pingwright.echograms.layout import COMMENT
from pingwright.echograms.record import Record
from pingwright.files import PROGRAM
from pingwright.markdown import pasted, plain
from pingwright.measure.assessment import MARKS, RULE_WORDS, Assessment, ElementAssessment, Share
from pingwright.measure.certainty import Certainty
from pingwright.measure.groups import of_record
from pingwright.measure.reasons import REASONS
from pingwright.report.numbers import Number, finite, numbers
from pingwright.words import Units, both, counted, fate_in_passes, length, probability

#: Fish in summary.json, and in the table of summary.md.
MOST_LISTED, MOST_ROWS = 2000, 40

# Factor and unit in which a number is shown to people, by its SI unit.
SHOWN = {"Hz": (1e-3, "kHz"), "s": (1e3, "ms"), "dB/m": (1e3, "dB/km")}


def shown(number: Number, value: float, units: Units = "m") -> str:
    """Return a number in words for people: three digits, its unit, lengths in the reader's units; a dash for none."""
    if not math.isfinite(value):
        return "none" if number.name == "noise_level" else "-"
    if not number.unit:
        return f"{100 * value:.3g} %" if number.name.startswith(("share", "false", "pass_")) else f"{value:.0f}"
    if number.unit == "m":
        return both(value, units, 3)
    factor, unit = SHOWN.get(number.unit, (1.0, number.unit))
    return f"{figures(value * factor, 4)} {unit}"


def figures(value: float, count: int = 3) -> str:
    """Return a number with some significant digits, never in powers of ten (in its unit)."""
    if value == 0:
        return "0"
    places = count - 1 - math.floor(math.log10(abs(value)))
    text = f"{round(value, places):.{max(places, 0)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _interval(share: Share) -> dict[str, float | int | None]:
    return {"hits": share.hits, "of": share.of, "low": finite(share.low), "high": finite(share.high)}


def _certainty(share: Certainty) -> dict[str, float | int | None]:
    """Return hits of fish in passes and the interval, which counts passes."""
    return {"hits": share.hits, "of": share.fish, "low": finite(share.low), "high": finite(share.high)}


def _in_passes(assessment: ElementAssessment, fish: slice | NDArray[np.intp] | list[int]) -> dict[str, Any]:
    """Return the probabilities of some fish over fresh passes; nothing without passes."""
    if assessment.passes is None:
        return {}
    shares = {"pass_separated": assessment.passes.separates(fish), "pass_detected": assessment.passes.detects(fish)}
    return {name: {"value": finite(share.value)} | _certainty(share) for name, share in shares.items()}


def as_data(record: Record, assessment: Assessment, answer: str, digests: dict[str, str]) -> dict[str, Any]:
    """Return the contents of summary.json: every number with unit and definition, and the sha256 of the other files."""
    elements = []
    for element, found in zip(record.elements, assessment.elements, strict=True):
        values = {
            number.name: {
                "value": finite(number.value(element.info, found)),
                "unit": number.unit,
                "definition": number.definition,
            }
            for number in numbers(record.passes is not None)
        }
        for name, share in (
            ("share_separated", found.separated),
            ("share_detected", found.detected),
            ("false_alarms", found.false_alarms),
        ):
            values[name] |= _interval(share)
        if found.passes is not None:
            values["pass_separated"] |= _certainty(found.passes.separates())
            values["pass_detected"] |= _certainty(found.passes.detects())
        if found.closed.smallest_fish_text:
            values["smallest_fish"]["says"] = found.closed.smallest_fish_text
        known = {"name": element.info.name, "slug": element.info.slug, "numbers": values}
        elements.append(known | {"groups": _groups(record, found), "fish": _fish(record, found)})
    return {
        "program": PROGRAM,
        "made_by": program(),
        "synthetic": COMMENT,
        "title": record.title,
        "seed": record.seed,
        "scenario_sha256": scenario_digest(record.scenario),
        "answer": answer,
        "passes": None if record.passes is None else len(record.passes),
        "elements": elements,
        "warnings": list(record.warnings),
        "files": digests,
    }


def _groups(record: Record, assessment: ElementAssessment) -> list[dict[str, Any]]:
    """Return the counts of the marks by group of fish, the lowest first, as the picture has them."""
    return [
        {"name": group.name, "height": group.height, "fish": len(group.fish)}
        | {mark: group.count(assessment.mark, mark) for mark in MARKS}
        | _in_passes(assessment, group.fish)
        for group in of_record(record)
    ]


def _fish(record: Record, assessment: ElementAssessment) -> list[dict[str, Any]]:
    """Return the result for each fish, for the first MOST_LISTED of them."""
    fish = record.truth.fish
    return [
        {
            "id": int(fish.id[k]),
            "name": fish.name[k],
            "height": finite(float(fish.height[k])),
            "mark": assessment.mark[k],
            "mark_at_nearest_ping": assessment.nearest_mark[k],
            "nearest_ping": int(assessment.fish_ping[k]),
            "pings_in_beam": int(assessment.pings_in_beam[k]),
            "pings_detected": int(assessment.pings_detected[k]),
            "pings_separated": int(assessment.pings_separated[k]),
            "arch_length": finite(float(assessment.arch_length[k])),
            "arch_depth": finite(float(assessment.arch_depth[k])),
            "reason": REASONS.get(assessment.reason[k], ""),
            "one_arch_with": [int(fish.id[j]) for one in assessment.one_arch if k in one for j in one if j != k],
            "judged_by": RULE_WORDS[assessment.rule[k]] if assessment.rule else "",
        }
        | _in_passes(assessment, [k])
        for k in range(min(len(assessment.reason), MOST_LISTED))
    ]


def _fate(assessment: ElementAssessment, fish: int, units: Units = "m") -> str:
    """Return the result for one fish with one element: 'shown in 11 pings, separated in 7; arch 3 m long, ...'."""
    if assessment.passes is not None:
        return fate_in_passes(assessment, fish)
    if assessment.mark[fish] == "not_shown":
        return f"not shown: {REASONS.get(assessment.reason[fish], 'no reason known')}"
    pings = counted(int(assessment.pings_detected[fish]), "ping")
    arch = _arch(float(assessment.arch_length[fish]), float(assessment.arch_depth[fish]), units)
    if others := sum(len(one) - 1 for one in assessment.one_arch if fish in one):
        arch += f"; one arch with {'another fish' if others == 1 else f'{others} other fish'}"
    if assessment.mark[fish] == "merged":
        return f"shown in {pings}, merged with the bottom{arch}"
    return f"shown in {pings}, separated in {assessment.pings_separated[fish]}{arch}"


def _arch(long: float, deep: float, units: Units) -> str:
    """Return the size of an arch [m] in words; nothing where the boat does not move."""
    if not (math.isfinite(long) and math.isfinite(deep) and long > 0):
        return ""
    near: Units = "ft" if units == "fathoms" else units
    return f"; arch {length(long, near)} long, arms {length(deep, near)} deep"


def _fish_table(record: Record, assessment: Assessment, units: Units) -> list[str]:
    """Return the fish one by one, the lowest first, at most MOST_ROWS of them; nothing without fish."""
    fish = record.truth.fish
    if not len(fish.id) or any(len(found.reason) != len(fish.id) for found in assessment.elements):
        return []
    rows = np.argsort(fish.height, kind="stable")[:MOST_ROWS]
    more = len(fish.id) - len(rows)
    return [
        "## Fish by fish",
        "",
        f"| Fish | off the bottom | {' | '.join(plain(e.info.name) for e in record.elements)} |",
        f"| --- | --- |{' --- |' * len(record.elements)}",
        *(
            f"| {plain(fish.name[k])} | {both(float(fish.height[k]), units)} |"
            f" {' | '.join(_fate(found, int(k), units) for found in assessment.elements)} |"
            for k in rows
        ),
        *([f"\nThe {more} higher ones stand in summary.json."] if more else []),
        "",
        *_outside(assessment),
        *_judged_by(assessment),
    ]


def _outside(assessment: Assessment) -> list[str]:
    """Return a sentence on the fish that are outside the beams of all elements; none without such fish."""
    count = sum(set(reasons) == {"outside"} for reasons in zip(*(e.reason for e in assessment.elements), strict=True))
    if not count:
        return []
    return [f"{counted(count, 'fish is', 'fish are')} outside the beam of every element; the shares count them.", ""]


def _judged_by(assessment: Assessment) -> list[str]:
    """Return sentences on the fish that are not judged by the levels alone; none without such fish."""
    sentences = []
    for rule, words in RULE_WORDS.items():
        count = len({k for found in assessment.elements for k, one in enumerate(found.rule) if one == rule})
        if count and rule != "levels":
            sentences.append(f"{counted(count, 'fish is', 'fish are')} judged, with one element or more, by {words}.")
    if not sentences:
        return []
    known = "That echo is simulated alone, which no sounder can do. Where it is not known, an edge may pass for a fish."
    return [" ".join([*sentences, known]), ""]


def _table(record: Record, assessment: Assessment, units: Units) -> list[str]:
    names = [plain(element.info.name) for element in record.elements]
    lines = [f"| | {' | '.join(names)} |", f"| --- |{' --- |' * len(names)}"]
    for number in numbers(record.passes is not None):
        cells = []
        for element, found in zip(record.elements, assessment.elements, strict=True):
            value = shown(number, number.value(element.info, found), units)
            if number.name.startswith("pass_") and found.passes is not None:
                of_all = found.passes.separates() if number.name == "pass_separated" else found.passes.detects()
                value = probability(of_all)
            if number.name == "smallest_fish" and "<" in found.closed.smallest_fish_text:
                value = f"< {length(found.closed.wavelength, units)}, a wavelength: outside the model"
            cells.append(value)
        lines.append(f"| {number.label} | {' | '.join(cells)} |")
    return lines


def _with_pictures(record: Record, assessment: Assessment, units: Units) -> list[str]:
    """Return the picture, and its caption and alternative text to paste."""
    from pingwright.figures.compare import captions

    return [
        "![The elements side by side](compare.png)",
        "",
        "The same with linked zoom: [compare.html](compare.html). All levels: `echograms.h5`.",
        "",
        "## To paste with the picture",
        "",
        *pasted("Caption", captions.caption(record, assessment, units)),
        *pasted("Alternative text", captions.alt(record, assessment, units)),
    ]


def as_text(record: Record, assessment: Assessment, answer: str, units: Units = "m", *, pictures: bool = True) -> str:
    """Return summary.md: the answer, the numbers, the picture with caption and alternative text, what each number is.

    pictures: whether they were drawn.
    """
    parts = [
        f"# {plain(record.title)}",
        "",
        f"**{plain(answer)}**",
        "",
        COMMENT,
        "",
        *(line for warning in record.warnings for line in (f"- Note: {plain(warning)}",)),
        *([""] if record.warnings else []),
        *_table(record, assessment, units),
        "",
        *_fish_table(record, assessment, units),
        *(_with_pictures(record, assessment, units) if pictures else ["All levels: `echograms.h5`.", ""]),
        "## What each number is",
        "",
        *(f"- **{one.label}** (`{one.name}`): {one.definition}" for one in numbers(record.passes is not None)),
        "",
        f"Seed {record.seed}, {program()}, scenario sha256 `{scenario_digest(record.scenario)}`.",
        "",
    ]
    return "\n".join(parts)
