"""The share of fish that show over many passes, with an interval that counts passes, not fish.

Fish of one pass may be missed together (same ground, same sea), so their number would give too narrow an interval. The
interval is Wilson's (1927) for the effective number of fish: the number divided by the design effect, the variance of
the share between passes over that of independent fish (Kish 1965), at least 1.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pingwright.measure.cells import FloatArray

#: Two-sided 95 % of a normal distribution.
Z = 1.959964

#: Number of passes before an interval is shown.
LEAST = 4


@dataclass(frozen=True)
class Certainty:
    """A share of fish over passes. hits of fish in passes; value, low, high: 0..1; design_effect [1]."""

    hits: int
    fish: int
    passes: int
    value: float
    low: float
    high: float
    design_effect: float


@dataclass(frozen=True)
class Repeated:
    """Results of one element for the same fish in fresh passes: detected, separated (pass, fish) bool."""

    detected: NDArray[np.bool_]
    separated: NDArray[np.bool_]

    def __len__(self) -> int:
        """Return the number of passes."""
        return len(self.separated)

    def separates(self, fish: "slice | Sequence[int] | NDArray[np.intp]" = slice(None)) -> Certainty:
        """Return the share of fish (places; all if left out) that are separated in a pass."""
        return of(self.separated[:, fish])

    def detects(self, fish: "slice | Sequence[int] | NDArray[np.intp]" = slice(None)) -> Certainty:
        """Return the share of fish (places; all if left out) that are detected in a pass."""
        return of(self.detected[:, fish])


def of(hits: NDArray[np.bool_]) -> Certainty:
    """Return the share of hits (pass, fish) or (pass), and its 95 % interval. Raises ValueError where there is none."""
    table = hits.reshape(len(hits), -1)
    return over(table.sum(axis=1).tolist(), [table.shape[1]] * len(table))


def over(hits: Sequence[int], fish: Sequence[int]) -> Certainty:
    """Return the share of fish separated, and its 95 % interval.

    hits, fish (pass): separated fish, and all, of each pass. Passes without fish do not count. Raises ValueError if no
    pass has a fish.
    """
    h, n = np.asarray(hits, dtype=np.float64), np.asarray(fish, dtype=np.float64)
    h, n = h[n > 0], n[n > 0]
    if not len(n):
        message = "no pass has a fish"
        raise ValueError(message)
    total = float(n.sum())
    share = float(h.sum() / total)
    effect = _design_effect(h, n, share)
    low, high = _wilson(share, total / effect)
    return Certainty(int(h.sum()), int(total), len(n), share, low, high, effect)


def _design_effect(h: FloatArray, n: FloatArray, share: float) -> float:
    if share in {0.0, 1.0}:  # it is not known how alike the fish of a pass are: assume that all behave as one
        return float(n.mean())
    if len(n) < 2:
        return 1.0
    between = len(n) / (len(n) - 1) * float(((h - share * n) ** 2).sum()) / float(n.sum()) ** 2
    independent = share * (1.0 - share) / float(n.sum())
    return max(1.0, between / independent)


def _wilson(share: float, n: float) -> tuple[float, float]:
    middle = (share + Z**2 / (2 * n)) / (1 + Z**2 / n)
    half = Z / (1 + Z**2 / n) * float(np.sqrt(share * (1 - share) / n + Z**2 / (4 * n**2)))
    return min(share, max(0.0, middle - half)), max(
        share, min(1.0, middle + half)
    )  # guards against rounding at 0 and 1
