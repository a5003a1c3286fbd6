"""Passes over the species of a trip in one slice of its depths, and over fish at offsets: all on the same grounds.

Run r of each species, and run r of the offsets, have one ground and one draw of its noise; the fish, their places and
their postures are their own. Changed assumptions that leave the bottom alone (noise, target strength) share it too. So
a ping is made once for all of them. The runs of one species stay independent of each other; runs of the same number are
not, so they count together where intervals are made (`ranking.resamplings`).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pingwright.echograms.record import FloatArray
from pingwright.inputs.trip import Trip
from pingwright.match import offsets
from pingwright.measures.asked import Question
from pingwright.measures.base import nominal_depth
from pingwright.measures.separated import Separated
from pingwright.measures.swath import Swath
from pingwright.trials import day, passes, placement
from pingwright.trials.batch import Batch, Judge, Trials
from pingwright.trials.ground import Bank
from pingwright.trials.placement import Fish, Footprint, Species
from pingwright.trials.scene import Scene

#: Passes of each species in each slice, passes for the swath, and passes repeated without fish.
RUNS, SWATH_RUNS, BLANKS = 14, 12, 4
#: Runs that are looked at together: what a bank holds of them is then no more than it may.
TOGETHER = 8
#: Slices have batches of random draws that lie this far apart: first those of the species, last that of the offsets.
BATCHES, OFFSETS = 100, 99


@dataclass(frozen=True)
class Seen:
    """Passes of one species in a slice: detected, separated (element, run), hits or probabilities; false (element)."""

    detected: FloatArray
    separated: FloatArray
    false: FloatArray

    def plain(self) -> dict[str, Any]:
        """Return it as JSON holds it."""
        return {key: getattr(self, key).tolist() for key in ("detected", "separated", "false")}


def from_plain(data: Mapping[str, Any]) -> Seen:
    """Return what `Seen.plain` returned."""
    return Seen(*(np.array(data[key]) for key in ("detected", "separated", "false")))


@dataclass(frozen=True)
class Way:
    """A slice's scene as the passes meet it; gain [dB]: by which fish echo louder.

    noise_of: the scene whose grounds are used, if this one differs from it in its noise alone.
    """

    at: Scene
    gain: float = 0.0
    noise_of: Scene | None = None


@dataclass(frozen=True)
class Series:
    """The fish of one batch and what is asked of them: name of the result, number of the batch, kind, fish, judge."""

    name: str
    batch: int
    kind: Species
    fish: Fish
    judge: Judge
    offsets: bool = False


def series_of(at: Scene, trip: Trip, k: int, kinds: Sequence[Species], runs: int, swath_runs: int) -> list[Series]:
    """Return the fish of all species in slice k, then those at offsets; kinds: by species."""
    seed, result = int(trip.seed), []
    for q, kind in enumerate(kinds):
        number = BATCHES * k + q
        fish = placement.draw(at, kind, None, seed, number, runs, prints=narrowest(at))
        result.append(Series(f"{number}", number, kind, fish, Separated().judge(question(at, kind))))
    kind, number, swath = kinds[day.main_species(trip)], BATCHES * k + OFFSETS, Swath()
    asked = question(at, kind)
    fish = at_offsets(at, kind, swath.draw(at, asked, seed, number, swath_runs))
    return [*result, Series(f"{k} swath", number, kind, fish, swath.judge(asked), offsets=True)]


def results(
    ways: Sequence[Way], trip: Trip, k: int, kinds: Sequence[Species], threads: int | None, part: tuple[int, int, int]
) -> list[dict[str, Seen]]:
    """Return for each way what some passes show, by the names of their series; schools are left out.

    kinds: the species as they are in slice k. part: first run, run to stop before, and number of runs of the whole.
    """
    first, stop, runs = part
    bank, seed = Bank(threads), int(trip.seed)
    held = [
        [
            one
            for one in series_of(way.at, trip, k, louder(kinds, way.gain), runs, SWATH_RUNS)
            if one.kind.school is None
        ]
        for way in ways
    ]
    room = max((passes.reach_of(ways[0].at, one.kind, one.fish) for one in held[0]), default=0.0)
    laid = [
        [
            Trials(
                way.at, one.kind, one.fish, seed, _ground(way.at, one, k), one.judge, bank, noise_of=way.noise_of,
                room=0.0 if beside(way.at, one.kind) else room,
            )
            for one in of_way
        ]
        for way, of_way in zip(ways, held, strict=True)
    ]  # fmt: skip
    _share_views([trials for row in laid for trials in row])
    found: list[list[list[Batch]]] = [[[] for _ in row] for row in laid]
    for low in range(first, stop, TOGETHER):
        for row, of_way, into in zip(laid, held, found, strict=True):
            for trials, one, batches in zip(row, of_way, into, strict=True):
                some = np.arange(low, min(low + TOGETHER, stop, len(one.fish)))
                batches.append(trials.look(some, some[some < (0 if one.offsets else BLANKS)]))
    return [
        {one.name: _seen(batches, one) for one, batches in zip(of_way, into, strict=True)}
        for of_way, into in zip(held, found, strict=True)
    ]


def joined(parts: Sequence[Seen]) -> Seen:
    """Return the runs of several parts as one, in order; false alarms are shares of all passes without a fish."""
    return Seen(
        np.concatenate([one.detected for one in parts], axis=1),
        np.concatenate([one.separated for one in parts], axis=1),
        np.sum([one.false for one in parts], axis=0),
    )


def _seen(batches: Sequence[Batch], series: Series) -> Seen:
    """Return the results of some runs; false: false alarms as their part of all passes without a fish."""
    hit = np.concatenate([one.hit for one in batches], axis=1).astype(float)
    shown = np.concatenate([one.shown for one in batches], axis=1).astype(float)
    alarms = np.sum([one.blank.sum(axis=1) for one in batches], axis=0)
    blanks = 1 if series.offsets else max(min(BLANKS, len(series.fish)), 1)
    return Seen(hit if series.offsets else shown, hit, alarms / blanks)


def _share_views(trials: Sequence[Trials]) -> None:
    """Let all trials of one route have one record, and so one ground."""
    routes: dict[tuple[object, ...], list[Trials]] = {}
    for one in trials:
        routes.setdefault(one.pings.route.name, []).append(one)
    for alike in routes.values():
        alike[0].share_views_with(alike[1:])


def _ground(at: Scene, series: Series, k: int) -> int:
    """Return the batch whose ground a series of passes stands on: its own where its fish decide where the boat goes."""
    return series.batch if beside(at, series.kind) else BATCHES * k


def beside(at: Scene, kind: Species) -> bool:
    """Return whether fish stand beside a structure, so that the boat passes it where they are."""
    return kind.beside is not None and at.around is not None


def louder(kinds: Sequence[Species], gain: float) -> list[Species]:
    """Return the species with echoes that are stronger by a gain [dB]."""
    return [replace(kind, gain=gain) for kind in kinds]


def narrowest(at: Scene) -> tuple[Footprint, ...]:
    """Return the footprint of the candidate that is narrowest across: fish are placed in it.

    If fish were placed over all footprints together, as in claims about several elements, the widest candidate would
    decide: with a tone of 50 kHz among them, only one fish in ten near the bottom would be where any element can show
    it.
    """
    return (min(placement.footprints(at), key=lambda p: p.half[1]),)


def searched(at: Scene, species: Species) -> float:
    """Return the width [m] over which offsets are drawn; the sides of a school also count."""
    return Swath().scale(at, question(at, species)) + (0.0 if species.school is None else species.school.across)


def at_offsets(at: Scene, species: Species, fish: Fish) -> Fish:
    """Return the fish in the middles of the cells of the whole width: less chance than at random, for the same mean."""
    low, high = passes.edges(at)
    middle = 0.5 * (low + high) * nominal_depth(at, species)
    return replace(fish, across=middle + offsets.cells(len(fish))[0] * searched(at, species))


def question(at: Scene, species: Species) -> Question:
    """Return the question that measures are asked about a species in a slice."""
    return Question("", "swath", at.scenario, species)
