"""Gathers the engine's chunks to a Record in memory, with levels quantised exactly as in the file."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.levels import blanked, blind_samples
from pingwright.echograms.record import FILL_VALUE, Record


class Gatherer:
    """Does in memory what `file.Writer` does on disk: same header and `write`, but `record` instead of a file."""

    def __init__(self, header: Record, *, keep_phase: bool = False) -> None:
        self._header = header
        shapes = [(element.pings, len(element.range)) for element in header.elements]
        self._level = [np.full(shape, FILL_VALUE, dtype=np.int16) for shape in shapes]
        self._echo = [np.zeros(shape, dtype=np.complex64) if keep_phase else None for shape in shapes]
        self._done = [np.zeros(element.pings, dtype=bool) for element in header.elements]

    def write(
        self, element: int, first_ping: int, level: NDArray[np.int16], echo: NDArray[np.complex64] | None = None
    ) -> None:
        """Take packed levels (ping, sample) and, if the phase is stored, the complex echo [uPa] of some pings."""
        level, echo = blanked(blind_samples(self._header.elements[element]), level, echo)
        pings = slice(first_ping, first_ping + len(level))
        self._level[element][pings] = level
        stored = self._echo[element]
        if stored is not None and echo is not None:
            stored[pings] = echo
        self._done[element][pings] = True

    def record(self) -> Record:
        """Return the complete record. Raises ValueError if pings are missing."""
        missing = int(sum((~done).sum() for done in self._done))
        if missing:
            msg = f"{missing} pings were never written"
            raise ValueError(msg)
        elements = tuple(
            replace(element, echo_level=level, echo=echo)
            for element, level, echo in zip(self._header.elements, self._level, self._echo, strict=True)
        )
        return replace(self._header, elements=elements)
