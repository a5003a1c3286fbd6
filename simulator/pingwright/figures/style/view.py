"""Options of the reader for a picture, besides its style: a window, texts, arrows, marks or no marks."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pingwright import palette
from pingwright.echograms.record import ElementRecord, Record


@dataclass(frozen=True)
class Label:
    """A text with an arrow to a place: x along the track, y across it, depth [m]."""

    text: str
    x: float
    y: float
    depth: float


@dataclass(frozen=True)
class View:
    """Window and words of a picture.

    depth (top, foot), along (low, high) [m]: the part that is shown, else all; headline, note: texts of the reader
    instead of ours; marks: whether fish are marked; labels: arrows.
    """

    depth: tuple[float, float] | None = None
    along: tuple[float, float] | None = None
    headline: str = ""
    note: str = ""
    marks: bool = True
    labels: tuple[Label, ...] = ()


def faces(elements: Sequence[ElementRecord]) -> tuple[palette.Face, ...]:
    """Return the properties that give the elements their colours and dashes."""
    return tuple(
        palette.Face(
            (e.info.band_low + e.info.band_high) / 2,
            e.info.beamwidth_along,
            e.info.beamwidth_across,
            max(abs(e.info.number("tilt_along", 0.0)), abs(e.info.number("tilt_across", 0.0))) > 0.5,
        )
        for e in elements
    )


class _Within:
    """Rows of a stored array, read only when needed."""

    def __init__(self, stored: Any, rows: slice) -> None:
        self._stored, self._rows = stored, rows
        self.shape = (rows.stop - rows.start, *stored.shape[1:])

    def __getitem__(self, key: Any) -> Any:
        rows, rest = (key[0], key[1:]) if isinstance(key, tuple) else (key, ())
        if isinstance(rows, slice):
            start, stop, step = rows.indices(self.shape[0])
            rows = slice(start + self._rows.start, stop + self._rows.start, step)
        else:
            rows = int(rows) + self._rows.start if rows >= 0 else int(rows) + self._rows.stop
        return self._stored[(rows, *rest)]


def pings_within(element: ElementRecord, along: tuple[float, float] | None) -> slice:
    """Return the pings of an element inside limits along the track [m, or s for an anchored boat]; at least two."""
    if along is None:
        return slice(0, element.pings)
    moving = element.pings > 1 and bool(np.all(np.diff(element.x) > 0))
    place = element.x if moving else element.ping_time
    first, past = (int(i) for i in np.searchsorted(place, along))
    first = min(first, max(element.pings - 2, 0))
    return slice(first, max(past, min(first + 2, element.pings)))


def cut(element: ElementRecord, along: tuple[float, float] | None) -> ElementRecord:
    """Return an element with only the pings inside limits along the track."""
    part = pings_within(element, along)
    if part == slice(0, element.pings):
        return element
    names = ("ping_time", "x", "y", "roll", "pitch", "heave", "bottom_depth")
    axes = {name: getattr(element, name)[part] for name in names}
    return replace(element, **axes, echo_level=_Within(element.echo_level, part), echo=None)


def depths(record: Record, view: View) -> tuple[float, float]:
    """Return foot and top of the drawn depth [m]: the reader's window, else from the surface to the last sample."""
    reached = [e.range + e.info.transducer_depth for e in record.elements]
    foot, top = max(float(r[-1]) for r in reached), min(float(r[0]) for r in reached)
    if view.depth is not None:
        return max(view.depth), min(view.depth)
    return foot, 0.0 if top < 1.5 else top
