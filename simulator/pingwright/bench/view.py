"""What one simulated scene shows, as plain data for the browser, which draws it and computes nothing.

Pictures are sent as levels of the table of colours, one byte a cell, packed as base64: 0 nothing recorded, 1 the
weakest, 255 the strongest echo. Places are in metres; texts are written here, in the reader's units.
"""

import base64
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pingwright import palette, words
from pingwright.echograms.record import FloatArray, Record
from pingwright.figures import cells
from pingwright.figures.compare import rows
from pingwright.figures.style.view import View, faces
from pingwright.measure.assessment import Assessment, ElementAssessment
from pingwright.measure.definitions import DEFINITIONS
from pingwright.measure.groups import Group, of_record
from pingwright.measure.reasons import REASONS
from pingwright.measure.together import ONE_ARCH, within

#: Cells of the enlarged picture and of the whole water, rows and columns at most.
CHIP, WATER = (260, 160), (120, 240)


def shown(record: Record, assessment: Assessment, units: words.Units, chosen: Group | None = None) -> dict[str, Any]:
    """Return everything that the browser draws for one recording: answer, pictures, marks, reasons, cross-section.

    chosen: the group of fish that it is about; None: the lowest.
    """
    zones = rows.zones(record, assessment, 1, View(), chosen)
    colours = {theme: palette.looks(faces(record.elements), theme) for theme in ("light", "dark")}
    return {
        "answer": [
            {"text": run.text, "element": run.element} for run in words.headline(assessment, record, units, chosen)
        ],
        "title": record.title,
        "line": _line(record, units),
        "zone": _zone(zones[0], units) if zones else None,
        "elements": [
            _element(record, assessment.elements[i], i, zones[0] if zones else None, units)
            | {"colour": {theme: colours[theme][i][0] for theme in colours}, "dashes": list(colours["light"][i][1])}
            for i in range(len(record.elements))
        ],
        "section": section(record),
        "warnings": list(record.warnings),
    }


def tables() -> dict[str, Any]:
    """Return the tables of colours of echo strength, weak to strong, and the levels at their ends [dB re 1 m2]."""
    both: tuple[palette.Theme, palette.Theme] = ("light", "dark")
    return {
        "light": list(palette.hexes(palette.level_table(both[0]))),
        "dark": list(palette.hexes(palette.level_table(both[1]))),
        "limits": list(palette.LEVEL_LIMITS),
    }


def section(record: Record) -> dict[str, Any]:
    """Return cross-sections along and across the track: ground, structures, fish, schools, layers, beams [m, deg]."""
    fish, truth = record.truth.fish, record.truth
    of_fish = ("x", "y", "depth", "length", "height")
    return {
        "ground": _points(record.seabed_profile),
        "across": _points(record.seabed_across),
        "structures": [
            {"name": s.name, "side": _points(s.side), "ahead": _points(s.ahead)} for s in truth.structures
        ],
        "soft": [
            {"kind": s.kind, "name": s.name, "box": [v if np.isfinite(v) else None for v in s.box]} for s in truth.soft
        ],
        "fish": [
            {"name": fish.name[i], **{k: round(float(getattr(fish, k)[i]), 3) for k in of_fish}}
            for i in range(len(fish.id))
        ],
        "boat": {
            "x": [round(float(v), 2) for v in record.elements[0].x],
            "face": float(record.elements[0].info.transducer_depth),
        },
        "beams": [
            {"along": e.info.beamwidth_along, "across": e.info.beamwidth_across,
             "tilt_along": e.info.number("tilt_along", 0.0), "tilt_across": e.info.number("tilt_across", 0.0)}
            for e in record.elements
        ],
    }  # fmt: skip


def _line(record: Record, units: words.Units) -> str:
    depth = float(np.median(record.elements[0].bottom_depth))
    count = words.counted(len(record.elements), "element")
    return f"{words.length(depth, units)} of water; one pass over the same fish by {count}"


def _zone(zone: rows.Zone, units: words.Units) -> dict[str, Any]:
    group = zone.group
    return {
        "title": zone.title,
        "across": list(zone.across),
        "down": list(zone.down),
        "flat": zone.flat,
        "near": group is not None and group.height <= words.NEAR,
        "group": None if group is None else {"name": group.name, "fish": [int(i) for i in group.fish],
                                             "height": group.height, "length": group.length},
        "unit": list(words.UNITS["m" if units == "m" else "ft"]),
    }  # fmt: skip


def _element(
    record: Record, judged: ElementAssessment, index: int, zone: rows.Zone | None, units: words.Units
) -> dict[str, Any]:
    info = record.elements[index].info
    made: dict[str, Any] = {
        "name": judged.name,
        "band": words.band(info),
        "beam": f"beam {words.beam(info)}",
        "hidden": _number(judged.closed.edge_height),
        "hides": f"hides the last {words.length(judged.closed.edge_height, units)}",
        "resolution": words.length(judged.range_resolution, units),
        "water": picture(cells.echogram(record.elements[index], *WATER)),
    }
    if not np.isfinite(judged.closed.edge_height):
        made["hides"] = ""
    if zone is None:
        return made
    made["chip"] = picture(rows.chip(record, index, judged, zone, CHIP))
    if zone.group is not None:
        made |= _judged(record, judged, index, zone, zone.group)
    return made


def _judged(record: Record, judged: ElementAssessment, index: int, zone: rows.Zone, group: Group) -> dict[str, Any]:
    across, depth, height = rows.fish_places(record, index, judged)
    count = group.count(judged.mark, words.SEPARATED)
    reasons = judged.reason
    return {
        "verdict": words.of(count, len(group.fish)),
        "chance": words.by_chance(judged, group),
        "marks": [
            {"fish": number, "x": _number(across[i]), "y": _number(height[i] if zone.flat else depth[i]),
             "mark": judged.mark[i]}
            for number, i in enumerate((int(i) for i in group.fish), 1)
        ],
        "reasons": because({n: REASONS.get(reasons[int(i)], "") for n, i in enumerate(group.fish, 1)})
        + together(judged.one_arch, group),
    }  # fmt: skip


def because(reason: Mapping[int, str]) -> list[dict[str, str]]:
    """Return reasons with the fish they are for, one line each: 'Fish 2 and 3: too weak against the noise'."""
    lines: dict[str, list[str]] = {}
    for number, text in reason.items():
        if text:
            lines.setdefault(text, []).append(str(number))
    return [{"fish": f"Fish {words.listed(numbers)}", "text": text} for text, numbers in lines.items()]


def together(one_arch: Sequence[Sequence[int]], group: Group) -> list[dict[str, str]]:
    """Return which fish of a group make one arch, a line for each arch."""
    numbers = {int(i): n for n, i in enumerate(group.fish, 1)}
    sets = [[str(numbers[i]) for i in one] for one in within(one_arch, group.fish)]
    return [{"fish": f"Fish {words.listed(one)}", "text": ONE_ARCH, "why": DEFINITIONS["one_arch"]} for one in sets]


def group(record: Record, fish: Sequence[NDArray[np.intp]], chosen: int | None) -> Group | None:
    """Return the group that holds the first fish of the chosen table, else the lowest; None without single fish.

    fish: which fish each table has, of `alone.tables`.
    """
    made = of_record(record)
    if chosen is not None and chosen < len(fish) and len(fish[chosen]):
        return next(one for one in made if fish[chosen][0] in one.fish)
    return made[0] if made else None


def table(record: Record, fish: Sequence[NDArray[np.intp]], chosen: int | None) -> int | None:
    """Return the table of fish that the knobs set: the chosen one, else that of the lowest group's first fish."""
    if (shown := group(record, fish, chosen)) is None:
        return None
    if chosen is not None and chosen < len(fish) and len(fish[chosen]):
        return chosen
    return next(number for number, places in enumerate(fish) if shown.fish[0] in places)


def picture(made: cells.Cells) -> dict[str, Any]:
    """Return a picture's cells as bytes of the table of colours, and the places of its edges."""
    low, high = palette.LEVEL_LIMITS
    level = np.asarray(made.level, dtype=np.float64)
    scaled = 1.0 + np.clip((level - low) / (high - low), 0.0, 1.0) * 254.0
    packed = np.where(np.isnan(level), 0.0, scaled).astype(np.uint8)
    return {
        "rows": packed.shape[0],
        "columns": packed.shape[1],
        "cells": base64.b64encode(packed.tobytes()).decode("ascii"),
        "across": [float(made.across[0]), float(made.across[-1])],
        "down": [float(made.down[0]), float(made.down[-1])],
    }


def _points(points: FloatArray) -> list[list[float]]:
    remaining: NDArray[Any] = points if len(points) <= 400 else points[:: len(points) // 400 + 1]
    return [[round(float(a), 3), round(float(b), 3)] for a, b in remaining]


def _number(value: Any) -> float | None:
    return float(value) if np.isfinite(value) else None
