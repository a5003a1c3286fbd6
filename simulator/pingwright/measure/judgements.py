"""Judgements to make: ping, range, and fish or pass."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Trials:
    """Judgements to make, arrays over (trial).

    owner (int): fish or pass it belongs to; ping (int); range [m]: where its echo is drawn on the range axis; within
    [m]: how far off a peak may lie.
    """

    owner: IntArray
    ping: IntArray
    range: FloatArray
    within: FloatArray

    def __len__(self) -> int:
        """Return the number of trials."""
        return len(self.owner)

    def keep(self, which: NDArray[Any]) -> "Trials":
        """Return some of the trials, by mask or by place."""
        return Trials(self.owner[which], self.ping[which], self.range[which], self.within[which])

    def table(self, values: NDArray[np.bool_], count: int) -> NDArray[np.bool_]:
        """Return a value of each trial (owner, ping of its pass), padded with False; trials in the order of owners."""
        pings = np.bincount(self.owner, minlength=count)
        column = np.arange(len(self)) - (np.cumsum(pings) - pings)[self.owner]
        out = np.zeros((count, int(pings.max(initial=0))), dtype=bool)
        out[self.owner, column] = values
        return out


def joined(parts: Sequence[Trials]) -> Trials:
    """Return trials one after the other."""
    whole = [np.concatenate([getattr(p, n) for p in parts]) for n in ("owner", "ping", "range", "within")]
    return Trials(whole[0].astype(np.int64), whole[1].astype(np.int64), whole[2], whole[3])
