"""A small recording made without the engine, plausible to the eye, with marks given by hand: for tests of pictures."""

from dataclasses import dataclass

import numpy as np
from pingwright.echograms.record import (
    ADD_OFFSET,
    LIMIT,
    SCALE_FACTOR,
    BeamPattern,
    ElementInfo,
    ElementRecord,
    FishTruth,
    Record,
    SoftTruth,
    StructureTruth,
    Truth,
)
from pingwright.measure.assessment import MARKS, Assessment, ClosedForm, ElementAssessment, Share
from pingwright.measure.definitions import DEFINITIONS

C = 1500.0
DRAFT = 0.6
SCENARIO = 'title = "Ore barge on a gravel plain"\nseed = 11\n[[element]]\nname = "narrow high"\n'


@dataclass(frozen=True)
class Kind:
    name: str
    band: tuple[float, float]
    width: float
    source_level: float
    noise: float
    marks: str  # p, s, m by fish


KINDS = (
    Kind("narrow high", (130e3, 210e3), 7.0, 222.0, 32.0, "ppppppppsm"),
    Kind("wide high", (150e3, 240e3), 22.0, 213.0, 34.0, "ppssssssmm"),
    Kind("low", (40e3, 60e3), 20.0, 216.0, 40.0, "pssssssmmm"),
)
FISH_X = np.array([-21.0, -17.5, -14.0, -9.0, -4.0, 1.5, 6.0, 12.0, 17.0, 22.0])
FISH_Y = np.array([0.3, -0.5, 1.0, 0.2, -0.8, 0.6, 0.0, -0.4, 0.9, 3.4])
FISH_H = np.array([0.45, 0.8, 0.5, 1.3, 2.2, 1.1, 0.6, 0.4, 0.35, 0.3])


def bottom(x):
    return 58.0 + 0.15 * np.sin(2 * np.pi * x / 17)


def info(kind, position):
    f1, f2 = kind.band
    mean = (f1 + f2) / 2
    return ElementInfo(
        name=kind.name,
        slug=kind.name.replace(" ", "-"),
        position=position,
        band_low=f1,
        band_high=f2,
        pulse_length=2e-3,
        weighting="hann",
        source_level=kind.source_level,
        absorption=0.00003 * mean / 1e3 * 10 / 10,
        beamwidth_along=kind.width,
        beamwidth_across=kind.width,
        beamwidth_along_low=kind.width * mean / f1,
        beamwidth_across_low=kind.width * mean / f1,
        beamwidth_along_high=kind.width * mean / f2,
        beamwidth_across_high=kind.width * mean / f2,
        equivalent_beam_angle=-20.8 + 20 * np.log10(kind.width / 7),
        effective_pulse=1.5 / (f2 - f1),
        range_resolution=1.44 * C / 2 / (f2 - f1),
        noise_level=kind.noise,
        blank_range=1.7,
        transducer_depth=DRAFT,
        assumed_sound_speed=C,
    )


def one_way(kind, angle):
    """A round beam of the right width, with a floor of side lobes [power]."""
    return np.maximum(10 ** (-0.3 * (2 * angle / kind.width) ** 2), 10**-2.2)


def pattern(kind):
    frequency = np.linspace(*kind.band, 5)
    angle = np.linspace(-90, 90, 361)
    scale = frequency[:, None] / frequency.mean()
    level = np.maximum(-3 * (2 * angle[None] * scale / kind.width) ** 2, -24 - 6 * np.abs(np.sin(angle / 3)))
    return BeamPattern(frequency, angle, level, level.copy())


def strengths(kind, described, x, r, random):
    """Echo strength [linear, m2] (ping, sample) without noise."""
    cell = described.range_resolution
    power = np.zeros((len(x), len(r)))
    for fx, fy, fh in zip(FISH_X, FISH_Y, FISH_H, strict=True):
        depth = bottom(fx) - fh - DRAFT
        ground = np.hypot(fx - x, fy)
        slant = np.hypot(ground, depth)
        b = one_way(kind, np.degrees(np.arctan2(ground, depth))) ** 2
        power += (10**-3.4 * b)[:, None] * np.exp(-0.5 * ((r[None] - slant[:, None]) / (0.42 * cell)) ** 2)
    below = r[None] - (bottom(x) - DRAFT)[:, None]
    angle = np.degrees(np.arccos(np.clip(1 - np.maximum(below, 0) / 57, -1, 1)))
    rough = 10**-0.9 * np.minimum(1, (kind.width / 20) ** 2 + 0.25) * one_way(kind, angle) ** 2
    rise = 1 / (1 + np.exp(np.clip(-below / (0.25 * cell), -50, 50)))
    rough = rough * rise * (1 + np.exp(-np.maximum(below, 0) / 0.5))
    rough = rough * np.where(np.abs(x) < 15, 0.15, 1)[:, None]
    power += rough * random.exponential(size=power.shape)
    deck = 54.0 - DRAFT + 0.02 * x
    power += np.where(np.abs(x)[:, None] < 15, 0.08 * np.exp(-0.5 * ((r[None] - deck[:, None]) / (0.6 * cell)) ** 2), 0)
    edge = np.hypot(np.maximum(np.abs(x) - 15, 0), 54 - DRAFT)
    b = one_way(kind, np.degrees(np.arctan2(np.maximum(np.abs(x) - 15, 0), 53.4))) ** 2
    return power + (0.02 * b)[:, None] * np.exp(-0.5 * ((r[None] - edge[:, None]) / (0.6 * cell)) ** 2)


def element(kind, position, pings, step):
    described = info(kind, position)
    random = np.random.default_rng(position + 5)
    x = np.linspace(-30, 30, pings)
    r = np.arange(0, 69.4, step)
    power = strengths(kind, described, x, r, random)
    record = ElementRecord(
        info=described,
        ping_time=np.arange(pings) * 0.2,
        x=x,
        y=np.zeros(pings),
        roll=np.zeros(pings),
        pitch=np.zeros(pings),
        heave=np.zeros(pings),
        bottom_depth=bottom(x),
        range=r,
        beam=pattern(kind),
        echo_level=None,
    )
    received = power * 10 ** (-record.spreading()[None] / 10)
    received += 10 ** (kind.noise / 10) * random.exponential(size=power.shape)
    level = 10 * np.log10(received)
    level[:, r < described.blank_range] = 180.0
    stored = np.clip(np.rint((level - ADD_OFFSET) / SCALE_FACTOR), -LIMIT, LIMIT).astype(np.int16)
    return ElementRecord(**{**vars(record), "echo_level": stored})


def truth(elements):
    count = len(FISH_X)
    nearest = np.array([[int(np.argmin(np.abs(e.x - fx))) for fx in FISH_X] for e in elements])
    depth = bottom(FISH_X) - FISH_H
    apparent = np.tile(np.hypot(FISH_Y, depth - DRAFT) + DRAFT, (len(elements), 1))
    fish = FishTruth(
        id=np.arange(count),
        name=("reef fish",) * count,
        x=FISH_X,
        y=FISH_Y,
        depth=depth,
        length=np.full(count, 0.4),
        height=FISH_H,
        strength=np.full((len(elements), count), -34.0),
        nearest_ping=nearest,
        apparent_depth=apparent,
    )
    side = np.array([[-15, 58], [-15, 54], [15, 54], [15, 58], [-15, 58]], float)
    ahead = np.array([[-4, 58], [-4, 54], [4, 54], [4, 58], [-4, 58]], float)
    plan = np.array([[-15, -4], [15, -4], [15, 4], [-15, 4], [-15, -4]], float)
    soft = (
        SoftTruth("school", "bait ball", (6, 14, -3, 3, 16, 20)),
        SoftTruth("scattering_layer", "krill layer", (-np.inf, np.inf, -np.inf, np.inf, 22, 27)),
    )
    return Truth(fish, (StructureTruth("ore barge", "steel", side, ahead, plan),), soft)


def record(pings=150, step=0.02, kinds=KINDS, title="Ore barge on a gravel plain"):
    elements = tuple(element(kind, i, pings, step) for i, kind in enumerate(kinds))
    x = np.linspace(-40, 40, 81)
    return Record(
        title=title,
        seed=11,
        scenario=SCENARIO,
        scenario_resolved=SCENARIO,
        elements=elements,
        truth=truth(elements),
        seabed_profile=np.stack([x, bottom(x)], axis=1),
        seabed_across=np.stack([x, np.full_like(x, 58.0)], axis=1),
        inputs={"bottom.csv": b"x,y,depth\n0,0,58\n"},
    )


def share(hits, of):
    return Share(hits, of, hits / of if of else np.nan, 0.0, 1.0)


def assessed(rec, kind, position):
    e = rec.elements[position]
    fish = rec.truth.fish
    mark = tuple({"p": "separated", "s": "merged", "m": "not_shown"}[letter] for letter in kind.marks)
    drawn = fish.apparent_range(position, e.info)
    pick = e.bottom_depth - e.info.transducer_depth
    counts = {name: mark.count(name) for name in MARKS}
    foot = 2 * 57.4 * np.tan(np.radians(e.info.beamwidth_along / 2))
    missed = np.array([m == "not_shown" for m in mark])
    return ElementAssessment(
        name=e.info.name,
        slug=e.info.slug,
        mark=mark,
        fish_ping=fish.nearest_ping[position],
        fish_range=drawn,
        fish_peak=np.where(missed, np.nan, drawn),
        fish_strength=np.where(missed, np.nan, -34.0),
        bottom_range=pick,
        bottom_peak=pick + 0.05,
        bottom_level=np.full(e.pings, 120.0),
        bottom_error=np.zeros(e.pings),
        counts=counts,
        detected=share(counts["separated"] + counts["merged"], len(mark)),
        separated=share(counts["separated"], len(mark)),
        false_alarms=share(0, 100),
        range_resolution=e.info.range_resolution,
        bottom_error_median=0.0,
        bottom_error_spread=0.02,
        closed=ClosedForm(57.4, 240.0, 0.12, "12 cm", foot, foot, foot * 0.8, 13.1, 0.11, 0.4, 0.45, 0.0088),
    )


def assessment(rec, kinds=KINDS):
    elements = tuple(assessed(rec, kind, i) for i, kind in enumerate(kinds))
    return Assessment(rec.title, -60.0, elements, DEFINITIONS)
