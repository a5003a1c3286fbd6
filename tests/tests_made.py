"""Small records made by hand, for tests that need one and no engine."""

import numpy as np
from pingwright.echograms import levels
from pingwright.echograms.layout import slugs
from pingwright.echograms.record import (
    FILL_VALUE,
    BeamPattern,
    ElementInfo,
    ElementRecord,
    FishTruth,
    Paths,
    Record,
    SedimentTruth,
    SoftTruth,
    StructureTruth,
    Truth,
)

SCENARIO = 'title = "Made by hand"\n'
INPUTS = {"bottom.csv": b"x,y,depth\n0,0,50\n", "sub/mesh.stl": b"solid \x00\xff"}


def info(name: str, position: int, slug: str, **changed) -> ElementInfo:
    values = {
        "name": name, "slug": slug, "position": position, "band_low": 130e3, "band_high": 210e3, "pulse_length": 2e-3,
        "weighting": "hann", "source_level": 214.2, "absorption": 0.05, "beamwidth_along": 8.5,
        "beamwidth_across": 8.5, "beamwidth_along_low": 11.0, "beamwidth_across_low": 11.0,
        "beamwidth_along_high": 6.9, "beamwidth_across_high": 6.9, "equivalent_beam_angle": -19.0,
        "effective_pulse": 1.9e-5, "range_resolution": 0.0094, "noise_level": 32.3, "blank_range": 1.7,
        "transducer_depth": 0.6, "assumed_sound_speed": 1500.0,
    }  # fmt: skip
    return ElementInfo(**(values | changed))


def header(names=("narrow high", "low"), pings=37, samples=400, fish=3, inputs=None, **changed) -> Record:
    """A record whose elements have no levels yet."""
    by_ping = np.arange(pings, dtype=float)
    angle = np.linspace(-90.0, 90.0, 31)
    frequency = np.array([130e3, 170e3, 210e3])
    pattern = -np.abs(angle)[None, :] / 3.0 * (frequency / 170e3)[:, None]
    elements = tuple(
        ElementRecord(
            info=info(name, position, slug, extra={"tilt_along": 0.0, "caution": "synthetic", "wide": False}),
            ping_time=by_ping * 0.2, x=by_ping - 10.0, y=0 * by_ping, roll=np.sin(by_ping), pitch=0 * by_ping,
            heave=0 * by_ping, bottom_depth=50 + 0.1 * by_ping, range=np.arange(samples) * 0.15,
            beam=BeamPattern(frequency, angle, pattern, 2 * pattern), echo_level=None,
        )
        for position, (name, slug) in enumerate(zip(names, slugs(names), strict=True))
    )  # fmt: skip
    many = (len(names), fish)
    truth = FishTruth(
        id=np.arange(fish), name=tuple(f"perch {i} é" for i in range(fish)), x=np.arange(fish) * 1.0,
        y=np.zeros(fish), depth=np.full(fish, 49.0), length=np.full(fish, 0.4), height=np.full(fish, 0.3),
        strength=np.full(many, -36.0), nearest_ping=np.full(many, 12), apparent_depth=np.full(many, 49.1),
        path=Paths(np.array([0.0, 5.0]), np.arange(6.0 * fish).reshape(3, 2, fish)),
    )  # fmt: skip
    box = np.array([[0.0, 50.0], [4.0, 50.0], [4.0, 46.0], [0.0, 46.0], [0.0, 50.0]])
    values = {
        "title": "Made by hand", "seed": 2**63 - 1, "scenario": SCENARIO, "scenario_resolved": SCENARIO,
        "elements": elements,
        "truth": Truth(
            truth,
            (StructureTruth("barge", "steel", box, box, box),),
            (
                SoftTruth("scattering_layer", "krill", (-np.inf, np.inf, -np.inf, np.inf, 22.0, 27.0)),
                SoftTruth("target", "ball", (1.0, 1.0, 2.0, 2.0, 9.0, 9.0), (0.1, 0.0, 0.0), (-40.0,) * len(names)),
            ),
            (SedimentTruth("gravel", 0.8), SedimentTruth("mud", np.inf), SedimentTruth("rock", 0.8, (0, 9, -3, 3))),
        ),
        "seabed_profile": np.array([[-10.0, 50.0], [30.0, 54.0]]),
        "seabed_across": np.array([[-20.0, 52.0], [20.0, 52.0]]),
        "inputs": INPUTS if inputs is None else inputs,
        "history": "made by hand", "warnings": ("one", "two"),
    }  # fmt: skip
    return Record(**(values | changed))


def echo(made: Record, element: int, seed: int = 1) -> np.ndarray:
    """Noise with a bottom, complex64 [uPa]."""
    rng = np.random.default_rng([seed, element])
    shape = (made.elements[element].pings, len(made.elements[element].range))
    noise = (rng.standard_normal(shape) + 1j * rng.standard_normal(shape)) * 40.0
    noise[:, int(0.8 * shape[1]) :] *= 1e4
    return noise.astype(np.complex64)


def held(made: Record, element: int) -> tuple[np.ndarray, np.ndarray]:
    """What a file or a record in memory holds of that: stored levels and echo, blind where the element is."""
    whole = echo(made, element)
    blind = made.elements[element].range <= made.elements[element].info.blank_range
    level, whole[:, blind] = levels.pack(whole), complex(np.nan, np.nan)
    level[:, blind] = FILL_VALUE
    return level, whole


def write_all(writer, made: Record, step: int = 16, keep_phase: bool = False, chunks: int | None = None) -> None:
    """Hand a writer (or gatherer) the record's chunks, all or the first few, skipping none."""
    count = 0
    for first in range(0, made.elements[0].pings, step):
        for element in range(len(made.elements)):
            if chunks is not None and count >= chunks:
                return
            part = echo(made, element)[first : first + step]
            writer.write(element, first, levels.pack(part), part if keep_phase else None)
            count += 1
