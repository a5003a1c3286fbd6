"""The bottom echo of each ping: its level, its rising edge, and how far that is from the truth."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import ADD_OFFSET, SCALE_FACTOR, ElementRecord
from pingwright.measure import onset, rise, strongest
from pingwright.measure.cells import FloatArray, Grid, StoredArray, highest_within, to_level, to_stored
from pingwright.measure.rise import LEAST_VOLUME_STRENGTH
from pingwright.measure.strongest import LEAST_EXCESS, LEAST_STRENGTH

#: Cells over which power is averaged for the bottom level.
AVERAGED_CELLS = 8
#: Least averaged bottom power with spherical spreading removed [dB re 1]; assumed: mud at 300 m gives about -42,
#: a fish of -32 dB at 4 m -51 (-44 before averaging over 8 cells).
LEAST_SURFACE_LEVEL = -48.0
#: Weaker bottoms count where the power averaged over some times 8 cells is at most so much [dB] below that of the
#: strongest 8: 4 times down to this level; 16 times down to a volume backscattering strength [dB re 1 m-1] beyond that
#: of all but the densest schools (-55 to -30, from memory, and 4 dB more in the strongest 8 cells); assumed. Mud under
#: a narrow high beam gives levels of -52 to -43 and, on slopes of 12 to 20 degrees, -65 to -58 or -26 to -19 as a
#: volume. The echo of one fish ends within 8 cells: it loses 6 and 12 dB. What reaches LEAST_STRENGTH counts too.
LEAST_EXTENDED_LEVEL, EXTENDED_LOSS = -56.0, 5.2
LONG_LOSS = 9.0
#: The echo of flat ground under a narrow beam is as short as a fish's, and in high bands as weak. But ground goes on
#: beside the beam: so many stretches of twice 8 cells behind the echo (fewer stretches of fewer cells where the record
#: ends sooner, at least twice LEAST_TAIL_CELLS) stand this far [dB] over the noise, and more than half of them over the
#: same stretches ahead, where the filter's side lobes are the same ...
TAIL, LEAST_TAIL, LEAST_TAIL_CELLS, TAIL_OVER = 5, 3, 3.0, 6.0
#: ... each no stronger than the one before by this much [dB], the first so far [dB] below the echo and the last so far:
#: other fish behind a fish, or a school, do not fall like that. All of them assumed, tried on scenes.
TAIL_RISE, TAIL_DROP, TAIL_END = 4.0, 8.0, 20.0
#: The bottom's maximum lies within this share of range behind its first strong stretch.
QUARTER = 0.25
BLOCK = 64
#: Pings whose powers are summed at a time: they stay in the caches.
ROWS = 8
#: A later strong echo is taken for the seabed's line behind a structure where it comes within so much [dB] of the
#: strongest, out of so many cells of water so far [dB] below the bottom level: behind an edge's echo, or behind a
#: deck's, which is a mirror, the later of the two; where there is neither, behind a mirror that the beam meets squarely
#: while it meets the seabed beside it; assumed, tried on scenes (see `_line`).
LINES, LINE_GAP = ((10.0, 20.0), (20.0, 35.0), (30.0, 45.0)), 12.0
#: ... up to so many times the range where the first begins: at twice that its second echo comes.
LINE_REACH = 1.9


@dataclass(frozen=True)
class Bottom:
    """The bottom echo, arrays over (ping); nan and -1 where a ping shows no bottom.

    level [dB re 1 uPa]: maximum of the power averaged over 8 cells; peak (int): sample index of the
    strongest sample in it; pick [m]: range of the rising edge, or of its onset's where it has one; line [m]: range of
    the rising edge of a later strong echo with quiet water before it, where the first is that of a structure and this
    the seabed's, nan where there is only one. None stands for no such ping.
    """

    level: FloatArray
    peak: NDArray[np.int64]
    pick: FloatArray
    line: FloatArray | None = None

    @property
    def lines(self) -> FloatArray:
        """Range [m] (ping) of the later line, nan where there is none."""
        return np.full(len(self.pick), np.nan) if self.line is None else self.line

    def behind(self, stored: StoredArray, cells: Grid) -> "Bottom":
        """Return the later line as the bottom of the pings that have one; -1 and nan in the others."""
        lines = self.lines
        apart = np.isfinite(lines)
        edge = np.where(apart, np.ceil(cells.index(np.where(apart, lines, 0.0))), 0).astype(np.int64)
        span = np.minimum(edge[:, None] + np.arange(round(AVERAGED_CELLS * cells.per_cell)), stored.shape[1] - 1)
        peak = edge + np.argmax(np.take_along_axis(stored, span, axis=1), axis=1)
        return Bottom(np.where(apart, self.level, np.nan), np.where(apart, peak, -1), lines)


def joined(parts: Sequence[Bottom]) -> Bottom:
    """Return bottoms of pings one after the other."""
    names = ("level", "peak", "pick", "lines")
    return Bottom(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))


def record_from(nearest: float, cell: float) -> float:
    """Return the range [m] at which a record may begin so that its picks are those of the whole record.

    nearest [m]: range of the nearest ground that echoes (under a slope: along its normal, not straight down); cell [m]:
    the element's resolution cell. Holds what the onset and the longest average ahead of the edge look at, and the water
    beyond them; nothing that echoes more strongly than the bottom may stand further up.
    """
    longest = AVERAGED_CELLS << (len(rise.AHEAD_DROPS) - 1)
    return max(nearest * (1 - onset.LONGEST) * (1 - onset.FURTHER) - 2 * (longest + AVERAGED_CELLS) * cell, 0.0)


def averaged_surface_power(stored: StoredArray, cells: Grid) -> tuple[FloatArray, int]:
    """Return power averaged over 8 cells with spherical spreading and absorption removed, and the samples averaged.

    stored (ping, sample); returned (ping, sample - m + 1), relative to the source level, element j covers samples j to
    j + m - 1; runs that touch the blind range are zero.
    """
    m = min(round(AVERAGED_CELLS * cells.per_cell), stored.shape[1])
    gain = (ADD_OFFSET + cells.surface_gain).astype(np.float32)
    gain[: cells.blank] = -np.inf  # what is transmitted would cost the sums their digits
    mean = np.empty((len(stored), stored.shape[1] - m + 1))
    for first in range(0, len(stored), ROWS):
        rows = slice(first, first + ROWS)
        log_power = stored[rows].astype(np.float32)
        log_power *= np.float32(SCALE_FACTOR)
        log_power += gain
        log_power *= np.float32(np.log(10) / 10)
        total = np.cumsum(np.exp(log_power, out=log_power), axis=1, dtype=np.float64)
        mean[rows] = total[:, m - 1 :]
        mean[rows, 1:] -= total[:, :-m]
    mean[:, : cells.blank] = 0
    mean /= m
    return mean, m


def find(stored: StoredArray, cells: Grid) -> Bottom:
    """Return the bottom echo of stored pings (ping, sample).

    The maximum is sought with spherical spreading and absorption removed; the level given is that of the received
    power. The first stretch within 6 dB of the highest is taken, so that a second echo never is, unless it is a fish
    close to the boat (`strongest`).
    """
    parts = [_find_block(stored[i : i + BLOCK], cells) for i in range(0, len(stored), BLOCK)]
    return joined(parts) if parts else Bottom(np.zeros(0), np.zeros(0, np.int64), np.zeros(0))


def _find_block(stored: StoredArray, cells: Grid) -> Bottom:
    mean, m = averaged_surface_power(stored, cells)
    rows = np.arange(len(stored))
    first = strongest.first(mean, m, cells)
    # The bottom's maximum lies in the quarter of range after its first strong stretch.
    low, window = _window(mean, first, m, 1 + QUARTER, cells)
    start = low + np.argmax(window, axis=1)
    stretch = np.take_along_axis(stored, start[:, None] + np.arange(m), axis=1)
    peak = start + np.argmax(stretch, axis=1)
    with np.errstate(divide="ignore"):
        surface = 10 * np.log10(mean[rows, start])
    level = surface - cells.surface_gain[start + (m - 1) // 2]
    high = level >= cells.noise + LEAST_EXCESS
    good = _is_bottom(mean, start, m, surface, cells) & high
    for row in np.flatnonzero(high & ~good):
        good[row] = _has_tail(stored[row], int(peak[row]), float(surface[row]), cells)
    # The edge lies ahead of the first strong stretch; behind it the echo may fade as deeply as the water is quiet.
    first_strong = np.take_along_axis(stored, first[:, None] + np.arange(m), axis=1)
    until = np.minimum(first + np.argmax(first_strong, axis=1), peak)
    (pick, drop), (later, its_drop) = rise.edges(stored, mean, m, cells, mean[rows, start], level, until)
    rest = np.flatnonzero(good & ~((later == pick) & (its_drop == drop)))
    pick = onset.begin(stored, cells, level, np.where(good, drop, np.nan), pick)
    if len(rest):  # the onset of the later edge may reach further ahead
        other = onset.begin(stored[rest], cells, level[rest], its_drop[rest], later[rest])
        pick[rest] = np.minimum(pick[rest], other)
    line = np.full(len(stored), np.nan)
    if good.any():
        low, window = _window(mean[good], first[good], m, LINE_REACH, cells)
        lines = [_line(stored[good], cells, level[good], window, low, pick[good], limits) for limits in LINES]
        later = np.fmax(*lines[:2])
        line[good] = np.where(np.isnan(later), lines[2], later)
    return Bottom(np.where(good, level, np.nan), np.where(good, peak, -1), np.where(good, pick, np.nan), line)


def _window(mean: FloatArray, first: NDArray[np.int64], m: int, reach: float, cells: Grid) -> tuple[int, FloatArray]:
    """Return averaged power (ping, column) from sample `low` on, 0 outside each ping's own stretch, and `low`.

    mean (ping, sample): power averaged over m samples from there on; first (ping): where the stretch begins; it ends at
    `reach` times that range.
    """
    end = np.floor(cells.index(reach * cells.range[first]) + 1e-6).astype(np.int64)
    last = np.minimum(end + m, mean.shape[1] - 1)
    low, high = int(first.min()), int(last.max()) + 1
    column = np.arange(low, high)
    return low, np.where((column >= first[:, None]) & (column <= last[:, None]), mean[:, low:high], 0.0)


def _line(
    stored: StoredArray, cells: Grid, level: FloatArray, window: FloatArray, low: int, pick: FloatArray,
    limits: tuple[float, float],
) -> FloatArray:  # fmt: skip
    """Return the range [m] (ping) at which a later strong echo begins out of quiet water, nan where there is none.

    window (ping, column): averaged power from sample `low` on, see `_window`; pick [m]: where the first echo begins;
    limits [dB]: margin, drop. It is the last that comes within the margin of the strongest, and between it and the
    first one must lie LINE_GAP cells that all stay the drop below the bottom level: the echo of a slope, of waves or of
    rock fades for shorter stretches.
    """
    margin, drop = limits
    strong = window >= window.max(axis=1, keepdims=True) * 10 ** (-margin / 10)
    last = low + window.shape[1] - 1 - np.argmax(strong[:, ::-1], axis=1)
    gap = ceil(LINE_GAP * cells.per_cell)
    begin = np.nan_to_num(np.floor(cells.index(pick)), nan=0.0).astype(np.int64)
    first, end = int(max(begin.min(), 0)), int(last.max()) + 1
    line = np.full(len(stored), np.nan)
    if end - first <= gap:
        return line
    quiet = highest_within(stored[:, first:end], gap)
    column = first + np.arange(quiet.shape[1])
    limit = to_stored(np.nan_to_num(level - drop, nan=-1e3))
    inside = (column > begin[:, None]) & (column + gap <= last[:, None])
    calm = (quiet <= limit[:, None]) & inside
    result = calm.any(axis=1) & np.isfinite(level)
    at = column[quiet.shape[1] - 1 - np.argmax(calm[:, ::-1], axis=1)] + gap  # the first sample that is louder
    return np.where(result, cells.range[np.minimum(at, len(cells.range) - 1)], np.nan)


def _is_bottom(
    mean: FloatArray, start: NDArray[np.int64], m: int, surface: FloatArray, cells: Grid
) -> NDArray[np.bool_]:
    """Return whether each ping's strongest stretch is strong, or long, enough for a bottom.

    mean (ping, sample): power averaged over m samples from there on; start: the stretch; surface: its level [dB re 1].
    """
    rows, last = np.arange(len(mean)), mean.shape[1] - 1

    def goes_on(times: int, loss: float) -> NDArray[np.bool_]:
        later = [mean[rows, np.minimum(start + k * m, last)] for k in range(times)]
        with np.errstate(divide="ignore"):
            return np.asarray(10 * np.log10(np.mean(later, axis=0)) >= surface - loss)

    strong = surface + (cells.strength_gain - cells.surface_gain)[start] >= LEAST_STRENGTH
    weak = (surface >= cells.volume_gain + LEAST_VOLUME_STRENGTH) & (strong | goes_on(16, LONG_LOSS))
    extended = (surface >= LEAST_EXTENDED_LEVEL) & goes_on(4, EXTENDED_LOSS)
    return np.asarray((surface >= LEAST_SURFACE_LEVEL) | extended | weak)


def _has_tail(stored: StoredArray, peak: int, echo: float, cells: Grid) -> bool:
    """Return whether a falling tail of ground beside the beam lies behind the peak of one ping, see TAIL.

    stored (sample); echo [dB re 1]: power of 8 cells around the peak, with spherical spreading removed, as throughout.
    """
    left, least = len(stored) - 1 - peak, LEAST_TAIL_CELLS * cells.per_cell
    count = TAIL if left >= least * (1 + 2 * TAIL) else LEAST_TAIL
    width = int(min(AVERAGED_CELLS * cells.per_cell, left / (1 + 2 * count)))
    if width < least:
        return False
    away = width + np.arange(2 * width * count)
    sides = [
        np.where(at >= cells.blank, to_level(stored[np.maximum(at, 0)]) + cells.surface_gain[np.maximum(at, 0)], -999.0)
        for at in (peak + away, peak - away)
    ]
    behind, ahead = (10 * np.log10(np.mean(10 ** (0.1 * side.reshape(count, -1)), axis=1)) for side in sides)
    noise = cells.noise + cells.surface_gain[peak + away].reshape(count, -1).mean(axis=1)
    stands = np.all(behind >= noise + TAIL_OVER) and 2 * np.sum(behind >= ahead + TAIL_OVER) > count
    falls = np.all(np.diff(behind) <= TAIL_RISE) and behind[0] <= echo - TAIL_DROP and behind[-1] <= echo - TAIL_END
    return bool(stands and falls)


def pick_error(element: ElementRecord, bottom: Bottom) -> FloatArray:
    """Return picked less true depth straight under the boat [m] (ping), positive = too deep; nan without a pick.

    Holds what a sounder would also get wrong: a sound speed assumed wrongly, a slope, a beam tilted by roll.
    """
    depth = bottom.pick + element.info.transducer_depth - element.heave
    return np.asarray(depth - element.bottom_depth)
