"""The ping over each fish, near the fish and down to the bottom, sample by sample, for the curves of the page."""

from typing import Any

import numpy as np

from pingwright.echograms.record import ElementRecord
from pingwright.page import cells

#: Most cells of a curve, and of all curves of a page together; beyond that a cell is the maximum of several samples.
MOST, PER_PAGE = 500, 400_000


def span(height: float) -> tuple[float, float]:
    """Return how far the curve of a fish at a height above the ground [m] goes up and down [m above the ground]."""
    top = max(1.2, min(1.6 * height, height + 2.0))
    return top, height - 3.0 if height > 4.0 else -0.3


def packed(element: ElementRecord, marks: list[dict[str, Any]], elements: int) -> dict[str, Any]:
    """Return one element's curves as JSON: cells (fish, row), and by fish where the first begins and its height [m].

    marks: of the fish, see `build`; elements: number of elements that share the room.
    """
    count = len(marks)
    rows = int(np.clip(PER_PAGE // max(count * elements, 1), 40, MOST))
    codes, tops, heights = np.zeros((count, rows), np.uint16), [], []
    left, width, _ = cells.along_track(element)
    depth = element.range + element.info.transducer_depth
    step = float(depth[1] - depth[0]) if len(depth) > 1 else 1.0
    for row, mark in enumerate(marks):
        ping = int(np.clip((mark["x"] - left) // width, 0, element.pings - 1))
        (top, foot), base = span(mark["height"]), mark["depth"] + mark["height"]
        first, past = (int(np.clip(i, 0, len(depth))) for i in np.searchsorted(depth, (base - top, base - foot)))
        joined = max(1, -(-(past - first) // rows))
        tops.append(float(depth[min(first, len(depth) - 1)]) - step / 2)
        heights.append(step * joined)
        if past > first:
            level = cells.strength(element, slice(ping, ping + 1), slice(first, past))
            own = cells.encode(cells.largest(level, 1, joined))[0]
            codes[row, : len(own)] = own
    picture = cells.Cells(codes, 1, 1, 0.0, 1.0, 0.0, 1.0, count, rows).packed()
    return picture | {"tops": tops, "heights": heights}
