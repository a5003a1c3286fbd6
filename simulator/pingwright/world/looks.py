"""How finely an element looks at the seabed: handed in by whoever has the element (recording.looks).

It only sets how densely the seabed is sampled.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Look:
    """How finely one element looks at the seabed.

    range_resolution c / 2B [m]; beam_width: one-way -3 dB, the narrower of its two [deg]; reach: angle off the vertical
    beyond which its beam has fallen off [deg]; tilt off the vertical [deg]; band [Hz].
    """

    range_resolution: float
    beam_width: float
    reach: float
    tilt: float
    band: tuple[float, float]
