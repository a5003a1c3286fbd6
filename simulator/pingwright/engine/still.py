"""Superposition: the echoes of an unchanged world are stored, and things that move or change are added to them.

Everything before saturation, word length and the packing of levels is linear. So a fish is spread and filtered only
over the some hundred samples of its echo, and added to the stored echo of the bottom of the same ping.
"""

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from pingwright import seeds
from pingwright.echograms.record import ADD_OFFSET, LIMIT, SCALE_FACTOR
from pingwright.element.model import Element
from pingwright.engine import geometry, receiver, short
from pingwright.engine.jobs import earlier, job
from pingwright.engine.preparing import Run, linear_run
from pingwright.engine.settings import Settings
from pingwright.engine.short import Short
from pingwright.engine.simulate import Progress, pings
from pingwright.engine.things import Hearings, Things, heard, left, things_of
from pingwright.world.scatterers import World

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
LevelArray = NDArray[np.int16]
EchoArray = NDArray[np.complex64]

_T = TypeVar("_T")

#: Pings filtered at a time: their grids and spectra stay in the caches.
_BLOCK = 32


@dataclass(frozen=True)
class Change:
    """The samples that added things change in one ping: levels int16 (n) from sample `first` on."""

    ping: int
    first: int
    level: LevelArray


@dataclass(frozen=True)
class Overlay:
    """The echoes of some things, alone, on the pings of a `Still`.

    parts: for each element row (m), rising: the ping; start (m): the sample of the first value, which may lie outside;
    and patches complex64 (m, sample) [uPa].
    """

    parts: tuple[tuple[IntArray, IntArray, EchoArray], ...]

    @property
    def bytes(self) -> int:
        """Memory [bytes]."""
        return sum(array.nbytes for part in self.parts for array in part)


@dataclass(frozen=True)
class Still:
    """The stored echoes of a world, one array for each element.

    echo complex64 (ping, sample) [uPa]: the filter's output before saturation; level int16 (ping, sample): the same
    packed, as `simulate` gives it. first: track ping (counted in transmissions) of row 0; noisy: noise is in echo.
    Anything that neither hides nor absorbs can be added: see `over`. scattered (row): pings of the rows if they are not
    neighbours, else None; each ping is then alone, without echoes of the ping before.
    """

    run: Run
    echo: tuple[EchoArray, ...]
    level: tuple[LevelArray, ...]
    first: int
    noisy: bool
    scattered: IntArray | None = None
    _shorts: dict[tuple[int, int], Short] = field(default_factory=dict, repr=False)
    _margins: dict[int, int] = field(default_factory=dict, repr=False)
    _held_poses: dict[int, FloatArray] = field(default_factory=dict, repr=False)

    @property
    def bytes(self) -> int:
        """Memory of the stored echoes [bytes]."""
        return sum(a.nbytes for a in self.echo) + sum(a.nbytes for a in self.level)

    def over(self, things: World, e: Sequence[int] | None = None, draw: int | None = None) -> list[LevelArray]:
        """Return levels int16 (ping, sample) of elements e (default: all) with things added to the stored echoes.

        things: a world over the same track; only its discrete scatterers and their laws are used. Structures and
        absorbers of the stored world hide and absorb them. draw: number of a new draw of noise for every ping, if no
        noise is stored. Raises ValueError if things hide or absorb something, because then the stored echoes are wrong.
        """
        elements = range(len(self.echo)) if e is None else e
        laid = self._laid(things)
        result = []
        for n in elements:
            base, level = self.echo[n], self.level[n].copy()
            if draw is not None:
                base = self._with_noise(n, draw)
                self._pack(n, base, np.tile([0, base.shape[1]], (len(base), 1)), level)
            for rows, total, ends in self._sums(n, base, laid):
                self._pack(n, total, ends, level[rows])
            result.append(level)
        return result

    def overlay(self, things: World) -> "Overlay":
        """Return the echoes of things alone, to be added by `together`, again and again; things: see `over`."""
        laid = self._laid(things)

        def of_element(n: int) -> tuple[IntArray, IntArray, EchoArray]:
            parts = [(row, start, patches.copy()) for _, row, start, patches in self._patches(n, laid)]
            if not parts:
                return np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros((0, 0), np.complex64)
            row, start, patches = (np.concatenate(list(column)) for column in zip(*parts, strict=True))
            return row, start, patches

        return Overlay(tuple(_each(of_element, len(self.echo))))

    def together(self, overlays: Sequence["Overlay"]) -> list[LevelArray]:
        """Return levels int16 (ping, sample) of each element with several overlays of these echoes added."""
        from pingwright.engine.kernels.over import add_patches

        def of_element(n: int) -> LevelArray:
            base, level = self.echo[n], self.level[n].copy()
            parts, count = [overlay.parts[n] for overlay in overlays], base.shape[1]
            ends = np.tile(np.array([count, 0]), (len(base), 1))
            for row, start, patches in parts:
                np.minimum.at(ends[:, 0], row, np.clip(start, 0, count))
                np.maximum.at(ends[:, 1], row, np.clip(start + patches.shape[1], 0, count))
            total = np.empty((_BLOCK, count), np.complex64)
            for begin in range(0, len(base), _BLOCK):
                rows = slice(begin, min(begin + _BLOCK, len(base)))
                held = total[: rows.stop - begin]
                for some, ping, (low, high) in zip(held, base[rows], ends[rows], strict=True):
                    some[low:high] = ping[low:high]
                for row, start, patches in parts:
                    here = slice(*np.searchsorted(row, [rows.start, rows.stop]))
                    add_patches(patches[here], row[here] - begin, start[here], held)
                self._pack(n, held, ends[rows], level[rows])
            return level

        return _each(of_element, len(self.echo))

    def noisier(self, settings: Settings) -> "Still":
        """Return the same echoes with the noise of other settings (wind, own noise), from the same draws."""
        run, echoes, levels = self.run, [], []
        for n, old in enumerate(run.receivers):
            new = receiver.build(old.element, list(old.pieces), old.sampling, settings)
            more, held = replace(old, noise_scale=new.noise_scale - old.noise_scale), self.echo[n].copy()
            for start in range(0, len(held), _BLOCK):
                rows = slice(start, min(start + _BLOCK, len(held)))
                keys = [seeds.key(run.settings.seed, "noise", n, int(p)) for p in self._rows(n)[rows]]
                held[rows] += receiver.noise(more, keys, run.scratch)
            level = self.level[n].copy()
            self._pack(n, held, np.tile([0, held.shape[1]], (len(held), 1)), level)
            echoes.append(held)
            levels.append(level)
        return replace(self, echo=tuple(echoes), level=tuple(levels))

    def _rows(self, n: int) -> IntArray:
        """Return the ping of each row."""
        return self.first + np.arange(len(self.echo[n])) if self.scattered is None else self.scattered

    def changed(self, things: World) -> list[list[Change]]:
        """Return, for each element, only the samples that added things change; see `over`."""
        laid = self._laid(things)
        result = []
        for n, base in enumerate(self.echo):
            changes = []
            for rows, total, ends in self._sums(n, base, laid):
                level = self.level[n][rows].copy()
                self._pack(n, total, ends, level)
                held = np.flatnonzero(ends[:, 1])
                changes += [Change(rows.start + i, int(ends[i, 0]), level[i, slice(*ends[i])]) for i in held]
            result.append(changes)
        return result

    def _with_noise(self, n: int, draw: int) -> EchoArray:
        """Return an element's stored echoes with a draw of noise added."""
        if self.noisy:
            message = "noise is in what was kept: keep it without noise to draw others"
            raise ValueError(message)
        parts, count = self.run.receivers[n], len(self.echo[n])
        noisy = np.empty_like(self.echo[n])
        for start in range(0, count, _BLOCK):
            rows = slice(start, min(start + _BLOCK, count))
            keys = [seeds.key(self.run.settings.seed, "noise", n, int(p), draw) for p in self._rows(n)[rows]]
            noisy[rows] = self.echo[n][rows] + receiver.noise(parts, keys, self.run.scratch)
        return noisy

    def _pack(self, n: int, echo: EchoArray, ends: IntArray, level: LevelArray) -> None:
        """Pack echoes (ping, sample) between their ends into level."""
        from pingwright.engine.kernels.over import pack_between

        parts = self.run.receivers[n]
        held = np.asarray(parts.element.received(echo), np.complex64)
        pack_between(held, np.maximum(ends, parts.blank), SCALE_FACTOR, ADD_OFFSET, LIMIT, level)

    def _laid(self, things: World) -> list[Things]:
        """Return things as pings receive them: one for all elements, or one for each element if they ping in turn."""
        run, other = self.run, replace(self.run, world=things)
        _refuse(run.world, things)
        groups = range(len(run.elements)) if run.settings.in_turn else [0]
        return [things_of(run, other, self._sent(e)) for e in groups]

    def _sent(self, e: int) -> IntArray:
        """Return the track pings whose echoes arrive in the stored pings of an element."""
        all_pings = self.run.pings_of(e)
        if self.scattered is not None:
            return all_pings[self.scattered]
        return all_pings[max(self.first - earlier(self.run, all_pings), 0) : self.first + len(self.echo[e])]

    def _sums(self, n: int, base: EchoArray, laid: list[Things]) -> Iterator[tuple[slice, EchoArray, IntArray]]:
        """Yield for each block of pings: rows, sums of stored and added echoes (ping, sample), and their ends."""
        from pingwright.engine.kernels.over import sum_over

        total, ends = np.empty((_BLOCK, base.shape[1]), np.complex64), np.zeros((_BLOCK, 2), np.int64)
        for rows, row, start, patches in self._patches(n, laid):
            held = base[rows]
            sum_over(held, patches, row - rows.start, start, total, ends)
            yield rows, total[: len(held)], ends[: len(held)]

    def _patches(self, n: int, laid: list[Things]) -> Iterator[tuple[slice, IntArray, IntArray, EchoArray]]:
        """Yield for each block of pings: rows; of its patches (m) row and first sample; patches (m, sample).

        The patches are good until the next ones.
        """
        run, mine, count = self.run, laid[n if len(laid) > 1 else 0], len(self.echo[n])
        hearings, extent = self._hearings(n, mine)
        if not len(hearings.row):
            return
        grid, part, poses = run.samplings[n], self._short(n, extent).with_laws(mine.laws), self._poses(n, mine.sent)
        weight = left(run, n, mine, poses)
        for start in range(0, count, _BLOCK):
            rows = slice(start, min(start + _BLOCK, count))
            some = slice(*np.searchsorted(hearings.row, [rows.start, rows.stop]))
            if some.start == some.stop:
                continue
            sent, begins = hearings.sent[some], hearings.start[some]
            origins = grid.origin + hearings.shift[some] + begins / grid.stored
            patches = part.patches(mine.points, weight, hearings.bounds[some], poses[sent], origins, run.scratch)
            yield rows, hearings.row[some], begins - grid.first, patches

    def _hearings(self, n: int, things: Things) -> tuple[Hearings, int]:
        """Return which stored pings of an element receive which transmissions, and the longest extent [samples]."""
        run, grid, all_pings = self.run, self.run.samplings[n], self.run.pings_of(n)
        rows, time = np.arange(len(self.echo[n])), run.world.track.time
        before = self.first + len(rows) - len(things.sent)
        parts = []
        if self.scattered is not None:
            parts.append(heard(things, rows, rows, np.zeros(len(rows)), grid))
        for lag in range(earlier(run, all_pings) + 1) if self.scattered is None else ():
            row = rows[self.first + rows - lag >= before]
            shift = time[all_pings[self.first + row]] - time[all_pings[self.first + row - lag]]
            near = (lag == 0) | (shift < run.settings.span)
            row, shift = row[near], shift[near]
            parts.append(heard(things, row, self.first + row - lag - before, shift, grid))
        row, sent, shift, bounds = (np.concatenate(list(column)) for column in zip(*parts, strict=True))
        order = np.argsort(row, kind="stable")
        row, sent, shift, bounds = row[order], sent[order], shift[order], bounds[order]
        start = (things.delay[bounds[:, 0]] - shift - grid.origin) * grid.stored
        stop = (things.delay[bounds[:, 1] - 1] - shift - grid.origin) * grid.stored
        extent = int(np.ceil((stop - start).max(initial=0.0))) + 1
        return Hearings(row, sent, shift, np.floor(start).astype(np.int64) - self._margin(n), bounds), extent

    def _margin(self, n: int) -> int:
        if n not in self._margins:
            self._margins[n] = short.margin(self.run.elements[n], self.run.samplings[n])
        return self._margins[n]

    def _poses(self, n: int, sent: IntArray) -> FloatArray:
        """Return an element's poses (ping, 12)."""
        if n not in self._held_poses:
            track, element = self.run.world.track, self.run.elements[n]
            self._held_poses[n] = np.stack([geometry.pose(track, int(p), element) for p in sent])
        return self._held_poses[n]

    def _short(self, n: int, extent: int) -> Short:
        """Return the grid that holds `extent` stored samples beside its margins."""
        length = short.length_of(extent, self._margin(n))
        if (n, length) not in self._shorts:
            self._shorts[n, length] = short.build(self.run, n, length)
        return self._shorts[n, length]


def keep(
    world: World,
    elements: tuple[Element, ...],
    settings: Settings,
    threads: int | None = None,
    noise: bool = True,
    pings_of: range | None = None,
    progress: Progress | None = None,
    run: Run | None = None,
) -> Still:
    """Simulate a world and store its echoes: pings_of (default: all) of each element's pings.

    noise: as `simulate` draws it; if off, `Still.over` can add new draws. run: of `linear_run` the same, if it is
    there already. Memory: 10 bytes for each ping and sample.
    """
    run = run or linear_run(world, elements, settings, quiet=not noise)
    counts = [len(run.pings_of(e)) for e in range(len(elements))]
    stretch = range(max(counts)) if pings_of is None else pings_of
    remaining = [range(min(stretch.start, c), min(stretch.stop, c)) for c in counts]
    echo = [np.empty((len(k), grid.count), np.complex64) for k, grid in zip(remaining, run.samplings, strict=True)]
    level = [np.empty(rows.shape, np.int16) for rows in echo]
    for chunk in pings(run, threads, True, stretch.start, stretch.stop, progress=progress):
        rows = slice(chunk.first_ping - stretch.start, chunk.first_ping - stretch.start + len(chunk.level))
        echo[chunk.element][rows], level[chunk.element][rows] = chunk.echo, chunk.level
    return Still(run, tuple(echo), tuple(level), stretch.start, noise)


def some(run: Run, rows: IntArray) -> Still:
    """Simulate some pings of each element, rising, that need not be neighbours, and store their echoes.

    run: of `linear_run`, with noise. Added things are heard in the ping that they answer alone.
    """
    split, threads = np.array_split(rows, os.cpu_count() or 1), os.cpu_count() or 1
    parts = _each(lambda number: job(run, split[number].tolist(), True), threads)
    level, echo = ([np.concatenate([getattr(one, name) for one in each]) for each in zip(*parts, strict=True)]
                   for name in ("level", "echo"))  # fmt: skip
    return Still(run, tuple(echo), tuple(level), 0, noisy=True, scattered=rows)


def _each(work: Callable[[int], _T], count: int) -> list[_T]:
    """Return the results of some work for each element, on threads."""
    with ThreadPoolExecutor(min(os.cpu_count() or 1, count)) as pool:
        return list(pool.map(work, range(count)))


def _refuse(stored: World, things: World) -> None:
    """Raise ValueError if things cannot be added to a stored world."""
    if len(things.track) != len(stored.track) or not np.array_equal(things.track.x, stored.track.x):
        message = "the added things have another track"
        raise ValueError(message)
    for words, ours, theirs in (
        ("structures hide", stored.occluders, things.occluders),
        ("absorbing schools dim", stored.absorbers, things.absorbers),
    ):  # fmt: skip
        known = {part.name for part in ours}
        if new := [part.name for part in theirs if part.name not in known]:
            message = f"{words} the stored echoes: {', '.join(new)} cannot be added"
            raise ValueError(message)
