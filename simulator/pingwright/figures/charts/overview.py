"""All claims of a file in one picture: the result with its interval, the bound of the claim, and the verdict."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from pingwright import words
from pingwright.figures.compare.sheet import LINE, POINT, Page, broken, fitted, wide_mm
from pingwright.figures.style.sheet import COMPUTED, Sheet, Size
from pingwright.palette import Theme
from pingwright.words import Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Row:
    """One claim: its words, the verdict in words, the value found with its interval, the bound and its side.

    value, low, high, bound in one unit, nan where there is none; at_least: whether the claim holds from the bound
    upwards; difference: of two probabilities, -1 to 1; unit: "" for probabilities;
    noise: a range with own noise 10 dB higher and lower.
    """

    says: str
    verdict: str
    value: float
    low: float
    high: float
    bound: float
    at_least: bool
    unit: str = ""
    difference: bool = False
    noise: tuple[float, float] = (np.nan, np.nan)

    @property
    def span(self) -> tuple[float, float]:
        """Ends of its axis, in its unit."""
        if self.unit == "":
            return (-1.0, 1.0) if self.difference else (0.0, 1.0)
        known = np.nan_to_num([self.value, self.low, self.high, self.bound], nan=0.0, posinf=0.0, neginf=0.0)
        most = 1.25 * float(np.max(np.abs(known))) or 1.0
        return (-most if self.difference else 0.0), most

    def place(self, value: float) -> float:
        """Return the place of a value on its axis, 0 to 1."""
        low, high = self.span
        return float(np.clip((value - low) / (high - low), 0.0, 1.0))


def summed(rows: Sequence[Row]) -> str:
    """Return the outcome of all claims: '4 hold, 5 do not, 1 stays open'."""
    verdicts = [row.verdict for row in rows]
    hold, fail, still = (verdicts.count(each) for each in ("holds", "does not hold", "undecided"))
    parts = [
        f"{hold} {'holds' if hold == 1 else 'hold'}" if hold or not fail else "none holds",
        f"{fail} {'does' if fail == 1 else 'do'} not" if fail else "",
        f"{still} {'stays' if still == 1 else 'stay'} open" if still else "",
    ]
    if not hold + fail + still:
        return f"{len(rows)} numbers"
    return ", ".join(filter(None, parts))


def overview(
    rows: Sequence[Row],
    title: str,
    theme: Theme = "light",
    size: Size = "two-column",
    units: Units = "m",
    *,
    simulated: bool = True,
) -> "Figure":
    """Return the overview: one row for each claim, dot and interval on an axis, a tick at its bound.

    simulated: by runs, not by formulas alone.
    """
    sheet = Sheet(theme, units, size)
    with sheet.drawing():
        page, text, k = Page(sheet), sheet.least, sheet.scale
        margin = 3.0 * k
        points, lines = fitted([f"{title}: {summed(rows)}"], text * 1.7, page.width - 2 * margin)
        y = page.block(margin, margin + points * POINT, lines[0], points, weight="bold", gid="headline")
        y += text * POINT * 2.2
        tag = {"fc": sheet.inks.ink, "ec": "none", "pad": 1.6 * k}
        word, found = ("SIMULATED", "found, with its interval") if simulated else ("COMPUTED", "computed from formulas")
        page.text(margin + 1, y, word, text, weight="bold", color=sheet.inks.paper, bbox=tag, gid="tag")
        about = f"Dot: what was {found}. Tick: what the claim asks for. Shaded: where it holds."
        about += _of_noise(rows)
        room = page.width - 2 * margin - wide_mm(word, text, True) - 5 * k
        y = page.block(page.width - margin - room, y, broken(about, text, room), text, gid="about") + 2.0 * k
        for row in rows:
            y = _row(page, row, y, margin)
        y += text * POINT * 1.8
        caution = broken(words.CAUTION if simulated else COMPUTED, text, page.width - 2 * margin)
        y = page.block(margin, y, caution, text, color=sheet.inks.muted, gid="caution")
        return sheet.finish(page.figure(y + margin), caution=False)


def _row(page: Page, row: Row, y: float, margin: float) -> float:
    """Add one claim to the page; returns the lower end of its row."""
    sheet, text, k = page.sheet, page.sheet.least, page.sheet.scale
    narrow = sheet.size == "one-column"
    wide = (page.width - 2 * margin) * (0.44 if not narrow else 0.4)
    says = broken(row.says, text * 1.05, wide)
    last = page.block(margin, y + text * POINT * 1.7, says, text * 1.05, gid="says")
    left, long = margin + wide + 3 * k, (page.width - 2 * margin) * (0.30 if not narrow else 0.27)
    middle = (y + last + text * POINT * 0.7) / 2
    page.axes(left, middle - 2.2 * k, long, 4.4 * k, partial(_axis, sheet=sheet, row=row), "claim")
    for x, end, side in zip((left, left + long), row.span, ("left", "right"), strict=True):
        page.text(
            x,
            middle + text * POINT * 1.75,
            _end(row, end, sheet.units),
            text,
            ha=side,
            color=sheet.inks.muted,
            gid="end",
        )
    verdict = row.verdict or "a number"
    place, ink = left + long + 3 * k, sheet.inks.muted if verdict in ("undecided", "a number") else sheet.inks.ink
    page.text(place, middle, verdict, text * 1.05, weight="bold", color=ink, gid="verdict")
    page.text(place, middle + text * POINT * LINE, _value(row, sheet.units), text, color=sheet.inks.muted, gid="value")
    foot = max(last, middle + text * POINT * 1.75) + text * POINT * 0.7
    page.line(margin, page.width - margin, foot, 0.5 * k, color=sheet.inks.line)
    return foot


def _value(row: Row, units: Units) -> str:
    if not np.isfinite(row.value):
        if np.isfinite(row.low) == np.isfinite(row.high):
            return "no value"
        return (
            f"above {_number(row, row.low, units)}"
            if np.isfinite(row.low)
            else f"below {_number(row, row.high, units)}"
        )
    value = _number(row, row.value, units)
    if not np.isfinite(row.noise).all():
        return value
    return f"{value} ({_number(row, row.noise[0], units)} to {_number(row, row.noise[1], units)})"


def _number(row: Row, value: float, units: Units) -> str:
    if row.unit == "m":
        return words.length(value, units)
    if row.unit:
        return f"{words.digits(value, 3)} {row.unit}"
    return words.digits(value) if row.difference else words.percent(value)


def _end(row: Row, value: float, units: Units) -> str:
    """Return the end of a claim's axis in words."""
    if value == 0 and row.unit:
        return "0"
    if row.unit == "m":
        return words.length(value, units)
    if row.unit:
        return f"{words.digits(value)} {row.unit}"
    return words.digits(value, 1) if row.difference else f"{100 * value:.0f} %"


def _axis(ax: "Axes", sheet: Sheet, row: Row) -> None:
    inks, k = sheet.inks, sheet.scale
    ax.set_axis_off()
    ax.set_xlim(0, 1)
    ax.set_ylim(-1, 1)
    if np.isfinite(row.bound):
        at = row.place(row.bound)
        ax.axvspan(*((at, 1.0) if row.at_least else (0.0, at)), color=inks.bands[3], alpha=0.13, lw=0, gid="holds here")
        ax.plot([at, at], [-0.95, 0.95], color=inks.ink, lw=1.5 * k, clip_on=False, gid="asked for")
    ax.plot([0, 1], [0, 0], color=inks.line, lw=0.9 * k, zorder=1)
    ends = [row.place(v) if np.isfinite(v) else end for v, end in ((row.low, 0.0), (row.high, 1.0))]
    if np.isfinite(row.low) or np.isfinite(row.high):
        ax.plot(ends, [0, 0], color=inks.bands[3], alpha=0.5, lw=4.5 * k, solid_capstyle="butt", gid="interval")
    if np.isfinite(row.value):
        ax.plot(
            [row.place(row.value)], [0], "o", color=inks.ink, ms=4.5 * k, mec=inks.paper, clip_on=False, gid="found"
        )


def caption(rows: Sequence[Row], title: str, units: Units = "m", *, simulated: bool = True) -> str:
    """Return the caption: the outcome, and every claim with its result."""
    lines = [f"\u201c{row.says}\u201d: {row.verdict or 'a number'}, {_value(row, units)}" for row in rows]
    how = "Simulated" if simulated else "Computed from formulas"
    return f"{title}: {summed(rows)}. {'; '.join(lines)}.{_of_noise(rows)} {how}."


def _of_noise(rows: Sequence[Row]) -> str:
    return " In brackets: own noise 10 dB louder to quieter." if np.isfinite([row.noise for row in rows]).any() else ""


#: The alternative text, of the same arguments.
alt = words.opened("A row for each claim, with a dot and its interval against what the claim asks for.", caption)
