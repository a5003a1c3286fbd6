"""Target strength of fish: turns the model of a group into one law of tilt and frequency.

Peak models (Love) hold at broadside; their mean over the group's tilts is that of a geometric prolate spheroid, axes
1:5. Models that are means over tilt keep their mean. The change with tilt in between, and the fading, come from a few
highlights (world.highlights).
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pingwright.acoustics import fish as formulas
from pingwright.acoustics import shapes
from pingwright.acoustics.arrays import decibels, power_ratio
from pingwright.errors import Fault, ScenarioError
from pingwright.world import highlights
from pingwright.world.scatterers import FloatArray, StrengthLaw

if TYPE_CHECKING:
    from pingwright.inputs.scenario import Scenario

Formula = Callable[[FloatArray, FloatArray], FloatArray]  # length [m], frequency [Hz] -> strength [dB re 1 m2]

BLADDER_SHARE = 0.25  # of the length of the fish, long axis of the bladder: assumed, for love-1978 only
PEAK_MODELS = formulas.PEAK_MODELS
DRAWS = 20_000
SHAPE = "shape-"  # strength models with this prefix are measured shapes with their own pattern over tilt
SHAPE_SPEED = 1490.0  # m/s, of the water of their tables


@dataclass(frozen=True)
class Model:
    """A strength model for one group of fish.

    formula: as published; mean: it gives a mean over tilt, else the maximum; tilt: mean and sd [deg] of the group;
    opens: the bladder is open and shrinks with depth. axis_ratio of the spheroid whose mean over tilt is taken, 1 for
    love-1978: a bladder smaller than the wavelength echoes alike on all sides. sound_speed [m/s]; bladder: it has one.
    """

    name: str
    formula: Formula
    mean: bool
    tilt: tuple[float, float]
    opens: bool
    axis_ratio: float = formulas.AXIS_RATIO
    sound_speed: float = 1500.0
    bladder: bool = True

    @property
    def alike(self) -> bool:
        """Whether the echo of the fish is the same from all sides."""
        return self.axis_ratio == 1.0

    @property
    def shape(self) -> str | None:
        """Name of the measured shape (acoustics.shapes) whose own pattern over tilt the fish has, or None."""
        return self.name.removeprefix(SHAPE) if self.name.startswith(SHAPE) else None

    def shape_laws(self, length: float) -> tuple[StrengthLaw, StrengthLaw]:
        """Return the laws of a fish of a measured shape, of this length [m]: nose, and tail, towards the boat.

        Each over the cosine to the axis that points to the boat, silent from the other side. The pattern over tilt
        contains the fading of the fish: a changing tilt moves through its ripples.
        """
        return self._side(length, 1.0), self._side(length, -1.0)

    def _side(self, length: float, sign: float) -> StrengthLaw:
        def amplitude(cosine: FloatArray, frequency: FloatArray) -> FloatArray:
            tilt = sign * np.degrees(np.arcsin(np.clip(cosine, 0.0, 1.0)))
            scaled = frequency * length * SHAPE_SPEED / self.sound_speed
            ratio = shapes.cross_section(str(self.shape), tilt, scaled)
            # Seen exactly at right angles, only one side is received.
            heard = cosine >= 0.0 if sign > 0.0 else cosine > 0.0
            return np.asarray(length * np.sqrt(ratio) * heard[:, None])

        return StrengthLaw(f"fish, {self.name}, {'nose' if sign > 0.0 else 'tail'} up", amplitude)

    def lobe(self, length: float) -> highlights.Lobe:
        """Return the echo of a fish of this length [m] over tilt."""
        spread = highlights.SPREAD[self.bladder] * length
        return highlights.Lobe(spread, self.sound_speed, self.tilt, formulas.tilt_average(*self.tilt, self.axis_ratio))

    def law(self, length: float, points: bool = False) -> StrengthLaw:
        """Return the law of a fish of this length [m] at the surface, over cosine to its long axis.

        It is that of every highlight, whose amplitudes highlights.WEIGHTS sum to 1; points: the law of a fish that is
        one point, averaged over its fading.
        """
        share = 1.0 / formulas.tilt_average(*self.tilt, self.axis_ratio) if self.mean else 1.0
        lobe = self.lobe(length)

        def amplitude(cosine: FloatArray, frequency: FloatArray) -> FloatArray:
            peak = np.sqrt(power_ratio(self.formula(np.full_like(frequency, length), frequency)) * share)
            if self.alike:
                return np.repeat(peak[None, :], len(cosine), axis=0)
            return (lobe.whole if points else lobe.each)(cosine, frequency) * peak[None, :]

        return StrengthLaw(f"fish, {self.name}", amplitude, two_sided=True)

    def fading(self, length: float, frequency: float, count: int = 400) -> FloatArray:
        """Return echo levels over the mean over tilt [dB] (count), at even probabilities, rising.

        length [m], frequency [Hz]; of one ping seen from straight above, tilts of the group. From DRAWS postures.
        """
        rng = np.random.Generator(np.random.SFC64(0))
        sine = np.sin(np.radians(rng.normal(*self.tilt, DRAWS)))
        level = self.faded(length, frequency, sine, highlights.places(rng, DRAWS))
        return np.quantile(level, (np.arange(count) + 0.5) / count)

    def faded(self, length: float, frequency: float, cosine: FloatArray, place: FloatArray) -> FloatArray:
        """Return echo levels over the mean over tilt [dB] (n) of fish in known postures.

        length [m], frequency [Hz]; cosine (n): of the angle between fish and way of the sound, positive with the nose
        up; place (highlight, n): of their highlights, see `highlights.places`.
        """
        if self.alike:
            return np.zeros(len(cosine))
        if self.shape is not None:
            scaled = frequency * length * SHAPE_SPEED / self.sound_speed
            tilt = np.degrees(np.arcsin(np.clip(cosine, -1.0, 1.0)))
            return decibels(shapes.cross_section(self.shape, tilt, scaled)[:, 0]) - self._shape_level(scaled)
        lobe, cosine, table = self.lobe(length), np.abs(cosine), np.linspace(0.0, 1.0, 1001)
        # Single precision is seven times as fast; the echo's amplitude is off by 2e-6 of its greatest at most.
        turns = (4.0 * np.pi * lobe.spread * frequency / self.sound_speed * place * cosine).astype(np.float32)
        weights = np.array(highlights.WEIGHTS, dtype=np.float32)
        echo = np.hypot(weights @ np.cos(turns), weights @ np.sin(turns)).astype(np.float64)
        factor = np.interp(cosine, table, lobe.each(table, np.array([frequency]))[:, 0])
        return decibels((echo * factor) ** 2 / lobe.mean)

    def _shape_level(self, scaled: float) -> float:
        """Return the level of a measured shape, mean power over the group's tilts [dB re 1 m2 of a length of 1 m]."""
        z = np.linspace(-4.0, 4.0, 201)
        ratio = shapes.cross_section(str(self.shape), self.tilt[0] + self.tilt[1] * z, scaled)[:, 0]
        return float(decibels(np.average(ratio, weights=np.exp(-0.5 * z**2))))

    def factor(self, length: FloatArray, depth: FloatArray, reference: float, frequency: float) -> FloatArray:
        """Return amplitudes (n) [1] over the law of a fish of the reference length [m], at frequency [Hz]."""
        one = np.full_like(length, reference)
        gain = self.formula(length, np.full_like(length, frequency)) - self.formula(one, np.full_like(one, frequency))
        return np.sqrt(power_ratio(gain + self._depth_term(depth)))

    def strength(self, length: FloatArray, depth: FloatArray, frequency: float) -> FloatArray:
        """Return tilt-averaged target strengths [dB re 1 m2] (n): length, depth [m] (n), frequency [Hz]."""
        level = self.formula(length, np.full_like(length, frequency)) + self._depth_term(depth)
        return level if self.mean else level + float(decibels(formulas.tilt_average(*self.tilt, self.axis_ratio)))

    def _depth_term(self, depth: FloatArray) -> FloatArray:
        return formulas.depth_term_herring(np.maximum(depth, 0.0)) if self.opens else np.zeros_like(depth)


def model(name: str, swimbladder: str, tilt: tuple[float, float], depth: float, sound_speed: float) -> Model:
    """Return the strength model of a name of the contract, or a published regression.

    swimbladder: closed, open, none; tilt: mean, sd [deg]; depth [m] and sound_speed [m/s] enter love-1978 and
    wavelengths. ValueError for a name that is not known.
    """

    def at(formula: Callable[[FloatArray, FloatArray, float], FloatArray]) -> Formula:
        return lambda length, frequency: formula(length, frequency, sound_speed)

    known: dict[str, Formula] = {key: at(formula) for key, formula in formulas.MODELS.items()}
    if swimbladder == "open":
        known["foote-1987"] = known["foote-1987 open"]
    known["love-1978"] = lambda length, f: formulas.strength_love_1978(
        bladder_radius(length), f, depth, sound_speed=sound_speed
    )
    if name.startswith(SHAPE) and name in known:
        known[name] = _shape_mean(name.removeprefix(SHAPE), tilt, sound_speed)
    if name not in known:
        message = f"no strength model {name!r}"
        raise ValueError(message)
    # Love 1978 has the depth in its own formula.
    opens = swimbladder == "open" and name != "love-1978"
    ratio = 1.0 if name == "love-1978" else formulas.AXIS_RATIO
    return Model(name, known[name], name not in PEAK_MODELS, tilt, opens, ratio, sound_speed, swimbladder != "none")


def _shape_mean(shape: str, tilt: tuple[float, float], sound_speed: float) -> Formula:
    """Return the mean strength [dB re 1 m2] of a measured shape over a group's own tilts."""

    def mean(length: FloatArray, frequency: FloatArray) -> FloatArray:
        return shapes.mean_strength(shape, length, frequency, sound_speed, tilt)

    return mean


def bladder_radius(length: FloatArray) -> FloatArray:
    """Return the radius [m] of the sphere with the volume of the bladder, a prolate spheroid 1:5 (assumed).

    length of the fish [m]; the bladder's long axis is BLADDER_SHARE of it.
    """
    sphere = 0.5 * BLADDER_SHARE * formulas.AXIS_RATIO ** (-2.0 / 3.0)
    return np.asarray(sphere * length, dtype=np.float64)


def check_love_1978(scenario: "Scenario", name: str, length: float, sound_speed: float) -> None:
    """Refuse love-1978 (ScenarioError) where k r reaches 1 in any element's band, for the longest fish [m]."""
    radius = float(bladder_radius(np.asarray(length)))
    top = max(float(spec.band[1]) for spec in scenario.element)
    if formulas.love_1978_holds(radius, top, sound_speed):
        return
    kr = float(formulas.wavenumber_radius(radius, top, sound_speed))
    words = (
        f"love-1978 holds only where k r < 1 over the whole band: {name} of {length:.2f} m has a bladder of "
        f"{1e3 * radius:.1f} mm, k r = {kr:.1f} at {top / 1e3:.0f} kHz; take love-1971"
    )
    raise ScenarioError([Fault(str(getattr(scenario, "name", "scenario")), 0, "fish.strength_model", words)])
