"""Absorption of sound."""

import numpy as np

from pingwright.acoustics import absorption
from pingwright.validation.row import OWN, PINS, Row, per_km

# fmt: off
# Sea water of 10 degC, salinity 35, pH 8, in dB/km; columns of the reference calculation.
_KHZ = (38, 50, 70, 85, 110, 120, 135, 170, 200, 210, 250)
_FG_0 = (10.166, 15.392, 23.662, 29.023, 36.344, 38.823, 42.197, 49.063, 54.446, 56.217, 63.430)
_FG_50 = (10.094, 15.283, 23.497, 28.821, 36.096, 38.561, 41.917, 48.750, 54.113, 55.877, 63.068)
_FG_200 = (9.881, 14.960, 23.004, 28.223, 35.362, 37.784, 41.085, 47.821, 53.122, 54.868, 61.994)
_AM_0 = (10.380, 15.710, 24.145, 29.621, 37.130, 39.687, 43.183, 50.365, 56.066, 57.952, 65.679)
_AM_200 = (10.054, 15.216, 23.392, 28.705, 36.003, 38.493, 41.901, 48.924, 54.517, 56.371, 63.975)
_FS = (8.034, 12.567, 20.365, 25.840, 33.808, 36.609, 40.471, 48.367, 54.466, 56.443, 64.355)
_FRESH_10 = (0.449, 0.777, 1.523, 2.246, 3.761, 4.476, 5.664, 8.982, 12.432, 13.706, 19.425)
_FRESH_20 = (0.318, 0.550, 1.078, 1.590, 2.663, 3.169, 4.011, 6.361, 8.804, 9.706, 13.756)


def in_hertz(khz: tuple[float, ...]) -> np.ndarray:
    """Return frequencies [Hz] of some in kHz."""
    return np.asarray(khz) * 1e3


_FG = absorption.francois_garrison
_AM = absorption.ainslie_mccolm
LAST_DIGIT = 6e-4


ROWS = [
    Row(
        absorption.fisher_simmons,
        ([1e3, 1e3, 400e3, 400e3, 60e3], [20.0, 5.0, 25.0, 25.0, 20.0],
         [101_325.0, 101_325.0, 101_325.0, 81_060_000.0, 81_060_000.0]),
        (0.0602507, 0.0556912, 120.9984766, 59.6753881, 6.3669029), PINS, rel=1e-6, read=per_km,
    ),
    Row(
        absorption.fisher_simmons, ([1e3], 20.0), 0.0602507, PINS + "; 1 atm if left out", rel=1e-6,
        read=per_km,
    ),
    Row(
        absorption.francois_garrison_parts, (200e3, 25.0, 30.0, 3000.0, 7.7),
        (0.0979745067, 42.2657299333, 6.7733962725),
        PINS, rel=1e-9, read=per_km,
    ),
    Row(
        absorption.francois_garrison_parts, (1e3, 25.0, 20.0, 3000.0, 7.7),
        (0.0270954226, 0.00162715519, 0.000169334907),
        PINS, rel=1e-8, read=per_km,
    ),
    Row(
        absorption.francois_garrison_parts, (200e3, 30.0, 10.0, 5000.0, 8.2),
        (0.1601433771, 10.8794532542, 5.4350065), PINS,
        rel=1e-9, read=per_km,
    ),
    Row(
        absorption.francois_garrison_parts, (200e3, [20.0, 20.1], 35.0), (8.804, 8.774282374),
        "exact arithmetic: cold fit to 20 degC, warm fit above", rel=1e-6, read=lambda parts: per_km(parts[2]),
    ),
    Row(
        absorption.ainslie_mccolm, ([1e3, 50e3, 900e3], 20.0, 20.0, [1e3, 5e3, 5e3], [7.7, 7.7, 8.3]),
        (0.0330648594, 3.5744874154, 166.4325057167), PINS, rel=1e-9, read=per_km,
    ),
    Row(_FG, (50e3, 27.0, 35.0, 10.0, 8.1), 10.71, "published: arlpy manual", abs=5e-3, read=per_km),
    Row(_FG, (in_hertz(_KHZ), 10.0, 35.0), _FG_0, OWN, abs=LAST_DIGIT, read=per_km),
    Row(_FG, (in_hertz(_KHZ), 10.0, 35.0, 50.0), _FG_50, OWN, abs=LAST_DIGIT, read=per_km),
    Row(_FG, (in_hertz(_KHZ), 10.0, 35.0, 200.0), _FG_200, OWN, abs=LAST_DIGIT, read=per_km),
    Row(_FG, (in_hertz(_KHZ), 10.0, 0.0), _FRESH_10, OWN + ", fresh: water term alone", abs=LAST_DIGIT, read=per_km),
    Row(_FG, (in_hertz(_KHZ), 20.0, 0.0), _FRESH_20, OWN + ", fresh: water term alone", abs=LAST_DIGIT, read=per_km),
    Row(_FG, ([50e3, 200e3], 10.0, 7.0), (3.733, 21.390), OWN + ", brackish", abs=5e-3, read=per_km),
    Row(absorption.francois_garrison_parts, (38e3, 10.0, 35.0), (0.1156, 9.6014, 0.4488), OWN, abs=1e-3, read=per_km),
    Row(
        absorption.francois_garrison_parts, (1e3, np.array([20.0, 20.0 + 1e-9]), 35.0), (2.201e-4, 2.200e-4),
        "exact: the two fits of the water term meet at 20 degC; shows that 4.937e-4, not 4.397e-4, is the constant",
        abs=1.01e-7, read=lambda parts: per_km(parts[2]),
    ),
    Row(_AM, (in_hertz(_KHZ), 10.0, 35.0), _AM_0, OWN, abs=LAST_DIGIT, read=per_km),
    Row(_AM, (in_hertz(_KHZ), 10.0, 35.0, 200.0), _AM_200, OWN, abs=LAST_DIGIT, read=per_km),
    Row(
        absorption.fisher_simmons, (10e3, 5.0, 500 * 101_325.0), 0.52,
        "published: Fisher & Simmons 1977 table IV as quoted in a public manual", abs=0.01, read=per_km,
    ),
    Row(
        absorption.fisher_simmons, (in_hertz(_KHZ), 10.0), _FS, OWN + ", constants from memory", rel=1e-3,
        read=per_km,
    ),
]
