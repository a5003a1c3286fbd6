"""The sentences that argue for and against a candidate, from the numbers of its runs."""

from collections.abc import Mapping

import numpy as np

from pingwright.match import parts
from pingwright.match.hits import BoolArray, Hits, seen_by
from pingwright.match.ranking import Ranked, advised, changes, leaders

_WORDS: Mapping[str, str] = {
    "separated": "parting fish from the bottom",
    "detected": "detecting fish",
    "swath": "swath",
    "detail": "detail",
    "small_fish": "small fish",
    "reach": "reach",
}

#: A part counts as an argument only where it moves the score by at least this much.
_WORTH = 0.01


def name_of(hits: Hits, members: tuple[int, ...]) -> str:
    """Return a candidate's name: its elements, joined by a plus."""
    return " + ".join(hits.elements[i] for i in members)


def why(place: int, ranked: tuple[Ranked, ...], hits: Hits, weights: Mapping[str, float]) -> str:
    """Return two sentences: what the candidate sees that others do not, and what it will miss.

    A pair's price, a tie and what dominates it are said after these.
    """
    mine = ranked[place]
    sentences = [_sees(mine, ranked, hits), _misses(mine, ranked, hits, weights)]
    if len(mine.members) > 1:
        sentences.append(_price(mine, ranked, hits))
    if mine.ties_with:
        near = [name_of(hits, ranked[p].members) for p in mine.ties_with[:3]]
        more = f" and {len(mine.ties_with) - 3} more" if len(mine.ties_with) > 3 else ""
        sentences.append(f"At {hits.runs} runs it cannot be told apart from {', '.join(near)}{more}.")
    if mine.dominated_by:
        better = name_of(hits, ranked[mine.dominated_by[0]].members)
        sentences.append(f"Dominated: {better} is as good or better in every part that counts.")
    return " ".join(sentences)


def turning(ranked: tuple[Ranked, ...], hits: Hits) -> str:
    """Return where along depth the answer changes, in a sentence; of single elements in a second one."""
    best, singles = advised(ranked), alone(ranked)
    said = _turns((best, *(p for p in range(len(ranked)) if p != best)), ranked, hits)
    if best in singles:
        return said
    return f"{said} Of single elements: {_turns(singles, ranked, hits)}"


def alone(ranked: tuple[Ranked, ...]) -> tuple[int, ...]:
    """Return the places of the single elements, best first."""
    return tuple(p for p, r in enumerate(ranked) if len(r.members) == 1)


def _turns(among: tuple[int, ...], ranked: tuple[Ranked, ...], hits: Hits) -> str:
    """Say where the lead among some places, best first, changes along depth."""
    lead = leaders(ranked, among)
    first = name_of(hits, ranked[lead[0]].members)
    span = f"From {hits.edges[0]:g} to {hits.edges[-1]:g} m"
    turns = changes(lead, hits.edges)
    if not turns:
        return f"{span} nothing certainly leads {first}."
    over = [f"beyond {c.depth:.0f} m {name_of(hits, ranked[c.after].members)} takes over" for c in turns]
    return f"{span} {first} leads at first; {'; '.join(over)}."


def notable(ranked: tuple[Ranked, ...]) -> tuple[int, ...]:
    """Return the places worth arguing: the first three, every single element, and the last."""
    return tuple(sorted({*range(min(3, len(ranked))), *alone(ranked), len(ranked) - 1}))


def _sees(mine: Ranked, ranked: tuple[Ranked, ...], hits: Hits) -> str:
    """Say what it shows, and how much of it no other single element shows."""
    others = [i for i in range(len(hits.elements)) if i not in mine.members]
    separated, detected = seen_by(hits.separated, mine.members), seen_by(hits.detected, mine.members)
    said = (
        f"It detects {_percent(mine.parts['detected'])} and separates {_percent(mine.parts['separated'])} of the "
        f"fish it is steered over"
    )
    by_species = _by_species(separated, hits)
    if len(hits.species) > 1:
        said += f" ({by_species} separated)"
    if others:
        missed = separated & ~hits.separated[others].any(axis=0)
        only = float(np.sum(hits.share * missed.mean(axis=(0, 2))))
        if only >= 0.005:
            return f"{said}; {_percent(only)} of all fish no other element parts."
    share = float(np.sum(hits.share * (detected & ~separated).mean(axis=(0, 2))))
    return f"{said}; {_percent(share)} it shows grown together with the bottom." if share >= 0.005 else f"{said}."


def _by_species(separated: BoolArray, hits: Hits) -> str:
    rates = separated.mean(axis=(0, 2))
    return ", ".join(f"{name} {_percent(float(rate))}" for name, rate in zip(hits.species, rates, strict=True))


def _misses(mine: Ranked, ranked: tuple[Ranked, ...], hits: Hits, weights: Mapping[str, float]) -> str:
    """Say where it loses most against the best single element in a part that counts."""
    whole = parts.alike(hits)
    vector = {name: float(weights.get(name, 1.0)) for name in parts.NAMES}
    total = sum(vector.values())
    singles = [r for r in ranked if len(r.members) == 1 and r is not mine]
    worst, loss, best = "", _WORTH, None
    for name in parts.NAMES:
        for rival in singles:
            lost = vector[name] / total * (rival.parts[name] - mine.parts[name])
            if lost > loss:
                worst, loss, best = name, lost, rival
    if best is None:
        return "No single element does noticeably better in anything that counts."
    other = name_of(hits, best.members)
    if worst == "swath":
        mine_width, its_width = mine.parts[worst], best.parts[worst]
        return (
            f"It will miss what lies to the side: it searches {_percent(mine_width)} of their depth across the track, "
            f"{other} {_percent(its_width)}."
        )
    if worst == "detail":
        mine_cm, its_cm = (100 * float(hits.resolution[list(m)].min()) for m in (mine.members, best.members))
        return f"It will miss detail: it resolves {mine_cm:.1f} cm of range, {other} {its_cm:.1f} cm."
    if worst == "small_fish":
        mine_cm, its_cm = (100 * parts.smallest(hits, m, whole) for m in (mine.members, best.members))
        own = f"needs fish of {mine_cm:.0f} cm" if np.isfinite(mine_cm) else "shows none of the small fish tried"
        return f"It will miss small fish: it {own}, {other} {its_cm:.0f} cm."
    if worst == "reach":
        return (
            f"It will miss what is deep: its reach is {1.5 * mine.parts[worst]:.2f} of the depth, "
            f"that of {other} {1.5 * best.parts[worst]:.2f}."
        )
    return f"It loses most in {_WORDS[worst]}: {_percent(mine.parts[worst])}, {other} {_percent(best.parts[worst])}."


def _price(mine: Ranked, ranked: tuple[Ranked, ...], hits: Hits) -> str:
    """Say what the second beam costs and brings."""
    own = [r for r in ranked if len(r.members) == 1 and r.members[0] in mine.members]
    best = max(own, key=lambda r: r.score)
    gain = mine.score - best.score
    return f"Its price is a second beam, for {gain:+.2f} of score over {name_of(hits, best.members)} alone."


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"
