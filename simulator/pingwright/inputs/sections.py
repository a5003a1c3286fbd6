"""Sections of a scenario around the elements: water, boat, window, seabed, noise, reverberation."""

from typing import Annotated, Self

from pydantic import BeforeValidator, Field, ValidationInfo, model_validator

from pingwright.inputs.attach import BY_NAME, FILE_SCHEMA, content
from pingwright.inputs.catalogue import sediment_names
from pingwright.inputs.fields import (
    Depths,
    Flag,
    Heading,
    Pace,
    Place1,
    Quantity,
    Section,
    Text,
    Tilt,
    Whole,
    choice_of,
)
from pingwright.inputs.tables import read_grid, read_profile
from pingwright.quantities import ANGLE, LENGTH, LEVEL, RATIO, SALINITY, SPEED, TEMPERATURE, TIME, kind_of_value

MOST_PINGS = 200_000


class Profile(Section):
    """Temperature [degC] and salinity [g/kg] over depth [m], from a file."""

    file: Annotated[str, Text(255)]
    depth: tuple[float, ...]
    temperature: tuple[float, ...]
    salinity: tuple[float, ...]


def _profile(value: object, info: ValidationInfo) -> object:
    if isinstance(value, Profile):
        return value
    if not isinstance(value, str):
        message = f"found {kind_of_value(value)}; allowed: the name of a file"
        raise ValueError(message)
    depth, temperature, salinity = read_profile(content(value, info), value)
    return {"file": value, "depth": depth, "temperature": temperature, "salinity": salinity}


class Water(Section):
    """The water: one temperature [degC] and salinity [g/kg], or a profile; wind and assumed_sound_speed [m/s]."""

    temperature: Annotated[float, Quantity(TEMPERATURE, -2.0, 40.0)] | None = None
    salinity: Annotated[float, Quantity(SALINITY, 0.0, 45.0)] | None = None
    profile: Annotated[Profile, BeforeValidator(_profile), BY_NAME, FILE_SCHEMA] | None = None
    acidity: Annotated[float, Quantity(RATIO, 5.0, 9.0)] = 8.0
    wind: Annotated[float, Quantity(SPEED, 0.0, 30.0)] = 0.0
    assumed_sound_speed: Annotated[float, Quantity(SPEED, 1350.0, 1650.0)] | None = None

    @model_validator(mode="after")
    def _one_source(self) -> Self:
        given = [key for key in ("temperature", "salinity") if getattr(self, key) is not None]
        if self.profile is None and len(given) < 2:
            missing = " and ".join(key for key in ("temperature", "salinity") if key not in given)
            message = f"{missing} missing; allowed: temperature and salinity, or a profile"
            raise ValueError(message)
        if self.profile is not None and given:
            message = f"found a profile and {' and '.join(given)}; allowed: one or the other"
            raise ValueError(message)
        return self


class AngularMotion(Section):
    """Roll or pitch: amplitude [deg], period [s], phase [deg] at the start."""

    amplitude: Annotated[float, Quantity(ANGLE, 0.0, 45.0)]
    period: Annotated[float, Quantity(TIME, 0.5, 60.0)]
    phase: Heading = 0.0


class HeaveMotion(Section):
    """Heave: amplitude [m], period [s], phase [deg] at the start."""

    amplitude: Annotated[float, Quantity(LENGTH, 0.0, 10.0)]
    period: Annotated[float, Quantity(TIME, 0.5, 60.0)]
    phase: Heading = 0.0


def _auto(value: object) -> object:
    return None if value == "auto" else value


class Boat(Section):
    """The run: speed [m/s], start and length [m] along x, pings, ping_interval [s] (None: auto), motion."""

    speed: Pace = 3.0 * 1852.0 / 3600.0
    start: Place1 = -50.0
    length: Annotated[float, Quantity(LENGTH, 0.1, 200_000.0)] = 100.0
    pings: Annotated[int, Whole(1, MOST_PINGS)] | None = None
    ping_interval: Annotated[Annotated[float, Quantity(TIME, 1e-3, 60.0)] | None, BeforeValidator(_auto)] = None
    transducer_depth: Annotated[float, Quantity(LENGTH, 0.0, 50.0)] = 0.0
    roll: AngularMotion | None = None
    pitch: AngularMotion | None = None
    heave: HeaveMotion | None = None
    in_turn: Flag = False

    @model_validator(mode="after")
    def _ends(self) -> Self:
        if self.speed == 0.0 and self.pings is None:
            message = "found speed 0 without pings; allowed: an anchored boat says how often it pings, as pings = 50"
            raise ValueError(message)
        return self


class Window(Section):
    """What is shown: depth [m] from, to."""

    depth: Depths | None = None


class Grid(Section):
    """A gridded bottom from a file: x (n), y (m) [m] rising, depth [m] (m, n)."""

    file: Annotated[str, Text(255)]
    x: tuple[float, ...]
    y: tuple[float, ...]
    depth: tuple[tuple[float, ...], ...]


def _grid(value: object, info: ValidationInfo) -> object:
    if isinstance(value, Grid):
        return value
    if not isinstance(value, str):
        message = f"found {kind_of_value(value)}; allowed: the name of a file"
        raise ValueError(message)
    x, y, depth = read_grid(content(value, info), value)
    return {"file": value, "x": x, "y": y, "depth": depth}


class Relief(Section):
    """Sand waves or bumps: height [m] from trough to crest, wavelength [m], heading [deg] of the crests' normal."""

    height: Annotated[float, Quantity(LENGTH, 0.0, 50.0)]
    wavelength: Annotated[float, Quantity(LENGTH, 0.1, 10_000.0)]
    heading: Heading = 0.0


class Layer(Section):
    """One layer of the seabed: a sediment of the catalogue, and its thickness [m] (None: the last)."""

    sediment: Annotated[str, choice_of(sediment_names, "sediments")]
    thickness: Annotated[float, Quantity(LENGTH, 0.01, 100.0)] | None = None


class Seabed(Section):
    """The seabed: depth [m] at the origin or a grid, slope [deg], relief, layers from the top down."""

    depth: Annotated[float, Quantity(LENGTH, 0.3, 3000.0)] | None = None
    grid: Annotated[Grid, BeforeValidator(_grid), BY_NAME, FILE_SCHEMA] | None = None
    slope: Tilt = Tilt()
    relief: Relief | None = None
    layer: Annotated[tuple[Layer, ...], Field(max_length=10)]

    @model_validator(mode="after")
    def _one_bottom(self) -> Self:
        if (self.depth is None) == (self.grid is None):
            found = "neither depth nor grid" if self.depth is None else "both depth and grid"
            message = f"found {found}; allowed: one of them"
            raise ValueError(message)
        if not self.layer:
            message = "found no layer; allowed: at least one [[seabed.layer]]"
            raise ValueError(message)
        for number, layer in enumerate(self.layer[:-1], 1):
            if layer.thickness is None:
                message = f"layer[{number}] has no thickness; allowed: only the last layer has none"
                raise ValueError(message)
        if self.layer[-1].thickness is not None:
            message = f"layer[{len(self.layer)}] has a thickness; allowed: the last layer has none"
            raise ValueError(message)
        return self


class Noise(Section):
    """Noise: wind and thermal, and the boat's own [dB re 1 uPa2/Hz at 50 kHz at the face] (None: none)."""

    ambient: Flag = True
    vessel: Annotated[float, Quantity(LEVEL, -50.0, 200.0)] | None = None


class Reverberation(Section):
    """Echoes by way of the surface: second_echo, and the surface's loss [dB]."""

    second_echo: Flag = True
    surface_loss: Annotated[float, Quantity(LEVEL, 0.0, 60.0)] = 0.0
