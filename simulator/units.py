"""Factors between units, by pint, loaded at the first text with a unit."""

from functools import lru_cache
from typing import Any

METRES_PER_FOOT = 0.3048
FEET_PER_FATHOM = 6

#: The units that are listed in quantities, and no others: pint's own file of a thousand takes half a second to read.
_DEFINITIONS = """
micro- = 1e-6
milli- = 1e-3
centi- = 1e-2
kilo- = 1e3
mega- = 1e6
meter = [length]
second = [time]
kilogram = [mass]
radian = []
degree = 3.14159265358979323846264338327950288 / 180 * radian
hertz = 1 / second
watt = kilogram * meter ** 2 / second ** 3
liter = 1e-3 * meter ** 3
inch = 0.0254 * meter
foot = 12 * inch
yard = 3 * foot
mile = 5280 * foot
nautical_mile = 1852 * meter
minute = 60 * second
hour = 60 * minute
knot = nautical_mile / hour
"""


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    registry: Any = pint.UnitRegistry(None, cache_folder=None)
    registry.load_definitions(_DEFINITIONS.split("\n"))
    return registry


@lru_cache(maxsize=256)
def factor(pint_name: str, base: str) -> float:
    """Return the factor from one listed unit to another."""
    # The chart's fathom is six international feet (1.8288 m exactly); pint's own would be six US survey feet.
    if pint_name == "fathom":
        return FEET_PER_FATHOM * METRES_PER_FOOT
    return float(_registry().Quantity(1.0, pint_name).to(base).magnitude)
