"""Depth to which each element shows things: a bar for a fish and a bar for the bottom, hanging from the surface."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pingwright import palette, words
from pingwright.figures.style.lettering import fit_points, shorten
from pingwright.figures.style.sheet import Sheet, Size, figure_of
from pingwright.figures.style.ticks import depth_axis
from pingwright.palette import Theme
from pingwright.words import Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

#: What `noise_band` draws, in words.
LINES = "Lines: own noise 10 dB louder and quieter."
#: Depth [m]: with own noise as given, 10 dB higher, 10 dB lower; nan if not known.
Banded = tuple[float, float, float]
#: places of the two bars of an element about its middle, and their width, in columns
LETTERS = " abcdefghijklmnopqrstuvwxyz"
FISH, BOTTOM, WIDE = -0.24, 0.2, 0.26


@dataclass(frozen=True)
class Depths:
    """Detection depths of an element below its transducer: for the fish, and for the softest and hardest ground."""

    name: str
    fish: Banded
    soft: Banded
    hard: Banded

    @property
    def deepest(self) -> float:
        """Return the greatest depth [m]; 0 if nothing is known."""
        return float(np.nanmax([*self.fish, *self.soft, *self.hard, 0.0]))


def reach(
    elements: Sequence[Depths],
    fish: str,
    grounds: tuple[str, str],
    here: float,
    theme: Theme = "light",
    units: Units = "m",
    size: Size = "two-column",
    faces: tuple[palette.Face, ...] = (),
) -> "Figure":
    """Return the bars. fish: in words; grounds: softest and hardest; here [m]: depth of the scene's bottom."""
    sheet = Sheet(theme, units, size, faces)
    with sheet.drawing():
        k = sheet.scale
        figure, (ax,) = sheet.simple(4.2 * k, 1, _headline(elements, fish, units), head=0.34 * k)
        figure.subplots_adjust(bottom=0.62 * k / figure.get_size_inches()[1])
        deep = (1.3 if size == "one-column" else 1.18) * max([here, *(one.deepest for one in elements)])
        for index, one in enumerate(elements):
            _element(ax, sheet, index, one, grounds, bare=size == "one-column" and len(elements) > 3)
        ax.axhline(here, color=sheet.inks.muted, lw=0.8 * k, ls=(0, (4, 3)), zorder=0.5, gid="here")
        _names(ax, sheet, elements)
        ax.set_facecolor(sheet.inks.water)
        ax.set_xlim(-0.55, len(elements) - 0.4)
        ax.set_ylim(deep, 0)
        ax.set_xticks([])
        for side in ("left", "right"):
            depth_axis(ax, sheet, (deep, 0.0), side, "depth below the transducer")
        note = f"Bottom: to the end of the full bar over {grounds[0]}, of the pale one over {grounds[1]}."
        note += f" {LINES} Dashed: the bottom here, {words.length(here, units)}."
        return sheet.finish(figure, extra=note, formulas=True)


def noise_band(ax: "Axes", sheet: Sheet, at: float, band: tuple[float, float]) -> None:
    """Draw a line over the depths [m] with own noise 10 dB higher and lower, at a place along the x axis."""
    k = sheet.scale
    ax.plot([at] * 2, band, color=sheet.inks.halo, lw=2.4 * k, solid_capstyle="butt")
    ax.plot([at] * 2, band, color=sheet.inks.ink, lw=0.9 * k, marker="_", ms=4 * k, gid="noise band")


def _headline(elements: Sequence[Depths], fish: str, units: Units) -> str:
    known = [one for one in elements if np.isfinite(one.fish[0])]
    if not known:
        return "How deep each element reaches is not known: there is no noise in this recording"
    # All are on the same boat: if noise is higher for one, it is higher for all.
    leaders = {max(known, key=lambda one: np.nan_to_num(one.fish[case])).name for case in range(3)}
    best = max(known, key=lambda one: one.fish[0])
    if len(leaders) > 1 and np.isfinite(best.fish).all():
        return f"Which element shows {fish} deepest depends on the boat's own noise"
    if len(elements) == 1:
        return f"{best.name} shows {fish} to {words.both(best.fish[0], units)}"
    deep = words.both(best.fish[0], units)
    alike = [one.name for one in known if words.both(one.fish[0], units) == deep]
    shows = "shows" if len(alike) == 1 else "show"
    return f"{words.listed(alike)} {shows} {fish} deepest: to {deep}"


def _element(ax: "Axes", sheet: Sheet, index: int, one: Depths, grounds: tuple[str, str], *, bare: bool) -> None:
    """Draw one element's bars; bare: if there is no room, write depths without their unit, which the axis has."""
    colour, k = sheet.series(index)["color"], sheet.scale
    ends = np.nan_to_num([one.fish[0], one.soft[0], one.hard[0]])
    ax.bar(index + FISH, ends[0], WIDE, color=colour, gid=f"fish {index}")
    ax.bar(index + BOTTOM, ends[1], WIDE, color=colour, gid=f"{grounds[0]} {index}")
    pale = max(ends[2] - ends[1], 0.0)
    ax.bar(index + BOTTOM, pale, WIDE, ends[1], color=colour, alpha=0.45, gid=f"{grounds[1]} {index}")
    for at, (_, louder, quieter) in ((FISH, one.fish), (BOTTOM - 0.06, one.soft), (BOTTOM + 0.06, one.hard)):
        if np.isfinite(louder) and np.isfinite(quieter):
            noise_band(ax, sheet, index + at, (louder, quieter))
    lowest = (np.nanmax([*one.fish, 0.0]), np.nanmax([*one.soft, *one.hard, 0.0]))
    texts = words.length(one.fish[0], sheet.units), _span(one, sheet.units)
    if bare:
        texts = tuple("\n".join(line.rstrip(LETTERS) for line in text.split("\n")) for text in texts)  # type: ignore[assignment]
    for at, deep, text in zip((FISH, BOTTOM), lowest, texts, strict=True):
        ax.annotate(
            text, (index + at, deep), (0, -3 * k), textcoords="offset points", ha="center", va="top",
            size=sheet.points * 0.95, weight="bold", gid="depth",
        )  # fmt: skip


def _span(one: Depths, units: Units) -> str:
    """Return '450 to 690 m' on two lines."""
    low, high = (words.length(value, units) for value in (one.soft[0], one.hard[0]))
    if low == high:
        return low
    number, _, unit = low.partition(" ")
    return f"{number if high.endswith(f' {unit}') else low}\nto {high}"


def _names(ax: "Axes", sheet: Sheet, elements: Sequence[Depths]) -> None:
    """Write above the surface the names of the elements and the meaning of the bars."""
    width = figure_of(ax).get_size_inches()[0]
    room = 0.93 * ax.get_position().width * width / (len(elements) + 0.15)
    points = min(fit_points(one.name, sheet.points * 1.15, room, bold=True, least=sheet.least) for one in elements)
    for index, one in enumerate(elements):
        colour = sheet.series(index)["color"]
        ax.annotate(
            shorten(one.name, points, room, bold=True), (index - 0.4, 0), (0, 13 * sheet.scale),
            textcoords="offset points", size=points, weight="bold", color=colour, gid="name", annotation_clip=False,
        )  # fmt: skip
        for at, text in ((FISH, "fish"), (BOTTOM, "bottom")):
            ax.annotate(
                text, (index + at, 0), (0, 3 * sheet.scale), textcoords="offset points", ha="center",
                size=sheet.least, annotation_clip=False, gid="bar",
            )  # fmt: skip


def _said(name: str, value: Banded, units: Units) -> str:
    """Return '262 m (own noise 10 dB up to 10 dB down: 201 to 331 m)'."""
    if not np.isfinite(value[0]):
        return f"{name} unknown"
    return f"{name} {words.banded(*value, units)}"


def caption(elements: Sequence[Depths], fish: str, grounds: tuple[str, str], here: float, units: Units = "m") -> str:
    """Return the caption: every depth with its band."""
    of_each = [
        f"{one.name}: {_said('fish', one.fish, units)}; bottom of {_said(grounds[0], one.soft, units)},"
        f" of {_said(grounds[1], one.hard, units)}"
        for one in elements
    ]
    return (
        f"How deep each element reaches in this water and with this boat's noise: the depth at which one ping"
        f" detects {fish} with probability 0.5, and to which the bottom is picked right in 9 of 10 pings."
        f" In brackets: own noise 10 dB louder to 10 dB quieter. {'. '.join(of_each)}. A pulse whose length the"
        f" scenario leaves open is that of the depth. The bottom here lies"
        f" {words.length(here, units)} below the transducer. Computed with the sonar equation."
    )


#: The alternative text, of the same arguments.
alt = words.opened("Bars that hang from the surface: how deep each element shows a fish and the bottom.", caption)
