"""The sentences for and against a candidate, in the customer's units, from the numbers of its passes."""

from collections.abc import Mapping

import numpy as np

from pingwright.inputs.trip import Trip
from pingwright.match import parts
from pingwright.match.hits import Hits, seen_by
from pingwright.match.ranking import Ranked, advised, changes, leaders
from pingwright.words import Units, banded, length, listed

#: A part is mentioned only if it changes the score by at least this much.
_WORTH = 0.01


def name_of(hits: Hits, members: tuple[int, ...]) -> str:
    """Return a candidate's name: its elements, joined by a plus."""
    return " + ".join(hits.elements[i] for i in members)


def often(share: float) -> str:
    """Return a share of fish in words, such as "8 in 10"."""
    if share < 0.02:
        return "hardly any"
    if share < 0.075:
        return "1 in 20"
    return "nearly all" if share > 0.95 else f"{max(round(10 * share), 1)} in 10"


def why(place: int, ranked: tuple[Ranked, ...], hits: Hits, weights: Mapping[str, float], units: Units = "m") -> str:
    """Return two sentences: what the candidate shows, and what it costs."""
    mine = ranked[place]
    against = _gives_up(mine, ranked, hits, weights, units)
    if len(mine.members) > 1:
        against = _second_beam(mine, ranked, hits, units)
    return f"{shows(mine, hits, units)} {against}"


def shows(mine: Ranked, hits: Hits, units: Units, who: str = "It") -> str:
    """Return in a sentence which fish a candidate shows, and the width that it searches."""
    alike: dict[tuple[str, str], list[str]] = {}
    for q, name in enumerate(hits.species):
        detected, separated = (float(seen_by(h, mine.members)[:, q].mean()) for h in (hits.detected, hits.separated))
        clear = "all of them" if separated > detected - 0.02 else often(separated)
        alike.setdefault((often(detected), clear), []).append(f"the {name}")
    shown = [
        f"{many} of {listed(names)} under the boat" + ("" if many == often(0.0) else f", {clear} clear of the bottom")
        for (many, clear), names in alike.items()
    ]
    deep = float(np.median(hits.fish_depth))
    wide = float(parts.swath(hits, mine.members, parts.alike(hits))) * deep
    return (
        f"{who} shows {listed(shown)}, and searches a width of {length(wide, units)} at a depth of"
        f" {length(deep, units)}."
    )


def turning(ranked: tuple[Ranked, ...], hits: Hits, units: Units = "m") -> str:
    """Return where along depth the answer changes, in a sentence; of single elements in a second one."""
    best, singles = advised(ranked), alone(ranked)
    text = _turns((best, *(p for p in range(len(ranked)) if p != best)), ranked, hits, units)
    if best in singles:
        return text
    return f"{text} Single elements only: {_turns(singles, ranked, hits, units)}"


def alone(ranked: tuple[Ranked, ...]) -> tuple[int, ...]:
    """Return the places of the single elements, best first."""
    return tuple(p for p, r in enumerate(ranked) if len(r.members) == 1)


def _turns(among: tuple[int, ...], ranked: tuple[Ranked, ...], hits: Hits, units: Units) -> str:
    """Return where the lead among some places, best first, changes along depth."""
    lead = leaders(ranked, among)
    first = name_of(hits, ranked[lead[0]].members)
    span = f"From {length(hits.edges[0], units)} to {length(hits.edges[-1], units)}"
    turns = changes(lead, hits.edges)
    if not turns:
        return f"{span}, no other is certainly better than {first}."
    over = [f"beyond {length(c.depth, units)} {name_of(hits, ranked[c.after].members)} is better" for c in turns]
    return f"{span}, {first} is best at first; {'; '.join(over)}."


def notable(ranked: tuple[Ranked, ...]) -> tuple[int, ...]:
    """Return the places that get sentences: the first three, every single element, and the last."""
    return tuple(sorted({*range(min(3, len(ranked))), *alone(ranked), len(ranked) - 1}))


def _gives_up(mine: Ranked, ranked: tuple[Ranked, ...], hits: Hits, weights: Mapping[str, float], units: Units) -> str:
    """Return the part that counts in which it loses most against a single element."""
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
        return "No single element is clearly better in anything that counts today."
    return _against(worst, mine, best, hits, units)


def _against(worst: str, mine: Ranked, best: Ranked, hits: Hits, units: Units) -> str:
    """Return what it loses in one part compared with another element."""
    other, whole = name_of(hits, best.members), parts.alike(hits)
    if worst == "swath":
        its_depth = float(np.median(hits.fish_depth))
        its = float(parts.swath(hits, best.members, whole)) * its_depth
        return f"It misses fish to the side: {other} searches a width of {length(its, units)}."
    if worst == "detail":
        sizes = [length(float(hits.resolution[list(m)].min()), units) for m in (mine.members, best.members)]
        return f"It shows less detail: to show as two, fish must be {sizes[0]} apart in depth; with {other} {sizes[1]}."
    if worst == "small_fish":
        sizes = [length(parts.smallest(hits, m, whole), units) for m in (mine.members, best.members)]
        return f"It misses small fish: it shows fish from {sizes[0]}, {other} from {sizes[1]}."
    if worst == "reach":
        floor, both = float(hits.edges.mean()), (mine.members, best.members)
        deep = [_deep(hits, m, floor, units) for m in both]
        return f"It misses deep fish: it shows such a fish down to {deep[0]}, {other} to {deep[1]}."
    verb = "separates" if worst == "separated" else "shows"
    return (
        f"It is not the most certain: {other} {verb} {often(best.parts[worst])}, this one {often(mine.parts[worst])}."
    )


def _deep(hits: Hits, members: tuple[int, ...], floor: float, units: Units) -> str:
    """Return how deep the better of some elements shows the fish, with the band of own noise; floor [m]: the bottom."""
    every = np.full((3, *hits.reach.shape), np.nan)
    every[0], every[1:] = hits.reach, np.nan if hits.reach_band is None else hits.reach_band
    usual, louder, quieter = (floor * every[:, list(members)].max(axis=1).mean(axis=1)).tolist()
    return banded(usual, louder, quieter, units)


def _second_beam(mine: Ranked, ranked: tuple[Ranked, ...], hits: Hits, units: Units) -> str:
    """Return what the second beam adds to the better one, in numbers of the part that gains most."""
    own = [r for r in ranked if len(r.members) == 1 and r.members[0] in mine.members]
    best = max(own, key=lambda r: r.score)
    name = name_of(hits, best.members)
    if mine.low <= best.score:
        return f"It needs a second beam, but is not certainly better than {name} alone."
    gains = {part: mine.parts[part] - best.parts[part] for part in parts.NAMES}
    most = max(gains, key=lambda part: gains[part])
    if most == "swath":
        deep, whole = float(np.median(hits.fish_depth)), parts.alike(hits)
        wide = length(float(parts.swath(hits, best.members, whole)) * deep, units)
        return f"It needs a second beam: {name} alone searches a width of {wide}."
    if most in ("separated", "detected"):
        verb = "clear of the bottom" if most == "separated" else "shown"
        return f"It needs a second beam: with {name} alone, {often(best.parts[most])} are {verb}."
    return f"It needs a second beam, which improves {_PARTS[most]} most over {name} alone."


_PARTS: Mapping[str, str] = {
    "detail": "detail",
    "small_fish": "small fish",
    "reach": "depth",
}


def left_out(trip: Trip, units: Units = "m") -> tuple[str, ...]:
    """Return sentences about things that the numbers leave out."""
    day = trip.day
    ground = (
        "The bottom is bare: no wreck and no ledge. Beside a wreck or a ledge, a wide beam shows it first, and hides"
        " fish in its echo."
    )
    if day.standing:
        near, far = (length(side, units) for side in (min(day.standing.beside), max(day.standing.beside)))
        what = "box of steel" if day.wreck else "pile of boulders"
        ground = f"Fish stay {near} to {far} from the side of one {what}."
    elif day.ledge:
        ground = f"Fish stay {length(day.ledge.beside, units)} from the foot of a step in the bottom, over flat ground."
    level = "" if day.motion or day.roll or day.pitch or day.heave else "The boat does not roll, pitch or heave. "
    schools = [str(q.name) for q in trip.species if q.size is not None]
    return (
        ground,
        *([f"Schools ({', '.join(schools)}) are judged from formulas only."] if schools else []),
        f"{level}The boat's own noise is {_own_noise(day.own)}. Unless the day gives it, this is assumed and may be"
        " wrong by about 10 dB. In deep water it decides which band reaches deepest.",
        "Small fish, detection range and detail are computed from formulas, not simulated.",
    )


def _own_noise(own: float | str) -> str:
    """Return the boat's own noise in words."""
    return own if isinstance(own, str) else f"{own:g} dB re 1 uPa2/Hz at 50 kHz around the hull"
