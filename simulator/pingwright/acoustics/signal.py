"""The transmitted pulse and the band its receiver keeps."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pingwright.acoustics import pulse
from pingwright.acoustics.arrays import ComplexArray, FloatArray

#: A tone's receiver keeps this many times 1 / length on either side: out to the fourth zero of its spectrum. Assumed.
TONE_LOBES = 4.0


#: Steps of frequency over a band, at least.
LEAST_STEPS = 16


@dataclass(frozen=True, eq=False)
class Filtered:
    """A pulse after its filter: the form of a point's echo, and the share of white noise that passes.

    frequency (n) [Hz]: evenly over the band; replica (n) [s]: the pulse's spectrum P; gain (n): the filter's g.
    bandwidth [Hz]: what one resolution cell is the inverse of; is_tone: one frequency was sent.
    """

    frequency: FloatArray
    replica: ComplexArray
    gain: FloatArray
    bandwidth: float
    is_tone: bool

    @cached_property
    def power(self) -> FloatArray:
        """|P|^2 (n) [s2]."""
        return np.asarray(np.abs(self.replica) ** 2)

    @property
    def step(self) -> float:
        """Between frequencies [Hz]."""
        return float(self.frequency[1] - self.frequency[0])

    @cached_property
    def transfer(self) -> FloatArray:
        """From a flat channel to the output (n) [1], its sum is 1."""
        return pulse.matched_filter(self.replica, self.gain)

    @property
    def effective_pulse(self) -> float:
        """The output's energy over its peak power [s]."""
        return pulse.effective_pulse_length(self.transfer, self.step)

    @cached_property
    def width(self) -> float:
        """Full width of the output at -3.01 dB [s]."""
        return pulse.width(self.transfer, self.frequency)

    @cached_property
    def side_lobe_level(self) -> float:
        """Integrated range side lobe level [dB]: energy on one side beyond 10 cells over all; nan for a tone."""
        return float("nan") if self.is_tone else pulse.side_lobe_energy(self.transfer, self.step, self.bandwidth)

    @property
    def loss(self) -> float:
        """Loss of signal to noise ratio against the plain matched filter without weighting [dB]."""
        return pulse.filter_loss(self.replica, self.gain)


@dataclass(frozen=True)
class Signal:
    """A pulse of unit amplitude and the receiver's band and weighting for it.

    low, high [Hz]: ends of the sweep, equal for a tone. length [s]. taper 0..1: share of the length in both flanks.
    direction: "up" or "down". band [Hz]: of the receiver. weighting_name: the window over that band.
    filter_name: "matched" or "equalised", see `pulse.filter_gain`; a tone, whose spectrum has zeros in the band, is
    always received by its matched filter.
    """

    low: float
    high: float
    length: float
    taper: float
    direction: str
    band: tuple[float, float]
    weighting_name: str
    filter_name: str = "matched"

    @property
    def is_tone(self) -> bool:
        """Whether one frequency is sent."""
        return self.low == self.high

    @property
    def bandwidth(self) -> float:
        """Width of the sweep [Hz]; of a tone 1 / length."""
        return 1.0 / self.length if self.is_tone else self.high - self.low

    def _samples(self, reach: float) -> tuple[FloatArray, ComplexArray]:
        """Return times [s] from the pulse's start and its complex envelope there, fine enough to +-reach [Hz].

        Midpoint samples at eight times the reach: the spectrum's first image then lies seven reaches away.
        """
        rate = max(16.0 * self.bandwidth, 8.0 * reach, 256.0 / self.length)
        count = int(np.ceil(rate * self.length))
        t: FloatArray = np.asarray((np.arange(count) + 0.5) * (self.length / count))
        middle = t - self.length / 2.0
        if self.is_tone:
            return t, pulse.tone(middle, self.length, self.taper)
        return t, pulse.chirp(middle, self.length, self.bandwidth, self.taper, self.direction)

    def spectrum(self, frequency: FloatArray) -> ComplexArray:
        """Return the Fourier integral of the pulse [s] at any frequency [Hz] (any shape), the pulse starting at time 0.

        The phase of the carrier is that of a pulse whose mid frequency has phase 0 at time 0.
        """
        shape = np.shape(frequency)
        centre = (self.low + self.high) / 2.0
        offset = np.atleast_1d(np.asarray(frequency, dtype=float)).ravel() - centre
        t, samples = self._samples(float(np.max(np.abs(offset), initial=0.0)))
        samples = samples * (self.length / len(t))
        if _evenly_spaced(offset):
            return _even_transform(offset, t, samples).reshape(shape)
        step = max(1, 2_000_000 // len(t))
        parts = [np.exp(-2j * np.pi * np.outer(offset[i : i + step], t)) @ samples for i in range(0, len(offset), step)]
        return np.concatenate([*parts, np.empty(0, dtype=complex)]).reshape(shape)

    def weighting(self, frequency: FloatArray) -> FloatArray:
        """Return the receiver's weight [1] at frequency [Hz] (any shape): the window over the band, 0 outside it."""
        low, high = self.band
        position = (np.asarray(frequency, dtype=float) - (low + high) / 2.0) / (high - low)
        return pulse.weighting(self.weighting_name, position)

    def band_grid(self, per_cell: int = 8) -> FloatArray:
        """Return evenly spaced frequencies [Hz] over the band, fine enough to integrate on (1 / (per_cell T)).

        At least LEAST_STEPS of them: a chirp may be shorter than one cell, and the window falls to 0 at both ends.
        """
        low, high = self.band
        return np.linspace(low, high, max(int(np.ceil((high - low) * self.length * per_cell)), LEAST_STEPS) + 1)

    def filter_gain(self, frequency: FloatArray, replica: ComplexArray) -> FloatArray:
        """Return the real gain g of the receiver's filter conj(P) g at frequency [Hz] (n), see `pulse.filter_gain`.

        replica P [s] (n): the pulse's spectrum there. frequency covers the whole band, outside of which g is 0.
        """
        name = "matched" if self.is_tone else self.filter_name
        return pulse.filter_gain(name, replica, self.weighting(frequency))

    @cached_property
    def filtered(self) -> Filtered:
        """Return the pulse after its filter: the form of a point's echo, and the noise that passes."""
        f = self.band_grid()
        replica = self.spectrum(f)
        return Filtered(f, replica, self.filter_gain(f, replica), self.bandwidth, self.is_tone)


def _evenly_spaced(offset: FloatArray) -> bool:
    if len(offset) < 64:
        return False
    step = np.diff(offset)
    return bool(np.max(np.abs(step - step[0])) < 1e-9 * np.max(np.abs(offset)) + 1e-6 * abs(step[0]))


def _even_transform(offset: FloatArray, t: FloatArray, samples: ComplexArray) -> ComplexArray:
    """Return sum_n samples_n exp(-2 pi i f_m t_n) on evenly spaced f [Hz] and t [s] by a convolution.

    m n = (m^2 + n^2 - (m - n)^2) / 2 makes the sum one (Bluestein 1970, IEEE Trans. Audio Electroacoust. 18, 451-455);
    `scipy.signal.czt` does the same, but takes longer to import than all of this to run.
    """
    count, length = len(offset), len(t)
    step, space = (offset[-1] - offset[0]) / (count - 1), (t[-1] - t[0]) / max(length - 1, 1)
    whole = np.arange(1 - length, max(count, length), dtype=float)
    chirp = np.exp(-1j * np.pi * (step * space) * whole**2)
    up, across = chirp[length - 1 :], chirp[: length + count - 1]
    size = 1 << (2 * length + count).bit_length()
    turned = samples * np.exp(-2j * np.pi * offset[0] * (t - t[0])) * up[:length]
    product = np.fft.ifft(np.fft.fft(turned, size) * np.fft.fft(np.conj(across), size))
    return np.asarray(product[length - 1 : length - 1 + count] * up[:count] * np.exp(-2j * np.pi * offset * t[0]))


def tone_band(tone: float, length: float) -> tuple[float, float]:
    """Return the receiver's band [Hz] for a tone [Hz] of some length [s]: +-4 / length, at most +-3/4 of the tone.

    Valid for a pulse without flanks. Source: zeros of sin(pi f T) / (pi f T); the number of lobes is assumed.
    """
    half = min(TONE_LOBES / length, 0.75 * tone)
    return tone - half, tone + half
