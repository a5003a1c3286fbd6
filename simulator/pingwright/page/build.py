"""Puts the page together: one HTML file that needs nothing outside itself."""

import base64
from importlib import metadata, resources
from string import Template
from typing import Any, Literal

from pingwright import palette
from pingwright.echograms.record import Record
from pingwright.measure.assessment import MARK_WORDS, Assessment, ElementAssessment
from pingwright.page import cells, cutaway, numbers, plots
from pingwright.page.markup import json_block, length, script_hash, text

Theme = Literal["auto", "light", "dark"]

#: The strip under each echogram runs from this far above the picked bottom to this far below it [m].
STRIP_ABOVE, STRIP_BELOW = 3.0, 1.0

#: Input files are kept inside the page while they fit into this much together; the same for pictures [bytes].
INPUTS_LIMIT = 2_000_000

#: A scenario's text longer than this is cut where it is shown (never where it is kept) [characters].
_SHOWN_LIMIT = 100_000


def build(record: Record, assessment: Assessment, theme: Theme = "auto") -> str:
    """Return the page as one HTML text: pictures, numbers, cutaway, scenario and cautions, all inside.

    theme: "auto" follows the reader's system, "light" and "dark" are fixed; print is always light.
    The same record, assessment and versions give the same text. Levels are reduced by maximum to at most
    cells.CELLS_PER_PAGE cells, and the page says so. Raises ValueError where assessment and record do not belong
    together.
    """
    names = [element.info.name for element in record.elements]
    if not names or names != [element.name for element in assessment.elements]:
        msg = "the assessment is not of this recording's elements"
        raise ValueError(msg)
    panels = _panels(record, assessment)
    embedded = embedded_scenario(record)
    page_script = "\n".join(["(() => {", *(_asset(name) for name in ("store.js", "picture.js", "page.js")), "})();"])
    library = plots.library()
    metres_along = cells.along_track(record.elements[0])[2]
    pictures = [pair[0] for pair in panels]
    deepest = max(picture.top + picture.height * picture.codes.shape[1] for picture in pictures)
    span = plots.picture_span(pictures, (0.0, deepest), (-STRIP_ABOVE, STRIP_BELOW), metres_along)
    blocks = [
        json_block("pingwright-data", _data(record, assessment, panels, metres_along)),
        json_block("pingwright-plots", plots.document(len(panels), span)),
        json_block("pingwright-scenario", embedded),
        f"<script>{library}</script>",
        f"<script>{page_script}</script>",
    ]
    parts = _parts(record, assessment, panels, embedded, theme)
    policy = (
        f"default-src 'none'; script-src {script_hash(library)} {script_hash(page_script)}; "
        "style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'"
    )
    return Template(_asset("page.html")).substitute(parts, policy=policy, blocks="\n".join(blocks))


def embedded_scenario(record: Record) -> dict[str, Any]:
    """Return what `recall` gives back: version, seed, scenario, its input files as base64, names of those left out."""
    kept: dict[str, str] = {}
    room = INPUTS_LIMIT
    for name, content in sorted(record.inputs.items(), key=lambda item: (len(item[1]), item[0])):
        if len(content) <= room:
            room -= len(content)
            kept[name] = base64.b64encode(content).decode("ascii")
    return {
        "version": _version(),
        "seed": record.seed,
        "scenario": record.scenario,
        "inputs": kept,
        "missing": sorted(set(record.inputs) - set(kept)),
    }


def _version() -> str:
    """Return the version installed, or that this is a copy of the source that was never installed."""
    try:
        return metadata.version("pingwright")
    except metadata.PackageNotFoundError:
        return "0+source"


def _panels(record: Record, assessment: Assessment) -> list[tuple[cells.Cells, cells.Cells]]:
    """Return picture and strip of every element; four fifths of the page's cells go to the pictures."""
    each = cells.CELLS_PER_PAGE // len(record.elements)
    return [
        (
            cells.echogram(element, each * 4 // 5),
            cells.strip(element, judged.bottom_range, STRIP_ABOVE, STRIP_BELOW, each // 5),
        )
        for element, judged in zip(record.elements, assessment.elements, strict=True)
    ]


def _data(
    record: Record, assessment: Assessment, panels: list[tuple[cells.Cells, cells.Cells]], metres_along: bool
) -> dict[str, Any]:
    """Return what the page's script reads; names in it are only ever shown as text."""
    return {
        "base": cells.BASE,
        "step": cells.STEP,
        "metresAlong": metres_along,
        "tables": {theme: palette.hexes(palette.level_table(theme)) for theme in ("light", "dark")},
        "panels": [
            {
                "name": element.info.name,
                "blind": element.info.blank_range + element.info.transducer_depth,
                "picture": picture.packed(),
                "strip": strip.packed(),
                "marks": _marks(record, judged, index, metres_along),
            }
            for index, (element, judged, (picture, strip)) in enumerate(
                zip(record.elements, assessment.elements, panels, strict=True)
            )
        ],
    }


def _marks(record: Record, judged: ElementAssessment, index: int, metres_along: bool) -> list[dict[str, Any]]:
    """Return each fish's mark at its nearest ping: apparent depth, and how far below the picked bottom it stands."""
    element = record.elements[index]
    depth = record.truth.fish.apparent_depth[index]
    return [
        {
            "x": float(element.x[ping]) if metres_along else float(ping),
            "depth": float(at),
            "off": float(distance - judged.bottom_range[ping]),
            "mark": mark,
        }
        for ping, at, distance, mark in zip(judged.fish_ping, depth, judged.fish_range, judged.mark, strict=True)
    ]


def _parts(
    record: Record,
    assessment: Assessment,
    panels: list[tuple[cells.Cells, cells.Cells]],
    embedded: dict[str, Any],
    theme: Theme,
) -> dict[str, str]:
    """Return the pieces of markup the skeleton asks for, every text of the scenario escaped."""
    sections = [
        _section(index, record, judged, pair)
        for index, (judged, pair) in enumerate(zip(assessment.elements, panels, strict=True))
    ]
    low, high = palette.LEVEL_LIMITS
    return {
        "theme": theme,
        "title": text(record.title),
        "style": _inks() + _asset("page.css"),
        "answer": numbers.answer(assessment),
        "warnings": "".join(f"<li>{text(warning)}</li>" for warning in record.warnings),
        "low": f"{low:g}",
        "high": f"{high:g}",
        "key": " ".join(f"<span>{numbers.symbol(mark)} {words}</span>" for mark, words in MARK_WORDS.items()),
        "panels": "".join(sections),
        "circumstance": numbers.circumstance(assessment),
        "table": numbers.table(tuple(element.info for element in record.elements), assessment),
        "separated": text(assessment.definitions.get("separated", "")),
        "detected": text(assessment.definitions.get("detected", "")),
        "merged": text(assessment.definitions.get("merged", "")),
        "cutaway": cutaway.draw(record),
        "kept": _kept(embedded),
        "scenario": text(_shown(record.scenario)),
        "version": text(embedded["version"]),
        "seed": text(record.seed),
    }


def _section(index: int, record: Record, judged: ElementAssessment, pair: tuple[cells.Cells, cells.Cells]) -> str:
    info = record.elements[index].info
    picture = pair[0]
    held = (
        f"Stored by maximum of {picture.pings}&nbsp;&times;&nbsp;{picture.samples} samples"
        if picture.reduced
        else "Every sample is stored"
    )
    name = text(info.name)
    return (
        f'<section class="panel" aria-labelledby="name-{index}"><h2 id="name-{index}">{name}</h2>'
        f'<p class="facts">{info.band_low / 1e3:.4g}&ndash;{info.band_high / 1e3:.4g}&nbsp;kHz, beam '
        f"{info.beamwidth_along:.1f}&deg; by {info.beamwidth_across:.1f}&deg;, "
        f"resolution {length(judged.range_resolution)}</p>"
        f'<p class="counts">{numbers.counts(judged)}</p>'
        f'<div class="plot" id="picture-{index}" tabindex="0" role="group" '
        f'aria-label="Echogram of {name}. Arrow keys read levels, plus and minus zoom, Shift with arrows moves."></div>'
        f'<p class="read" id="read-{index}">&nbsp;</p>'
        f'<div class="plot strip" id="strip-{index}" tabindex="0" role="group" '
        f'aria-label="Seabed strip of {name}: the water just above the picked bottom, flattened."></div>'
        f'<p class="held">{held}, {length(picture.height, 3)} by depth.</p></section>'
    )


def _kept(embedded: dict[str, Any]) -> str:
    missing = embedded["missing"]
    if not missing:
        return "This page holds its scenario and every file the scenario refers to."
    return (
        "This page holds its scenario, but these files it refers to are too large to be kept here: "
        f"{text(', '.join(missing))}."
    )


def _shown(scenario: str) -> str:
    if len(scenario) <= _SHOWN_LIMIT:
        return scenario
    return scenario[:_SHOWN_LIMIT] + "\n[... cut here; the page holds the whole text]"


def _inks() -> str:
    """Return the colours of both sheets as custom properties: by system, by theme, by what the script paints."""

    def block(theme: Literal["light", "dark"]) -> str:
        inks = palette.INKS[theme]
        values = {name: value for name, value in vars(inks).items() if isinstance(value, str)}
        values |= {f"series-{i}": colour for i, colour in enumerate(inks.bands)}
        return f"color-scheme:{theme};" + "".join(f"--{name}:{value};" for name, value in values.items())

    light, dark = block("light"), block("dark")
    return (
        f":root{{{light}}}\n@media (prefers-color-scheme:dark){{:root{{{dark}}}}}\n"
        f":root[data-theme=light]{{{light}}}\n:root[data-theme=dark]{{{dark}}}\n"
        f":root[data-paint=light]{{{light}}}\n:root[data-paint=dark]{{{dark}}}\n"
        f"@media print{{:root,:root[data-theme],:root[data-paint]{{{light}}}}}\n"
    )


def _asset(name: str) -> str:
    return resources.files("pingwright.page").joinpath("assets", name).read_text(encoding="utf-8")
