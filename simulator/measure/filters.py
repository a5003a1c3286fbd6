"""What an element's own pulse and filter do to noise and to a strong echo: the spread of noise, the side lobes."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from simulator.acoustics import pulse
from simulator.echograms.record import ElementInfo

FloatArray = NDArray[np.float64]

#: Steps of the side lobe table in one resolution cell.
STEPS = 8
#: Flanks of the pulse, as a share of its length: the recording does not tell; the contract's default.
TAPER = 0.1


@dataclass(frozen=True)
class Filtering:
    """The filter of one element.

    spread: rms width of the spectrum it gives to white noise, in units of 1/(duration of a cell). lobes (step): power
    of its response to a point at 0, 1/8, 2/8 .. cells from the peak, to one pulse length; scaled so that both sides add
    to 1: an extended echo of many independent points leaks that share of its power, step by step.
    """

    spread: float
    lobes: FloatArray


def filtering(info: ElementInfo) -> Filtering:
    """Return the filter of an element: matched to its pulse, weighted over the band.

    The pulse is taken with flanks of 10 % of its length and of the length and band the recording states; an unknown
    weighting counts as none. A chirp of small time-bandwidth product has side lobes all along its length that an ideal
    band has not (Fresnel ripples; Cook & Bernfeld 1967): they decide what is seen close above the bottom.
    """
    kind = str(info.extra.get("pulse_kind", "chirp"))
    duration = 2 * info.range_resolution / info.assumed_sound_speed
    name = info.weighting if info.weighting in pulse.WEIGHTINGS else "none"
    return _filtering(kind, info.pulse_length, info.band_high - info.band_low, name, duration)


def point_width(info: ElementInfo, drop: float = 3.0) -> float:
    """Return the full width [m] of a point's echo at `drop` dB below its peak, from the pulse and its weighting."""
    lobes = filtering(info).lobes
    level = 10 * np.log10(lobes / lobes[0])
    first = int(np.argmax(level < -drop))
    inside = first - 1 + (level[first - 1] + drop) / (level[first - 1] - level[first])
    return float(2 * inside / STEPS * info.range_resolution)


@lru_cache(maxsize=64)
def _filtering(kind: str, length: float, band: float, weighting: str, duration: float) -> Filtering:
    step = 1 / (8 * band)
    count = 1 << int(np.ceil(np.log2(4 * length / step + 64)))
    time = (np.arange(count) - count // 2) * step
    shape = pulse.tone(time, length, TAPER) if kind == "tone" else pulse.chirp(time, length, band, TAPER)
    frequency = np.fft.fftfreq(count, step)
    power = np.abs(np.fft.fft(shape)) ** 2
    weight = pulse.weighting(weighting, frequency / band)
    noise = power * weight**2
    spread = duration * np.sqrt(np.sum(frequency**2 * noise) / np.sum(noise))
    response = np.abs(np.fft.ifft(power * weight)) ** 2
    reach = min(length, count // 2 * step)
    delay = np.arange(0, reach, duration / STEPS)
    lobes = np.interp(delay, np.arange(count // 2) * step, response[: count // 2])
    return Filtering(float(spread), lobes / (2 * lobes.sum() - lobes[0]))
