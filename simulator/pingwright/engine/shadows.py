"""What structures hide of themselves from a place: kept, because trials ask for it again.

Every element of a trial pings from the same places, over its ground and then over its structures alone. The surfaces of
a wreck and what hides them are the same each time.
"""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from hashlib import blake2b
from threading import Lock
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pingwright.world.scatterers import Occluder, Scatterers

#: Most memory for what is kept, a bit for each scatterer and place [bytes].
MOST = 32_000_000

_held: "OrderedDict[Hashable, NDArray[np.uint8]]" = OrderedDict()
_lock = Lock()
_bytes = [0]


def key_of(points: Scatterers, occluders: tuple[Occluder, ...], two_sided: NDArray[Any]) -> bytes:
    """Return a key of scatterers and of everything that hides them."""
    total = blake2b(digest_size=16)
    hiding = [part for one in occluders for part in (one.vertices, one.triangles)]
    for part in (points.position, points.axis, points.law, two_sided, *hiding):
        total.update(f"{part.shape} {part.dtype}".encode() + np.ascontiguousarray(part).tobytes())
    return total.digest()


def kept(key: Hashable, count: int, make: Callable[[], NDArray[np.float32]]) -> NDArray[np.float32]:
    """Return weights (count) of 0 and 1 made for a key, made now if they are not kept."""
    with _lock:
        packed = _held.get(key)
        if packed is not None:
            _held.move_to_end(key)
    if packed is not None:
        return np.unpackbits(packed, count=count).astype(np.float32)
    made = make()
    packed = np.packbits(made != 0)
    with _lock:
        if key not in _held:
            _held[key] = packed
            _bytes[0] += packed.nbytes
        while _bytes[0] > MOST and len(_held) > 1:
            _bytes[0] -= _held.popitem(last=False)[1].nbytes
    return made
