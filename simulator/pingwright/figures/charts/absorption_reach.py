"""Absorption by frequency with the elements' bands on it, and how deep each element reaches."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright import palette, words
from pingwright.figures.charts import lines
from pingwright.figures.charts.reach import LINES, Banded, noise_band
from pingwright.figures.style.lettering import fit_points, shorten
from pingwright.figures.style.sheet import Sheet, Size, figure_of
from pingwright.figures.style.ticks import unit_ticks
from pingwright.palette import Theme
from pingwright.words import UNITS, Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]


def absorption_reach(
    frequency: FloatArray,
    absorption: Mapping[str, FloatArray],
    bands: Mapping[str, tuple[float, float]],
    reach: Mapping[str, Banded],
    theme: Theme = "light",
    units: Units = "m",
    size: Size = "two-column",
    fish: str = "the fish",
    faces: tuple[palette.Face, ...] = (),
) -> "Figure":
    """Return absorption against frequency (left) and reach by element (right).

    frequency (n) [Hz]; absorption: name of a water -> (n) [dB/m]; bands: element -> (low, high) [Hz]; reach: element ->
    depth [m] with own noise as given, 10 dB higher, 10 dB lower, nan if unknown; fish: the fish for which it holds, in
    words.
    """
    sheet = Sheet(theme, units, size, faces)
    with sheet.drawing():
        columns, head = lines.room_above(sheet, [*absorption, *bands])
        stacked, names = size == "one-column", 0.14 * sheet.scale
        figure, (left, right) = sheet.simple(
            2.9 * sheet.scale, 2, "What the water takes, and how deep is left", head=names + (0.0 if stacked else head)
        )
        if stacked:
            lines.lift(figure, sheet, head)
        for index, (water, values) in enumerate(absorption.items()):
            dashes = {"linestyle": "-"} if index == 0 else {"linestyle": (0, (4, 2))}
            left.loglog(
                frequency / 1e3,
                values * 1e3,
                color=sheet.inks.ink,
                label=lines.as_label(water),
                **dashes,
                gid=f"water {index}",
            )
        first = next(iter(absorption.values()))
        for index, (name, (low, high)) in enumerate(bands.items()):
            inside = np.linspace(low, max(high, low * 1.005), 40)
            level = np.exp(np.interp(np.log(inside), np.log(frequency), np.log(first))) * 1e3
            colour = sheet.series(index)["color"]
            left.fill_between(inside / 1e3, 1e-6, level, color=colour, alpha=0.3, lw=0, label=lines.as_label(name))
        lines.dress(left, "frequency (kHz)", "absorption (dB/km)")
        _ticks(left, frequency / 1e3, np.concatenate(list(absorption.values())) * 1e3)
        lines.legend_above(figure, sheet, left.get_legend_handles_labels()[0], columns)
        _bars(right, sheet, reach)
        note = f"Detection range: one ping detects {fish} with probability 0.5. {LINES}"
        return sheet.finish(figure, extra=note, formulas=True)


def _ticks(ax: "Axes", frequency: FloatArray, span: FloatArray) -> None:
    """Set limits and round ticks over frequency [kHz] and the span of absorption [dB/km] shown."""
    low, high = span.min() * 0.8, span.max() * 1.25
    ax.set_ylim(low, high)
    ax.set_xlim(frequency[0], frequency[-1])
    ticks = [f for f in (10, 20, 50, 100, 200, 500, 1000) if frequency[0] <= f <= frequency[-1]]
    ax.set_xticks(ticks, labels=[str(t) for t in ticks])
    ax.xaxis.set_minor_formatter(lambda *_: "")
    rounds = [m * 10.0**p for p in range(-4, 5) for m in (1, 2, 5) if low <= m * 10.0**p <= high]
    powers = [value for value in rounds if round(np.log10(value), 9) % 1 == 0]
    chosen = powers if len(powers) > 2 else rounds
    ax.set_yticks(chosen, labels=[words.digits(value, 1) for value in chosen])
    ax.yaxis.set_minor_formatter(lambda *_: "")


def _bars(ax: "Axes", sheet: Sheet, reach: Mapping[str, Banded]) -> None:
    """Draw detection range downwards from the surface, one bar for each element."""
    values = np.nan_to_num(np.array(list(reach.values())).reshape(-1, 3))
    deep = 1.15 * max(float(values.max(initial=1.0)), 1.0)
    room = ax.get_position().width * figure_of(ax).get_size_inches()[0] / max(len(reach), 1) * 0.92
    small = min((fit_points(name, sheet.points * 0.95, room, least=5.2) for name in reach), default=sheet.points)
    for index, (name, (value, *band)) in enumerate(zip(reach, values, strict=True)):
        ax.bar(index, value, width=0.62, color=sheet.series(index)["color"], gid=f"reach {index}")
        text = words.length(value, sheet.units) if value else "unknown"
        if all(band):
            noise_band(ax, sheet, index, (band[0], band[1]))
        ax.text(index, max(value, *band) + 0.02 * deep, text, ha="center", va="top", size=sheet.points * 0.95)
        ax.text(index, -0.02 * deep, shorten(name, small, room), ha="center", va="bottom", size=small)
    lines.dress(ax, "", "")
    ax.grid(visible=False, axis="x")
    ax.set_ylim(deep, 0)
    unit_ticks(ax, "y", sheet.units, (0, deep))
    ax.set_ylabel(f"detection range ({UNITS[sheet.units][1]})")
    ax.set_xlim(-0.6, len(values) - 0.4)
    ax.set_xticks([])
    ax.spines["bottom"].set_visible(False)


def caption(
    frequency: FloatArray,
    absorption: Mapping[str, FloatArray],
    reach: Mapping[str, Banded],
    units: Units = "m",
    fish: str = "the fish",
) -> str:
    """Return the caption: absorption at the ends of the chart and detection range by element."""
    parts = [
        f"{name}: {words.digits(float(a[0]) * 1e3)} dB/km at {words.frequency(float(frequency[0]))},"
        f" {words.digits(float(a[-1]) * 1e3)} dB/km at {words.frequency(float(frequency[-1]))}"
        for name, a in absorption.items()
    ]
    deep = [f"{name} {words.banded(*depths, units)}" for name, depths in reach.items()]
    return (
        f"Absorption ({'; '.join(parts)}) and detection range, the depth at which one ping detects {fish} with"
        " probability 0.5:"
        f" {words.listed(deep)}. In brackets: own noise 10 dB louder to 10 dB quieter. Computed from formulas."
    )


#: The alternative text, of the same arguments.
alt = words.opened("A rising curve with the bands of the elements on it, and bars of detection range.", caption)
