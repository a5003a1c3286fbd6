"""The closed-form value of what a claim asks, and why the simulated one may differ."""

import numpy as np

from simulator.acoustics import detection, fish, seabed
from simulator.claims.lots import FloatArray, Stage
from simulator.claims.question import Quarry, Question
from simulator.echograms.record import ElementInfo
from simulator.measure.closed import closed_form, two_way_loss
from simulator.measure.detect import FALSE_ALARM, FLOOR
from simulator.measure.filters import STEPS, filtering
from simulator.world import materials

#: Cells a point must be ahead of the bottom's edge to be parted: its own flank, the gap of 2 and the bottom's flank
#: (Hann, fish far below the bottom's level; 2 to 3 is the rule of thumb for equal ones).
PARTING_CELLS = 4.0
#: Two equal points behind a Hann filter show a gap of 2 cells 3 dB deep from here on: closed form.
PAIR_CELLS = 4.3
#: Points of the disc over which a probability is averaged.
RINGS, SPOKES = 40, 24


def strength(info: ElementInfo, quarry: Quarry) -> float:
    """Return the tilt-averaged strength of the fish [dB re 1 m2] at band centre; with a bladder by Love 1971."""
    frequency = 0.5 * (info.band_low + info.band_high)
    average = 10 * np.log10(fish.tilt_average(*quarry.tilt))
    length = max(quarry.length, 0.01)
    if quarry.swimbladder == "none":
        return float(fish.strength_mackerel(length))
    peak = float({"love-1977": lambda: fish.strength_love_1977(length, info.assumed_sound_speed / frequency)}.get(
        quarry.strength_model, lambda: fish.strength_love_1971(length, frequency))())  # fmt: skip
    if quarry.strength_model == "foote-1987":
        return float(fish.strength_foote_physoclist(length))
    return peak + float(average)


def value(at: Stage, question: Question) -> float | None:
    """Return the closed-form value in the question's unit; of a difference first less second."""
    values = [of_element(at, question, i) for i in range(len(at.prepared.elements))]
    known = [v for v in values if v is not None and np.isfinite(v)]
    if len(known) < len(values):
        return None
    return known[0] - known[1] if question.is_difference else known[0]


def of_element(at: Stage, question: Question, index: int) -> float | None:
    """Return the closed-form value for one element."""
    info, quarry = at.prepared.header.elements[index].info, question.quarry
    bottom = float(at.depth(np.zeros(1), np.zeros(1))[0]) - at.face
    if question.measure == "beam_width":
        return info.beamwidth_across if question.plane == "across" else info.beamwidth_along
    if question.measure == "range_resolution":
        return point_width(info)
    if question.measure in ("parted", "detected", "parted_pair"):
        return probability(at, question, index, fish_depth(at, quarry))
    deep = fish_depth(at, quarry)
    if question.measure == "searched_width":
        beam = at.prepared.header.elements[index].beam
        found = closed_form(info, bottom, quarry.length, bottom - deep, strength(info, quarry), beam=beam)
        return found.searched_width
    found = closed_form(info, deep, max(quarry.length, 0.01), 0.0, strength(info, quarry))
    return found.reach if question.measure == "reach" else found.smallest_fish


def fish_depth(at: Stage, quarry: Quarry) -> float:
    """Return the fish's depth below the transducers [m] straight under the boat; the bottom's where none is given."""
    bottom = float(at.depth(np.zeros(1), np.zeros(1))[0])
    if quarry.above_bottom is not None:
        return bottom - quarry.above_bottom - at.face
    return (bottom if quarry.depth is None else quarry.depth) - at.face


def point_width(info: ElementInfo, drop: float = 3.0) -> float:
    """Return the full width [m] of a point's echo at `drop` dB below its peak, from the pulse and its weighting."""
    lobes = filtering(info).lobes
    level = 10 * np.log10(lobes / lobes[0])
    first = int(np.argmax(level < -drop))
    inside = first - 1 + (level[first - 1] + drop) / (level[first - 1] - level[first])
    return float(2 * inside / STEPS * info.range_resolution)


def probability(at: Stage, question: Question, index: int, depth: float) -> float:
    """Return P(hit) by geometry and the sonar equation: averaged over the footprint, or at the claim's place.

    depth [m]: of the fish below the transducers. A fish hits where its range is shorter than the bottom's by the cells
    its measure needs, with the probability that its Rayleigh echo exceeds noise, the bottom's leak and the floor.
    """
    header, quarry = at.prepared.header.elements[index], question.quarry
    info = header.info
    bottom = float(at.depth(np.zeros(1), np.zeros(1))[0]) - at.face
    slope = at.scenario.seabed.slope
    nearest = bottom * np.cos(np.arctan(np.hypot(*np.tan(np.radians([slope.along, slope.across])))))
    cells = {"parted": PARTING_CELLS, "detected": 1.5, "parted_pair": 1.5}[question.measure]
    x, y = _places(at, question, depth)
    slant = np.sqrt(x**2 + y**2 + depth**2)
    free = slant + cells * info.range_resolution < nearest
    loss = two_way_loss(info, header.beam, np.degrees(np.arctan(x / depth)), np.degrees(np.arctan(y / depth)))
    echo = strength(info, quarry) - loss
    noise = info.noise_level - info.source_level + 40 * np.log10(slant) + 2 * info.absorption * slant
    around = 10 * np.log10(10 ** (0.1 * noise) + leak(at, index, nearest, nearest - slant))
    over_noise = detection.detection_swerling_1(echo - around, FALSE_ALARM)
    over_floor = np.exp(-(10 ** (0.1 * (FLOOR - echo))))
    chance = free * np.minimum(over_noise, over_floor)
    if question.measure == "parted_pair":
        apart = (quarry.spacing or 0.0) * depth / slant >= PAIR_CELLS * info.range_resolution
        chance = chance**2 * apart
    return float(np.mean(chance))


def leak(at: Stage, index: int, bottom: float, ahead: FloatArray) -> FloatArray:
    """Return the echo strength, as a power [m2], that the filter's side lobes carry ahead of the bottom echo (n).

    bottom, ahead [m]: range of the bottom, and how far ahead of it. A bottom of the top sediment's backscatter at
    vertical, whose echo lasts until the beam's one-way -3 dB edge, through the side lobes of pulse and weighting.
    """
    info = at.prepared.header.elements[index].info
    frequency = 0.5 * (info.band_low + info.band_high)
    top = materials.sediment(str(at.scenario.seabed.layer[0].sediment))
    scatter = float(seabed.backscatter(top, 1.0, frequency, info.assumed_sound_speed)[0, 0])
    ring = 2 * np.pi * bottom * 0.5 * info.assumed_sound_speed * info.effective_pulse
    half = np.radians(0.5 * min(info.beamwidth_along, info.beamwidth_across))
    lasting = bottom * (1 / np.cos(half) - 1)
    lobes = filtering(info).lobes
    beyond = np.append(np.cumsum(lobes[::-1])[::-1], 0.0)
    place = np.arange(len(beyond)) / STEPS * info.range_resolution
    near = np.interp(ahead, place, beyond, left=beyond[0], right=0.0)
    far = np.interp(ahead + lasting, place, beyond, left=beyond[0], right=0.0)
    return np.asarray(scatter * ring * (near - far))


def _places(at: Stage, question: Question, depth: float) -> tuple[np.ndarray, np.ndarray]:
    if question.place is not None:
        return np.array([question.place.along]), np.array([question.place.across])
    ring = np.sqrt((np.arange(RINGS) + 0.5) / RINGS)[:, None]
    spoke = 2 * np.pi * (np.arange(SPOKES) + 0.5) / SPOKES
    along, across = depth * np.tan(np.radians(at.widest()))
    return (along * ring * np.cos(spoke)).ravel(), (across * ring * np.sin(spoke)).ravel()


def explained(question: Question, simulated: float | None, closed: float | None) -> str:
    """Return in a sentence why the simulated number and the closed form differ, or that they agree."""
    if closed is None or simulated is None:
        return "No closed form is given for this."
    close = abs(simulated - closed) <= (0.05 if question.unit == "" else 0.1 * abs(closed))
    if close:
        return "Simulation and closed form agree."
    reasons = {
        "parted": "the closed form takes the echo as Rayleigh, the bottom as even and its edge as sharp; in the"
        " simulation tilt makes the fish fade more deeply, it extends in range, and the detector pays for estimating"
        " the local level close above the bottom",
        "detected": "the closed form takes the echo as Rayleigh, while tilt makes it fade more deeply",
        "parted_pair": "the closed form takes two equal points; real ones differ in strength and extend in range",
        "reach": "the closed form takes the tilt-averaged echo as Rayleigh; with tilt the median echo lies below that"
        " mean, and the detector pays for estimating the local level",
        "smallest_fish": "the closed form takes the tilt-averaged echo as Rayleigh; with tilt the median echo lies"
        " below that mean",
        "searched_width": "the closed form takes the pattern at band centre and a Rayleigh echo, and leaves out what"
        " the bottom leaks into the water above it through the filter's side lobes",
        "beam_width": "the closed form is for band centre; a chirp reads the mean over its band",
        "range_resolution": "noise and the band's uneven source level widen or narrow the echo",
    }
    return f"They differ because {reasons[question.measure]}."
