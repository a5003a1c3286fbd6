"""list: the contents of the catalogues, as text for people and as plain data for programs."""

import math
import textwrap
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pingwright.errors import Fault, ScenarioError

# These come last, each on its own lines.
LAST = ("valid", "source")
#: Lists of keys, shown only by name, and the kind of file with these keys.
KEYS = {"keys": "scenario", "claims_keys": "claims", "trip_keys": "trip", "sweep_keys": "sweep"}
#: Units of numbers without a unit in the catalogues, and clearer words for some keys.
UNITS = {
    "attenuation": "dB/m/kHz",
    "roughness_w2": "cm4",
    "slope_rms": "deg",
    "extrapolated_above": "Hz",
    "grain_size": "phi",
    "lambert_floor": "dB",
    "density": "kg/m3",
    "sound_speed": "m/s",
    "compressional_speed": "m/s",
    "shear_speed": "m/s",
}
# These are only for programs: the text shows them in another form.
NUMBERS = "numbers"


@dataclass(frozen=True)
class Shelf:
    """One catalogue. entries: name -> its values, as JSON may hold them."""

    name: str
    entries: Mapping[str, Mapping[str, Any]]

    def lines(self, width: int) -> list[str]:
        """Return it as lines of text of at most `width` characters: a line for the name, then its values."""
        lines = [f"{self.name}:", ""]
        for entry, values in self.entries.items():
            lines.append(f"  {entry}")
            short = [(key, value) for key, value in values.items() if key not in (*LAST, NUMBERS)]
            figures = [_figure(key, value) for key, value in short if isinstance(value, int | float)]
            paragraphs = [f"{_said(key)}: {_text(value)}" for key, value in short if not isinstance(value, int | float)]
            paragraphs += ["; ".join(figures)] if figures else []
            paragraphs += [f"{key}: {_text(values[key])}" for key in LAST if key in values]
            for paragraph in paragraphs:
                lines += textwrap.wrap(paragraph, max(width, 40), initial_indent=" " * 6, subsequent_indent=" " * 8)
            lines.append("")
        return lines


def shelves(name: str | None = None, units: str = "m") -> tuple[Shelf, ...]:
    """Return one catalogue, all of them, or the keys of a kind of file.

    units: "m", "ft" or "fathoms", of depths and lengths that are computed. Raises ScenarioError for an unknown name,
    with the nearest known one.
    """
    import difflib

    from pingwright.inputs import catalogue, keys

    names = catalogue.names()
    if name in KEYS:
        return (Shelf(name, keys.described(KEYS[name])),)
    if name is not None and name not in names:
        near = difflib.get_close_matches(name, (*names, *KEYS), n=1)
        hint = f"; did you mean {near[0]}?" if near else ""
        message = f"unknown catalogue {name!r}; available: {', '.join((*names, *KEYS))}{hint}"
        raise ScenarioError([Fault("list", 0, "", message)])
    needed = names if name is None else (name,)
    shown = []
    for one in needed:
        rows, more = catalogue.of(one), _worked_out(one, units)
        shown.append(Shelf(one, {entry: plain({**more.get(entry, {}), **row}) for entry, row in rows.items()}))
    return tuple(shown)


def _worked_out(name: str, units: str) -> Mapping[str, Mapping[str, Any]]:
    """Return computed values of a catalogue's entries: beams, source level and detection range of the elements."""
    if name != "elements":
        return {}
    from pingwright.element import describe

    return describe.listed(units)


def plain(value: Any) -> Any:
    """Return an entry as JSON may hold it: models and tuples as dicts and lists, numbers not finite as None."""
    if hasattr(value, "model_dump"):
        value = value.model_dump()
    if isinstance(value, Mapping):
        return {str(key): plain(one) for key, one in value.items() if one is not None}
    if isinstance(value, list | tuple):
        return [plain(one) for one in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def _figure(key: str, value: float) -> str:
    name = key.removesuffix("_deg").removesuffix("_db")
    return f"{_said(name)} {_text(value)} {UNITS.get(name, '')}".rstrip()


def _said(key: str) -> str:
    return key.replace("_", " ")


def _text(value: Any) -> str:
    if isinstance(value, Mapping):
        return ", ".join(f"{_said(key)} {_text(one)}" for key, one in value.items())
    if isinstance(value, list):
        return " to ".join(_text(one) for one in value) if len(value) == 2 else ", ".join(_text(one) for one in value)
    return f"{value:.6g}" if isinstance(value, float) else str(value)
