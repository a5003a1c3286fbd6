"""Finds damaged heaps of texts in an HDF5 file before the library reads them: some would make it loop for ever."""

import mmap
import struct
from pathlib import Path

#: How a global heap collection begins: signature, version, three reserved bytes (HDF5 file format, III.E).
BEGINS = b"GCOL\x01\x00\x00\x00"
HEAD = 16  # bytes of a collection's own head, and of each object's


def damaged(path: Path) -> bool:
    """Return whether a heap of the file has no end: an object in it of length 0, or of one that turns negative.

    A heap is a row of objects, each with its length [bytes] in its head. A reader that goes from object to object and
    meets a free space of length 0 never moves on. The library itself finds other damage. Lengths are taken to have 8
    bytes, which HDF5 writes by default.
    """
    if path.stat().st_size < 2 * HEAD:
        return False
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as content:
        at = content.find(BEGINS)
        while at >= 0:
            if not _ends(content, at):
                return True
            at = content.find(BEGINS, at + 1)
    return False


def _ends(content: mmap.mmap, begin: int) -> bool:
    """Return whether the row of objects in the heap that begins here has an end."""
    if begin + HEAD > len(content):
        return True
    end = min(begin + struct.unpack_from("<Q", content, begin + 8)[0], len(content))
    at = begin + HEAD
    while at + HEAD <= end:
        index, length = struct.unpack_from("<H6xQ", content, at)
        # Number 0 is the free space, whose length includes its own head; all others are padded to multiples of 8 bytes.
        step = length if index == 0 else HEAD + (length + 7) // 8 * 8
        if step == 0 or step >= 1 << 63:
            return False
        at += step
    return True
