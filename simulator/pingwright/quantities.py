"""Numbers and their units at the edges of the program; SI floats (angles in deg) everywhere inside.

A user's text is split here into a number and a unit name by one regular expression and never evaluated. Only unit
names on the list of the wanted dimension are looked up (in `units`); decibels and the offset units of temperature are
converted here.
"""

import difflib
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from pingwright import units

#: Longest text that is looked at as a quantity [characters].
LONGEST_TEXT = 80

_SPLIT = re.compile(r"([+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,4})?)\s*(.*)", re.DOTALL)
_ZERO_CELSIUS = 273.15


class QuantityError(ValueError):
    """A value cannot be read as a quantity; the text is written for the user."""


@dataclass(frozen=True)
class Dimension:
    """One kind of quantity.

    unit is the unit of a bare number (and of the SI float inside). units maps each accepted spelling to a name in
    `units`, or to "" where no factor applies (decibels, temperatures, plain ratios). likely lists the units,
    most likely first, in which a bare number may have been meant.
    """

    name: str
    unit: str
    units: Mapping[str, str] = field(repr=False, hash=False)
    likely: tuple[str, ...] = ()


def _units(*rows: str) -> dict[str, str]:
    """Return spelling -> name in `units` from rows "name=spelling,spelling"."""
    pairs = (row.split("=") for row in rows)
    return {spelling: name for name, spellings in pairs for spelling in spellings.split(",")}


_METRIC = ("meter=m,metre,metres,meter,meters", "centimeter=cm", "millimeter=mm", "kilometer=km")
_IMPERIAL = ("foot=ft,foot,feet", "inch=in,inch,inches", "yard=yd,yard,yards", "fathom=fathom,fathoms,fm")
_CLOCK = ("second=s,sec,second,seconds", "millisecond=ms", "microsecond=us,\u00b5s,\u03bcs", "minute=min", "hour=h")
_PACE = ("meter/second=m/s,m s-1", "centimeter/second=cm/s", "kilometer/hour=km/h", "knot=kn,kt,kts,knot,knots")

LENGTH = Dimension(
    "length", "m", _units(*_METRIC, *_IMPERIAL, "nautical_mile=nmi"), likely=("mm", "cm", "ft", "m", "km")
)
FREQUENCY = Dimension(
    "frequency", "Hz", _units("hertz=Hz,hz", "kilohertz=kHz,khz,KHz", "megahertz=MHz"), likely=("kHz", "MHz")
)
TIME = Dimension("time", "s", _units(*_CLOCK), likely=("ms", "us"))
POWER = Dimension("power", "W", _units("watt=W,watt,watts", "kilowatt=kW", "milliwatt=mW"), likely=("kW",))
SPEED = Dimension(
    "speed", "m/s", _units(*_PACE, "mile/hour=mph", "foot/second=ft/s"), likely=("kn", "km/h", "ft/s", "cm/s")
)
ANGLE = Dimension("angle", "deg", dict.fromkeys(("deg", "degree", "degrees", "\u00b0"), "degree") | {"rad": "radian"})
LEVEL = Dimension("level", "dB", {"dB": "", "db": ""})
TEMPERATURE = Dimension("temperature", "degC", _units("=degC,\u00b0C,C,degF,\u00b0F,F,K"), likely=("degF", "K"))
SALINITY = Dimension("salinity", "g/kg", dict.fromkeys(("g/kg", "psu", "ppt"), ""))
NUMBER_DENSITY = Dimension(
    "number density",
    "per m3",
    _units("1/meter**3=per m3,per m^3,1/m3,/m3,m-3,per cubic metre", "1/foot**3=per ft3", "1/liter=per litre,per l"),
)
RATIO = Dimension("plain number", "", {"%": "percent"}, ("%",))
#: What a message shows of a dimension, by its name.
_EXAMPLES = {
    "frequency": "130 kHz", "time": "2 ms", "power": "1 kW", "speed": "4 kn", "angle": "3 deg", "level": "-35 dB",
    "temperature": "11 degC", "salinity": "35 g/kg", "number density": "0.02 per m3", "plain number": "5 %",
}  # fmt: skip
_WITH_DIGITS = frozenset(NUMBER_DENSITY.units) | frozenset(SPEED.units)


def split(text: str, example: str = "180 ft") -> tuple[float, str]:
    """Return the number at the head of a text and the unit name after it ("" for none); example: for the message.

    Raises QuantityError for anything that is not one finite decimal number and one name.
    """
    if len(text) > LONGEST_TEXT:
        message = f"found a text of {len(text)} characters; a quantity has at most {LONGEST_TEXT}"
        raise QuantityError(message)
    match = _SPLIT.fullmatch(text.strip())
    if match is None:
        message = f'found {quoted(text)}; allowed is a number with a unit, such as "{example}"'
        raise QuantityError(message)
    number, unit = float(match[1]), " ".join(match[2].split())
    if not math.isfinite(number):
        message = f"found {quoted(text)}; allowed are finite numbers only"
        raise QuantityError(message)
    if unit.startswith(","):
        message = f"found {quoted(text)}; the decimal sign is a point, not a comma"
        raise QuantityError(message)
    if unit not in _WITH_DIGITS and _is_compound(unit):
        message = f"found {quoted(text)}; allowed is one number with one unit, no calculation"
        raise QuantityError(message)
    return number, unit


def _is_compound(unit: str) -> bool:
    """Return whether a second number, a sum or a power stands there, as in "ft 3 in"."""
    return bool(re.match(r"[0-9*+_.^-]", unit) or re.search(r"\s[0-9]", unit) or "*" in unit)


def quoted(text: str, longest: int = 40) -> str:
    """Return a user's text in quotes, shortened and with unprintable characters escaped, for a message."""
    shown = text if len(text) <= longest else text[:longest] + "..."
    return '"' + "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in shown) + '"'


def to_base(number: float, unit: str, dimension: Dimension) -> float:
    """Return a number in one of the dimension's units as a float in its base unit.

    Raises QuantityError where the unit is not on the dimension's list or the result is not finite.
    """
    if unit not in dimension.units:
        result = f"the unit {quoted(unit)}" if unit else "no unit"
        message = (
            f"found {result} in {_article(dimension)}; allowed: {_unit_list(dimension)}{_near_unit(unit, dimension)}"
        )
        raise QuantityError(message)
    if dimension is TEMPERATURE:
        return _celsius(number, unit)
    if dimension is RATIO:
        return number / 100
    return _scaled(number, name) if (name := dimension.units[unit]) else number


def _article(dimension: Dimension) -> str:
    return f"{'an' if dimension.name[0] in 'aeiou' else 'a'} {dimension.name}"


def _unit_list(dimension: Dimension) -> str:
    """Return the units of a dimension for a message, one spelling each."""
    first = {name or spelling: spelling for spelling, name in list(dimension.units.items())[::-1]}
    return ", ".join(spelling for spelling in dimension.units if spelling in first.values()) or "no unit"


def _near_unit(unit: str, dimension: Dimension) -> str:
    near = [known for known in dimension.units if unit and known.lower() == unit.lower()]
    near = near or difflib.get_close_matches(unit[:20], [known for known in dimension.units if len(known) > 2], n=1)
    return f'; did you mean "{near[0]}"?' if near else ""


def _scaled(number: float, unit: str) -> float:
    """Return number x the unit's factor, rounded once ("61 mm" is 0.061)."""
    factor = units.factor(unit)
    try:
        exact = isinstance(factor, Fraction)
        result = float(Fraction(repr(number)) * factor) if exact else number * float(factor)
    except OverflowError:
        result = math.inf
    if not math.isfinite(result):
        message = "the number is too large; allowed are finite numbers only"
        raise QuantityError(message)
    return result


def _celsius(number: float, unit: str) -> float:
    if unit.endswith("F"):
        return (number - 32) * 5 / 9
    return number - _ZERO_CELSIUS if unit == "K" else number


def read(value: object, dimension: Dimension) -> float:
    """Return a quantity given as a bare number or as a text with a unit, in the dimension's base unit.

    Raises QuantityError, worded for the user. Bounds are the caller's business: see `check`.
    """
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        example = f'"1 {dimension.unit}"' if dimension.unit else "0.5"
        message = (
            f"found {kind_of_value(value)}; allowed is {_article(dimension)}: a number or a text such as {example}"
        )
        raise QuantityError(message)
    if isinstance(value, str):
        number, unit = split(value, _EXAMPLES.get(dimension.name, "180 ft"))
        if not unit and dimension.unit:
            message = (
                f'found {quoted(value)} without a unit; allowed: "{_short(number)} {dimension.unit}", or no quotes'
            )
            raise QuantityError(message)
        return to_base(number, unit, dimension) if unit else number
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        message = f"found {kind_of_value(value)}; allowed are finite numbers only"
        raise QuantityError(message)
    return number


def check(
    value: object,
    dimension: Dimension,
    low: float = -math.inf,
    high: float = math.inf,
    plausible: tuple[float, float] | None = None,
    likely: tuple[str, ...] = (),
) -> float:
    """Return `read(value)` where it lies within low..high (base unit), and a bare number within the plausible span.

    A bare number outside is refused with the unit it was likely meant in. Raises QuantityError.
    """
    number = read(value, dimension)
    inside = low <= number <= high
    bare = not isinstance(value, str)
    if inside and not (bare and plausible and not plausible[0] <= number <= plausible[1]):
        return number
    span = plausible or (low, high)
    guess = likely_unit(number, dimension, *span, likely) if bare else ""
    hint = f'; did you mean "{_short(number)} {guess}"?' if guess else ""
    if inside:
        message = (
            f"found {show(number, dimension)}, which is probably a mistake{hint or '; write the unit if you mean it'}"
        )
    else:
        message = f"found {show(number, dimension)}; allowed: {bounds(dimension, low, high)}{hint}"
    raise QuantityError(message)


def bounds(dimension: Dimension, low: float, high: float) -> str:
    """Return a span in words for messages and schemas: "10 kHz to 1 MHz", "at least 0 m", "any"."""
    if math.isinf(low) and math.isinf(high):
        return "any finite number"
    if math.isinf(high) or math.isinf(low):
        return f"at least {show(low, dimension)}" if math.isinf(high) else f"at most {show(high, dimension)}"
    return f"{show(low, dimension)} to {show(high, dimension)}"


def likely_unit(number: float, dimension: Dimension, low: float, high: float, first: tuple[str, ...] = ()) -> str:
    """Return the likely unit (`first` before the others) in which a bare number falls into low..high, or ""."""
    for unit in (*first, *dimension.likely):
        if unit != dimension.unit and low <= to_base(number, unit, dimension) <= high:
            return unit
    return ""


def show(number: float, dimension: Dimension) -> str:
    """Return a base-unit float with a handy unit for a message, at most six digits ("130 kHz", "2 ms")."""
    unit, scale = dimension.unit, 1.0
    for candidate, size in _HANDY.get(dimension.name, ()):
        if abs(number) >= size:
            unit, scale = candidate, size
            break
    return f"{_short(number / scale)} {unit}".rstrip()


_HANDY = {
    "frequency": (("MHz", 1e6), ("kHz", 1e3)),
    "time": (("s", 1.0), ("ms", 1e-3), ("us", 1e-6)),
    "length": (("m", 1.0), ("cm", 1e-2), ("mm", 1e-3)),
    "power": (("kW", 1e3),),
}


def exact(number: float, dimension: Dimension) -> str:
    """Return a text that `read` turns into exactly the same float, in a handy unit where that loses no bit."""
    for unit, size in _HANDY.get(dimension.name, ()):
        if abs(number) >= size:
            for digits in (f"{number / size:.12g}", repr(number / size)):
                if read(f"{digits} {unit}", dimension) == number:
                    return f"{digits} {unit}"
    return f"{_digits(number)} {dimension.unit}".rstrip()


def _digits(number: float) -> str:
    """Return the shortest digits that give the same float again."""
    return repr(int(number)) if number == int(number) and abs(number) < 1e15 else repr(number)


def _short(number: float) -> str:
    return f"{number:.6g}"


def kind_of_value(value: object) -> str:
    """Return what a TOML value is, in plain words, for a message."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, int):
        return str(value) if abs(value) < 10**18 else "a whole number of more than 18 digits"
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, (list, tuple)):
        return f"a list of {len(value)}"
    return "a table" if isinstance(value, Mapping) else "a date or time"
