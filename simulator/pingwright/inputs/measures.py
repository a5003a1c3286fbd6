"""What a claim of each measure needs: a row a measure. The measures themselves stand in the room `measures`."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from pingwright.inputs.fields import FieldType
from pingwright.quantities import ANGLE, LENGTH, RATIO, Dimension, QuantityError, kind_of_value

#: Pings of a window, at most: its closed form follows 2^(n - 1) states.
MOST_PINGS = 12
Measure = Literal[
    "separated",
    "detected",
    "m_of_n",
    "separated_pair",
    "reach",
    "bottom_reach",
    "smallest_fish",
    "swath",
    "beam_width",
    "range_resolution",
]


@dataclass(frozen=True)
class Needs:
    """What a claim of a measure needs: the dimension of its bound, and its least: nearer there is nothing to measure.

    fish: whether it is about a fish. keys: what else must be given: length, place (above_bottom or depth) and spacing
    of the fish, pings of the claim. overs: what it may be judged over; where a file says another, its own counts.
    """

    dimension: Dimension
    least: float = 0.0
    fish: bool = True
    keys: frozenset[str] = frozenset()
    overs: tuple[str, ...] = ("pass", "ping")


_PLACED = frozenset({"length", "place"})
_PASS, _PING = ("pass",), ("ping",)
#: Every measure; probabilities are plain numbers.
NEEDS: Mapping[Measure, Needs] = {
    "separated": Needs(RATIO, keys=_PLACED),
    "detected": Needs(RATIO, keys=_PLACED),
    "m_of_n": Needs(RATIO, keys=_PLACED | {"pings"}, overs=_PASS),
    "separated_pair": Needs(RATIO, keys=_PLACED | {"spacing"}),
    "reach": Needs(LENGTH, 0.5, keys=frozenset({"length"}), overs=_PING),
    "bottom_reach": Needs(LENGTH, 0.5, fish=False, overs=_PING),
    "smallest_fish": Needs(LENGTH, 0.005),
    "swath": Needs(LENGTH, keys=_PLACED, overs=_PASS),
    "beam_width": Needs(ANGLE, 0.01, fish=False, overs=_PING),
    "range_resolution": Needs(LENGTH, 1e-4, fish=False, overs=_PING),
}


@dataclass(frozen=True)
class MOfN(FieldType):
    """Two whole numbers, m and n of "at least m of n": 1 <= m <= n, n from 2 to MOST_PINGS."""

    def read(self, value: object) -> tuple[int, int]:
        """Return m and n."""
        match value:
            case [int(m), int(n)] if not isinstance(m, bool) and 1 <= m <= n and 2 <= n <= MOST_PINGS:
                return m, n
        message = (
            f"found {kind_of_value(value)}; allowed: two whole numbers m and n, such as [3, 8]: at least m of n pings,"
            f" m from 1 to n, n from 2 to {MOST_PINGS}"
        )
        raise QuantityError(message)

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        return {"type": "array", "items": {"type": "integer"}, "minItems": 2, "maxItems": 2}
