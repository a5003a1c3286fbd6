"""A trip typed on the command line, written as the trip file it stands for."""

import re
from dataclasses import dataclass

from pingwright.errors import Fault, ScenarioError
from pingwright.quantities import LENGTH, SPEED, Dimension, QuantityError, read

#: What a boat that drifts does [m/s], with its engine off; assumed: a knot of wind and current.
DRIFTING = 0.5144
#: Where fish hold that are tight to the bottom, near it, or tight to a wreck [m]; assumed.
TIGHT, NEAR = (0.2, 0.8), (0.5, 3.0)
WRECK = 'wreck = { length = "30 m", width = "8 m", height = "4 m", beside = ["0.5 m", "5 m"] }\n'
SPECIES = "--species"
LENGTH_WORDS = re.compile(r"^[\d.]+ ?(?:m|cm|mm|ft|in|inch|inches|feet|foot)$")


@dataclass(frozen=True)
class Typed:
    """What was typed: depth of the bottom ("150..250 ft"), species, speed, bottom, wind."""

    depth: str
    species: tuple[str, ...]
    speed: str = "3 kn"
    bottom: str = "gravel"
    wind: str = "8 kn"


def trip_file(typed: Typed) -> str:
    """Return the trip file that what was typed stands for. Raises ScenarioError where a word is not understood."""
    low, high = _span(typed.depth, "--depth")
    drifting = typed.speed.strip().lower() in ("drifting", "drift", "adrift")
    speed = DRIFTING if drifting else _quantity(typed.speed, "--speed", SPEED)
    fish = [_fish(words, high) for words in typed.species]
    wreck = any("wreck" in words.lower() for words in typed.species)
    own = 'own = "none"   # drifting, engine off\n' if drifting else ""
    title = f"{', '.join(words.split(',')[0].strip() for words in typed.species)} at {typed.depth}"
    lines = [
        f'title = "{_plain(title)}"\n\n[day]\ndepth = ["{low}", "{high}"]\nsediment = "{_plain(typed.bottom)}"\n',
        f'wind = "{_plain(typed.wind)}"\nspeed = "{speed!r} m/s"\n{own}{WRECK if wreck else ""}',
        'temperature = "12 degC"   # assumed\nsalinity = 34.5   # assumed: the sea\n',
        *fish,
        '\n[candidates]\nelements = "all"\npairs = true\n',
    ]
    return "".join(lines)


def _plain(text: str) -> str:
    """Return a text that may stand between quotes in a file."""
    return re.sub(r'["\\\x00-\x1f]', " ", text).strip()[:150]


def _fault(option: str, found: str, allowed: str) -> ScenarioError:
    return ScenarioError([Fault("command line", 0, option, f"found {found[:80]!r}; allowed: {allowed}")])


def _quantity(text: str, option: str, kind: Dimension) -> float:
    try:
        return read(text, kind)
    except QuantityError as error:
        raise _fault(option, text, f"a quantity with its unit, such as 4 kn ({error})") from None


def _span(text: str, option: str) -> tuple[str, str]:
    """Return the two ends of "150..250 ft", each with its unit; one depth is both."""
    found = re.match(r"^\s*([\d.]+)\s*(?:\.\.|-|to)\s*([\d.]+)\s*([a-z]+)\s*$", text)
    if found:
        return f"{found[1]} {found[3]}", f"{found[2]} {found[3]}"
    if re.match(r"^\s*[\d.]+\s*[a-z]+\s*$", text):
        return text.strip(), text.strip()
    raise _fault(option, text, 'one depth or two, such as "180 ft" or "150..250 ft"')


def _fish(words: str, deepest: str) -> str:
    """Return the table of a species typed as "perch, 30 cm, near the bottom"."""
    parts = [part.strip() for part in words.split(",")]
    lengths = [part for part in parts[1:] if LENGTH_WORDS.match(part.lower())]
    if not lengths:
        allowed = 'a name, a length and where it holds, such as "perch, 30 cm, near the bottom"'
        raise _fault(SPECIES, words, allowed)
    _quantity(lengths[0], SPECIES, LENGTH)
    where = " ".join(part for part in parts[1:] if part not in lengths).lower()
    top = re.search(r"top ([\d.]+ ?[a-z]+)", where)
    if top:
        place = f'depth = ["2 m", "{top[1]}"]'
    elif "mid" in where:
        place = f'depth = ["5 m", "{deepest}"]'
    else:
        low, high = TIGHT if "tight" in where else NEAR
        place = f'above_bottom = ["{low} m", "{high} m"]'
    bladder = "none" if "no bladder" in where else "closed"
    return (
        f'\n[[species]]\nname = "{_plain(parts[0])}"\nswimbladder = "{bladder}"\nlength = "{lengths[0]}"\n'
        f"where = {{ {place} }}\n"
    )
