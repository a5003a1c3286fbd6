"""What one element shows in one water: closed forms over a pass, and its detection range for three own noises."""

from dataclasses import dataclass, field, replace

import numpy as np

from pingwright.echograms.record import FloatArray
from pingwright.inputs.scenario import Scenario
from pingwright.inputs.trip import Trip
from pingwright.measure import held
from pingwright.measure.rules import SEEN
from pingwright.measures import ahead, reach, school, theory
from pingwright.measures.asked import Question
from pingwright.measures.base import nominal_depth
from pingwright.measures.smallest_fish import SmallestFish
from pingwright.trials import day, passes, placement
from pingwright.trials.placement import Fish, Place, Species
from pingwright.trials.scene import Scene, in_noise, scene, single

#: Number of fish straight below and of fish over all offsets, over which closed forms of a pass are averaged.
BELOW, ACROSS = 16, 24
#: Depths [m] for which elements are built to find their detection range; between them values are interpolated over
#: logarithms.
LADDER = np.geomspace(12.0, 2200.0, 8)
#: Depths [m] at which the detection range is computed for each.
LOOKED_UP = np.geomspace(1.0, 2300.0, 150)
#: Lengths of fish [m] between which the smallest one is searched, to 8 %.
SHORTEST, LONGEST = 0.01, 4.0
#: Species whose lowest fish is up to so far [m] over the bottom are judged with its roughness (*assumed*).
CLOSE = 3.0
#: Own noise as given, 10 dB higher and 10 dB lower; names as in recordings.
BANDS = ("", "louder", "quieter")


@dataclass(frozen=True)
class Banded:
    """A number, and its value with own noise 10 dB higher (low) and 10 dB lower (high); nan if not known.

    span: its 95 % interval where it is simulated.
    """

    value: float
    low: float
    high: float
    span: tuple[float, float] | None = field(default=None, kw_only=True)


@dataclass(frozen=True)
class Passing:
    """What an element shows of a species in one water, over passes.

    shown, separated: probabilities for fish close to the track; swath, footprint [m]; pings: number of pings while a
    fish under the track is inside the -3 dB beam; unmet: share of the fish under the track without such a ping. passes:
    how many were simulated for shown and separated, 0 for closed forms. clear (fish): the probability that each of the
    fish close to the track is separated, 0 or 1 where its pass was simulated; the same fish for all elements.
    """

    shown: float
    separated: float
    swath: Banded
    footprint: float
    pings: float
    unmet: float
    passes: int = 0
    clear: tuple[float, ...] = ()


def bare(scenario: Scenario) -> Scenario:
    """Return a scenario without natural roughness of the bottom, which takes time to build.

    Fish close over the bottom are judged with it, see `_bottom`.
    """
    return scenario.model_copy(update={"seabed": scenario.seabed.model_copy(update={"roughness": "none"})})


def scene_of(trip: Trip, bottom: float) -> Scene:
    """Return the day of a trip over a bottom of one depth [m]."""
    return scene(bare(day.scenario(trip, bottom)), keep_structures=trip.day.standing is not None)


def _bottom(one: Scene, species: Species) -> ahead.Ahead:
    """Return the bottom as one element sees it: with natural roughness where a species stands close over it.

    Without it a snapper tight over gravel at 900 ft was clear of the bottom in 0.69 of passes by formula under the high
    pencil and 0.54 under the low one; with it 0.56 and 0.24, and in 24 simulated passes 0.58 and 0.38.
    """
    if species.above_bottom is None or species.above_bottom[0] > CLOSE:
        return ahead.of(one, 0)
    seabed = one.scenario.seabed.model_copy(update={"roughness": "natural"})
    scenario = one.scenario.model_copy(update={"seabed": seabed})
    return ahead.of(replace(one, prepared=replace(one.prepared, scenario=scenario)), 0)


def passing(at: Scene, index: int, species: Species) -> Passing:
    """Return what an element shows of a species over passes in a scene."""
    one, narrow = single(at, index), _narrowest(at)
    fish = placement.draw(one, species, None, 0, 0, BELOW, prints=(narrow,))
    fish = replace(fish, across=evenly(BELOW, narrow, at, species))
    pings, bottom = _laid_out(one, species, fish), _bottom(one, species)
    chances = school.chances(one, 0, species, pings, bottom)
    shown, clear = (
        theory.of_trials(pings, chances.detected, counted, "pass", SEEN)
        for counted in (chances.detected, chances.separated)
    )
    info = one.headers[0].info
    down = max(nominal_depth(at, species), 0.1)
    along, across_track = (
        2 * down * float(np.tan(np.radians(w / 2))) for w in (info.beamwidth_along, info.beamwidth_across)
    )
    length = 0.0 if species.school is None else species.school.along
    met = (along + length) / at.step
    near = float(shown.mean()), float(clear.mean())
    each = tuple(float(value) for value in clear)
    return Passing(*near, _swath(one, species, bottom), across_track, met, max(1.0 - met, 0.0), clear=each)


def evenly(count: int, narrow: placement.Footprint, at: Scene, species: Species) -> FloatArray:
    """Return even offsets [m] over half the width of a footprint: both sides are alike, and nothing is random."""
    return np.asarray(narrow.half[1] * nominal_depth(at, species) * (np.arange(count) + 0.5) / count)


def _narrowest(at: Scene) -> placement.Footprint:
    return min(placement.footprints(at), key=lambda p: p.half[1])


def _laid_out(at: Scene, species: Species, fish: Fish) -> passes.Pings:
    return passes.lay_out(at, species, fish, 0, 0, alone=True)


def _swath(one: Scene, species: Species, bottom: ahead.Ahead) -> Banded:
    """Return the swath [m]: the integral over even offsets as far as the main lobe of the element goes.

    bottom: for the noise as it is; with 10 dB more or less its echo begins at most a quarter of a cell elsewhere where
    it is well over the noise (measured at 60 and 275 m).
    """
    fish, wide = spread(one, species, ACROSS)
    pings, result = _laid_out(one, species, fish), []
    for band in BANDS:
        loud = in_noise(one, band)
        seen = school.chances(loud, 0, species, pings, bottom).detected
        result.append(wide * float(theory.of_trials(pings, seen, seen, "pass", SEEN).mean()))
    return Banded(*result)


def spread(one: Scene, species: Species, count: int) -> tuple[Fish, float]:
    """Return fish at even offsets as far as the main lobe of an element goes, and the width [m] of that."""
    fish = placement.draw(one, species, None, 0, 1, count)
    low, high = (side * nominal_depth(one, species) for side in passes.edges(one))
    wide = high - low + (0.0 if species.school is None else species.school.across)
    return replace(fish, across=0.5 * (low + high) + ((np.arange(count) + 0.5) / count - 0.5) * wide), wide


def smallest(at: Scene, index: int, species: Species) -> Banded:
    """Return the smallest fish [m] straight below that one pass in two shows, without a bottom; nan: none up to 4 m."""
    one = single(at, index)
    return Banded(*(_shortest(in_noise(one, band), species) for band in BANDS))


def _shortest(one: Scene, species: Species) -> float:
    """Return the length [m] at which one pass in two shows the fish."""
    return SmallestFish().closed_in(one, species, Place(0.0, 0.0), 0, "pass")


def fish_depths(trip: Trip, species: Species) -> tuple[Banded, ...]:
    """Return for each element the depth [m] to which one ping in two shows a fish in open water."""
    scenario = bare(day.scenario(trip, max(trip.day.depth)))
    question = Question("", "reach", scenario, species)
    count = len(trip.element)
    result = np.zeros((len(BANDS), count, len(LADDER)))
    for k, deep in enumerate(LADDER):
        at = reach.at_depth(scenario, float(deep))
        for b, band in enumerate(BANDS):
            loud = in_noise(at, band)
            for i in range(count):
                chance = reach.chance_at(loud, question, i, LOOKED_UP)
                result[b, i, k] = _crossing(chance)
    return tuple(Banded(*(_own_depth(result[b, i]) for b in range(len(BANDS)))) for i in range(count))


def _crossing(chance: FloatArray) -> float:
    """Return the depth [m] at which a falling probability passes one half."""
    beyond = np.flatnonzero(chance < 0.5)
    if not len(beyond):
        return float(LOOKED_UP[-1])
    first = int(beyond[0])
    if first == 0:
        return float(LOOKED_UP[0])
    part = (0.5 - chance[first - 1]) / (chance[first] - chance[first - 1])
    return float(LOOKED_UP[first - 1] + part * (LOOKED_UP[first] - LOOKED_UP[first - 1]))


def _own_depth(reached: FloatArray) -> float:
    """Return the depth [m] reached with the pulse for that same depth; reached [m]: with the pulses of LADDER."""
    over = np.log(reached / LADDER)
    if over[0] <= 0.0:
        return float(reached[0])
    if over[-1] >= 0.0:
        return float(LADDER[-1])
    k = int(np.flatnonzero(over < 0.0)[0])
    part = over[k - 1] / (over[k - 1] - over[k])
    return float(np.exp(np.log(LADDER[k - 1]) + part * np.log(LADDER[k] / LADDER[k - 1])))


def bottom_depths(trip: Trip, sediment: str) -> tuple[Banded, ...]:
    """Return for each element the depth [m] to which it holds the bottom, with the pulse of that depth."""
    day_over = trip.model_copy(update={"day": trip.day.model_copy(update={"sediment": sediment})})
    at = scene_of(day_over, max(trip.day.depth))
    law = at.scenario.seabed.law
    result = [held.bottom_reach(header, sediment, law) for header in at.headers]
    return tuple(Banded(*(min(depth, float(LADDER[-1])) for depth in depths)) for depths in result)
