"""The catalogues: elements, sediments, materials, body plans and the words a scenario may choose from.

The data files beside this module name the source of every number, or say that it is assumed.
"""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import MISSING, asdict, dataclass, fields
from functools import lru_cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, TypeVar


@dataclass(frozen=True)
class ElementEntry:
    """An element of the catalogue: its class (pencil, cone, fan), use, source, and the scenario keys that it sets."""

    name: str
    kind: str
    good_for: str
    source: str
    keys: Mapping[str, Any]


@dataclass(frozen=True)
class SedimentEntry:
    """A sediment relative to the water above it.

    grain_size [phi] or None; density_ratio, speed_ratio, loss [1]; attenuation [dB/m/kHz]; roughness_w2 [cm4],
    roughness_exponent, volume_parameter [1]; lambert_floor_db [dB] or None; slope_rms_deg [deg];
    extrapolated_above [Hz]: beyond the published range of its formulas.
    """

    name: str
    density_ratio: float
    speed_ratio: float
    loss: float
    attenuation: float
    roughness_w2: float
    roughness_exponent: float
    volume_parameter: float
    slope_rms_deg: float
    extrapolated_above: float
    source: str
    grain_size: float | None = None
    lambert_floor_db: float | None = None


@dataclass(frozen=True)
class MaterialEntry:
    """A structure's material: density [kg/m3], sound_speed [m/s], reflection [1], rms slope of its surface [deg]."""

    name: str
    density: float
    sound_speed: float
    reflection: float
    slope_rms_deg: float
    source: str


@dataclass(frozen=True)
class SphereEntry:
    """A metal: density [kg/m3], compressional_speed, shear_speed [m/s]."""

    name: str
    density: float
    compressional_speed: float
    shear_speed: float
    source: str


@dataclass(frozen=True)
class BodyEntry:
    """A body plan: its regression in words, source, and the scenario keys that it sets."""

    name: str
    regression: str
    source: str
    keys: Mapping[str, Any]


@dataclass(frozen=True)
class WordEntry:
    """A word and what it means, with its source."""

    name: str
    about: Mapping[str, str]


@lru_cache(maxsize=8)
def _tables(name: str) -> Mapping[str, Any]:
    text = files("pingwright.inputs").joinpath("catalogues", f"{name}.toml").read_text(encoding="utf-8")
    return MappingProxyType(tomllib.loads(text))


Entry = TypeVar("Entry", SedimentEntry, MaterialEntry, SphereEntry)


def _shelf(kind: type[Entry], file: str) -> dict[str, Entry]:
    """Return the entries of a catalogue's file by name; ValueError names the entry and its missing or unknown keys."""
    known = {field.name: field.default is not MISSING for field in fields(kind) if field.name != "name"}
    for name, row in _tables(file).items():
        missing = [key for key, has_default in known.items() if key not in row and not has_default]
        unknown = [key for key in row if key not in known]
        if missing or unknown:
            message = f"{file}.toml, entry {name!r}: missing keys {missing}, unknown keys {unknown}"
            raise ValueError(message)
    return {name: kind(name=name, **row) for name, row in _tables(file).items()}


def elements() -> dict[str, ElementEntry]:
    """Return the elements by name."""
    return {
        name: ElementEntry(name, row["class"], row["good_for"], row["source"], row["keys"])
        for name, row in _tables("elements").items()
    }


def sediments() -> dict[str, SedimentEntry]:
    """Return the sediments by name, hard to soft."""
    return _shelf(SedimentEntry, "sediments")


def materials() -> dict[str, MaterialEntry]:
    """Return the materials of structures by name."""
    return _shelf(MaterialEntry, "materials")


def spheres() -> dict[str, SphereEntry]:
    """Return the metals of spheres by name."""
    return _shelf(SphereEntry, "spheres")


def fish() -> dict[str, BodyEntry]:
    """Return the body plans by name."""
    return {
        name: BodyEntry(name, row["regression"], row["source"], row["keys"]) for name, row in _tables("fish").items()
    }


def words(group: str) -> dict[str, WordEntry]:
    """Return the words of one group: strength_models, scattering layer, weightings, shadings."""
    return {name: WordEntry(name, row) for name, row in _tables("words")[group].items()}


_GROUPS = ("strength_models", "scattering_layer", "weightings", "shadings")


def names() -> tuple[str, ...]:
    """Return the names of the catalogues that can be listed."""
    return ("elements", "sediments", "fish", "materials", "spheres", *_GROUPS)


def of(name: str) -> dict[str, dict[str, Any]]:
    """Return one catalogue as plain rows by entry: what `list` shows. KeyError for an unknown catalogue."""
    if name in _GROUPS:
        return {key: dict(entry.about) for key, entry in words(name).items()}
    shelves: dict[str, Callable[[], Mapping[str, Any]]] = {
        "elements": elements,
        "sediments": sediments,
        "fish": fish,
        "materials": materials,
        "spheres": spheres,
    }
    return {key: _row(asdict(entry)) for key, entry in shelves[name]().items()}


def _row(entry: dict[str, Any]) -> dict[str, Any]:
    """Return an entry with the scenario keys that it sets beside its own, the source last."""
    keys = {("class" if key == "kind" else key): value for key, value in entry.items() if key != "name"}
    inner = dict(keys.pop("keys", {}))
    source = keys.pop("source")
    return {**keys, **inner, "source": source}


def element_names() -> tuple[str, ...]:
    """Return the names of the elements."""
    return tuple(_tables("elements"))


def sediment_names() -> tuple[str, ...]:
    """Return the names of the sediments."""
    return tuple(_tables("sediments"))


def material_names() -> tuple[str, ...]:
    """Return the names of the materials."""
    return tuple(_tables("materials"))


def sphere_names() -> tuple[str, ...]:
    """Return the names of the metals of spheres."""
    return tuple(_tables("spheres"))


def body_names() -> tuple[str, ...]:
    """Return the names of the body plans."""
    return tuple(_tables("fish"))


def scattering_layer_names() -> tuple[str, ...]:
    """Return the kinds of scattering layer."""
    return tuple(_tables("words")["scattering_layer"])


def strength_model_names() -> tuple[str, ...]:
    """Return the names of the strength models."""
    return tuple(_tables("words")["strength_models"])
