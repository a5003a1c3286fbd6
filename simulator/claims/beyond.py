"""What goes beyond the verdicts, for the first claim about parting: its map, least heights and the inverse chart."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from simulator import files
from simulator.claims import lots, sweeps
from simulator.claims.question import Question
from simulator.claims.sweeps import Heights, Inverse, Map

MAP, DEPTH, SLOPE, INVERSE = "map.png", "least-height-depth.png", "least-height-slope.png", "inverse.png"
NAMES = (MAP, DEPTH, SLOPE, INVERSE)
#: The probability the inverse chart draws its line at where the claim names none.
WANTED = 0.9


@dataclass(frozen=True)
class Beyond:
    """Number of the claim it is about, counted from 1; its map, least heights, inverse chart and wanted probability."""

    number: int
    question: Question
    map: Map
    heights: tuple[Heights, ...]
    inverse: Inverse
    wanted: float


def subject(wanted: tuple[Question, ...]) -> int | None:
    """Return the index of the claim to go beyond, about parting a fish above a bottom of one depth.

    The first that leaves the place open, for then the beam counts; else the first.
    """
    fit = [
        index
        for index, q in enumerate(wanted)
        if q.measure == "parted" and q.quarry.above_bottom is not None and q.scenario.seabed.depth is not None
    ]
    return next((index for index in fit if wanted[index].place is None), fit[0] if fit else None)


def find(
    wanted: tuple[Question, ...], seed: int, confidence: float, threads: int | None, tell: Callable[[int, int], None]
) -> Beyond | None:
    """Return what goes beyond the verdicts, or None where no claim is about parting. tell(done, total)."""
    index = subject(wanted)
    if index is None:
        return None
    question = wanted[index]
    at = lots.stage(question.scenario, question.keep_structures)
    tell(0, 4)
    heights = []
    for done, over in enumerate(("depth", "slope", "sediment"), 1):
        heights.append(sweeps.least_heights(question, over, seed, confidence, threads))
        tell(done, 4)
    found = sweeps.place_map(question, at, seed, threads)
    bound = question.at_least if question.at_least is not None and not question.is_difference else WANTED
    tell(4, 4)
    return Beyond(index + 1, question, found, tuple(heights), sweeps.inverse(question, at), min(max(bound, 0.5), 0.95))


def draw(found: Beyond, folder: Path, carried: Any) -> None:
    """Write the four figures; carried: what they hold of the claims file (figures.embed.Carried)."""
    from simulator.figures import probability, save
    from simulator.figures.probability import Axis

    name = found.question.elements[0]
    across, along = Axis("across", found.map.across), Axis("along", found.map.along)
    title = f"Where {name} parts the fish of claim {found.number}"
    figures = [(MAP, probability.chance_map(across, along, found.map.chance, title),
                probability.map_caption(across, along, found.map.chance, title))]  # fmt: skip
    for file, heights, unit in ((DEPTH, found.heights[0], "m"), (SLOPE, found.heights[1], "deg")):
        axis = Axis(f"{heights.over} of the bottom", heights.points, unit)
        lines = {}
        for row, element in enumerate(found.question.elements):
            lines[element] = heights.value[row]
            lines[f"{element}, closed form"] = heights.theory[row]
        title = f"Least height above the bottom that is parted, over {heights.over}"
        figures.append((file, probability.least_height(axis, lines, title), _told(heights, found.question)))
    width = Axis("beam width", found.inverse.width, "deg")
    resolution = Axis("resolution c/2B", found.inverse.resolution)
    title = f"Which beam and band would part the fish of claim {found.number}"
    chart = probability.inverse(
        width, resolution, found.inverse.chance, found.inverse.elements, title, level=found.wanted
    )
    figures.append((INVERSE, chart, f"{title}: closed form. {_good(found)} Simulated."))
    for file, figure, alt in figures:
        with files.replacing(folder / file) as part:
            save.save(figure, part, carried, alt)


def _told(heights: Heights, question: Question) -> str:
    said = []
    for row, element in enumerate(question.elements):
        pairs = zip(_points(heights), heights.value[row], heights.theory[row], strict=True)
        said.append(f"{element}: " + ", ".join(f"{p} {_cm(v)} (closed form {_cm(t)})" for p, v, t in pairs))
    return f"Least height parted with probability 0.5 over {heights.over}. {'; '.join(said)}."


def _points(heights: Heights) -> tuple[str, ...]:
    if heights.names:
        return heights.names
    unit = {"depth": "m", "slope": "deg"}[heights.over]
    return tuple(f"{p:.3g} {unit}" for p in heights.points)


def _cm(value: float) -> str:
    return f"{100 * value:.0f} cm" if np.isfinite(value) else "–"


def _good(found: Beyond) -> str:
    inside = found.inverse.chance >= found.wanted
    if not inside.any():
        return f"No beam and band on the chart reach probability {found.wanted:g}."
    widest = found.inverse.width[np.flatnonzero(inside.any(axis=0)).max()]
    coarsest = found.inverse.resolution[np.flatnonzero(inside.any(axis=1)).min()]
    return (
        f"Probability {found.wanted:g} needs a beam of at most {widest:.2g} deg and a resolution of at most"
        f" {100 * coarsest:.2g} cm, and not every pair of these will do."
    )


def as_text(found: Beyond) -> list[str]:
    """Return the lines of claims.md."""
    lines = ["", "## Beyond the verdicts", "", f"About claim {found.number}: {', '.join(found.question.elements)}."]
    for heights in found.heights:
        lines += ["", f"| least height over {heights.over} | " + " | ".join(_points(heights)) + " |"]
        lines.append("|---" * (len(heights.points) + 1) + "|")
        for row, element in enumerate(found.question.elements):
            for name, side in (("simulated", heights.value), ("low", heights.low), ("high", heights.high),
                               ("closed form", heights.theory)):  # fmt: skip
                lines.append(f"| {element}, {name} | " + " | ".join(_cm(v) for v in side[row]) + " |")
    lines += ["", "Low and high bound the interval: the heights tried beyond which the answer is certain.", ""]
    lines += [f"![Map over the beam]({MAP})", "", f"![Least height over depth]({DEPTH})", ""]
    lines += [f"![Least height over slope]({SLOPE})", ""]
    lines += [f"The question turned round, by closed form: {_good(found)}", "", f"![Inverse chart]({INVERSE})"]
    return lines


def as_data(found: Beyond) -> dict[str, Any]:
    """Return what claims.json holds of it; None where a number is not enclosed."""
    return {
        "claim": found.number,
        "least_height": {
            h.over: {"points": list(_points(h)), "elements": list(found.question.elements),
                     "value": _plain(h.value), "low": _plain(h.low), "high": _plain(h.high), "theory": _plain(h.theory)}
            for h in found.heights
        },
        "map": {"element": found.question.elements[0], "across": _plain(found.map.across),
                "along": _plain(found.map.along), "chance": _plain(found.map.chance)},
    }  # fmt: skip


def _plain(values: Any) -> Any:
    if np.ndim(values) == 0:
        return float(values) if np.isfinite(values) else None
    return [_plain(v) for v in values]
