"""A recorded chirp against a plain ping of the same element: mean echo of one fish over the bottom, from formulas."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from pingwright.acoustics import bottomecho, budget, pulse
from pingwright.acoustics.signal import Filtered, Signal, tone_band
from pingwright.echograms.record import ElementInfo, ElementRecord, Record
from pingwright.inputs import catalogue, pulses
from pingwright.measure import groups
from pingwright.measure.assessment import FloatArray
from pingwright.measure.closed import default_strength, detection_range, median_fish
from pingwright.measure.held import OWN_NOISE, two_way

#: Share of a pulse in its flanks where a recording does not say [1]: the scenario's default.
TAPER = 0.5
#: The profile goes this far below the bottom [m], and is computed with this fineness [parts of the resolution].
BELOW, FINE = 0.25, 6.0


@dataclass(frozen=True)
class Ping:
    """One kind of pulse.

    level (n): mean echo strength [dB re 1 m2] over the duel's heights; noise: that of the noise at the bottom's range
    [dB re 1 m2]; length [s]; resolution [m], full -3 dB width of a point; reach [m] of the fish, louder and quieter:
    with own noise 10 dB higher and lower, nan if not known.
    """

    level: FloatArray
    noise: float
    length: float
    resolution: float
    reach: float
    louder: float
    quieter: float


@dataclass(frozen=True)
class Duel:
    """Both pings of an element.

    height (n) [m] over the bottom; frequency [Hz] of the plain ping, the band's centre; gain [dB]: signal to noise of
    the chirp over that of the plain ping.
    """

    name: str
    frequency: float
    height: FloatArray
    chirp: Ping
    plain: Ping
    gain: float


def is_chirp(info: ElementInfo) -> bool:
    """Return whether an element sends a sweep of at least two cells."""
    return (info.band_high - info.band_low) * info.pulse_length >= 2.0


def of_record(record: Record, sediment: str, law: str) -> tuple[list[Duel], float, float]:
    """Return the duels of a recording's chirps, and height over the bottom and length [m] of the fish they are about.

    The fish is that of the group lowest over the ground; without fish that of the closed forms. sediment: of the
    catalogue; law: of the bottom's echo.
    """
    truth, lowest = record.truth, groups.of_record(record)
    duels = []
    chirps = [element for element in record.elements if is_chirp(element.info)]
    length, height, _ = median_fish(record.elements[0].info, truth)
    if lowest:
        length, height = lowest[0].length, lowest[0].height
    for element in chirps:
        info = element.info
        strength = default_strength(length, 0.5 * (info.band_low + info.band_high))
        if lowest:
            strength = float(10 * np.log10(np.mean(10 ** (truth.fish.strength[info.position][lowest[0].fish] / 10))))
        depth = float(np.median(element.bottom_depth)) - info.transducer_depth
        duels.append(duel(element, depth, height, strength, sediment, max(2.2 * height, 0.6), law))
    return duels, height, length


def duel(
    element: ElementRecord, depth: float, height: float, strength: float, sediment: str, top: float, law: str
) -> Duel:
    """Return the duel over flat ground of a catalogue sediment at a depth below the transducer [m], the beam upright.

    height over the bottom [m] and mean strength [dB re 1 m2] of a fish on the axis; top [m]: greatest height shown;
    law: of the bottom. The plain ping has the band's centre as its tone, the length a tone takes by itself, the chirp's
    share of flanks, its power and a filter matched to it. Means over many pings: single ones scatter about them. Beam,
    strength and bottom are those of the band's centre; no second echoes, no roughness of the ground.
    Source: `acoustics.bottomecho.stretch_levels`' ring, each echo spread by its pulse behind its filter.
    """
    info = element.info
    centre, speed = 0.5 * (info.band_low + info.band_high), info.assumed_sound_speed
    taper = info.number("pulse_taper", TAPER)
    kind = str(info.extra.get("filter", "matched"))
    kind = kind if kind in pulse.FILTERS else "matched"
    band = (info.band_low, info.band_high)
    chirp = Signal(*band, info.pulse_length, taper, "up", band, info.weighting, kind)
    length = pulses.length_at(2.0 * depth / speed, tone=True)
    plain = Signal(centre, centre, length, taper, "up", tone_band(centre, length), info.weighting)
    heights = np.linspace(top, -BELOW, 1200)
    ground = bottomecho.sediment_law(sediment, catalogue.sediments()[sediment], centre, speed, law)
    both = [one.filtered for one in (chirp, plain)]
    gain = _energy(both[0]) - _energy(both[1])
    made = []
    for filtered, noise in zip(both, (info.noise_level, info.noise_level + gain), strict=True):
        level = _profile(element, filtered, depth, height, strength, ground, heights)
        floor = noise - info.heard_level + 2 * float(budget.transmission_loss(depth, info.absorption))
        level = 10 * np.log10(10 ** (level / 10) + (10 ** (floor / 10) if np.isfinite(floor) else 0.0))
        sent = chirp.length if filtered is both[0] else length
        own = (
            info
            if filtered is both[0]
            else replace(info, pulse_length=sent, extra={**info.extra, "pulse_kind": "tone"})
        )
        levels = noise, *(noise - info.noise_level + info.number(f"noise_level{end}", np.nan) for end in OWN_NOISE[1:])
        ranges = (detection_range(own, each, strength) if np.isfinite(each) else np.nan for each in levels)
        made.append(Ping(level, floor, sent, filtered.width * speed / 2, *ranges))
    return Duel(info.name, centre, heights, made[0], made[1], gain)


def _energy(filtered: Filtered) -> float:
    """Return the signal to noise ratio a point's echo of unit pressure has behind the filter [dB re 1 s]."""
    return float(10 * np.log10(np.sum(filtered.power) * filtered.step) - filtered.loss)


def _profile(
    element: ElementRecord,
    filtered: Filtered,
    depth: float,
    height: float,
    strength: float,
    ground: Callable[[FloatArray], FloatArray],
    heights: FloatArray,
) -> FloatArray:
    """Return the mean echo strength [dB re 1 m2] over heights [m] of the fish and the bottom, without noise."""
    info, speed = element.info, element.info.assumed_sound_speed
    step = min(filtered.width * speed / 2 / FINE, 0.02)
    reach = min(12 * filtered.width * speed / 2, 3.0)
    r = np.arange(depth - heights[0] - reach, depth - heights[-1] + reach, step)
    cosine = np.clip(depth / np.maximum(r, depth), 1e-6, 1.0)
    beam = two_way(element.beam, 0.5 * (info.band_low + info.band_high))
    ring = 2 * np.pi * r * ground(cosine) * beam(np.degrees(np.arccos(cosine))) * (r >= depth)
    power = ring * step
    at = int(np.argmin(np.abs(r - (depth - height))))
    power[at] += 10 ** (strength / 10)
    delay = np.arange(-reach, reach + step / 2, step) * 2 / speed
    kernel = pulse.envelope(filtered.transfer, filtered.frequency - filtered.frequency.mean(), delay) ** 2
    spread = np.convolve(power, kernel, "same")
    return np.asarray(10 * np.log10(np.interp(depth - heights, r, spread) + 1e-20))
