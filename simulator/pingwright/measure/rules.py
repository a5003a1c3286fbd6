"""When a fish counts as seen in a pass: rules over its pings, each with its own probability and its own search.

The usual rule is that of a screen that scrolls: one hit is chance, a row of hits is a mark. Fisheries acoustics joins
single echoes to tracks in the same way, with a least number of echoes and a largest number of missed pings between two
(Ona & Hansen 1991 and later trackers, from memory; the numbers 3 and 1 are common practice, no source).
"""

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from pingwright.measure.cells import FloatArray

BoolArray = NDArray[np.bool_]

#: A fish is seen in a pass if at least this many pings show it (common practice, no source) ...
HITS = 3
#: ... with at most this many pings missed between two that show it (common practice, no source).
MISSED = 1


class Rule(Protocol):
    """A rule over the pings of a pass, in the order of the track along the last axis (..., ping).

    detected: pings that show the fish; counted: those of them that count, such as the pings that separate it, all of
    them if left out. `sparse` and `near` let a search skip pings; they are part of the rule.
    """

    def met(self, detected: BoolArray, counted: BoolArray | None = None) -> BoolArray:
        """Return whether the rule is met (...). More pings that show the fish, or count, never undo it."""
        ...

    def chance(self, detected: FloatArray, counted: FloatArray | None = None) -> FloatArray:
        """Return the probability (...) that the rule is met, from those of pings that are independent, exact."""
        ...

    def sparse(self, ping: NDArray[np.int64]) -> BoolArray:
        """Return which pings (n) of a pass are looked at first: where the rule is met, one of them shows the fish."""
        ...

    def near(self, detected: BoolArray) -> BoolArray:
        """Return which pings (..., ping) may decide the rule together with one that shows the fish."""
        ...


@dataclass(frozen=True)
class Row:
    """At least `hits` pings of one row of detections count; a row ends where more than `missed` in turn are missed."""

    hits: int = HITS
    missed: int = MISSED

    def met(self, detected: BoolArray, counted: BoolArray | None = None) -> BoolArray:
        """Return whether the rule is met (...), see Rule."""
        counts = detected if counted is None else counted & detected
        shape = detected.shape[:-1]
        row, gap = np.zeros(shape, dtype=np.int64), np.zeros(shape, dtype=np.int64)
        met = np.zeros(shape, dtype=bool)
        for k in range(detected.shape[-1]):
            shown = detected[..., k]
            gap = np.where(shown, 0, gap + 1)
            row = np.where(gap > self.missed, 0, row) + counts[..., k]
            met |= row >= self.hits
        return np.asarray(met)

    def sparse(self, ping: NDArray[np.int64]) -> BoolArray:
        """Return which pings (n) to look at first: hits - 1 in turn are left out, then missed + 1 are looked at.

        What is seen only in pings left out is never seen `hits` times with at most `missed` pings between two.
        """
        return np.asarray(ping % (self.hits + self.missed) >= self.hits - 1)

    def near(self, detected: BoolArray) -> BoolArray:
        """Return which pings (..., ping) may belong to one row with a ping that shows the fish."""
        return _within(detected, self.missed + 1)

    def chance(self, detected: FloatArray, counted: FloatArray | None = None) -> FloatArray:
        """Return the probability (...), see Rule.

        A Markov chain over how many pings of the present row count and how many were missed since.
        """
        shape, last = detected.shape[:-1], detected.shape[-1]
        flat = math.prod(shape), last
        seen = np.ascontiguousarray(detected.reshape(flat).T)
        hits, alike = seen, counted is None or counted is detected
        if counted is not None and not alike:
            hits = np.ascontiguousarray(np.minimum(counted, detected).reshape(flat).T)
        state = np.zeros((self.missed + 1, self.hits, seen.shape[1]))
        state[0, 0] = 1.0
        new, met = np.empty_like(state), np.zeros(seen.shape[1])
        for hit, either in zip(hits, seen, strict=True):
            miss, shown = 1.0 - either, state.sum(axis=0)
            np.multiply(state[:-1], miss, out=new[1:])
            new[0] = 0.0 if alike else shown * (either - hit)
            new[0, 1:] += shown[:-1] * hit
            new[0, 0] += miss * state[-1].sum(axis=0)
            met += hit * shown[-1]
            state, new = new, state
        return met.reshape(shape)


@dataclass(frozen=True)
class Window:
    """At least `least` of some `of` pings in turn count: m of n, "binary integration" of radar.

    Source: M. A. Richards, Fundamentals of Radar Signal Processing, 2005, chapter 6 (from memory).
    """

    least: int
    of: int

    def met(self, detected: BoolArray, counted: BoolArray | None = None) -> BoolArray:
        """Return whether the rule is met (...), see Rule."""
        counts = detected if counted is None else counted & detected
        before = np.zeros((*counts.shape[:-1], self.of), dtype=np.int64)
        total = np.concatenate([before, counts.cumsum(axis=-1)], axis=-1)
        return np.asarray((total[..., self.of :] - total[..., : -self.of]).max(axis=-1, initial=0) >= self.least)

    def sparse(self, ping: NDArray[np.int64]) -> BoolArray:
        """Return which pings (n) to look at first: of every `of` in turn all but least - 1."""
        return np.asarray(ping % self.of >= self.least - 1)

    def near(self, detected: BoolArray) -> BoolArray:
        """Return which pings (..., ping) lie in one window with a ping that shows the fish."""
        return _within(detected, self.of - 1)

    def chance(self, detected: FloatArray, counted: FloatArray | None = None) -> FloatArray:
        """Return the probability (...), see Rule.

        A Markov chain over which of the last of - 1 pings counted: 2^(of - 1) states, so `of` is 12 at most for users.
        """
        counts = detected if counted is None else np.minimum(counted, detected)
        shape, states = counts.shape[:-1], 2 ** (self.of - 1)
        ones = np.array([state.bit_count() for state in range(states)])
        state = np.zeros((*shape, states))
        state[..., 0] = 1.0
        met = np.zeros(shape)
        for k in range(counts.shape[-1]):
            hit = counts[..., k]
            short = state * (ones < self.least - 1)
            met = met + hit * (state - short).sum(axis=-1)
            new = np.zeros_like(state)
            new[..., 0::2] = (1.0 - hit)[..., None] * _without_oldest(state)
            new[..., 1::2] = hit[..., None] * _without_oldest(short)
            state = new
        return np.asarray(met)


#: The rule of a pass everywhere but where a question brings its own.
SEEN = Row()


def _without_oldest(state: FloatArray) -> FloatArray:
    """Return the chances of states (..., n) that differ in their oldest ping alone, added up (..., n / 2)."""
    half = state.shape[-1] // 2
    return np.asarray(state[..., :half] + state[..., half:])


def _within(detected: BoolArray, steps: int) -> BoolArray:
    """Return which pings (..., ping) lie at most a number of steps from one that shows the fish."""
    result = detected.copy()
    for step in range(1, steps + 1):
        result[..., step:] |= detected[..., :-step]
        result[..., :-step] |= detected[..., step:]
    return result
