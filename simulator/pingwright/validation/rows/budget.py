"""The sonar equation worked through."""

import math

from pingwright.acoustics import absorption, budget, fish
from pingwright.validation.row import Row

# fmt: off
_SL = 224.045
_A = {f: float(absorption.francois_garrison(f, 10.0, 35.0)) for f in (38e3, 50e3, 200e3)}
_PSI = 10**-2.0836
WORKED = "exact: sonar equation worked with the reference's source level 224.045 dB and 7 degree beam"
ROWS = [
    Row(budget.source_level, (1.0, 1.0, 0.0, 1000.0, 1500.0), 170.769, "exact; published as 170.8 dB", abs=6e-4),
    Row(budget.source_level, (1.0, 1.0, 0.0), 170.880, "exact, 1026 x 1500", abs=6e-4),
    Row(budget.source_level, (1.0, 1.0, 0.0, 1027.0, 1490.0), 170.855, "exact; published as 170.9 dB", abs=6e-4),
    Row(
        budget.source_level, (1.0, 1.0, 0.0, [998.2, 999.7], [1482.3, 1447.3]), (170.709, 170.612), "exact, fresh",
        abs=6e-4,
    ),
    Row(budget.source_level, (500.0, 0.6, 28.474, 1000.0, 1510.8), 224.045, "exact: 170.8 + 10 log 300 + DI", abs=0.01),
    Row(budget.transmission_loss, (20.0, _A[200e3]), 54.219 / 2, WORKED, abs=3e-3),
    Row(budget.transmission_loss, (100.0, _A[200e3]), 90.889 / 2, WORKED, abs=3e-3),
    Row(budget.echo_level_point, (_SL, [20.0, 100.0], _A[200e3], -40.0), (129.826, 93.156), WORKED, abs=5e-3),
    Row(budget.echo_level_point, (_SL, 100.0, _A[50e3], -40.0), 100.967, WORKED, abs=5e-3),
    Row(budget.echo_level_point, (_SL, 200.0, _A[38e3], -36.0), 91.938, WORKED, abs=5e-3),
    Row(
        budget.echo_level_point, (_SL, 20.0, _A[200e3], -40.0, -3.0), 123.826, WORKED + ", at the beam's edge",
        abs=5e-3,
    ),
    Row(budget.reverberation_level_volume, (_SL, 50.0, _A[200e3], -70.0, 0.3e-3, _PSI), 87.308, WORKED, abs=0.01),
    Row(
        budget.reverberation_level_volume, (_SL, 50.0, _A[200e3], -70.0, 0.15e-3, _PSI, 3000.0), 87.308,
        WORKED + ", half the pulse at twice the speed", abs=0.01,
    ),
    Row(budget.echo_level_mirror, (_SL, 50.0, _A[200e3], 0.37), 169.965, WORKED, abs=0.01),
    Row(budget.area_beam_limited, (50.0, _PSI), 20.62, WORKED, abs=6e-3),
    Row(budget.area_pulse_limited, (50.0, 0.3e-3), 70.69, WORKED, abs=6e-3),
    Row(budget.area_pulse_limited, (50.0, 0.3e-3, 3000.0), 2 * 70.69, WORKED, abs=0.012),
    Row(budget.echo_level_rough, (_SL, 50.0, _A[200e3], -10.0, 20.62), 153.786, WORKED, abs=0.01),
    Row(
        budget.second_echo_difference, ([20.0, 50.0], [_A[200e3], _A[50e3]], 0.3697), (-16.84, -16.20),
        "exact: image method, medium sand", abs=0.02,
    ),
    Row(budget.second_echo_difference, (100.0, _A[50e3], 0.0629), -33.13, "exact: image method, mud", abs=0.02),
    Row(
        budget.second_echo_difference, (0.0, 0.0, 1.0, 4.0), -10.0206, "exact: -20 log 2 less the surface's loss",
        abs=1e-4,
    ),
    Row(
        budget.noise_level, (-29.0, 2e-3, 1.76, 0.5), -29.0 - 0.5 + 26.99 + 1.76, "exact: NL - DI - 10 log T + loss",
        abs=1e-3,
    ),
    Row(
        budget.noise_level, (31.408, 1 / 3.3e3, 0.0, 28.474), 38.119, WORKED + ": 3.3 kHz of noise at 5 m/s of wind",
        abs=0.01,
    ),
    Row(budget.needed_strength, (224.0, 32.3, 1.0, 0.0), 10.895 + 32.3 - 224.0, "exact: SNR of Swerling 1", abs=1e-3),
    Row(
        budget.needed_strength, (200.0, 30.0, 10.0, 0.1, 0.9, 1e-6), 21.144 + 30.0 - 200.0 + 40.0 + 2.0, "exact",
        abs=1e-3,
    ),
    Row(budget.reach, (200.0, 30.0, -50.895, 0.0, 0.5, 1e-4), 10 ** (108.21 / 40), "exact: no absorption", rel=2e-5),
    Row(
        budget.reach, (200.0, 30.0, 21.144 + 30.0 - 200.0 + 80.0 + 2.0, 0.01, 0.9, 1e-6), 100.0,
        "exact: inverse of the sonar equation", rel=2e-5,
    ),
    Row(
        budget.reach, (200.0, 30.0, 10.895 + 30.0 - 200.0 + 40.0 + 2.0, 0.1), 10.0, "exact: inverse at the defaults",
        rel=2e-5,
    ),
    Row(
        budget.smallest_fish, (300.0, 0.0, 10.0, 0.05, 200e3, 0.4),
        float(fish.length_love_1971(-60.0 + 1.592 + 3.979, 200e3)),
        "exact: the picture's floor decides; a Rayleigh echo is above its mean less 1.592 dB half the time", rel=1e-4,
    ),
    Row(
        budget.smallest_fish, (200.0, 30.0, 10.0, 0.1, 38e3, 1.0, -200.0, 0.9, 1e-6),
        10 ** ((-106.856 + 62.0 + 0.9 * math.log10(38)) / 19.1) / 100, "exact arithmetic of Love 1971", rel=1e-4,
    ),
    Row(
        budget.cavitation_intensity, ([0.0, 1.0, 5.0, 10.0],), (0.334e4, 0.403e4, 0.747e4, 1.325e4),
        "exact: p^2 / 2 rho c; Urick's rule 0.30, 0.36, 0.67, 1.20 W/cm2 (from memory) 10 % lower", rel=1.5e-3,
    ),
    Row(
        budget.cavitation_rule_urick, ([0.0, 1.0, 5.0, 10.0],), (0.300e4, 0.363e4, 0.675e4, 1.200e4),
        "published: Urick 1983 ch. 4, 0.3 (1 + z / 10)^2 W/cm2 (from memory)", rel=1e-12,
    ),
    Row(
        budget.nonlinear_loss, (500.0, 0.0029, 170e3, 60.0, 1026.0, 1500.0, 0.1),
        -20 * math.log10(float(budget.fundamental_blackstock(
            3.6 * math.sqrt(2 * 500 / 0.0029 / 1026 / 1500**3) * 2 * math.pi * 170e3 / 1500 * 0.1 * math.log(601)))),
        "law: a spherical wave from a centre 0.1 m behind the face steepens by the logarithm of 601", rel=1e-9,
    ),
    Row(
        budget.fundamental_blackstock, ([0.0, 0.5, 1.0],), (1.0, 0.969074, 0.880101), "exact: Fubini, 2 J1(s) / s",
        abs=1e-6,
    ),
    Row(budget.fundamental_blackstock, ([20.0, 100.0],), (2 / 21, 2 / 101), "limit: sawtooth, 2 / (1 + s)", rel=1e-3),
    Row(
        budget.nonlinear_loss, (500.0, math.pi * 0.0305**2, 170e3, 60.0, 1026.0, 1500.0), 2.5,
        "estimate: 2 to 3 dB by 60 m for a small face driven hard, order of magnitude only", abs=0.5,
    ),
]
