"""The small-slope law of rough elastic ground."""

import numpy as np

from pingwright.acoustics import arrays, roughness, seabed, smallslope
from pingwright.validation.row import Row

# fmt: off
OPENBST_VALUES = (
    ("rock", 20e3, (-5.46, -7.29, -11.63, -14.63)),
    ("rock", 300e3, (-28.98, -28.35, -22.28, -16.81)),
    ("gravel", 20e3, (-4.93, -8.54, -16.74, -18.46)),
    ("gravel", 300e3, (-28.46, -27.93, -23.71, -17.11)),
    ("coarse sand", 20e3, (-2.1, -8.23, -21.0, -24.37)),
    ("coarse sand", 300e3, (-16.21, -16.09, -15.54, -15.49)),
    ("medium sand", 20e3, (-1.11, -11.28, -25.43, -29.13)),
    ("medium sand", 300e3, (-15.23, -15.48, -17.62, -19.82)),
)
OPENBST = "computed: reference output of a public implementation, hydroffice/hyo2_openbst (data of its own tests)"
ROWS = [
    *(
        Row(
            smallslope.small_slope, (smallslope.GROUNDS[name], np.sin(np.radians([90.0, 80.0, 60.0, 45.0])), [hertz]),
            [[one] for one in levels], f"{OPENBST}, roughness of {name} at {hertz / 1e3:g} kHz", abs=0.011,
            read=arrays.decibels,
        )
        for name, hertz, levels in OPENBST_VALUES
    ),
    Row(
        smallslope.reflection_elastic,
        (smallslope.GROUNDS["rough rock"], np.sin(np.radians([90.0, 60.0, 30.0, 10.0]))), (3.05, 4.28, 8.75, 2.28),
        f"{OPENBST}, reflection loss of rough rock", abs=0.006, read=lambda r: -20 * np.log10(np.abs(r)),
    ),
    Row(
        smallslope.fluid_ground, (1.845, 1.1782, 0.01624, 3.25, 0.004446), 1.406e-4,
        "published: parameters of medium sand in either unit of its relief (TR 9407 in cm; the law's authors in m)",
        rel=1e-3, read=lambda ground: ground.w2,
    ),
    Row(
        roughness.stable, ([0.0, 1.0, 40.0], 1.0), (1.0, 2**-1.5, 40.0 / 40.0 / 1601**1.5),
        "exact: integral of exp(-v) J0(x v) v = (1 + x^2)^-3/2", rel=1e-6,
    ),
    Row(seabed.surface_backscatter, (seabed.sediment_from_grain_size(1.5), [1.0], [20e3], 1500.0, "small-slope"), -1.1,
        "computed: independent code of the law, medium sand at 20 kHz (as a fluid)", abs=0.1, read=arrays.decibels),
]
