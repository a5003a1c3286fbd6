"""Arrays that a thread uses again for every job: fresh memory costs a tenth of a run in page faults."""

import math
import threading
from typing import Any

import numpy as np
from numpy.typing import DTypeLike, NDArray


class Scratch(threading.local):
    """Keeps one block of memory for each name and thread, as large as the largest array requested."""

    def __init__(self) -> None:
        self._held: dict[str, NDArray[np.uint8]] = {}

    def take(self, name: str, shape: tuple[int, ...], kind: DTypeLike) -> NDArray[Any]:
        """Return an array of a shape and dtype with arbitrary contents, valid until its name is taken again."""
        size = math.prod(shape) * np.dtype(kind).itemsize
        if name not in self._held or self._held[name].size < size:
            self._held[name] = np.empty(size, np.uint8)
        return self._held[name][:size].view(kind).reshape(shape)
