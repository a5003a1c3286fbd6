"""A column of the page for each element: name, facts, rows of fish with verdicts and reasons, whole water, interval."""

from collections.abc import Sequence

import numpy as np

from pingwright import words
from pingwright.echograms.record import Record
from pingwright.figures.compare.rows import Zone
from pingwright.measure.assessment import Assessment, ElementAssessment
from pingwright.measure.reasons import REASONS
from pingwright.measure.together import ONE_ARCH, within
from pingwright.page.markup import length, text
from pingwright.page.numbers import symbol


def headline(record: Record, assessment: Assessment) -> str:
    """Return the answer as markup, once in metres and once in feet, names in the colour of their band."""
    both = []
    for unit in ("m", "ft"):
        runs = words.headline(assessment, record, "m" if unit == "m" else "ft")
        parts = [
            text(run.text) if run.element is None else f'<span class="s{run.element}">{text(run.text)}</span>'
            for run in runs
        ]
        both.append(f'<span class="{unit}">{"".join(parts)}</span>')
    return "".join(both)


def scene(record: Record) -> str:
    """Return title, depth and the kind of run, as markup."""
    depth = float(np.median(record.elements[0].bottom_depth))
    who = words.counted(len(record.elements), "element")
    return f"{text(record.title)}: {length(depth, 0)} of water, one pass by {who}."


def column(index: int, record: Record, assessment: Assessment, zones: Sequence[Zone]) -> str:
    """Return the column of one element, every text of the scenario escaped."""
    info, judged = record.elements[index].info, assessment.elements[index]
    first = "1" if index == 0 else "0"
    hides = f'<span class="s{index}">hides the last {length(judged.closed.edge_height, 1)}</span>'
    rows = "".join(_row(index, judged, zone, first) for zone in zones)
    shares = _share(index, judged) if judged.mark else ""
    return (
        f'<section class="element" aria-labelledby="name-{index}">'
        f'<h2 class="name s{index}" id="name-{index}" data-copy>{text(info.name)}</h2>'
        f'<p class="facts" data-copy><span class="band">{words.band(info)}, beam {words.beam(info)}; </span>'
        f"{hides if np.isfinite(judged.closed.edge_height) else ''}</p>{rows}"
        f'<p class="row muted rest" data-copy>Whole water</p>{_canvas(index, "", first, f"Whole water of {info.name}")}'
        f"{shares}</section>"
    )


def _canvas(index: int, row: str, first: str, label: str) -> str:
    kind = (f"row-{row.lower()}" if row else "whole") + (" rest" if row != "A" else "")
    return (
        f'<canvas class="{kind}" data-picture="{row}" data-element="{index}" data-first="{first}" tabindex="0" '
        f'role="img" aria-label="{text(label)}. Click it, then move it with the wheel, the keys or by'
        ' dragging."></canvas>'
    )


def _row(index: int, judged: ElementAssessment, zone: Zone, first: str) -> str:
    group, why = zone.group, "<p></p>"
    if group is None:
        sentence = f'<span class="muted">{text(zone.title)}</span>'
    else:
        count, rest = words.outcome(judged, group)
        sentence = f'<b class="verdict">{count}</b> <span class="muted">{rest}</span>'
        sentence += f'<span class="muted">{len(group.fish)} fish, {length(group.height, 1)} up</span>'
        why = f'<ul class="why{" rest" if zone.letter != "A" else ""}">{_why(judged, zone)}</ul>'
    kind = f"row {zone.letter.lower()}{' rest' if zone.letter != 'A' else ''}"
    picture = _canvas(index, zone.letter, first, f"Row {zone.letter} of {judged.name}")
    return f'<p class="{kind}" data-copy><b class="letter">{zone.letter}</b> {sentence}</p>{picture}{why}'


def _why(judged: ElementAssessment, zone: Zone) -> str:
    """Return why fish of a group are not separated, and which make one arch: each line with the numbers of its fish."""
    by: dict[str, list[str]] = {}
    for index in zone.group.fish if zone.group else ():
        mark = judged.mark[int(index)]
        if mark != words.SEPARATED:
            reason = judged.reason[int(index)] if len(judged.reason) > int(index) else ""
            by.setdefault(REASONS.get(reason, words.MEANING[mark]), []).append(str(int(index) + 1))
    lines = [(fish, reason) for reason, fish in by.items()]
    sets = within(judged.one_arch, zone.group.fish) if zone.group else []
    lines += [([str(k + 1) for k in one], ONE_ARCH) for one in sets]
    all_clear = "" if by else "<li>All are separated from the bottom.</li>"
    return all_clear + "".join(f"<li><b>Fish {words.listed(fish)}:</b> {text(why)}</li>" for fish, why in lines)


def _share(index: int, judged: ElementAssessment) -> str:
    share, (count, _) = judged.overall, words.outcome(judged)
    low, high, at = (200 * x for x in (share.low, share.high, share.value))
    bar = (
        f'<svg class="whisker rest" viewBox="-4 0 208 12" preserveAspectRatio="none" aria-hidden="true">'
        f'<path d="M0 6H200M0 2V10M100 2V10M200 2V10" stroke="var(--line)" fill="none"/>'
        f'<rect class="fill{index}" x="{low:.1f}" y="3" width="{high - low:.1f}" height="6" opacity="0.5"/>'
        f'<rect class="fill{index}" x="{at - 2:.1f}" y="1" width="4" height="10"/></svg>'
    )
    over = "" if judged.passes is None else f", {words.counted(len(judged.passes), 'fresh pass', 'fresh passes')}"
    span = words.interval(share.low, share.high).replace(" %", "\u00a0%")
    sentence = f"{count} {'' if over else 'fish '}separated ({span}{over})"
    return f'<p class="share rest" data-copy>{sentence}</p>{bar}'


def fish_part(record: Record, drawing: str) -> str:
    """Return the part that steps from fish to fish, beside the scene cut open; without fish the cut alone."""
    cut = f"<div><h3>The scene in cross-section</h3>{drawing}</div>"
    if not len(record.truth.fish.id):
        return f"<section>{cut}</section>"
    buttons = "".join(
        f'<button type="button" id="{name}" aria-label="{label}">{sign}</button>'
        for name, label, sign in (("back", "Previous fish", "&larr;"), ("forward", "Next fish", "&rarr;"))
    )
    step = f'<div class="stepper">{buttons}<b id="fish-name">Fish</b></div><p class="note" id="fish-text"></p>'
    chart = '<canvas id="curves" role="img" aria-label="The ping over this fish, a curve for each element"></canvas>'
    chart += (
        '<p class="note">Thick lines show the rule: a fish is separated if, between fish and bottom, its curve falls'
        " to the left of its line. The line lies 3 dB below the peak of the fish and 15 dB below the bottom.</p>"
    )
    return f'<section aria-label="Fish by fish"><div class="fish"><div>{step}{chart}</div>{cut}</div></section>'


def key() -> str:
    """Return the legend of the marks."""
    return "".join(f"<span>{symbol(mark)} {meaning}</span>" for mark, meaning in words.MEANING.items())
