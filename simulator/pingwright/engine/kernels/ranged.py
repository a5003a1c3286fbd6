"""Mean echo of many patches in bins of range, seen from many places: for closed forms, without phases."""

import math
from typing import Any

from pingwright.engine.kernels.compiled import compiled

_jit = compiled()


@_jit
def add_powers(
    xyz: Any, axis: Any, area: Any, law: Any, laws: Any, place: Any, turn: Any, along: Any, across: Any, steep: Any,
    is_round: Any, near: Any, width: Any, bins: Any,
) -> None:  # fmt: skip
    """Add to bins (place, bin) the mean echo [m2] of every patch that faces the place, in the bin of its range.

    xyz (3, n) [m], axis (3, n), area (n) [m2], law (n): of the patches; laws (law, k): backscattering coefficient [1]
    over the cosine of incidence, 0 to 1 in equal steps; place (3, place) [m]; turn (place, 3, 3): from world axes to
    the element's own; along, across (m): two-way gain [1] over the tangent of the angle off the axis, -steep to steep
    in equal steps, silent beyond; is_round: the gain is `along` of the whole angle alone. Bins begin at near and are
    width wide [m].
    """
    last, tall = laws.shape[1] - 1, along.shape[0] - 1
    for p in range(place.shape[1]):
        for s in range(xyz.shape[1]):
            dx, dy, dz = xyz[0, s] - place[0, p], xyz[1, s] - place[1, p], xyz[2, s] - place[2, p]
            facing = -(dx * axis[0, s] + dy * axis[1, s] + dz * axis[2, s])
            out = turn[p, 2, 0] * dx + turn[p, 2, 1] * dy + turn[p, 2, 2] * dz
            if facing <= 0.0 or out <= 0.0:
                continue
            distance = math.sqrt(dx * dx + dy * dy + dz * dz)
            bin_ = int((distance - near) / width)
            if distance < near or bin_ >= bins.shape[1]:
                continue
            u = (turn[p, 0, 0] * dx + turn[p, 0, 1] * dy + turn[p, 0, 2] * dz) / out
            v = (turn[p, 1, 0] * dx + turn[p, 1, 1] * dy + turn[p, 1, 2] * dz) / out
            if is_round:
                u, v = math.sqrt(u * u + v * v), 0.0
            if abs(u) >= steep or abs(v) >= steep:
                continue
            gain = _between(along, (u + steep) / (2.0 * steep) * tall)
            if not is_round:
                gain *= _between(across, (v + steep) / (2.0 * steep) * tall)
            bins[p, bin_] += area[s] * gain * _between(laws[law[s]], facing / distance * last)


@_jit
def _between(table: Any, at: Any) -> Any:
    """Return a table's value between two of its entries."""
    k = min(int(at), table.shape[0] - 2)
    return table[k] + (at - k) * (table[k + 1] - table[k])
