"""The sliders and lists of a scene, with units, bounds and an explanation of each number.

The name of a knob is the dotted key of the scenario that it sets. The browser sends the value as a text with its unit,
so the schema checks it as in a file.
"""

from collections.abc import Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from pingwright.bench import ledge
from pingwright.bench.dials import Choice, Slider, length
from pingwright.inputs import catalogue
from pingwright.units import METRES_PER_FOOT

if TYPE_CHECKING:
    from pingwright.inputs.scenario import Scenario

KNOT = 1852.0 / 3600.0  # m/s


def knobs(scenario: "Scenario", tables: Mapping[str, Any], group: int | None, feet: bool) -> dict[str, Any]:
    """Return the sliders and lists of a scenario.

    tables: as the user wrote them; group: number of the `[[fish]]` table that the answer is about, None without fish.
    """
    things = [*_of_fish(scenario, group, feet), *_of_school(scenario, feet)]
    sliders = [*things, *_of_water(scenario, tables, feet), *_of_boat(scenario)]
    choices = [*_of_ground(scenario), *_of_kind(scenario, group), ledge.choice(scenario), _own_noise(tables)]
    return {"sliders": [asdict(one) for one in sliders], "choices": [asdict(one) for one in choices]}


def whole(data: Mapping[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    """Return changes together with keys that belong to them: a roll needs a period, a boat without roll has none."""
    made = dict(changes)
    roll = made.pop("boat.roll.amplitude", None)
    if roll is not None:
        still = str(roll).split()[:1] in (["0"], ["0.0"])
        before = data.get("boat", {}).get("roll", {})
        made["boat.roll"] = None if still else {"period": "5 s"} | before | {"amplitude": roll}
    return made


def _of_fish(scenario: "Scenario", group: int | None, feet: bool) -> list[Slider]:
    if group is None:
        return []
    fish, key = scenario.fish[group], f"fish.{group + 1}"
    made = []
    for name, title, ends, why in (
        ("above_bottom", "Fish height", ((0.1, 30.0), (0.05, 10.0)),
         "Height of the fish above the ground. Low fish merge with the bottom's echo."),
        ("above", "Fish height", ((0.1, 30.0), (0.05, 10.0)),
         "Height of the fish above the highest thing there: the ground, or what stands on it."),
        ("depth", "Fish depth", ((3.0, 2000.0), (1.0, 600.0)),
         "Depth of the fish below the surface. Deeper fish echo more weakly."),
    ):  # fmt: skip
        if (span := getattr(fish.where, name)) is not None:
            value, unit = length((span[0] + span[1]) / 2, feet)
            least, most = ends[0] if feet else ends[1]
            made.append(Slider(f"{key}.where.{name}", title, unit, value, least, most, least / 2, "logarithmic", why))
    mean = fish.length.mean
    value, unit = (round(mean / METRES_PER_FOOT * 12, 1), "in") if feet else (round(mean * 100, 1), "cm")
    low, high = (2.0, 60.0) if feet else (5.0, 150.0)
    made.append(Slider(f"{key}.length", "Fish length", unit, value, low, high, 0.5, "logarithmic",
                       "Total length. A longer fish echoes louder: about 20 dB for ten times the length."))  # fmt: skip
    return made


def _of_school(scenario: "Scenario", feet: bool) -> list[Slider]:
    """Return how large the first school is."""
    if not scenario.school:
        return []
    made, low, high = [], *((1.0, 300.0) if feet else (0.3, 100.0))
    for key, name, of in (
        ("along", "length", "Length of the school along the track."),
        ("across", "width", "Width of the school across the track."),
        ("height", "height", "Height of the school from its foot to its top."),
    ):
        value, unit = length(getattr(scenario.school[0].size, key), feet)
        why = f"{of} With the same number of fish in a cubic metre, a larger school has more fish."
        made.append(Slider(f"school.1.size.{key}", f"School {name}", unit, value, low, high, 1.0, "logarithmic", why,
                           more=key != "along"))  # fmt: skip
    return made


def _of_water(scenario: "Scenario", tables: Mapping[str, Any], feet: bool) -> list[Slider]:
    made = ledge.sliders(scenario, feet)
    if "depth" in tables.get("seabed", {}) and scenario.seabed.depth is not None:
        value, unit = length(scenario.seabed.depth, feet)
        low, high = (10.0, 2000.0) if feet else (3.0, 600.0)
        made.append(Slider("seabed.depth", "Depth", unit, value, low, high, 1.0, "logarithmic",
                           "Depth of the seabed at the origin. Sound spreads and is absorbed on the way"
                           " down and up."))  # fmt: skip
        for way, why in (
            ("across", "Positive: deeper to starboard. A wide beam receives the upper side first."),
            ("along", "Positive: deeper ahead. A wide beam receives the upper side first."),
        ):
            tilt = round(getattr(scenario.seabed.slope, way), 1)
            made.append(Slider(f"seabed.slope.{way}", f"Slope {way}", "deg", tilt, -25.0, 25.0, 0.5, "even", why,
                               more=True))  # fmt: skip
    wind = round(scenario.water.wind / KNOT, 1)
    made.append(Slider("water.wind", "Wind", "kn", wind, 0.0, 40.0, 1.0, "even",
                       "Wind makes noise. From about 12 kn it also makes bubbles, which absorb sound."))  # fmt: skip
    return made


def _of_boat(scenario: "Scenario") -> list[Slider]:
    speed, roll = scenario.boat.speed / KNOT, scenario.boat.roll
    made = [Slider("boat.speed", "Speed", "kn", round(speed, 1), 0.5, 20.0, 0.5, "even",
                   "Of the boat. Faster: fewer pings on each fish and more own noise.")]  # fmt: skip
    made.append(Slider("boat.roll.amplitude", "Roll", "deg", round(roll.amplitude, 1) if roll else 0.0, 0.0, 25.0, 1.0,
                       "even", "Largest angle to each side. The beam moves with the boat."))  # fmt: skip
    return made


def _of_ground(scenario: "Scenario") -> list[Choice]:
    names = tuple(catalogue.sediment_names())
    top = str(scenario.seabed.layer[0].sediment)
    return [Choice("seabed.layer.1.sediment", "Bottom", top, names, names, "What the seabed's top layer is made of.")]


def _of_kind(scenario: "Scenario", group: int | None) -> list[Choice]:
    if group is None:
        return []
    kind = str(scenario.fish[group].swimbladder)
    return [Choice(f"fish.{group + 1}.swimbladder", "Fish", kind, ("closed", "open", "none"),
                   ("closed swim bladder", "open swim bladder", "no swim bladder"),
                   "A swim bladder returns most of a fish's echo; without one it is 10 to 15 dB weaker.")]  # fmt: skip


def _own_noise(tables: Mapping[str, Any]) -> Choice:
    value = tables.get("noise", {}).get("own", "by speed")
    values = ["by speed", "none", "44 dB", "54 dB", "64 dB", "74 dB"]
    if str(value) not in values:
        values.append(str(value))
    names = tuple(v if v in {"by speed", "none"} else f"{v} at 50 kHz" for v in values)
    return Choice("noise.own", "Own noise", str(value), tuple(values), names,
                  "Noise level around the hull of the boat, dB re 1 uPa2/Hz at 50 kHz (by speed: assumed)."
                  " 10 dB more cost each element a good part of its depth.", more=True)  # fmt: skip
