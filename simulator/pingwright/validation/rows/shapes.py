"""Fish shapes: peaks and means over tilt of measured shapes.

Tolerances: levels are stored in steps of 0.25 dB and read between nodes; means are right to 0.25 dB, peaks to 0.5 dB.
The two shapes of flesh alone are compared to 53.5 kHz only: above, echoes of back and belly beat faster than the nodes
stand.
"""

import numpy as np

from pingwright.acoustics import arrays, shapes
from pingwright.validation.row import Row

# fmt: off
RAY_MODE = "computed: ray-mode model of the library echosms, its shape scaled to 40 cm, sea water of 1490 m/s"
FREQUENCY_LENGTH = np.array([38e3, 53.5e3, 110e3, 170e3]) * 0.4
#: Peak over tilt, mean over N(-5, 15 deg), head down, and over N(+5, 15 deg) [dB re 1 m2] at 38, 53.5, 110, 170 kHz.
VALUES = {
    "cod": ((-27.3, -26.4, -25.6, -24.2), (-32.3, -32.4, -33.7, -33.6), (-33.6, -33.6, -34.7, -34.8)),
    "sardine": ((-24.4, -24.0, -25.2, -24.6), (-31.3, -31.8, -32.8, -32.9), (-33.2, -33.6, -34.7, -34.7)),
    "largemouth-bass": ((-26.2, -26.8, -26.5, -26.1), (-30.7, -30.8, -31.2, -31.2), (-32.1, -32.3, -32.7, -32.6)),
    "striped-bass": ((-24.8, -24.8, -23.5, -22.1), (-30.1, -30.0, -30.7, -30.8), (-31.6, -31.5, -32.2, -32.2)),
    "white-catfish": ((-27.0, -26.5, -26.7, -25.8), (-29.9, -30.0, -30.3, -30.7), (-31.3, -31.5, -31.7, -32.1)),
    "black-crappie": ((-27.6, -26.4, -26.2, -26.6), (-30.7, -30.6, -31.2, -31.4), (-31.3, -31.2, -31.7, -32.0)),
    "atlantic-mackerel": ((-42.4, -44.5, -43.5, -40.1), (-48.7, -50.1, -50.6, -49.2), (-48.4, -49.8, -50.4, -49.0)),
    "skipjack-tuna": ((-43.9, -44.9, -43.7, -41.7), (-49.8, -50.3, -49.2, -50.1), (-49.6, -50.2, -49.0, -49.9)),
}


def _count(name: str) -> int:
    return 4 if shapes.has_bladder(name) else 2


def _of_40_cm(ratio: object) -> object:
    return arrays.decibels(np.asarray(ratio)) + 20 * np.log10(0.4)


ROWS = [
    *(
        Row(
            shapes.tilt_mean, (name, mean, 15.0, FREQUENCY_LENGTH[: _count(name)]), values[1 if mean < 0 else 2][:
            _count(name)], f"{RAY_MODE}; mean over tilts N({mean:+g}, 15 deg), {name}", abs=0.25, read=_of_40_cm,
        )
        for name, values in VALUES.items() for mean in (-5.0, 5.0)
    ),
    *(
        Row(
            shapes.cross_section, (name, np.arange(-40.0, 40.1, 0.5), FREQUENCY_LENGTH[: _count(name)]), values[0][:
            _count(name)], f"{RAY_MODE}; peak over tilt, {name}", abs=0.5, read=lambda ratio:
            _of_40_cm(ratio.max(axis=0)),
        )
        for name, values in VALUES.items()
    ),
    Row(
        shapes.strength_shape, ("cod", 0.8, 20e3, 0.0), 20 * np.log10(2.0), "law: the same fish, twice as long",
        abs=1e-9, read=lambda level: level[0, 0] - shapes.strength_shape("cod", 0.4, 40e3, 0.0)[0, 0],
    ),
    Row(
        shapes.mean_strength, ("striped-bass", 0.4, FREQUENCY_LENGTH / 0.4), VALUES["striped-bass"][1],
        RAY_MODE + "; mean over natural tilts", abs=0.25,
    ),
    Row(shapes.has_bladder, ("cod",), True, "law: gadoids have a closed bladder"),
    Row(shapes.has_bladder, ("skipjack-tuna",), False, "law: skipjack has none"),
]
