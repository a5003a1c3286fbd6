"""The fading of fish echoes: a few highlights, in phase at broadside and out of phase off broadside.

Seen exactly from above, the highlights along a fish add up in phase: its echo is the published target strength, without
fading. Off broadside their paths differ; when they differ by a wavelength, the sum is random, near Rayleigh. So one
mechanism gives the strong lobe at broadside, which becomes narrower with frequency times length, and the fading beside
it. How many highlights there are, how far they spread and how slowly each one fades with tilt are assumed; with them
the echoes of a 40 cm fish over natural tilts have a standard deviation of 5.6 to 6.1 dB between 38 and 210 kHz
(Rayleigh: 5.6), and one in ten lies 10 dB below the mean (computed; tested). Fish shorter than some five wavelengths
fade more, because otherwise the stated mean over tilt could not hold. Envelopes near Rayleigh for fish long against the
wavelength: Ehrenberg et al. 1981 (J. Acoust. Soc. Am., abstract).
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from pingwright.acoustics import fish as formulas
from pingwright.world.scatterers import FloatArray

#: Shares of the echo's amplitude at broadside; spread of their places along the body, standard deviation in lengths,
#: with a bladder (which gives most of the echo) and without; limit of the spread in standard deviations.
WEIGHTS = (0.4, 0.3, 0.2, 0.1)
SPREAD = {True: 0.07, False: 0.12}
CUT = 2.5
#: Axis ratio of the prolate spheroid whose tilt law each highlight has.
EACH = 2.0
_STEEPEST = 12.0
_NODES = 1201


@dataclass(frozen=True)
class Lobe:
    """The echo of a fish over tilt, relative to that at broadside.

    spread [m]: of the highlights along the fish; sound_speed [m/s]; tilt: mean and sd [deg] of the group; mean [1]:
    over these tilts, in power, the same at every frequency.
    """

    spread: float
    sound_speed: float
    tilt: tuple[float, float]
    mean: float

    def each(self, cosine: FloatArray, frequency: FloatArray) -> FloatArray:
        """Return the amplitude factor of every highlight [1], (n, m): cosine to the axis (n), frequency [Hz] (m)."""
        ratio, gain = self._balance(frequency)
        step = self._coherence(cosine, frequency)
        law = formulas.tilt_factor(cosine[:, None], ratio[None, :])  # type: ignore[arg-type]
        return np.sqrt(law * (step + (1.0 - step) * gain))

    def whole(self, cosine: FloatArray, frequency: FloatArray) -> FloatArray:
        """Return the rms amplitude factor of all highlights together [1], (n, m), as `each`."""
        step = self._coherence(cosine, frequency)
        return self.each(cosine, frequency) * np.sqrt(step + (1.0 - step) * _SQUARES)

    def _coherence(self, cosine: FloatArray, frequency: FloatArray) -> FloatArray:
        """Return the coherence of the highlights [1], (n, m): for normal places, in power."""
        turns = 4.0 * np.pi * self.spread / self.sound_speed * np.abs(cosine)[:, None] * frequency[None, :]
        return np.asarray(np.exp(-(turns**2)))

    def _balance(self, frequency: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return each highlight's axis ratio (m) and its gain off broadside (m) that keep the mean over tilt."""
        pairs = [
            _balanced(4.0 * np.pi * self.spread * float(f) / self.sound_speed, *self.tilt, self.mean) for f in frequency
        ]
        ratio, gain = np.array(pairs).reshape(-1, 2).T
        return ratio, gain


_SQUARES = float(np.sum(np.square(WEIGHTS)))


@lru_cache(maxsize=4096)
def _balanced(turns: float, mean_tilt: float, sd: float, mean: float) -> tuple[float, float]:
    """Return axis ratio and gain [1] for turns [rad] of phase along the spread at a cosine of 1.

    If the narrow lobe alone would make the mean too low, the highlights are stronger off broadside, by the gain. If the
    lobe is so wide that the mean would be too high, each highlight has a steeper tilt law.
    """
    z = np.linspace(-5.0, 5.0, _NODES)
    density = np.exp(-0.5 * z**2)
    density /= density.sum()
    sine = np.sin(np.radians(mean_tilt + sd * z))
    step = np.exp(-((turns * sine) ** 2))
    power = step + (1.0 - step) * _SQUARES

    def parts(ratio: float) -> tuple[float, float]:
        law = density * formulas.tilt_factor(sine, ratio) * power
        return float(np.sum(law * step)), float(np.sum(law * (1.0 - step)))

    inside, beside = parts(EACH)
    if inside + beside <= mean:
        return EACH, (mean - inside) / max(beside, 1e-12) if beside > 1e-6 else 1.0
    low, high = EACH, _STEEPEST
    for _ in range(50):
        middle = (low + high) / 2.0
        low, high = (middle, high) if sum(parts(middle)) > mean else (low, middle)
    return (low + high) / 2.0, 1.0


def places(rng: np.random.Generator, count: int) -> FloatArray:
    """Return random places of the highlights of fish (highlight, count), in standard deviations from the middle [1]."""
    z = rng.standard_normal((len(WEIGHTS), count))
    while (wild := np.abs(z) > CUT).any():
        z[wild] = rng.standard_normal(int(wild.sum()))
    return z
