"""Offsets of the fish of a swath: closer together under the boat, so that a narrow beam among wide ones counts too."""

import numpy as np

from pingwright.echograms.record import FloatArray

#: Edges of cells lie at this power of even steps from the middle: with 1 (even cells) the widest candidate's lobe sets
#: the step, and a pencil beside a fan searched 0 or 20 ft; with 2 the outer cells are too wide for the fan itself.
POWER = 1.5


def cells(count: int) -> tuple[FloatArray, FloatArray]:
    """Return the middles (count) of cells of a width, from -0.5 to 0.5, and the share (count) of it in each, sum 1."""
    even = np.linspace(-1.0, 1.0, count + 1)
    edges = 0.5 * np.sign(even) * np.abs(even) ** POWER
    return 0.5 * (edges[1:] + edges[:-1]), np.diff(edges)
