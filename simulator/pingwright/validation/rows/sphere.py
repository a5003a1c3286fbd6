"""Spheres and cylinders over frequency."""

import math
from typing import Any

import numpy as np

from pingwright.acoustics import arrays, sphere
from pingwright.validation.row import Row

# fmt: off
_TENTH = np.array([0.1, 0.5, 1.0, 2.0, 5.0, 10.0, 40.0])
_TWENTY = np.array([0.1, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 40.0])
_FOUR = np.array([38e3, 70e3, 120e3, 200e3])


def relative_to_geometric(amplitude: Any) -> Any:
    """Cross-section over (a / 2)^2 for a = 1 m."""
    return 4.0 * np.abs(amplitude) ** 2


def at_ka(x: np.ndarray) -> np.ndarray:
    """Frequencies at which a sphere of 1 m in water of 1500 m/s has that ka."""
    return x * 1500.0 / (2.0 * np.pi)


ELASTIC = "computed: echosms 0.24, elastic sphere"
SERIES = "exact series; computed with scipy.special"
TS = sphere.target_strength
CARBIDE, COPPER = (6853.0, 4171.0, 1490.0), (4760.0, 2288.5, 1490.0)  # speeds in it, and of the water [m/s]
ROWS = [
    Row(
        sphere.amplitude_soft, (1.0, at_ka(_TENTH)), (3.90817, 2.40408, 1.34606, 1.15184, 1.04277, 1.01143, 1.00078),
        SERIES, abs=1e-5, read=relative_to_geometric,
    ),
    Row(
        sphere.amplitude_rigid, (1.0, at_ka(_TWENTY)),
        (0.00027, 0.13415, 0.88007, 0.58026, 1.08120, 0.95762, 0.94928, 1.01114), SERIES, abs=1e-5,
        read=relative_to_geometric,
    ),
    Row(
        sphere.amplitude_rigid, (1.0, at_ka(np.array([0.01]))), 5 / 6 * 1e-4, "limit: (5/6) a x^2", rel=1e-3,
        read=np.abs,
    ),
    Row(sphere.amplitude_soft, (0.01, _FOUR), (-44.969, -45.622, -45.841, -45.949), SERIES, abs=1e-3, read=TS),
    Row(sphere.amplitude_rigid, (0.01, _FOUR), (-48.842, -48.220, -45.771, -45.614), SERIES, abs=1e-3, read=TS),
    Row(
        sphere.amplitude_soft, (0.02, 1470 * 0.5 / (2 * math.pi * 0.02), 1470.0), 10 * math.log10(2.40408e-4), SERIES,
        abs=1e-3, read=TS,
    ),
    Row(
        sphere.amplitude_rigid, (0.02, 1470 * 0.5 / (2 * math.pi * 0.02), 1470.0), 10 * math.log10(0.13415e-4), SERIES,
        abs=1e-3, read=TS,
    ),
    Row(
        sphere.amplitude_fluid, (0.01, _FOUR, 0.0012, 0.22), (-44.907, -45.573, -45.841, -45.936), SERIES, abs=1e-3,
        read=TS,
    ),
    Row(
        sphere.amplitude_fluid, (0.01, _FOUR, 1.04, 1.04), (-68.788, -70.378, -68.198, -69.699), SERIES, abs=1e-3,
        read=TS,
    ),
    Row(
        sphere.amplitude_fluid, (0.01, 0.01 * 1500 / (2 * math.pi * 0.01), 1.04, 1.04), 4.9988e-8,
        "limit: a x^2 ((1 - g h^2) / 3 g h^2 + (1 - g) / (1 + 2 g))", rel=2e-4, read=np.abs,
    ),
    Row(
        sphere.amplitude_fluid, (0.02, 0.01 * 1470 / (2 * math.pi * 0.02), 1.04, 1.04, 1470.0), 2 * 4.9988e-8,
        "limit: the same with another water", rel=2e-4, read=np.abs,
    ),
    *(
        Row(
            sphere.amplitude_elastic, (0.01905, _FOUR, 14900 / density, 6853.0, 4171.0, c), values,
            ELASTIC + "; constants CRC Handbook 77th ed.; MacLennan & Dunn 1984", abs=1e-3,
            read=TS,
        )
        for c, density, values in (
            (1490.0, 1025.0, (-42.393, -41.290, -39.481, -39.237)),
            (1500.0, 1025.0, (-42.417, -41.436, -39.525, -39.055)),
            (1470.0, 1027.0, (-42.278, -40.934, -39.556, -39.507)),
        )
    ),
    *(
        Row(
            sphere.amplitude_elastic, (diameter / 2, frequency, 8947 / 1025, 4760.0, 2288.5, 1490.0), (value),
            ELASTIC + "; nominal -33.6, -39.1, -40.4, -45.0, -34.4 dB (CRR 144, from memory) within 0.1 dB",
            abs=1e-3, read=TS,
        )
        for diameter, frequency, value in (
            (0.060, 38e3, -33.515),
            (0.023, 120e3, -40.351),
            (0.0137, 200e3, -45.013),
            (0.0321, 70e3, -39.077),
            (0.063, 18e3, -34.393),
        )
    ),
    *(
        Row(
            sphere.amplitude_elastic, (radius, _FOUR, density / water, *speeds), values, f"{ELASTIC}, {name}", abs=1e-3,
            read=TS,
        )
        for name, density, speeds, water, radius, values in (
            ("tungsten carbide, 21.2 mm", 14900, CARBIDE, 1026, 0.0106, (-49.9462, -47.2064, -46.5879, -45.8616)),
            ("tungsten carbide, 22 mm", 14900, CARBIDE, 1026, 0.011, (-49.6531, -46.0948, -46.2635, -48.4393)),
            ("copper, 60 mm", 8947, COPPER, 1025, 0.030, (-33.5147, -32.4291, -35.7503, -33.0790)),
            ("copper, 32.1 mm", 8947, COPPER, 1025, 0.01605, (-40.2947, -39.0768, -46.6436, -43.7687)),
            ("copper, 23 mm", 8947, COPPER, 1025, 0.0115, (-48.7188, -42.7876, -40.3510, -54.3174)),
            ("copper, 13.7 mm", 8947, COPPER, 1025, 0.00685, (-50.8072, -50.6229, -46.8229, -45.0126)),
        )
    ),
    Row(
        sphere.cylinder_cross_section, (0.0, 0.1, 0.01, 1500 / np.array([38e3, 120e3, 200e3])),
        (-28.97, -23.98, -21.76), "exact: a L^2 / 2 lambda", abs=6e-3, read=arrays.decibels,
    ),
    Row(
        sphere.cylinder_cross_section,
        (np.array([10.03, 3.17, 1.90]) / 2, 0.1, 0.01, 1500 / np.array([38e3, 120e3, 200e3])),
        (-28.97 - 3.04, -23.98 - 3.01, -21.76 - 3.01), "exact: half power at sinc^2, times cos^2", abs=0.03,
        read=arrays.decibels,
    ),
    Row(
        sphere.target_strength, ([0.5, -0.005j],), (-6.021, -46.021), "exact: limits of spheres of 1 m and 10 mm",
        abs=6e-4,
    ),
]
