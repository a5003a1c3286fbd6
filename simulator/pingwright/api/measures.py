"""Measures: every number of the summary of a recording, with unit and definition."""

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from pingwright.api.markup import table

if TYPE_CHECKING:
    import pandas as pd

#: The columns of `to_frame`; low and high: the ends of the interval a number comes with, where it has one.
COLUMNS = ("element", "measure", "value", "low", "high", "unit", "definition")


class Measures(Mapping[str, Mapping[str, Mapping[str, Any]]]):
    """Numbers by element and name: measures["narrow high"]["range_resolution"]["value"].

    Each number is a mapping of value (None where there is none), unit ("" of counts and shares), definition, and
    where it is estimated from trials hits, of, low and high (a 95 % interval). `warnings` says what to know of them.
    """

    def __init__(self, elements: list[Mapping[str, Any]], warnings: tuple[str, ...] = ()) -> None:
        self._elements: dict[str, Mapping[str, Mapping[str, Any]]] = {
            str(element["name"]): element["numbers"] for element in elements
        }
        self.warnings = warnings

    def __getitem__(self, element: str) -> Mapping[str, Mapping[str, Any]]:
        """Return the numbers of an element by its name."""
        if element not in self._elements:
            message = f"no element {element!r}; there are {', '.join(self._elements)}"
            raise KeyError(message)
        return self._elements[element]

    def __iter__(self) -> Iterator[str]:
        """Return the names of the elements, in order."""
        return iter(self._elements)

    def __len__(self) -> int:
        """Return the number of elements."""
        return len(self._elements)

    def value(self, element: str, measure: str) -> float | None:
        """Return one number in the unit that it states, None where there is none. KeyError for unknown names."""
        numbers = self[element]
        if measure not in numbers:
            message = f"no measure {measure!r}; there are {', '.join(numbers)}"
            raise KeyError(message)
        value: float | None = numbers[measure]["value"]
        return value

    def rows(self) -> list[dict[str, Any]]:
        """Return a dict of COLUMNS for each element and number, in order."""
        return [
            {"element": element, "measure": name}
            | {column: number.get(column) for column in ("value", "low", "high", "unit", "definition")}
            for element, numbers in self._elements.items()
            for name, number in numbers.items()
        ]

    def to_frame(self) -> "pd.DataFrame":
        """Return a pandas DataFrame of COLUMNS, a row for each element and number. Needs pandas (extra `notebook`)."""
        import pandas as pd

        frame = pd.DataFrame(self.rows(), columns=list(COLUMNS))
        for column in ("value", "low", "high"):
            frame[column] = frame[column].astype(float)
        return frame

    def __repr__(self) -> str:
        """Return one short line."""
        count = len(next(iter(self._elements.values()), {}))
        return f"<Measures: {count} numbers of {', '.join(self._elements)}>"

    def _repr_html_(self) -> str:
        names = list(self._elements)
        first = self._elements[names[0]] if names else {}
        rows = [("", *names, "unit")]
        for measure, number in first.items():
            values = (self._elements[name][measure]["value"] for name in names)
            rows.append((measure, *("-" if one is None else f"{one:.4g}" for one in values), str(number["unit"])))
        return table("Measures", rows, "Simulated. Definitions: measures[element][name]['definition'].")
