"""What wind does: bubbles, and the surface from below."""

import math

import numpy as np

from pingwright.acoustics import bubbles, surface
from pingwright.validation.row import PINS, Row

# fmt: off
RESTATED = "published: APL-UW TR 9407 (1994) as restated elsewhere; "
WINDS = tuple(knots * 1852 / 3600 for knots in (10.0, 15.0, 20.0))
ROWS = [
    *(
        Row(
            bubbles.two_way_loss, (khz * 1e3, WINDS), losses, RESTATED + "two-way loss at 10, 15 and 20 kn, rounded",
            rel=0.09, abs=0.005,
        )
        for khz, losses in ((53.5, (0.02, 0.4, 6.0)), (110.0, (0.04, 0.7, 12.0)), (170.0, (0.06, 1.0, 17.0)))
    ),
    Row(bubbles.two_way_loss, (170e3, 10.0, 1.0), 0.0, "exact arithmetic: 1 / e of it below a face 1 m down", rel=1e-9,
        read=lambda loss: loss * math.e - float(bubbles.two_way_loss(170e3, 10.0)), abs=1e-9),
    Row(bubbles.extinction, (25e3, [0.0, 1e-9, 11.0]), (0.0, 10**-5.2577, 10 ** (-5.2577 + 0.4701 * 11)),
        "exact arithmetic of the formula at its reference frequency", rel=1e-6),
    Row(
        bubbles.volume_backscatter, (53.5e3, WINDS[0], np.linspace(0.0, 30.0, 30_001)), -45.0,
        RESTATED + "depth-integrated strength at 10 kn", abs=0.5,
        read=lambda sv: 10 * math.log10(np.trapezoid(sv, dx=1e-3)),
    ),
    Row(
        bubbles.volume_backscatter, (170e3, WINDS[2], np.linspace(0.0, 30.0, 30_001)), -18.0,
        RESTATED + "depth-integrated strength at 20 kn", abs=0.5,
        read=lambda sv: 10 * math.log10(np.trapezoid(sv, dx=1e-3)),
    ),
    Row(
        bubbles.layer_backscatter, (50e3, 2.0), 6.0, "limit: few bubbles, paths by the mirror make it six times one",
        rel=1e-3,
        read=lambda s: s / float(bubbles.extinction(50e3, 2.0) * 0.0136 / (4 * math.pi * 0.0255 * 50 ** (1 / 3))),
    ),
    Row(bubbles.two_way_loss, (25e3, 11.0), 20 * math.log10(math.e) * 10 ** (-5.2577 + 0.4701 * 11),
        "exact arithmetic: e^-1 of energy each way is 8.686 dB both ways", rel=1e-9),
    Row(bubbles.extinction, (50e3, 15.0), 4.372406235, PINS, rel=1e-9),
    Row(bubbles.volume_backscatter, (100e3, 9.0, 0.0), 0.002793014497, PINS, rel=1e-9),
    Row(bubbles.layer_backscatter, (100e3, 9.0, 30.0), 0.005379707323, PINS, rel=1e-9),
    Row(
        surface.reflection_loss, (100e3, [0.0, 5.0, 6.0, 10.0]),
        tuple(1.26e-3 * 100**0.85 * growth for growth in (0.0, 6**1.57 * math.exp(-1.2), 6**1.57, 10**1.57)),
        "exact arithmetic of 1.26e-3 U^1.57 f^0.85, restated from TR 9407", rel=1e-9,
    ),
    Row(surface.reflection_loss, (100e3, 10.0, 30.0), 2 * 1.26e-3 * 10**1.57 * 100**0.85, "exact: 1 / sin", rel=1e-9),
    Row(
        surface.slope_variance, ([0.5, 5.0, 10.0],), (0.0034, 0.01822, 0.02460),
        "exact arithmetic of 4.6e-3 ln(2.1 U^2); below 1 m/s from memory", abs=1e-5,
    ),
    Row(surface.facet_backscatter, (0.0, 5.0), 1 / (4 * math.pi * 0.01822), "exact: at vertical", rel=1e-3),
    Row(
        surface.facet_backscatter, (10.0, 5.0), -7.145, "exact arithmetic: sec^4 and exp(-tan^2 / s^2) at 10 deg",
        abs=0.02, read=lambda s: 10 * math.log10(float(s) * 4 * math.pi * 0.01822),
    ),
]
