"""The knobs of one element: an entry of the catalogue or a band, beam, power and pulse of the user's own.

Some names of knobs are no keys of a scenario: `element.1.beam` sets the face that has that beam, and
`element.1.pulse_kind` sets the pulse. `whole` makes scenario keys of them.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np

from pingwright.acoustics.beam import piston_wavenumber_radius
from pingwright.bench.dials import Choice, Slider
from pingwright.errors import Fault, ScenarioError
from pingwright.inputs import catalogue
from pingwright.quantities import ANGLE, FREQUENCY, QuantityError, read

if TYPE_CHECKING:
    from pingwright.echograms.record import ElementInfo
    from pingwright.inputs.elements import Element
    from pingwright.inputs.scenario import Scenario

#: Beams that one can set [deg]; a flat face of one's own has no wider one that is useful.
NARROWEST, WIDEST = 2.0, 90.0
#: Widths this close [deg] make a disc, others an ellipse.
ROUND = 0.05
_KEY = re.compile(r"element\.(\d+)\.(beam|band|pulse_kind)")


def elements(scenario: "Scenario", tables: Mapping[str, Any], infos: "Sequence[ElementInfo]") -> list[dict[str, Any]]:
    """Return what can be changed in each element: number, name, catalogue entry, sliders and lists.

    infos: the elements of the recording that is shown, whose beams and pulses are the present ones.
    """
    made = []
    rows = zip(scenario.element, tables.get("element", []), infos, strict=True)
    for number, (spec, table, info) in enumerate(rows, 1):
        key = f"element.{number}"
        power, pulse = _drive(key, spec, info)
        sliders = [*_band(key, spec), power, *_beam(key, info), pulse]
        made.append({
            "number": number,
            "name": spec.name,
            "use": str(table.get("use", "")),
            "sliders": [asdict(one) for one in sliders],
            "choices": [asdict(_pulse(key, spec))],
        })  # fmt: skip
    return made


def _band(key: str, spec: "Element") -> list[Slider]:
    both = spec.band
    pair = tuple(f"{f / 1e3:g} kHz" for f in both)
    ways = (("Band from", "Lowest"), ("Band to", "Highest"))
    why = (
        "{} frequency of the chirp. A wider band gives finer echoes; a higher one is absorbed more. The face stays as"
        " it is, so its beam narrows as the band rises."
    )
    return [
        Slider(f"{key}.band", name, "kHz", round(f / 1e3, 1), 10.0, 1000.0, 1.0, "logarithmic", why.format(which),
               place=place, pair=pair)
        for place, ((name, which), f) in enumerate(zip(ways, both, strict=True))
    ]  # fmt: skip


def _beam(key: str, info: "ElementInfo") -> list[Slider]:
    both = (info.beamwidth_along, info.beamwidth_across)
    pair = tuple(f"{min(max(width, NARROWEST), WIDEST):.4g} deg" for width in both)
    why = (
        "Full width of the beam {} the track between its one-way -3 dB directions, in the middle of the band. A change"
        " gives the element a flat face of that beam: a disc if both widths are equal, else an ellipse."
    )
    return [
        Slider(f"{key}.beam", f"Beam {way}", "deg", round(width, 1), NARROWEST, WIDEST, 0.5, "logarithmic",
               why.format(way), place=place, pair=pair)
        for place, (way, width) in enumerate(zip(("along", "across"), both, strict=True))
    ]  # fmt: skip


def _drive(key: str, spec: "Element", info: "ElementInfo") -> list[Slider]:
    length = float(f"{1e3 * info.pulse_length:.3g}")
    note = "" if spec.pulse.length is not None else " Now it follows the depth."
    return [
        Slider(f"{key}.power", "Power", "W", float(spec.power), 50.0, 5000.0, 50.0, "logarithmic",
               "Electrical power while the element sends. Four times the power is 6 dB more; high bands lose some of it"
               " to harmonics."),
        Slider(f"{key}.pulse.length", "Pulse", "ms", length, 0.05, 10.0, 0.05, "logarithmic",
               "How long the element sends. A longer chirp is heard deeper and is as fine; a longer tone is coarser."
               " Nothing is seen while it sends." + note),
    ]  # fmt: skip


def _pulse(key: str, spec: "Element") -> Choice:
    kind = "chirp" if spec.pulse.tone is None else "tone"
    return Choice(f"{key}.pulse_kind", "Chirp or tone", kind, ("chirp", "tone"), ("chirp", "tone"),
                  "A chirp runs through the whole band, a tone keeps to its middle. Its length goes back to the one for"
                  " the depth.")  # fmt: skip


def entries() -> list[dict[str, str]]:
    """Return the catalogue's elements: name and what it is."""
    return [{"use": name, "name": name.replace("-", " ")} for name in catalogue.element_names()]


def whole(changes: Mapping[str, Any], present: "Callable[[], Scenario]") -> dict[str, Any]:
    """Return changes with keys of elements as scenario keys.

    A beam becomes a face, a kind of pulse a pulse, and a tone moves to the middle of a changed band. present: returns
    the scenario before the change. Raises ScenarioError for a value that is no beam, band or kind, or of an element
    that does not exist.
    """
    made: dict[str, Any] = {}
    for path, value in changes.items():
        if (found := _KEY.fullmatch(path)) is None:
            made[path] = value
            continue
        number, kind, scenario = int(found[1]), found[2], present()
        if not 1 <= number <= len(scenario.element):
            raise ScenarioError([Fault("bench", 0, path, f"allowed: element.1 to element.{len(scenario.element)}")])
        key, spec = f"element.{number}", scenario.element[number - 1]
        if kind == "beam":
            made[f"{key}.face"] = _face(path, value, spec, scenario)
        elif kind == "pulse_kind":
            made[f"{key}.pulse"] = {"tone": _tone(*spec.band)} if value == "tone" else None
        else:
            made[path] = value
            if spec.pulse.tone is not None:
                made[f"{key}.pulse.tone"] = _tone(*_two(path, value, FREQUENCY))
    return made


def _tone(low: float, high: float) -> str:
    return f"{(low + high) / 2e3:g} kHz"


def _face(path: str, value: Any, spec: "Element", scenario: "Scenario") -> dict[str, str]:
    """Return the flat face whose main lobe is that wide along and across in the middle of the band."""
    from pingwright.world.build import water_of
    from pingwright.world.resolve import resolve

    widths = np.array(_two(path, value, ANGLE))
    if not np.all((widths >= NARROWEST) & (widths <= WIDEST)):
        raise ScenarioError([Fault("bench", 0, path, f"found {value}; allowed: {NARROWEST:g} to {WIDEST:g} deg")])
    speed = water_of(resolve(scenario)).surface_sound_speed
    diameter = piston_wavenumber_radius(widths) * speed / (np.pi * sum(spec.band) / 2)
    along, across = (f"{1e3 * size:.4g} mm" for size in diameter)
    if abs(widths[0] - widths[1]) < ROUND:
        return {"shape": "disc", "diameter": along}
    return {"shape": "ellipse", "along": along, "across": across}


def _two(path: str, value: Any, dimension: Any) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:  # noqa: PLR2004  two ends, two widths
        raise ScenarioError([Fault("bench", 0, path, "found no list of two values")])
    try:
        first, second = (read(one, dimension) for one in value)
    except QuantityError as error:
        raise ScenarioError([Fault("bench", 0, path, str(error))]) from None
    return first, second
