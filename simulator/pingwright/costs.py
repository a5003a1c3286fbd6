"""What work will need, known before it starts, and the refusal of work that will not fit: disk, memory, time.

Costs are processor seconds with one thread; `pace` measures how fast this computer is. Predicted over measured time was
0.60 to 0.92 for five runs such as the gallery's (one with crosstalk). The constants were then raised by a quarter; no
other runs were measured.
"""

import os
import shutil
import time
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from pingwright.errors import UnfinishedError

if TYPE_CHECKING:
    from pingwright.world.scatterers import World

#: Files larger than this are refused without --force [bytes].
FILE_LIMIT = 8 << 30
#: Work longer than this is refused without --force [s].
TIME_LIMIT = 24 * 3600.0
#: Share of the computer's memory that may be used without --force.
MEMORY_SHARE = 0.8

SECONDS_A_SCATTERER = 150e-9  # for a scatterer heard by one ping of one element, with all that makes and gathers it
SECONDS_A_VISIT = 45e-9  # of one ping of one element for one scatterer in a tile within reach
SECONDS_A_SAMPLE = 12e-9
MOST_NEIGHBOURS = 200  # pings on one side of a place
COUNTED = 2e6  # scatterers: more than this are not made just to count them
BYTES_TO_START = 350 << 20
BYTES_A_SCATTERER = 60  # heard, on each thread
BYTES_A_PLACED = 320  # of fish and structures, while the world is built
PROBE = 5.6e-4  # s that `pace` took on the machine where all these costs were measured
#: Threads share caches and memory: each further thread counts as this much of a thread.
WORTH_OF_A_THREAD = 0.7


@dataclass(frozen=True)
class Needs:
    """What work needs: file, memory [bytes]; time [s] as expected, longest [s] in the worst case."""

    file: int
    memory: int
    time: float
    longest: float


@lru_cache(maxsize=1)
def pace() -> float:
    """Return how many times slower this computer is now than the one on which the costs were measured, dimensionless.

    Measured in a hundredth of a second, half transforms, half plain Python. The best of eight tries counts: the first
    ones also pay for fresh memory, and then gave 1.4 to 3.4 on one idle machine.
    """
    wave, best = np.cos(np.arange(1 << 15) * 0.1), np.inf
    for _ in range(8):
        began = time.process_time()
        np.fft.irfft(np.fft.rfft(wave) * 1.5)
        sum(i * i for i in range(5_000))
        best = min(best, time.process_time() - began)
    return float(np.clip(best / PROBE, 0.2, 10.0))


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
    if seconds < 5400:
        return f"{seconds / 60:.0f} min"
    return f"{seconds / 3600:.1f} h" if seconds < 72 * 3600 else f"{seconds / 86400:.0f} days"


def threads_of(threads: int | None) -> int:
    """Return the number of threads; None: one for each core."""
    return threads or os.cpu_count() or 1


def cores(threads: int | None) -> float:
    """Return how many times faster this many threads are than one, dimensionless; None: as many as there are cores."""
    return 1 + WORTH_OF_A_THREAD * (threads_of(threads) - 1)


def density(world: "World", x: float, y: float) -> float:
    """Return the density of seabed scatterers [1/m2] around a place x, y [m] of a world (world.scatterers)."""
    if world.seabed is None:
        return 0.0
    edge = world.seabed.tile_edge
    return len(world.seabed.tile(int(np.floor(x / edge)), int(np.floor(y / edge)))) / float(edge**2)


def disc(reach: float, below: float) -> float:
    """Return the area [m2] of a level bottom at a distance below [m] that lies within reach [m]."""
    return float(np.pi * max(reach**2 - below**2, 0.0))


def among(world: "World", place: tuple[float, float], reach: float, spacing: float) -> "World":
    """Return a world for pings that are `spacing` [m] apart along x, on both sides of a place x, y [m].

    reach [m]: pings farther away do not matter. The volume of a sediment is sampled densely under every ping, so one
    ping would not do.
    """
    if world.seabed is None:
        return world
    count = min(max(int(reach / spacing), 1), MOST_NEIGHBOURS)
    x = place[0] + np.linspace(-reach, reach, 2 * count + 1)
    return replace(world, seabed=world.seabed.under(np.stack([x, np.full(len(x), place[1])])))


def visited(world: "World", place: tuple[float, float, float], reach: float) -> float:
    """Return the number of bottom scatterers in the tiles within reach of a ping at x, y, depth [m].

    If there are too many to count, the number follows from the tile under the boat.
    """
    from pingwright.engine.geometry import Tiles, stretch

    x, y, face = place
    below = float(world.terrain.depth(np.array([x]), np.array([y]))[0]) - face
    about = density(world, x, y) * disc(reach, below)
    if world.seabed is None or about > COUNTED:
        return about
    there = np.array(place)
    segments = stretch(Tiles(world.seabed), there[:, None], reach).heard(there, reach)
    return float((segments[:, 1] - segments[:, 0]).sum())


def jobs(samples: int, threads: int | None, width: int = 2) -> int:
    """Return the memory of the pings in work [bytes]; samples: of all elements; width: bytes of one sample."""
    return (threads_of(threads) + 2) * 16 * samples * (24 + width)


def memory_of_machine() -> int:
    """Return the memory of this computer [bytes], 0 if it is not known."""
    try:
        return os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    except (AttributeError, ValueError, OSError):
        return 0


def processes(threads: int | None, shared: int = 0) -> int:
    """Return how many processes of this program the machine has cores, or we threads, and memory for; 1 at least.

    shared: memory that all of them together fill [bytes]. Twice what starting takes is allowed to each.
    """
    memory = memory_of_machine()
    room = int((MEMORY_SHARE * memory - shared) // (2 * BYTES_TO_START)) if memory else 1
    return max(1, min(threads_of(threads), room))


def cap_memory() -> None:
    """Let allocations beyond MEMORY_SHARE of the computer's memory fail, if the system allows that.

    Then the program ends with a message, before the system ends it without one.
    """
    with suppress(ImportError, AttributeError, ValueError, OSError):
        import resource

        most, hard = int(MEMORY_SHARE * memory_of_machine()), resource.getrlimit(resource.RLIMIT_DATA)[1]
        if most:
            resource.setrlimit(resource.RLIMIT_DATA, (most if hard < 0 else min(most, hard), hard))


def too_much(needs: Needs, folder: Path, *, held: int = 0, files: str = "the results") -> list[str]:
    """Return texts about what will not fit, none if all fits; `held` bytes of the file are on the disk already."""
    existing = next(parent for parent in (folder, *folder.absolute().parents) if parent.exists())
    room, memory, texts = shutil.disk_usage(existing).free + held, memory_of_machine(), []
    if needs.file > room:
        texts.append(f"{files} need {size(needs.file)}, but only {size(room)} are free on the disk of {existing}")
    if needs.file > FILE_LIMIT:
        texts.append(f"{files} need {size(needs.file)}; the limit is {size(FILE_LIMIT)}")
    if memory and needs.memory > MEMORY_SHARE * memory:
        texts.append(f"it needs {size(needs.memory)} of memory, but this computer has {size(memory)}")
    if needs.time > TIME_LIMIT:
        texts.append(f"it takes about {duration(needs.time)}; the limit is {duration(TIME_LIMIT)}")
    return texts


def refuse_what_will_not_fit(
    needs: Needs, folder: Path, smaller: str, *, held: int = 0, files: str = "the results"
) -> None:
    """Raise UnfinishedError if disk, memory or time will not be enough; smaller: a sentence on how to need less."""
    texts = too_much(needs, folder, held=held, files=files)
    if texts:
        message = f"The work was not started: {'; '.join(texts)}. {smaller} --force runs it anyway."
        raise UnfinishedError(message)
