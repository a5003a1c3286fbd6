"""Scattering layers in the water and on the bottom, the backscatter of open water, and schools as absorbers."""

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from pingwright import seeds
from pingwright.acoustics import fish as formulas
from pingwright.inputs.fields import known
from pingwright.world.contents import Body
from pingwright.world.scatterers import Absorber, FloatArray, ScatteringLayer, Terrain, Track
from pingwright.world.strength import Model
from pingwright.world.texture import REACHES, texture

if TYPE_CHECKING:
    from pingwright.inputs.bodies import ScatteringLayer as Spec
    from pingwright.inputs.bodies import School
    from pingwright.inputs.scenario import Scenario

#: Open sea water [dB re 1 m-1], salinity up to which water is fresh and has none [g/kg]; a step of temperature from so
#: many degrees a metre on, and its strength [dB re 1 m-1]: assumed.
BACKGROUND, FRESH = -90.0, 0.5
STEP_FROM, STEP_STRENGTH = 0.3, -80.0

#: Turn of each kind's frequency law [Hz]; assumed. Fluid: animals of about 2.5 cm turn from Rayleigh to geometric
#: scattering. Gas: bladders of a few mm resonate well below the bands here.
FLUID_TURN = 60e3
GAS_SLOPE = -0.5


def layers(scenario: "Scenario", seed: int, ground: Terrain, track: Track) -> tuple[ScatteringLayer, ...]:
    """Return all layers of a resolved scenario: its own, steps of its profile, and that of the open water."""
    deepest = float(ground.depth(track.x, track.y).max())
    named = [
        layer(spec, seeds.stream(seed, "texture", k), deepest, track)
        for k, spec in enumerate(scenario.scattering_layer)
    ]
    return (*named, *_steps(scenario), *_background(scenario))


def layer(spec: "Spec", rng: np.random.Generator, deepest: float, track: Track) -> ScatteringLayer:
    """Return a scattering layer of a `[[scattering_layer]]` table.

    spec: name, kind, depth or above_bottom span [m], volume_strength [dB re 1 m-1] at frequency [Hz], x, y spans [m] or
    None. deepest [m]: seabed on the run.
    """
    bed = spec.depth is None
    low, high = _span(spec, deepest)
    made = texture(
        rng, (low, high), track, x=spec.x, y=spec.y, bed=spec.above_bottom is not None and spec.above_bottom[0] == 0.0
    )
    beyond = [REACHES * ragged for ragged in made.ragged]
    return ScatteringLayer(str(spec.name), (low - beyond[0], high + beyond[1]), _coefficient(spec), made, bed)


def _span(spec: "Spec", deepest: float) -> tuple[float, float]:
    """Return the depths of a layer [m]; of one that stands on the bottom, over a seabed at `deepest` [m]."""
    if spec.depth is not None:
        return float(spec.depth[0]), float(spec.depth[1])
    low, high = known(spec.above_bottom, "scattering_layer.above_bottom")
    return deepest - float(high), deepest - float(low)


def _coefficient(spec: "Spec") -> Callable[[FloatArray], FloatArray]:
    """Return the volume backscattering coefficient [1/m] of a layer over frequency [Hz]."""
    at = 10.0 ** (float(spec.volume_strength) / 10.0)
    frequency, kind = float(spec.frequency), str(spec.kind)

    def coefficient(f: FloatArray) -> FloatArray:
        return np.asarray(at * relative(kind, np.asarray(f, dtype=np.float64)) / relative(kind, np.array(frequency)))

    return coefficient


def _background(scenario: "Scenario") -> list[ScatteringLayer]:
    """Return the weak scattering of open water, the same at all frequencies and depths."""
    strength = scenario.reverberation.background
    if strength == "by water":
        water = scenario.water
        salinity = float(np.mean(water.profile.salinity)) if water.profile is not None else float(water.salinity or 0.0)
        strength = BACKGROUND if salinity > FRESH else "none"
    if isinstance(strength, str):
        return []
    return [_even("background", (0.0, float("inf")), strength)]


def _steps(scenario: "Scenario") -> list[ScatteringLayer]:
    """Return a weak layer for each step of temperature in the profile, if requested."""
    profile = scenario.water.profile
    if not scenario.water.show_steps or profile is None:
        return []
    depth, temperature = np.array(profile.depth), np.array(profile.temperature)
    steep = np.abs(np.diff(temperature)) / np.diff(depth) >= STEP_FROM
    return [
        _even(f"step at {depth[k]:.1f} m", (float(depth[k]), float(depth[k + 1])), STEP_STRENGTH)
        for k in np.flatnonzero(steep)
    ]


def _even(name: str, depth: tuple[float, float], strength: float) -> ScatteringLayer:
    """Return a layer without texture whose strength [dB re 1 m-1] is the same at all frequencies."""
    return ScatteringLayer(name, depth, lambda f: np.full(np.shape(f), 10.0 ** (strength / 10.0)))


def relative(kind: str, frequency: FloatArray) -> FloatArray:
    """Return the volume backscattering coefficient of a kind over frequency [Hz], except for a constant factor.

    fluid: f^4 / (1 + (f / 60 kHz)^4), Rayleigh scattering that levels off, as the high-pass model of Johnson 1977
    (JASA 61, 375-377) for animals of krill size; the turn is assumed. gas: f^-0.5, bladders above their resonance;
    assumed. flat: constant.
    """
    if kind == "fluid":
        turn = (frequency / FLUID_TURN) ** 4
        return turn / (1.0 + turn)
    return np.power(frequency, GAS_SLOPE) if kind == "gas" else np.ones_like(frequency)


def body(spec: "Spec", deepest: float) -> Body:
    """Return a scattering layer's place for the cutaway; deepest [m]: the seabed on the run."""
    endless = (-float("inf"), float("inf"))
    law = _coefficient(spec)
    return Body(
        "scattering_layer",
        str(spec.name),
        (*(spec.x or endless), *(spec.y or endless), *_span(spec, deepest)),
        lambda f: 10.0 * float(np.log10(law(np.array([f]))[0])),
    )


def absorber(school: "School", count: float, length: float, model: Model) -> Absorber:
    """Return a school of count fish of a mean length [m] as an absorber, by acoustics.fish.school_extinction."""
    semi = np.array([school.size.along, school.size.across, school.size.height], dtype=np.float64) / 2.0
    density = count / (4.0 / 3.0 * np.pi * float(np.prod(semi)))
    one, depth = np.array([length]), np.array([float(known(school.at.depth, "school.at.depth"))])

    def extinction(frequency: FloatArray) -> FloatArray:
        strength = np.array([model.strength(one, depth, float(f))[0] for f in frequency])
        return formulas.school_extinction(strength, density)

    centre = np.array([school.at.x, school.at.y, school.at.depth], dtype=np.float64)
    return Absorber(str(school.name), centre, semi, extinction)
