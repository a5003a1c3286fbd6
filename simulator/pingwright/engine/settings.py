"""Sampling, windows and intervals of one run, computed from a resolved scenario."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pingwright.acoustics import noise
from pingwright.element.model import Element
from pingwright.engine import nodes
from pingwright.engine.nodes import ACCURACIES, Accuracy
from pingwright.world.scatterers import World

if TYPE_CHECKING:
    from pingwright.inputs.scenario import Scenario

#: Floats of a page of 4 kB, and how far into a page the second row of a grid begins when the first begins with one.
_PAGE, _APART = 1024, 320


@dataclass(frozen=True)
class Settings:
    """The settings that the engine needs beside world and elements.

    window [m]: first and last depth recorded. assumed_sound_speed [m/s]. transducer_depth [m], at rest. interval [s]:
    between pings of the boat. in_turn: elements ping one after another, not together. ambient: wind and thermal noise.
    own_noise: around the hull [dB re 1 uPa2/Hz at 50 kHz], or None. wind [m/s]. span [s]: how long echoes of an earlier
    ping are followed into later ones, 0 if they end within the interval. accuracy: see `nodes.ACCURACIES`. crosstalk:
    elements that ping together receive each other if their bands overlap; off: each pings as if alone.
    """

    seed: int
    window: tuple[float, float]
    assumed_sound_speed: float
    transducer_depth: float
    interval: float
    in_turn: bool
    ambient: bool
    own_noise: float | None
    wind: float
    span: float
    accuracy: Accuracy
    crosstalk: bool = False


@dataclass(frozen=True)
class Sampling:
    """Grids of one element.

    stored [Hz]: rate of the record, at least twice the bandwidth; spread [Hz]: rate of the spreading grid.
    stored_length, spread_length: FFT lengths, both over the same time. origin [s]: time of the grid's first sample.
    first: stored samples dropped before the record begins; count: samples kept. step [Hz]: between bins.
    bins: in-band bins from the band's centre (signed).
    """

    stored: float
    spread: float
    stored_length: int
    spread_length: int
    origin: float
    first: int
    count: int
    step: float
    bins: np.ndarray

    @property
    def row(self) -> int:
        """Length of a row of the spreading grid: its samples, the 16 of a last echo, and what keeps rows apart.

        A scatterer adds to the same place of two rows. If these are a multiple of 2 kB apart, within a few samples,
        processors confuse the stores of one row with the loads of the other; one kind stalled for 5 ms at a time, a
        fifth of a run.
        """
        return -(-(self.spread_length + nodes.TAPS - _APART) // _PAGE) * _PAGE + _APART

    @property
    def end(self) -> float:
        """Time after which no echo can touch the record [s]."""
        return self.origin + self.stored_length / self.stored


def from_scenario(resolved: "Scenario", world: World, accuracy: str = "normal") -> Settings:
    """Read the settings of a resolved scenario (no default left open, else ValueError)."""
    boat, water = resolved.boat, resolved.water
    if resolved.window.depth is None or boat.ping_interval is None or water.assumed_sound_speed is None:
        message = "the scenario is not resolved"
        raise ValueError(message)
    return Settings(
        seed=resolved.seed,
        window=(resolved.window.depth[0], resolved.window.depth[1]),
        assumed_sound_speed=water.assumed_sound_speed,
        transducer_depth=boat.transducer_depth,
        interval=boat.ping_interval,
        in_turn=boat.in_turn,
        ambient=resolved.noise.ambient,
        own_noise=noise.own_level(resolved.noise.own, resolved.boat.speed),
        wind=water.wind,
        span=_span(resolved, world),
        accuracy=ACCURACIES[accuracy],
        crosstalk=boat.crosstalk,
    )


def _span(resolved: "Scenario", world: World) -> float:
    """Return how long echoes last [s] if that is longer than the interval, else 0.

    They last as long as the automatic interval assumes: to the deeper of the window's end and, with second echoes, 2.2
    times the seabed, plus the longest pulse.
    """
    boat, speed = resolved.boat, resolved.water.assumed_sound_speed or 1500.0
    deepest = max(resolved.window.depth or (0.0, 0.0))
    if resolved.reverberation.second_echo and world.seabed is not None:
        deepest = max(deepest, 2.2 * float(np.max(world.terrain.depth(world.track.x, world.track.y))))
    pulse = max(spec.pulse.length or 0.0 for spec in resolved.element)
    lasting = 2 * deepest / speed + pulse
    interval = (boat.ping_interval or 0.0) * (len(resolved.element) if boat.in_turn else 1)
    return lasting if interval < 0.999 * lasting - pulse else 0.0


def fast_length(least: int) -> int:
    """Return the smallest length from `least` on that has no prime factor above 11: such transforms are fast."""
    for length in range(least, 2 * least + 1):
        rest = length
        for prime in (2, 3, 5, 7, 11):
            while rest % prime == 0:
                rest //= prime
        if rest == 1:
            return length
    raise ValueError(least)


def sampling(element: Element, settings: Settings) -> Sampling:
    """Compute an element's grids: the record begins at the window's top, but never before the ping."""
    low, high = element.band
    rate = 2.0 * (high - low)
    top, bottom = (max(depth - settings.transducer_depth, 0.0) for depth in settings.window)
    start, stop = 2 * top / settings.assumed_sound_speed, 2 * bottom / settings.assumed_sound_speed
    # The filter's ripples of echoes up to a pulse length outside the record reach into it.
    margin = element.pulse_length + 2 * nodes.TAPS / (high - low)
    origin = max(start - margin, 0.0)
    length = fast_length(int(np.ceil((stop - origin + margin) * rate)) + 2 * nodes.TAPS)
    spread_length = fast_length(int(np.ceil(length * nodes.OVERSAMPLING / 2)))
    step = rate / length
    half = int(np.floor((high - low) / 2 / step))
    first = int(np.ceil((start - origin) * rate - 1e-9))
    count = int(np.floor((stop - origin) * rate)) - first + 1
    return Sampling(
        rate, spread_length * step, length, spread_length, origin, first, count, step, np.arange(-half, half + 1)
    )


def reach(settings: Settings, samplings: list[Sampling], world: World) -> float:
    """Return the longest one-way path [m] within any grid, with the echoes of earlier pings."""
    depth = np.linspace(0, max(settings.window[1], 1.0), 65)
    fastest = float(np.max(world.water.sound_speed(depth)))
    end = max(grid.end for grid in samplings)
    return fastest * max(end, settings.span) / 2
