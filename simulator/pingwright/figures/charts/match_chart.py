"""The match chart: the water from the surface to the bottom, and where each candidate shows each species.

A column for each candidate; in it two bars for each species: detected left, separated right. Shade is probability.
"""

import re
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, cast

import numpy as np
from numpy.typing import NDArray

from pingwright import words
from pingwright.figures.charts import lines
from pingwright.figures.style.lettering import fit_points, shorten, text_width
from pingwright.figures.style.sheet import Sheet, Size, figure_of, tag
from pingwright.figures.style.ticks import depth_axis
from pingwright.palette import Theme
from pingwright.words import Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.gridspec import SubplotSpec

FloatArray = NDArray[np.float64]

#: a share of fewer runs than this is uncertain
FEW = 8


def match_chart(
    depth: FloatArray,
    candidates: Sequence[str],
    species_list: Sequence[str],
    detected: FloatArray,
    separated: FloatArray,
    title: str,
    bottom: tuple[float, float] | None = None,
    theme: Theme = "light",
    units: Units = "m",
    size: Size = "two-column",
    scores: Sequence[str] = (),
    stood: FloatArray | None = None,
    simulated: bool = True,
) -> "Figure":
    """Return the chart of probabilities over depth.

    depth (n + 1) [m]: edges, from where fish live down; detected, separated (candidate, species, n): 0..1, nan where
    the species does not live. bottom [m]: of the day, from the shallowest to the deepest, default the last edge.
    scores (candidate): in words, written under the names; stood (species, n): how many fish were tried in a cell;
    cells of fewer than FEW are pale. simulated: by passes, not by formulas. Water above all fish is left out. Raises
    ValueError where shapes do not fit.
    """
    sheet = Sheet(theme, units, size)
    shape = (len(candidates), len(species_list), len(depth) - 1)
    if detected.shape != shape or separated.shape != shape:
        message = (
            f"detected, separated must be (candidate, species, depth) {shape}, not {detected.shape}, {separated.shape}"
        )
        raise ValueError(message)
    high, floor = (float(depth[-1]), float(depth[-1])) if bottom is None else bottom
    firm = np.ones(shape[1:], dtype=bool) if stood is None else stood >= FEW
    top = _top(depth, np.stack([detected, separated]), floor)
    with sheet.drawing():
        k = sheet.scale
        figure, axes = sheet.simple(4.1 * k, len(candidates), title, stack=False, sharey=True)
        width, height = figure.get_size_inches()
        over = (0.94 if any(" + " in name for name in candidates) else 0.78) + 0.17 * bool(scores)
        figure.subplots_adjust(wspace=0.12, right=1 - (1.15 if units == "m" else 0.75) * k / width)
        room = axes[0].get_position().width * width
        under = 0.74 + 0.13 * max(name.count("\n") + 1 for name in _species_names(sheet, species_list, room)[1])
        figure.subplots_adjust(top=1 - (over + lines.more(figure)) * k / height, bottom=under * k / height)
        scores = _fitting(sheet, scores, room)
        for index, ax in enumerate(axes):
            chance = np.stack([detected[index], separated[index]], axis=1)
            mesh = _column(ax, sheet, depth, (high, floor, top), chance, firm)
            _heading(ax, sheet, candidates[index], scores, index)
            _species_list(ax, sheet, species_list, room)
        word, how = ("SIMULATED", "passes of a boat over the same fish") if simulated else ("COMPUTED", "from formulas")
        scored = " Under each name: its score" + (", with its interval." if "(" in "".join(scores) else ".")
        tag(figure, sheet, word, (0.43 + lines.more(figure)) * k, how)
        limits = (floor + 0.04 * (floor - top), top)
        depth_axis(axes[0], sheet, limits, "left", "depth")
        depth_axis(axes[-1], sheet, limits, "right", "depth")
        place = (1 - 0.5 * k / width, 0.9 * k / height, 0.1 * k / width, 1 - 1.9 * k / height)
        bar = figure.colorbar(mesh, cax=figure.add_axes(place))
        bar.set_ticks([0, 0.5, 1], labels=["0", ".5", "1"])
        bar.ax.set_title("prob.", size=sheet.points * 0.9, loc="left")
        return sheet.finish(
            figure, extra=_note((high, floor), firm, units, scored if scores else ""), formulas=not simulated
        )


def _note(bottom: tuple[float, float], firm: NDArray[np.bool_], units: Units, scored: str) -> str:
    high, floor = bottom
    ground = f" Bottom: {words.length(high, units)} to {words.length(floor, units)}." if high < floor else ""
    pale = f" Pale: fewer than {FEW} fish stood there." if not firm.all() else ""
    return f"Left bar: detected; right bar: separated from the bottom.{ground}{scored}{pale}"


def _heading(ax: "Axes", sheet: Sheet, name: str, scores: Sequence[str], index: int) -> None:
    """Write a candidate's name and its score above its column."""
    room, k = ax.get_position().width * figure_of(ax).get_size_inches()[0], sheet.scale
    rows = name.replace(" + ", " +\n").split("\n")
    points = min(fit_points(row, sheet.points * 1.05, room, bold=True) for row in rows)
    text = "\n".join(shorten(row, points, room, bold=True) for row in rows)
    ax.set_title(text, size=points, weight="bold", loc="left", pad=(12 if scores else 4) * k)
    if not scores:
        return
    small = min(fit_points(each, sheet.points * 0.9, room, least=sheet.least) for each in scores)
    place: dict[str, Any] = {"xycoords": "axes fraction", "textcoords": "offset points", "size": small, "gid": "score"}
    ax.annotate(scores[index], (0, 1), (0, 3 * k), **place)


def _fitting(sheet: Sheet, scores: Sequence[str], room: float) -> list[str]:
    """Return the longest form of scores that fits every column: with intervals, without the word, only the number."""
    forms = [list(scores), [each.removeprefix("score ") for each in scores], [each.split()[1] for each in scores]]
    fits = [form for form in forms if all(text_width(each, sheet.least) < room for each in form)]
    return (fits or forms[-1:])[0]


def _top(depth: FloatArray, chance: FloatArray, floor: float) -> float:
    """Return where the drawn water begins [m]: a little above the shallowest fish, the surface where it is near."""
    lives = np.flatnonzero(np.isfinite(chance).any(axis=(0, 1, 2)))
    first = float(depth[lives[0]]) if len(lives) else 0.0
    top = first - 0.08 * (floor - first)
    return top if top > 0.25 * floor else 0.0


def _column(
    ax: "Axes",
    sheet: Sheet,
    depth: FloatArray,
    bottom: tuple[float, float, float],
    chance: FloatArray,
    firm: NDArray[np.bool_],
) -> Any:
    """Draw one candidate: chance (species, 2, n) as bars in the water over the bottom; returns the last mesh.

    bottom [m]: the day's shallowest and deepest, and where the drawn water begins; firm (species, n): what is not pale.
    """
    count = len(chance)
    high, floor, above = bottom
    ax.set_facecolor(sheet.inks.water)
    ax.axhspan(high, floor, color=sheet.inks.ground, alpha=0.45, lw=0, zorder=0)
    mesh = ax.pcolormesh(
        [0, 0.01], depth[:2], [[np.nan]], cmap=sheet.level_map().with_extremes(bad="none"), vmin=0, vmax=1
    )
    for species in range(count):
        for which in range(2):
            left = species + (0.1 if which == 0 else 0.52)
            cells = np.ma.masked_invalid(chance[species, which][:, None])
            lives = np.flatnonzero(~np.ma.getmaskarray(cells)[:, 0])
            if not len(lives):
                continue
            top, foot = depth[lives[0]], min(depth[lives[-1] + 1], floor)
            mesh = ax.pcolormesh(
                [left, left + 0.38], depth, cells, cmap=sheet.level_map().with_extremes(bad="none"), vmin=0, vmax=1,
                gid=f"{('detected', 'separated')[which]} {species}",
                alpha=cast("float", np.where(firm[species], 1.0, 0.3)[:, None]),  # or an array
            )  # fmt: skip
            ax.plot(
                [left, left + 0.38, left + 0.38, left, left], [top, top, foot, foot, top],
                color=sheet.inks.muted, lw=0.5 * sheet.scale,
            )  # fmt: skip
    foot = floor + 0.04 * (floor - above)
    ax.axhspan(floor, foot, color=sheet.inks.ground, lw=0, zorder=3)
    ax.set_xlim(0, count)
    ax.set_ylim(foot, above)
    return mesh


def _species_list(ax: "Axes", sheet: Sheet, species_list: Sequence[str], room: float) -> None:
    """Write the name of each species under its bars, and the meaning of the bars."""
    each = room / len(species_list)
    small, names = _species_names(sheet, species_list, room)
    ax.set_xticks([])
    ax.tick_params(left=cast("SubplotSpec", ax.get_subplotspec()).is_first_col())
    for index, name in enumerate(names):
        for place, word in ((0.29, "detected"), (0.71, "separated")):
            ax.annotate(
                word[0].upper() if each < 1.1 * sheet.scale else word, (index + place, 0), (0, -2.5 * sheet.scale),
                xycoords=("data", "axes fraction"), textcoords="offset points", ha="center", va="top",
                size=sheet.points * 0.82, color=sheet.inks.muted,
            )  # fmt: skip
        ax.annotate(
            name, (index + 0.5, 0), (0, -13 * sheet.scale),
            xycoords=("data", "axes fraction"), textcoords="offset points", ha="center", va="top", size=small,
        )  # fmt: skip


def _species_names(sheet: Sheet, species_list: Sequence[str], room: float) -> tuple[float, list[str]]:
    """Return the size [pt] of the species' names and the names, broken to fit a column of a width [inch]."""
    each = room / len(species_list)
    small = min(fit_points(word, sheet.points * 0.9, each) for name in species_list for word in re.split("[ -]", name))
    return small, [_wrapped(name, small, each) for name in species_list]


def _wrapped(name: str, points: float, width: float) -> str:
    """Return a name [pt] on at most three lines of a width [inch], cut where it does not fit."""
    letters = max(int(width / text_width("o", points)), 1)
    rows = textwrap.wrap(name, letters, max_lines=3, placeholder="\u2026", break_long_words=False)
    return "\n".join(shorten(row, points, width) for row in rows)


def caption(
    depth: FloatArray,
    candidates: Sequence[str],
    species_list: Sequence[str],
    detected: FloatArray,
    separated: FloatArray,
    title: str,
    units: Units = "m",
    scores: Sequence[str] = (),
    simulated: bool = True,
) -> str:
    """Return the caption: mean probabilities of each candidate for each species, and its score."""
    texts = []
    for c, candidate in enumerate(candidates):
        parts = [
            f"{species} detected {words.digits(_mean(detected[c, q]))}, "
            f"separated {words.digits(_mean(separated[c, q]))}"
            for q, species in enumerate(species_list)
        ]
        score = f"{scores[c]}; " if scores else ""
        texts.append(f"{candidate}: {score}{'; '.join(parts)}")
    top = _top(depth, np.stack([detected, separated]), float(depth[-1]))
    first = words.length(top, units) if top > 0 else "the surface"
    return (
        f"{title}. Water from {first} to {words.length(float(depth[-1]), units)}; shade is the probability that a pass"
        " detects (left) and separates from the bottom (right) a fish of each species. Means:"
        f" {'. '.join(texts)}. {'Simulated' if simulated else 'Computed from formulas'}."
    )


#: The alternative text, of the same arguments.
alt = words.opened("A chart with depth downwards, a column for each candidate.", caption)


def _mean(values: FloatArray) -> float:
    return float(np.nanmean(values)) if np.isfinite(values).any() else float("nan")
