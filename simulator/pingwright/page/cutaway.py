"""The scene cut open: seabed, structures, fish and beams to scale, from the side and from astern, as SVG."""

import math
from dataclasses import dataclass
from typing import assert_never

import numpy as np

from pingwright.echograms.record import ElementRecord, FloatArray, Record
from pingwright.figures.style.view import faces
from pingwright.page.markup import text
from pingwright.palette import looks
from pingwright.units import METRES_PER_FOOT

#: Nominal width of a view [SVG units, about CSS pixels on a phone].
_WIDTH = 440.0

_MARGIN_LEFT, _MARGIN_TOP, _MARGIN_BELOW = 46.0, 14.0, 34.0


@dataclass(frozen=True)
class _View:
    """One direction of looking: horizontal span [m], greatest depth [m], and the scale [SVG units/m]."""

    low: float
    high: float
    depth: float

    @property
    def scale(self) -> float:
        return (_WIDTH - _MARGIN_LEFT - 6) / (self.high - self.low)

    def points(self, line: FloatArray) -> str:
        """Return a polyline (point, 2) of metres as SVG coordinates."""
        x = _MARGIN_LEFT + (np.clip(line[:, 0], self.low, self.high) - self.low) * self.scale
        y = _MARGIN_TOP + line[:, 1] * self.scale
        return " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True))

    def at(self, horizontal: float, depth: float) -> tuple[float, float]:
        """Return the SVG coordinates of a place in metres."""
        return _MARGIN_LEFT + (horizontal - self.low) * self.scale, _MARGIN_TOP + depth * self.scale


def draw(record: Record) -> str:
    """Return a figure of markup with both views and a caption; every name of the scenario in it is escaped."""
    deepest = float(max(record.seabed_profile[:, 1].max(), record.seabed_across[:, 1].max()))
    depth = 1.12 * deepest
    first = record.elements[0]
    middle = 0.0 if first.x.min() <= 0 <= first.x.max() else float(np.mean(first.x))
    half = max(0.55 * deepest, min(float(np.ptp(first.x)) / 2, 1.25 * deepest)) * 1.05
    side = _View(middle - half, middle + half, depth)
    ahead = _View(-half, half, depth)
    ping = int(np.argmin(np.abs(first.x - middle)))
    views = (
        _svg(record, side, ping, "side", "From the side", "Along the track"),
        _svg(record, ahead, ping, "ahead", "From behind", "Across the track, starboard to the right"),
    )
    return f'<figure class="cutaway">{"".join(views)}<figcaption>{_caption(record)}</figcaption></figure>'


def _caption(record: Record) -> str:
    keys = " ".join(
        f'<span class="beam-key"><svg viewBox="0 0 34 8" aria-hidden="true"><path class="beam s{i}" d="M1 4H33" '
        f'stroke-dasharray="{_dashes(record)[i]}"/></svg> {text(element.info.name)}</span>'
        for i, element in enumerate(record.elements)
    )
    things = [f"{s.name} ({s.material})" for s in record.truth.structures]
    things += [f"{s.name} ({s.kind})" for s in record.truth.soft]
    named = f" Drawn: {text('; '.join(things))}." if things else ""
    where = "of the selected fish" if len(record.truth.fish.id) else "nearest to the middle of the picture"
    return (
        f"{keys}<br>Beams between their one-way &minus;3&nbsp;dB directions at band centre, at the ping {where}; same"
        f" scale down and across; dots are fish.{named}"
    )


def _svg(record: Record, view: _View, ping: int, which: str, title: str, horizontal: str) -> str:
    height = _MARGIN_TOP + view.depth * view.scale + _MARGIN_BELOW
    clip = f"inside-{which}"
    left, top = view.at(view.low, 0.0)
    right, bottom = view.at(view.high, view.depth)
    frame = f'x="{left:.1f}" y="{top:.1f}" width="{right - left:.1f}" height="{bottom - top:.1f}"'
    inside = "".join(
        (
            _soft(record, view, which),
            _beams(record, view, ping, which),
            _ground(record, view, which),
            _structures(record, view, which),
            _fish(record, view, which),
        )
    )
    return (
        f'<div><h3>{title}</h3><svg viewBox="0 0 {_WIDTH:.0f} {height:.0f}" role="img" aria-label="{title}: seabed, '
        f'structures, fish and beams to scale"><clipPath id="{clip}"><rect {frame}/></clipPath>'
        f'<rect class="water" {frame}/><g clip-path="url(#{clip})">{inside}</g>{_axes(view, horizontal)}</svg></div>'
    )


def _beams(record: Record, view: _View, ping: int, which: str) -> str:
    """Return the beams as a group that the page's script moves along with the ping (seen from the side)."""
    beams = "".join(_beam(e, view, ping, which, (i, _dashes(record)[i])) for i, e in enumerate(record.elements))
    first = record.elements[0]
    moves = f' data-x="{first.x[ping]:.2f}" data-scale="{view.scale:.3f}"' if which == "side" else ""
    return f'<g class="beams"{moves}>{beams}</g>'


def _dashes(record: Record) -> list[str]:
    """Return the dashes of every element's beam."""
    return [" ".join(f"{1.6 * part:.3g}" for part in dash) for _, dash in looks(faces(record.elements))]


def _beam(element: ElementRecord, view: _View, ping: int, which: str, look: tuple[int, str]) -> str:
    info = element.info
    near = min(ping, element.pings - 1)
    wide = info.beamwidth_along if which == "side" else info.beamwidth_across
    tilt = info.number("tilt_along" if which == "side" else "tilt_across", 0.0)
    start = float(element.x[near] if which == "side" else element.y[near])
    corners = [(start, info.transducer_depth)]
    for angle in np.radians(np.linspace(max(-89.0, tilt - wide / 2), min(89.0, tilt + wide / 2), 24)):
        reach = 1.3 * view.depth
        corners.append((start + reach * math.sin(angle), info.transducer_depth + reach * math.cos(angle)))
    # Points outside the view are cut by the clip path, so they are not moved here as `points` would.
    path = " ".join("{:.1f},{:.1f}".format(*view.at(*corner)) for corner in corners)
    return (
        f'<polygon class="beam s{look[0]}" stroke-dasharray="{look[1]}" points="{path}">'
        f"<title>{text(info.name)}</title></polygon>"
    )


def _ground(record: Record, view: _View, which: str) -> str:
    line = record.seabed_profile if which == "side" else record.seabed_across
    low = [view.low, float(line[0, 1])], [view.low, view.depth * 1.1]
    high = [view.high, view.depth * 1.1], [view.high, float(line[-1, 1])]
    inside = line[(line[:, 0] >= view.low) & (line[:, 0] <= view.high)]
    shape = np.array([low[0], *inside.tolist(), high[1], high[0], low[1]])
    return f'<polygon class="ground" points="{view.points(shape)}"/>'


def _structures(record: Record, view: _View, which: str) -> str:
    return "".join(
        f'<polygon class="structure" points="{view.points(getattr(s, which))}"><title>{text(s.name)}</title></polygon>'
        for s in record.truth.structures
        if len(getattr(s, which))
    )


def _fish(record: Record, view: _View, which: str) -> str:
    fish = record.truth.fish
    places = zip(fish.x if which == "side" else fish.y, fish.depth, strict=True)
    inside = [view.at(float(a), float(z)) for a, z in places if view.low <= a <= view.high]
    return "".join(f'<circle class="fish" cx="{x:.1f}" cy="{y:.1f}" r="2.2"/>' for x, y in inside[:2000])


def _soft(record: Record, view: _View, which: str) -> str:
    shapes = []
    for soft in record.truth.soft:
        low, high = soft.box[:2] if which == "side" else soft.box[2:4]
        low, high = max(view.low, min(view.high, low)), max(view.low, min(view.high, high))
        (x0, y0), (x1, y1) = view.at(low, max(0.0, soft.box[4])), view.at(high, min(view.depth, soft.box[5]))
        name = f"<title>{text(soft.name)}</title>"
        middle = f'cx="{(x0 + x1) / 2:.1f}" cy="{(y0 + y1) / 2:.1f}"'
        match soft.kind:
            case "school":
                radii = f'rx="{(x1 - x0) / 2:.1f}" ry="{(y1 - y0) / 2:.1f}"'
                shapes.append(f'<ellipse class="soft" {middle} {radii}>{name}</ellipse>')
            case "target":
                shapes.append(f'<circle class="target" {middle} r="3">{name}</circle>')
            case "scattering_layer":
                size = f'width="{x1 - x0:.1f}" height="{y1 - y0:.1f}"'
                shapes.append(f'<rect class="soft" x="{x0:.1f}" y="{y0:.1f}" {size}>{name}</rect>')
            case _:
                assert_never(soft.kind)
    return "".join(shapes)


def _axes(view: _View, horizontal: str) -> str:
    """Return round ticks in metres and in feet, of which the page shows one set, and the frame."""
    left, _ = view.at(view.low, 0.0)
    _, below = view.at(view.low, view.depth)
    sets = "".join(
        f'<g class="{unit}">{_ticks(view, left, below, one, unit)}</g>'
        for unit, one in (("m", 1.0), ("ft", METRES_PER_FOOT))
    )
    return f'{sets}<text x="{left:.1f}" y="{below + 31:.1f}" class="axis">{horizontal}; depth down</text>'


def _ticks(view: _View, left: float, below: float, one: float, unit: str) -> str:
    """Return the ticks of a unit of `one` metres, the unit's name behind the first number of depth and the last."""
    parts = []
    step = _round_step(view.depth / one / 5)
    for k in range(math.floor(view.depth / one / step) + 1):
        _, y = view.at(view.low, k * step * one)
        named = f"{k * step:g}" if k else f"0 {unit}"
        parts.append(f'<path class="tick" d="M{left - 4:.1f} {y:.1f}h4"/>')
        parts.append(f'<text x="{left - 7:.1f}" y="{y + 4:.1f}" text-anchor="end">{named}</text>')
    step = _round_step((view.high - view.low) / one / 5)
    last = math.floor(view.high / one / step)
    for k in range(math.ceil(view.low / one / step), last + 1):
        x, _ = view.at(k * step * one, 0.0)
        named = f"{k * step:g}".replace("-", "\u2212") + (f" {unit}" if k == last else "")
        parts.append(f'<path class="tick" d="M{x:.1f} {below:.1f}v4"/>')
        parts.append(f'<text x="{x:.1f}" y="{below + 17:.1f}" text-anchor="middle">{named}</text>')
    return "".join(parts)


def _round_step(rough: float) -> float:
    power = 10.0 ** math.floor(math.log10(rough))
    return next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= rough)
