"""Which kind of thing dominates each sample: every kind is simulated alone, and the strongest is named.

Echoes add up before noise, so the echo of each kind is that of a world in which only this kind echoes. Things that hide
or absorb stay in that world. Bubbles and layers that fill the water share their random draws, as in a run.
"""

import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import NO_OWNER, OWNERS
from pingwright.element.model import Element
from pingwright.engine import jobs
from pingwright.engine.preparing import Run, prepare
from pingwright.engine.settings import Settings
from pingwright.engine.simulate import PINGS
from pingwright.world.gather import NOBODY
from pingwright.world.scatterers import World
from pingwright.world.target import POINT

OwnerArray = NDArray[np.int8]
Tell = Callable[[int, int], None]

#: Layers that belong to the open water, by the beginnings of their names.
OPEN_WATER = ("background", "step at ")


@dataclass(frozen=True)
class _Kind:
    """A kind of thing: its place in OWNERS, and a run of a world that holds it alone."""

    number: int
    run: Run


def owners(
    world: World,
    elements: tuple[Element, ...],
    settings: Settings,
    threads: int | None = None,
    tell: Tell | None = None,
) -> tuple[OwnerArray, ...]:
    """Return for each element which kind dominates each sample: int8 (ping, sample), places in OWNERS.

    The kind whose echo alone has the most power in the sample, before noise, saturation and word length; noise where
    its mean power is more. NO_OWNER while the pulse leaves. The same for any number of threads. tell(done, of): jobs.
    """
    whole = Run(world, elements, settings, quiet=True, linear=True)
    prepare(whole)
    kinds = [_Kind(OWNERS.index(name), whole.part(alone)) for name, alone in _alone(world)]
    if world.seabed is not None and world.bounce is not None:
        kinds.append(_Kind(OWNERS.index("second_echo"), _second_echo(whole)))
    counts = [len(whole.pings_of(e)) for e in range(len(elements))]
    result = tuple(np.empty((n, grid.count), np.int8) for n, grid in zip(counts, whole.samplings, strict=True))
    starts = range(0, max(counts), PINGS)
    pool = ThreadPoolExecutor(threads or os.cpu_count() or 1)
    try:
        ends = (min(first + PINGS, max(counts)) for first in starts)
        parts = pool.map(lambda pings: _job(whole, kinds, pings, result), map(range, starts, ends))
        for number, _ in enumerate(parts, start=1):
            if tell is not None:
                tell(number, len(starts))
    finally:
        pool.shutdown(cancel_futures=True)
    return result


def _job(whole: Run, kinds: list[_Kind], pings: range, result: tuple[OwnerArray, ...]) -> None:
    """Fill in the owners of some pings of every element."""
    rows = [result[e][pings.start : pings.stop] for e in range(len(result))]
    noise = [np.sum(parts.noise_scale.astype(np.float64) ** 2) for parts in whole.receivers]
    best = [np.full(own.shape, power, np.float32) for own, power in zip(rows, noise, strict=True)]
    for own in rows:
        own[...] = OWNERS.index("noise")
    for kind in kinds:
        for chunk in jobs.job(kind.run, pings, keep_phase=True):
            echo = np.asarray(chunk.echo)
            power = echo.real**2 + echo.imag**2
            rows[chunk.element][power > best[chunk.element]] = kind.number
            np.maximum(best[chunk.element], power, out=best[chunk.element])
    for own, parts in zip(rows, whole.receivers, strict=True):
        own[:, : parts.blank] = NO_OWNER


def _alone(world: World) -> Iterator[tuple[str, World]]:
    """Yield each kind in a world, and a world in which only this kind echoes; the second echo has its own."""
    layers = world.scattering_layer
    nobody = np.zeros(0, np.int64)
    bare = replace(
        world, discrete=world.discrete.of(nobody), seabed=None, bounce=None, scattering_layer=(), bubbles=False
    )
    if world.bubbles and world.wind_speed > 0:
        yield "surface", replace(bare, bubbles=True)
    own = tuple(one for one in layers if one.name.startswith(OPEN_WATER) and one.texture is None)
    for name, some in (("water", own), ("scattering_layer", tuple(one for one in layers if one not in own))):
        if some:
            yield name, replace(bare, scattering_layer=some)
    for name, which in _discrete(world).items():
        if len(which):
            yield name, replace(bare, discrete=world.discrete.of(which))
    if world.seabed is not None:
        yield "seabed", replace(bare, seabed=world.seabed)


def _discrete(world: World) -> dict[str, NDArray[np.int64]]:
    """Return which discrete scatterers are of each kind (n)."""
    owner = world.discrete.owner
    schools = [stock.id for stock in world.contents.stocks if stock.school]
    school = np.isin(owner, np.concatenate(schools)) if schools else np.zeros(len(owner), bool)
    points = np.array([law.name == POINT for law in world.laws] or [False])[world.discrete.scatterers.law]
    nobody = owner == NOBODY
    kinds = {"fish": ~nobody & ~school, "school": school, "target": nobody & points, "structure": nobody & ~points}
    return {name: np.flatnonzero(which) for name, which in kinds.items()}


def _second_echo(whole: Run) -> Run:
    """Return a run in which only echoes of the seabed by way of the surface are received."""
    world = replace(
        whole.world, discrete=whole.world.discrete.of(np.zeros(0, np.int64)), scattering_layer=(), bubbles=False
    )
    run = whole.part(world)
    silent = [[replace(table, gain=np.zeros_like(table.gain)) for table in tables] for tables in whole.tables]
    vars(run)["tables"] = silent
    return run
