"""Further figures of a stored record, each on its own, in the reader's format, size, theme and units.

Every figure comes with a caption and an alternative text written from its numbers; all stand in captions.md.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np

from simulator.echograms.record import Record
from simulator.errors import Fault, ScenarioError
from simulator.files import write_bytes, write_text
from simulator.measure.assessment import Assessment

CAPTIONS = "captions.md"
MOTION = "motion"


@dataclass(frozen=True)
class Look:
    """How the figures shall look. names: which, in order; format: png, svg or pdf (the moving picture: png)."""

    names: tuple[str, ...]
    format: str = "png"
    size: Literal["one-column", "two-column", "slide"] = "two-column"
    theme: Literal["light", "dark"] = "light"
    units: Literal["m", "ft", "fathoms"] = "m"

    @property
    def files(self) -> tuple[str, ...]:
        """Names of the files that will be written."""
        return (*(f"figure-{name}.{'png' if name == MOTION else self.format}" for name in self.names), CAPTIONS)


#: Figure (matplotlib), caption, alternative text.
Drawn = tuple[Any, str, str]


def _compare(record: Record, found: Assessment, look: Look) -> Drawn:
    from simulator.figures import compare as it

    figure = it.comparison(record, found, look.theme, look.units, look.size)
    return figure, it.caption(record, found, look.units), it.alt(record, found, look.units)


def _cutaway(record: Record, found: Assessment, look: Look) -> Drawn:
    from simulator.figures import cutaway as it

    figure = it.cutaway(record, look.theme, look.units, look.size)
    return figure, it.caption(record, look.units), it.alt(record, look.units)


def _ping(record: Record, found: Assessment, look: Look) -> Drawn:
    from simulator.figures import ping_curve as it

    figure = it.ping_curve(record, found, theme=look.theme, units=look.units, size=look.size)
    return figure, it.caption(record, found, units=look.units), it.alt(record, found, units=look.units)


def _beams(record: Record, found: Assessment, look: Look) -> Drawn:
    from simulator.figures import beams as it

    return it.beams(record, look.theme, look.size), it.caption(record), it.alt(record)


def _source(record: Record, found: Assessment, look: Look) -> Drawn:
    from simulator.figures import source as it

    return it.source(record, look.theme, look.size), it.caption(record), it.alt(record)


def _coverage(record: Record, found: Assessment, look: Look) -> Drawn:
    from simulator.figures import coverage as it

    deepest = max(float(element.bottom_depth.max() - element.info.transducer_depth) for element in record.elements)
    depth = np.linspace(0.02, 1.0, 50) * deepest
    wide = it.footprints(record, depth)
    figure = it.coverage(depth, wide, theme=look.theme, units=look.units, size=look.size)
    return figure, it.caption(depth, wide, units=look.units), it.alt(depth, wide, units=look.units)


def _pulse(record: Record, found: Assessment, look: Look) -> Drawn:
    from simulator.figures import pulse as it

    info = record.elements[0].info
    what = it.compression(
        info.pulse_length, info.band_high - info.band_low, info.weighting, sound_speed=info.assumed_sound_speed
    )
    return it.pulse(what, look.theme, look.units, look.size), it.caption(what, look.units), it.alt(what, look.units)


def _difference(record: Record, found: Assessment, look: Look) -> Drawn:
    from simulator.figures import difference as it

    figure = it.difference(record, theme=look.theme, units=look.units, size=look.size)
    return figure, it.caption(record), it.alt(record)


FIGURES: dict[str, Callable[[Record, Assessment, Look], Drawn]] = {
    "compare": _compare,
    "cutaway": _cutaway,
    "ping": _ping,
    "beams": _beams,
    "source": _source,
    "coverage": _coverage,
    "pulse": _pulse,
    "difference": _difference,
}


def possible(record: Record) -> tuple[str, ...]:
    """Return the names of all figures that this record allows: a difference needs two elements, a pulse a chirp."""
    first = record.elements[0].info
    left_out = {"difference"} if len(record.elements) < 2 else set()
    if first.band_high - first.band_low < 2.0 / first.pulse_length:
        left_out.add("pulse")
    return (*(name for name in FIGURES if name not in left_out), MOTION)


def chosen(record: Record, asked: str) -> tuple[str, ...]:
    """Return the figures asked for by a list of names with commas, or "all".

    Raises ScenarioError for a name that is none, or that this record does not allow.
    """
    known = possible(record)
    names = known if asked == "all" else tuple(dict.fromkeys(name.strip() for name in asked.split(",")))
    for name in names:
        if name not in known:
            allowed = f"allowed for these echograms: all, or names from {', '.join(known)}"
            raise ScenarioError([Fault("--figures", 0, "", f'found "{name[:40]}"; {allowed}')])
    return names


def write_figures(record: Record, found: Assessment, folder: Path, look: Look, carried: Any) -> None:
    """Write the figures of a look and captions.md into a folder, each file whole or not at all.

    carried: what each picture carries (figures.embed). Raises UnfinishedError where the disk is full.
    """
    from simulator.figures import motion, save

    said = [f"# Captions\n\nFigures of {record.title}, ready to paste. Simulated.\n"]
    for name, file in zip(look.names, look.files, strict=False):
        if name == MOTION:
            caption = alt = motion.alt(record)
            write_bytes(folder / file, motion.motion(record, found, theme=look.theme, units=look.units))
        else:
            figure, caption, alt = FIGURES[name](record, found, look)
            save.save(figure, folder / file, carried, alt)
        said.append(f"## {file}\n\nCaption:\n\n```text\n{caption}\n```\n\nAlternative text:\n\n```text\n{alt}\n```\n")
    write_text(folder / CAPTIONS, "\n".join(said))
