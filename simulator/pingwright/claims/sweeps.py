"""Beyond a verdict: maps over the beam, least height over depth, slope and sediment, and the question turned round."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pingwright.claims import bench, limits, lots, theory
from pingwright.claims.lots import FloatArray, Stage
from pingwright.claims.question import Place, Question
from pingwright.measure.limits import passing

#: The map: places a side, runs at each, and its half width over the beam's.
SIDE, MAP_RUNS, REACH = 15, 16, 1.4
#: Least height: heights tried, over the closed form's edge, and runs at each.
HEIGHTS, HEIGHT_RUNS = 14, 48
#: Where the least height is asked for: depth over the claim's own, slopes [deg], sediments.
DEPTHS = (0.3, 0.6, 1.0, 1.5)
SLOPES = (0.0, 3.0, 6.0, 10.0)
SEDIMENTS = ("mud", "fine sand", "gravel", "rock")
#: Depths [m] of fish in open water and runs at each; lengths tried, over the closed form's smallest.
DEEP, DEEP_RUNS = (10.0, 40.0, 80.0, 120.0, 160.0, 200.0, 250.0, 300.0), 64
LENGTHS = (0.4, 0.6, 0.8, 1.0, 1.3, 1.7, 2.3)
#: The chart of the question turned round: beam widths [deg] and bandwidths [Hz].
WIDTHS = np.geomspace(3.0, 80.0, 29)
BANDWIDTHS = np.geomspace(18e3, 160e3, 25)


@dataclass(frozen=True)
class Map:
    """Probability over the place of the fish: across, along [m] from the boat (n), chance (along, across)."""

    across: FloatArray
    along: FloatArray
    chance: FloatArray


@dataclass(frozen=True)
class Heights:
    """Least height [m] at which the fish is separated with probability 0.5, by element, along `over`.

    points: values of it, or 0, 1, 2 .. for names; value, low, high (element, point) [m], nan or infinite where the
    heights tried do not enclose it; theory (element, point): closed form.
    """

    over: str
    names: tuple[str, ...]
    points: FloatArray
    value: FloatArray
    low: FloatArray
    high: FloatArray
    theory: FloatArray


@dataclass(frozen=True)
class Depths:
    """Fish in open water straight below, by element, over their depth [m] below the surface (point).

    hits (element, point) of `runs`: the claim's fish detected; chance: its closed form; smallest, low, high, theory
    [m]: as `Heights`, the length of fish detected with probability 0.5.
    """

    points: FloatArray
    runs: int
    hits: FloatArray
    chance: FloatArray
    smallest: FloatArray
    low: FloatArray
    high: FloatArray
    theory: FloatArray


@dataclass(frozen=True)
class Inverse:
    """Closed-form probability over resolution c/2B [m] (n) and beam width [deg] (m): chance (n, m).

    elements: name -> (beam width [deg], resolution [m]).
    """

    width: FloatArray
    resolution: FloatArray
    chance: FloatArray
    elements: dict[str, tuple[float, float]]


def place_map(question: Question, at: Stage, seed: int, threads: int | None = None) -> Map:
    """Return the probability of the question's first element over the place of the fish across and along the beam."""
    one = lots.single(at, 0)
    info, deep = one.prepared.header.elements[0].info, theory.fish_depth(at, question.species)
    half = [REACH * deep * np.tan(np.radians(w / 2)) for w in (info.beamwidth_along, info.beamwidth_across)]
    along, across = (np.linspace(-h, h, SIDE) for h in half)
    places = np.stack([a.ravel() for a in np.meshgrid(along, across, indexing="ij")])
    laid = lots.scattered(one, question.species, seed, MAP_RUNS, places)
    rounds = bench.rounds(one, question.species, laid, seed, question.measure, threads=threads)
    hit = np.concatenate([r.hit[0] for r in rounds]).reshape(MAP_RUNS, SIDE, SIDE)
    return Map(across, along, hit.mean(axis=0))


def least_heights(
    question: Question, over: str, seed: int, confidence: float = 0.95, threads: int | None = None
) -> Heights:
    """Return the least height separated with probability 0.5 over depth, slope or sediment, for each element.

    The fish stands at the claim's place; anywhere means anywhere in the footprint of each element by itself.
    """
    own = _bottom(question)
    names: tuple[str, ...] = ()
    if over == "depth":
        points = np.array(DEPTHS) * own
        changes: list[dict[str, Any]] = [{"seabed.depth": f"{d!r} m"} for d in points.tolist()]
    elif over == "slope":
        points = np.array(SLOPES)
        changes = [{"seabed.slope.across": f"{s!r} deg"} for s in points.tolist()]
    else:
        names, points = SEDIMENTS, np.arange(len(SEDIMENTS), dtype=np.float64)
        changes = [{"seabed.layer.1.sediment": name} for name in names]
    found = np.array(
        [
            [_least(changed(question, i, change), seed, confidence, threads) for change in changes]
            for i in range(len(question.elements))
        ]
    )
    return Heights(over, names, points, *(found[..., k] for k in range(4)))


def over_depth(question: Question, seed: int, confidence: float = 0.95, threads: int | None = None) -> Depths:
    """Return detection of the question's fish, and the smallest fish detected, over depth without a bottom."""
    rows = []
    for index in range(len(question.elements)):
        one = changed(question, index, {})
        at = lots.stage(one.scenario)
        rows.append([_at_depth(one, at, depth, seed, confidence, threads) for depth in DEEP])
    found = np.array(rows)
    return Depths(np.array(DEEP), DEEP_RUNS, *(found[..., k] for k in range(6)))


def _at_depth(
    question: Question, at: Stage, depth: float, seed: int, confidence: float, threads: int | None
) -> tuple[float, ...]:
    """Return hits of the question's fish and their closed form, smallest fish, its interval and closed form [m]."""
    species = replace(question.species, above_bottom=None, depth=depth)
    asked = replace(question, measure="smallest_fish", species=species, place=Place(0.0, 0.0))
    below = np.array([depth - at.face])
    chance = theory.along(at, replace(asked, measure="reach"), 0, "depth", below, fine=True)[0]
    closed = theory.of_element(at, asked, 0, fine=True)
    tried = np.unique(np.clip(np.array(LENGTHS) * (closed if np.isfinite(closed) else 0.1), 0.01, 4.0))
    points = np.append(species.length, tried)
    laid = lots.spread(at, species, asked.place, seed, DEEP_RUNS, "length", points)
    deep = limits.deepened(at, depth)
    rounds = bench.rounds(deep, species, laid, seed, "detected", seabed=False, threads=threads)
    hits = np.concatenate([r.hit[0] for r in rounds]).reshape(DEEP_RUNS, len(points)).sum(axis=0)
    found = passing(tried, hits[1:], np.full(len(tried), DEEP_RUNS), True, confidence=confidence)
    return float(hits[0]), float(chance), found.value, found.low, found.high, closed


def changed(question: Question, index: int, change: dict[str, Any]) -> Question:
    """Return the question about one of its elements with keys of its scenario set by dotted paths."""
    from pingwright.inputs import scenario

    alone = question.scenario.model_copy(update={"element": question.scenario.element[index : index + 1]})
    return replace(question, scenario=scenario.changed(alone, change), at_least=None, at_most=None)


def _bottom(question: Question) -> float:
    depth = question.scenario.seabed.depth
    return float(depth) if depth is not None else float(np.median(question.scenario.seabed.grid.depth))


def _least(question: Question, seed: int, confidence: float, threads: int | None) -> tuple[float, float, float, float]:
    """Return least height, its interval's ends and the closed form [m]."""
    at = lots.stage(question.scenario)
    info = at.prepared.header.elements[0].info
    bottom = float(at.depth(np.zeros(1), np.zeros(1))[0]) - at.face
    slope = np.radians(abs(at.scenario.seabed.slope.across))
    edge = bottom * (1 - np.cos(np.radians(info.beamwidth_across / 2)))
    hidden = bottom * (1 - np.cos(slope)) + (edge if question.place is None else 0.0)
    top = min(hidden * (1.3 + 2 * float(slope > 0)) + 45 * info.cell + 0.1, 0.8 * bottom)
    heights = np.linspace(0.0, 1.0, HEIGHTS) ** 1.5 * (top - 0.01) + 0.01
    laid = lots.spread(at, question.species, question.place, seed, HEIGHT_RUNS, "height", heights)
    rounds = bench.rounds(at, question.species, laid, seed, "separated", threads=threads)
    hit = np.concatenate([r.hit[0] for r in rounds]).reshape(HEIGHT_RUNS, HEIGHTS)
    of = np.full(HEIGHTS, HEIGHT_RUNS)
    limit = passing(heights, hit.sum(axis=0), of, True, confidence=confidence)
    return limit.value, limit.low, limit.high, _closed(question, at, heights)


def _closed(question: Question, at: Stage, heights: FloatArray) -> float:
    """Return the height [m] at which the closed form passes 0.5, or nan."""
    tried, bottom = np.linspace(heights[0], heights[-1], 60), theory.ahead(at, 0)
    chance = []
    for height in tried:
        asked = replace(question, species=replace(question.species, above_bottom=float(height), depth=None))
        deep = theory.fish_depth(at, asked.species)
        chance.append(theory.probability(at, asked, 0, deep, fine=True, bottom=bottom))
    first = int(np.argmax(np.array(chance) >= 0.5))
    if chance[first] < 0.5 or first == 0:
        return float("nan")
    return float(np.interp(0.5, chance[first - 1 : first + 1], tried[first - 1 : first + 1]))


def inverse(question: Question, at: Stage) -> Inverse:
    """Return which bandwidths and beam widths would part the fish of a question: closed form over both.

    The first element of the stage lends its frequency, power and pulse; its source level falls with the square of the
    beam width, as its directivity does. The catalogue's elements, and
    the question's own, stand at their own band and width, whatever their frequency.
    """
    c = float(at.scenario.water.assumed_sound_speed)
    chance = np.array([[_with_beam(question, at, w, b) for w in WIDTHS] for b in BANDWIDTHS])
    return Inverse(WIDTHS, c / (2 * BANDWIDTHS), chance, catalogue_points(at))


def catalogue_points(at: Stage) -> dict[str, tuple[float, float]]:
    """Return beam width across [deg] and resolution [m] of the catalogue's elements in the stage's water."""
    from pingwright.element.build import build
    from pingwright.inputs import catalogue
    from pingwright.inputs.elements import from_catalogue

    water, points = at.prepared.world.water, {}
    for name in catalogue.element_names():
        spec = from_catalogue(name)
        if spec.pulse.length is None:
            spec = spec.model_copy(update={"pulse": spec.pulse.model_copy(update={"length": 2e-3})})
        element = build(spec, water.density, water.surface_sound_speed, at.face)
        points[name] = (element.beamwidth(element.centre)[1], element.range_resolution)
    return points


def _with_beam(question: Question, at: Stage, width: float, bandwidth: float) -> float:
    header = at.prepared.header.elements[0]
    info = header.info
    middle = 0.5 * (info.band_low + info.band_high)
    usual = np.sqrt(info.beamwidth_along * info.beamwidth_across)
    made = replace(
        info, beamwidth_along=width, beamwidth_across=width,
        source_level=info.source_level - 20 * np.log10(width / usual),
        noise_level=info.noise_level + 20 * np.log10(width / usual), band_low=middle - bandwidth / 2,
        band_high=middle + bandwidth / 2,
        extra={**info.extra, "resolution_cell": info.assumed_sound_speed / (2 * bandwidth)},
        effective_pulse=info.effective_pulse * (info.band_high - info.band_low) / bandwidth,
    )  # fmt: skip
    # Without a recorded pattern the beam is a Gaussian of the width asked for.
    one = replace(header, info=made, beam=replace(header.beam, angle=np.zeros(0)))
    stage = Stage(replace(at.prepared, header=replace(at.prepared.header, elements=(one,))))
    return theory.probability(stage, question, 0, theory.fish_depth(at, question.species), fine=True)
