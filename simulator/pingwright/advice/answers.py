"""The sentences that answer each question, from its numbers, in the customer's units."""

from collections.abc import Callable, Mapping

import numpy as np

from pingwright import words
from pingwright.advice import cases
from pingwright.advice.numbers import Banded, Passing
from pingwright.advice.tables import Found, Water, deep, share, small
from pingwright.advice.variants import variants
from pingwright.echograms.record import FloatArray
from pingwright.words import fish_length, listed

DEFINITIONS = {
    "shown": "probability that a pass of the boat shows the fish, which means that at least three pings of one row"
    " detect it; the fish may be anywhere within the -3 dB width of the narrowest beam compared",
    "clear of the bottom": "the same, and the echo of the fish is separated from the echo of the bottom; only then can"
    " you be sure that it is a fish",
    "swath": "the width of water that a pass searches: the integral, over the distance to the side, of the probability"
    " that a pass shows the fish (Buckland et al. 2001)",
    "footprint": "width of the beam across the track at the depth of the fish, one way, -3 dB",
    "pings on a fish": "number of pings while a fish straight under the track is inside the -3 dB beam; the ping rate"
    " is automatic and waits for the second bottom echo",
    "between pings": "share of the fish straight under the track that are missed: they are never inside the -3 dB beam"
    " when the element pings",
    "down to": "for a fish: the depth at which one ping in two shows it in open water; for the bottom: the depth to"
    " which nine pings in ten find it within 2 % of the depth or half a metre; the pulse is the one for that depth",
    "smallest fish": "length of the fish that one pass in two straight above it shows; the bottom is ignored; the"
    " model of target strength does not hold below one wavelength, so a shorter length is given as"
    " under the wavelength",
    "noise +10 to -10 dB": "the boat's own noise is assumed and may be wrong by 10 dB: the two numbers hold for a boat"
    " 10 dB louder and 10 dB quieter",
}


def answer(results: Found) -> list[str]:
    """Return the answer in sentences: the first one answers, the others give reasons and more facts."""
    return [text for text in _ANSWERS[results.about](results) if text]


def _best(results: Found, water: Water, value: Callable[[Passing], float]) -> list[tuple[float, str]]:
    """Return values and names, the best first."""
    each = [(value(p), name) for p, name in zip(water.passes, results.elements, strict=True) if p is not None]
    return sorted(each, key=lambda one: -one[0])


def _swath(results: Found) -> list[str]:
    texts = []
    for water in results.waters:
        order = _best(results, water, lambda p: p.swath.value)
        if results.long(order[0][0]) == "nothing":
            texts.append(
                f"For {water.species} at a depth of {results.long(water.fish)}, no element searches any width."
            )
            continue
        last = results.long(order[-1][0]) if order[-1][0] >= 0.3 else "almost nothing"
        other = f", the {order[-1][1]} {last}" if len(order) > 1 else ""
        texts.append(
            f"For {water.species} at a depth of {results.long(water.fish)}, the {order[0][1]} searches a width of"
            f" {results.long(order[0][0])}{other}."
        )
    return [*texts, *_missed(results)]


def _missed(results: Found) -> list[str]:
    """Return how many fish a speed misses between pings, for the water in which it misses most."""
    rows = [
        (p.unmet, p.pings, name, w)
        for w in results.waters for p, name in zip(w.passes, results.elements, strict=True) if p is not None
    ]  # fmt: skip
    if not rows:
        return []
    unmet, met, name, water = max(rows, key=lambda row: row[:2] if row[0] > 0 else (0.0, -row[1]))
    speed = cases.speed_words(float(results.trip.day.speed)) if not water.day else water.day
    step = (
        f"At {speed}, in {results.long(water.bottom)} of water, the boat moves {results.long(water.step)} between pings"
    )
    if unmet >= 0.01:
        return [
            f"{step}: the {name} misses {share(unmet)} of the {water.species} straight under the track at"
            f" {results.long(water.fish)}, because they are never inside its beam when it pings."
        ]
    few = words.counted(int(met), "ping")
    return [f"{step}: every {water.species} straight under the track is hit by at least {few}."]


def _loss(results: Found) -> list[str]:
    """Return which one element loses least over all waters, and against which it loses most."""
    worth = np.array([[p.separated if p else 0.0 for p in w.passes] for w in results.waters])
    best = worth.max(axis=1, keepdims=True)
    lost = (best - worth).mean(axis=0)
    swath = np.array([[p.swath.value if p else 0.0 for p in w.passes] for w in results.waters])
    part = (swath / np.maximum(swath.max(axis=1, keepdims=True), 1e-9)).mean(axis=0)
    order = np.lexsort((-part, np.round(lost, 2)))
    one, names = int(order[0]), results.elements
    worst = int(np.argmax(best[:, 0] - worth[:, one]))
    water, rival = results.waters[worst], int(np.argmax(worth[worst]))
    first = f"The best single element for everything is the {names[one]}."
    given_up = float(best[worst, 0] - worth[worst, one])
    if given_up < 0.02:
        second = "In every water named here it shows fish clear of the bottom as often as the best element does."
    else:
        second = (
            f"It loses most with {water.species} in {results.over(water)}: it shows"
            f" {share(worth[worst, one])} of them clear of the bottom, the {names[rival]} {share(worth[worst, rival])}."
        )
    narrow = int(np.argmin(swath[:, one] / np.maximum(swath.max(axis=1), 1e-9)))
    widest = int(np.argmax(swath[narrow]))
    third = "" if results.long(swath[narrow, widest]) == results.long(swath[narrow, one]) else (
        f"In {results.over(results.waters[narrow])} it searches a width of"
        f" {results.long(swath[narrow, one])} for {results.waters[narrow].species}, the {names[widest]}"
        f" {results.long(swath[narrow, widest])}."
    )  # fmt: skip
    return [first, second, third, _held(results, one), _pair(results, worth)]


def _pair(results: Found, worth: FloatArray) -> str:
    """Return the pair that loses least: a fish counts if either element shows it.

    Counted fish by fish: what one element cannot show, because it swims in the blind range or between two pings, the
    other mostly cannot show either. Given the fish, their echoes fade independently.
    """
    names, count = results.elements, len(results.elements)
    pairs = [(i, j) for i in range(count) for j in range(i + 1, count)]
    if not pairs:
        return ""
    missed = [[1 - np.array(p.clear) if p else np.ones(1) for p in w.passes] for w in results.waters]
    both = [float(np.mean([1 - np.mean(water[i] * water[j]) for water in missed])) for i, j in pairs]
    i, j = pairs[int(np.argmax(both))]
    gain = max(both) - float(worth.mean(axis=0).max())
    if gain < 0.02:
        return "A second element shows almost no more fish clear of the bottom; it can add width or depth."
    return (
        f"The best pair is {names[i]} + {names[j]}: it shows {share(gain)} more of all these fish than the best single"
        " element."
    )


def _held(results: Found, one: int) -> str:
    """Return how deep an element shows the bottom, and how deep the best one does."""
    texts = []
    for (_, sediment), each in results.bottom.items():
        best = max(range(len(each)), key=lambda i: each[i].value if np.isfinite(each[i].value) else 0.0)
        rest = "" if best == one else f", the {results.elements[best]} to {deep(results, each[best].value)}"
        texts.append(f"a bottom of {sediment} down to {deep(results, each[one].value)}{rest}")
    return f"The {results.elements[one]} shows {listed(texts)}." if texts else ""


def _depth(results: Found) -> list[str]:
    texts = [_deepest(results, f"a bottom of {what} is shown", label, each)
            for (label, what), each in results.bottom.items()]  # fmt: skip
    if cases.asked(results.trip).sediments:
        return [
            *texts,
            _order_by_noise(results, {(day, f"a bottom of {s}"): b for (day, s), b in results.bottom.items()}),
        ]
    deep = cases.asked(results.trip).depths or (max(results.trip.day.depth),)
    here = [_at(results, one, what, label, each) for (label, what), each in results.fish.items() for one in deep]
    fish = [_deepest(results, f"{what} is shown", label, each) for (label, what), each in results.fish.items()]
    return [*here, *fish, *texts, _order_by_noise(results, results.fish)]


def _at(results: Found, depth: float, what: str, label: str, each: tuple[Banded, ...]) -> str:
    """Return which elements show a fish at a depth [m] in one ping of two."""
    able = [name for name, b in zip(results.elements, each, strict=True) if b.value >= depth]
    best = results.elements[int(np.argmax([b.value for b in each]))]
    who = "every element shows" if len(able) == len(each) > 1 else "no element shows"
    if len(each) == 1:
        who = f"the {best} {'shows' if able else 'does not show'}"
    elif 0 < len(able) < len(each):
        who = f"only the {listed(able)} show{'s' if len(able) == 1 else ''}"
    spare = f", the {best} with most to spare" if len(able) > 1 else ""
    return f"{_when(label, ', at', 'At')} {results.long(depth)} {who} {what}{spare}."


def _when(label: str, then: str = ",", alone: str = "") -> str:
    """Return the label of a day as the beginning of a sentence; then: follows it; alone: in place of no label."""
    if label.endswith(" kn"):
        return f"At {label}{then}"
    if label.startswith("roll "):
        return f"With a {label.replace('roll', 'roll of', 1)}{then}"
    return f"{label[:1].upper()}{label[1:]}{then}" if label else alone


def _deepest(results: Found, what: str, label: str, each: tuple[Banded, ...]) -> str:
    at = f"{_when(label)} " if label else ""
    ends = [f"to {results.long(b.value)} by the {name}" for name, b in zip(results.elements, each, strict=True)]
    text = f"{at}{what} {listed(ends)}."
    return text[:1].upper() + text[1:]


def _order_by_noise(results: Found, deep: Mapping[tuple[str, str], tuple[Banded, ...]]) -> str:
    """Return whether own noise, known to 10 dB, changes which element reaches deepest; deep: by day and thing."""
    for (label, what), each in deep.items():
        ends = ([b.value for b in each], [b.low for b in each], [b.high for b in each])
        firsts = {int(np.argmax(end)) for end in ends if np.isfinite(end).all()}
        if len(firsts) > 1:
            names = " or ".join(results.elements[i] for i in sorted(firsts))
            begin = f"{_when(label)} which" if label else "Which"
            return (
                f"{begin} shows {what} deepest, {names}, depends on the boat's own noise. That noise is assumed and may"
                " be 10 dB higher or lower."
            )
    if not deep or len(results.elements) < 2:
        return ""
    return "The same element reaches deepest if the boat's own noise is 10 dB higher or lower."


def _size(results: Found) -> list[str]:
    texts = []
    for water in results.waters:
        each = sorted(
            ((b.value if np.isfinite(b.value) else 9.0, i) for i, b in enumerate(water.smallest) if b is not None)
        )
        entry = next(s for s in results.trip.species if str(s.name) == water.species)
        able = [results.elements[i] for size, i in each if size <= float(entry.length.mean)]
        size = fish_length(float(entry.length.mean), results.units)
        who = "every element" if len(able) == len(each) else listed(able) if able else "no element"
        (best, worst), waves = (each[0][1], each[-1][1]), water.wavelength
        first, last = water.smallest[best], water.smallest[worst]
        one = f"A {'' if water.species.lower().startswith('single ') else 'single '}{water.species}"
        texts.append(
            f"{one} of {size} at a depth of {results.long(water.fish)} is shown in at least one pass of two by {who}."
        )
        if first and last:
            other = f", {small(results, last.value, waves[worst])} by the {results.elements[worst]}"
            texts.append(
                f"The smallest fish shown there is {small(results, first.value, waves[best])} by the"
                f" {results.elements[best]}{other if worst != best else ''}."
            )
    return texts


def _beam(results: Found) -> list[str]:
    names, texts = results.elements, []
    two = len(names) > 1
    for water in results.waters[:2]:
        a, b = water.passes[0], water.passes[-1]
        if a and b:
            other = f", the {names[-1]} {results.long(b.swath.value)} and {share(b.separated)}" if two else ""
            texts.append(
                f"For {water.species} in {results.long(water.bottom)} of water, the {names[0]} searches a width of"
                f" {results.long(a.swath.value)} and shows {share(a.separated)} clear of the bottom{other}."
            )
    why = ": a wide beam has a lower source level and receives more noise"
    deep = [
        f"The {names[0]} shows {what} to {results.long(each[0].value)}"
        f"{f', the {names[-1]} to {results.long(each[-1].value)}{why}' if two else ''}."
        for (_, what), each in results.fish.items()
    ]
    return [*texts, *deep, *_missed(results)]


def _days(results: Found) -> list[str]:
    """Return what each element shows on the first and on the last of the days compared."""
    first, last = results.days[0].label, results.days[-1].label
    texts = []
    for i, name in enumerate(results.elements):
        for before in (w for w in results.waters if w.day == first):
            after = next(
                w for w in results.waters if (w.day, w.species, w.bottom) == (last, before.species, before.bottom)
            )
            a, b = before.passes[i], after.passes[i]
            if a and b:
                was = [share(a.separated), results.long(a.swath.value)]
                texts.append(
                    f"{_when(last)} the {name} shows {share(b.separated)} of the {before.species} over"
                    f" {results.long(before.bottom)} clear of the bottom ({first}: {was[0]}), and searches a width of"
                    f" {results.long(b.swath.value)} ({first}: {was[1]})."
                )
    deep = []
    if results.about == "speed":
        for (label, what), each in results.bottom.items():
            if label in (first, last):
                deep.append(_deepest(results, f"a bottom of {what} is shown", label, each))
    missed = _missed(results) if results.about == "speed" else [
        "Roll costs little in a pass, because some of the pings still point straight down, and three are enough."
    ]  # fmt: skip
    return [*texts, *deep, *missed]


_ANSWERS: dict[str, Callable[[Found], list[str]]] = {
    "swath": _swath, "loss": _loss, "depth": _depth, "size": _size, "power": variants, "pulse": variants,
    "chirp": variants, "beam": _beam, "speed": _days, "roll": _days,
}  # fmt: skip
