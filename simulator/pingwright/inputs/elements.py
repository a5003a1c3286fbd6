"""Elements: band, pulse, power, face and tilt; with `use`, they start from a catalogue entry."""

from collections.abc import Mapping
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, model_validator

from pingwright.inputs import catalogue
from pingwright.inputs.faces import Face, Table
from pingwright.inputs.fields import Flag, Fraction, Name, Quantity, Section, Tilt, Whole, choice_of
from pingwright.inputs.lists import Span
from pingwright.quantities import FREQUENCY, LEVEL, POWER, RATIO, TIME, show

NARROWEST = 1e3  # Hz: narrowest band of a chirp; below it, the echo would be too long for any depth
Weighting = Literal["none", "tukey", "hann", "hamming", "blackman", "taylor"]


def _kind(value: object) -> object:
    """Fill in the kind of a pulse: a tone if it has one, else a chirp."""
    if isinstance(value, Mapping) and "kind" not in value:
        return {"kind": "tone" if "tone" in value else "chirp", **value}
    return value


class Pulse(Section):
    """A chirp over the band, or a tone [Hz]; length [s] (None: by depth), taper of the ends [1], direction."""

    kind: Literal["chirp", "tone"] = "chirp"
    length: Annotated[float, Quantity(TIME, 10e-6, 0.1)] | None = None
    taper: Fraction = 0.5
    tone: Annotated[float, Quantity(FREQUENCY, 10e3, 1e6)] | None = None
    direction: Literal["up", "down"] = "up"

    @model_validator(mode="after")
    def _tone_or_not(self) -> Self:
        if (self.kind == "tone") != (self.tone is not None):
            result = "kind tone without a tone" if self.tone is None else "a tone in a chirp"
            message = f'found {result}; allowed: {{ tone = "200 kHz", length = "0.2 ms" }} or no tone'
            raise ValueError(message)
        return self


class Element(Section):
    """One element: band [Hz], power [W, electrical], efficiency [1], tilt [deg].

    filter: "equalised" divides the replica's ripple out before the weighting. finite_amplitude: loud sound loses some
    of its level to harmonics (nonlinear loss).
    Off by default (None): edge_loss [dB at the band's edges], noise_figure [dB], saturation [dB re 1 uPa at the face],
    word_length [bits]; cavitation_limit caps the source level at the cavitation threshold; receive_efficiency [1] below
    1 raises thermal noise at the face.
    """

    name: Name
    use: Annotated[str, choice_of(catalogue.element_names, "elements")] | None = None
    band: Annotated[tuple[float, float], Span(FREQUENCY, 10e3, 1e6)]
    pulse: Annotated[Pulse, BeforeValidator(_kind)] = Pulse()
    weighting: Weighting = "hann"
    filter: Literal["matched", "equalised"] = "matched"
    power: Annotated[float, Quantity(POWER, 0.1, 100e3, (5.0, 100e3))]
    efficiency: Annotated[float, Quantity(RATIO, 0.001, 1.0)] = 0.5
    face: Face
    tilt: Tilt = Tilt()
    edge_loss: Annotated[float, Quantity(LEVEL, 0.0, 40.0)] | None = None
    noise_figure: Annotated[float, Quantity(LEVEL, 0.0, 60.0)] | None = None
    saturation: Annotated[float, Quantity(LEVEL, 60.0, 260.0)] | None = None
    word_length: Annotated[int, Whole(4, 32)] | None = None
    cavitation_limit: Flag = False
    finite_amplitude: Flag = True
    receive_efficiency: Annotated[float, Quantity(RATIO, 0.001, 1.0)] = 1.0

    @model_validator(mode="after")
    def _fits_band(self) -> Self:
        low, high = self.band
        if self.pulse.tone is None and high - low < NARROWEST:
            message = (
                f"found a band of {show(high - low, FREQUENCY)}; allowed: at least {show(NARROWEST, FREQUENCY)} for a"
                ' chirp; a single frequency is pulse = { tone = "200 kHz" }'
            )
            raise ValueError(message)
        span = f"{show(low, FREQUENCY)} to {show(high, FREQUENCY)}"
        if self.pulse.tone is not None and not low <= self.pulse.tone <= high:
            message = f"found the tone {show(self.pulse.tone, FREQUENCY)}; allowed: within the band, {span}"
            raise ValueError(message)
        if isinstance(self.face, Table):
            known = self.face.pattern.frequency
            if known[0] > low or known[-1] < high:
                text = f"{show(known[0], FREQUENCY)} to {show(known[-1], FREQUENCY)}"
                message = f"found a pattern table from {text}; allowed: all of the band, {span}"
                raise ValueError(message)
        return self


def merged(element: object) -> object:
    """Return an element's table with the catalogue entry of `use` under the keys given."""
    if not isinstance(element, dict):
        return element
    entry: Any = catalogue.elements().get(element["use"]) if isinstance(element.get("use"), str) else None
    return {**entry.keys, **element} if entry is not None else element


def from_catalogue(name: str) -> Element:
    """Return a catalogue entry as an element of the same name; KeyError for an unknown one."""
    entry = catalogue.elements()[name]
    return Element.model_validate({"name": name, "use": name, **entry.keys})
