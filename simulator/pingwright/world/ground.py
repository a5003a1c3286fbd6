"""Places of grounds: the seabed's own layers, and patches of another sediment with sharp edges."""

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from pingwright.inputs.sections import Seabed

FloatArray = NDArray[np.float64]


def _none() -> FloatArray:
    return np.zeros((0, 4))


@dataclass(frozen=True)
class Boxes:
    """Patches seen from above: bounds (patch, 4) x0, x1, y0, y1 [m], infinite where a patch has no end."""

    bounds: FloatArray = field(default_factory=_none)

    def __len__(self) -> int:
        """Return the number of patches."""
        return len(self.bounds)

    def which(self, x: FloatArray, y: FloatArray) -> NDArray[np.int64]:
        """Return the ground at x, y [m], a number: 0 outside all patches, k in the k-th; the last one counts."""
        x, y = np.broadcast_arrays(np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64))
        number = np.zeros(x.shape, dtype=np.int64)
        for k, (x0, x1, y0, y1) in enumerate(self.bounds, 1):
            number[(x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)] = k
        return number

    def within(self, x0: float, x1: float, y0: float, y1: float) -> tuple[int, ...]:
        """Return the numbers of the grounds that a box [m] may touch; 0 always is one of them."""
        b = self.bounds
        touched = (b[:, 0] <= x1) & (b[:, 1] >= x0) & (b[:, 2] <= y1) & (b[:, 3] >= y0)
        return (0, *(int(k) + 1 for k in np.flatnonzero(touched)))

    def edges(self, axis: int) -> FloatArray:
        """Return the finite edges along x (axis 0) or y (1) [m]."""
        sides = self.bounds[:, 2 * axis : 2 * axis + 2].ravel()
        return np.asarray(sides[np.isfinite(sides)])


def boxes(seabed: "Seabed") -> Boxes:
    """Return the patches of a scenario's seabed."""
    endless = (-np.inf, np.inf)
    rows = [(*(patch.x or endless), *(patch.y or endless)) for patch in getattr(seabed, "patch", ())]
    return Boxes(np.array(rows, dtype=np.float64).reshape(-1, 4))
