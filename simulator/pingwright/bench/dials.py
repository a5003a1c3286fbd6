"""What a knob is: a slider for a number, or a list to choose from."""

from dataclasses import dataclass
from typing import Literal

from pingwright.units import METRES_PER_FOOT


@dataclass(frozen=True)
class Slider:
    """A slider for a number. value, low, high, step in `unit`; shape: how values are spaced between the ends.

    more: folded away at first. pair, place: the key holds two values, as texts, of which this is the one at `place`.
    """

    key: str
    name: str
    unit: str
    value: float
    low: float
    high: float
    step: float
    shape: Literal["even", "logarithmic"]
    why: str
    more: bool = False
    place: int = 0
    pair: tuple[str, ...] | None = None


@dataclass(frozen=True)
class Choice:
    """A list to choose from: values as the scenario has them, and their words."""

    key: str
    name: str
    value: str
    values: tuple[str, ...]
    names: tuple[str, ...]
    why: str
    more: bool = False


def length(metres: float, feet: bool) -> tuple[float, str]:
    """Return a length [m] in the reader's unit, and that."""
    return (round(metres / METRES_PER_FOOT, 2), "ft") if feet else (round(metres, 3), "m")
