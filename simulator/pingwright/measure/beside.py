"""Whose echo a peak is, beside a structure: what all but the fish send back from its place is known from the truth.

A structure's edges, decks and boulders give echoes of a fish's strength at every range from its top down. Levels alone
do not tell them from fish, so marks ask the truth, as they do for a fish's place: a peak is the fish's where it stands
OWN over the echo of all else from there. Layers and noise are left out of that, and the seabed where it is not steep;
what they do is judged by the levels. Steep ground is a structure in this: the first echoes of a slope, a ledge or a
wave come from beside the boat, are weak, and stand apart from the rest as a fish does.
"""

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import ElementRecord, Surroundings, Truth
from pingwright.measure.cells import FloatArray, Grid, StoredArray, to_level, to_stored
from pingwright.measure.geometry import drawn_over_slant, structure_range
from pingwright.measure.judgements import IntArray, Trials

BoolArray = NDArray[np.bool_]

#: Equal parts of the stretch of range in which a peak may be the fish's; with its two neighbours a part spans 1.4 cells
#: and, under fine elements and long fish, more.
PARTS = 13
#: A peak is the fish's where it stands at least this far [dB] over all else there: three quarters of its power ...
OWN = 6.0
#: ... and it is visible where it stands this far over it (common practice, no source), even where the mean of what is
#: around asks for more, be it the structure or other fish ...
CLEAR = 12.0
#: ... where the middle one of the cells around stands at most this far [dB] over all that is known within so many
#: cells; else the seabed or a layer echoes there, and the peak stands as far over the mean of that ...
UNKNOWN, AROUND_CELLS = 3.0, 24.0
#: ... which lies this far [dB] over the middle of Rayleigh power, -10 log10(ln 2).
MIDDLE = 1.59
#: Columns of what is known around a fish: the parts, and the mean within AROUND_CELLS.
COLUMNS = PARTS + 1


def profile(stored: StoredArray, cells: Grid, row: IntArray, true_range: FloatArray, within: FloatArray) -> FloatArray:
    """Return levels [dB re 1 uPa] (trial, COLUMNS): the highest in equal parts of true_range -+ within, and the mean.

    stored (ping, sample): of all but fish, seabed, layers and noise; row (trial): which of these pings; true_range,
    within [m] (trial). The mean is of the power within AROUND_CELLS.
    """
    reach = int(np.ceil(within.max(initial=0) / cells.step)) + 1
    place = np.rint(cells.index(true_range)).astype(np.int64)[:, None] + np.arange(-reach, reach + 1)
    safe = np.clip(place, 0, stored.shape[1] - 1)
    away = cells.range[0] + place * cells.step - true_range[:, None]
    inside = (np.abs(away) <= within[:, None] + cells.step) & (place == safe)
    trial, column = np.nonzero(inside)
    highest = np.full((len(row), PARTS), to_stored(-1e3))
    np.maximum.at(highest, (trial, part(away[inside], within[trial])), stored[row[trial], safe[inside]])
    half = round(AROUND_CELLS * cells.per_cell)
    wide = np.clip(place[:, reach, None] + np.arange(-half, half + 1), 0, stored.shape[1] - 1)
    mean = 10 * np.log10(np.mean(10 ** (0.1 * to_level(stored[row[:, None], wide])), axis=1))
    return np.concatenate([to_level(highest), mean[:, None]], axis=1)


def part(away: FloatArray, within: FloatArray) -> IntArray:
    """Return in which part a peak lies that is `away` [m] behind the true range, of -+ within [m] (any shape)."""
    return np.clip(np.floor((away / within + 1) * (PARTS / 2)), 0, PARTS - 1).astype(np.int64)


def at_peaks(around: FloatArray, away: FloatArray, within: FloatArray) -> FloatArray:
    """Return levels [dB re 1 uPa] (2, peak): the highest of the part a peak lies in and of its neighbours, the mean.

    around (peak, COLUMNS): of `profile`, nan where nothing is known; away, within [m] (peak).
    """
    middle, rows = part(away, within), np.arange(len(around))
    parts = [around[rows, np.clip(middle + k, 0, PARTS - 1)] for k in (-1, 0, 1)]
    return np.stack([np.max(parts, axis=0), around[:, PARTS]])


def threshold(
    local: FloatArray, steady: FloatArray, unknown: FloatArray, level: FloatArray, others: FloatArray
) -> FloatArray:
    """Return the threshold [dB re 1 uPa] (peak) of the fish's own peaks where all else there is known.

    local: over the mean level around it; steady: over noise and the bottom's side lobes alone; level: where the middle
    one of the cells around stands, unknown [dB]: how far it stands over all that is known; others: the highest of
    `at_peaks`, nan where nothing is known: there the local threshold stands.
    """
    clear = np.maximum(others + CLEAR, steady)
    clear = np.where(unknown <= UNKNOWN, clear, np.maximum(clear, level + CLEAR + MIDDLE))
    return np.asarray(np.fmax(np.fmin(local, clear), others + OWN))


def near_ground(element: ElementRecord, trials: Trials, nearest: FloatArray) -> IntArray:
    """Return the places of trials at whose range steep ground may echo.

    nearest [m] (trial): where its nearest point is drawn on the range axis. Some ground a little nearer is missed by
    the search for it (`world.terrain`), and the sound speed above it is a little another: 1 % is left for both.
    """
    return np.flatnonzero(trials.range + _margin(element, trials) >= 0.99 * nearest)


def _margin(element: ElementRecord, trials: Trials) -> FloatArray:
    """Return how far ahead of a thing [m] (trial) its echo may begin: the filter's side lobes are a pulse long."""
    return np.asarray(trials.within + 0.5 * element.info.assumed_sound_speed * element.info.pulse_length)


def near_structures(element: ElementRecord, truth: Truth, trials: Trials) -> IntArray:
    """Return the places of trials, owned by fish, at whose range a structure may echo.

    None of it is nearer than its outline's box, drawn with the sound speed down to the fish.
    """
    nearest = np.full(len(trials), np.inf)
    for structure in truth.structures:
        nearest = np.minimum(nearest, structure_range(element, trials.ping, structure)[0])
    nearest = nearest * drawn_over_slant(element, truth.fish)[trials.owner]
    return np.flatnonzero(trials.range + _margin(element, trials) >= 0.99 * nearest)


def causes(
    element: ElementRecord, truth: Truth, trials: Trials, around: FloatArray | None
) -> tuple[BoolArray, BoolArray]:
    """Return for which trials (trial), owned by fish, the surroundings are known: by steep ground, by a structure.

    around: of `of_trials`. In files that do not say which, it is a structure wherever one is near enough.
    """
    none = np.zeros(len(trials), dtype=bool)
    known = truth.surroundings
    if around is None or known is None:
        return none, none
    if known.ground is None:
        held, built = np.isfinite(around[:, 0]), none.copy()
        built[near_structures(element, truth, trials)] = True
        return held & ~built, held & built
    place, row = _rows(known, element.info.position, trials)
    ground, built = none.copy(), none.copy()
    ground[place], built[place] = known.ground[row], ~known.ground[row]
    return ground, built


def of_trials(truth: Truth, position: int, trials: Trials) -> FloatArray | None:
    """Return what a recording's truth holds around the fish of trials [dB re 1 uPa] (trial, COLUMNS).

    nan where it holds nothing of one, None where it holds nothing at all. position: of the element; trials: owned by
    fish.
    """
    known = truth.surroundings
    if known is None or known.level.shape[1] != COLUMNS:
        return None
    place, row = _rows(known, position, trials)
    around = np.full((len(trials), COLUMNS), np.nan)
    around[place] = known.level[row]
    return around


def _rows(known: Surroundings, position: int, trials: Trials) -> tuple[IntArray, IntArray]:
    """Return which trials, owned by fish, are held of an element, and the row of each."""
    mine = np.flatnonzero(known.element == position)
    count = 1 + int(max(known.ping.max(initial=0), trials.ping.max(initial=0)))
    keys = known.fish[mine] * count + known.ping[mine]
    order = np.argsort(keys, kind="stable")
    needed = trials.owner * count + trials.ping
    row = np.searchsorted(keys[order], needed)
    place = np.flatnonzero(row < len(keys))
    place = place[keys[order][row[place]] == needed[place]]
    return place, mine[order[row[place]]]


def joined(parts: list[Surroundings]) -> Surroundings | None:
    """Return several elements' surroundings as one, None where they hold nothing."""
    names = ("element", "fish", "ping", "level")
    whole = [np.concatenate([getattr(one, name) for one in parts]) for name in names] if parts else []
    if not whole or not len(whole[0]):
        return None
    said = [one.ground for one in parts if one.ground is not None]
    ground = np.concatenate(said) if len(said) == len(parts) else None
    return Surroundings(whole[0], whole[1], whole[2], whole[3], ground)
