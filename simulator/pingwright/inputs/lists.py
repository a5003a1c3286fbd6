"""Field types of lists: two quantities from and to, several of one dimension, pairs of x and depth."""

import itertools
import math
from dataclasses import dataclass
from typing import Annotated, Any

from pingwright.inputs.fields import FieldType, Quantity
from pingwright.quantities import LENGTH, Dimension, QuantityError, bounds, check, exact, kind_of_value, show


@dataclass(frozen=True)
class Span(FieldType):
    """Two quantities, the lower first.

    equal: both may be the same, and a single value is used for both. from_zero: a single value means from 0 to it.
    """

    dimension: Dimension
    low: float = -math.inf
    high: float = math.inf
    plausible: tuple[float, float] | None = None
    equal: bool = False
    from_zero: bool = False

    def read(self, value: object) -> tuple[float, float]:
        """Return the two SI floats."""
        if isinstance(value, (int, float, str)) and not isinstance(value, bool) and (self.equal or self.from_zero):
            value = [0.0 if self.from_zero else value, value]
        if not isinstance(value, (list, tuple)) or len(value) != 2:
            unit = self.dimension.unit
            pair = _EXAMPLES.get(unit, f'"1 {unit}", "2 {unit}"')
            message = f"found {kind_of_value(value)}; allowed: a list of two, such as [{pair}]"
            raise QuantityError(message)
        low, high = (check(v, self.dimension, self.low, self.high, self.plausible) for v in value)
        if high < low or (high == low and not self.equal):
            message = f"found {_pair(value)}; allowed: the lower one first and the two not equal"
            raise QuantityError(message)
        return low, high

    def write(self, value: tuple[float, float]) -> Any:
        """Return two texts that read back to the same floats."""
        return [exact(v, self.dimension) for v in value]

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        item = Quantity(self.dimension, self.low, self.high).schema()
        pair = {"type": "array", "items": item, "minItems": 2, "maxItems": 2}
        return {"anyOf": [pair, item]} if self.equal or self.from_zero else pair


_EXAMPLES = {"Hz": '"130 kHz", "210 kHz"'}


def _pair(value: list[object] | tuple[object, ...]) -> str:
    return ", ".join(kind_of_value(v) for v in value)


@dataclass(frozen=True)
class Numbers(FieldType):
    """A list of quantities of one dimension, at least `least` and at most `most` of them."""

    dimension: Dimension
    least: int = 1
    most: int = 256
    low: float = -math.inf
    high: float = math.inf

    def read(self, value: object) -> tuple[float, ...]:
        """Return the SI floats."""
        if not isinstance(value, (list, tuple)) or not self.least <= len(value) <= self.most:
            message = f"found {kind_of_value(value)}; allowed: a list of {self.least} to {self.most} numbers"
            raise QuantityError(message)
        return tuple(check(v, self.dimension, self.low, self.high) for v in value)

    def write(self, value: tuple[float, ...]) -> Any:
        """Return texts that read back to the same floats."""
        return [v if not self.dimension.unit else exact(v, self.dimension) for v in value]

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        return {"type": "array", "items": Quantity(self.dimension, self.low, self.high).schema()}


@dataclass(frozen=True)
class Pairs(FieldType):
    """A list of pairs (x, depth), x rising."""

    least: int
    most: int
    low: float
    high: float

    def read(self, value: object) -> tuple[tuple[float, float], ...]:
        """Return pairs of SI floats."""
        if not isinstance(value, (list, tuple)) or not self.least <= len(value) <= self.most:
            message = (
                f"found {kind_of_value(value)}; allowed: a list of {self.least} to {self.most} pairs of x and depth,"
                ' such as [["-50 m", "40 m"], ["50 m", "45 m"]]'
            )
            raise QuantityError(message)
        pairs = tuple(self._pair(number, pair) for number, pair in enumerate(value, 1))
        for number, (one, other) in enumerate(itertools.pairwise(pairs), 2):
            if other[0] <= one[0]:
                text = f"x = {show(other[0], LENGTH)} after {show(one[0], LENGTH)}"
                message = f"pair {number}: found {text}; allowed: x that rises from pair to pair"
                raise QuantityError(message)
        return pairs

    def _pair(self, number: int, pair: object) -> tuple[float, float]:
        if not isinstance(pair, (list, tuple)) or len(pair) != 2:
            message = f'pair {number}: found {kind_of_value(pair)}; allowed: x and depth, such as ["0 ft", "190 ft"]'
            raise QuantityError(message)
        try:
            return check(pair[0], LENGTH, -1e5, 1e5), check(pair[1], LENGTH, self.low, self.high)
        except QuantityError as error:
            message = f"pair {number}: {error}"
            raise QuantityError(message) from None

    def write(self, value: tuple[tuple[float, float], ...]) -> Any:
        """Return pairs of texts that read back to the same floats."""
        return [[exact(x, LENGTH), exact(depth, LENGTH)] for x, depth in value]

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        words = f"pairs of x and depth, x rising, depth {bounds(LENGTH, self.low, self.high)}"
        item = {"anyOf": [{"type": "number"}, {"type": "string"}]}
        pair = {"type": "array", "items": item, "minItems": 2, "maxItems": 2}
        return {"type": "array", "items": pair, "minItems": self.least, "maxItems": self.most, "description": words}


Places = Annotated[tuple[float, float], Span(LENGTH, -1e5, 1e5)]
PlacesOrOne = Annotated[tuple[float, float], Span(LENGTH, -1e5, 1e5, equal=True)]
Depths = Annotated[tuple[float, float], Span(LENGTH, 0.0, 6000.0)]
Heights = Annotated[tuple[float, float], Span(LENGTH, 0.0, 3000.0, equal=True)]
