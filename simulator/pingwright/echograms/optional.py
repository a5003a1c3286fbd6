"""Parts that a file need not hold, read and checked: fresh passes, and what echoes beside fish near structures."""

import numpy as np

from pingwright.echograms import layout, trusted
from pingwright.echograms.record import FreshPasses, Surroundings
from pingwright.errors import EchogramError


def passes(root: trusted.Group, elements: int, fish: int) -> FreshPasses | None:
    """Return the results of fresh passes, checked: as many elements and fish as the file has, every value 0 or 1."""
    if not root.has("passes"):
        return None
    group = root.group("passes")
    result = [group.integers(name, 3, layout.MOST_PASS_VALUES) for name, _ in layout.PASSES]
    known = all(one.shape == (len(result[0]), elements, fish) and np.isin(one, (0, 1)).all() for one in result)
    if not known or not len(result[0]) or np.any(result[1] > result[0]):
        message = (
            f"{group.name}: the passes do not match the elements and fish of this file, or hold values other than 0"
            " and 1"
        )
        raise EchogramError(message)
    return FreshPasses(result[0].astype(bool), result[1].astype(bool))


def surroundings(truth: trusted.Group, elements: int, fish: int) -> Surroundings | None:
    """Return what echoes beside fish; None in files that do not say. Rows name elements and fish of this file."""
    if not truth.has("surroundings"):
        return None
    group = truth.group("surroundings")
    level = group.floats("level", 2, layout.MOST_ROWS * layout.MOST_COLUMNS)
    rows = level.shape[:1]
    whose = [group.integers(name, 1, layout.MOST_ROWS, shape=rows) for name, _ in layout.SURROUNDINGS]
    for values, most in zip(whose, (elements, fish, layout.MOST_PINGS), strict=True):
        if len(values) and not 0 <= int(values.min()) <= int(values.max()) < most:
            message = f"{group.name} names an element, a fish or a ping that is not there"
            raise EchogramError(message)
    if not 0 < level.shape[1] <= layout.MOST_COLUMNS:
        message = f"{group.name}/level has {level.shape[1]} columns"
        raise EchogramError(message)
    name = layout.SURROUNDINGS_GROUND[0]
    ground = group.integers(name, 1, layout.MOST_ROWS, shape=rows) > 0 if group.has(name) else None
    return Surroundings(whose[0], whose[1], whose[2], level, ground)
