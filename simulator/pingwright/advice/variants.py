"""What one element gains with more power, a longer pulse or a chirp, in sentences."""

import numpy as np

from pingwright.advice.numbers import LADDER
from pingwright.advice.tables import Found, share
from pingwright.words import Units, length, listed

#: A detection range this many times the depth of the water does not matter to anybody.
FAR = 3.0
#: A loss [dB] so small that nobody would see it.
NOTHING = 0.3


def _bases(results: Found) -> list[tuple[str, list[int]]]:
    """Return names of elements before the comma, and the places of their variants, in order."""
    bases = dict.fromkeys(name.split(", ")[0] for name in results.elements)
    return [(b, [i for i, n in enumerate(results.elements) if n.split(", ")[0] == b]) for b in bases]


def variants(results: Found) -> list[str]:
    """Return what the last variant of each element gains over the first: depth of fish and bottom, swath, fish."""
    first_words, texts = [], []
    for base, places in _bases(results):
        first, last = places[0], places[-1]
        old, new = (results.elements[i].split(", ", 1)[-1] for i in (first, last))
        for (_, species), each in results.fish.items():
            a, b = each[first].value, each[last].value
            gain = round(100 * (b / a - 1))
            more = f"{abs(gain)} % {'deeper' if gain > 0 else 'less deep'}" if gain else "no deeper"
            first_words.append(f"the {base} shows {species} {more}")
            texts.append(
                f"The {base} shows {species} to {_deep(results, b)} with {new}, to {_deep(results, a)} with {old}"
                f"{_bottom_too(results, first, last)}."
            )
        texts.append(_harmonics(results, base, first, last))
    texts += [_resolution(results), _in_water(results)]
    if all(b.value > FAR * max(results.trip.day.depth) for each in results.fish.values() for b in each):
        beyond = (
            "All of them could show this fish much deeper than this water is. What matters is how close to the bottom"
            " they show it."
        )
        return [_in_water(results), _resolution(results), beyond]
    return [f"With {new} instead of {old}, {listed(first_words)}.", *texts] if first_words else texts


def _deep(results: Found, metres: float) -> str:
    """Return a depth with three digits, so that small gains are visible."""
    return length(metres, results.units, 3) if metres < 0.999 * LADDER[-1] else f"over {results.long(metres)}"


def _resolution(results: Found) -> str:
    """Return how close in depth two fish may be and still show as two, if the variants differ in this."""
    if results.about == "power" or not results.waters:
        return ""
    sizes = [length(size, near(results)) for size in results.waters[0].resolution]
    each = [f"{text} ({base})" for base, text in _by_variant(results, sizes)]
    return f"Two fish show as two if their depths differ by at least {'; '.join(each)}."


def _by_variant(results: Found, values: list[str]) -> list[tuple[str, str]]:
    """Return each element's name and its values as a text, that of the last variant first."""
    texts = []
    for base, places in _bases(results):
        with_each = [f"{values[i]} with {results.elements[i].split(', ', 1)[-1]}" for i in reversed(places)]
        same = len(places) > 1 and len({values[i] for i in places}) == 1
        texts.append((base, f"{values[places[0]]} with each of them" if same else listed(with_each)))
    return texts


def near(results: Found) -> Units:
    """Return the units of short lengths: nobody gives them in fathoms."""
    return "ft" if results.units == "fathoms" else results.units


def _bottom_too(results: Found, first: int, last: int) -> str:
    for (_, sediment), each in results.bottom.items():
        return (
            f"; it shows a bottom of {sediment} to {_deep(results, each[last].value)} and"
            f" {_deep(results, each[first].value)}"
        )
    return ""


def _harmonics(results: Found, base: str, first: int, last: int) -> str:
    """Return how much of a gain in power is lost to harmonics, one way to the deepest bottom named."""
    if results.about != "power" or not results.waters:
        return ""
    specs = results.days[0].trip.element
    gain = 10 * float(np.log10(float(specs[last].power) / float(specs[first].power)))
    taken = results.waters[-1].harmonics[last] - results.waters[-1].harmonics[first]
    if taken < NOTHING:
        return f"The {base} gets {gain:.1f} dB more power, and nearly all of it reaches the bottom."
    return (
        f"The {base} gets {gain:.1f} dB more power, but only {gain - taken:.1f} dB reach the bottom: the rest goes"
        " into harmonics (nonlinear loss)."
    )


def _in_water(results: Found) -> str:
    """Return what the variants show in the first water."""
    if not results.waters:
        return ""
    water = results.waters[0]
    shares = [(name, share(p.separated)) for name, p in zip(results.elements, water.passes, strict=True) if p]
    if len({part for _, part in shares}) == 1 and len(shares) > 1:
        return (
            f"All of them show {shares[0][1]} of the {water.species} in {results.long(water.bottom)} of water clear of"
            " the bottom."
        )
    parts = [share(p.separated) if p else "nothing" for p in water.passes]
    (base, first), *others = _by_variant(results, parts)
    rest = "".join(f"; the {name} shows {text}" for name, text in others)
    return (
        f"In {results.long(water.bottom)} of water, the share of the {water.species} that the {base} shows clear of the"
        f" bottom is {first}{rest}."
    )
