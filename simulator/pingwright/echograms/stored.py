"""Data sets that are read slice by slice from an open file; damage in it becomes one sentence."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms import plausible
from pingwright.errors import EchogramError

# What h5py raises on damaged files, besides OSError.
DAMAGE = (OSError, RuntimeError, KeyError, ValueError, TypeError, AttributeError, OverflowError, MemoryError)


@contextmanager
def damage_named(path: Path | str) -> Iterator[None]:
    """Turn any error of the HDF5 library about a damaged file into one sentence."""
    try:
        yield
    except EchogramError as error:
        message = f"{path} cannot be read as a file of echograms: {plausible.shown(str(error))}."
        raise EchogramError(message) from error
    except DAMAGE as error:
        message = f"{path} is damaged or was not written by this program: {plausible.shown(str(error))[:200]}."
        raise EchogramError(message) from error


class Stored:
    """A data set (ping, range) in an open file, read slice by slice like an array.

    Raises EchogramError where a slice turns out to be damaged.
    """

    def __init__(self, read: Callable[[Any], NDArray[Any]], shape: tuple[int, int], dtype: Any, path: str) -> None:
        self._read = read
        self._path = path
        self.shape = shape
        self.dtype = np.dtype(dtype)

    def __len__(self) -> int:
        """Return the number of pings."""
        return self.shape[0]

    def __getitem__(self, key: Any) -> NDArray[Any]:
        """Read pings and samples."""
        with damage_named(self._path):
            return np.asarray(self._read(key))

    def __array__(self, dtype: Any = None, copy: bool | None = None) -> NDArray[Any]:
        """Read all of it."""
        return np.asarray(self[:], dtype=dtype)
