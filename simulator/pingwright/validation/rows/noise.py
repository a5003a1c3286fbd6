"""Noise of the sea, of heat and of the boat."""

import math

import numpy as np

from pingwright.acoustics import noise
from pingwright.validation.row import PINS, Row

# fmt: off
_WIND_KHZ = np.array([10.0, 38.0, 50.0, 85.0, 120.0, 200.0, 250.0]) * 1e3
COATES = "computed: own, Coates 1990 fit to Wenz 1962"
ROWS = [
    Row(noise.wind_coates, (_WIND_KHZ, 0.0), (29.32, 18.22, 15.88, 11.33, 8.36, 3.94, 2.01), COATES, abs=6e-3),
    Row(noise.wind_coates, (_WIND_KHZ, 5.0), (46.09, 34.99, 32.65, 28.10, 25.13, 20.72, 18.78), COATES, abs=6e-3),
    Row(noise.wind_coates, (_WIND_KHZ, 10.0), (53.04, 41.94, 39.60, 35.05, 32.08, 27.66, 25.73), COATES, abs=6e-3),
    Row(noise.wind_coates, (_WIND_KHZ, 15.0), (58.37, 47.27, 44.93, 40.38, 37.41, 32.99, 31.06), COATES, abs=6e-3),
    Row(
        noise.thermal, (_WIND_KHZ,), (5.00, 16.60, 18.98, 23.59, 26.58, 31.02, 32.96), "published: -15 + 20 log f",
        abs=6e-3,
    ),
    Row(
        noise.wind_zimmer, (_WIND_KHZ, 5.0), (44.85, 35.00, 32.98, 29.06, 26.51, 22.74, 21.10),
        "published: formula on a public page, after Zimmer 2011; values computed: own", abs=6e-3,
    ),
    Row(
        noise.wind_zimmer, (100.0, 0.0), 44.0 - 19.0 - 18 * math.log10(0.01 + 1 / 2.78**2),
        "exact arithmetic of the same", abs=1e-9,
    ),
    Row(noise.wind_zimmer, ([100.0, 300.0], [15.0, 10.0]), (71.1827760, 70.9729685), PINS, abs=1e-6),
    Row(
        noise.ambient, (_WIND_KHZ, 5.0, 0.5), (46.09, 35.06, 32.84, 29.42, 28.93, 31.41, 33.12),
        COATES + ", with ships at 0.5", abs=6e-3,
    ),
    Row(noise.ambient, (200e3, 5.0), 31.41, COATES + ", no ships", abs=6e-3),
    Row(
        noise.ambient, (20.0, 5.0), 68.36, "limit: at 20 Hz turbulence is all, 17 - 30 log 0.02 = 67.97, wind adds",
        abs=0.6,
    ),
    Row(noise.turbulence, ([1e3, 10.0],), (17.0, 77.0), "published: 17 - 30 log f", abs=1e-9),
    Row(
        noise.shipping, ([1e3, 1e3, 100.0], [0.5, 1.0, 0.0]), (39.230, 49.230, 57.163),
        "exact arithmetic of 40 + 20 (s - 0.5) + 26 log f - 60 log(f + 0.03), from memory", abs=1e-3,
    ),
    Row(noise.thermal_exact, (1e3, 15.0), -14.66, "exact: 4 pi k T rho f^2 / c at 15 degC; Mellen 1952", abs=0.01),
    Row(noise.thermal_exact, (1e4, 15.0, 2052.0, 750.0), 5.34 + 6.02, "exact: f^2 rho / c", abs=0.01),
    Row(noise.power_sum, (30.0, 30.0, 33.0103), 36.0206, "exact: doubling is 3.0103 dB", abs=1e-4),
    Row(noise.own, ([5e3, 50e3, 500e3], 48.0), (68.0, 48.0, 28.0), "law: -20 dB a decade, from memory", abs=1e-12),
    *(
        Row(noise.own_level, ("by speed", knots * 1852 / 3600), level, "law: assumed, 1.75 dB a knot", abs=1e-9)
        for knots, level in ((4.0, 48.0), (8.0, 55.0), (20.0, 76.0), (28.0, 76.0))
    ),
    Row(noise.own_level, ("by speed", 0.0), True, "law: engine off", read=lambda level: level is None),
    Row(noise.own_level, ("none", 5.0), True, "law: none asked for", read=lambda level: level is None),
    Row(noise.own_level, (54.0, 0.0), 54.0, "law: a level is taken as it is", abs=0.0),
]
