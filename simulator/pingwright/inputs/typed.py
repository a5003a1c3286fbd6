"""A day typed on the command line in an angler's words, turned into a trip file."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, NoReturn

from pingwright.errors import Fault, ScenarioError
from pingwright.inputs import catalogue
from pingwright.inputs.fields import nearest
from pingwright.inputs.trip import Trip, parse
from pingwright.inputs.trip_parts import GROUNDS
from pingwright.quantities import ANGLE, LENGTH, SPEED, TEMPERATURE, Dimension, QuantityError, quoted, read

#: Speeds that have a word [m/s], all assumed: adrift with the engine off (half a knot), trolling (6 kn), under way
#: (20 kn).
SPEEDS = {"drifting": 0.25, "trolling": 3.087, "under way": 10.29}
ADRIFT = ("drifting", "drift", "adrift")
#: Words for the place of fish: [m] above the bottom, or above a structure there; assumed.
PLACES = {
    "tight to": ("above_bottom", 0.2, 0.8),
    "near": ("above_bottom", 0.5, 3.0),
    "over": ("above", 0.5, 4.0),
}
#: Middle of the water column, as shares of its depth, *assumed*.
MIDWATER = "column = [0.2, 0.8]"
#: Period of a roll that is typed as an angle [s]; assumed for small boats.
ROLL_PERIOD = 4.0
NUMBER = r"(?:\d+(?:\.\d*)?|\.\d+)"
QUANTITY = re.compile(rf"^({NUMBER}) ?([a-z]+)$")
SPECIES = "--species"
ALLOWED = (
    "a name, a length or a body plan (`pingwright list fish`), and where the fish is: tight to, near or over the"
    " bottom,"
    " a wreck, a reef or a ledge; near weed; 1..3 ft off the bottom; mid-water; top 100 ft; 20..40 ft deep. A school"
    " also needs its size,"
    ' "30 ft wide, 10 ft high". For example "grouper-like, 2 ft, tight to a wreck"'
)


#: Name of a typed trip among the faults of a file.
NAME = "typed.toml"


@dataclass(frozen=True)
class Typed:
    """The typed texts: depth of the bottom ("150..250 ft"), species, speed, bottom, ground, wind, water, roll."""

    depth: str
    species: tuple[str, ...]
    speed: str = "3 kn"
    bottom: str = "gravel"
    ground: str = ""
    wind: str = "8 kn"
    water: str = "sea"
    roll: str = ""


def trip_file(typed: Typed) -> str:
    """Return the trip file for the typed texts. Raises ScenarioError for a word that is not known."""
    low, high = span(typed.depth, "--depth")
    fish = [_fish(words) for words in typed.species]
    ground = _ground(typed.ground, [one.ground for one in fish])
    name = ", ".join(plain(words.split(",")[0]) for words in typed.species)
    lines = [
        f'title = "{plain(f"{name} at {typed.depth}")}"\n',
        f'units = "{units_of(low)}"\n\n[day]\ndepth = ["{low}", "{high}"]\nsediment = "{_sediment(typed.bottom)}"\n',
        f'ground = "{ground}"\n' if ground else "",
        f'wind = "{_checked(typed.wind, "--wind", SPEED)}"\n{_speed(typed.speed)}{_water(typed.water)}',
        _roll(typed.roll),
        *(one.table for one in fish),
        '\n[candidates]\nelements = "all"\npairs = true\n',
    ]
    return "".join(lines)


#: Key of a trip file -> the option in whose text it was typed, for messages.
OPTIONS = {
    "day.depth": "--depth", "day.speed": "--speed", "day.wind": "--wind", "day.sediment": "--bottom",
    "day.ground": "--ground", "day.temperature": "--water", "day.roll": "--roll", "species": SPECIES,
}  # fmt: skip


def parsed(text: str, changes: Mapping[str, Any]) -> Trip:
    """Return the trip of a typed text; changes: keys set by dotted paths. Faults name the option, not a line."""
    try:
        return parse(text, NAME, changes=changes)
    except ScenarioError as error:
        raise ScenarioError([_as_typed(fault) for fault in error.faults]) from None


def _as_typed(fault: Fault) -> Fault:
    """Return a fault at the option in whose text it was typed."""
    if fault.file != NAME:
        return fault
    key, _, rest = fault.path.partition(".")
    head = re.split(r"[.[]", rest)[0]
    option = f"--{head}" if key == "ask" else OPTIONS.get(f"{key}.{head}") or OPTIONS.get(key.split("[")[0], fault.path)
    return Fault("command line", 0, option, fault.message)


def span(text: str, option: str) -> tuple[str, str]:
    """Return the two ends of "150..250 ft", the smaller first, each with its unit; one depth is both.

    A comma before three digits, as in "1,500 ft", parts thousands.
    """
    words = re.sub(r"(?<=\d),(?=\d{3}(?!\d))", "", _spelled_out(text.strip().lower()))
    match = re.match(rf"^({NUMBER})\s*([a-z]*)\s*(?:\.\.|-|to)\s*({NUMBER})\s*([a-z]+)$", words)
    if match:
        ends = [f"{match[1]} {match[2] or match[4]}", f"{match[3]} {match[4]}"]
        ends.sort(key=lambda end: read_as(end, option, LENGTH, text))
        return ends[0], ends[1]
    alone = QUANTITY.match(words)
    if not alone and re.match(rf"^{NUMBER}(\s*(?:\.\.|-|to)\s*{NUMBER})?$", words):
        refuse(option, text, f'a depth with its unit, such as "{words} m", "{words} ft" or "{words} fathoms"')
    if not alone:
        refuse(option, text, 'one depth or two, such as "180 ft" or "150..250 ft"')
    one = f"{alone[1]} {alone[2]}"
    read_as(one, option, LENGTH, text)
    return one, one


def units_of(quantity: str) -> str:
    """Return the units of answers about a depth typed like this: m, ft or fathoms."""
    unit = quantity.rsplit(maxsplit=1)[-1].lower()
    return "fathoms" if unit.startswith(("fathom", "fm")) else "ft" if unit in ("ft", "feet", "foot", "yd") else "m"


def refuse(option: str, value: str, allowed: str) -> NoReturn:
    """Raise ScenarioError for a value that an option does not take."""
    raise ScenarioError([Fault("command line", 0, option, f"found {quoted(value, 80)}; allowed: {allowed}")])


def plain(text: str) -> str:
    """Return a text that is allowed between quotes in a file."""
    return re.sub(r'["\\\x00-\x1f\x7f-\x9f]', " ", text).strip()[:70]


def read_as(text: str, option: str, kind: Dimension, whole: str) -> float:
    """Return a part of a typed text as a quantity in its base unit; whole: the text, for the message."""
    try:
        return float(read(text, kind))
    except QuantityError as error:
        said = str(error).removesuffix(", or no quotes")  # those of a file
        refuse(option, whole, f"a quantity with its unit ({said})")


def _checked(text: str, option: str, kind: Dimension) -> str:
    """Return a quantity as a file may hold it; units other than those of temperature are written small."""
    text = text if kind is TEMPERATURE else text.lower()
    read_as(text, option, kind, text)
    return plain(text)


def no_other_word(word: str, option: str, text: str) -> None:
    """Refuse a word that is neither a known speed nor begins like a number."""
    if not word[:1].isdigit() and not word.startswith("."):
        known = tuple(SPEEDS)
        refuse(option, text, f"{', '.join(known)}, or a speed with its unit, such as 4 kn{nearest(word, known)}")


def _speed(text: str) -> str:
    words = text.strip().lower()
    if words in ADRIFT:
        return f'speed = "{SPEEDS["drifting"]!r} m/s"   # drifting, assumed\nown = "none"   # engine off\n'
    if words in SPEEDS:
        return f'speed = "{SPEEDS[words]!r} m/s"   # {words}, assumed\n'
    no_other_word(words, "--speed", text)
    return f'speed = "{_checked(text, "--speed", SPEED)}"\n'


def _sediment(text: str) -> str:
    names = catalogue.sediment_names()
    word = text.strip().lower()
    if word not in names:
        refuse("--bottom", text, f"{', '.join(names)}{nearest(word, names)}")
    return word


def _ground(text: str, by_species: list[str]) -> str:
    """Return the word for the ground: as typed, else from the texts of the species."""
    word, spoken = text.strip().lower(), sorted({one for one in by_species if one})
    if word and word not in GROUNDS:
        refuse("--ground", text, f"{', '.join(GROUNDS)}{nearest(word, GROUNDS)}")
    if len(spoken) > 1 or (word and spoken and spoken != [word]):
        refuse(
            SPECIES,
            " and ".join([*([word] if word else []), *spoken]),
            "the same kind of ground for all fish of a trip",
        )
    return word or (spoken[0] if spoken else "")


def _water(text: str) -> str:
    """Return temperature and salinity of "sea", "lake", "lake, 18 degC"."""
    parts = [part.strip() for part in text.split(",")]
    kind = parts[0].lower()
    if kind not in ("sea", "lake") or len(parts) > 2:
        refuse("--water", text, 'sea or lake, and its temperature, such as "lake, 18 degC"')
    degrees = _checked(parts[1], "--water", TEMPERATURE) if parts[1:] else "12 degC"
    note = "" if parts[1:] else "   # assumed"
    return f'temperature = "{degrees}"{note}\nsalinity = {34.5 if kind == "sea" else 0}   # {kind}\n'


def _roll(text: str) -> str:
    words = text.strip().lower()
    if not words:
        return ""
    if words == "by wind":
        return 'motion = "by wind"\n'
    if not words[:1].isdigit():
        refuse("--roll", text, 'by wind, or an angle, such as "10 deg"')
    return f'roll = {{ amplitude = "{_checked(text, "--roll", ANGLE)}", period = "{ROLL_PERIOD:g} s" }}   # assumed\n'


@dataclass(frozen=True)
class _Table:
    """A [[species]] as text, and the ground that its text names, "" for none."""

    table: str
    ground: str


@dataclass
class _Words:
    """The result of the texts of a species so far: keys of its table, and sizes of a school."""

    keys: dict[str, str]
    size: dict[str, str]
    school: bool = False
    ground: str = ""
    place: str = ""


def _fish(words: str) -> _Table:
    """Return the table of a species typed as "perch, 30 cm, near the bottom"."""
    parts = [_spelled_out(part.strip()) for part in words.split(",")]
    name, result = parts[0], _Words({}, {})
    body = name.lower().split()[-1:]
    if not name:
        refuse(SPECIES, words, ALLOWED)
    result.school = bool(re.search(r"\b(school|shoal|ball)\b", name.lower()))
    if body[0] in catalogue.body_names():
        result.keys["body"] = f'"{body[0]}"'
    elif body[0].endswith("-like"):
        refuse(SPECIES, name, f"{', '.join(catalogue.body_names())}{nearest(name.lower(), catalogue.body_names())}")
    for part in filter(None, parts[1:]):
        if not any(reader(part.lower(), result, words) for reader in _READERS):
            refuse(SPECIES, f"{part} (in {words})"[:78], ALLOWED)
    if "length" not in result.keys and "body" not in result.keys:
        refuse(SPECIES, words, ALLOWED)
    if "body" not in result.keys:
        result.keys.setdefault("swimbladder", '"open"   # assumed' if result.school else '"closed"   # assumed')
    table = "".join(f"{key} = {value}\n" for key, value in result.keys.items()) + _size(result, words)
    place = result.place or (MIDWATER if result.school else 'above_bottom = ["0.5 m", "3.0 m"]')
    return _Table(f'\n[[species]]\nname = "{plain(name)}"\n{table}where = {{ {place} }}\n', result.ground)


def _spelled_out(part: str) -> str:
    """Return a text with 2' written as 2 ft and 8" as 8 in."""
    return re.sub(r"(?<=\d) ?'", " ft", re.sub(r'(?<=\d) ?(?:"|\'\')', " in", part))


def _size(found: _Words, words: str) -> str:
    """Return the size of a school as a line, "" for single fish."""
    if not found.school:
        return ""
    if "wide" not in found.size:
        refuse(
            SPECIES, words, 'a school with its width, such as "bait school, 4 in, 30 ft wide, 10 ft high, top 60 ft"'
        )
    wide = found.size["wide"]
    high, long = found.size.get("high", ""), found.size.get("long", wide)
    number, unit = wide.split()
    high = high or f"{float(number) / 3:.3g} {unit}"
    return f'size = {{ along = "{long}", across = "{wide}", height = "{high}" }}\n'


def _length(part: str, found: _Words, words: str) -> bool:
    match = QUANTITY.match(part)
    if match:
        found.keys["length"] = f'"{match[1]} {match[2]}"'
        read_as(f"{match[1]} {match[2]}", SPECIES, LENGTH, words)
    return bool(match)


#: Words for the sizes of a school.
_SIDES = {"wide": "wide", "across": "wide", "high": "high", "tall": "high", "thick": "high", "long": "long"}


def _sides(part: str, found: _Words, words: str) -> bool:
    match = re.match(rf"^({NUMBER}) ?([a-z]+) ({'|'.join(_SIDES)})$", part)
    if match:
        read_as(f"{match[1]} {match[2]}", SPECIES, LENGTH, words)
        found.school = True
        found.size[_SIDES[match[3]]] = f"{match[1]} {match[2]}"
    return bool(match)


def _kind(part: str, found: _Words, words: str) -> bool:
    """Read a body plan, a word for a school, or the kind of bladder."""
    if part in catalogue.body_names():
        found.keys["body"] = f'"{part}"'
    elif part in ("school", "schools", "in a school", "in schools"):
        found.school = True
    elif part in ("no bladder", "open bladder", "closed bladder"):
        word = part.split(maxsplit=1)[0]
        found.keys["swimbladder"] = f'"{"none" if word == "no" else word}"'
    else:
        return False
    return True


#: Words for what fish stay at -> the ground of a day.
_GROUND_WORDS = {
    "wreck": "wreck", "reef": "reef", "rock": "reef", "boulder": "reef", "ledge": "ledge", "drop-off": "ledge",
    "weed": "weed", "slope": "slope", "bottom": "",
}  # fmt: skip


def _place(part: str, found: _Words, words: str) -> bool:
    """Read the place of the fish."""
    deep = re.match(r"^(?:at )?(\d.*|\..*) (?:deep|down)$", part) or re.match(r"^at (\d.*|\..*)$", part)
    off = re.match(r"^(.+) (?:off|above|over|from) (?:the )?(?:bottom|seabed|ground|(wreck|reef|ledge))$", part)
    top = re.match(rf"^(?:in the )?(?:top|upper) ({NUMBER}) ?([a-z]+)$", part)
    near = re.match(rf"^(tight to|on|in|at|near|close to|over) (?:the |a |an )?({'|'.join(_GROUND_WORDS)})s?$", part)
    middle = part in ("mid-water", "midwater", "mid water", "suspended")
    if middle:
        found.place = MIDWATER
    elif off:
        low_end, high_end = span(re.sub(r"^an? ", "1 ", off[1]), SPECIES)
        found.place = f'{"above" if off[2] else "above_bottom"} = ["{low_end}", "{high_end}"]'
        found.ground = off[2] or found.ground
    elif top:
        read_as(f"{top[1]} {top[2]}", SPECIES, LENGTH, words)
        found.place = f'depth = ["1 m", "{top[1]} {top[2]}"]'
    elif near:
        key, low, high = PLACES["near" if near[1] == "close to" else near[1] if near[1] in PLACES else "tight to"]
        found.place = f'{key} = ["{low} m", "{high} m"]'
        found.ground = _GROUND_WORDS[near[2]]
    elif deep:
        low_end, high_end = span(deep[1], SPECIES)
        found.place = f'depth = ["{low_end}", "{high_end}"]'
    return bool(middle or off or top or near or deep)


_READERS: tuple[Callable[[str, _Words, str], bool], ...] = (_length, _sides, _kind, _place)
