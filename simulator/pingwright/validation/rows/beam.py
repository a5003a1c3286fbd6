"""Beams: patterns, widths, directivity."""

import math

import numpy as np

from pingwright.acoustics import arrays, beam
from pingwright.validation.row import Row

# fmt: off
KINSLER = "exact: zeros and extrema of J1, checked with scipy.special"

ROWS = [
    Row(beam.piston_argument, (10 * math.log10(0.5),), 1.61634, KINSLER, abs=1e-5),
    Row(beam.piston_argument, (-3.0,), 1.61374, KINSLER, abs=1e-5),
    Row(beam.piston_argument, (5 * math.log10(0.5),), 1.16029, KINSLER + "; two-way half power", abs=1e-5),
    Row(beam.piston_argument, (-6.0,), 2.21179, KINSLER, abs=1e-5),
    Row(beam.piston_argument, (-10.0,), 2.73138, KINSLER, abs=1e-5),
    Row(beam.piston_nulls, (3,), (3.83171, 7.01559, 10.17347), "published: Abramowitz & Stegun table 9.5", abs=1e-5),
    Row(beam.piston_sidelobe, (1,), (5.1356, -17.57), KINSLER, abs=5e-3),
    Row(beam.piston_sidelobe, (2,), (8.4172, -23.81), KINSLER, abs=6e-3),
    Row(beam.piston_sidelobe, (3,), (11.6198, -27.96), KINSLER, abs=6e-3),
    Row(
        beam.piston_amplitude, ([0.0, 30.0, 90.0], [9.0, 2 * 1.61634, 3.8317059702]), (1.0, math.sqrt(0.5), 0.0),
        KINSLER, abs=1e-5,
    ),
    Row(
        beam.piston_directivity_factor, ([2.0, 5.0, 10.0, 20.0, 30.0],),
        (5.880, 14.017, 20.029, 26.048, 29.549), "exact: Kinsler et al., with J1", abs=2e-3, read=arrays.decibels,
    ),
    Row(
        beam.piston_directivity_factor, (1e-3,), 2.0, "limit: a small baffled source radiates into a half space",
        rel=1e-5,
    ),
    Row(beam.piston_directivity_factor, (26.476,), 10**2.847, "exact: the 7 degree beam", rel=3e-3),
    Row(beam.piston_width, ([10.0, 20.0, 30.0],), (18.604, 9.271, 6.177), "exact: scipy root", abs=1e-3),
    Row(beam.piston_width, (1.5,), 180.0, "limit: ka below 1.616 has no half power point", abs=1e-9),
    Row(beam.piston_wavenumber_radius, ([7.0, 12.0, 20.0],), (26.476, 15.463, 9.308), "exact: scipy root", abs=1e-3),
    *(
        Row(beam.piston_equivalent_beam_angle, (ka,), psi, "computed: scipy quadrature", rel=1e-4)
        for ka, psi in ((5.0, 0.239835), (10.0, 0.058283), (20.0, 0.014472), (30.0, 0.006424))
    ),
    Row(beam.piston_equivalent_beam_angle, (200.0,), 5.7758 / 200**2, "exact: asymptote 5.7758/(ka)^2", rel=1e-4),
    Row(
        beam.equivalent_beam_angle_narrow, (10.0,), 0.0578,
        "published: 5.78/(ka)^2, condition ka > 10 (Simmonds & MacLennan 2005, from memory); 0.8 % low at 10", rel=1e-9,
    ),
    Row(
        beam.aperture_directivity_factor, (math.pi, 0.5), 16 * math.pi**2, "exact: (ka)^2 of a disc, k = 4 pi",
        rel=1e-12,
    ),
    Row(beam.near_field_distance, (0.05, 0.01), 0.785398, "exact: pi a^2 / lambda", abs=1e-6),
    Row(beam.last_maximum_distance, (0.05, 0.01), 0.2475, "exact: a^2 / lambda - lambda / 4", abs=1e-9),
    Row(beam.on_axis_amplitude, (0.2475, 0.05, 0.01), 1.0, "exact: last maximum", abs=1e-9),
    Row(
        beam.on_axis_amplitude, (np.array([1.0, 2.0, 4.0]) * math.pi * 1e4, 100.0, 1.0),
        tuple(np.sin([0.5, 0.25, 0.125])),
        "exact for ka >> 1: 0.9589, 0.9896, 0.9974 of the far field's law at 1, 2, 4 "
        "Rayleigh distances (0.9584 in the reference sheet holds for ka = 44)",
        abs=1e-5,
    ),
    Row(beam.line_width, (100.0, 1.0), math.degrees(0.8859 / 100.0), "exact: 0.8859 lambda / L", abs=1e-4),
    Row(beam.line_width, (0.5, 1.0), 124.72, "exact: 2 arcsin(0.88589)", abs=0.02),
    Row(beam.line_width, (0.25, 0.5), 124.72, "exact: lengths in wavelengths alone count", abs=0.02),
    Row(beam.line_length, (60.0, 0.0075), 0.886 * 0.0075, "exact: lengths in wavelengths alone count", rel=1e-3),
    Row(beam.line_length, ([30.0, 45.0, 60.0, 70.0], 1.0), (1.711, 1.158, 0.886, 0.772), "exact: flat line", abs=1e-3),
    Row(beam.line_amplitude, (math.degrees(math.asin(0.44295)), 1.0, 1.0), math.sqrt(0.5), "exact: sinc", abs=1e-4),
    Row(
        beam.line_amplitude, (math.degrees(math.asin(0.14303)), 10.0, 1.0), -(10 ** (-13.26 / 20)),
        "exact: first side lobe at u = 1.4303, -13.26 dB", abs=2e-4,
    ),
    Row(beam.rectangle_amplitude, (0.44295, 0.0, 1.0, 3.0, 1.0), math.sqrt(0.5), "exact: sinc along", abs=1e-4),
    Row(beam.rectangle_amplitude, (0.25, 0.5, 2.0, 1.0, 1.0), (2 / math.pi) ** 2, "exact: sinc(1/2)^2", rel=1e-12),
    Row(
        beam.rectangle_amplitude, (0.25, 0.5, 0.06, 0.03, 0.03), (2 / math.pi) ** 2,
        "exact: sides in wavelengths alone count", rel=1e-12,
    ),
    Row(
        beam.ellipse_amplitude,
        ([0.0, 1.61634 / math.pi, 0.0, 0.731802], [0.0, 0.0, 1.61634 / math.pi / 3, 0.325245], 1.0, 3.0, 1.0),
        (1.0, math.sqrt(0.5), math.sqrt(0.5), 0.0), "exact: half power at x = 1.61634 on both axes; zero of J1",
        abs=1e-5,
    ),
    Row(beam.rectangle_equivalent_beam_angle, (16.0, 1.0), 0.02791, "computed: quadrature of a 4 x 4 square", rel=1e-2),
    Row(beam.rectangle_equivalent_beam_angle, (16.0, 1.0), 4 / 144, "exact: (integral of sinc^4)^2", rel=1e-12),
    Row(
        beam.line_array_factor, (10.0, 2, 2.0, 1.0), 10 ** (-6.716 / 20), "exact: two discs two wavelengths apart",
        abs=1e-4,
    ),
    Row(beam.piston, ([0.0, 1.61634, 3.83171],), (1.0, math.sqrt(0.5), 0.0), "exact: half power; zero of J1", abs=1e-5),
    Row(beam.piston_amplitude, (10.0, 5.0), 10 ** (-0.832 / 20), "exact: element of the same array", abs=1e-4),
    Row(beam.line_array_factor, (30.0, 3, 2.0, 1.0), 1.0, "exact: grating lobe at sin = lambda / d", abs=1e-12),
    Row(beam.line_array_factor, (30.0, 4, 2.0, 1.0), -1.0, "exact: grating lobe, phase reversed for even N", abs=1e-12),
    Row(
        beam.array_factor,
        ([[math.sin(math.radians(10.0)), 0.0, math.cos(math.radians(10.0))]],
         [[-1.0, 0, 0], [1.0, 0, 0]], 2 * math.pi, [1.0, 1.0]),
        10 ** (-6.716 / 20), "exact: the same two discs, two wavelengths apart", abs=1e-4, read=lambda v: v[0, 0].real,
    ),
    *(
        Row(beam.cap_order, (alpha,), nu, "computed: scipy lpmv; property by Rogers & Van Buren 1978", abs=1e-4)
        for alpha, nu in ((30.0, 4.0837), (45.0, 2.5479), (55.0, 1.9878))
    ),
    Row(
        beam.legendre, ([26.36, 35.44], 1.9878), (math.sqrt(0.5), 0.5), "computed: scipy lpmv, 55 degree cap", abs=1e-3,
    ),
    Row(
        beam.legendre, ([21.40, 28.82], 2.5479), (math.sqrt(0.5), 0.5), "computed: scipy lpmv, 45 degree cap", abs=1e-3,
    ),
    Row(
        beam.legendre, ([0.0, 60.0, 90.0, 120.0], 2.0), (1.0, -0.125, -0.5, -0.125), "exact: P2 = (3 x^2 - 1) / 2",
        abs=1e-12,
    ),
]
