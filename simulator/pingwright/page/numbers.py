"""The page's table of numbers with their definitions, and the marks as small pictures."""

import math
from collections.abc import Callable

from pingwright.echograms.record import ElementInfo
from pingwright.measure.assessment import Assessment, ElementAssessment, Share
from pingwright.measure.definitions import DEFINITIONS
from pingwright.page.markup import length, text
from pingwright.words import probability, whole

_Cell = Callable[[ElementInfo, ElementAssessment], str]


def symbol(mark: str) -> str:
    """Return a mark as a small picture: disc, half disc or cross."""
    shapes = {
        "separated": '<circle class="full" cx="8" cy="8" r="6"/>',
        "merged": '<circle cx="8" cy="8" r="5.5"/><path class="full" d="M8 2.5a5.5 5.5 0 0 0 0 11z"/>',
        "not_shown": '<path d="M3 3 13 13M13 3 3 13"/>',
    }
    return f'<svg class="symbol" viewBox="0 0 16 16" aria-hidden="true">{shapes[mark]}</svg>'


def table(infos: tuple[ElementInfo, ...], assessment: Assessment) -> str:
    """Return the table: a row for each number with its definition, a column for each element."""
    heads = "".join(f'<th scope="col">{text(info.name)}</th>' for info in infos)
    rows = []
    for key, name, cell in (*_of_passes(assessment), *_rows()):
        cells = "".join(
            f'<td data-element="{text(info.name)}">{cell(info, element)}</td>'
            for info, element in zip(infos, assessment.elements, strict=True)
        )
        rows.append(
            f'<tr><th scope="row">{text(name)}<span class="definition">{text(DEFINITIONS[key])}</span></th>{cells}</tr>'
        )
    return (
        '<table><caption class="unseen">Numbers of each element, each with its definition</caption>'
        f'<thead><tr><th scope="col">Number</th>{heads}</tr></thead><tbody>{"".join(rows)}</tbody></table>'
    )


def circumstance(assessment: Assessment) -> str:
    """Return the sentence that says for which fish and depth the closed-form numbers hold."""
    closed = assessment.elements[0].closed
    if not math.isfinite(closed.fish_length):
        return f"Footprints are given for {length(closed.depth, 1)} below the transducer."
    height = f" that is {length(closed.fish_height)} off the bottom" if math.isfinite(closed.fish_height) else ""
    return (
        "Detection range, smallest fish and widths are computed from formulas for a fish of"
        f" {length(closed.fish_length)}{height}, at {length(closed.depth, 1)} below the transducer."
    )


def _rows() -> tuple[tuple[str, str, _Cell], ...]:
    """Return key of the definition, name and cell of every row."""
    return (
        ("share_separated", "Fish separated", lambda _, e: _share(e.separated)),
        ("share_detected", "Fish detected", lambda _, e: _share(e.detected)),
        ("false_alarms", "False alarms", lambda _, e: _share(e.false_alarms)),
        ("range_resolution", "Range resolution", lambda _, e: length(e.range_resolution)),
        (
            "side_lobe_level",
            "Range side lobes, integrated",
            lambda i, _: _decibels(i.number("side_lobe_level", math.nan)),
        ),
        ("bottom_error", "Error of the bottom pick", lambda _, e: _spread(e)),
        ("beam", "Beam", lambda i, _: f"{i.beamwidth_along:.1f}&deg; by {i.beamwidth_across:.1f}&deg;"),
        ("footprint", "Footprint", lambda _, e: _pair(e.closed.footprint_along, e.closed.footprint_across)),
        ("swath", "Swath of one ping", lambda _, e: length(e.closed.swath, 1)),
        ("geometric_width", "Width by geometry", lambda _, e: length(e.closed.geometric_width, 1)),
        ("edge_height", "Hidden at the beam's edge", lambda _, e: length(e.closed.edge_height)),
        ("reach", "Detection range", lambda _, e: _with_band(e, "reach", e.closed.reach)),
        (
            "bottom_reach",
            "Bottom shown down to",
            lambda _, e: _with_band(e, "bottom_reach", e.extra.get("bottom_reach", math.nan)),
        ),
        ("smallest_fish", "Smallest fish", lambda _, e: _smallest(e)),
        ("band", "Band", lambda i, _: f"{i.band_low / 1e3:.4g}&ndash;{i.band_high / 1e3:.4g} kHz"),
        ("pulse", "Pulse", lambda i, _: f"{i.pulse_length * 1e3:.3g} ms, {text(i.weighting)}"),
        ("source_level", "Source level", lambda i, _: f"{i.source_level:.1f} dB re 1 &micro;Pa m"),
        ("noise_level", "Noise level", lambda i, _: f"{i.noise_level:.1f} dB re 1 &micro;Pa"),
        ("absorption", "Absorption", lambda i, _: f"{i.absorption * 1e3:.1f} dB/km"),
        ("blank_range", "Blanking range", lambda i, _: length(i.blank_range, 1)),
    )


def _of_passes(assessment: Assessment) -> tuple[tuple[str, str, _Cell], ...]:
    """Return the rows of fresh passes, none where there were none."""
    if any(element.passes is None for element in assessment.elements):
        return ()
    return (
        ("pass_separated", "Separated in a fresh pass", lambda _, e: probability(e.overall)),
        ("pass_detected", "Detected in a fresh pass", lambda _, e: probability(e.passes.detects()) if e.passes else ""),
    )


def _share(share: Share) -> str:
    """Return a share in per cent with its interval, and the counts it stands on."""
    if not share.of:
        return "&ndash;"
    return (
        f"{100 * share.value:.0f}&nbsp;%<small> {share.hits} of {share.of}; "
        f"95&nbsp;% interval {100 * share.low:.0f}&ndash;{100 * share.high:.0f}&nbsp;%</small>"
    )


def _spread(element: ElementAssessment) -> str:
    if not math.isfinite(element.bottom_error_median):
        return "&ndash;"
    return f"{length(element.bottom_error_median)}<small> &plusmn; {length(element.bottom_error_spread)}</small>"


def _pair(along: float, across: float) -> str:
    return f"{length(along, 1)} by {length(across, 1)}"


def _decibels(level: float) -> str:
    return f"{whole(level)} dB" if math.isfinite(level) else "&ndash;"


def _with_band(element: ElementAssessment, name: str, metres: float) -> str:
    """Return a detection range [m], and what it is with the boat's own noise 10 dB higher and lower."""
    band = [element.extra.get(f"{name}{end}", math.nan) for end in ("_louder", "_quieter")]
    shown = length(metres, 0)
    if not all(math.isfinite(end) for end in band):
        return shown
    return f"{shown}<small> {length(band[0], 0)} to {length(band[1], 0)} with own noise 10 dB higher to lower</small>"


def _smallest(element: ElementAssessment) -> str:
    closed = element.closed
    if not math.isfinite(closed.smallest_fish) or "<" in closed.smallest_fish_text:
        return text(closed.smallest_fish_text) or "&ndash;"
    return length(closed.smallest_fish)
