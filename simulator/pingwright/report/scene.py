"""Data for further figures from the scenario's text in a record: its water, and the target strength of its fish.

The text is read like any scenario; nothing is simulated and no world is built.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright import words
from pingwright.acoustics import absorption as losses
from pingwright.acoustics import fish as formulas
from pingwright.acoustics import shapes
from pingwright.echograms.record import Record
from pingwright.errors import ScenarioError
from pingwright.figures.style.view import Label
from pingwright.inputs.fields import known

if TYPE_CHECKING:
    from pingwright.inputs.bodies import Fish, School
    from pingwright.inputs.scenario import Scenario
    from pingwright.inputs.sections import Water

FloatArray = NDArray[np.float64]

#: Strength models with this prefix are measured shapes.
SHAPE = "shape-"
#: steps of depth over which absorption is averaged
STEPS = 201


def scenario(record: Record) -> "Scenario | None":
    """Return the scenario of a record with every default; None where it cannot be read."""
    from pingwright.inputs.first_edition import translated
    from pingwright.inputs.scenario import parse

    try:
        return parse(translated(record.scenario_resolved), files=record.inputs)
    except ScenarioError:
        return None


def shown(record: Record) -> tuple[words.Units, tuple[Label, ...]]:
    """Return the scenario's options for pictures: units, and labels with their places."""
    read = scenario(record)
    if read is None:
        return "m", ()
    return read.units, tuple(Label(one.text, one.at.x, one.at.y, one.at.depth) for one in read.label)


def water_name(water: "Water") -> str:
    """Return a scenario's water in words."""
    if water.profile is not None:
        return "water as profiled"
    salinity = known(water.salinity, "water.salinity")
    salt = "fresh" if salinity < 0.05 else f"salinity {salinity:.3g}"
    return f"{water.temperature:.3g} \u00b0C, {salt}".replace("-", "\u2212")


def absorption(scenario: "Scenario", top: float, frequency: FloatArray) -> FloatArray:
    """Return absorption [dB/m] (n) at frequency [Hz] (n), mean over the water from `top` [m] to the window's end.

    Francois & Garrison 1982, as in the engine; temperature and salinity are linear between the
    rows of a profile, constant beyond them.
    """
    water = scenario.water
    depth = np.linspace(top, known(scenario.window.depth, "window.depth")[1], STEPS)
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
    """Fish that echo by one law. name: in words; law: key of the models; tilt: mean and spread [deg]."""

    name: str
    law: str
    tilt: tuple[float, float]

    def strength(self, length: FloatArray, frequency: FloatArray, sound_speed: float) -> FloatArray:
        """Return tilt-averaged strength [dB re 1 m2] at the surface; lengths [m], frequencies [Hz], alike in shape.

        nan where length over wavelength is outside 1..130 for the models of Love, which are published for that.
        """
        if self.law.startswith(SHAPE):  # over the tilts of the group
            return shapes.mean_strength(self.law.removeprefix(SHAPE), length, frequency, sound_speed, self.tilt)
        level = formulas.MODELS[self.law](length, frequency, sound_speed)
        if self.law not in formulas.PEAK_MODELS:
            return level
        level = level + 10 * np.log10(formulas.tilt_average(*self.tilt))
        ratio = length * frequency / sound_speed
        return np.where((ratio >= 1) & (ratio <= 130), level, np.nan)


def kinds(scenario: "Scenario") -> tuple[Kind, ...]:
    """Return the laws of strength of a scenario's fish and schools, each once; love-1978 has none to draw."""
    result: dict[tuple[str | float, ...], Kind] = {}
    groups: tuple[Fish | School, ...] = (*scenario.fish, *scenario.school)
    for group in groups:
        model, spread = known(group.strength_model, "strength_model"), known(group.tilt, "tilt")
        law, tilt = str(model), (float(spread.mean), float(spread.sd))
        if law == "foote-1987" and group.swimbladder == "open":
            law = "foote-1987 open"
        if law not in formulas.MODELS:
            continue
        key = (law, group.swimbladder, *(tilt if law in formulas.PEAK_MODELS or law.startswith(SHAPE) else ()))
        bladder = "no bladder" if group.swimbladder == "none" else f"{group.swimbladder} bladder"
        result.setdefault(key, Kind(f"{_in_words(model)}, {bladder}", law, tilt))
    return tuple(result.values())


def _in_words(model: str) -> str:
    """Return 'Foote 1987' for foote-1987; a name without a year as it is."""
    author, _, year = model.rpartition("-")
    return f"{author.title()} {year}" if year.isdigit() else model


def named(laws: tuple[Kind, ...]) -> Mapping[str, Kind]:
    """Return laws by different names: a name that occurs twice gets its tilt."""
    names = [kind.name for kind in laws]
    return {
        kind.name if names.count(kind.name) == 1 else f"{kind.name}, tilt {kind.tilt[0]:.0f}\u00b0": kind
        for kind in laws
    }
