"""Numbers in words: lengths in the reader's units, the verdict under an element, the numbers under an element."""

from collections.abc import Callable, Mapping, Sequence
from typing import ParamSpec

import numpy as np

from pingwright.echograms.record import ElementInfo, Record
from pingwright.figures.style import UNITS, Units
from pingwright.measure.assessment import MARK_WORDS, Assessment, ElementAssessment

P = ParamSpec("P")

#: what each mark means, in the words of the legend
MEANING = MARK_WORDS


def opened(opening: str, caption: Callable[P, str]) -> Callable[P, str]:
    """Return a function of the caption's arguments that says an opening sentence and then the caption."""

    def alt(*given: P.args, **named: P.kwargs) -> str:
        return f"{opening} {caption(*given, **named)}"

    return alt


def digits(value: float, figures: int = 2) -> str:
    """Return a number rounded to some significant figures, plain notation, real minus, never '-0'."""
    if not np.isfinite(value):
        return "unknown"
    if value == 0:
        return "0"
    mantissa, exponent = f"{value:.{figures - 1}e}".split("e")
    places = max(figures - 1 - int(exponent), 0)
    return f"{float(f'{mantissa}e{exponent}'):.{places}f}".replace("-", "\u2212")


def length(metres: float, units: Units = "m", figures: int = 2) -> str:
    """Return a length in the reader's units; below 1 m in cm or mm, below 1 ft in inches."""
    if not np.isfinite(metres):
        return "unknown"
    if units == "m":
        for limit, factor, name in ((0.01, 1000, "mm"), (0.995, 100, "cm")):
            if abs(metres) < limit:
                return f"{digits(metres * factor, figures)} {name}"
        return f"{digits(metres, figures)} m"
    size, name = UNITS[units]
    if abs(metres) < 0.995 * UNITS["ft"][0]:
        return f"{digits(metres / UNITS['ft'][0] * 12, figures)} in"
    if abs(metres) < size:
        size, name = UNITS["ft"]
    return f"{digits(metres / size, figures)} {name}"


def frequency(hertz: float) -> str:
    """Return a frequency in kHz or MHz."""
    return f"{hertz / 1e6:.4g} MHz" if hertz >= 1e6 else f"{hertz / 1e3:.4g} kHz"


def band(info: ElementInfo) -> str:
    """Return an element's band, or its single frequency."""
    low, high = info.band_low, info.band_high
    if high - low < 1e-3 * high:
        return frequency((low + high) / 2)
    return f"{low / 1e3:.4g}\u2013{high / 1e3:.4g} kHz"


def beam(info: ElementInfo) -> str:
    """Return the one-way -3 dB beam in words, along x across the track where they differ."""
    a, b = digits(info.beamwidth_along), digits(info.beamwidth_across)
    return f"{a}\u00b0" if a == b else f"{a}\u00b0 \u00d7 {b}\u00b0"


def of_fish(count: int, total: int) -> str:
    """Return '8 of 9 fish'."""
    return f"{count} of {total} fish"


def verdict(element: ElementAssessment) -> str:
    """Return the verdict line of an element: how many of the fish it separated from the bottom."""
    total = len(element.mark)
    if total == 0:
        return "no single fish in this water"
    count = element.counts.get("separated", 0)
    return f"{of_fish(count, total)} separated" if count else f"none of {total} fish separated"


def verdict_rest(element: ElementAssessment) -> str:
    """Return what became of the other fish."""
    merged, not_shown = element.counts.get("merged", 0), element.counts.get("not_shown", 0)
    parts = [f"{merged} shown, but merged with it"] * bool(merged) + [f"{not_shown} not shown"] * bool(not_shown)
    return ", ".join(parts)


def answer(assessment: Assessment, record: Record | None = None) -> str:
    """Return the picture's answer: which element shows the fish apart from the bottom; without fish, what is there."""
    elements = assessment.elements
    total = len(elements[0].mark) if elements else 0
    if not total:
        bottom = [] if elements and not any(np.isfinite(e.bottom_range).any() for e in elements) else ["the seabed"]
        other = listed([*(things(record) if record else []), *bottom]) or "nothing else"
        return f"No single fish in this water: the echograms show {other}."
    ranked = sorted(elements, key=lambda e: -e.counts.get("separated", 0))
    most = ranked[0].counts.get("separated", 0)
    best = [e.name for e in ranked if e.counts.get("separated", 0) == most]
    if not most:
        return f"No element parts any of the {total} fish from the bottom."
    rest = [f"{e.name} {e.counts.get('separated', 0)}" for e in ranked if e.name not in best]
    each = " each" if len(best) > 1 else ""
    verb = "part" if len(best) > 1 else "parts"
    tail = f"; {', '.join(rest)}" if rest else ""
    return f"{listed(best)} {verb} {of_fish(most, total)}{each} from the bottom{tail}."


def listed(names: Sequence[str]) -> str:
    """Return 'a', 'a and b', 'a, b and c'."""
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


def numbers(info: ElementInfo, element: ElementAssessment, units: Units) -> Mapping[str, str]:
    """Return the numbers that stand under an element, name -> value."""
    closed = element.closed
    near: Units = "ft" if units == "fathoms" else units  # of what lies across, fathoms are told by nobody
    along, across = length(closed.footprint_along, near), length(closed.footprint_across, near)
    (size, unit), (_, other) = along.split(" ") if " " in along else (along, ""), across.rsplit(" ", 1)
    pair = f"{size if unit == other else along} \u00d7 {across}"
    said = {
        "band": band(info),
        "beam": beam(info),
        "resolution": length(element.range_resolution, units),
        "reach": length(closed.reach, units),
        "footprint": along if along == across else pair,
        "false alarms": percent(element.false_alarms.value),
    }
    if not np.isfinite(element.false_alarms.value):
        del said["false alarms"]  # without fish nothing is judged
    return said


def rarely_merged(assessment: Assessment) -> str:
    """Return why no fish is merged with the bottom, where some are not shown: else nothing."""
    counts = [element.counts for element in assessment.elements]
    if any(c.get("merged", 0) for c in counts) or not any(c.get("not_shown", 0) for c in counts):
        return ""
    return "Shown, but merged with it: none here. Every detected fish is also separated from the bottom."


def things(record: Record) -> list[str]:
    """Return what is in the water besides single fish: '2 targets', '1 school'."""
    kinds = [soft.kind for soft in record.truth.soft]
    counts = {"structure": len(record.truth.structures)} | {k: kinds.count(k) for k in dict.fromkeys(kinds)}
    scattering_layer = "scattering layer", "scattering layers"
    names = {kind: scattering_layer if kind == "scattering_layer" else (kind, f"{kind}s") for kind in counts}
    return [f"{count} {names[kind][count > 1]}" for kind, count in counts.items() if count]


def percent(share: float) -> str:
    """Return a share as a percentage, 'unknown' where it is nan."""
    return f"{100 * share:.2g} %" if np.isfinite(share) else "unknown"


def said_of(info: ElementInfo, element: ElementAssessment, units: Units) -> str:
    """Return one sentence about an element for captions and alternative texts."""
    n = numbers(info, element, units)
    rest = verdict_rest(element)
    head = f"{element.name} ({n['band']}, beam {n['beam']}, resolution {n['resolution']})"
    if not element.mark:
        return f"{head}."
    false = f"; false alarms: {n['false alarms']}" if "false alarms" in n else ""
    return f"{head}: {verdict(element)} from the bottom{f', {rest}' if rest else ''}{false}."


def fish_words(record: Record, units: Units) -> str:
    """Return the fish of a scene in words: '10 fish of 40 cm, 30 cm to 2.2 m above the bottom'."""
    fish = record.truth.fish
    if not len(fish.id):
        return "no fish"
    short, tall = float(fish.length.min()), float(fish.length.max())
    size = length(short, units) if tall - short < 0.02 * tall else f"{length(short, units)} to {length(tall, units)}"
    low, high = float(fish.height.min()), float(fish.height.max())
    where = length(low, units) if high - low < 0.02 * high else f"{length(low, units)} to {length(high, units)}"
    return f"{len(fish.id)} fish of {size}, {where} above the bottom"
