"""The advice in sentences: what to fish with, what it shows, and what the answer rests on."""

from typing import TYPE_CHECKING

from pingwright.match import formulas, ranking, reasons

if TYPE_CHECKING:
    from pingwright.match.pipeline import Match


def answer(match: "Match", last: str = "Without --quick, passes are simulated.") -> str:
    """Return the advice in one or two sentences, and its basis; last: what follows an answer from formulas."""
    hits, best = match.hits, match.ranked[ranking.advised(match.ranked)]
    first, name = headline(match), reasons.name_of(hits, best.members)
    text = f"{first[:1].upper()}{first[1:]}. {reasons.shows(best, hits, match.units, f'The {name}')}"
    if len(best.members) > 1 and (alone := reasons.alone(match.ranked)):
        single = match.ranked[alone[0]]
        text += f" With one element only, take the {reasons.name_of(hits, single.members)}."
    if not hits.quick:
        return text
    bare = f", but leaves the {out} out" if (out := _ignored(match)) else ""
    return f"{text} This answer comes from formulas: it is quick{bare}. {last}"


def _ignored(match: "Match") -> str:
    """Return what is on the bottom that day and formulas leave out, "" for nothing: beside single fish they do not."""
    day, schools = match.trip.day, any(species.size is not None for species in match.trip.species)
    return ("wreck" if day.wreck else "reef" if day.standing else "ledge" if day.ledge else "") if schools else ""


def first(match: "Match") -> str:
    """Return the answer from formulas with the best candidates, to be shown while passes are simulated."""
    text = answer(match, last="Now passes are simulated.")
    without = f" that leave the {_ignored(match)} out" if _ignored(match) else ""
    return f"First answer, from formulas{without}: {text}\n\n{formulas.table(match.ranked, match.hits)}\n"


def sharpened(text: str) -> str:
    """Return the answer from passes, to be shown while it is checked what it depends on."""
    last = "Now it is tried whether other noise, fish or ground would change this."
    return f"\nAnswer from simulated passes: {text}\n\n{last}"


def headline(match: "Match") -> str:
    """Return the choice and its ties, without a capital letter: 'fish with the high-pencil'."""
    hits, best = match.hits, match.ranked[ranking.advised(match.ranked)]
    like = [match.ranked[p] for p in best.ties_with if len(match.ranked[p].members) == len(best.members)]
    names = [f"the {reasons.name_of(hits, r.members)}" for r in (best, *like[:2])]
    choice = f"{', '.join(names[:-1])} or {names[-1]}" if like else names[0]
    more = len(like) - 2
    equal = f" ({'one more is' if more == 1 else f'{more} more are'} as good)" if more > 0 else ""
    return f"fish with {choice}{equal}"
