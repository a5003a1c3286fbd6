"""Caption and alternative text of the comparison, written from its numbers."""

import numpy as np

from pingwright import words
from pingwright.echograms.record import ElementInfo, Record
from pingwright.figures.compare.rows import zones
from pingwright.figures.style.view import View
from pingwright.measure.assessment import Assessment, ElementAssessment
from pingwright.measure.groups import Group
from pingwright.measure.together import within
from pingwright.words import Units


def _described(info: ElementInfo, element: ElementAssessment, units: Units) -> str:
    """Return one sentence about an element for captions and alternative texts."""
    near: Units = "ft" if units == "fathoms" else units  # nobody gives what lies across in fathoms
    fine = words.length(element.range_resolution, near)
    head = f"{element.name} ({words.band(info)}, beam {words.beam(info)}, resolution {fine})"
    if not element.mark:
        return f"{head}."
    if element.passes is not None:
        share, over = element.passes.separates(), words.counted(len(element.passes), "fresh pass", "fresh passes")
        span = words.interval(share.low, share.high)
        return f"{head}: {100 * share.value:.0f} % of fish separated from the bottom over {over} ({span})."
    counts, false = element.counts, element.false_alarms.value
    rest = [f"{counts[kind]} {words.MEANING[kind]}" for kind in (words.MERGED, words.NOT_SHOWN) if counts.get(kind)]
    tail = f"; false alarms {words.percent(false)}" if np.isfinite(false) else ""
    return f"{head}: {words.verdict(element)} from the bottom{''.join(f', {each}' for each in rest)}{tail}."


def _elements(record: Record, assessment: Assessment, units: Units) -> str:
    return " ".join(_described(e.info, a, units) for e, a in zip(record.elements, assessment.elements, strict=True))


def _count(judged: ElementAssessment, group: Group) -> str:
    """Return how many fish of a group an element separates, or the share of them over fresh passes."""
    if judged.passes is not None:
        return words.probability(judged.passes.separates(group.fish))
    return str(group.count(judged.mark, words.SEPARATED) or "none")


def _groups(record: Record, assessment: Assessment, units: Units) -> str:
    """Return each group's counts in a sentence."""
    lines = []
    for zone in zones(record, assessment, 2, View()):
        if zone.group is None:
            lines.append(f"Row {zone.letter}: {zone.title}.")
            continue
        counts = [f"{e.name} {_count(e, zone.group)}" for e in assessment.elements]
        fish = f"{words.fish_of(zone.group, units)}, {words.off_bottom(zone.group.height, units)}"
        lines.append(f"Row {zone.letter}: {fish}; separated: {words.listed(counts)}.")
        lines += _together(assessment, zone.group, zone.letter)
    return " ".join(lines)


def _together(assessment: Assessment, group: Group, letter: str) -> list[str]:
    """Return sentences on the fish of a row that make one arch, one for each set of them."""
    under: dict[int, list[str]] = {}
    for element in assessment.elements:
        for one in within(element.one_arch, group.fish):
            under.setdefault(len(one), []).append(element.name)
    return [
        f"{words.spelled(count).capitalize()} fish of row {letter} make one arch under {words.listed(names)}."
        for count, names in under.items()
    ]


def caption(record: Record, assessment: Assessment, units: Units = "m") -> str:
    """Return the caption, from the numbers of the assessment."""
    depth = float(np.median(record.elements[0].bottom_depth))
    many = f"{words.spelled(len(record.elements))} elements" if len(record.elements) > 1 else "one element"
    fish = words.fish_words(record, units)
    return (
        f"{record.title}: one pass by {many} over {words.both(depth, units, 3)} of water with {fish}."
        f" {_groups(record, assessment, units)} {_elements(record, assessment, units)} Simulated."
    )


def alt(record: Record, assessment: Assessment, units: Units = "m") -> str:
    """Return the alternative text: what is drawn, then the answer and the counts."""
    columns = words.listed([element.name for element in assessment.elements])
    return (
        f"Echograms side by side, columns {columns}: enlarged parts of the water, the whole water below"
        f"{', shares of all fish with intervals' if len(record.truth.fish.id) else ''}."
        f" {words.answer(assessment, record, units)} {_groups(record, assessment, units)} Simulated."
    )
