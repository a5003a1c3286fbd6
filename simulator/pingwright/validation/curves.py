"""Topics of which a curve says more than a row: what the formulas give, as lines, with published values as points."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pingwright.acoustics import absorption, beam, bubbles, fish, noise, pulse, seabed, sphere, water

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Curves:
    """One figure: x (n) and its label, lines by name (n), the label of y, points by name (x, y) from elsewhere."""

    title: str
    x: FloatArray
    x_label: str
    lines: Mapping[str, FloatArray]
    y_label: str
    points: Mapping[str, tuple[Any, Any]] = field(default_factory=dict)
    log: bool = False
    limits: tuple[float, float] | None = None


def sound_speed() -> Curves:
    """Return the speed of sound [m/s] over temperature in sea and fresh water, with TEOS-10 (gsw 3.6) as points."""
    t = np.linspace(0.0, 30.0, 121)
    lines = {
        "used here, salinity 35": water.sound_speed(t, 35.0, 0.0),
        "Mackenzie 1981, 35": water.sound_speed_mackenzie(t, 35.0, 0.0),
        "used here, fresh": water.sound_speed(t, 0.0, 0.0),
    }
    points = {"TEOS-10": ([0, 10, 20, 10, 20], [1449.025, 1489.789, 1521.479, 1447.284, 1482.353])}
    return Curves("Speed of sound at the surface", t, "temperature (degC)", lines, "speed (m/s)", points)


def loss() -> Curves:
    """Return absorption [dB/km] over frequency [kHz] by three published formulas, and of fresh water."""
    f = np.geomspace(10e3, 1e6, 200)
    lines = {
        "Francois & Garrison 1982": 1e3 * absorption.francois_garrison(f, 10.0, 35.0),
        "Ainslie & McColm 1998": 1e3 * absorption.ainslie_mccolm(f, 10.0, 35.0),
        "Fisher & Simmons 1977": 1e3 * absorption.fisher_simmons(f, 10.0),
        "fresh water": 1e3 * absorption.francois_garrison(f, 10.0, 0.0),
    }
    return Curves("Absorption at 10 degC", f / 1e3, "frequency (kHz)", lines, "absorption (dB/km)", log=True)


def disc() -> Curves:
    """Return the one-way pattern [dB] of a disc of 10 wavelengths, its first side lobe (Kinsler et al.) a point."""
    angle, ka = np.linspace(0.0, 20.0, 801), 2 * np.pi * 5.0
    level = 20 * np.log10(np.maximum(np.abs(beam.piston_amplitude(angle, ka)), 1e-6))
    peak = float(np.degrees(np.arcsin(5.1356 / ka)))
    points = {"first side lobe, J1": ([peak], [-17.57])}
    title = "Beam of a disc of ten wavelengths, one way"
    return Curves(title, angle, "angle (deg)", {"used here": level}, "level (dB)", points, limits=(-50.0, 2.0))


def spheres() -> Curves:
    """Return the target strength [dB re 1 m2] of a tungsten carbide sphere of 38.1 mm over frequency [kHz]."""
    f = np.linspace(30e3, 210e3, 1801)
    amplitude = sphere.amplitude_elastic(0.01905, f, 14_900.0 / 1027.0, 6853.0, 4171.2, 1490.0)
    lines = {"tungsten carbide, 38.1 mm": sphere.target_strength(amplitude)}
    return Curves("Calibration sphere", f / 1e3, "frequency (kHz)", lines, "target strength (dB re 1 m2)")


def fishes() -> Curves:
    """Return the target strength [dB re 1 m2] of fish over length [m] at 38 kHz by published regressions."""
    length = np.geomspace(0.05, 1.0, 200)
    lines = {
        "Love 1971, dorsal maximum": fish.strength_love_1971(length, np.full_like(length, 38e3)),
        "Foote 1987, closed bladder, mean": fish.strength_foote_physoclist(length),
        "Foote 1987, open bladder, mean": fish.strength_foote_clupeoid(length),
    }
    title = "Target strength of fish at 38 kHz"
    return Curves(title, length, "length (m)", lines, "target strength (dB re 1 m2)", log=True)


def bottoms() -> Curves:
    """Return the backscattering strength [dB] of smooth ground of four grain sizes over the angle of incidence."""
    angle = np.linspace(0.0, 60.0, 121)
    lines = {}
    for name, size in (("coarse sand", 0.5), ("medium sand", 1.5), ("silt", 5.0), ("mud", 7.0)):
        ground = seabed.sediment_from_grain_size(size)
        strength = seabed.backscatter(ground, np.cos(np.radians(angle)), [50e3], 1500.0)
        lines[name] = 10 * np.log10(np.asarray(strength)[:, 0])
    title = "Backscattering strength of sediments at 50 kHz, without slopes"
    return Curves(title, angle, "angle from the vertical (deg)", lines, "strength (dB)")


def sea_noise() -> Curves:
    """Return spectral levels [dB re 1 uPa2/Hz] of wind and heat over frequency [kHz]."""
    f = np.geomspace(10e3, 500e3, 200)
    lines = {f"wind {speed} m/s": noise.wind_coates(f, float(speed)) for speed in (2, 5, 10)}
    lines["heat"] = noise.thermal(f)
    label = "level (dB re 1 uPa2/Hz)"
    return Curves("Noise of the sea", f / 1e3, "frequency (kHz)", lines, label, log=True)


def compressed() -> Curves:
    """Return the compressed echo [dB] of a chirp of 80 kHz and 2 ms by taper, over time [us], Hann weighting."""
    bandwidth, length = 80e3, 2e-3
    rate = 8 * bandwidth
    t = (np.arange(int(rate * length)) + 0.5) / rate - length / 2
    size = 1 << 14
    f = np.fft.fftfreq(size, 1 / rate)
    order = np.argsort(f)
    weight = pulse.weighting("hann", f / bandwidth)
    time = np.linspace(0.0, 300e-6, 601)
    lines = {}
    for taper in (0.1, 0.5, 1.0):
        spectrum = np.fft.fft(pulse.chirp(t, length, bandwidth, taper), size)
        transfer = pulse.matched_filter(spectrum, weight)[order]
        level = pulse.envelope(transfer, f[order], time)
        lines[f"taper {taper}"] = 20 * np.log10(np.maximum(level, 1e-6))
    title = "Side lobes in range of a chirp of 80 kHz and 2 ms, by its taper"
    return Curves(title, time * 1e6, "time (us)", lines, "level (dB)", limits=(-110.0, 2.0))


def wind_bubbles() -> Curves:
    """Return the two-way loss [dB] through wind's bubbles over the wind [m/s] at three frequencies."""
    wind = np.linspace(0.0, 12.0, 121)
    lines = {f"{f / 1e3:g} kHz": bubbles.two_way_loss(np.full_like(wind, f), wind) for f in (38e3, 70e3, 100e3)}
    label = "two-way loss (dB)"
    return Curves("Loss through bubbles of the wind", wind, "wind (m/s)", lines, label)


CURVES: dict[str, Callable[[], Curves]] = {
    "water": sound_speed,
    "absorption": loss,
    "beam": disc,
    "pulse": compressed,
    "sphere": spheres,
    "fish": fishes,
    "seabed": bottoms,
    "noise": sea_noise,
    "bubbles": wind_bubbles,
}
