"""A share of trials with its interval of fixed size."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from pingwright.measure.assessment import Share
from pingwright.measure.intervals import clopper_pearson


def share(hits: Sequence[bool] | NDArray[np.bool_]) -> Share:
    """Return the share of hits with its two-sided 95 % Clopper-Pearson interval."""
    trials = np.asarray(hits, dtype=bool)
    of, count = len(trials), int(trials.sum())
    low, high = clopper_pearson(count, of)
    return Share(count, of, count / of if of else float("nan"), low, high)
