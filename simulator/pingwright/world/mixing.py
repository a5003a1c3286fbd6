"""Joins sets of scatterers in an order such that every first part is a fair sample."""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pingwright.world.scatterers import Scatterers


def joined(parts: Sequence[Scatterers]) -> Scatterers:
    """Join scatterers in order."""
    return Scatterers(
        np.concatenate([p.position for p in parts], axis=1),
        np.concatenate([p.axis for p in parts], axis=1),
        np.concatenate([p.amplitude for p in parts]),
        np.concatenate([p.phase for p in parts]),
        np.concatenate([p.law for p in parts]),
    )


def mixed(points: Scatterers) -> Scatterers:
    """Return the same scatterers in an order such that every first part is a fair sample of all kinds."""
    order = _evenly(len(points))
    return Scatterers(
        np.ascontiguousarray(points.position[:, order]),
        np.ascontiguousarray(points.axis[:, order]),
        points.amplitude[order],
        points.phase[order],
        points.law[order],
    )


@lru_cache(maxsize=4096)
def _evenly(count: int) -> NDArray[np.int64]:
    """Return the numbers below `count` in an order whose every first part is evenly spread: golden sections."""
    return np.argsort((np.arange(1, count + 1) * ((np.sqrt(5.0) - 1.0) / 2.0)) % 1.0)
