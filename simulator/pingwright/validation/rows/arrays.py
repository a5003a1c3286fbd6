"""Decibels and arrays."""

import math

from pingwright.acoustics import arrays
from pingwright.validation.row import Row

# fmt: off
ROWS = [
    Row(arrays.decibels, ([1.0, 10.0, 0.5, 0.0],), (0.0, 10.0, -3.0103, -math.inf), "exact: definition", abs=1e-4),
    Row(arrays.power_ratio, ([0.0, 10.0, -20.0],), (1.0, 10.0, 0.01), "exact: definition", rel=1e-12),
    Row(arrays.floats, ([1, 2],), (1.0, 2.0), "exact: a conversion"),
]
