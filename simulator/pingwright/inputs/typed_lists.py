"""Lists that a question compares, typed on the command line: "100, 300, 800 ft", "drifting, 4, 20 kn", "mud, rock"."""

import re
from collections.abc import Mapping

from pingwright.inputs.typed import ADRIFT, NUMBER, SPEEDS, no_other_word, plain, read_as
from pingwright.quantities import ANGLE, LENGTH, POWER, SPEED, TIME, Dimension

#: Lists of a question, and the quantity in each; None: names.
_LISTS: dict[str, Dimension | None] = {
    "depths": LENGTH, "at": LENGTH, "powers": POWER, "pulses": TIME, "speeds": SPEED, "rolls": ANGLE,
    "elements": None, "sediments": None,
}  # fmt: skip


def ask_table(about: str, lists: Mapping[str, str]) -> str:
    """Return the table [ask] of a question and what it compares: option -> a list as typed, "100, 300, 800 ft"."""
    lines = [f'\n[ask]\nabout = "{about}"\n']
    for key, text in lists.items():
        parts = ", ".join(f'"{plain(part)}"' for part in _parts(key, text))
        lines.append(f"{key} = [{parts}]\n")
    return "".join(lines)


def deepest(text: str, key: str) -> str:
    """Return the greatest depth of a list."""
    return max(_parts(key, text), key=lambda part: read_as(part, f"--{key}", LENGTH, text))


def _parts(key: str, text: str) -> list[str]:
    """Return the values of a list; a bare number has the unit of the last one. Raises ScenarioError."""
    kind, parts = _LISTS[key], [part.strip() for part in text.split(",")]
    if kind is None:
        return [part.lower() for part in parts]  # as the names of the catalogues are written
    if kind not in (POWER, TIME):  # where kW, mW and ms need their capitals
        parts = [part.lower() for part in parts]
    unit = re.sub(rf"^{NUMBER}\s*", "", parts[-1])
    parts = [f"{part} {unit}".strip() if re.fullmatch(NUMBER, part) else part for part in parts]
    parts = [_speed(part, text) if key == "speeds" else part for part in parts]
    parts = ["0 deg" if key == "rolls" and part.lower() in ("none", "level") else part for part in parts]
    for part in parts:
        read_as(part, f"--{key}", kind, text)
    return parts


def _speed(part: str, text: str) -> str:
    """Return a speed as a quantity: at 0 m/s a question takes the boat as adrift, with the engine off."""
    word = part.lower()
    if word in ADRIFT:
        return "0 m/s"
    if word in SPEEDS:
        return f"{SPEEDS[word]!r} m/s"
    no_other_word(word, "--speeds", text)
    return part
