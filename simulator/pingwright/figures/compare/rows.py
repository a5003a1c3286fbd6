"""Which parts of the water the comparison enlarges, and where their heights start."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pingwright import words
from pingwright.echograms.record import ElementRecord, Record
from pingwright.figures import cells
from pingwright.figures.style.view import View
from pingwright.measure.assessment import Assessment, ElementAssessment
from pingwright.measure.groups import Group, of_record

FloatArray = NDArray[np.float64]
Span = tuple[float, float]

#: least length of the track in a row [m], and margin beside its fish [m]
LEAST_ALONG, BESIDE = 24.0, 8.0

#: heights are drawn above the ground if the bottom is picked this close to it [m] and no fish appears lower than this
CLOSE, BELOW = 0.5, -0.1


@dataclass(frozen=True)
class Zone:
    """A part of the water that is enlarged.

    letter: its name on the picture; group: its fish, None if it shows something else; title: of that; across:
    limits along the track [m or s]; down: foot and top, depths [m] or, where `flat`, heights over the ground [m].
    """

    letter: str
    title: str
    group: Group | None
    across: Span
    down: Span
    flat: bool

    def depths(self, ground: float) -> Span:
        """Return top and foot of the zone [m of depth] over ground at a depth [m]."""
        return (ground - self.down[1], ground - self.down[0]) if self.flat else (self.down[1], self.down[0])


#: An instrument may be set to 1350 to 1650 m/s, and water has 1400 to 1600 m/s.
MOST_WRONG = 0.2


def speed_ratio(record: Record, index: int, judged: ElementAssessment) -> float:
    """Return drawn range over true range: assumed over true speed of sound.

    In files that do not hold the true one, from the drawn places of known fish; without fish, from the picks over the
    true bottom; 1 if the result is impossible in water.
    """
    element, fish = record.elements[index], record.truth.fish
    if "mean_sound_speed" in element.info.extra:
        return element.info.drawn_over_true
    if len(fish.id):
        ping = np.clip(fish.nearest_ping[index], 0, element.pings - 1)
        down = fish.depth - element.info.transducer_depth + element.heave[ping]
        slant = np.sqrt((fish.x - element.x[ping]) ** 2 + (fish.y - element.y[ping]) ** 2 + down**2)
        ratio = float(np.median(fish.apparent_range(index, element.info) / np.maximum(slant, 1e-6)))
    else:
        true = element.bottom_depth - element.info.transducer_depth + element.heave
        ratio = float(np.median((judged.bottom_range / true)[np.isfinite(judged.bottom_range)])) if (
            np.isfinite(judged.bottom_range).any()) else 1.0  # fmt: skip
    return ratio if abs(ratio - 1) < MOST_WRONG else 1.0


def ground_range(record: Record, index: int, judged: ElementAssessment) -> FloatArray:
    """Return the range [m] at which the true ground straight under the boat would be drawn (ping)."""
    element = record.elements[index]
    true = element.bottom_depth - element.info.transducer_depth + element.heave
    return np.asarray(true * speed_ratio(record, index, judged), dtype=np.float64)


def fish_places(record: Record, index: int, judged: ElementAssessment) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the place of the mark of each fish: along the track [m or s], drawn depth, height above the ground [m]."""
    element = record.elements[index]
    across, _ = cells.along(element)
    ping = np.clip(np.asarray(judged.fish_ping, dtype=np.intp), 0, element.pings - 1)
    drawn = np.asarray(judged.fish_range, dtype=np.float64)
    return across[ping], drawn + element.info.transducer_depth, ground_range(record, index, judged)[ping] - drawn


def _over_structure(record: Record, across: Span) -> bool:
    return any(s.side[:, 0].min() < across[1] and s.side[:, 0].max() > across[0] for s in record.truth.structures)


def _flat(record: Record, assessment: Assessment, group: Group, across: Span) -> bool:
    """Return whether heights above the ground can be drawn correctly for every element."""
    if group.height > words.NEAR or cells.along(record.elements[0])[1] != "m" or _over_structure(record, across):
        return False
    for index, judged in enumerate(assessment.elements):
        place, _, height = fish_places(record, index, judged)
        near = (record.elements[index].x >= place[group.fish].min()) & (
            record.elements[index].x <= place[group.fish].max()
        )
        off = np.abs(judged.bottom_range - ground_range(record, index, judged))[near]
        if np.nanmax(off, initial=0.0) > CLOSE or not np.isfinite(off).any() or height[group.fish].min() < BELOW:
            return False
    return True


def _along(record: Record, places: FloatArray, view: View) -> Span:
    """Return the limits along the track around some places, inside the run and the reader's window."""
    line, kind = cells.along(record.elements[0])
    edges = cells.edges_of(line, 1)
    low, high = view.along or (float(edges[0]), float(edges[1]))
    low, high = max(low, float(edges[0])), min(high, float(edges[1]))
    if kind != "m":
        return low, high
    first, last = float(places.min()) - BESIDE, float(places.max()) + BESIDE
    lacking = max(LEAST_ALONG - (last - first), 0.0) / 2
    first, last = first - lacking, last + lacking
    if first < low:
        first, last = low, max(last, min(low + LEAST_ALONG, high))
    if last > high:
        first, last = min(first, max(high - LEAST_ALONG, low)), high
    return max(first, low), min(last, high)


def _of_group(record: Record, assessment: Assessment, group: Group, letter: str, view: View) -> Zone:
    places = [fish_places(record, i, judged) for i, judged in enumerate(assessment.elements)]
    across = _along(record, np.concatenate([p[0][group.fish] for p in places]), view)
    if _flat(record, assessment, group, across):
        most = max(float(p[2][group.fish].max()) for p in places)
        top = 2.2 * most if most < 0.6 else max(1.6 * most, 0.6)
        return Zone(letter, group.name, group, across, (-0.14 * top, top), flat=True)
    drawn = np.concatenate([p[1][group.fish] for p in places])
    margin = max(0.22 * float(np.ptp(drawn)), 0.8)
    return Zone(
        letter, group.name, group, across, (float(drawn.max()) + margin, float(drawn.min()) - margin), flat=False
    )


def _without_fish(record: Record, assessment: Assessment, view: View) -> list[Zone]:
    """Return the enlarged zones of a scene without fish: targets, schools and layers, else the bottom."""
    zones: list[Zone] = []
    run = _along(record, cells.along(record.elements[0])[0], view)
    order: list[Literal["target", "school", "scattering_layer"]] = ["target", "school", "scattering_layer"]
    for kind in order:
        every = [soft for soft in record.truth.soft if soft.kind == kind]
        for soft in every[:1] if kind == "target" else every:
            boxes = [s.box for s in every] if kind == "target" else [soft.box]
            top, foot = min(b[4] for b in boxes), max(b[5] for b in boxes)
            margin = max(0.22 * (foot - top), 0.8)
            ends = np.array([e for b in boxes for e in b[:2] if np.isfinite(e)])
            across = _along(record, ends, view) if len(ends) else run
            title = words.listed([s.name for s in every]) if kind == "target" else soft.name
            zones.append(Zone("", title, None, across, (foot + margin, top - margin), flat=False))
    if not zones:
        depth = np.concatenate([e.bottom_depth for e in record.elements])
        flat = not _over_structure(record, run) and cells.along(record.elements[0])[1] == "m"
        down = (-2.0, 1.0) if flat else (float(depth.max()) + 2.0, float(depth.min()) - 1.0)
        zones.append(Zone("", "the bottom", None, run, down, flat))
    return zones


def zones(
    record: Record, assessment: Assessment, most: int, view: View, chosen: Group | None = None
) -> tuple[Zone, ...]:
    """Return at most `most` zones, the lowest fish first; without fish, the other things in the water.

    chosen: a group of fish that is enlarged alone.
    """
    made = of_record(record) if chosen is None else (chosen,)
    if made:
        return tuple(_of_group(record, assessment, group, "AB"[i], view) for i, group in enumerate(made[:most]))
    others = _without_fish(record, assessment, view)[:most]
    return tuple(Zone("AB"[i], z.title, z.group, z.across, z.down, z.flat) for i, z in enumerate(others))


def chip(record: Record, index: int, judged: ElementAssessment, zone: Zone, pixels: tuple[int, int]) -> cells.Cells:
    """Return the cells of an element in a zone: one column for each ping; down: depths, or heights in a flat zone."""
    element: ElementRecord = record.elements[index]
    rows, columns = pixels
    if zone.flat:
        ground = ground_range(record, index, judged)
        return cells.strip(element, ground, zone.down[1], -zone.down[0], rows, columns, zone.across)
    return cells.box(element, (zone.down[1], zone.down[0]), rows, columns, zone.across)
