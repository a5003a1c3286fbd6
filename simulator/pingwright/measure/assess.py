"""Everything measured in one recording, computed once."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import ElementRecord, FreshPasses, Record
from pingwright.inputs.document import tables
from pingwright.measure import held
from pingwright.measure.assessment import MARKS, Assessment, ElementAssessment
from pingwright.measure.bottom import pick_error
from pingwright.measure.certainty import Repeated
from pingwright.measure.closed import noise_bands, of_record
from pingwright.measure.definitions import DEFINITIONS
from pingwright.measure.detect import FALSE_ALARM, FLOOR
from pingwright.measure.filters import point_width
from pingwright.measure.marks import Scored, marks, score_element, single
from pingwright.measure.reasons import reasons
from pingwright.measure.share import share

Progress = Callable[[str, int, int], None]


def assess(
    record: Record,
    floor: float = FLOOR,
    false_alarm: float = FALSE_ALARM,
    progress: Progress | None = None,
    threads: int = 1,
) -> Assessment:
    """Return the assessment of each element of a recording.

    floor [dB re 1 m2]: least echo strength of a detection, the picture's floor; false_alarm: expected false peaks per
    resolution cell; progress(stage, done, total); threads: elements judged at a time, of records held in memory.
    """
    judged: list[ElementAssessment] = []
    with ThreadPoolExecutor(threads) as pool:
        every = (pool.map if threads > 1 else map)(
            lambda element: _assess_element(record, element, floor, false_alarm), record.elements
        )
        for i in range(len(record.elements)):
            if progress:
                progress("measuring", i, len(record.elements))
            judged.append(next(every))
    if progress:
        progress("measuring", len(record.elements), len(record.elements))
    several = len(judged) > 1
    shown = np.array([[mark != "not_shown" for mark in element.mark] for element in judged], dtype=bool)
    clear = np.array([[mark == "separated" for mark in element.mark] for element in judged], dtype=bool)
    return Assessment(
        title=record.title,
        floor=floor,
        elements=tuple(judged),
        definitions=DEFINITIONS,
        either_detected=share(np.asarray(shown.any(axis=0))) if several else None,
        either_separated=share(np.asarray(clear.any(axis=0))) if several else None,
    )


def _law(record: Record) -> str:
    """Return the law of the rough bottom of a record; the name of the default for files without it."""
    return _law_of(record.scenario_resolved)


@lru_cache(maxsize=8)
def _law_of(scenario: str) -> str:
    try:
        seabed = tables(scenario).get("seabed")
    except ValueError:
        seabed = None
    return str(seabed.get("law", "kirchhoff")) if isinstance(seabed, dict) else "kirchhoff"


def _repeated(passes: FreshPasses | None, element: int) -> Repeated | None:
    """Return the results of fresh passes for one element, None without passes or fish."""
    if passes is None or not passes.separated.size:
        return None
    return Repeated(passes.detected[:, element], passes.separated[:, element])


def _by_fish(scored: Scored) -> NDArray[np.float64]:
    """Return the share of each fish's own moved passes that count as separated (fish); nan for a fish without them."""
    count = len(scored.ping)
    passes, hits = (np.bincount(scored.lender, w, count) for w in (None, scored.blank.is_separated))
    return np.where(passes > 0, hits / np.maximum(passes, 1), np.nan)


def _assess_element(record: Record, element: ElementRecord, floor: float, false_alarm: float) -> ElementAssessment:
    info, truth = element.info, record.truth
    scored = score_element(element, truth, floor, false_alarm)
    fish, mark, nearest = scored.fish, marks(scored.fish), np.isfinite(scored.nearest.peak)
    error = pick_error(element, scored.bottom)
    picked = error[np.isfinite(error)]
    quartiles = np.percentile(picked, [16, 50, 84]) if len(picked) else np.full(3, np.nan)
    return ElementAssessment(
        name=info.name,
        slug=info.slug,
        mark=mark,
        fish_ping=scored.ping,
        fish_range=scored.true_range,
        fish_peak=np.where(nearest, scored.nearest.peak, fish.peak),
        fish_strength=np.where(nearest, scored.nearest.strength, fish.strength),
        bottom_range=scored.bottom.pick,
        bottom_peak=np.where(scored.bottom.peak < 0, np.nan, np.asarray(element.range)[scored.bottom.peak]),
        bottom_level=scored.bottom.level,
        bottom_error=error,
        counts={name: mark.count(name) for name in MARKS},
        detected=share(fish.is_detected),
        separated=share(fish.is_separated),
        false_alarms=share(scored.blank.is_separated),
        false_alarms_of=_by_fish(scored),
        range_resolution=point_width(info),
        bottom_error_median=float(quartiles[1]),
        bottom_error_spread=float(quartiles[2] - quartiles[0]) / 2,
        closed=of_record(element, truth, floor),
        nearest_mark=single(scored.nearest),
        pings_in_beam=fish.in_beam,
        pings_detected=fish.detected,
        pings_separated=fish.separated,
        arch_length=fish.length,
        arch_depth=fish.depth,
        reason=reasons(element, truth, scored, floor, false_alarm),
        rule=scored.rule,
        one_arch=scored.one_arch,
        bottom_lost=int(scored.lost.sum()),
        passes=_repeated(record.passes, info.position),
        extra={**noise_bands(info, truth), **held.of_record(element, truth.sediments, _law(record))},
    )
