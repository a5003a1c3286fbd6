"""What a run will need, known before it starts: disk, memory, time."""

from dataclasses import dataclass
from pathlib import Path

from pingwright import costs
from pingwright.recording import Prepared

SECONDS_TO_START = 5.0  # loading, tables, pictures and page; the first run after an installation compiles for 8 s more
SECONDS_OF_TABLES_CURVED = 2.0  # of a curved face, beyond those of others
SECONDS_A_PING = 1e-3  # of one element, whatever it hears: filters, noise, what hides
SMALLER = "Fewer pings or elements, a shallower window or a narrower band make it smaller;"


@dataclass(frozen=True)
class Estimate(costs.Needs):
    """What a run needs.

    pings, samples: of each element. scatterers: heard by one ping of one element. Its time has the pictures in it.
    """

    pings: tuple[int, ...]
    samples: tuple[int, ...]
    scatterers: int


def heard(prepared: Prepared) -> int:
    """Return about how many scatterers one ping of one element hears: the seabed's in reach, and all single ones."""
    world, settings = prepared.world, prepared.settings
    count = len(world.discrete.scatterers)
    if not len(world.track):
        return count
    middle = len(world.track) // 2
    x, y = world.track.x[middle : middle + 1], world.track.y[middle : middle + 1]
    reach = max(float(record.range[-1]) for record in prepared.header.elements)
    below = float(world.terrain.depth(x, y)[0]) - settings.transducer_depth
    return count + int(costs.density(world, float(x[0]), float(y[0])) * costs.disc(reach, below))


def estimate(prepared: Prepared, *, threads: int | None = None, keep_phase: bool = False) -> Estimate:
    """Return what a run of a prepared scenario needs."""
    elements = prepared.header.elements
    pings = tuple(element.pings for element in elements)
    samples = tuple(len(element.range) for element in elements)
    width = 10 if keep_phase else 2
    stored = sum(p * s for p, s in zip(pings, samples, strict=True))
    scatterers, placed = heard(prepared), len(prepared.world.discrete.scatterers)
    work = sum(
        p * (SECONDS_A_PING + scatterers * costs.SECONDS_A_SCATTERER + s * costs.SECONDS_A_SAMPLE)
        for p, s in zip(pings, samples, strict=True)
    )
    curved = sum(element.face.virtual_depth > 0 for element in prepared.elements)
    time = SECONDS_TO_START + curved * SECONDS_OF_TABLES_CURVED + work / costs.cores(threads) + stored * 2e-8
    return Estimate(
        pings=pings,
        samples=samples,
        scatterers=scatterers,
        file=stored * width + _beside_levels(prepared),
        memory=costs.BYTES_TO_START
        + costs.jobs(sum(samples), threads, width)
        + int(scatterers * costs.BYTES_A_SCATTERER * costs.threads_of(threads))
        + placed * costs.BYTES_A_PLACED,
        time=time,
        longest=time,
    )


def _beside_levels(prepared: Prepared) -> int:
    """Return what the file holds beside the levels [bytes]: axes, beams, inputs, text, and HDF5's own bookkeeping."""
    header = prepared.header
    axes = sum(8 * (7 * e.pings + len(e.range) + 2 * e.beam.along.size) + 24_000 for e in header.elements)
    kept = sum(len(content) for content in header.inputs.values())
    fish = len(header.truth.fish.id) * (64 + 24 * len(header.elements))
    return axes + kept + fish + len(header.scenario) + len(header.scenario_resolved) + 80_000


def refuse_what_will_not_fit(needed: Estimate, folder: Path, *, held: int = 0) -> None:
    """Raise UnfinishedError where disk, memory or time will not do; `held` bytes of the file are there already."""
    costs.refuse_what_will_not_fit(needed, folder, SMALLER, held=held, files="the echograms")
