"""Words of the first edition: the message that names the new word, and stored texts in today's words."""

from typing import Any

from pingwright.inputs.document import tables
from pingwright.inputs.writing import toml_text

#: Old key -> new key, in any table.
KEYS = {"haze": "scattering_layer", "quarry": "species", "parted": "separated", "searched_width": "swath"}
#: Old measure -> new measure, in a claim.
MEASURES = {"parted": "separated", "parted_pair": "separated_pair", "searched_width": "swath"}
#: Tables that only a trip file holds, in either edition.
TRIP_KEYS = ("species", "quarry")
OWN_NOISE = (
    'found the old key "vessel", the level at the face; it is now "own", another quantity: the level around the hull,'
    " which the face's directivity reduces (by some 19 dB at 54 kHz and 27 dB at 170 kHz for the pencils of the"
    ' catalogue). Write own = "by speed", own = "none", or a level such as own = "54 dB"'
)


def key_message(key: str) -> str:
    """Return what to write in place of a key of the first edition, "" for any other key."""
    if key == "vessel":
        return OWN_NOISE
    return f'found the old key "{key}"; it is now "{KEYS[key]}"' if key in KEYS else ""


def measure_message(measure: object) -> str:
    """Return what to write in place of a measure of the first edition, "" for any other value."""
    if not isinstance(measure, str) or measure not in MEASURES:
        return ""
    return f'found the old measure "{measure}"; it is now "{MEASURES[measure]}"'


def translated(text: str) -> str:
    """Return a stored scenario of the first edition in today's words; any other text as it is.

    For drawing only: own noise at the face has no equal today and becomes none.
    """
    try:
        data = tables(text)
    except ValueError:
        return text
    old_noise = isinstance(data.get("noise"), dict) and "vessel" in data["noise"]
    if "haze" not in data and not old_noise:
        return text
    new: dict[str, Any] = {KEYS.get(key, key): value for key, value in data.items()}
    if old_noise:
        new["noise"] = {"own": "none"} | {key: value for key, value in new["noise"].items() if key != "vessel"}
    return toml_text(new)
