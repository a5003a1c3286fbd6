"""What goes beyond the verdicts, for the first claim about parting and all elements of its scenario, drawn and told."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Protocol, TypeVar

import numpy as np

from pingwright import files
from pingwright.claims import lots, sweeps
from pingwright.claims.question import Question, everyone
from pingwright.claims.sweeps import Depths, Heights, Inverse, Map
from pingwright.markdown import pasted, plain
from pingwright.measure.intervals import clopper_pearson

MAP, DETECTED, SMALLEST, INVERSE = "map.png", "detected-depth.png", "smallest-fish.png", "inverse.png"
HEIGHT = {"depth": "least-height-depth.png", "slope": "least-height-slope.png", "sediment": "least-height-sediment.png"}
NAMES = (MAP, *HEIGHT.values(), DETECTED, SMALLEST, INVERSE)
UNITS = {"depth": "m", "slope": "deg", "sediment": ""}
#: The probability the inverse chart draws its line at where the claim names none.
WANTED = 0.9


Sweep = TypeVar("Sweep", Map, Heights, Depths)


@dataclass(frozen=True)
class Beyond:
    """What was found about one claim, its number counted from 1.

    map: of its first element; heights, depths: of all elements of the scenario, which question holds; inverse: chart
    with a line at the probability wanted.
    """

    number: int
    question: Question
    map: Map
    heights: tuple[Heights, ...]
    depths: Depths
    inverse: Inverse
    wanted: float

    @property
    def elements(self) -> tuple[str, ...]:
        """Names of the elements compared."""
        return self.question.elements


class Kept(Protocol):
    """Where sweeps are kept, so that a stopped run goes on: see `pipeline.State`."""

    def sweep(self, name: str) -> Mapping[str, Any] | None:
        """Return the fields of a sweep, if it is there."""

    def keep_sweep(self, name: str, fields: Mapping[str, Any]) -> None:
        """Keep the fields of a sweep."""


def subject(wanted: tuple[Question, ...]) -> int | None:
    """Return the index of the claim to go beyond, about parting a fish above a bottom of one depth.

    The first that leaves the place open, for then the beam counts; else the first.
    """
    fit = [
        index
        for index, q in enumerate(wanted)
        if q.measure == "separated" and q.species.above_bottom is not None and q.scenario.seabed.depth is not None
    ]
    return next((index for index in fit if wanted[index].place is None), fit[0] if fit else None)


def find(
    asked: Any,
    wanted: tuple[Question, ...],
    seed: int,
    confidence: float,
    threads: int | None,
    tell: Callable[[int, int], None],
    kept: Kept | None = None,
) -> Beyond | None:
    """Return what goes beyond the verdicts, or None where no claim is about parting.

    asked: inputs.claims.ClaimsFile; wanted: its questions; tell(done, total): progress; kept: sweeps of a stopped run,
    and where to keep those that are made.
    """
    index = subject(wanted)
    if index is None:
        return None
    question, every = wanted[index], everyone(asked, wanted[index], index)
    at = lots.stage(question.scenario, question.keep_structures)
    heights = []
    for done, over in enumerate(HEIGHT):
        tell(done, len(HEIGHT) + 2)
        heights.append(
            _once(
                kept,
                f"height over {over}",
                Heights,
                partial(sweeps.least_heights, every, over, seed, confidence, threads),
            )
        )
    tell(len(HEIGHT), len(HEIGHT) + 2)
    depths = _once(kept, "depth", Depths, partial(sweeps.over_depth, every, seed, confidence, threads))
    tell(len(HEIGHT) + 1, len(HEIGHT) + 2)
    found = _once(kept, "map", Map, partial(sweeps.place_map, question, at, seed, threads))
    bound = question.at_least if question.at_least is not None and not question.is_difference else WANTED
    bound = min(max(bound, 0.5), 0.95)
    return Beyond(index + 1, every, found, tuple(heights), depths, sweeps.inverse(question, at), bound)


def _once(kept: Kept | None, name: str, kind: type[Sweep], make: Callable[[], Sweep]) -> Sweep:
    """Return a sweep that a stopped run has left, or make it and leave it."""
    fields = None if kept is None else kept.sweep(name)
    if fields is not None:
        return kind(**{key: _again(value) for key, value in fields.items()})
    made = make()
    if kept is not None:
        kept.keep_sweep(name, vars(made))
    return made


def _again(value: Any) -> Any:
    """Return a field as it was before it was kept: lists of names as tuples, of numbers as arrays."""
    if not isinstance(value, list):
        return value
    return tuple(value) if not value or isinstance(value[0], str) else np.array(value, dtype=np.float64)


def draw(found: Beyond, folder: Path, carried: Any) -> None:
    """Write the figures; carried: what they hold of the claims file (figures.embed.Carried)."""
    from pingwright.figures import save

    said = texts(found)
    for file, figure in _figures(found).items():
        with files.replacing(folder / file) as part:
            save.save(figure, part, carried, said[file])


def texts(found: Beyond) -> dict[str, str]:
    """Return what is said of each figure, its caption and its alternative text in one."""
    from pingwright.figures.charts import probability

    across, along, depth = _axes(found)
    said = {MAP: probability.map_caption(across, along, found.map.chance, _titles(found)[MAP])}
    for heights in found.heights:
        said[HEIGHT[heights.over]] = _told(heights, found)
    said[DETECTED] = probability.alt(depth, _detected(found), _titles(found)[DETECTED])
    said[SMALLEST] = _told(found.depths, found)
    said[INVERSE] = f"{_titles(found)[INVERSE]}: closed form. {_good(found)} Simulated."
    return said


def _titles(found: Beyond) -> dict[str, str]:
    return {
        MAP: f"Where {found.elements[0]} parts the fish of claim {found.number}",
        DETECTED: f"How deep the fish of claim {found.number} is detected",
        INVERSE: f"Which beam and band would part the fish of claim {found.number}",
    }


def _axes(found: Beyond) -> tuple[Any, Any, Any]:
    """Return the axes of map (across, along) and depth, as figures.probability takes them."""
    from pingwright.figures.charts.probability import Axis

    depth = Axis("depth of the fish", found.depths.points, log=True)
    return Axis("across", found.map.across), Axis("along", found.map.along), depth


def _figures(found: Beyond) -> dict[str, Any]:
    """Return each figure."""
    from pingwright.figures.charts import probability
    from pingwright.figures.charts.probability import Axis

    across, along, depth = _axes(found)
    title = _titles(found)
    drawn = {MAP: probability.chance_map(across, along, found.map.chance, title[MAP])}
    for heights in found.heights:
        axis = Axis(_of_bottom(heights), heights.points, UNITS[heights.over], names=heights.names)
        named = f"Least height above the bottom that is separated, over {heights.over}"
        value, theory = _named(found, heights.value), _named(found, heights.theory)
        drawn[HEIGHT[heights.over]] = probability.least_height(axis, value, named, theory=theory)
    curves, theory = _detected(found), _named(found, found.depths.chance)
    drawn[DETECTED] = probability.curves(depth, curves, title[DETECTED], wanted=0.5, theory=theory, level="one half")
    value, theory = _named(found, found.depths.smallest), _named(found, found.depths.theory)
    what = "length of the fish", "detects"
    drawn[SMALLEST] = probability.least_height(depth, value, "Smallest fish over depth", theory=theory, what=what)
    width = Axis("beam width", found.inverse.width, "deg", log=True)
    resolution = Axis("resolution c/2B", found.inverse.resolution, log=True)
    points = found.inverse.elements
    drawn[INVERSE] = probability.inverse(
        width, resolution, found.inverse.chance, points, title[INVERSE], level=found.wanted
    )
    return drawn


def _named(found: Beyond, rows: Any) -> dict[str, Any]:
    """Return rows (element, point) by the element's name."""
    return dict(zip(found.elements, rows, strict=True))


def _detected(found: Beyond) -> dict[str, Any]:
    from pingwright.figures.charts.probability import Curve

    drawn, depths = {}, found.depths
    for name, hits in zip(found.elements, depths.hits, strict=True):
        low, high = np.array([clopper_pearson(int(h), depths.runs) for h in hits]).T
        drawn[name] = Curve(hits / depths.runs, low, high)
    return drawn


def _of_bottom(heights: Heights) -> str:
    return "sediment" if heights.names else f"{heights.over} of the bottom"


def _told(rows: Heights | Depths, found: Beyond) -> str:
    """Return least heights, or smallest fish, of every element in words, with the closed form beside each."""
    if isinstance(rows, Heights):
        what, value, points = f"Least height separated with probability 0.5 over {rows.over}", rows.value, _points(rows)
    else:
        what, value = "Smallest fish detected with probability 0.5 over depth", rows.smallest
        points = tuple(f"{p:g} m" for p in rows.points)
    said = []
    for row, element in enumerate(found.elements):
        pairs = zip(points, value[row], rows.theory[row], strict=True)
        said.append(f"{element}: " + ", ".join(f"{p} {_cm(v)} (closed form {_cm(t)})" for p, v, t in pairs))
    return f"{what}. {'; '.join(said)}. Simulated."


def _points(heights: Heights) -> tuple[str, ...]:
    return heights.names or tuple(f"{p:.3g} {UNITS[heights.over]}" for p in heights.points)


def _cm(value: float) -> str:
    return f"{100 * value:.3g} cm" if np.isfinite(value) else "–"


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
    lines = [
        "",
        "## Beyond the verdicts",
        "",
        f"The fish of claim {found.number} under {plain(', '.join(found.elements))}.",
    ]
    for heights in found.heights:
        lines += _table(f"least height over {heights.over}", _points(heights), found.elements, heights)
    depths = tuple(f"{p:g} m" for p in found.depths.points)
    lines += _table("smallest fish over depth", depths, found.elements, found.depths)
    lines += ["", "At least and at most bound the interval: the values tried beyond which the answer is certain; –"]
    lines[-1] += " where those tried do not enclose it."
    lines += ["", f"The question turned round, by the fine closed form: {_good(found)}"]
    for file, said in texts(found).items():
        lines += ["", f"![{plain(said)}]({file})", "", *pasted("Caption and alternative text", said)]
    return lines


def _table(title: str, points: tuple[str, ...], elements: tuple[str, ...], rows: Heights | Depths) -> list[str]:
    value = rows.value if isinstance(rows, Heights) else rows.smallest
    lines = ["", f"| {title} | " + " | ".join(points) + " |", "|---" * (len(points) + 1) + "|"]
    for row, element in enumerate(elements):
        sides = {"simulated": value, "at least": rows.low, "at most": rows.high, "closed form": rows.theory}
        for name, side in sides.items():
            lines.append(f"| {plain(element)}, {name} | " + " | ".join(_cm(v) for v in side[row]) + " |")
    return lines


def as_data(found: Beyond) -> dict[str, Any]:
    """Return what claims.json holds of it; None where a number is not enclosed."""

    def sides(rows: Heights | Depths, value: Any) -> dict[str, Any]:
        return {
            "value": _plain(value),
            "low": _plain(rows.low),
            "high": _plain(rows.high),
            "theory": _plain(rows.theory),
        }

    depths = found.depths
    return {
        "claim": found.number,
        "elements": list(found.elements),
        "least_height": {h.over: {"points": list(_points(h)), **sides(h, h.value)} for h in found.heights},
        "detected": {"depth": _plain(depths.points), "value": _plain(depths.hits / depths.runs),
                     "theory": _plain(depths.chance), "runs": depths.runs},
        "smallest_fish": {"depth": _plain(depths.points), **sides(depths, depths.smallest)},
        "map": {"element": found.elements[0], "across": _plain(found.map.across), "along": _plain(found.map.along),
                "chance": _plain(found.map.chance)},
        "inverse": {"beam_width": _plain(found.inverse.width), "resolution": _plain(found.inverse.resolution),
                    "chance": _plain(found.inverse.chance), "elements": found.inverse.elements},
    }  # fmt: skip


def _plain(values: Any) -> Any:
    if np.ndim(values) == 0:
        return float(values) if np.isfinite(values) else None
    return [_plain(v) for v in values]
