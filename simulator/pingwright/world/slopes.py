"""The effect of natural small slopes on a surface's backscatter: a law of incidence averaged over the slopes.

A patch represents about a square metre of seabed with many facets. With one tilted facet for each patch instead, only
one scatterer in twenty would be inside the narrow lobe of soft sediments. Single pings would then glint by 10 dB above
the Rayleigh statistics of a real bottom; the mean would be the same.
"""

from dataclasses import replace

import numpy as np

from pingwright.acoustics.slopes import averaged
from pingwright.world.scatterers import FloatArray, StrengthLaw


def sloped(law: StrengthLaw, slope_rms: float) -> StrengthLaw:
    """Return a surface's strength law averaged over slopes of some total rms [deg]."""

    def strength(cosine: FloatArray, frequency: FloatArray) -> FloatArray:
        return np.asarray(law.amplitude(cosine, frequency)) ** 2

    mean = averaged(strength, slope_rms)
    key = None if law.key is None else ("sloped", slope_rms, law.key)
    return replace(
        law, amplitude=lambda cosine, frequency: np.sqrt(mean(cosine, frequency)) * (cosine > 0.0)[:, None], key=key
    )
