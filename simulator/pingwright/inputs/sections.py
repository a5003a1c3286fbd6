"""Sections of a scenario around the elements: water, boat, window, seabed, noise, reverberation."""

import contextlib
import datetime
import re
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, WithJsonSchema, model_validator

from pingwright.inputs.attach import BY_NAME, FILE_SCHEMA, content
from pingwright.inputs.catalogue import sediment_names
from pingwright.inputs.fields import (
    Flag,
    Heading,
    LevelOrWord,
    Pace,
    Place1,
    Quantity,
    Section,
    Text,
    Tilt,
    Whole,
    choice_of,
    exactly_one,
)
from pingwright.inputs.lists import Depths, Numbers, Pairs, Places
from pingwright.inputs.tables import read_grid, read_profile
from pingwright.quantities import ANGLE, LENGTH, LEVEL, RATIO, SALINITY, SPEED, TEMPERATURE, TIME, kind_of_value

MOST_PINGS = 200_000
DEPTHS = (0.3, 3000.0)  # of the seabed [m]
#: The boat's own noise: a level at 50 kHz around the hull [dB re 1 uPa2/Hz], or a word.
OwnNoise = Annotated[float | Literal["by speed", "none"], LevelOrWord(("by speed", "none"), -50.0, 200.0, "54 dB")]


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
    """The water: one temperature [degC] and salinity [g/kg], or a profile; wind and assumed_sound_speed [m/s].

    show_steps: steps of a profile (a thermocline) scatter weakly and show as a layer.
    """

    temperature: Annotated[float, Quantity(TEMPERATURE, -2.0, 40.0)] | None = None
    salinity: Annotated[float, Quantity(SALINITY, 0.0, 45.0)] | None = None
    profile: Annotated[Profile, BeforeValidator(_profile), BY_NAME, FILE_SCHEMA] | None = None
    acidity: Annotated[float, Quantity(RATIO, 5.0, 9.0)] = 8.0
    wind: Annotated[float, Quantity(SPEED, 0.0, 30.0)] = 0.0
    assumed_sound_speed: Annotated[float, Quantity(SPEED, 1350.0, 1650.0)] | None = None
    show_steps: Flag = False

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


_TIME = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d(\.\d{1,6})?(Z|[+-]\d\d:\d\d)?")


INSTANT_SCHEMA = WithJsonSchema(
    {"type": "string", "description": 'a date and time such as "2026-05-01T06:30:00Z"; without a zone: UTC'}
)


def _instant(value: object) -> object:
    """Return a date and time as ISO 8601 text in UTC; what names no zone is taken as UTC."""
    if isinstance(value, str) and _TIME.fullmatch(value):
        with contextlib.suppress(ValueError):
            value = datetime.datetime.fromisoformat(value)
    if not isinstance(value, datetime.datetime):
        message = f'found {kind_of_value(value)}; allowed: a date and time such as "2026-05-01T06:30:00Z"'
        raise ValueError(message)
    zoned = value if value.tzinfo else value.replace(tzinfo=datetime.UTC)
    return zoned.astimezone(datetime.UTC).isoformat().replace("+00:00", "Z")


def _position(value: tuple[float, ...]) -> tuple[float, float]:
    """Return latitude and longitude [deg]."""
    if not -90.0 <= value[0] <= 90.0:
        message = f"found the latitude {value[0]:g} deg; allowed: -90 to 90 deg (latitude first, then longitude)"
        raise ValueError(message)
    return value[0], value[1]


Position = Annotated[tuple[float, float], Numbers(ANGLE, 2, 2, -360.0, 360.0), AfterValidator(_position)]


class Boat(Section):
    """The run: speed [m/s], start and length [m] along x, pings, ping_interval [s] (None: auto), motion.

    length left out: 100 m, or as far as the pings go. motion: "by wind" gives the roll, pitch and heave that are left
    out, for a hull of hull_length [m] (7 m is assumed). in_turn: elements ping one after another; crosstalk: elements
    that ping together hear each other. begin: date and time of the first ping, UTC; origin: latitude and longitude
    [deg] of x = y = 0; heading [deg] of the track from
    north: these three only label the file.
    """

    speed: Pace = 3.0 * 1852.0 / 3600.0
    start: Place1 = -50.0
    length: Annotated[float, Quantity(LENGTH, 0.1, 200_000.0)] | None = None
    pings: Annotated[int, Whole(1, MOST_PINGS)] | None = None
    ping_interval: Annotated[Annotated[float, Quantity(TIME, 1e-3, 60.0)] | None, BeforeValidator(_auto)] = None
    transducer_depth: Annotated[float, Quantity(LENGTH, 0.0, 50.0)] = 0.0
    roll: AngularMotion | None = None
    pitch: AngularMotion | None = None
    heave: HeaveMotion | None = None
    motion: Literal["by wind"] | None = None
    hull_length: Annotated[float, Quantity(LENGTH, 2.0, 200.0)] = 7.0
    in_turn: Flag = False
    crosstalk: Flag = False
    begin: Annotated[str, BeforeValidator(_instant), INSTANT_SCHEMA] | None = None
    origin: Position | None = None
    heading: Heading | None = None

    @model_validator(mode="after")
    def _ends(self) -> Self:
        if self.speed == 0.0 and self.pings is None:
            message = (
                "found speed 0 without pings; allowed: for an anchored boat give the number of pings, such as pings ="
                " 50"
            )
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


class Patch(Section):
    """Other ground over part of the area: x, y [m] from, to (None: everywhere), its top layer's sediment and relief."""

    x: Places | None = None
    y: Places | None = None
    sediment: Annotated[str, choice_of(sediment_names, "sediments")]
    relief: Relief | None = None

    @model_validator(mode="after")
    def _somewhere(self) -> Self:
        if self.x is None and self.y is None:
            message = "found neither x nor y; allowed: x, y or both (without them the patch would be the whole seabed)"
            raise ValueError(message)
        return self


class Seabed(Section):
    """The seabed: depth [m] at the origin, a profile or a grid; slope [deg], relief, layers from the top down, patches.

    profile: pairs of x and depth [m], joined by straight lines, level beyond the ends. law: of a rough bottom's echo.
    roughness: "natural" is the sediment's own relief inside the footprint, from its published spectrum.
    """

    depth: Annotated[float, Quantity(LENGTH, *DEPTHS)] | None = None
    profile: Annotated[tuple[tuple[float, float], ...], Pairs(2, 1000, *DEPTHS)] | None = None
    grid: Annotated[Grid, BeforeValidator(_grid), BY_NAME, FILE_SCHEMA] | None = None
    slope: Tilt = Tilt()
    relief: Relief | None = None
    law: Literal["kirchhoff", "small-slope"] = "kirchhoff"
    roughness: Literal["natural", "none"] = "natural"
    layer: Annotated[tuple[Layer, ...], Field(max_length=10)]
    patch: Annotated[tuple[Patch, ...], Field(max_length=50)] = ()

    @model_validator(mode="after")
    def _one_bottom(self) -> Self:
        exactly_one(self, "depth", "profile", "grid")
        if self.profile is not None and self.slope.along:
            message = (
                "found a profile and slope.along; allowed: only one of them, because the profile already gives the"
                " depth along x"
            )
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
    """Noise: ambient is wind and thermal; own is that of the boat itself.

    own: the spectral level at 50 kHz around the hull [dB re 1 uPa2/Hz], falling 20 dB a decade and reduced by the
    face's directivity index; "by speed" takes it from the boat's speed, "none" is a silent boat.
    """

    ambient: Flag = True
    own: OwnNoise = "by speed"


class Reverberation(Section):
    """Echoes by way of the surface: second_echo, and the surface's loss [dB]; and the water's own faint scattering.

    background: volume strength of the open water [dB re 1 m-1]; "by water" is -90 dB in sea water (assumed) and none
    in fresh water.
    """

    second_echo: Flag = True
    surface_loss: Annotated[float, Quantity(LEVEL, 0.0, 60.0)] = 0.0
    background: Annotated[float | str, LevelOrWord(("by water", "none"), -160.0, -20.0, "-90 dB")] = "by water"
