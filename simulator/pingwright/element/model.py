"""Element: the numbers and tables that the engine and the lists need."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from pingwright.acoustics import budget
from pingwright.acoustics.arrays import ComplexArray, FloatArray
from pingwright.acoustics.signal import Signal
from pingwright.element import power, receiver, sphere
from pingwright.element.faces import Face
from pingwright.inputs.elements import Element as ElementSpec

#: Time for which an element rings after its pulse [s]. Assumed.
RING_DOWN = 0.3e-3
#: Distance for the loss to harmonics if the depth of the bottom is not given [m]. Assumed.
FAR = 50.0


@dataclass(frozen=True)
class Element:
    """One element in water of one density [kg/m3] and sound_speed [m/s] at its face, depth [m] below the surface.

    spec: the scenario's [[element]]. far [m]: distance for which the loss to harmonics is computed. Frequencies are
    1-D arrays [Hz] unless said otherwise. Directions are direction cosines in the element's own axes (u along, v
    across, w out of the face).
    """

    spec: ElementSpec
    face: Face
    signal: Signal
    density: float
    sound_speed: float
    depth: float = 0.0
    far: float = FAR

    @property
    def name(self) -> str:
        """The element's name."""
        return str(self.spec.name)

    @property
    def band(self) -> tuple[float, float]:
        """The band that the receiver passes [Hz]: the sweep, or a tone +-4 / length."""
        return self.signal.band

    @property
    def centre(self) -> float:
        """Middle of the band [Hz]."""
        return (self.band[0] + self.band[1]) / 2.0

    @property
    def pulse_length(self) -> float:
        """Length of the pulse [s]."""
        return self.signal.length

    @property
    def symmetry(self) -> Literal["radial", "plane"]:
        """Whether the beam depends on u^2 + v^2 only."""
        return "radial" if self.face.radial else "plane"

    @property
    def is_real(self) -> bool:
        """Whether the beam is real everywhere."""
        return self.face.real

    def replica_spectrum(self, frequency: FloatArray) -> ComplexArray:
        """Return the Fourier integral of the unit-amplitude pulse [s], inside or outside the band, any shape."""
        return self.signal.spectrum(frequency)

    def weighting(self, frequency: FloatArray) -> FloatArray:
        """Return the receiver's weight [1], 0 outside the band, any shape."""
        return self.signal.weighting(frequency)

    def filter_gain(self, frequency: FloatArray, replica: ComplexArray) -> FloatArray:
        """Return the real gain of the receiver's filter conj(P) g at frequency [Hz] (n) over the band, see Signal."""
        return self.signal.filter_gain(frequency, replica)

    def beam(self, u: FloatArray, v: FloatArray, frequency: FloatArray) -> ComplexArray:
        """Return one-way pressure (direction, frequency) towards u, v (direction), 1 on the acoustic axis.

        Forward directions only, u^2 + v^2 <= 1: the caller must silence directions behind the baffle. Phases are
        relative to a wave from `face.virtual_depth` behind the face that has no delay on the axis.
        """
        u, v, f = (np.atleast_1d(np.asarray(a, dtype=float)) for a in (u, v, frequency))
        return self.face.pattern(u, v, f, self.sound_speed)

    @cached_property
    def rotation(self) -> NDArray[np.float64]:
        """Rows are the element's axes (along, across, out) in the boat's (x, y, depth): own = rotation @ boat.

        The tilt along comes first, about the across axis, then the tilt across, about the boat's x axis: the axis
        points to (sin a, cos a sin b, cos a cos b).
        """
        a, b = np.deg2rad(self.spec.tilt.along), np.deg2rad(self.spec.tilt.across)
        sa, ca, sb, cb = np.sin(a), np.cos(a), np.sin(b), np.cos(b)
        return np.array([[ca, -sa * sb, -sa * cb], [0.0, cb, -sb], [sa, ca * sb, ca * cb]])

    def directivity_factor(self, frequency: FloatArray) -> FloatArray:
        """Return 4 pi over the integral of the beam's power over the forward hemisphere [1], any shape.

        More than 64 frequencies are interpolated between nodes (error below 0.002 dB for the catalogue's faces).
        """
        f = np.asarray(frequency, dtype=float)
        if f.size <= 64:
            power_integral = sphere.mean_power(self.face, f.ravel(), self.sound_speed)
            return np.asarray(4.0 * np.pi / power_integral).reshape(f.shape)
        low, high = self.band
        inside = low <= f.min() and f.max() <= high
        ends = (low, high) if inside else (float(f.min()), float(f.max()))
        x = (2.0 * f - ends[0] - ends[1]) / (ends[1] - ends[0])
        return np.asarray(
            np.exp(np.polynomial.chebyshev.chebval(x, sphere.directivity_fit(self.face, *ends, self.sound_speed)))
        )

    def directivity(self, frequency: FloatArray) -> FloatArray:
        """Return the directivity index [dB], any shape."""
        return np.asarray(10.0 * np.log10(self.directivity_factor(frequency)))

    def equivalent_beam_angle(self, frequency: FloatArray) -> FloatArray:
        """Return the equivalent two-way beam angle [sr], the integral of power squared, any shape."""
        f = np.asarray(frequency, dtype=float)
        return sphere.mean_power(self.face, f.ravel(), self.sound_speed, power=2).reshape(f.shape)

    def beamwidth(self, frequency: float) -> tuple[float, float]:
        """Return full one-way half-power widths along and across [deg] at one frequency [Hz], found by search."""
        return sphere.beamwidth(self.face, float(frequency), self.sound_speed)

    def pattern(self, frequency: FloatArray, angle: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return one-way levels along and across [dB re axis] (frequency, angle).

        angle [deg] from the element's own axis. Silence (also behind the baffle, beyond 90 deg) is -200 dB.
        """
        sine, front = np.sin(np.deg2rad(angle)), np.abs(angle) <= 90.0
        zero = np.zeros_like(sine)
        levels = []
        for u, v in ((sine, zero), (zero, sine)):
            magnitude = np.abs(self.beam(u, v, frequency)).T * front
            levels.append(np.asarray(20.0 * np.log10(np.maximum(magnitude, 1e-10))))
        return levels[0], levels[1]

    @property
    def acoustic_power(self) -> float:
        """Power radiated during the pulse [W], limited by the cavitation rule if the spec demands it."""
        radiated = float(self.spec.power * self.spec.efficiency)
        if self.spec.cavitation_limit and np.isfinite(self.face.area):
            return power.limited_power(radiated, self.face.area, self.depth)
        return radiated

    def source_amplitude(self, frequency: FloatArray) -> FloatArray:
        """Return rms source amplitude on the acoustic axis [uPa m], any shape, at any frequency.

        It rises with directivity over the band and falls by edge_loss towards its edges, and by the loss to harmonics
        at the distance `far`: nearer targets are drawn up to some dB too weak, farther ones too strong.
        """
        flat = budget.source_level(
            self.acoustic_power, 1.0, self.directivity(frequency), self.density, self.sound_speed
        )
        return np.asarray(10.0 ** (flat / 20.0) * self._edge_gain(frequency) * self._harmonics_gain(frequency))

    def _harmonics_gain(self, frequency: FloatArray) -> FloatArray:
        if not self.spec.finite_amplitude or not np.isfinite(self.face.area):
            return np.ones(np.shape(frequency))
        return power.finite_amplitude_gain(
            frequency, self.acoustic_power, self.face.area, self.far, self.density, self.sound_speed,
            self.face.virtual_depth,
        )  # fmt: skip

    @property
    def finite_amplitude_loss(self) -> float:
        """One-way loss to harmonics at band centre [dB], part of the source level; 0 where it is switched off."""
        return float(-20.0 * np.log10(self._harmonics_gain(np.array([self.centre]))[0]))

    @property
    def power_density(self) -> float:
        """Electrical power over the area of the face [W/m2]; nan where the area is not known."""
        return float(self.spec.power / self.face.area)

    def source_level(self, frequency: float) -> float:
        """Return the source level at one frequency [dB re 1 uPa m]."""
        return float(20.0 * np.log10(self.source_amplitude(np.array([frequency]))[0]))

    def _edge_gain(self, frequency: FloatArray) -> FloatArray:
        low, high = self.spec.band
        return power.edge_loss_gain(frequency, (low, high), self.spec.edge_loss)

    @property
    def near_field(self) -> float:
        """Distance beyond which the far-field beam holds at the whole band [m]."""
        return self.face.near_field(self.sound_speed / self.band[1])

    @property
    def blank_range(self) -> float:
        """Range within which the element is still sending or ringing [m], c (T + 0.3 ms assumed) / 2."""
        return self.sound_speed * (self.pulse_length + RING_DOWN) / 2.0

    @property
    def range_resolution(self) -> float:
        """Range resolution [m]: c / 2B of a chirp, c T / 2 of a tone."""
        return self.sound_speed / (2.0 * self.signal.bandwidth)

    @property
    def effective_pulse(self) -> float:
        """Energy of the filter's output over its peak power [s]."""
        return self.signal.filtered.effective_pulse

    @property
    def point_width(self) -> float:
        """Full width of a point's filtered echo at -3.01 dB [m]."""
        return self.signal.filtered.width * self.sound_speed / 2.0

    def cavitation(self, depth: float | None = None) -> power.Cavitation:
        """Return the cavitation numbers at depth [m] (default: the element's own), at band centre."""
        at = self.depth if depth is None else depth
        return power.cavitation(self.acoustic_power, self.face.area, at, self.centre, self.density, self.sound_speed)

    def noise_psd(self, frequency: FloatArray, wind_speed: float, ambient: bool, own: float | None) -> FloatArray:
        """Return noise at the filter's input [uPa2/Hz], referred to a plane wave on the axis, any shape.

        wind_speed [m/s]; ambient: wind and thermal noise; own: the boat's, around its hull [dB re 1 uPa2/Hz at 50 kHz],
        or None: see `acoustics.noise.own_level`. See receiver.noise_density.
        """
        f = np.asarray(frequency, dtype=float)
        efficiency = self.spec.receive_efficiency * self._edge_gain(f) ** 2
        figure = self.spec.noise_figure
        factor = self.directivity_factor(f)
        return receiver.noise_density(f, factor, efficiency, wind_speed, ambient, own, figure)

    def noise_level(self, wind_speed: float, ambient: bool, own: float | None) -> float:
        """Return the noise level after the filter [dB re 1 uPa], see `noise_psd`; minus infinity without noise."""
        band = self.signal.filtered
        density = self.noise_psd(band.frequency, wind_speed, ambient, own)
        through = np.trapezoid(density * band.power * band.gain**2, band.frequency)
        passed = through / np.trapezoid(band.power * band.gain, band.frequency) ** 2
        return float(10.0 * np.log10(passed)) if passed > 0.0 else receiver.NOTHING

    def received(self, echo: NDArray[Any]) -> NDArray[Any]:
        """Return complex echoes [uPa] (any shape) after saturation and word length (both off by default).

        Full scale of the words is the saturation level, or without one the source level at 1 m (assumed).
        """
        held = receiver.saturate(echo, self.spec.saturation)
        if self.spec.word_length is None:
            return held
        full = self.source_level(self.centre) if self.spec.saturation is None else float(self.spec.saturation)
        return receiver.quantise(held, int(self.spec.word_length), full)

    def info_fields(self) -> dict[str, Any]:
        """Return those fields of echograms.ElementInfo that depend on the element alone, under its field names."""
        low, high = self.band
        widths = {where: self.beamwidth(f) for where, f in (("", self.centre), ("_low", low), ("_high", high))}
        angle = float(self.equivalent_beam_angle(np.array([self.centre]))[0])
        fields: dict[str, Any] = {
            "name": self.name,
            "band_low": float(low),
            "band_high": float(high),
            "pulse_length": self.pulse_length,
            "weighting": self.signal.weighting_name,
            "source_level": self.source_level(self.centre),
            "equivalent_beam_angle": float(10.0 * np.log10(angle)),
            "effective_pulse": self.effective_pulse,
            "range_resolution": self.range_resolution,
            "blank_range": self.blank_range,
        }
        for where, (along, across) in widths.items():
            fields[f"beamwidth_along{where}"] = along
            fields[f"beamwidth_across{where}"] = across
        return fields
