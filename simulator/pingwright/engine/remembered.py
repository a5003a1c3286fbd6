"""Results that take long and are the same for every run of a face: the last ones are stored in the process."""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pingwright.element.model import Element

#: Most memory for stored results [bytes].
MOST = 100_000_000

_held: "OrderedDict[Hashable, tuple[NDArray[Any], ...]]" = OrderedDict()
_lock = Lock()


def remembered(key: Hashable, make: Callable[[], tuple[NDArray[Any], ...]]) -> tuple[NDArray[Any], ...]:
    """Return the arrays made for a key, made now if they are not stored; they are shared, so do not write to them."""
    with _lock:
        if key in _held:
            _held.move_to_end(key)
            return _held[key]
    made = make()
    with _lock:
        _held[key] = made
        while len(_held) > 1 and sum(a.nbytes for arrays in _held.values() for a in arrays) > MOST:
            _held.popitem(last=False)
    return made


def face_key(*elements: Element) -> tuple[Hashable, ...]:
    """Return the key of the beams of elements: faces, sound speeds, and rotations."""
    return tuple((e.face, e.sound_speed, np.asarray(e.rotation).tobytes()) for e in elements)
