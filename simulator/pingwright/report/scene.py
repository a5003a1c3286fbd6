"""Data for further figures from the scenario's text in a record: its water, and the target strength of its fish.

The text is read like any scenario; nothing is simulated and no world is built.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pingwright import words
from pingwright.acoustics import absorption as losses
from pingwright.acoustics import fish as formulas
from pingwright.acoustics import shapes
from pingwright.echograms.record import Record
from pingwright.errors import ScenarioError
from pingwright.figures.style.view import Label

FloatArray = NDArray[np.float64]

#: Strength models with this prefix are measured shapes.
SHAPE = "shape-"
#: steps of depth over which absorption is averaged
STEPS = 201


def scenario(record: Record) -> Any | None:
    """Return the scenario of a record with every default (inputs.scenario.Scenario); None where it cannot be read."""
    from pingwright.inputs.first_edition import translated
    from pingwright.inputs.scenario import parse

    try:
        return parse(translated(record.scenario_resolved), files=record.inputs)
    except ScenarioError:
        return None


def shown(record: Record) -> tuple[words.Units, tuple[Label, ...]]:
    """Return the scenario's options for pictures: units, and labels with their places."""
    known = scenario(record)
    if known is None:
        return "m", ()
    return known.units, tuple(Label(one.text, one.at.x, one.at.y, one.at.depth) for one in known.label)


def water_name(water: Any) -> str:
    """Return a scenario's water in words."""
    if water.profile is not None:
        return "water as profiled"
    salt = "fresh" if water.salinity < 0.05 else f"salinity {water.salinity:.3g}"
    return f"{water.temperature:.3g} \u00b0C, {salt}".replace("-", "\u2212")


def absorption(known: Any, top: float, frequency: FloatArray) -> FloatArray:
    """Return absorption [dB/m] (n) at frequency [Hz] (n), mean over the water from `top` [m] to the window's end.

    known: of `scenario`. Francois & Garrison 1982, as in the engine; temperature and salinity are linear between the
    rows of a profile, constant beyond them.
    """
    water = known.water
    depth = np.linspace(top, known.window.depth[1], STEPS)
    if water.profile is None:
        temperature, salinity = np.full(STEPS, water.temperature), np.full(STEPS, water.salinity)
    else:
        rows = water.profile
        temperature = np.interp(depth, rows.depth, rows.temperature)
        salinity = np.interp(depth, rows.depth, rows.salinity)
    columns = (temperature[:, None], salinity[:, None], depth[:, None], float(water.acidity))
    table = np.asarray(losses.francois_garrison(frequency[None], *columns))
    return np.asarray((table[1:] + table[:-1]).mean(axis=0) / 2)


@dataclass(frozen=True)
class Kind:
    """Fish that echo by one law. name: in words; group: of the scenario that stands for it; law: key of the models."""

    name: str
    group: Any
    law: str

    def strength(self, length: FloatArray, frequency: FloatArray, sound_speed: float) -> FloatArray:
        """Return tilt-averaged strength [dB re 1 m2] at the surface; lengths [m], frequencies [Hz], alike in shape.

        nan where length over wavelength is outside 1..130 for the models of Love, which are published for that.
        """
        if self.law.startswith(SHAPE):  # over the tilts of the group
            tilts = float(self.group.tilt.mean), float(self.group.tilt.sd)
            return shapes.mean_strength(self.law.removeprefix(SHAPE), length, frequency, sound_speed, tilts)
        level = formulas.MODELS[self.law](length, frequency, sound_speed)
        if self.law not in formulas.PEAK_MODELS:
            return level
        tilt = self.group.tilt
        level = level + 10 * np.log10(formulas.tilt_average(float(tilt.mean), float(tilt.sd)))
        ratio = length * frequency / sound_speed
        return np.where((ratio >= 1) & (ratio <= 130), level, np.nan)


def kinds(known: Any) -> tuple[Kind, ...]:
    """Return the laws of strength of a scenario's fish and schools, each once; love-1978 has none to draw."""
    result: dict[tuple[Any, ...], Kind] = {}
    for group in (*known.fish, *known.school):
        law = group.strength_model
        if law == "foote-1987" and group.swimbladder == "open":
            law = "foote-1987 open"
        if law not in formulas.MODELS:
            continue
        tilt = (
            (float(group.tilt.mean), float(group.tilt.sd))
            if law in formulas.PEAK_MODELS or law.startswith(SHAPE)
            else ()
        )
        key = (law, group.swimbladder, *tilt)
        bladder = "no bladder" if group.swimbladder == "none" else f"{group.swimbladder} bladder"
        result.setdefault(key, Kind(f"{_in_words(group.strength_model)}, {bladder}", group, law))
    return tuple(result.values())


def _in_words(model: str) -> str:
    """Return 'Foote 1987' for foote-1987; a name without a year as it is."""
    author, _, year = model.rpartition("-")
    return f"{author.title()} {year}" if year.isdigit() else model


def named(laws: tuple[Kind, ...]) -> Mapping[str, Kind]:
    """Return laws by different names: a name that occurs twice gets its tilt."""
    names = [kind.name for kind in laws]
    return {
        kind.name if names.count(kind.name) == 1 else f"{kind.name}, tilt {kind.group.tilt.mean:.0f}\u00b0": kind
        for kind in laws
    }
