"""Roughness of the seabed: Kirchhoff and perturbation."""

import math

from pingwright.acoustics import roughness
from pingwright.validation.row import Row

# fmt: off
_K = 2 * math.pi * 100e3 / 1500
_Q = float(roughness.structure_constant(0.004446)) * 2**-0.25 * (_K / 100) ** 0.75
_CUBIC = 0.36 / 0.8 * 0.04 * math.pi * 2.0  # q at cosine 0.6, k = 2 rad/cm, w2 = 0.01 cm4, exponent 3
ROWS = [
    Row(roughness.spectrum, ([100.0, 200.0], 0.005), (0.005, 0.005 * 2**-3.25), "exact: w2 at 1 rad/cm", rel=1e-12),
    Row(roughness.spectrum, (200.0, 0.005, 3.0), 0.005 / 8, "exact: power law", rel=1e-12),
    Row(
        roughness.relief_variance, (0.3, 5.0, 0.0129375, 3.25), 0.039**2,
        "computed: independent code, gravel, waves to 5 m, 3.9 cm rms", rel=0.03,
    ),
    Row(roughness.structure_constant, (1.0, 3.0), 4 * math.pi, "exact: exponent 3", rel=1e-12),
    Row(
        roughness.structure_constant, (1.0, 3.25), 11.175175398,
        "computed: 4 pi integral of K^(1 - gamma2) (1 - J0(K)), by quadrature", rel=1e-9,
    ),
    Row(roughness.structure_constant, (0.5, 3.6), 0.5 * 12.7704361563, "computed: the same quadrature", rel=1e-9),
    Row(
        roughness.kirchhoff_vertical, (100.0, 0.01, 3.0), (0.04 * math.pi) ** -2 / (8 * math.pi),
        "exact: exponent 3, where the integral is q / (q^2 + 1)^(3/2)", rel=1e-12,
    ),
    Row(
        roughness.kirchhoff, (0.6, 200.0, 0.01, 3.0), _CUBIC / (_CUBIC**2 + 1) ** 1.5 / (8 * math.pi * 0.36 * 0.64),
        "exact: the same off vertical", rel=1e-5,
    ),
    Row(
        roughness.kirchhoff, (1.0, _K, 0.004446), float(roughness.kirchhoff_vertical(_K, 0.004446)),
        "exact: limit at vertical", rel=1e-6,
    ),
    Row(
        roughness.kirchhoff_handbook, (1.0, _K, 0.004446), float(roughness.kirchhoff_vertical(_K, 0.004446)),
        "exact: the closed form equals the integral at vertical; fixes its constants a, b", rel=1e-9,
    ),
    Row(
        roughness.kirchhoff_handbook, (math.sin(math.radians(60.0)), _K, 0.004446), 1.4132 / (8 * math.pi),
        "published: a = 1.6892, b = 1.4132 for 3.25 (companion code of a textbook)", rel=2e-4,
        read=lambda v: v * (0.5**2.5 + 1.6892 * _Q**2 * 0.75**2) ** (1.625 / 1.25) / _Q,
    ),
    Row(
        roughness.perturbation, (0.5, 100.0, 0.01, 3.0), 4 * 0.5**4 * 0.01 * (2 * math.sqrt(0.75)) ** -3,
        "exact: 4 k^4 cos^4 W(2 k sin)", rel=1e-12,
    ),
    Row(roughness.gaussian_slopes, (1.0, 45.0), 1 / (8 * math.pi), "exact: 1 / 8 pi s^2", rel=1e-12),
    Row(
        roughness.gaussian_slopes, (math.sqrt(0.5), 45.0), 4 * math.exp(-0.5) / (8 * math.pi), "exact: tan = s = 1",
        rel=1e-9,
    ),
    Row(
        roughness.gaussian_slopes, (1.0, math.degrees(math.atan(0.3))), 1 / (8 * math.pi * 0.09),
        "exact: 1 / 8 pi s^2, s = 0.3", rel=1e-12,
    ),
]
