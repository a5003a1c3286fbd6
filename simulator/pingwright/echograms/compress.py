"""A whole file made smaller after the run: its chunks are packed by threads.

Most levels are noise, so packing saves only about a quarter. It costs about 1 ms of a core for 30,000 samples. So it is
an option, and it is done last, when an interruption can lose nothing. Any HDF5 reader unpacks it (byte shuffle, then
deflate).
"""

import os
import zlib
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np

from pingwright.echograms import form
from pingwright.echograms.record import Record
from pingwright.files import replacing

#: Chunks in memory at the same time, for each thread.
_AHEAD = 2


def compress(path: Path, header: Record, *, keep_phase: bool = False, threads: int | None = None) -> None:
    """Replace a finished file of this header by its packed form; it holds exactly the same values.

    threads: default all cores. Raises UnfinishedError if the disk is full; then the file does not change.
    """
    import h5py

    threads = threads or os.cpu_count() or 1
    names = ("echo_level", "echo_real", "echo_imag") if keep_phase else ("echo_level",)
    with (
        replacing(path) as part,
        h5py.File(path) as source,
        form.create(part, header, keep_phase, packed=True) as target,
        ThreadPoolExecutor(threads) as pool,
    ):
        for slug in target["elements"]:
            for name in names:
                _pack(source[f"elements/{slug}/{name}"], target[f"elements/{slug}/{name}"], pool, _AHEAD * threads)


def _pack(source: Any, target: Any, pool: ThreadPoolExecutor, ahead: int) -> None:
    starts = range(0, source.shape[0], source.chunks[0])
    for first in range(0, len(starts), ahead):
        batch = starts[first : first + ahead]
        raw = [source.id.read_direct_chunk((start, 0))[1] for start in batch]
        packed = pool.map(_deflated, raw, [source.dtype.itemsize] * len(raw))
        for start, chunk in zip(batch, packed, strict=True):
            target.id.write_direct_chunk((start, 0), chunk)


def _deflated(raw: bytes, size: int) -> bytes:
    """Return a chunk after byte shuffle (all first bytes of its values, then all second ones, ..) and deflate."""
    shuffled = np.frombuffer(raw, np.uint8).reshape(-1, size).T
    return zlib.compress(shuffled.tobytes(), form.DEFLATE_LEVEL)
