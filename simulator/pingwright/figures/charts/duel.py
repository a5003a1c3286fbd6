"""Chirp against plain ping: the mean echo of one fish above the bottom, for each element with both pulses."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from pingwright import palette, words
from pingwright.figures.charts import lines
from pingwright.figures.compare import scales
from pingwright.figures.style.sheet import Sheet, Size, headline
from pingwright.measure.duel import Duel, Ping
from pingwright.palette import Theme
from pingwright.words import Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

#: Ends of the scale of echo strength [dB re 1 m2]: an echogram's, and what lies under its floor.
LIMITS = (-80.0, 10.0)


def duel(
    duels: Sequence[Duel],
    height: float,
    theme: Theme = "light",
    units: Units = "m",
    size: Size = "two-column",
    faces: tuple[palette.Face, ...] = (),
) -> "Figure":
    """Return one panel for each element; height [m] of the fish above the bottom."""
    sheet = Sheet(theme, units, size, faces)
    abreast = 2 if size == "one-column" else 3
    with sheet.drawing():
        figure, axes = lines.grid(sheet, len(duels), abreast, (2.5 if len(duels) <= abreast else 1.8, 0.62, 0.42))
        for index, ((ax, ends), one) in enumerate(zip(axes, duels, strict=True)):
            _panel(ax, sheet, one, index, height, ends)
        headline(figure, sheet, _headline(duels, height, sheet), 0.2 * sheet.scale)
        plain = words.digits(duels[0].plain.length * 1e3)
        note = f"Filled: chirp; dashed: a plain ping of {plain} ms at the band's centre. Triangle: the fish."
        return sheet.finish(
            figure,
            extra=f"{note} Shaded: weaker than echograms show. Means of many pings, flat bottom.",
            formulas=True,
        )


def _headline(duels: Sequence[Duel], height: float, sheet: Sheet) -> str:
    near = sheet.near().units
    fine, plain = (_range([getattr(one, kind).resolution for one in duels], near) for kind in ("chirp", "plain"))
    return f"The chirp resolves {fine}, a plain ping {plain}"


def _range(values: Sequence[float], units: Units) -> str:
    """Return '1.5 cm', or '1.5 cm to 5.2 cm'."""
    low, high = (words.length(value, units) for value in (min(values), max(values)))
    return low if low == high else f"{low} to {high}"


def _panel(ax: "Axes", sheet: Sheet, one: Duel, index: int, height: float, ends: tuple[bool, bool]) -> None:
    inks, k, colour = sheet.inks, sheet.scale, sheet.series(index)["color"]
    ax.axvspan(LIMITS[0], palette.LEVEL_LIMITS[0], color=inks.line, alpha=0.35, lw=0, zorder=0)
    chirp = np.clip(one.chirp.level, LIMITS[0] - 5, None)
    ax.fill_betweenx(one.height, LIMITS[0] - 5, chirp, color=colour, alpha=0.45, lw=0)
    ax.plot(chirp, one.height, color=colour, lw=0.9 * k, gid=f"chirp {index}")
    plain = np.clip(one.plain.level, LIMITS[0] - 5, None)
    ax.plot(plain, one.height, color=inks.ink, lw=1.2 * k, ls=(0, (3, 1.4)), gid=f"plain {index}")
    ax.axhline(0, color=inks.muted, lw=0.7 * k, ls=(0, (4, 3)))
    ax.plot([LIMITS[1]], [height], marker="<", ms=5 * k, color=inks.ink, clip_on=False, ls="none", gid="fish")
    ax.set_xlim(*LIMITS)
    ax.set_ylim(float(one.height[-1]), float(one.height[0]))
    ticks = [-60, -40, -20, 0]
    ax.set_xticks(ticks, labels=[str(t).replace("-", "\u2212") for t in ticks])
    ax.set_xlabel("echo strength (dB)")
    span = (float(one.height[-1]), float(one.height[0]))
    left, right = scales.axis_units(sheet, flat=True)
    if ends[0]:
        scales.level_ticks(ax, sheet, "left", span, left, "above bottom")
    else:
        ax.set_yticks([])
    if ends[1] and right:
        scales.level_ticks(ax, sheet, "right", span, right, "")
    lines.panel_words(ax, sheet, one.name, index, _told(one, sheet.units))


def _told(one: Duel, units: Units) -> tuple[str, str]:
    """Return what the chirp gains, in two short texts: resolution beside that of the plain ping, and signal to noise.

    Ranges need the band of own noise beside them, which is too long for a panel: they stand in the caption.
    """
    near: Units = "ft" if units == "fathoms" else units
    fine = words.length(one.chirp.resolution, near), words.length(one.plain.resolution, near)
    return f"resolves {fine[0]}, plain {fine[1]}", f"{words.digits(one.gain)} dB more signal to noise"


def _pulse(kind: str, ping: Ping, units: Units, near: Units) -> str:
    """Return 'chirp of 1.5 ms, 1.5 cm fine, shows the fish to 310 m (260 to 350 m)'."""
    fine, far = words.length(ping.resolution, near), words.banded(ping.reach, ping.louder, ping.quieter, units)
    return f"{kind} of {words.digits(ping.length * 1e3)} ms, {fine} fine, shows the fish to {far}"


def caption(duels: Sequence[Duel], height: float, fish: str, ground: str, units: Units = "m") -> str:
    """Return the caption. fish: 'a fish of 40 cm'; ground: 'gravel 57 m below the transducer', in words."""
    near: Units = "ft" if units == "fathoms" else units
    of_each = [
        f"{one.name}: {_pulse('chirp', one.chirp, units, near)}; {_pulse('plain ping', one.plain, units, near)} at"
        f" {words.frequency(one.frequency)}; the chirp gains {words.digits(one.gain)} dB of signal to noise"
        for one in duels
    ]
    return (
        f"Mean echo of {fish}, {words.length(height, near)} above {ground}, with the element's own chirp and with a"
        f" plain ping of the same power at its band's centre. {'. '.join(of_each)}. In brackets: own noise 10 dB"
        " louder to 10 dB quieter. Computed from formulas, on the axis, over a flat bottom; single pings scatter"
        " about these means."
    )


#: The alternative text, of the same arguments.
alt = words.opened(
    "Echo strength against height above the bottom, a filled and a dashed curve for each element.", caption
)
