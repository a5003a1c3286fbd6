"""What natural small slopes do to a surface's backscatter: a law of incidence averaged over the slopes.

A patch stands for about a square metre of seabed with many facets. Giving each patch one tilted facet instead would
leave one scatterer in twenty inside the narrow lobe of soft sediments, and single pings would glint by 10 dB over the
Rayleigh statistics that such a bottom has. The mean is the same.
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
