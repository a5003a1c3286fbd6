"""Separated: a detected fish whose echo is apart from the echo of the bottom, or of another fish."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pingwright.measure import beside
from pingwright.measure.bottom import Bottom
from pingwright.measure.cells import FloatArray, Grid, StoredArray, highest_within, to_level
from pingwright.measure.detect import FALSE_ALARM, FLOOR, GUARD_CELLS, IntArray, Peaks, examine, last_sample, possible

BoolArray = NDArray[np.bool_]

#: The gap lies at least this far [dB] below the fish's peak ...
BELOW_PEAK = 3.0
#: ... (more between the echo of a structure and that of the seabed, where the structure's own echo is not known) ...
BELOW_PEAK_BEHIND = 20.0
#: ... and this far [dB] below the bottom level.
BELOW_BOTTOM = 15.0
#: A peak scores within this many cells of the fish's true slant range.
SCORING_CELLS = 3.0
#: Other fish of the same ping that are looked at on each side of a fish, so that they do not pass for reverberation.
MOST_NEAR = 6
#: Half the length of a fish tilted by 30 deg, which 19 fish in 20 with a spread of 15 deg do not exceed: the fish's own
#: extent in range, as a fraction of its length.
EXTENT_OF_LENGTH = 0.25


@dataclass(frozen=True)
class Verdicts:
    """Judgement of trials, arrays over (trial).

    detected, separated (bool); peak [m]: range of the strongest peak that scored, nan where none; strength
    [dB re 1 m2] of it.
    """

    detected: BoolArray
    separated: BoolArray
    peak: FloatArray
    strength: FloatArray


def tolerance(cells: Grid, length: FloatArray) -> FloatArray:
    """Return how far [m] from its true slant range a peak still counts for fish of some lengths [m]."""
    return np.maximum(SCORING_CELLS * cells.cell, EXTENT_OF_LENGTH * np.asarray(length, dtype=np.float64))


def quietest_gap(stored: StoredArray, cells: Grid, bottom: Bottom, row: IntArray, index: IntArray) -> FloatArray:
    """Return the level [dB re 1 uPa] under which the quietest gap between a peak and the bottom's maximum lies.

    A gap is an unbroken run of samples over two cells; inf where none fits in between. row, index (peak).
    """
    if len(row) == 0:
        return np.zeros(0)
    low, high = int(index.min()), int(bottom.peak[row].max())
    result = np.full(len(row), np.inf)
    used, back = np.unique(row, return_inverse=True)
    runs = highest_within(stored[used, low:high], cells.gap).copy()
    outside = np.arange(runs.shape[1]) + low + cells.gap > bottom.peak[used][:, None]
    runs[outside] = np.iinfo(np.int16).max
    least = np.minimum.accumulate(runs[:, ::-1], axis=1)[:, ::-1]
    place = index + 1 - low
    fits = place < runs.shape[1]
    value = least[back[fits], place[fits]]
    result[fits] = np.where(value == np.iinfo(np.int16).max, np.inf, to_level(value))
    return result


def separated(
    stored: StoredArray, cells: Grid, bottom: Bottom, peaks: Peaks, beyond: BoolArray | None = None
) -> BoolArray:
    """Return which detected peaks are separated from the bottom.

    beyond (ping): whether the true bottom lies beyond the record's end; there every peak is separated. In any other
    ping without a pick none is: its bottom echo was lost, and the peak may be a part of it. None: no such ping. There
    must be, between the peak and the bottom's maximum, an unbroken gap of at least 2 cells at least 3 dB below the peak
    and at least 15 dB below the bottom level. On bare slopes of 20 degrees under a beam of 8.5 degrees 6 to 11 pings in
    100 count as separated (to 15 degrees 0 to 1.5): the side lobe's echo from the nearest point is apart there, like
    that of a fish, and one ping cannot distinguish them.
    """
    picked = bottom.peak[peaks.row] >= 0
    result = ~picked & (False if beyond is None else beyond[peaks.row])
    near = peaks.keep(picked)
    limit = np.minimum(near.level - BELOW_PEAK, bottom.level[near.row] - BELOW_BOTTOM)
    result[picked] = quietest_gap(stored, cells, bottom, near.row, near.index) <= limit
    return result


def peaks_near(
    stored: StoredArray,
    cells: Grid,
    bottom: Bottom,
    row: IntArray,
    true_range: FloatArray,
    within: FloatArray,
    floor: float = FLOOR,
    false_alarm: float = FALSE_ALARM,
    around: FloatArray | None = None,
    there: BoolArray | None = None,
) -> tuple[Peaks, IntArray]:
    """Return detected peaks within a distance of true ranges, and the trial each belongs to.

    row (int), true_range, within [m]: by trial; a ping may serve several trials. around, there: see `score`.
    """
    centre = cells.index(true_range)
    half = within / cells.step
    reach = int(np.ceil(half.max(initial=0))) + 1
    place = np.rint(centre).astype(np.int64)[:, None] + np.arange(-reach, reach + 1)
    ahead = last_sample(cells, bottom, stored.shape[1])[row][:, None]
    inside = (place >= max(cells.blank, 1)) & (place < ahead) & (place < stored.shape[1] - 1)
    safe = np.clip(place, 1, stored.shape[1] - 2)
    at = row[:, None]
    value = stored[at, safe]
    top = inside & (value >= stored[at, safe - 1]) & (value > stored[at, safe + 1])
    trial, column = np.nonzero(top)
    index = safe[trial, column]
    may, range_m = possible(stored, cells, row[trial], index, floor, false_alarm)
    may &= np.abs(range_m - true_range[trial]) <= within[trial]
    trial, index = trial[may], index[may]
    others = None
    if around is not None:
        others = beside.at_peaks(around[trial], cells.range[index] - true_range[trial], within[trial])
    crowd = crowd_of(cells, row, centre, half, there)
    near = None if crowd is None else crowd[trial]
    peaks = examine(stored, cells, bottom, row[trial], index, false_alarm, others, near)
    hit = peaks.exceeding(floor)
    return peaks.keep(hit), trial[hit]


def crowd_of(
    cells: Grid, row: IntArray, centre: FloatArray, half: FloatArray, there: BoolArray | None
) -> FloatArray | None:
    """Return in which samples other fish echo in the same ping (trial, other, from | to), nan where there are fewer.

    row, centre, half (trial): ping, sample of the fish, samples within which a peak is its own; there (trial): see
    `score`. None where no ping has two fish. Of many fish the nearest count, MOST_NEAR on each side.
    """
    real = np.arange(len(row)) if there is None else np.flatnonzero(there)
    real = real[np.lexsort((centre[real], row[real]))]
    length = 2.0 + 2.0 * float(np.abs(centre).max(initial=0.0))
    place = np.searchsorted(row[real] * length + centre[real], row * length + centre)
    # Those of the same ping lie at most so many places away in the order of all.
    most = min(int(np.bincount(row[real]).max(initial=0)), MOST_NEAR)
    span = np.full((len(row), 2 * most, 2), np.nan)
    for k in range(2 * most):
        other = place + k - most
        its = real[np.clip(other, 0, len(real) - 1)]
        # A fish may be judged twice in a ping: it is no other fish than itself.
        same = (other >= 0) & (other < len(real)) & (row[its] == row) & (np.abs(centre[its] - centre) > 0.5)
        mine = its[same]
        wide = half[mine] + GUARD_CELLS * cells.per_cell
        span[same, k] = np.stack([centre[mine] - wide, centre[mine] + wide], axis=1)
    return None if np.isnan(span).all() else span


def score(
    stored: StoredArray,
    cells: Grid,
    bottom: Bottom,
    row: IntArray,
    true_range: FloatArray,
    within: FloatArray,
    floor: float = FLOOR,
    false_alarm: float = FALSE_ALARM,
    beyond: BoolArray | None = None,
    around: FloatArray | None = None,
    there: BoolArray | None = None,
) -> Verdicts:
    """Return whether the fish of each trial is detected and separated from the bottom.

    row (int), true_range, within [m] by trial: which ping, where the fish truly is on the range axis, and how far off a
    peak may lie; beyond (ping): see `separated`; around [dB re 1 uPa] (trial, beside.COLUMNS): what structures,
    schools and targets send back from there, nan or None where that is not known; there (trial): whether there is a
    fish at all (None: everywhere), which then is no reverberation for its neighbours. A fish is separated if any of its
    detected peaks is: at chirp resolution it may show several.
    """
    options = (row, true_range, within, floor, false_alarm, around, there)
    peaks, trial = peaks_near(stored, cells, bottom, *options)
    clear = separated(stored, cells, bottom, peaks, beyond)
    if np.isfinite(bottom.lines[row]).any():
        more, its, apart = _behind(stored, cells, bottom, *options)
        peaks, trial, clear = peaks.and_(more), np.concatenate([trial, its]), np.concatenate([clear, apart])
    count = len(row)
    detected, alone = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    detected[trial] = True
    alone[trial[clear]] = True
    # Weakest first: the strongest is written last and remains.
    order = np.argsort(peaks.level, kind="stable")
    peak, strength = np.full(count, np.nan), np.full(count, np.nan)
    peak[trial[order]] = peaks.range[order]
    strength[trial[order]] = peaks.strength[order]
    return Verdicts(detected, alone, peak, strength)


def _behind(
    stored: StoredArray,
    cells: Grid,
    bottom: Bottom,
    row: IntArray,
    true_range: FloatArray,
    within: FloatArray,
    floor: float,
    false_alarm: float,
    around: FloatArray | None,
    there: BoolArray | None,
) -> tuple[Peaks, IntArray, BoolArray]:
    """Return peaks near true ranges between a structure's echo and the seabed's line, their trials, which stand clear.

    Where it is known what the structure sends back from there, a peak that stands over it is the fish's, and clear of
    both by the gap rule that holds ahead of the bottom. Where it is not (files that do not say), only those count as
    detected that stand clear on both sides by BELOW_PEAK_BEHIND: what joins the structure's echo may be a part of it.
    """
    lines = bottom.behind(stored, cells)
    peaks, trial = peaks_near(stored, cells, lines, row, true_range, within, floor, false_alarm, around, there)
    between = (lines.peak[peaks.row] >= 0) & (peaks.range > bottom.pick[peaks.row])
    peaks, trial = peaks.keep(between), trial[between]
    known = np.zeros(len(trial), bool) if around is None else np.isfinite(around[trial]).any(axis=1)
    ahead = np.ceil(cells.index(bottom.pick[peaks.row])).astype(np.int64)
    below = np.where(known, BELOW_PEAK, BELOW_PEAK_BEHIND)
    limit = np.minimum(peaks.level - below, bottom.level[peaks.row] - BELOW_BOTTOM)
    clear = quietest_gap(stored, cells, lines, peaks.row, peaks.index) <= limit
    for k in np.flatnonzero(clear):
        runs = highest_within(stored[peaks.row[k] : peaks.row[k] + 1, ahead[k] : peaks.index[k]], cells.gap)
        clear[k] = to_level(runs).min(initial=np.inf) <= limit[k]
    shown = clear | known
    return peaks.keep(shown), trial[shown], clear[shown]


def score_pair(
    stored: StoredArray,
    cells: Grid,
    bottom: Bottom,
    row: IntArray,
    true_range: FloatArray,
    within: FloatArray,
    floor: float = FLOOR,
    false_alarm: float = FALSE_ALARM,
    around: FloatArray | None = None,
) -> BoolArray:
    """Return whether two fish are separated from each other, by trial.

    true_range, within (trial, 2) [m]; around (trial, 2, beside.COLUMNS): see `score`. Each must have a detected peak of
    its own, and between the two an unbroken gap of at least 2 cells must lie at least 3 dB below the weaker one. The
    strongest peak of each fish is taken that is not nearer to the other.
    """
    near = np.argmin(true_range, axis=1)
    rows = np.arange(len(row))
    chosen: list[tuple[IntArray, FloatArray]] = []
    for which in (near, 1 - near):
        own, other = true_range[rows, which], true_range[rows, 1 - which]
        beside_it = None if around is None else around[rows, which]
        peaks, trial = peaks_near(stored, cells, bottom, row, own, within[rows, which], floor, false_alarm, beside_it)
        closer = np.abs(peaks.range - own[trial]) <= np.abs(peaks.range - other[trial])
        peaks, trial = peaks.keep(closer), trial[closer]
        order = np.argsort(peaks.level, kind="stable")
        index, level = np.full(len(row), -1, dtype=np.int64), np.full(len(row), np.nan)
        index[trial[order]], level[trial[order]] = peaks.index[order], peaks.level[order]
        chosen.append((index, level))
    (first, first_level), (last, last_level) = chosen
    able = ~np.isnan(first_level) & (last > first)
    result = np.zeros(len(row), dtype=bool)
    for i in np.flatnonzero(able):
        runs = highest_within(stored[row[i] : row[i] + 1, first[i] + 1 : last[i]], cells.gap)
        quiet = to_level(runs).min(initial=np.inf)
        result[i] = quiet <= min(first_level[i], last_level[i]) - BELOW_PEAK
    return result
