"""Intervals of a fixed number of trials, and sequences that hold at every number at once, with their verdicts.

Fixed n: Clopper & Pearson 1934, Biometrika 26, 404-413; Wilson 1927, J. Am. Stat. Assoc. 22, 209-212. Always valid, a
probability: the mixture martingale of Robbins 1970, Ann. Math. Stat. 41, 1397-1409, with a beta mixture (Howard,
Ramdas, McAuliffe & Sekhon 2021, Ann. Stat. 49, 1055-1080); by Ville's inequality, the chance that the sequence ever
excludes the truth is at most 1 - confidence, whenever the trials stop and however often one looks. Always valid, a
difference of two probabilities seen in the same trials: each trial scores -1, 0 or 1; wealth is staked on the mean
(Waudby-Smith & Ramdas 2024, J. R. Stat. Soc. B 86, 1-27), mixed over a fixed grid of stakes.
"""

from collections.abc import Callable
from functools import lru_cache
from math import lgamma, log, log1p
from typing import Literal

import numpy as np

from pingwright.measure.cells import FloatArray

Outcome = Literal["holds", "does not hold", "undecided"]


def clopper_pearson(hits: int, of: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return the exact two-sided interval of a probability for a fixed number of trials; (0, 1) for none.

    Clopper & Pearson 1934: covers the truth with at least the stated confidence.
    """
    from scipy.special import betaincinv

    tail = (1 - confidence) / 2
    low = float(betaincinv(hits, of - hits + 1, tail)) if hits else 0.0
    high = float(betaincinv(hits + 1, of - hits, 1 - tail)) if hits < of else 1.0
    return low, high


def _log_beta(a: float, b: float) -> float:
    return lgamma(a) + lgamma(b) - lgamma(a + b)


def probability_sequence(hits: int, of: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return the always-valid interval of a probability after `of` trials; (0, 1) for none.

    The set of p whose mixture wealth B(h + 1/2, n - h + 1/2) / B(1/2, 1/2) / p^h (1-p)^(n-h) stays below 1 / (1 -
    confidence) (Robbins 1970). For every rule of stopping, the whole sequence covers the true p with at least the
    stated confidence.
    """
    if of == 0:
        return 0.0, 1.0
    missed = of - hits
    limit = _log_beta(hits + 0.5, missed + 0.5) - _log_beta(0.5, 0.5) + log(1 - confidence)

    def within(p: float) -> bool:
        return hits * log(p) + missed * log1p(-p) >= limit

    best = min(max(hits / of, 1e-12), 1 - 1e-12)
    low = 0.0 if hits == 0 else _border(within, best, 0.0)
    high = 1.0 if missed == 0 else _border(within, best, 1.0)
    return low, high


def _border(within: Callable[[float], bool], inside: float, outside: float) -> float:
    """Return the border of a condition that holds inside and not outside, by bisection, on the outer side."""
    for _ in range(60):
        middle = 0.5 * (inside + outside)
        inside, outside = (middle, outside) if within(middle) else (inside, middle)
    return outside


@lru_cache(maxsize=1)
def _bets() -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return possible differences (score), and the log of what a trial makes of each stake on each of them.

    The last three, (score, stake): a trial in which only the first hits, only the second, and both or neither.
    """
    mean = (np.arange(-1999, 2000) / 2000 + 1) / 2  # of (score + 1) / 2 in 0..1
    share = np.geomspace(0.002, 0.98, 60)
    stake = np.concatenate([share[None] / mean[:, None], -share[None] / (1 - mean[:, None])], axis=1)
    m = mean[:, None]
    return 2 * mean - 1, np.log1p(stake * (1 - m)), np.log1p(-stake * m), np.log1p(stake * (0.5 - m))


def difference_sequence(gains: int, losses: int, of: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return the always-valid interval of a difference of two probabilities, first minus second; (-1, 1) for none.

    The two are judged in the same trials: gains: trials in which only the first hit; losses: only the second. For every
    possible difference a bettor stakes fixed shares of his wealth for and against it; those on which the mean of all
    bettors has grown to 1 / (1 - confidence) are left out (Waudby-Smith & Ramdas 2024, with a fixed mixture of stakes
    in place of their adaptive ones). The hull of what remains is returned, to 0.0005.
    """
    if of == 0:
        return -1.0, 1.0
    score, won, lost, even = _bets()
    wealth = gains * won + losses * lost
    wealth = wealth + (of - gains - losses) * even
    top = wealth.max(axis=1)
    total = top + np.log(np.mean(np.exp(wealth - top[:, None]), axis=1))
    remaining = np.flatnonzero(total < -log(1 - confidence))
    if len(remaining) == 0:  # a difference beyond the grid, at an end
        return (0.9995, 1.0) if gains else (-1.0, -0.9995)
    low = -1.0 if remaining[0] == 0 else float(score[remaining[0] - 1])
    high = 1.0 if remaining[-1] == len(score) - 1 else float(score[remaining[-1] + 1])
    return low, high


def median_sequence(values: FloatArray, confidence: float = 0.95) -> tuple[float, float]:
    """Return the always-valid interval of a median (value); infinite where there are too few values.

    A value is left out when the share of results at or below it has an always-valid interval without one half
    (as in Howard & Ramdas 2022, Bernoulli 28, 1704-1728).
    """
    ordered = np.sort(np.asarray(values, dtype=np.float64))
    n = len(ordered)
    low, high = -np.inf, np.inf
    for k in range(n + 1):
        interval = probability_sequence(k, n, confidence)
        if interval[1] < 0.5:  # too few values are at or below even this one
            low = float(ordered[k])
        if interval[0] > 0.5:
            high = float(ordered[k - 1])
            break
    return low, high


def verdict(low: float, high: float, at_least: float | None = None, at_most: float | None = None) -> Outcome:
    """Return the verdict of an interval about a bound: holds, does not hold, or undecided.

    Exactly one of at_least and at_most is given, in the interval's unit.
    """
    if at_least is not None:
        return "holds" if low >= at_least else "does not hold" if high < at_least else "undecided"
    if at_most is None:
        message = "a verdict needs a bound"
        raise ValueError(message)
    return "holds" if high <= at_most else "does not hold" if low > at_most else "undecided"
