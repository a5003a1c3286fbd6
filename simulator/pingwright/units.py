"""Factors of the listed units: exact ratios to the unit of their kind, as the standards define them.

This is a table instead of a library of units: a dozen exact numbers cost nothing, but importing a registry of a
thousand units takes a tenth of the time of a small run. The tests compare every factor with such a registry.

Sources: SI brochure (BIPM 2019), sections 3 and 4 (prefixes, minute, hour, litre, nautical mile, knot); international
yard and pound agreement of 1959 (0.9144 m). The chart's fathom is six international feet (1.8288 m).
"""

import math
from fractions import Fraction

METRES_PER_FOOT = 0.3048
FEET_PER_FATHOM = 6

_FOOT = Fraction(3048, 10_000)
_HOUR = 3600
_KNOT = Fraction(1852, _HOUR)

#: In metres, seconds, hertz, watts, metres a second, degrees, or numbers a cubic metre.
_FACTORS: dict[str, Fraction | float] = {
    "meter": Fraction(1), "millimeter": Fraction(1, 1000), "centimeter": Fraction(1, 100), "kilometer": Fraction(1000),
    "inch": _FOOT / 12, "foot": _FOOT, "yard": 3 * _FOOT, "fathom": FEET_PER_FATHOM * _FOOT,
    "nautical_mile": Fraction(1852),
    "second": Fraction(1), "millisecond": Fraction(1, 1000), "microsecond": Fraction(1, 1_000_000),
    "minute": Fraction(60), "hour": Fraction(_HOUR),
    "hertz": Fraction(1), "kilohertz": Fraction(1000), "megahertz": Fraction(1_000_000),
    "watt": Fraction(1), "milliwatt": Fraction(1, 1000), "kilowatt": Fraction(1000),
    "meter/second": Fraction(1), "centimeter/second": Fraction(1, 100), "foot/second": _FOOT,
    "kilometer/hour": Fraction(1000, _HOUR), "mile/hour": 5280 * _FOOT / _HOUR, "knot": _KNOT,
    "degree": Fraction(1), "radian": 180 / math.pi,
    "1/meter**3": Fraction(1), "1/liter": Fraction(1000), "1/foot**3": 1 / _FOOT**3,
}  # fmt: skip


def factor(name: str) -> Fraction | float:
    """Return one listed unit in the base unit of its kind: exact, except the radian."""
    return _FACTORS[name]
