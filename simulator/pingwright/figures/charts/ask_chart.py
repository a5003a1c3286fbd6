"""The answer to a question as bars: a panel for each number, a bar for each thing compared, own noise as whiskers."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from pingwright import words
from pingwright.figures.style.lettering import fit_points, text_width
from pingwright.figures.style.sheet import Sheet, Size, tag
from pingwright.figures.style.ticks import unit_ticks
from pingwright.palette import Theme
from pingwright.words import Units

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Panel:
    """One number: its title, and by bar a label, the value [m] and the ends of its band [m], nan where not known."""

    title: str
    labels: tuple[str, ...]
    value: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]


def ask_chart(
    panels: Sequence[Panel], title: str, theme: Theme = "light", units: Units = "m", size: Size = "two-column",
    simulated: bool = False,
) -> "Figure":  # fmt: skip
    """Return bars for each panel (1 to 3), lengths in the reader's units; simulated: by passes, not by formulas."""
    sheet = Sheet(theme, units, size)
    with sheet.drawing():
        most = max(len(panel.labels) for panel in panels)
        height = (1.4 + 0.24 * most) * sheet.scale
        figure, axes = sheet.simple(height, len(panels), title, 0.4 * sheet.scale, stack=False)
        word, how = ("SIMULATED", "by passes") if simulated else ("COMPUTED", "from formulas")
        under = 0.45 * sheet.scale + 0.16 * sheet.scale * figure.texts[0].get_text().count("\n")
        tag(figure, sheet, word, under, f"{how}; whiskers: own noise 10 dB higher and lower")
        widest = max((label for panel in panels for label in panel.labels), key=len)
        room = min(text_width(widest, sheet.points) + 0.12 * sheet.scale, 0.42 * sheet.width / len(panels))
        whole = sheet.width
        figure.subplots_adjust(left=room / whole, wspace=1.25 * room / (whole / len(panels) - room), right=0.97)
        for ax, panel in zip(axes, panels, strict=True):
            _bars(ax, sheet, panel, room)
        return sheet.finish(figure, formulas=not simulated)


def _bars(axes: Any, sheet: Sheet, panel: Panel, room: float) -> None:
    place = np.arange(len(panel.labels))[::-1]
    value, low, high = (np.nan_to_num(np.array(side)) for side in (panel.value, panel.low, panel.high))
    axes.barh(place, value, 0.62, color=sheet.series(0)["color"], gid="bars")
    spread = [np.maximum(value - low, 0.0), np.maximum(high - value, 0.0)]
    axes.errorbar(value, place, xerr=spread, fmt="none", ecolor=sheet.inks.ink, elinewidth=0.7 * sheet.scale,
                  capsize=2 * sheet.scale)  # fmt: skip
    axes.set_yticks(place, panel.labels)
    for label in axes.get_yticklabels():
        label.set_fontsize(fit_points(label.get_text(), sheet.points, room - 0.08 * sheet.scale))
    end = 1.08 * max(float(value.max()), float(high.max()), 1e-3)
    axes.set_xlim(0.0, end)
    unit_ticks(axes, "x", sheet.units, (0.0, end), most=5)
    axes.set_xlabel(f"{panel.title} ({words.UNITS[sheet.units][1]})")
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def caption(panels: Sequence[Panel], title: str, units: Units = "m", simulated: bool = False) -> str:
    """Return the caption with every number; simulated: by passes, not by formulas."""
    parts = []
    for panel in panels:
        each = [f"{n} {words.length(v, units)}" for n, v in zip(panel.labels, panel.value, strict=True)]
        parts.append(f"{panel.title}: {words.listed(each)}")
    how = "Simulated" if simulated else "Computed from formulas"
    return f"{title}. {'. '.join(parts)}. Whiskers: own noise 10 dB higher and lower. {how}, not measured."


#: The alternative text, of the same arguments.
alt = words.opened("Bars, one for each thing compared.", caption)
