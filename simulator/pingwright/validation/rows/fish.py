"""Target strength of fish and what tilt makes of it."""

import math

import numpy as np

from pingwright.acoustics import arrays, fish
from pingwright.validation.row import OWN, Row

# fmt: off
ARITHMETIC = "exact arithmetic of the published regression"
MEMORY = ARITHMETIC + " (constants from memory)"

ROWS = [
    Row(fish.strength_love_1971, (0.3, [38e3, 200e3]), (-35.21, -35.86), MEMORY, abs=6e-3),
    Row(fish.length_love_1971, ([-35.21, -35.86], [38e3, 200e3]), (0.3, 0.3), MEMORY + ", inverse", abs=3e-4),
    Row(fish.strength_love_1977, (0.3, 1500 / np.array([38e3, 200e3])), (-35.89, -36.32), MEMORY, abs=6e-3),
    Row(fish.strength_love_1977, (0.1, 0.1), -44.9, "published: abstract, sigma slightly less than L^2", abs=1e-9),
    Row(fish.strength_mccartney_stubbs, (0.3, 1500 / np.array([38e3, 200e3])), (-32.89, -29.65), MEMORY, abs=6e-3),
    Row(fish.strength_foote_physoclist, ([0.3, 0.01],), (-37.86, -67.4), "published: Foote 1987, abstract", abs=5e-3),
    Row(fish.strength_foote_clupeoid, ([0.3, 0.01],), (-42.36, -71.9), "published: Foote 1987, abstract", abs=5e-3),
    Row(fish.strength_mackerel, (0.3,), -55.36, MEMORY, abs=5e-3),
    Row(
        fish.strength_mackerel_in_situ, ([0.333, 0.333, 0.333, 0.333, 0.0333], [18e3, 38e3, 120e3, 200e3, 38e3]),
        (-51.22, -59.83, -55.51, -53.43, -79.83), "published: means at 33.3 cm, abstract; 20 log L elsewhere", abs=1e-9,
    ),
    Row(
        fish.strength_mackerel_in_situ, (0.333, math.sqrt(38.0 * 120.0) * 1e3), -57.67, "exact: straight over log f",
        abs=1e-9,
    ),
    Row(fish.strength_todarodes, ([0.2, 0.01],), (-40.99, -94.2), "published: Kawabata 1999, abstract", abs=5e-3),
    Row(
        fish.strength_dosidicus, (0.01, [38e3, 70e3, 120e3, 200e3]), (-62.0, -67.4, -67.9, -67.6),
        "published: Benoit-Bird et al. 2008 (length unit cm assumed)", abs=1e-9,
    ),
    Row(
        fish.strength_dosidicus, (0.5, math.sqrt(38.0 * 70.0) * 1e3), -64.7 + 33.979, "exact: straight over log f",
        abs=1e-3,
    ),
    Row(
        fish.minnaert_frequency, ([1e-3, 10e-3, 10e-3], [0.0, 10.0, 100.0]), (3241.4, 457.64, 1071.8),
        "exact: Minnaert with 101325 Pa, 1026 kg/m3, 9.81 m/s2", rel=5e-5,
    ),
    Row(
        fish.minnaert_frequency, (1e-4, 0.0, 1022.476 * 101_325 / 101_300), 32465.56,
        "published: arlpy manual; it takes 101300 Pa, here put into the density", abs=6e-3,
    ),
    Row(fish.minnaert_frequency, (1e-3,), 3241.4, "exact: Minnaert at the surface", abs=0.06),
    Row(fish.resonance_love_1978, (0.01, 50.0), 782.7, OWN + " (formula from memory)", abs=0.06),
    Row(fish.wavenumber_radius, (0.01, 1500 / (2 * math.pi * 0.01)), 1.0, "exact: definition", rel=1e-12),
    Row(fish.wavenumber_radius, (0.01, 1000.0, 500.0), 0.04 * math.pi, "exact: definition", rel=1e-12),
    Row(fish.love_1978_holds, (0.01, 23_800.0), True, "exact: kr = 0.997"),
    Row(fish.love_1978_holds, (0.01, 23_900.0), False, "exact: kr = 1.001"),
    Row(fish.love_1978_holds, (0.01, 23_900.0, 1510.0), True, "exact: kr = 0.995"),
    Row(fish.strength_love_1978, (0.01, 782.73, 50.0), -27.10, OWN + ": 20 log(r H) at resonance", abs=0.01),
    Row(
        fish.strength_love_1978, (0.01, [1e3, 38e3, 200e3], 50.0), (-32.73, -45.50, -58.53),
        OWN + " (formula from memory)", abs=0.01,
    ),
    Row(
        fish.prolate_correction_weston, ([0.5, 1 / 3, 0.2, 0.1],), (1.0217, 1.0548, 1.1179, 1.2421),
        "exact: capacitance of the spheroid", abs=6e-5,
    ),
    Row(
        fish.depth_term_herring, ([0.0, 90.0],), (0.0, -2.3),
        "exact arithmetic; constant measured on herring, from memory", abs=1e-12,
    ),
    Row(
        fish.depth_term_boyle, ([0.0, 70.0],), (0.0, 10 * math.log10(8.0 ** (-2 / 3))), "law: area as pressure^(-2/3)",
        abs=1e-12,
    ),
    Row(
        fish.spheroid_cross_section, (np.cos(np.radians([90.0, 80.0, 0.0])), 0.05, 0.01), (-32.04, -36.77, -60.0),
        "exact: geometric optics; broadside A^2 / 4, end on b^4 / 4 A^2", abs=6e-3, read=arrays.decibels,
    ),
    Row(fish.spheroid_cross_section, (0.3, 2.0, 2.0), 1.0, "limit: sphere, (a / 2)^2", rel=1e-12),
    Row(
        fish.tilt_factor, (np.cos(np.radians([90.0, 80.0, 0.0])),), (0.0, -36.77 + 32.04, -60.0 + 32.04),
        "exact: the spheroid of 5 : 1 over its broadside", abs=1.2e-2, read=arrays.decibels,
    ),
    Row(fish.tilt_factor, (0.5, 3.0), 1 / 9, "exact: 1 / (1 + 8 / 4)^2", rel=1e-12),
    Row(fish.tilt_average, (0.0, 0.0), 1.0, "limit: level fish", rel=1e-12),
    Row(fish.tilt_average, (90.0, 0.0), 1 / 625, "limit: end on, ratio^-4", rel=1e-9),
    Row(
        fish.tilt_average, (-5.0, 15.0), 0.40198259, "computed: Monte Carlo and Gauss-Hermite in test_acoustics_fish",
        rel=1e-6,
    ),
    Row(fish.tilt_average, (20.0, 0.0, 2.0), (1 + 3 * math.sin(math.radians(20.0)) ** 2) ** -2, "exact", rel=1e-12),
    Row(
        fish.school_extinction, (-40.0, 5.0), 5 * 8 * math.pi * 1e-4, "law: sigma_e = 2 x 4 pi sigma_bs, from memory",
        rel=1e-12,
    ),
]
