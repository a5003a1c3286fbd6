"""A first look at a changed scene: some of its pings before the others are simulated, or all before they are judged.

Each ping is that of the whole run. What is counted and judged needs all pings, so nothing is counted here.
"""

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pingwright import words
from pingwright.bench import view
from pingwright.bench.grounds import added
from pingwright.echograms.levels import blanked, blind_samples
from pingwright.echograms.record import ElementRecord, Record
from pingwright.measure.assessment import Assessment
from pingwright.measure.geometry import ground_range
from pingwright.measure.groups import Group

if TYPE_CHECKING:
    from pingwright.engine.preparing import Run
    from pingwright.recording import Prepared

#: Pings of each element; a scene with few more is simulated as a whole.
PINGS, FEW = 12, 40
_BY_PING = ("ping_time", "x", "y", "roll", "pitch", "heave", "bottom_depth")


def record(prepared: "Prepared", run: "Run") -> Record | None:
    """Return PINGS pings of each element, evenly over the track, as a recording; None where there are few anyway.

    run: of `grounds.run_of`.
    """
    from pingwright.engine.still import some

    least = min(element.pings for element in prepared.header.elements)
    if least <= FEW:
        return None
    rows = np.unique(np.linspace(0, least - 1, PINGS).round().astype(np.int64))
    still = some(run, rows)
    overlays = [] if run.world is prepared.world else [still.overlay(added(prepared))]
    return _thinned(prepared.header, rows, still.together(overlays))


def _thinned(header: Record, rows: NDArray[np.int64], level: list[NDArray[np.int16]]) -> Record:
    """Return a recording of these pings alone, each fish at the nearest of them."""
    fish = header.truth.fish
    nearest = np.abs(rows[:, None, None] - np.asarray(fish.nearest_ping)).argmin(axis=0)
    return replace(
        header,
        elements=tuple(_rows(element, rows, one) for element, one in zip(header.elements, level, strict=True)),
        truth=replace(header.truth, fish=replace(fish, nearest_ping=nearest)),
    )


def _rows(element: ElementRecord, rows: NDArray[np.int64], level: NDArray[np.int16]) -> ElementRecord:
    seen, _ = blanked(blind_samples(element), level, None)
    return replace(element, echo_level=seen, **{name: getattr(element, name)[rows] for name in _BY_PING})


def moved(record: Record, before: Assessment | None) -> Assessment | None:
    """Return what was judged before with fish and ground at their true places; None where it was of other elements.

    It serves only to choose the part that is enlarged of a recording that is not judged yet.
    """
    fish = record.truth.fish
    shape = [(element.info.name, len(fish.id)) for element in record.elements]
    if before is None or shape != [(e.name, len(e.fish_ping)) for e in before.elements]:
        return None
    places = [
        replace(
            judged,
            fish_ping=np.asarray(fish.nearest_ping[i]),
            fish_range=fish.apparent_range(i, element.info),
            bottom_range=ground_range(element),
        )
        for i, (judged, element) in enumerate(zip(before.elements, record.elements, strict=True))
    ]
    return replace(before, elements=tuple(places))


def shown(
    look: Record, judged: Assessment, whole: int, units: words.Units, chosen: Group | None = None
) -> dict[str, Any]:
    """Return what the browser draws for a first look at some of `whole` pings, without marks, counts and reasons.

    judged: which part of it to enlarge; chosen: the group of fish that it is about, None: the lowest.
    """
    answer, pings = view.shown(look, judged, units, chosen), look.elements[0].pings
    text = "Judging all pings ..."
    if pings < whole:
        text = f"A first look: {pings} of {whole} pings. What is separated follows with all of them."
    silent: dict[str, Any] = {"verdict": "", "chance": "", "marks": [], "reasons": [], "hides": "", "hidden": None}
    elements = [element | silent for element in answer["elements"]]
    return answer | {"answer": [{"text": text, "element": None}], "elements": elements, "every": pings == whole}
