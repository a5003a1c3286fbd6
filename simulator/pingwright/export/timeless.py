"""Removes the time of writing from named types, where HDF5 always stores it: the same recording gives the same bytes.

Source: HDF5 File Format Specification, version 3.0, IV.A.1.b (object header, version 2) and its appendix on checksums
(Jenkins 2006, lookup3, public domain; written anew from its description).
"""

from pathlib import Path

TIMES, ORDER = 0x20, 0x10  # flags: times are stored; phase change of attributes is stored
WORD = 0xFFFFFFFF


def types_of(file: object) -> list[int]:
    """Return the place [byte] of every named type's header in an open h5py.File."""
    import h5py

    result: list[int] = []

    def note(name: str, item: object) -> None:
        if isinstance(item, h5py.Datatype):
            result.append(h5py.h5o.get_info(item.id).addr)

    file.visititems(note)  # type: ignore[attr-defined]
    return result


def clear(path: Path, places: list[int]) -> None:
    """Set the four times of headers at some places [byte] of a closed file to 0, and update their checksums."""
    with path.open("r+b") as file:
        for place in places:
            file.seek(place)
            head = bytearray(file.read(32))
            if head[:4] != b"OHDR" or head[4] != 2 or not head[5] & TIMES:
                continue
            size_at = 22 + (4 if head[5] & ORDER else 0)
            width = 1 << (head[5] & 3)
            whole = size_at + width + int.from_bytes(head[size_at : size_at + width], "little")
            file.seek(place)
            header = bytearray(file.read(whole))
            header[6:22] = bytes(16)
            file.seek(place)
            file.write(bytes(header) + lookup3(bytes(header)).to_bytes(4, "little"))


def lookup3(data: bytes) -> int:
    """Return the 32-bit lookup3 hash of bytes, by words of the little end first, starting value 0."""
    a = b = c = (0xDEADBEEF + len(data)) & WORD
    rest = data
    while len(rest) > 12:
        a, b, c = _added(a, b, c, rest[:12])
        a, b, c = _mixed(a, b, c)
        rest = rest[12:]
    if not rest:
        return c
    return _final(*_added(a, b, c, rest.ljust(12, b"\0")))


def _added(a: int, b: int, c: int, block: bytes) -> tuple[int, int, int]:
    words = (int.from_bytes(block[k : k + 4], "little") for k in (0, 4, 8))
    first, second, third = ((x + y) & WORD for x, y in zip((a, b, c), words, strict=True))
    return first, second, third


def _turned(x: int, bits: int) -> int:
    return ((x << bits) | (x >> (32 - bits))) & WORD


def _mixed(a: int, b: int, c: int) -> tuple[int, int, int]:
    for bits in (4, 6, 8, 16, 19, 4):
        a = ((a - c) & WORD) ^ _turned(c, bits)
        c = (c + b) & WORD
        a, b, c = b, c, a
    return a, b, c


def _final(a: int, b: int, c: int) -> int:
    for bits in (14, 11, 25, 16, 4, 14, 24):
        c = ((c ^ b) - _turned(b, bits)) & WORD
        a, b, c = b, c, a
    return b  # the last one computed
