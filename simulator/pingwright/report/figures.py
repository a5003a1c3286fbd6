"""Further figures of a stored record, one file each, in the reader's format, size, theme and units.

Every figure has a caption and an alternative text written from its numbers; captions.md holds all of them.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from pingwright import words
from pingwright.echograms.record import Record
from pingwright.errors import Fault, ScenarioError
from pingwright.files import write_bytes, write_text
from pingwright.inputs.fields import known
from pingwright.markdown import pasted, plain
from pingwright.measure.assessment import Assessment, ElementAssessment
from pingwright.measure.duel import is_chirp
from pingwright.report import scene

if TYPE_CHECKING:
    from pingwright.figures.style.view import View

CAPTIONS, PICTURE = "captions.md", "compare.png"
COMPARE, MOTION = "compare", "motion"


@dataclass(frozen=True)
class Look:
    """The style of the figures. names: the figures, in order; format: png, svg or pdf (the moving picture: png)."""

    names: tuple[str, ...]
    format: str = "png"
    size: Literal["one-column", "two-column", "slide"] = "two-column"
    theme: Literal["light", "dark"] = "light"
    units: Literal["m", "ft", "fathoms"] = "m"
    #: window and words of every figure, as a `figures.view.View`; None: the whole and ours
    view: "View | None" = None

    def file(self, name: str) -> str:
        """Return the name of a figure's file: the comparison in its usual style is compare.png itself."""
        if name == COMPARE and self == Look(self.names, units=self.units, view=self.view) and not _asked(self.view):
            return PICTURE
        return f"figure-{name}.{'png' if name == MOTION else self.format}"

    @property
    def files(self) -> tuple[str, ...]:
        """Names of the files to write, besides compare.png, which is always written."""
        return (*(file for file in map(self.file, self.names) if file != PICTURE), CAPTIONS)


def _asked(view: "View | None") -> bool:
    """Return whether a view differs from what every comparison has: a window, words or marks of the reader's own."""
    return view is not None and bool(view.depth or view.along or view.headline or view.note or not view.marks)


#: Figure (of a library that `figures` alone may name), caption, alternative text.
Drawn = tuple[Any, str, str]


def _faces(record: Record) -> Any:
    """Return what the elements' colours and dashes follow."""
    from pingwright.figures.style.view import faces

    return faces(record.elements)


def _compare(record: Record, assessment: Assessment, look: Look) -> Drawn:
    from pingwright.figures.compare import captions, picture

    figure = picture.comparison(record, assessment, look.theme, look.units, look.size, view=look.view)
    return figure, captions.caption(record, assessment, look.units), captions.alt(record, assessment, look.units)


def _echogram(record: Record, assessment: Assessment, look: Look) -> Drawn:
    from pingwright.figures import echogram as it

    figure = it.echogram(record, assessment, look.theme, look.units, look.size, view=look.view)
    return (
        figure,
        it.caption(record, assessment, look.units, look.view),
        it.alt(record, assessment, look.units, look.view),
    )


def _cutaway(record: Record, assessment: Assessment, look: Look) -> Drawn:
    from pingwright.figures import cutaway as it

    figure = it.cutaway(record, look.theme, look.units, look.size, window=look.view)
    return figure, it.caption(record, look.units), it.alt(record, look.units)


def _ping(record: Record, assessment: Assessment, look: Look) -> Drawn:
    from pingwright.figures.charts import ping_curve as it

    figure = it.ping_curve(record, assessment, theme=look.theme, units=look.units, size=look.size, view=look.view)
    units, view = look.units, look.view
    caption, alt = (make(record, assessment, units=units, view=view) for make in (it.caption, it.alt))
    return figure, caption, alt


def _beams(record: Record, assessment: Assessment, look: Look) -> Drawn:
    from pingwright.figures.charts import beams as it

    figure = it.beams(record, look.theme, look.units, look.size, look.view)
    return figure, it.caption(record, look.units), it.alt(record, look.units)


def _source(record: Record, assessment: Assessment, look: Look) -> Drawn:
    from pingwright.figures.charts import source as it

    return it.source(record, look.theme, look.size), it.caption(record), it.alt(record)


def _coverage(record: Record, assessment: Assessment, look: Look) -> Drawn:
    from pingwright.figures.charts import coverage as it
    from pingwright.measure.closed import searched_by_depth

    deepest = max(float(element.bottom_depth.max() - element.info.transducer_depth) for element in record.elements)
    span = look.view.depth if look.view and look.view.depth else (0.0, np.inf)
    draft = record.elements[0].info.transducer_depth
    first, last = max(min(span) - draft, 0.02 * deepest), min(max(span) - draft, deepest)
    depth = np.linspace(first, last if last > first else deepest, 99)
    wide, height = it.footprints(record, depth), assessment.elements[0].closed.fish_height
    searched = {
        e.info.name: searched_by_depth(e, record.truth, depth, height, assessment.floor) for e in record.elements
    }
    at = assessment.elements[0].closed.depth
    figure = it.coverage(depth, wide, searched, height, look.theme, look.units, look.size, faces=_faces(record))
    text = (depth, wide, searched, height, look.units, at)
    return figure, it.caption(*text), it.alt(*text)


def _absorption(record: Record, assessment: Assessment, look: Look) -> Drawn:
    from pingwright.figures.charts import absorption_reach as it

    seen = known(scene.scenario(record), "the scenario")
    bands = {e.info.name: (e.info.band_low, e.info.band_high) for e in record.elements}
    ends = np.array(list(bands.values()))
    frequency = np.geomspace(0.5 * ends.min(), 2.0 * ends.max(), 120)
    water = {scene.water_name(seen.water): scene.absorption(seen, record.elements[0].info.transducer_depth, frequency)}
    reach = {e.name: _fish_depths(e) for e in assessment.elements}
    fish = f"a fish of {words.fish_length(assessment.elements[0].closed.fish_length, look.units)}"
    figure = it.absorption_reach(
        frequency, water, bands, reach, look.theme, look.units, look.size, fish, _faces(record)
    )
    text = (frequency, water, reach, look.units, fish)
    return figure, it.caption(*text), it.alt(*text)


def _arch(record: Record, assessment: Assessment, look: Look) -> Drawn:
    from pingwright.figures.charts import arch as it
    from pingwright.measure import arch

    x = record.elements[0].x
    along = look.view.along if look.view else None
    fish = arch.best(assessment, record.truth.fish.x, along or (float(x.min()), float(x.max())))
    if fish is None:
        message = "no fish, so no arch"
        raise ValueError(message)
    what = it.Arches(
        fish, tuple(arch.arch(element, record.truth, fish, assessment.floor) for element in record.elements)
    )
    figure = it.arch(record, assessment, what, look.theme, look.units, look.size, look.view)
    return figure, it.caption(record, assessment, what, look.units), it.alt(record, assessment, what, look.units)


def _fish_depths(one: ElementAssessment) -> tuple[float, float, float]:
    """Return the detection range [m] with own noise as recorded, 10 dB higher and 10 dB lower."""
    return one.closed.reach, one.extra.get("reach_louder", np.nan), one.extra.get("reach_quieter", np.nan)


def _reach(record: Record, assessment: Assessment, look: Look) -> Drawn:
    from pingwright.figures.charts import reach as it
    from pingwright.measure.held import bottom_reach

    seen = scene.scenario(record)
    law, grounds = "kirchhoff" if seen is None else seen.seabed.law, ("mud", "rock")
    deep = []
    for element, one in zip(record.elements, assessment.elements, strict=True):
        soft, hard = (bottom_reach(element, ground, law) for ground in grounds)
        deep.append(it.Depths(one.name, _fish_depths(one), soft, hard))
    fish = f"a fish of {words.fish_length(assessment.elements[0].closed.fish_length, look.units)}"
    text = (deep, fish, grounds, assessment.elements[0].closed.depth)
    figure = it.reach(*text, look.theme, look.units, look.size, _faces(record))
    return figure, it.caption(*text, look.units), it.alt(*text, look.units)


def _strength(record: Record, assessment: Assessment, look: Look) -> Drawn:
    from pingwright.figures.charts import strength as it

    laws = scene.named(scene.kinds(known(scene.scenario(record), "the scenario")))
    info, fish = record.elements[0].info, record.truth.fish
    closed = assessment.elements[0].closed
    centres = np.array([(e.info.band_low + e.info.band_high) / 2 for e in record.elements])
    at, of, speed = float(centres[0]), closed.fish_length, info.assumed_sound_speed
    length = np.geomspace(min(0.02, *fish.length), max(1.0, *fish.length), 200)
    frequency = np.geomspace(0.7 * centres.min(), 1.4 * centres.max(), 200)
    by_length = {name: law.strength(length, np.full_like(length, at), speed) for name, law in laws.items()}
    by_frequency = {name: law.strength(np.full_like(frequency, of), frequency, speed) for name, law in laws.items()}
    dots = None
    if len(fish.length):
        middle = int(np.argsort(fish.length)[len(fish.length) // 2])
        dots = ((fish.length, fish.strength[0]), (centres, fish.strength[:, middle]))
    fixed = f"Over length: at {words.frequency(at)}. Over frequency: {words.fish_length(of, look.units)} long."
    extra = f"Means over the fish's tilts. {fixed}"
    figure = it.strength(
        length, by_length, frequency, by_frequency, look.theme, look.units, look.size, dots=dots, extra=extra
    )
    text = (length, by_length, look.units, at, of)
    return figure, it.caption(*text), it.alt(*text)


def _pulse(record: Record, assessment: Assessment, look: Look) -> Drawn:
    from pingwright.figures.charts import pulse as it

    info = record.elements[0].info
    what = it.compression(
        info.pulse_length, info.band_high - info.band_low, info.weighting, sound_speed=info.assumed_sound_speed
    )
    figure = it.pulse(what, look.theme, look.units, look.size, info.name, _faces(record))
    text = (what, look.units, info.name)
    return figure, it.caption(*text), it.alt(*text)


def _chirp(record: Record, assessment: Assessment, look: Look) -> Drawn:
    from pingwright.figures.charts import duel as it
    from pingwright.figures.style.view import faces
    from pingwright.measure import duel

    seen = known(scene.scenario(record), "the scenario")
    ground = seen.seabed.layer[0].sediment
    duels, height, length = duel.of_record(record, ground, seen.seabed.law)
    chirps = [element for element in record.elements if duel.is_chirp(element.info)]
    figure = it.duel(duels, height, look.theme, look.units, look.size, faces(chirps))
    under = f"{ground} {words.length(assessment.elements[0].closed.depth, look.units)} below the transducer"
    text = (duels, height, f"a fish of {words.fish_length(length, look.units)}", under, look.units)
    return figure, it.caption(*text), it.alt(*text)


def _difference(record: Record, assessment: Assessment, look: Look) -> Drawn:
    from pingwright.figures.charts import difference as it

    figure = it.difference(record, theme=look.theme, units=look.units, size=look.size, view=look.view)
    return figure, it.caption(record, view=look.view), it.alt(record, view=look.view)


def _still(record: Record, assessment: Assessment, look: Look) -> Drawn:
    from pingwright.figures import motion as it

    figure = it.still(record, assessment, look.theme, look.units, look.size, look.view)
    text = "A still of the moving picture."
    told = it.caption(record, assessment, look.units)
    return figure, told, f"{text} {told}"


FIGURES: dict[str, Callable[[Record, Assessment, Look], Drawn]] = {
    "compare": _compare,
    "echogram": _echogram,
    "cutaway": _cutaway,
    "ping": _ping,
    "beams": _beams,
    "source": _source,
    "coverage": _coverage,
    "absorption": _absorption,
    "reach": _reach,
    "arch": _arch,
    "strength": _strength,
    "pulse": _pulse,
    "chirp": _chirp,
    "difference": _difference,
    "still": _still,
}


def possible(record: Record) -> tuple[str, ...]:
    """Return the names of all figures that this record allows.

    `difference` needs two elements with the same pings; `pulse` needs a chirp of the first element; `absorption` and
    `chirp` need a readable scenario, `chirp` also a chirp; `strength` needs fish, `arch` single fish.
    """
    return (*(name for name in FIGURES if name not in _missing(record)), MOTION)


def _missing(record: Record) -> dict[str, str]:
    """Return why a record does not allow some figures, by name."""
    first, seen = record.elements[0].info, scene.scenario(record)
    missing = {}
    if len(record.elements) < 2 or record.elements[0].pings != record.elements[1].pings:
        missing["difference"] = "needs two elements with the same number of pings"
    if seen is None:
        missing["absorption"] = "needs a scenario that this version reads"
    if seen is None or not scene.kinds(seen):
        missing["strength"] = "needs fish"
    if seen is None or not any(is_chirp(element.info) for element in record.elements):
        missing["chirp"] = "needs an element that sends a chirp"
    if not len(record.truth.fish.id):
        missing["arch"] = "needs single fish"
    if first.band_high - first.band_low < 2.0 / first.pulse_length:
        missing["pulse"] = "needs a chirp of the first element"
    return missing


def chosen(record: Record, asked: str) -> tuple[str, ...]:
    """Return the figures asked for by a list of names with commas, or "all".

    Raises ScenarioError for a name that is unknown, or that this record does not allow.
    """
    known, missing = possible(record), _missing(record)
    names = known if asked == "all" else tuple(dict.fromkeys(name.strip() for name in asked.split(",")))
    for name in names:
        if name not in known:
            why = f'found "{name[:40]}"' + (f", which {missing[name]}" if name in missing else "")
            allowed = f"allowed for these echograms: all, or names from {', '.join(known)}"
            raise ScenarioError([Fault("--figures", 0, "", f"{why}; {allowed}")])
    return names


def write_figures(record: Record, assessment: Assessment, folder: Path, look: Look, carried: Any) -> None:
    """Write the figures of a look and captions.md into a folder, each file whole or not at all.

    carried: the data stored in each picture (figures.embed). Raises UnfinishedError if the disk is full.
    """
    from pingwright.figures import motion, save

    texts = ["# Captions", "", f"Figures of {plain(record.title)}, ready to paste. Simulated.", ""]
    for name in look.names:
        file = look.file(name)
        if name == MOTION:
            caption, alt = motion.caption(record, assessment, look.units), motion.alt(record)
            moving = motion.motion(
                record, assessment, theme=look.theme, units=look.units, size=look.size, view=look.view
            )
            write_bytes(folder / file, moving)
        else:
            figure, caption, alt = FIGURES[name](record, assessment, look)
            if file != PICTURE:
                save.save(figure, folder / file, carried, alt)
        texts += [f"## {file}", "", *pasted("Caption", caption), *pasted("Alternative text", alt)]
    write_text(folder / CAPTIONS, "\n".join(texts))
