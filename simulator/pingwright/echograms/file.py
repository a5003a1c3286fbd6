"""Writes echograms.h5 by chunks: complete or not at all, and able to resume after an interruption.

First the file is laid out, with a fixed place for every chunk, and closed. From then on the internal structures of HDF5
do not change. Levels are written directly to their places, and a journal beside the file gets a line after each chunk.
The process may end at any time: all chunks in the journal are in the file (their checksums are tested), the others are
computed again.
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
from typing import TYPE_CHECKING, Any, Self
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms import form
from pingwright.echograms.layout import CHUNK_PINGS
from pingwright.echograms.levels import blanked, blind_samples
from pingwright.echograms.reading import read
from pingwright.echograms.record import Record
from pingwright.files import part_of, put_in_place, refusal, unfinished

if TYPE_CHECKING:
    import h5py


__all__ = ["Writer", "leftovers", "read", "save"]


def leftovers(path: Path) -> tuple[Path, Path]:
    """Return the names of the unfinished file and of its journal."""
    return part_of(path), part_of(path, ".journal")


@dataclass(frozen=True)
class _Place:
    """The places of the chunks of one data set: byte offset of each chunk, dtype, pings in a chunk, samples."""

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


def _places(file: "h5py.File", names: tuple[str, ...]) -> list[dict[str, _Place]]:
    """Look up where the chunks of every element's data sets lie."""
    result = []
    for group in file["elements"].values():
        places = {}
        for name in names:
            dataset = group[name]
            pings = dataset.chunks[0]
            chunks = range(0, dataset.shape[0], pings)
            offsets = tuple(dataset.id.get_chunk_info_by_coord((first, 0)).byte_offset for first in chunks)
            places[name] = _Place(offsets, dataset.dtype, pings, dataset.shape[1])
        result.append(places)
    return result


def _digest_around(path: Path, places: list[dict[str, _Place]]) -> str:
    """Return the sha256 of everything in the file except the levels (which may be many gigabytes)."""
    reserved = sorted(
        (offset, place.pings * place.samples * place.kind.itemsize)
        for element in places
        for place in element.values()
        for offset in place.offsets
    )
    total = sha256()
    with path.open("rb") as file:
        for start, length in reserved:
            while (needed := start - file.tell()) > 0 and (block := file.read(min(needed, 1 << 20))):
                total.update(block)
            file.seek(start + length)
        while block := file.read(1 << 20):
            total.update(block)
    return total.hexdigest()


class Writer:
    """A file of echograms that is being written; its chunks may come in any order, each once.

    header: a Record whose elements have no levels yet (echo_level None). resume: continue with the file of an
    interrupted run for the same header; `done` returns which pings need not be computed again. Use it as a context
    manager: without an exception, the complete file is put in place at the end; with an exception, the written part
    stays for `resume`. Raises UnfinishedError if the disk is full or permission is denied.
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
        except (OSError, RuntimeError) as error:
            self._let_go()
            raise unfinished(refusal(error), self.path) from error

    def _begin(self, header: Record, keep_phase: bool, resume: bool) -> None:
        fresh = part_of(self.path, ".new")
        try:
            with form.create(fresh, header, keep_phase) as file:
                self._places = _places(file, self._names)
            # The same header gives a laid-out file of the same bytes: its checksum tells to which work the journal
            # belongs.
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
        """Put the laid-out file and an empty journal in place, with the disk space reserved."""
        self._journal_path.unlink(missing_ok=True)
        fresh.replace(self._part)
        if hasattr(os, "posix_fallocate"):
            handle = os.open(self._part, os.O_RDWR)
            try:
                os.posix_fallocate(handle, 0, os.fstat(handle).st_size)
                os.fsync(handle)
            except OSError:
                self._part.unlink(missing_ok=True)  # release the space that was reserved before the disk was full
                raise
            finally:
                os.close(handle)
        with self._journal_path.open("w", encoding="utf-8") as journal:
            journal.write(json.dumps({"header": key}) + "\n")

    def _left_by(self, key: str) -> list[tuple[int, int, int, int]]:
        """Return the chunks in the journal of an interrupted run: (element, first ping, pings, crc)."""
        try:
            lines = self._journal_path.read_text(encoding="utf-8", errors="replace").split("\n")
            if not self._part.is_file() or json.loads(lines[0]) != {"header": key}:
                return []
        except (OSError, ValueError):
            return []
        entries = []
        for line in lines[1:-1]:  # text after the last line end was not written completely
            try:
                element, first, count, crc = (int(word) for word in line.split())
            except ValueError:
                break
            if not (0 <= element < len(self._done) and 0 <= first < first + count <= len(self._done[element])):
                break
            entries.append((element, first, count, crc))
        return entries

    def _take_up(self, entry: tuple[int, int, int, int]) -> None:
        """Mark a chunk of the interrupted run as done if its bytes match the journal."""
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
        """Return whether all of these pings of an element (by number) are in the file already."""
        return bool(self._done[element][first_ping : first_ping + pings].all())

    def first_missing(self, step: int) -> int:
        """Return the first multiple of `step` after which some ping of some element is missing."""
        lacking = [int(np.argmin(done)) if not done.all() else len(done) for done in self._done]
        first = min(lacking)
        return first if first == max(len(done) for done in self._done) else first // step * step

    def write(
        self, element: int, first_ping: int, level: NDArray[np.int16], echo: NDArray[np.complex64] | None = None
    ) -> None:
        """Write packed levels (ping, sample) and, if the phase is stored, the complex echo [uPa] of some pings.

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
        """Return the number of pings, over all elements, that are still missing."""
        return int(sum((~done).sum() for done in self._done))

    def close(self) -> None:
        """Put the complete file in place. Raises ValueError if pings are missing, UnfinishedError for the disk."""
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
        """Put the file in place, or leave the written part for a later run that resumes."""
        if kind is None:
            self.close()
        else:
            self._let_go()


def save(record: Record, path: Path) -> None:
    """Write a complete record to a new file; its levels may be in memory or in another file.

    The phase is stored if every element has it. Raises UnfinishedError if the disk is full or permission is denied.
    """
    keep_phase = all(element.echo is not None for element in record.elements)
    with Writer(path, record, keep_phase=keep_phase) as writer:
        for number, element in enumerate(record.elements):
            for first in range(0, element.pings, CHUNK_PINGS):
                pings = slice(first, min(first + CHUNK_PINGS, element.pings))
                echo = np.asarray(element.echo[pings]) if keep_phase else None
                writer.write(number, first, np.asarray(element.echo_level[pings]), echo)
