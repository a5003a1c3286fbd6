"""Writing echograms.h5 by chunks: whole or not at all, and able to go on after a stop.

The file is laid out first, with the place of every chunk fixed, and closed; from then on HDF5's own bookkeeping is not
touched. Levels go straight to their places, and a journal beside the file gets a line after each chunk. A process may
die between any two instructions: what the journal names is there (its checksum is tested), the rest is computed again.
"""

import json
import os
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from io import FileIO
from pathlib import Path
from types import TracebackType
from typing import Any, Self
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms import form
from pingwright.echograms.layout import CHUNK_PINGS
from pingwright.echograms.levels import blanked, blind_samples
from pingwright.echograms.reading import read
from pingwright.echograms.record import Record
from pingwright.files import part_of, put_in_place, unfinished

__all__ = ["Writer", "leftovers", "read", "save"]


def leftovers(path: Path) -> tuple[Path, Path]:
    """Return the names of the unfinished file and of its journal."""
    return part_of(path), part_of(path, ".journal")


@dataclass(frozen=True)
class _Place:
    """Where one data set's chunks lie: byte offset of each chunk, dtype, pings to a chunk, samples."""

    offsets: tuple[int, ...]
    kind: np.dtype[Any]
    pings: int
    samples: int

    def spans(self, first: int, count: int) -> Iterator[tuple[int, int, int]]:
        """Yield (first ping, pings, byte offset) of each piece of pings first..first + count."""
        ping = first
        while ping < first + count:
            chunk, row = divmod(ping, self.pings)
            rows = min(self.pings - row, first + count - ping)
            yield ping, rows, self.offsets[chunk] + row * self.samples * self.kind.itemsize
            ping += rows


def _places(file: Any, names: tuple[str, ...]) -> list[dict[str, _Place]]:
    """Look up where the chunks of every element's data sets lie."""
    found = []
    for group in file["elements"].values():
        places = {}
        for name in names:
            dataset = group[name]
            pings = dataset.chunks[0]
            chunks = range(0, dataset.shape[0], pings)
            offsets = tuple(dataset.id.get_chunk_info_by_coord((first, 0)).byte_offset for first in chunks)
            places[name] = _Place(offsets, dataset.dtype, pings, dataset.shape[1])
        found.append(places)
    return found


def _digest_around(path: Path, places: list[dict[str, _Place]]) -> str:
    """Return the sha256 of everything in the file but the places of the levels (which may be many gigabytes)."""
    reserved = sorted(
        (offset, place.pings * place.samples * place.kind.itemsize)
        for element in places
        for place in element.values()
        for offset in place.offsets
    )
    total = sha256()
    with path.open("rb") as file:
        for start, length in reserved:
            while (wanted := start - file.tell()) > 0 and (block := file.read(min(wanted, 1 << 20))):
                total.update(block)
            file.seek(start + length)
        while block := file.read(1 << 20):
            total.update(block)
    return total.hexdigest()


class Writer:
    """A file of echograms in the making, of which every chunk may come in any order, once.

    header: a Record whose elements have no levels yet (echo_level None). With resume, a stopped run's file for the same
    header is gone on with: `done` says what need not be computed again. Use as a context manager: leaving it without
    an exception puts the whole file in place; with one, what was written stays for `resume`.
    Raises UnfinishedError where the disk is full or permission is denied.
    """

    def __init__(self, path: Path, header: Record, *, keep_phase: bool = False, resume: bool = False) -> None:
        self.path = Path(path)
        self._part, self._journal_path = leftovers(self.path)
        self._names = ("echo_level", "echo_real", "echo_imag") if keep_phase else ("echo_level",)
        self._blind = [blind_samples(element) for element in header.elements]
        self._done = [np.zeros(element.pings, dtype=bool) for element in header.elements]
        self._file: FileIO | None = None
        self._journal: FileIO | None = None
        try:
            self._begin(header, keep_phase, resume)
        except OSError as error:
            self._let_go()
            raise unfinished(error, self.path) from error

    def _begin(self, header: Record, keep_phase: bool, resume: bool) -> None:
        fresh = part_of(self.path, ".new")
        try:
            with form.create(fresh, header, keep_phase) as file:
                self._places = _places(file, self._names)
            # The laid-out file is the same bytes for the same header: its checksum says whose journal this is.
            key = _digest_around(fresh, self._places)
            finished = self._left_by(key) if resume else []
            if finished:
                fresh.unlink()
            else:
                self._start_over(fresh, key)
        finally:
            with suppress(OSError):
                fresh.unlink(missing_ok=True)
        self._file = FileIO(self._part, "rb+")
        self._journal = FileIO(self._journal_path, "ab")
        for entry in finished:
            self._take_up(entry)

    def _start_over(self, fresh: Path, key: str) -> None:
        """Put the laid-out file and an empty journal in place, the room on the disk reserved."""
        self._journal_path.unlink(missing_ok=True)
        fresh.replace(self._part)
        if hasattr(os, "posix_fallocate"):
            handle = os.open(self._part, os.O_RDWR)
            try:
                os.posix_fallocate(handle, 0, os.fstat(handle).st_size)
                os.fsync(handle)
            except OSError:
                self._part.unlink(missing_ok=True)  # what was reserved before the disk was full is given back
                raise
            finally:
                os.close(handle)
        with self._journal_path.open("w", encoding="utf-8") as journal:
            journal.write(json.dumps({"header": key}) + "\n")

    def _left_by(self, key: str) -> list[tuple[int, int, int, int]]:
        """Return what the journal of a stopped run for the same header names: (element, first ping, pings, crc)."""
        try:
            lines = self._journal_path.read_text(encoding="utf-8", errors="replace").split("\n")
            if not self._part.is_file() or json.loads(lines[0]) != {"header": key}:
                return []
        except (OSError, ValueError):
            return []
        entries = []
        for line in lines[1:-1]:  # what follows the last line end was cut off in the writing
            try:
                element, first, count, crc = (int(word) for word in line.split())
            except ValueError:
                break
            if not (0 <= element < len(self._done) and 0 <= first < first + count <= len(self._done[element])):
                break
            entries.append((element, first, count, crc))
        return entries

    def _take_up(self, entry: tuple[int, int, int, int]) -> None:
        """Mark a chunk of the stopped run as done if its bytes are what the journal says."""
        element, first, count, crc = entry
        total = 0
        for name in self._names:
            place = self._places[element][name]
            for _, rows, offset in place.spans(first, count):
                self._open.seek(offset)
                total = crc32(self._open.read(rows * place.samples * place.kind.itemsize), total)
        if total == crc:
            self._done[element][first : first + count] = True

    @property
    def _open(self) -> FileIO:
        if self._file is None:
            msg = "the writer is closed"
            raise ValueError(msg)
        return self._file

    def done(self, element: int, first_ping: int, pings: int) -> bool:
        """Say whether all of these pings of an element (by number) are in the file already."""
        return bool(self._done[element][first_ping : first_ping + pings].all())

    def first_missing(self, step: int) -> int:
        """Return the first multiple of `step` from which on some ping of some element is not there yet."""
        lacking = [int(np.argmin(done)) if not done.all() else len(done) for done in self._done]
        first = min(lacking)
        return first if first == max(len(done) for done in self._done) else first // step * step

    def write(
        self, element: int, first_ping: int, level: NDArray[np.int16], echo: NDArray[np.complex64] | None = None
    ) -> None:
        """Store stored levels (ping, sample) and, where the phase is kept, the complex echo [uPa] of some pings.

        Raises UnfinishedError where the disk is full; ValueError where shape or element do not fit the header.
        """
        level, echo = blanked(self._blind[element], level, echo)
        parts: dict[str, Any] = {"echo_level": level}
        if "echo_real" in self._names:
            if echo is None:
                msg = "this file keeps the phase: the complex echo is needed"
                raise ValueError(msg)
            parts |= {"echo_real": echo.real, "echo_imag": echo.imag}
        total = 0
        try:
            for name in self._names:
                total = self._put(self._places[element][name], first_ping, parts[name], total)
            line = f"{element} {first_ping} {len(level)} {total}\n"
            if self._journal is not None:
                self._journal.write(line.encode())
        except OSError as error:
            raise unfinished(error, self.path) from error
        self._done[element][first_ping : first_ping + len(level)] = True

    def _put(self, place: _Place, first: int, values: NDArray[Any], total: int) -> int:
        """Write values to their places and return the running checksum of their bytes."""
        if values.ndim != 2 or values.shape[1] != place.samples:
            msg = f"pings of {values.shape[1:]} samples do not fit a file of {place.samples}"
            raise ValueError(msg)
        stored = np.ascontiguousarray(values, dtype=place.kind)
        for ping, rows, offset in place.spans(first, len(values)):
            view = stored[ping - first : ping - first + rows].reshape(-1).view(np.uint8).data
            total = crc32(view, total)
            self._open.seek(offset)
            written = 0
            while written < len(view):
                written += self._open.write(view[written:])
        return total

    def missing(self) -> int:
        """Return the number of pings, over all elements, that are not there yet."""
        return int(sum((~done).sum() for done in self._done))

    def close(self) -> None:
        """Put the whole file in place. Raises ValueError where pings are missing, UnfinishedError from the disk."""
        self._let_go()
        if self.missing():
            msg = f"{self.missing()} pings were never written"
            raise ValueError(msg)
        put_in_place(self._part, self.path)
        self._journal_path.unlink(missing_ok=True)

    def _let_go(self) -> None:
        for handle in (self._file, self._journal):
            if handle is not None:
                handle.close()
        self._file = self._journal = None

    def __enter__(self) -> Self:
        """Return the writer."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Put the file in place, or leave what was written for a later run to go on with."""
        if kind is None:
            self.close()
        else:
            self._let_go()


def save(record: Record, path: Path) -> None:
    """Write a whole record, whose levels may lie in memory or in another file, to a file of its own.

    The phase is kept where every element has it. Raises UnfinishedError where the disk is full or permission is denied.
    """
    keep_phase = all(element.echo is not None for element in record.elements)
    with Writer(path, record, keep_phase=keep_phase) as writer:
        for number, element in enumerate(record.elements):
            for first in range(0, element.pings, CHUNK_PINGS):
                pings = slice(first, min(first + CHUNK_PINGS, element.pings))
                echo = np.asarray(element.echo[pings]) if keep_phase else None
                writer.write(number, first, np.asarray(element.echo_level[pings]), echo)
