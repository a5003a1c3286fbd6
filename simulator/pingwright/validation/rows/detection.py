"""Detection, false alarms and statistics of echoes."""

import math

from pingwright.acoustics import detection
from pingwright.validation.row import Row

# fmt: off
MARCUM = "computed: scipy.stats.ncx2"
ROWS = [
    Row(detection.threshold, ([math.exp(-10.0), 1e-4],), (10.0, 9.643), "exact: -ln Pfa", abs=1e-3),
    Row(detection.detection_fixed, ([10.0, 13.0, 15.0], 1e-6), (0.24805, 0.87444, 0.99723), MARCUM, abs=1e-5),
    Row(detection.detection_fixed, (10.0, 1e-4), 0.61614, MARCUM, abs=1e-5),
    Row(detection.detection_fixed, ([11.243, 13.183], 1e-6), (0.5, 0.9), MARCUM + "; Marcum's curves", abs=2e-4),
    Row(detection.detection_fixed, (-100.0, 1e-3), 1e-3, "limit: no echo", rel=1e-6),
    Row(detection.detection_swerling_1, ([10.0, 13.0, 15.0], 1e-6), (0.28480, 0.51718, 0.65476), "exact", abs=1e-5),
    Row(detection.detection_swerling_1, (10.0, 1e-4), 0.43288, "exact", abs=1e-5),
    Row(
        detection.needed_snr_swerling_1, ([0.5, 0.9, 0.9, 0.8], [1e-6, 1e-6, 1e-4, 1e-3]),
        (12.772, 21.144, 19.366, 14.765), "exact: ln Pfa / ln Pd - 1", abs=6e-4,
    ),
    Row(
        detection.needed_snr_albersheim, ([0.5, 0.9, 0.9, 0.8], [1e-6, 1e-6, 1e-4, 1e-3]),
        (11.232, 13.115, 11.674, 9.920), "computed: own, formula from memory; within 0.2 dB of Marcum as it states",
        abs=6e-4,
    ),
    Row(detection.needed_snr_albersheim, (0.9, 1e-6, 10), 4.990, "computed: own", abs=6e-4),
    Row(detection.exceedance_rayleigh, ([0.0, 1.0],), (1.0, 0.36788), "exact: e^-1", abs=1e-5),
    Row(
        detection.exceedance_rice, (1.0, [0.0, 1.0, 10.0]), (0.36788, 0.39430, 0.45691), "computed: scipy.stats.rice",
        abs=1e-5,
    ),
    Row(
        detection.mean_amplitude_rice, ([0.0, 1.0, 10.0],), (0.88623, 0.90645, 0.97762), "computed: scipy.stats.rice",
        abs=1e-5,
    ),
]
