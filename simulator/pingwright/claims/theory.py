"""The closed-form value of what a claim asks, plain and fine.

Plain: geometry and the sonar equation for a fish of tilt-averaged strength with a Rayleigh echo (Swerling 1), as a
textbook has it. Fine: with what the bottom leaks into the water above it through the filter's side lobes, and with the
fish's aspect: its tilt and heading as seen from the element.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from pingwright.acoustics import detection, seabed
from pingwright.claims import aspect
from pingwright.claims.lots import FloatArray, Stage
from pingwright.claims.question import LIMITS, Place, Question, Species
from pingwright.echograms.record import ElementInfo
from pingwright.measure.bottom import AVERAGED_CELLS
from pingwright.measure.closed import two_way_loss
from pingwright.measure.detect import FALSE_ALARM, FLOOR
from pingwright.measure.filters import STEPS, filtering, point_width
from pingwright.measure.onset import LONGEST, ONSET_DROP, QUIET_OVER
from pingwright.measure.separated import BELOW_BOTTOM
from pingwright.world import materials, strength

#: Cells a fish must be ahead of the bottom's edge: to be separated its own flank, the gap of 2 and the bottom's flank
#: (Hann, fish far below the bottom's level; 2 to 3 is the rule of thumb for equal ones), else its own flank.
CELLS = {"separated": 4.0}
OWN_FLANK = 1.5
#: Two equal points behind a Hann filter show a gap of 2 cells 3 dB deep from here on: closed form.
PAIR_CELLS = 4.3
#: Points of the disc over which a probability is averaged.
RINGS, SPOKES = 24, 16
#: Depths [m], lengths [m], and offsets over the depth, among which a limit is sought.
DEPTHS, LENGTHS, OFFSETS = np.geomspace(1, 5000, 1500), np.geomspace(0.005, 4, 1200), np.linspace(0, 5, 4001)


@dataclass(frozen=True)
class Ahead:
    """What an element sees of the bottom ahead of it.

    edge [m]: range at which its mean echo stands out of the water, as a pick has it; leak (n): echo strength, as a
    power [m2], that the filter's side lobes carry to ranges `distance` (n) [m].
    """

    edge: float
    distance: FloatArray
    leak: FloatArray


def value(at: Stage, question: Question, *, fine: bool = False) -> float | None:
    """Return the closed-form value in the question's unit, None where there is none; of a difference first less second.

    fine: with side lobes and aspect; widths and resolutions have no finer form.
    """
    values = [of_element(at, question, i, fine=fine) for i in range(len(at.prepared.elements))]
    known = [v for v in values if np.isfinite(v)]
    if len(known) < len(values):
        return None
    return known[0] - known[1] if question.is_difference else known[0]


def of_element(at: Stage, question: Question, index: int, *, fine: bool = False) -> float:
    """Return the closed-form value for one element, nan where there is none."""
    info = at.prepared.header.elements[index].info
    if question.measure == "beam_width":
        return info.beamwidth_across if question.plane == "across" else info.beamwidth_along
    if question.measure == "range_resolution":
        return point_width(info)
    if question.measure in LIMITS:
        return _limit(at, question, index, fine=fine)
    return probability(at, question, index, fish_depth(at, question.species), fine=fine)


def fish_depth(at: Stage, species: Species) -> float:
    """Return the fish's depth below the transducers [m] straight under the boat; the bottom's where none is given."""
    bottom = float(at.depth(np.zeros(1), np.zeros(1))[0])
    if species.above_bottom is not None:
        return bottom - species.above_bottom - at.face
    return (bottom if species.depth is None else species.depth) - at.face


def probability(
    at: Stage, question: Question, index: int, depth: float, *, fine: bool = False, bottom: Ahead | None = None
) -> float:
    """Return P(hit) averaged over the footprint, or at the claim's place; depth [m] of the fish below transducers."""
    x, y = _places(at, question, depth)
    return float(np.mean(chances(at, question, index, x, y, np.full(len(x), depth), fine=fine, bottom=bottom)))


def along(
    at: Stage, question: Question, index: int, axis: str, points: FloatArray, *, fine: bool = False
) -> FloatArray:
    """Return P(hit) at points [m] (n) of a limit's axis: depth, length, or across."""
    species, count = question.species, len(points)
    place = question.place or Place(0.0, 0.0)
    x, y = np.full(count, place.along), np.full(count, place.across)
    depth, length = np.full(count, fish_depth(at, species)), np.full(count, species.length)
    if axis == "depth":
        depth = points
    elif axis == "length":
        length = points
    else:
        x, y = np.zeros(count), points
    return chances(at, question, index, x, y, depth, length, fine=fine)


def _limit(at: Stage, question: Question, index: int, *, fine: bool) -> float:
    """Return where P(detected) passes one half, nan where it does not."""
    axis, points = {
        "reach": ("depth", DEPTHS),
        "smallest_fish": ("length", LENGTHS),
        "swath": ("across", OFFSETS * max(fish_depth(at, question.species), 0.1)),
    }[question.measure]
    chance = along(at, question, index, axis, points, fine=fine)
    beyond = (chance >= 0.5) if axis == "length" else (chance < 0.5)
    first = int(np.argmax(beyond))
    if not beyond.any() or (first == 0 and axis != "across"):
        return float("nan")
    if first == 0:
        return 0.0
    part = (0.5 - chance[first - 1]) / (chance[first] - chance[first - 1])
    found = points[first - 1] + part * (points[first] - points[first - 1])
    return float(2 * found if axis == "across" else found)


def chances(
    at: Stage,
    question: Question,
    index: int,
    x: FloatArray,
    y: FloatArray,
    depth: FloatArray,
    length: FloatArray | None = None,
    *,
    fine: bool = False,
    bottom: Ahead | None = None,
) -> FloatArray:
    """Return P(hit) (n) of fish at x, y, depth [m] (n) from the element by geometry and the sonar equation.

    bottom: of this stage and element, where it is known already.

    A fish hits where its range is shorter than the bottom's by the cells its measure needs, with the probability that
    its Rayleigh echo exceeds noise and the floor; reach and smallest fish know no bottom.
    """
    header, species = at.prepared.header.elements[index], question.species
    info = header.info
    slant = np.sqrt(x**2 + y**2 + depth**2)
    loss = two_way_loss(info, header.beam, np.degrees(np.arctan2(x, depth)), np.degrees(np.arctan2(y, depth)))
    model = _model(info, species, float(np.median(depth)) + at.face)
    length = np.full(len(depth), species.length) if length is None else length
    own = model.strength(length, depth + at.face, 0.5 * (info.band_low + info.band_high)) - loss
    noise = info.noise_level - info.source_level + 40 * np.log10(slant) + 2 * info.absorption * slant
    free = np.ones(len(x), dtype=bool)
    if question.measure not in ("reach", "smallest_fish"):
        if fine:
            bottom = bottom or ahead(at, index)
            noise = 10 * np.log10(10 ** (0.1 * noise) + np.interp(slant, bottom.distance, bottom.leak, left=0.0))
        begins = bottom.edge if fine and bottom else _nearest(at)
        free = slant + CELLS.get(question.measure, OWN_FLANK) * info.cell < begins
    echo = own[:, None]
    if fine:
        echo = echo + 10 * np.log10(aspect.seen(species.tilt, model.axis_ratio, np.arccos(depth / slant)))
    over_noise = detection.detection_swerling_1(echo - noise[:, None], FALSE_ALARM)
    over_floor = np.exp(-(10 ** (0.1 * (FLOOR - echo))))
    chance = free * np.minimum(over_noise, over_floor).mean(axis=1)
    if question.measure == "separated_pair":
        chance = chance**2 * ((species.spacing or 0.0) * depth / slant >= PAIR_CELLS * info.cell)
    return np.asarray(chance)


def _model(info: ElementInfo, species: Species, depth: float) -> Any:
    return strength.model(species.strength_model, species.swimbladder, species.tilt, depth, info.assumed_sound_speed)


def _nearest(at: Stage) -> float:
    """Return the range [m] of the bottom's nearest point."""
    bottom = float(at.depth(np.zeros(1), np.zeros(1))[0]) - at.face
    return float(bottom * _upright(at)[2])


def _upright(at: Stage) -> FloatArray:
    """Return the unit vector (3) from the boat to the nearest point of a plane bottom of the scenario's slope."""
    slope = at.scenario.seabed.slope
    down = np.array([-np.tan(np.radians(slope.along)), -np.tan(np.radians(slope.across)), 1.0])
    return np.asarray(down / np.linalg.norm(down))


def bottom_echo(at: Stage, index: int) -> tuple[FloatArray, FloatArray]:
    """Return ranges [m] (n) and the mean echo strength, as a power [m2] (n), of a plane bottom without side lobes.

    Rings about the nearest point, of area 2 pi r dr each, of the top sediment's backscatter at its incidence, seen
    through the recorded pattern at band centre, element upright.
    """
    header = at.prepared.header.elements[index]
    info, normal = header.info, _upright(at)
    nearest = _nearest(at)
    lobes = filtering(info).lobes
    end = nearest / normal[2] + len(lobes) / STEPS * info.cell
    distance = np.arange(nearest, end, max(0.5 * info.cell, (end - nearest) / 3000)) + 1e-6
    cosine = nearest / distance
    side = np.cross(normal, [0.0, 1.0, 0.0])
    side /= np.linalg.norm(side)
    turn = 2 * np.pi * (np.arange(2 * SPOKES) + 0.5)[:, None] / (2 * SPOKES)
    around = np.cos(turn) * side + np.sin(turn) * np.cross(normal, side)
    x, y, z = (cosine * n + np.sqrt(1 - cosine**2) * a[:, None] for n, a in zip(normal, around.T, strict=True))
    loss = two_way_loss(info, header.beam, np.degrees(np.arctan2(x, z)), np.degrees(np.arctan2(y, z)))
    beam = (10 ** (-0.1 * loss)).mean(axis=0)
    top = materials.sediment(str(at.scenario.seabed.layer[0].sediment))
    angles = np.linspace(0.0, np.pi / 2, 91)
    frequency = 0.5 * (info.band_low + info.band_high)
    scatter = seabed.backscatter(top, np.cos(angles), frequency, info.assumed_sound_speed)[:, 0]
    ring = 2 * np.pi * distance * 0.5 * info.assumed_sound_speed * info.effective_pulse
    return distance, ring * beam * np.interp(np.arccos(cosine), angles, scatter)


def ahead(at: Stage, index: int) -> Ahead:
    """Return what an element sees of the bottom ahead of it."""
    info = at.prepared.header.elements[index].info
    bottom, power = bottom_echo(at, index)
    lobes, step, spacing = filtering(info).lobes, info.cell / STEPS, bottom[1] - bottom[0]
    cells = max(round(AVERAGED_CELLS * info.cell / spacing), 1)
    level = np.convolve(power, np.full(cells, 1 / cells), "valid").max()
    edge = float(bottom[np.argmax(power >= level * 10 ** (-0.1 * BELOW_BOTTOM))])
    noise = info.noise_level - info.source_level + 40 * np.log10(bottom) + 2 * info.absorption * bottom
    water = 10 ** (0.1 * (noise + QUIET_OVER))
    onset = np.maximum(level * 10 ** (-0.1 * ONSET_DROP), water)
    begun = (power >= onset) & (bottom >= (1 - LONGEST) * edge)
    if begun.any():
        edge = min(edge, float(bottom[np.argmax(begun)]))
    before = len(lobes) * step * np.linspace(1.0, 0.0, 150) ** 2
    away = (bottom[None, :] - bottom[0] + before[:, None]) / step
    share = np.interp(away, np.arange(len(lobes)), lobes, right=0.0) * spacing / step
    return Ahead(edge, bottom[0] - before, share @ power)


def _places(at: Stage, question: Question, depth: float) -> tuple[FloatArray, FloatArray]:
    if question.place is not None:
        return np.array([question.place.along]), np.array([question.place.across])
    ring = np.sqrt((np.arange(RINGS) + 0.5) / RINGS)[:, None]
    spoke = 2 * np.pi * (np.arange(SPOKES) + 0.5) / SPOKES
    ahead, across = depth * np.tan(np.radians(at.widest()))
    return (ahead * ring * np.cos(spoke)).ravel(), (across * ring * np.sin(spoke)).ravel()
