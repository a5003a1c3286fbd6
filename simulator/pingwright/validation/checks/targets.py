"""Single echoes: strength on the axis, the beam's pattern, time of travel, the width of an echo."""

from collections.abc import Iterator

import numpy as np

from pingwright.validation.checks.scene import DIAMETER, ELEMENT, TONE, Check, simulated, target

DEPTH = 20.0
STRENGTH = -40.0


def strength() -> Iterator[Check]:
    """Yield the strength [dB re 1 m2] of a point on the axis, read from the level by the sonar equation."""
    element = simulated({"target": [target(DEPTH, STRENGTH)]}).elements[0]
    read = float(element.echo_strength().max(axis=1).mean())
    how = "the strength that was put there; active sonar equation"
    yield Check("target strength of a point on the axis", read, STRENGTH, "dB re 1 m2", 0.1, how, "step of the samples")


def pattern() -> Iterator[Check]:
    """Yield how far [dB] the level of a target that is crossed strays from the disc's two-way pattern, to -30 dB."""
    from scipy.special import j1

    run = {"speed": 1.0, "start": -8.0, "length": 16.0}
    element = simulated({"boat": run, "target": [target(DEPTH, STRENGTH)]}).elements[0]
    slant = np.hypot(element.x, DEPTH)
    read = element.level().max(axis=1) + 40 * np.log10(slant) + 2 * element.info.absorption * slant
    argument = 2 * np.pi * TONE / _speed() * DIAMETER / 2 * np.abs(element.x) / slant + 1e-9
    law = 40 * np.log10(np.abs(2 * j1(argument) / argument))
    inside = law > -30
    off = (read - read.max() - law)[inside]
    how = "(2 J1(x) / x)^2 of a disc, scipy.special"
    yield Check(
        "beam of a disc from a target that is crossed, rms of the difference to -30 dB",
        float(np.sqrt(np.mean(off**2))), 0.0, "dB", 0.1, how, "samples and nodes of the band",
    )  # fmt: skip


def _speed(depth: float = 0.0) -> float:
    """Return the speed of sound [m/s] of the base scene's water by Mackenzie 1981, which the engine does not use."""
    t, s = 10.0, 35.0
    return float(
        1448.96 + 4.591 * t - 5.304e-2 * t**2 + 2.374e-4 * t**3 + 1.340 * (s - 35) + 1.630e-2 * depth
        + 1.675e-7 * depth**2 - 1.025e-2 * t * (s - 35) - 7.139e-13 * t * depth**3
    )  # fmt: skip


def travel() -> Iterator[Check]:
    """Yield the range [m] at which a point is drawn by a sounder that assumes 1500 m/s."""
    water = {"assumed_sound_speed": 1500.0}
    element = simulated({"water": water, "target": [target(DEPTH, STRENGTH)]}).elements[0]
    level = 10 ** (element.level()[0] / 10)
    near = level > level.max() / 2  # the middle of the echo, half a pulse behind its onset in no filter's output
    read = float(np.average(element.range[near], weights=level[near]))
    slowness = np.mean([1 / _speed(depth) for depth in np.linspace(0.0, DEPTH, 101)])
    how = "depth over the speed of sound by Mackenzie 1981, times 1500 m/s"
    yield Check("range of a point, 1500 m/s assumed", read, float(1500.0 * DEPTH * slowness), "m", 0.02, how,
                "Mackenzie differs from the engine's formula by up to 0.1 m/s; step of the samples")  # fmt: skip


def resolution() -> Iterator[Check]:
    """Yield the width [m] at half power of a point's echo for a tapered, weighted chirp."""
    low, high, length, taper = 90e3, 110e3, 2e-3, 0.5
    chirp = ELEMENT | {"pulse": {"length": length, "taper": taper}, "weighting": "hann"}
    record = simulated({"element": [chirp], "target": [target(DEPTH, STRENGTH)]}, keep_phase=True)
    element = record.elements[0]
    read = half_width(np.nan_to_num(element.echo[0]), float(element.range[1] - element.range[0]))
    rate = 16 * (high - low)
    t = (np.arange(int(rate * length)) + 0.5) / rate - length / 2
    edge = np.clip((length / 2 - np.abs(t)) / (taper * length / 2), 0, 1)
    sent = (0.5 - 0.5 * np.cos(np.pi * edge)) * np.exp(1j * np.pi * (high - low) / length * t**2)
    size = 1 << 17
    spectrum, f = np.fft.fft(sent, size), np.fft.fftfreq(size, 1 / rate)
    inside = np.abs(f) <= (high - low) / 2
    gain = np.where(inside, 0.5 + 0.5 * np.cos(2 * np.pi * f / (high - low)), 0.0)
    out = np.fft.fftshift(np.fft.ifft(np.abs(spectrum) ** 2 * gain))
    expected = half_width(out, element.info.assumed_sound_speed / 2 / rate)
    how = "the chirp compressed by a plain FFT, apart from the program"
    yield Check("width of a point's echo at half power, chirp of 20 kHz", read, expected, "m", 0.03 * expected, how,
                "directivity and absorption tilt the band")  # fmt: skip


def half_width(echo: np.ndarray, step: float) -> float:
    """Return the full width of the highest peak at half power [unit of step]; echo: complex samples, `step` apart.

    Between samples the echo is made up by zeros behind its spectrum: exact for a band within the sample rate.
    """
    peak, half, times = int(np.argmax(np.abs(echo))), 64, 64
    gate = np.asarray(echo[peak - half : peak + half], dtype=complex)
    spectrum = np.fft.fftshift(np.fft.fft(gate))
    padded = np.zeros(2 * half * times, dtype=complex)
    middle = len(padded) // 2
    padded[middle - half : middle + half] = spectrum
    power = np.abs(np.fft.ifft(np.fft.ifftshift(padded))) ** 2
    top = int(np.argmax(power))
    left = top - int(np.argmax(power[top::-1] < power[top] / 2))
    right = top + int(np.argmax(power[top:] < power[top] / 2))
    return (right - left) * step / times
