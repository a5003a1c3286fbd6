"""All peaks of whole pings: the program looks only where fish are, its false alarms are judged everywhere."""

from math import log10

import numpy as np
from pingwright.measure import detect
from pingwright.measure.cells import to_stored

#: A sample may lie this far [dB] below the peak of its parabola (Hann at 2 B: 0.4).
SCALLOP = 0.6


def every_peak(stored, cells, bottom, floor=detect.FLOOR, false_alarm=detect.FALSE_ALARM):
    """Return all peaks of stored pings (ping, sample) ahead of the bottom echo and beyond the blind range.

    floor [dB re 1 m2]: least echo strength; false_alarm: expected false peaks per resolution cell.
    """
    least = np.maximum(
        cells.noise + 10 * log10(min(f.t_noise for f in detect._table(cells, false_alarm))), floor - cells.strength_gain
    )
    least_stored = to_stored(least - SCALLOP)
    first = max(cells.blank, 1)
    centre = stored[:, first:-1]
    mask = (
        (centre >= least_stored[first:-1]) & (centre >= stored[:, first - 1 : -2]) & (centre > stored[:, first + 1 :])
    )
    row, index = np.nonzero(mask)
    index = index + first
    ahead = index < detect.last_sample(cells, bottom, stored.shape[1])[row]
    peaks = detect.examine(stored, cells, bottom, row[ahead], index[ahead], false_alarm)
    return peaks.keep(peaks.exceeding(floor))
