"""Field types of the schemas: quantities, spans, whole numbers, texts, file names. Each refuses in our own words."""

import difflib
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Self, TypeVar

from pydantic import BaseModel, ConfigDict, GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationError
from pydantic_core import CoreSchema, core_schema

from pingwright.quantities import (
    ANGLE,
    LENGTH,
    LEVEL,
    RATIO,
    SPEED,
    Dimension,
    QuantityError,
    bounds,
    check,
    exact,
    kind_of_value,
    quoted,
)


class Section(BaseModel):
    """A table of an input file: frozen, unknown keys refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, defer_build=True)

    @classmethod
    def sound(cls, table: object) -> Self | None:
        """Return a table as read, or None if it has a fault itself.

        For checks of one table against another, which are reported even if other things are wrong.
        """
        try:
            return cls.model_validate(table)
        except ValidationError:
            return None


Value = TypeVar("Value")


def known(value: Value | None, key: str) -> Value:
    """Return a value that is set by reading or resolving a file; ValueError names the key if it is still open."""
    if value is None:
        message = f"the scenario is not resolved: {key} is open"
        raise ValueError(message)
    return value


def exactly_one(section: Section, *keys: str) -> None:
    """Refuse a table that holds several of these keys or none."""
    given = [key for key in keys if getattr(section, key) is not None]
    if len(given) != 1:
        none, many = ("neither", " nor ") if len(keys) == 2 else ("none of", ", ")
        both = "both " if len(given) == 2 else ""
        result = f"{both}{' and '.join(given)}" if given else f"{none} {many.join(keys)}"
        message = f"found {result}; allowed: one of them"
        raise ValueError(message)


def rows(data: Mapping[str, Any], group: str, most: int) -> list[tuple[int, Mapping[str, Any]]]:
    """Return number and table of each of a file's tables of one kind, at most `most`, even in a file with faults."""
    value = data.get(group)
    return [(i, row) for i, row in enumerate(value if isinstance(value, list) else ()) if isinstance(row, Mapping)][
        :most
    ]


@dataclass(frozen=True)
class FieldType:
    """Metadata of a field that reads and writes its value."""

    def read(self, value: object) -> Any:
        """Return a value as the schema holds it; QuantityError for a value that is not allowed."""
        raise NotImplementedError

    def write(self, value: Any) -> Any:
        """Return a value as a file holds it."""
        return value

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        raise NotImplementedError

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> CoreSchema:
        writer = core_schema.plain_serializer_function_ser_schema(self.write, when_used="json")
        return core_schema.no_info_plain_validator_function(self.read, serialization=writer)

    def __get_pydantic_json_schema__(self, core: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return self.schema()


@dataclass(frozen=True)
class Quantity(FieldType):
    """A number with a unit, within bounds given in the base unit.

    plausible: narrower bounds for numbers without a unit; likely: units that were probably meant.
    """

    dimension: Dimension
    low: float = -math.inf
    high: float = math.inf
    plausible: tuple[float, float] | None = None
    likely: tuple[str, ...] = ()

    def read(self, value: object) -> float:
        """Return the SI float."""
        return check(value, self.dimension, self.low, self.high, self.plausible, self.likely)

    def write(self, value: float) -> Any:
        """Return a text that reads back to the same float; plain ratios stay numbers."""
        return value if not self.dimension.unit else exact(value, self.dimension)

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        words = f"{self.dimension.name}, {bounds(self.dimension, self.low, self.high)}"
        return {"anyOf": [{"type": "number"}, {"type": "string"}], "description": words}


@dataclass(frozen=True)
class Whole(FieldType):
    """A whole number within bounds."""

    low: int
    high: int

    def read(self, value: object) -> int:
        """Return the number."""
        if isinstance(value, bool) or not isinstance(value, int) or not self.low <= value <= self.high:
            message = f"found {kind_of_value(value)}; allowed: a whole number from {self.low} to {self.high}"
            raise QuantityError(message)
        return value

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        return {"type": "integer", "minimum": self.low, "maximum": self.high}


@dataclass(frozen=True)
class _Flag(FieldType):
    """True or false."""

    def read(self, value: object) -> bool:
        """Return the value."""
        if not isinstance(value, bool):
            message = f"found {kind_of_value(value)}; allowed: true or false"
            raise QuantityError(message)
        return value

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        return {"type": "boolean"}


@dataclass(frozen=True)
class Text(FieldType):
    """A text of limited length; a line unless `many` lines are allowed."""

    longest: int = 120
    many: bool = False
    empty: bool = False

    def read(self, value: object) -> str:
        """Return the text."""
        if not isinstance(value, str):
            message = f"found {kind_of_value(value)}; allowed: a text in quotes"
            raise QuantityError(message)
        if len(value) > self.longest or (not self.many and "\n" in value) or not (value.strip() or self.empty):
            needed = "a text" if self.many else "one line"
            least = "" if self.empty else "1 to "
            message = f"found {quoted(value)}; allowed: {needed} of {least}{self.longest} characters"
            raise QuantityError(message)
        return value

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        return {"type": "string", "maxLength": self.longest}


@dataclass(frozen=True)
class LevelOrWord(FieldType):
    """A level [dB] within bounds, or one of a few words for a rule."""

    words: tuple[str, ...]
    low: float
    high: float
    example: str

    def read(self, value: object) -> float | str:
        """Return the level, or the word."""
        if isinstance(value, str) and not value[:1].isdigit() and value[:1] not in {"-", "+", "."}:
            if value not in self.words:
                choices = " or ".join(quoted(word) for word in self.words)
                message = f"found {quoted(value)}; allowed: {choices}, or a level such as {quoted(self.example)}"
                raise QuantityError(message + nearest(value, self.words))
            return value
        return check(value, LEVEL, self.low, self.high)

    def write(self, value: float | str) -> str:
        """Return a text that reads back to the same value."""
        return value if isinstance(value, str) else exact(value, LEVEL)

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        words = ", ".join(f'"{word}"' for word in self.words)
        text = f"{words}, or a level, {bounds(LEVEL, self.low, self.high)}"
        return {"anyOf": [{"enum": list(self.words)}, {"type": "number"}, {"type": "string"}], "description": text}


def choice_of(words: Callable[[], tuple[str, ...]], what: str) -> FieldType:
    """Return metadata for one word of a list that is known only after reading (a catalogue)."""
    return _Choice(words, what)


@dataclass(frozen=True)
class _Choice(FieldType):
    words: Callable[[], tuple[str, ...]]
    what: str

    def read(self, value: object) -> str:
        known = self.words()
        if not isinstance(value, str) or value not in known:
            hint = nearest(value, known) if isinstance(value, str) else ""
            allowed = ", ".join(known)
            message = f"found {kind_of_value(value)}; allowed {self.what}: {allowed}{hint}"
            raise QuantityError(message)
        return value

    def schema(self) -> dict[str, Any]:
        return {"enum": list(self.words())}


def nearest(word: str, known: tuple[str, ...] | list[str]) -> str:
    """Return '; did you mean "..."?' for the known word nearest to a misspelt one, or ""; of "sand", every sand."""
    whole = [quoted(one) for one in known if word.lower() in one.split()]
    if whole and word.lower() not in known:
        return f"; did you mean {', '.join(whole[:-1])}{' or ' if whole[1:] else ''}{whole[-1]}?"
    near = difflib.get_close_matches(word[:60].lower(), known, n=1, cutoff=0.6)
    return f'; did you mean "{near[0]}"?' if near else ""


Flag = Annotated[bool, _Flag()]
Name = Annotated[str, Text(80)]
Fraction = Annotated[float, Quantity(RATIO, 0.0, 1.0)]
Place1 = Annotated[float, Quantity(LENGTH, -1e5, 1e5)]
Depth = Annotated[float, Quantity(LENGTH, 0.0, 6000.0)]
Size = Annotated[float, Quantity(LENGTH, 0.01, 1000.0)]
Heading = Annotated[float, Quantity(ANGLE, -360.0, 360.0)]
Steepness = Annotated[float, Quantity(ANGLE, -80.0, 80.0)]
Pace = Annotated[float, Quantity(SPEED, 0.0, 15.0)]


class Tilt(Section):
    """Angles along and across the track [deg]; positive: deeper, or turned, towards +x and +y."""

    along: Steepness = 0.0
    across: Steepness = 0.0
