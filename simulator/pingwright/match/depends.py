"""What the first place of a trip depends on: it is compared with its rival while assumptions change one by one."""

from collections.abc import Mapping, Sequence

import numpy as np

from pingwright import workers
from pingwright.echograms.record import FloatArray
from pingwright.inputs.trip import Trip
from pingwright.match import parts, ranking, trials
from pingwright.match.hits import Hits
from pingwright.match.ranking import Ranked, weight_vector
from pingwright.trials import assumptions, day
from pingwright.words import listed

#: Passes of each species, and for the swath, with each assumption changed: the same fish, grounds and noise each time.
RUNS = 16


def rival(ranked: tuple[Ranked, ...]) -> int:
    """Return the place of the rival of the advised candidate: the best without a tie with it, or the next one.

    Pairs that hold the advised candidate are left out: they cannot fall behind it.
    """
    best = ranking.advised(ranked)
    mine = set(ranked[best].members)
    others = [p for p in range(len(ranked)) if p != best and not mine <= set(ranked[p].members)]
    untied = [p for p in others if p not in ranked[best].ties_with]
    return min(untied or others, default=best)


def depends_on(
    trip: Trip,
    hits: Hits,
    ranked: tuple[Ranked, ...],
    weights: Mapping[str, float],
    threads: int | None = None,
    team: workers.Team | None = None,
) -> tuple[str, ...]:
    """Return which assumptions turn the first place: its lead, moved as it moves in the same few passes, is lost.

    A move counts where it is beyond chance. The lead is that over the rival (see `rival`) in the middle of the day's
    depths; closed forms where the hits are. team: who does the work; None: this process.
    """
    best, other = ranking.advised(ranked), rival(ranked)
    if best == other:
        return ()
    pair = (ranked[best].members, ranked[other].members)
    some = sorted({*pair[0], *pair[1]})
    middle = 0.5 * float(hits.edges[0] + hits.edges[-1])
    small = trip.model_copy(
        update={
            "element": tuple(trip.element[i] for i in some),
            "day": trip.day.model_copy(update={"depth": (middle, middle)}),
        }
    )
    both = tuple(tuple(some.index(i) for i in members) for members in pair)
    vector = weight_vector(weights)

    def lead(found: Hits) -> FloatArray:
        every = ranking.resamplings(found, int(trip.seed))
        first, second = (parts.score(found, members, every, vector) for members in both)
        return np.broadcast_to(np.asarray(first - second), ranking.RESAMPLINGS)

    turns = [None, *assumptions.turned(day.scenario(small, middle))]
    groups = _groups(turns)
    jobs = [(small, tuple(turns[i] for i in group), hits.quick, threads) for group in groups]
    leads: dict[int, FloatArray] = {}
    for group, found in zip(groups, team.map(_turned, jobs) if team else map(_turned, jobs), strict=True):
        leads.update(zip(group, map(lead, found), strict=True))
    ahead = ranked[best].score - ranked[other].score
    lost: dict[str, None] = {}
    for i, turn in enumerate(turns):
        if turn is None:
            continue
        moved = leads[i] - leads[0]
        certain = abs(float(moved.mean())) > assumptions.CERTAIN * float(moved.std(ddof=1))
        if certain and ahead + float(moved.mean()) < 0:
            lost[turn.name] = None
    return tuple(lost)


def _groups(turns: Sequence[assumptions.Turned | None]) -> list[list[int]]:
    """Return which assumptions are simulated together, by their numbers: first all that leave the bottom's echo alone.

    Each of the others has a bottom, or a filter, of its own.
    """
    shared = [i for i, turn in enumerate(turns) if turn is None or turn.noise_alone or turn.gain]
    return [shared, *([i] for i in range(len(turns)) if i not in shared)]


def _turned(job: tuple[Trip, tuple[assumptions.Turned | None, ...], bool, int | None]) -> list[Hits]:
    """Return the hits of a trip with each of some assumptions turned (None: none); the last two: quick, and threads."""
    trip, turns, quick, threads = job
    return trials.turned(trip, turns, threads=threads, quick=quick, runs=RUNS)


def in_words(names: tuple[str, ...] | None, first: str, second: str) -> str:
    """Return what the first place depends on, in a sentence; nothing if no assumption was checked."""
    if names is None or first == second:
        return ""
    if not names:
        return (
            f"{first} stays ahead of {second} even if the pulse, the boat's own noise, the target strength of the fish"
            " or the roughness of the bottom changes."
        )
    return (
        f"{second} takes the first place if these assumptions change:"
        f" {listed([assumptions.IN_WORDS[name] for name in names])}."
    )
