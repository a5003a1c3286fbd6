"""The bottom echo and how deep it is held."""

import math

import numpy as np

from pingwright.acoustics import bottomecho, seabed, slopes
from pingwright.validation.row import Row

# fmt: off
ROWS = [
    Row(
        bottomecho.stretch_levels,
        (0.0, 10.0, 0.0, lambda c: np.full_like(c, 0.1), np.ones_like, 0.125, 0.2, 1),
        10 * math.log10(2 * math.pi * 0.1 * 0.2 * (1 / 100 - 1 / 121) / 2),
        "exact: rings of even strength, the integral of r^-3 over a metre from 10 m on", abs=1e-3,
    ),
    Row(
        bottomecho.bottom_found, (200.0, 0.0, 50.0, 0.01, np.ones_like, np.ones_like, 0.01, 0.01), 1.0,
        "limit: far above the noise", abs=1e-9,
    ),
    Row(
        bottomecho.bottom_found, (-200.0, 0.0, 50.0, 0.01, np.ones_like, np.ones_like, 0.1, 0.2), 0.0,
        "limit: noise alone is hardly ever 10 dB above its mean over 4 looks", abs=1e-8,
    ),
    Row(
        bottomecho.bottom_reach,
        (0.0, 10 * math.log10(2 * math.pi * 1e-4 / 9e6), 0.0, np.ones_like, np.ones_like, 0.125, 1e-4), 100.0,
        "limit: without fading, echo and noise together 10 times the noise at 2 pi sigma e / H^3 = 9 N", rel=0.015,
    ),
    Row(
        bottomecho.sediment_law,
        ("none", seabed.Sediment(1.0, 1.0, 0.0, 0.0, 1e-3, volume_parameter=0.0, lambert_floor_db=-10.0,
                                 slope_rms_deg=0.0), 1e5, 1500.0),
        0.1 * 0.5**2, "limit: ground like the water above it keeps its floor, Lambert's law, at 60 degrees", rel=1e-4,
        read=lambda law: law(np.array([0.5]))[0],
    ),
    Row(
        slopes.averaged, (lambda cosine, f: np.ones((len(cosine), len(f))), 3.0), 1.0,
        "law: an even law stays even", abs=1e-12, read=lambda law: law(np.array([1.0, 0.5]), np.array([1e5])),
    ),
    Row(
        slopes.averaged, (lambda cosine, f: cosine[:, None] + 0 * f, 0.0), 0.5, "limit: no slopes", abs=1e-12,
        read=lambda law: law(np.array([0.5]), np.array([1e5])),
    ),
]
