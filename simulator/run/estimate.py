"""What a run will need, told before it starts: disk, memory, time."""

import os
import shutil
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from simulator.errors import UnfinishedError
from simulator.recording import Prepared

#: A file larger than this is refused without --force [bytes].
FILE_LIMIT = 8 << 30
#: Share of the machine's memory a run may take without --force.
MEMORY_SHARE = 0.8

# Costs measured on two busy cores of one machine (a wreck, a shoal, a lake); others differ by a factor of two.
SECONDS_A_SCATTERER = 200e-9
SECONDS_A_SAMPLE = 12e-9
SECONDS_TO_START = 8.0  # loading, tables, pictures and page; the first run after an installation compiles for 8 s more
BYTES_TO_START = 350 << 20
BYTES_A_SCATTERER = 60


@dataclass(frozen=True)
class Estimate:
    """What a run needs.

    pings, samples: of each element. file, memory [bytes]; time [s], on the threads asked for, pictures included.
    scatterers: heard by one ping of one element.
    """

    pings: tuple[int, ...]
    samples: tuple[int, ...]
    scatterers: int
    file: int
    memory: int
    time: float

    def __str__(self) -> str:
        """Say it in one line."""
        return (
            f"about {size(self.file)} on disk, {size(self.memory)} of memory and {duration(self.time)}"
            f" ({max(self.pings)} pings of up to {max(self.samples)} samples for {len(self.pings)} elements,"
            f" about {self.scatterers} scatterers heard by each)"
        )


def size(count: float) -> str:
    """Return a number of bytes in words."""
    for unit in ("B", "kB", "MB", "GB"):
        if count < 1000:
            return f"{count:.3g} {unit}"
        count /= 1000
    return f"{count:.3g} TB"


def duration(seconds: float) -> str:
    """Return a time [s] in words."""
    if seconds < 90:
        return f"{seconds:.2g} s" if seconds < 10 else f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"


def heard(prepared: Prepared) -> int:
    """Return about how many scatterers one ping of one element hears: the seabed's in reach, and all single ones."""
    world, settings = prepared.world, prepared.settings
    count = len(world.discrete.scatterers)
    if world.seabed is None or not len(world.track):
        return count
    middle = len(world.track) // 2
    x, y = world.track.x[middle], world.track.y[middle]
    edge = world.seabed.tile_edge
    tile = world.seabed.tile(int(np.floor(x / edge)), int(np.floor(y / edge)))
    reach = max(float(record.range[-1]) for record in prepared.header.elements)
    below = float(world.terrain.depth(np.array([x]), np.array([y]))[0]) - settings.transducer_depth
    return count + int(len(tile) / edge**2 * np.pi * max(reach**2 - below**2, 0.0))


def estimate(prepared: Prepared, *, threads: int | None = None, keep_phase: bool = False) -> Estimate:
    """Return what a run of a prepared scenario needs."""
    elements = prepared.header.elements
    pings = tuple(element.pings for element in elements)
    samples = tuple(len(element.range) for element in elements)
    threads = threads or os.cpu_count() or 1
    width = 10 if keep_phase else 2
    stored = sum(p * s for p, s in zip(pings, samples, strict=True))
    scatterers = heard(prepared)
    work = sum(
        p * (scatterers * SECONDS_A_SCATTERER + s * SECONDS_A_SAMPLE) for p, s in zip(pings, samples, strict=True)
    )
    jobs = (threads + 2) * 16 * sum(samples) * (24 + width)
    return Estimate(
        pings=pings,
        samples=samples,
        scatterers=scatterers,
        file=stored * width + _beside_levels(prepared),
        memory=BYTES_TO_START + jobs + scatterers * BYTES_A_SCATTERER * threads,
        time=SECONDS_TO_START + work / threads + stored * 2e-8,
    )


def _beside_levels(prepared: Prepared) -> int:
    """Return what the file holds beside the levels [bytes]: axes, beams, inputs, text, and HDF5's own bookkeeping."""
    header = prepared.header
    axes = sum(8 * (7 * e.pings + len(e.range) + 2 * e.beam.along.size) + 24_000 for e in header.elements)
    kept = sum(len(content) for content in header.inputs.values())
    fish = len(header.truth.fish.id) * (64 + 24 * len(header.elements))
    return axes + kept + fish + len(header.scenario) + len(header.scenario_resolved) + 80_000


def _memory_of_machine() -> int:
    """Return the machine's memory [bytes], 0 where it cannot be asked."""
    try:
        return os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    except (AttributeError, ValueError, OSError):
        return 0


def refuse_what_will_not_fit(needed: Estimate, folder: Path, *, held: int = 0) -> None:
    """Raise UnfinishedError where disk or memory will not do; `held` bytes of the file are there already."""
    existing = next(parent for parent in (folder, *folder.absolute().parents) if parent.exists())
    room = shutil.disk_usage(existing).free + held
    memory = _memory_of_machine()
    too_much = []
    if needed.file > room:
        too_much.append(f"the echograms need {size(needed.file)} and {size(room)} are free on the disk of {existing}")
    if needed.file > FILE_LIMIT:
        too_much.append(f"the echograms need {size(needed.file)}, over the limit of {size(FILE_LIMIT)}")
    if memory and needed.memory > MEMORY_SHARE * memory:
        too_much.append(f"the run needs {size(needed.memory)} of memory and this machine has {size(memory)}")
    if too_much:
        message = (
            f"The run was not started: {'; '.join(too_much)}. Fewer pings or elements, a shallower window or a narrower"
            " band make it smaller; --force starts it all the same."
        )
        raise UnfinishedError(message)
