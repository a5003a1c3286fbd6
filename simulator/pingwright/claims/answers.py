"""What came out of a claim: the number, its interval, the verdict, theory beside it, and the figure's data."""

from dataclasses import asdict, dataclass, field
from typing import Any

from pingwright.measure.intervals import Outcome


@dataclass(frozen=True)
class Line:
    """One element's curve in a claim's figure: value, low, high at the axis' points; a closed form has no interval."""

    name: str
    value: tuple[float, ...]
    low: tuple[float, ...] = ()
    high: tuple[float, ...] = ()

    @property
    def is_theory(self) -> bool:
        """Whether the line is a closed form."""
        return not self.low


@dataclass(frozen=True)
class Chart:
    """The data of a claim's figure: curves of a probability along an axis [m]."""

    axis: str
    points: tuple[float, ...]
    lines: tuple[Line, ...]
    wanted: float | None = None


@dataclass(frozen=True)
class Answer:
    """The answer to one claim.

    value, low, high in `unit`; None where the runs do not enclose it. verdict None where only a number was asked.
    false: share of the same judgements that hit without the fish, an element each; twins: pings it rests on.
    theory: closed form or None; fine: that with side lobes and aspect; explained: why they part.
    by_element: the number of each of two elements.
    """

    says: str
    measure: str
    element: tuple[str, ...]
    bound: str
    verdict: Outcome | None
    value: float | None
    low: float | None
    high: float | None
    unit: str
    runs: int
    theory: float | None
    fine: float | None
    explained: str
    false: tuple[float, ...] = ()
    twins: int = 0
    by_element: tuple[float, ...] = ()
    chart: Chart | None = None
    notes: tuple[str, ...] = field(default=())

    def to_dict(self) -> dict[str, Any]:
        """Return it as plain data, for keeping and taking up again."""
        return asdict(self)


def from_dict(data: dict[str, Any]) -> Answer:
    """Return an answer kept by `Answer.to_dict` (through JSON)."""
    chart = data.get("chart")
    if chart is not None:
        lines = tuple(
            Line(line["name"], tuple(line["value"]), tuple(line["low"]), tuple(line["high"])) for line in chart["lines"]
        )
        chart = Chart(chart["axis"], tuple(chart["points"]), lines, chart["wanted"])
    tuples = {name: tuple(data[name]) for name in ("element", "false", "by_element", "notes")}
    return Answer(**{**data, **tuples, "chart": chart})
