"""What a run will need, known before it starts: disk, memory, time."""

from dataclasses import dataclass
from pathlib import Path

from pingwright import costs
from pingwright.recording import Prepared

SECONDS_TO_START = 2.5  # s, loading and page; the first run after an installation compiles for 8 s more
SECONDS_AN_ELEMENT = 0.35  # measures and pictures of it
SECONDS_OF_TABLES = 0.15  # of one element that hears one element, flat faces
SECONDS_OF_TABLES_CURVED = 1.0  # of a curved face, beyond that
SECONDS_A_PING = 1e-3  # of one element, independent of its echoes: filters, noise, hiding
SECONDS_A_PASS = 0.15  # of a fresh pass: its world and its fish
#: Share of the pings near the fish that a fresh pass simulates, with their judgement; assumed: one scene gave 0.6.
SHARE_OF_PINGS = 0.6
OWNERS_WORK = 2.2  # of a run, for what dominates each sample; 1.76 and 1.75 measured in two scenes, raised by a quarter
BYTES_OF_TABLES = 3 << 20  # of one element that hears one element
BYTES_OF_PICTURES = 700_000  # page and picture without echoes
KEPT_BYTES = 512 << 20  # bytes of levels that stay in memory until they are measured and drawn
CELLS = 2_200_000  # of echoes that the page holds at most, a byte each
SMALLER = "Use fewer pings, fewer elements, a smaller window or a narrower band to need less;"


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


def channels(prepared: Prepared) -> list[int]:
    """Return how many elements each element receives: itself, and with crosstalk those whose bands overlap its own."""
    infos, settings = [element.info for element in prepared.header.elements], prepared.settings
    if settings.in_turn or not settings.crosstalk:
        return [1] * len(infos)
    return [sum(a.band_low < b.band_high and b.band_low < a.band_high for b in infos) for a in infos]


def estimate(
    prepared: Prepared, *, threads: int | None = None, keep_phase: bool = False, owners: bool = False
) -> Estimate:
    """Return what a run of a prepared scenario needs; owners: with which kind of thing dominates each sample."""
    elements, hears = prepared.header.elements, channels(prepared)
    pings = tuple(element.pings for element in elements)
    samples = tuple(len(element.range) for element in elements)
    width = 10 if keep_phase else 2
    stored = sum(p * s for p, s in zip(pings, samples, strict=True))
    scatterers, placed = heard(prepared), len(prepared.world.discrete.scatterers)
    work = sum(
        p * (SECONDS_A_PING + n * (scatterers * costs.SECONDS_A_SCATTERER + s * costs.SECONDS_A_SAMPLE))
        for p, s, n in zip(pings, samples, hears, strict=True)
    )
    curved = sum(element.face.virtual_depth > 0 for element in prepared.elements)
    tables = sum(hears) * SECONDS_OF_TABLES + curved * SECONDS_OF_TABLES_CURVED
    once = SECONDS_TO_START + len(elements) * SECONDS_AN_ELEMENT + tables + stored * 2e-8
    work += _of_passes(prepared, work / max(sum(pings), 1)) + OWNERS_WORK * work * owners
    time = costs.pace() * (once + work / costs.cores(threads))
    return Estimate(
        pings=pings,
        samples=samples,
        scatterers=scatterers,
        file=stored * width + stored * owners // 4 + _beside_levels(prepared) + BYTES_OF_PICTURES + min(stored, CELLS),
        memory=costs.BYTES_TO_START
        + costs.jobs(sum(samples), threads, width)
        + min(2 * stored, KEPT_BYTES)
        + stored * owners
        + sum(hears) * BYTES_OF_TABLES
        + int(scatterers * costs.BYTES_A_SCATTERER * costs.threads_of(threads))
        + placed * costs.BYTES_A_PLACED,
        time=time,
        longest=time,
    )


def _of_passes(prepared: Prepared, a_ping: float) -> float:
    """Return the time of the fresh passes [s of one thread]; a_ping [s]: of one ping of one element."""
    count = prepared.scenario.passes
    if count is None:
        return 0.0
    from pingwright.trials.repeated import pings_of_a_pass

    return int(count) * (SECONDS_A_PASS + SHARE_OF_PINGS * a_ping * pings_of_a_pass(prepared))


def _beside_levels(prepared: Prepared) -> int:
    """Return the size of the file without levels [bytes]: axes, beams, inputs, text, and internal data of HDF5."""
    header = prepared.header
    axes = sum(8 * (7 * e.pings + len(e.range) + 2 * e.beam.along.size) + 24_000 for e in header.elements)
    remaining = sum(len(content) for content in header.inputs.values())
    fish = len(header.truth.fish.id) * (64 + 24 * len(header.elements))
    return axes + remaining + fish + len(header.scenario) + len(header.scenario_resolved) + 80_000


def refuse_what_will_not_fit(needed: Estimate, folder: Path, *, held: int = 0) -> None:
    """Raise UnfinishedError if disk, memory or time will not be enough; `held` bytes of the file are there already."""
    costs.refuse_what_will_not_fit(needed, folder, SMALLER, held=held, files="the results")
