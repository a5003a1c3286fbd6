"""Places of the marks of fish: in a comb above the frame, with hairlines only through clear water.

Places are millimetres from the upper left corner of a panel, x to the right, y down. Nothing here draws.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: distance above an echo where a hairline ends; radius of a ring around a fish; distance between marks [mm]
CLEAR, RING, APART = 1.5, 1.15, 2.4

#: half the width that a hairline needs, with space around it [mm]
_HALF = 0.3

#: more fish than this are marked without hairlines
MANY = 15


@dataclass(frozen=True)
class Mark:
    """One fish.

    x, y: its place in the panel; tooth: x of its mark in the comb; end: lower end of its hairline, 0:
    none. ring: whether a ring is drawn around its place; caret: whether its height is shown at the frame instead.
    """

    fish: int
    kind: str
    x: float
    y: float
    tooth: float
    end: float
    ring: bool
    caret: bool


def teeth(x: FloatArray, width: float, apart: float = APART) -> FloatArray:
    """Return places of marks near x (n) [mm], in their order, at least `apart` from each other if there is room."""
    order = np.argsort(x, kind="stable")
    apart = min(apart, width / max(len(x), 1))
    placed: list[list[float]] = []  # runs of neighbours: sum of offsets, count
    for number, value in enumerate(x[order]):
        placed.append([float(value) - number * apart, 1])
        while len(placed) > 1 and placed[-2][0] / placed[-2][1] > placed[-1][0] / placed[-1][1]:
            last = placed.pop()
            placed[-1] = [placed[-1][0] + last[0], placed[-1][1] + last[1]]
    flat = np.concatenate([np.full(int(count), total / count) for total, count in placed]) if placed else np.zeros(0)
    made = np.clip(flat, 0.0, width - apart * (len(x) - 1)) + apart * np.arange(len(x))
    out = np.empty(len(x))
    out[order] = made
    return out


def busy(echoes: NDArray[np.bool_], across: FloatArray, down: FloatArray, x: float, half: float) -> FloatArray:
    """Return the upper edges, in their own units, of cells with an echo in a strip of +-half about x, ascending."""
    columns = np.flatnonzero((across[1:] > x - half) & (across[:-1] < x + half))
    if not len(columns):
        return np.zeros(0)
    rows = np.flatnonzero(echoes[:, columns].any(axis=1))
    return down[:-1][rows]


def _clear(echoes: NDArray[np.bool_], across: FloatArray, down: FloatArray, x: float, y: float) -> bool:
    """Return whether no cell with an echo lies under a ring around a place."""
    half = RING + 0.45
    columns = (across[1:] > x - half) & (across[:-1] < x + half)
    rows = (down[1:] > y - half) & (down[:-1] < y + half)
    return not echoes[np.ix_(rows, columns)].any()


def marks(
    x: FloatArray,
    y: FloatArray,
    kinds: tuple[str, ...],
    echoes: NDArray[np.bool_],
    across: FloatArray,
    down: FloatArray,
    width: float,
    best: str,
) -> list[Mark]:
    """Return the marks of fish at x, y (n) [mm] in a panel.

    echoes (row, column): cells above the picture's floor, edges across (column + 1), down (row + 1) [mm] ascending;
    best: the kind that needs neither ring nor caret. A hairline ends 1.5 mm above the fish and above the first echo.
    """
    out = []
    for fish, tooth in enumerate(teeth(x, width)):
        kind, at = kinds[fish], float(y[fish])
        apart = kind == best
        ring = not apart and len(x) <= MANY and _clear(echoes, across, down, float(x[fish]), at)
        goal = at - (RING if ring else CLEAR)
        first = busy(echoes, across, down, float(x[fish]), _HALF)
        first = first[first < at]
        end = min(goal, float(first[0]) - CLEAR) if len(first) else goal
        long = end > 1.0 and len(x) <= MANY
        out.append(
            Mark(fish, kind, float(x[fish]), at, float(tooth), end if long else 0.0, ring, not apart and not ring)
        )
    return out
