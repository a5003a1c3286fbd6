"""The first answer, from formulas, and where simulated passes contradict it."""

from collections.abc import Mapping

import numpy as np

from pingwright.match.hits import Hits
from pingwright.match.ranking import Ranked
from pingwright.match.reasons import name_of
from pingwright.measure.intervals import clopper_pearson

#: A share of fish in passes differs from its closed form beyond this [1], if its interval does not hold it either.
APART = 0.1


def table(ranked: tuple[Ranked, ...], hits: Hits, most: int = 8) -> str:
    """Return the first candidates with their scores from formulas, a line each."""
    names = [name_of(hits, r.members) for r in ranked[:most]]
    wide = max(map(len, names))
    lines = [
        f"  {name.ljust(wide)}  score {r.score:.2f}   clear of the bottom {100 * r.parts['separated']:3.0f} %"
        f"   shown {100 * r.parts['detected']:3.0f} %"
        for name, r in zip(names, ranked, strict=False)
    ]  # fmt: skip
    return "\n".join(lines)


def scores(ranked: tuple[Ranked, ...]) -> Mapping[tuple[int, ...], float]:
    """Return the score of each candidate by its members."""
    return {r.members: r.score for r in ranked}


def differences(hits: Hits, closed: Hits | None) -> list[str]:
    """Return which shares of fish differ from their closed forms by more than APART, beyond chance, in sentences."""
    texts: list[str] = []
    if closed is None:
        return texts
    for e, element in enumerate(hits.elements):
        for q, species in enumerate(hits.species):
            for what, name in (("shown", "detected"), ("clear of the bottom", "separated")):
                passes = getattr(hits, name)[e][:, q]
                formula = float(getattr(closed, name)[e][:, q].mean())
                low, high = clopper_pearson(round(float(passes.sum())), int(np.size(passes)))
                share = float(passes.mean())
                if abs(share - formula) > APART and not low <= formula <= high:
                    texts.append(
                        f"{element}, {species} {what}: {100 * formula:.0f} % by formula, {100 * share:.0f} % in passes."
                    )
    return texts
