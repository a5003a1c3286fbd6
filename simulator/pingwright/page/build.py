"""Puts the page together: one HTML file that needs nothing outside itself."""

import base64
from importlib import metadata, resources
from string import Template
from typing import Any, Literal

import numpy as np

from pingwright import palette, words
from pingwright.echograms.record import Record
from pingwright.figures.compare import rows
from pingwright.figures.style.view import View, depths, faces
from pingwright.measure.assessment import Assessment, ElementAssessment
from pingwright.measure.reasons import REASONS
from pingwright.measure.separated import BELOW_BOTTOM, BELOW_PEAK
from pingwright.page import arches, cells, columns, curves, cutaway, numbers
from pingwright.page.markup import json_block, script_hash, text
from pingwright.words import Units

Theme = Literal["auto", "light", "dark"]

#: Input files are stored inside the page up to this size together; the same for pictures [bytes].
INPUTS_LIMIT = 2_000_000

#: A longer scenario text is shortened where it is shown (never where it is stored) [characters].
_SHOWN_LIMIT = 100_000

#: Cells of an enlarged row: of its height, and of its length.
_ROW_CELLS = (420, 900)


def build(
    record: Record, assessment: Assessment, theme: Theme = "auto", units: Units = "m", view: View | None = None
) -> str:
    """Return the page as one HTML text: answer, pictures, numbers, cutaway, scenario and cautions, all inside.

    theme: "auto" follows the reader's system, "light" and "dark" are fixed; print is always light. units: those it
    opens in (feet for fathoms). view: its window. The same record, assessment and versions give the same text. Levels
    are reduced by maximum to at most cells.CELLS_PER_PAGE cells. Raises ValueError if assessment and record do not
    belong together.
    """
    names = [element.info.name for element in record.elements]
    if not names or names != [element.name for element in assessment.elements]:
        msg = "the assessment is not of this recording's elements"
        raise ValueError(msg)
    zones = rows.zones(record, assessment, 2, view or View())
    embedded = embedded_scenario(record)
    script = "\n".join(["(() => {", *(_asset(name) for name in ("store.js", "canvas.js", "page.js")), "})();"])
    data = _data(record, assessment, zones, view or View()) | {"unit": "m" if units == "m" else "ft"}
    blocks = [
        json_block("pingwright-data", data),
        json_block("pingwright-scenario", embedded),
        f"<script>{script}</script>",
    ]
    policy = (
        f"default-src 'none'; script-src {script_hash(script)}; style-src 'unsafe-inline'; img-src data: blob:; "
        "base-uri 'none'; form-action 'none'"
    )
    parts = _parts(record, assessment, zones, embedded) | {"theme": theme, "unit": data["unit"]}
    if view is not None and view.headline:
        own = text(view.headline)
        parts["headline"] = f'<span class="m">{own}</span><span class="ft">{own}</span>'
    return Template(_asset("page.html")).substitute(parts, policy=policy, blocks="\n".join(blocks))


def embedded_scenario(record: Record) -> dict[str, Any]:
    """Return the data for `recall`: version, seed, scenario, its input files as base64, names of those left out."""
    stored: dict[str, str] = {}
    room = INPUTS_LIMIT
    for name, content in sorted(record.inputs.items(), key=lambda item: (len(item[1]), item[0])):
        if len(content) <= room:
            room -= len(content)
            stored[name] = base64.b64encode(content).decode("ascii")
    return {
        "version": _version(),
        "seed": record.seed,
        "scenario": record.scenario,
        "inputs": stored,
        "missing": sorted(set(record.inputs) - set(stored)),
    }


def _version() -> str:
    """Return the installed version, or a text for a source tree that is not installed."""
    try:
        return metadata.version("pingwright")
    except metadata.PackageNotFoundError:
        return "0+source"


def _data(record: Record, assessment: Assessment, zones: tuple[rows.Zone, ...], view: View) -> dict[str, Any]:
    """Return the data for the page's script; names in it are shown only as text."""
    each = cells.CELLS_PER_PAGE // len(record.elements)
    foot, top = depths(record, view)
    fish = record.truth.fish
    return {
        "base": cells.BASE,
        "step": cells.STEP,
        "limits": palette.LEVEL_LIMITS,
        "floor": assessment.floor,
        "metresAlong": cells.along_track(record.elements[0])[2],
        "depth": [top, foot],
        "along": view.along if cells.along_track(record.elements[0])[2] else None,
        "rule": [BELOW_PEAK, BELOW_BOTTOM],
        "ground": float(np.median(record.elements[0].bottom_depth)),
        "meaning": words.MEANING,
        "tables": {theme: palette.hexes(palette.level_table(theme)) for theme in ("light", "dark")},
        "rows": {z.letter: {"x0": z.across[0], "x1": z.across[1], "y0": z.down[1], "y1": z.down[0]} for z in zones},
        "groups": {z.letter: [int(i) for i in z.group.fish] for z in zones if z.group is not None},
        "fish": [{"height": float(h), "length": float(a)} for h, a in zip(fish.height, fish.length, strict=True)],
        "elements": [_element(record, judged, index, zones, each) for index, judged in enumerate(assessment.elements)],
    }


def _element(
    record: Record, judged: ElementAssessment, index: int, zones: tuple[rows.Zone, ...], budget: int
) -> dict[str, Any]:
    """Return one element's pictures, look and marks."""
    element, marks = record.elements[index], _marks(record, judged, index)
    pictures = {"whole": cells.echogram(element, budget * 4 // 5).packed()}
    for zone in zones:
        chip = rows.chip(record, index, judged, zone, _ROW_CELLS)
        pictures[zone.letter] = cells.of_chip(chip.level, chip.across, chip.down, chip.pings, chip.samples).packed()
    light, dark = (palette.looks(faces(record.elements), theme)[index] for theme in ("light", "dark"))
    return {
        "name": element.info.name,
        "colour": {"light": light[0], "dark": dark[0]},
        "dash": light[1],
        "hidden": judged.closed.edge_height,
        "blind": element.info.blank_range + element.info.transducer_depth,
        "pictures": pictures,
        "marks": marks,
        "curves": curves.packed(element, marks, len(record.elements)) if marks else None,
    }


def _marks(record: Record, judged: ElementAssessment, index: int) -> list[dict[str, Any]]:
    """Return the mark of each fish: its place along the track, in drawn depth and above the ground, and the reason."""
    x, depth, height = rows.fish_places(record, index, judged)
    if not cells.along_track(record.elements[index])[2]:
        x = np.asarray(judged.fish_ping, dtype=np.float64)
    reasons = judged.reason or ("",) * len(judged.mark)
    return [
        {
            "fish": number,
            "x": float(a),
            "depth": float(z),
            "height": float(h),
            "mark": mark,
            "reason": REASONS.get(why, ""),
            "passes": words.fate_in_passes(judged, number),
        }
        for number, (a, z, h, mark, why) in enumerate(zip(x, depth, height, judged.mark, reasons, strict=True))
    ]


def _parts(
    record: Record, assessment: Assessment, zones: tuple[rows.Zone, ...], embedded: dict[str, Any]
) -> dict[str, str]:
    """Return the parts of markup for the skeleton, with every text of the scenario escaped."""
    low, high = palette.LEVEL_LIMITS
    return {
        "title": text(record.title),
        "style": _inks(record) + _asset("page.css"),
        "headline": columns.headline(record, assessment),
        "scene": columns.scene(record),
        "warnings": "".join(f"<li>{text(warning)}</li>" for warning in record.warnings),
        "count": str(min(len(record.elements), 4) if len(record.elements) != 5 else 3),
        "many": " many" if len(record.elements) > 3 else "",
        "rows": str(4 + 3 * len(zones) + (2 if len(record.truth.fish.id) else 0)),
        "low": f"{low:g}",
        "high": f"{high:g}",
        "key": columns.key(),
        "panels": "".join(columns.column(i, record, assessment, zones) for i in range(len(record.elements))),
        "fish": columns.fish_part(record, cutaway.draw(record)),
        "arches": arches.section(record, assessment),
        "circumstance": numbers.circumstance(assessment),
        "table": numbers.table(tuple(element.info for element in record.elements), assessment),
        "separated": text(assessment.definitions.get("separated", "")),
        "detected": text(assessment.definitions.get("detected", "")),
        "merged": text(assessment.definitions.get("merged", "")),
        "kept": _kept(embedded),
        "scenario": text(_shown(record.scenario)),
        "version": text(embedded["version"]),
        "seed": text(record.seed),
        "caution": text(words.CAUTION),
    }


def _kept(embedded: dict[str, Any]) -> str:
    missing = embedded["missing"]
    if not missing:
        return "This page holds its scenario and every file that the scenario needs."
    return (
        "This page holds its scenario, but not these files that the scenario needs, because they are too large: "
        f"{text(', '.join(missing))}."
    )


def _shown(scenario: str) -> str:
    if len(scenario) <= _SHOWN_LIMIT:
        return scenario
    return scenario[:_SHOWN_LIMIT] + "\n[... shortened here; the page holds the whole text]"


def _inks(record: Record) -> str:
    """Return the colours of both sheets as custom properties: by system, by theme, by what the script paints."""

    def block(theme: Literal["light", "dark"]) -> str:
        inks = palette.INKS[theme]
        values = {name: value for name, value in vars(inks).items() if isinstance(value, str)}
        values |= {f"series-{i}": colour for i, (colour, _) in enumerate(palette.looks(faces(record.elements), theme))}
        return f"color-scheme:{theme};" + "".join(f"--{name}:{value};" for name, value in values.items())

    light, dark = block("light"), block("dark")
    dashes = [_rule(dash) for _, dash in palette.looks(faces(record.elements))]
    series = "".join(
        f".s{i}{{color:var(--series-{i})}}.fill{i}{{fill:var(--series-{i})}}.name.s{i}{{border-bottom-style:{dash}}}"
        f".beam.s{i}{{stroke:var(--series-{i});fill:var(--series-{i})}}"
        for i, dash in enumerate(dashes)
    )
    return (
        f":root{{{light}}}\n@media (prefers-color-scheme:dark){{:root{{{dark}}}}}\n"
        f":root[data-theme=light]{{{light}}}\n:root[data-theme=dark]{{{dark}}}\n"
        f":root[data-paint=light]{{{light}}}\n:root[data-paint=dark]{{{dark}}}\n"
        f"@media print{{:root,:root[data-theme],:root[data-paint]{{{light}}}}}\n{series}\n"
    )


def _rule(dash: tuple[float, ...]) -> str:
    """Return the line style under a name that is most like an element's dashes."""
    return "solid" if not dash else "dotted" if max(dash) < 2 else "dashed"


def _asset(name: str) -> str:
    return resources.files("pingwright.page").joinpath("assets", name).read_text(encoding="utf-8")
