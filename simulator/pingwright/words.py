"""Numbers in words, shared by pictures, pages and summaries: lengths in the reader's units, counts, the headline."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import comb
from typing import Literal, ParamSpec

import numpy as np

from pingwright.echograms.record import ElementInfo, Record
from pingwright.measure.assessment import MARKS, Assessment, ElementAssessment, Share
from pingwright.measure.certainty import Certainty
from pingwright.measure.groups import Group, of_record
from pingwright.units import FEET_PER_FATHOM, METRES_PER_FOOT

P = ParamSpec("P")
Units = Literal["m", "ft", "fathoms"]

#: said on the face of every picture; below, the same where a column is narrow
CAUTION = "Simulated, not recorded; not for navigation or diving, no proof of a product's performance."
SHORT_CAUTION = "Simulated; not for navigation or diving, no proof of performance."

#: units -> metres in one, short name
UNITS: dict[str, tuple[float, str]] = {
    "m": (1.0, "m"),
    "ft": (METRES_PER_FOOT, "ft"),
    "fathoms": (METRES_PER_FOOT * FEET_PER_FATHOM, "fathoms"),
}

SEPARATED, MERGED, NOT_SHOWN = MARKS

#: what each mark means, in the words of every legend
MEANING = {
    SEPARATED: "separated from the bottom",
    MERGED: "shown, but merged with it",
    NOT_SHOWN: "not shown",
}

#: a group of fish higher than this over the ground [m] is shown or not; separation from the bottom is no question there
NEAR = 4.0


def opened(opening: str, caption: Callable[P, str]) -> Callable[P, str]:
    """Return a function of the caption's arguments that gives an opening sentence and then the caption."""

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


def _short(number: str) -> str:
    """Return a number without a nought behind its point: 1.0 -> 1."""
    return number.rstrip("0").rstrip(".") if "." in number else number


def length(metres: float, units: Units = "m", figures: int = 2) -> str:
    """Return a length in the reader's units; below 1 m in cm or mm, below some 11.5 inches in inches."""
    if not np.isfinite(metres):
        return "unknown"
    if metres == 0:
        return f"0 {UNITS[units][1]}"
    if units == "m":
        for limit, factor, name in ((0.00995, 1000, "mm"), (0.995, 100, "cm")):
            if abs(metres) < limit:
                return f"{digits(metres * factor, figures)} {name}"
        number = digits(metres, figures)
        return f"{_short(number) if figures > 2 else number} m"
    size, name = UNITS[units]
    if abs(metres) < 0.95 * METRES_PER_FOOT:
        return f"{_short(digits(metres / METRES_PER_FOOT * 12, figures))} in"
    if abs(metres) < 0.995 * size:
        size, name = UNITS["ft"]
    # Tenths are as fine as anyone reads feet: 30 cm are 1 ft, not 0.98.
    number = _short(digits(round(metres / size, 1), figures))
    return f"{number} {'fathom' if name == 'fathoms' and number == '1' else name}"


def both(metres: float, units: Units = "m", figures: int = 2) -> str:
    """Return a length as a headline has it: metres with feet behind them in brackets; feet or fathoms alone."""
    if units != "m" or not np.isfinite(metres):
        return length(metres, units, figures)
    feet = min(figures, max(2, len(f"{abs(metres) / METRES_PER_FOOT:.0f}")))  # 22 m (72 ft), not 72.2
    return f"{length(metres, 'm', figures)} ({length(metres, 'ft', feet)})"


def off_bottom(height: float, units: Units = "m") -> str:
    """Return where fish are: '22 m (72 ft) off the bottom', or under it."""
    return f"{both(-height, units)} under the bottom" if height < 0 else f"{both(height, units)} off the bottom"


def banded(metres: float, louder: float, quieter: float, units: Units = "m") -> str:
    """Return a detection range with what it is at own noise 10 dB higher and lower: '262 m (201 to 331 m)'.

    Ends that are not known are left out, and so are ends that read as the range itself: there is no own noise.
    """
    shown, (low, high) = length(metres, units), (length(end, units) for end in (louder, quieter))
    if not np.isfinite([metres, louder, quieter]).all() or low == high == shown:
        return shown
    number, _, unit = low.partition(" ")
    return f"{shown} ({number if high.endswith(f' {unit}') else low} to {high})"


def fish_length(metres: float, units: Units = "m") -> str:
    """Return the length of a fish: cm or m, or inches up to 3 ft."""
    if units == "m" or metres >= 36.5 / 12 * METRES_PER_FOOT:
        return length(metres, "m" if units == "m" else "ft")
    return f"{_short(digits(metres / METRES_PER_FOOT * 12))} in"


def counted(count: int, one: str, several: str = "") -> str:
    """Return '1 ping', '3 pings'; several: the plural where it is not formed with s."""
    return f"{count} {one if count == 1 else several or one + 's'}"


_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def spelled(count: int) -> str:
    """Return a small number as a word."""
    return _NUMBERS[count] if 0 <= count < len(_NUMBERS) else str(count)


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


def percent(share: float) -> str:
    """Return a share as a percentage, 'unknown' where it is nan."""
    return f"{_short(digits(100 * share))} %" if np.isfinite(share) else "unknown"


def whole(value: float) -> str:
    """Return a number rounded to a whole one, with a real minus, never '-0'."""
    return f"{round(value)}".replace("-", "\u2212") if np.isfinite(value) else "unknown"


def interval(low: float, high: float) -> str:
    """Return an interval of a share: '52\u201398 %'."""
    return f"{100 * low:.0f}\u2013{100 * high:.0f} %"


def listed(names: Sequence[str]) -> str:
    """Return 'a', 'a and b', 'a, b and c'."""
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


def of(count: int, total: int) -> str:
    """Return '3 of 6', 'none of 6'."""
    return f"{count or 'none'} of {total}"


#: a headline is not broken between a count and its total
_OF = "\u00a0of\u00a0"


@dataclass(frozen=True)
class Run:
    """A stretch of a headline; element: place of the element it names, else None."""

    text: str
    element: int | None = None


def _ranked(counts: Sequence[tuple[int, bool]]) -> list[list[int]]:
    """Return places of elements by count, then by whether it is more than chance, best first; those alike together."""
    return [[i for i, c in enumerate(counts) if c == count] for count in sorted(set(counts), reverse=True)]


def _named(places: Sequence[int], names: Sequence[str]) -> list[Run]:
    runs: list[Run] = []
    for number, place in enumerate(places):
        last = number == len(places) - 1
        runs += [Run(" and " if last else ", ")] * bool(number) + [Run(names[place], place)]
    return runs


def headline(
    assessment: Assessment, record: Record, units: Units = "m", chosen: Group | None = None
) -> tuple[Run, ...]:
    """Return the answer of a recording: which elements separate the fish of a group, None: of the lowest one."""
    if not (result := of_record(record)):
        return _without_fish(assessment, record)
    group, names = chosen or result[0], [element.name for element in assessment.elements]
    total = len(group.fish)
    if assessment.elements[0].passes is not None:
        return _by_passes(assessment, group, units)
    counts = [group.count(element.mark, SEPARATED) for element in assessment.elements]
    shows, show = ("separates", "separate") if group.height <= NEAR else ("shows", "show")
    runs = [Run(f"{off_bottom(group.height, units)}, ")]
    if not any(counts):
        fish = f"any of the {total} fish" if total > 1 else "the fish"
        nobody = [
            Run(names[0], 0),
            Run(f" {shows} none of the {total} fish" if total > 1 else f" does not {show} the fish"),
        ]
        return (*runs, *(nobody if len(names) == 1 else [Run(f"no element {shows} {fish}")]))
    sure = [not by_chance(element, group) for element in assessment.elements]
    for number, places in enumerate(_ranked([*zip(counts, sure, strict=True)])):
        count = counts[places[0]]
        chance = "" if sure[places[0]] else " (may be chance)"
        runs += [Run(", ")] * bool(number) + _named(places, names)
        if number:
            alone = " do not" if len(places) > 1 else " does not"
            runs.append(Run(alone if total == 1 else f" {count}{_OF}{total}{chance}" if count else " none"))
            continue
        every = "both" if total == 2 else f"all {total}"
        some = f"{every if count == total else f'{count}{_OF}{total}'}\u00a0fish"
        what = "the fish" if total == 1 else some
        runs.append(Run(f" {show if len(places) > 1 else shows} {what}{chance}"))
    return tuple(runs)


def _by_passes(assessment: Assessment, group: Group, units: Units) -> tuple[Run, ...]:
    """Return the answer over fresh passes: the share of passes in which each element separates a fish of the group."""
    shares = [e.passes.separates(group.fish) if e.passes else e.separated for e in assessment.elements]
    does = "separates" if group.height <= NEAR else "shows"
    runs = [Run(f"{off_bottom(group.height, units)}, ")]
    for number, place in enumerate(sorted(range(len(shares)), key=lambda i: -shares[i].value)):
        runs += [Run(", ")] * bool(number) + [Run(assessment.elements[place].name, place)]
        value, span = probability(shares[place]).split(" (")
        runs.append(Run(f" in {value} ({span}" if number else f" {does} a fish in {value} of passes ({span}"))
    return tuple(runs)


def probability(share: Share | Certainty) -> str:
    """Return a share with its interval: '98 % (95\u201399 %)'."""
    return f"{100 * share.value:.0f} % ({interval(share.low, share.high)})".replace(" %", "\u00a0%")


def outcome(element: ElementAssessment, group: Group | None = None) -> tuple[str, str]:
    """Return how much of a group's fish (None: of all) an element separates, and what that is.

    ('3 of 6', 'separated') in one recording; ('98 %', 'separated (95\u201399 %)') over fresh passes.
    """
    if element.passes is not None:
        share = element.passes.separates(slice(None) if group is None else group.fish)
        return f"{100 * share.value:.0f} %", f"separated ({interval(share.low, share.high)})"
    if group is None:
        return of(element.separated.hits, element.separated.of), "separated"
    return of(group.count(element.mark, SEPARATED), len(group.fish)), "separated"


def fate_in_passes(element: ElementAssessment, fish: int) -> str:
    """Return how often one fish is separated in fresh passes: 'separated in 63 of 64 passes'; '' without passes."""
    if element.passes is None:
        return ""
    share = element.passes.separates([fish])
    return f"separated in {of(share.hits, share.passes)} passes ({interval(share.low, share.high)})"


def _without_fish(assessment: Assessment, record: Record) -> tuple[Run, ...]:
    others = things(record)  # what is there, not what is shown: a target may lie beside the beam
    first = Run(f"No single fish in this water{f', but {listed(others)}' if others else ''}; ")
    names = [element.name for element in assessment.elements]
    heard = [i for i, e in enumerate(assessment.elements) if np.isfinite(e.bottom_range).any()]
    deaf = [i for i in range(len(names)) if i not in heard]
    if len(names) > 1 and not (heard and deaf):
        return first, Run(f"{'every' if heard else 'no'} element shows the seabed")
    runs = [first]
    for places, does in ((heard, ("show", "shows")), (deaf, ("do not show", "does not show"))):
        if places:
            runs += [Run(", ")] * (len(runs) > 1) + _named(places, names)
            runs.append(Run(f" {does[len(places) == 1]} the seabed"))
    return tuple(runs)


def answer(assessment: Assessment, record: Record, units: Units = "m") -> str:
    """Return the headline as one sentence."""
    return "".join(run.text for run in headline(assessment, record, units)).replace("\u00a0", " ") + "."


def _false_rate(element: ElementAssessment, group: Group) -> float:
    """Return the share of false alarms at the places of a group's fish; of all fish where its own are not known."""
    own = element.false_alarms_of
    known = own[group.fish][np.isfinite(own[group.fish])] if len(own) else own
    return float(known.mean()) if len(known) else element.false_alarms.value


def by_chance(element: ElementAssessment, group: Group) -> str:
    """Return the remark that a count is not told from false alarms: '1 expected with no fish there'; else ''.

    Given if false alarms alone would give this count or more with a probability above 0.05 (binomial); not of
    fresh passes, which do not count.
    """
    count, total, rate = group.count(element.mark, SEPARATED), len(group.fish), _false_rate(element, group)
    if element.passes is not None:
        return ""
    if not (count and np.isfinite(rate) and rate > 0):
        return ""
    tail = sum(comb(total, k) * rate**k * (1 - rate) ** (total - k) for k in range(count, total + 1))
    if tail <= 0.05:
        return ""
    return f"{digits(rate * total, 1)} expected with no fish there"


def fish_of(group: Group, units: Units) -> str:
    """Return '3 fish of 40 cm'."""
    return f"{len(group.fish)} fish of {fish_length(group.length, units)}"


def verdict(element: ElementAssessment) -> str:
    """Return how many of all fish an element separated from the bottom."""
    total = len(element.mark)
    return f"{of(element.counts.get(SEPARATED, 0), total)} fish separated" if total else "no single fish in this water"


def things(record: Record) -> list[str]:
    """Return what is in the water besides single fish: '2 targets', '1 school'."""
    kinds = [soft.kind for soft in record.truth.soft]
    counts = {"structure": len(record.truth.structures)} | {k: kinds.count(k) for k in dict.fromkeys(kinds)}
    return [counted(count, kind.replace("_", " ")) for kind, count in counts.items() if count]


def fish_words(record: Record, units: Units) -> str:
    """Return the fish of a scene in words: '10 fish of 40 cm, 30 cm to 2.2 m above the bottom'."""
    fish = record.truth.fish
    if not len(fish.id):
        return "no fish"
    short, tall = (fish_length(float(end), units) for end in (fish.length.min(), fish.length.max()))
    low, high = (length(float(end), units) for end in (fish.height.min(), fish.height.max()))
    size = short if short == tall else f"{short} to {tall}"
    return f"{len(fish.id)} fish of {size}, {low if low == high else f'{low} to {high}'} above the bottom"
