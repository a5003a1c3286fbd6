"""Faces: the shapes of radiating surfaces, from the disc to a measured table."""

from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, ValidationInfo, model_validator

from pingwright.inputs.attach import content
from pingwright.inputs.fields import Quantity, Section, Text
from pingwright.inputs.lists import Numbers
from pingwright.inputs.tables import read_pattern
from pingwright.quantities import ANGLE, LENGTH, RATIO, TIME

Width = Annotated[float, Quantity(LENGTH, 0.002, 2.0)]
Shading = Literal["none", "cos", "cos2", "legendre"]
MOST_DISCS = 256


class Disc(Section):
    """A flat disc: diameter [m]."""

    shape: Literal["disc"] = "disc"
    diameter: Width


class Rectangle(Section):
    """A flat rectangle: sides along and across the track [m]."""

    shape: Literal["rectangle"] = "rectangle"
    along: Width
    across: Width


class Ellipse(Section):
    """A flat ellipse: whole axes along and across the track [m]."""

    shape: Literal["ellipse"] = "ellipse"
    along: Width
    across: Width


class Discs(Section):
    """Equal discs: diameter [m], centres (x, y, z) [m], weights [1] and delays [s], one each."""

    shape: Literal["discs"] = "discs"
    diameter: Width
    centres: Annotated[
        tuple[Annotated[tuple[float, ...], Numbers(LENGTH, 3, 3, -2.0, 2.0)], ...], Field(max_length=256)
    ]
    weights: Annotated[tuple[float, ...], Numbers(RATIO, 1, MOST_DISCS, -10.0, 10.0)] | None = None
    delays: Annotated[tuple[float, ...], Numbers(TIME, 1, MOST_DISCS, -0.01, 0.01)] | None = None

    @model_validator(mode="after")
    def _one_each(self) -> Self:
        if not self.centres:
            message = "found no centres; allowed: 1 to 256, such as [[0, 0, 0]]"
            raise ValueError(message)
        for key in ("weights", "delays"):
            values = getattr(self, key)
            if values is not None and len(values) != len(self.centres):
                message = f"found {len(values)} {key}; allowed: {len(self.centres)}, one for each centre"
                raise ValueError(message)
        if self.weights is not None and not any(self.weights):
            message = "found weights that are all 0; allowed: at least one that is not"
            raise ValueError(message)
        return self


class Arc(Section):
    """A strip curved across the track, flat along it: radius [m], opening [deg, full], width along [m]."""

    shape: Literal["arc"] = "arc"
    radius: Width
    opening: Annotated[float, Quantity(ANGLE, 1.0, 180.0)]
    width: Width
    shading: Shading = "none"


class Cap(Section):
    """A part of a sphere: radius [m], opening [deg, full]."""

    shape: Literal["cap"] = "cap"
    radius: Width
    opening: Annotated[float, Quantity(ANGLE, 1.0, 180.0)]
    shading: Shading = "none"


class PatternTable(Section):
    """A measured one-way pattern from a file.

    frequency (f) [Hz], angle_along (a), angle_across (b) [deg], all rising; level [dB re the axis], f rows of a x b
    values, angle_across running fastest.
    """

    file: Annotated[str, Text(255)]
    frequency: tuple[float, ...]
    angle_along: tuple[float, ...]
    angle_across: tuple[float, ...]
    level: tuple[tuple[float, ...], ...]


def _pattern(value: object, info: ValidationInfo) -> object:
    """Add the table of `file` to a face that is given by its file name."""
    if not isinstance(value, dict):
        return value
    if "pattern" in value:
        message = 'found the unknown key "pattern"; allowed: shape, file'
        raise ValueError(message)
    if value.get("shape") != "table" or not isinstance(value.get("file"), str):
        return value
    name = value["file"]
    frequency, along, across, level = read_pattern(content(name, info), name)
    table = {"file": name, "frequency": frequency, "angle_along": along, "angle_across": across, "level": level}
    return {**value, "pattern": table}


class Table(Section):
    """A measured face: the file's name and the pattern read from it."""

    shape: Literal["table"] = "table"
    file: Annotated[str, Text(255)]
    pattern: Annotated[PatternTable, Field(exclude=True)]


Face = Annotated[
    Annotated[Disc | Rectangle | Ellipse | Discs | Arc | Cap | Table, Field(discriminator="shape")],
    BeforeValidator(_pattern),
]
