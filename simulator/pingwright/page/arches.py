"""The page's table of arches: how many pings show each fish under each element, how long and how deep its arch is."""

import math
from collections.abc import Iterable

import numpy as np

from pingwright.echograms.record import Record
from pingwright.measure.assessment import Assessment, ElementAssessment
from pingwright.measure.definitions import DEFINITIONS
from pingwright.measure.reasons import REASONS
from pingwright.page.markup import length, text
from pingwright.words import counted, listed

#: Fish that are shown at once, and most fish of the whole table.
SHOWN, MOST = 6, 400

WHY = (
    "Length: the way of the boat from the first to the last ping that detects the fish. It is longer under a wide beam"
    " and in deeper water, which hold the fish longer, and shorter for a fish beside the track. Arms: range of its"
    " farthest echo minus that of its nearest. They hang because the fish is farther away before the boat is over it,"
    " and after."
)


def section(record: Record, assessment: Assessment) -> str:
    """Return the section on arches as markup, the lowest fish first, the rest to be opened; nothing without fish."""
    fish = record.truth.fish
    able = all(len(one.arch_length) == len(fish.id) for one in assessment.elements)
    if not len(fish.id) or not able:
        return ""
    order = np.argsort(fish.height, kind="stable")[:MOST].tolist()
    rest, left = order[SHOWN:], len(fish.id) - len(order)
    more = ""
    if rest:
        over = f'<p class="note">The {left} higher ones stand in summary.json.</p>' if left else ""
        label = f"{counted(len(rest), 'more fish', 'more fish')}, higher above the bottom"
        more = f"<details><summary>{label}</summary>{_table(record, assessment, rest)}{over}</details>"
    shared = f" One arch: {text(DEFINITIONS['one_arch'])}" if any(one.one_arch for one in assessment.elements) else ""
    return (
        '<section class="arches" aria-labelledby="arches"><h2 id="arches">Arches, fish by fish</h2>'
        f'<p class="note">{text(WHY)}{shared}</p>{_table(record, assessment, order[:SHOWN])}{more}</section>'
    )


def _table(record: Record, assessment: Assessment, order: Iterable[int]) -> str:
    heads = "".join(f'<th scope="col">{text(one.name)}</th>' for one in assessment.elements)
    rows = "".join(_row(record, assessment, k) for k in order)
    return (
        '<table><caption class="unseen">Arch of each fish under each element</caption><thead><tr><th scope="col">'
        f"Fish</th>{heads}</tr></thead><tbody>{rows}</tbody></table>"
    )


def _row(record: Record, assessment: Assessment, fish: int) -> str:
    truth = record.truth.fish
    cells = "".join(
        f'<td data-element="{text(one.name)}">{_cell(one, fish)}</td>' for one in assessment.elements
    )  # fmt: skip
    up = f"{length(float(truth.height[fish]))} off the bottom"
    name = f"{text(truth.name[fish])}<small>Fish {fish + 1}, {up}</small>"
    return f'<tr><th scope="row">{name}</th>{cells}</tr>'


def _cell(judged: ElementAssessment, fish: int) -> str:
    """Return pings, length and depth of one arch; why there is none."""
    pings, long, deep = (int(judged.pings_detected[fish]), judged.arch_length[fish], judged.arch_depth[fish])
    if not pings:
        return f"<small>not shown: {text(REASONS.get(judged.reason[fish], 'no reason known'))}</small>"
    apart = f", {int(judged.pings_separated[fish])} separated"
    size = ""
    if math.isfinite(long) and math.isfinite(deep) and long > 0:
        size = f"{length(float(long), 1)} long, arms {length(float(deep))} deep"
    others = [str(k + 1) for one in judged.one_arch if fish in one for k in one if k != fish]
    shared = f"; one arch with fish {listed(others)}" if others else ""
    return f"{size}<small>{counted(pings, 'ping')}{apart}{shared}</small>"
