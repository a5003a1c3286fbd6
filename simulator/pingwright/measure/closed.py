"""Closed-form numbers under the conditions of a recording, from the sonar equation, beside the measured ones."""

import numpy as np

from pingwright.acoustics import budget, deadzone, fish
from pingwright.echograms.record import BY_DEPTH, HARMONICS_AT, BeamPattern, ElementInfo, ElementRecord, Truth
from pingwright.inputs import pulses
from pingwright.measure.assessment import ClosedForm, FloatArray
from pingwright.measure.detect import FALSE_ALARM, FLOOR

#: The fish for a recording without fish: length [m] and height [m] as in the demo.
DEFAULT_LENGTH, DEFAULT_HEIGHT = 0.40, 0.30
#: Tilt average of the maximum dorsal strength for N(-5, 15 deg).
TILT = (-5.0, 15.0)
#: How often the detection range is computed again with the pulse for its own depth: the sixth time changed it by under
#: 0.01 m (three pencils, 10 and 25 kn of wind).
LOOKED_UP_AGAIN = 6


def of_record(element: ElementRecord, truth: Truth, floor: float = FLOOR) -> ClosedForm:
    """Return the closed-form numbers of one element for the median fish and bottom of a recording."""
    depth = float(np.median(element.bottom_depth)) - element.info.transducer_depth
    length, height, strength = median_fish(element.info, truth)
    return closed_form(element.info, depth, length, height, strength, floor, element.beam)


def median_fish(info: ElementInfo, truth: Truth) -> tuple[float, float, float | None]:
    """Return length [m], height above the bottom [m] and target strength [dB re 1 m2] of the fish for these numbers.

    The median length with its target strength, and the median height; without fish those of the demo, and None.
    """
    if not len(truth.fish.length):
        return DEFAULT_LENGTH, DEFAULT_HEIGHT, None
    middle = int(np.argsort(truth.fish.length)[len(truth.fish.length) // 2])
    strength = float(truth.fish.strength[info.position, middle])
    return float(truth.fish.length[middle]), float(np.median(truth.fish.height)), strength


def noise_bands(info: ElementInfo, truth: Truth) -> dict[str, float]:
    """Return the detection range [m] of the median fish with own noise 10 dB higher and lower, if known."""
    length, _, strength = median_fish(info, truth)
    if strength is None:
        strength = default_strength(length, 0.5 * (info.band_low + info.band_high))
    levels = {name: info.number(f"noise_level_{name}", float("nan")) for name in ("louder", "quieter")}
    return {
        f"reach_{name}": detection_range(info, level, strength) for name, level in levels.items() if np.isfinite(level)
    }


def detection_range(info: ElementInfo, noise_level: float, strength: float) -> float:
    """Return the range [m] at which one ping detects a fish with probability 0.5, no seabed.

    noise_level [dB re 1 uPa]: after the filter of the recording's own pulse; strength [dB re 1 m2]. A chirp without a
    given length has the length for that range (inputs.pulses), and noise falls with it: correct to 0.1 dB from 1 ms on.
    The loss to harmonics up to that range is subtracted from the source level. It and the loss to bubbles are those of
    the band's centre: within 0.04 and 0.22 dB of the engine's echo of a point, see `measures.theory`.
    """
    result = float(budget.reach(info.heard_level, noise_level, strength, info.absorption, 0.5, FALSE_ALARM))
    for _ in range(LOOKED_UP_AGAIN):
        if not np.isfinite(result) or result <= 0.0:
            return result
        noise = noise_level - 10 * np.log10(pulse_at(info, result) / info.pulse_length)
        source = info.heard_level + info.number("finite_amplitude_loss", 0.0) - harmonics_by(info, result)
        result = float(budget.reach(source, noise, strength, info.absorption, 0.5, FALSE_ALARM))
    return result


def pulse_at(info: ElementInfo, distance: float) -> float:
    """Return the pulse length [s] for a bottom at a distance [m]: the recording's own unless it follows the depth."""
    if info.extra.get("pulse_choice") != BY_DEPTH:
        return info.pulse_length
    two_way = 2 * distance / info.assumed_sound_speed
    return pulses.length_at(two_way, tone=info.extra.get("pulse_kind") == "tone")


def harmonics_by(info: ElementInfo, distance: float) -> float:
    """Return the one-way loss to harmonics [dB] up to a distance [m], interpolated between two recorded distances."""
    usual = info.number("finite_amplitude_loss", 0.0)
    near, far = (info.number(f"finite_amplitude_loss_{d}", usual) for d in HARMONICS_AT)
    return float(np.interp(np.log10(distance), np.log10(HARMONICS_AT), (near, far)))


def searched_by_depth(
    element: ElementRecord, truth: Truth, depth: FloatArray, height: float, floor: float = FLOOR
) -> FloatArray:
    """Return the swath [m] (depth) for the median fish of a recording, at a height [m] above the bottom.

    depth [m]: of the bottom below the transducer. nan where noise is not known or the fish would be above the element.
    """
    info = element.info
    length, _, strength = median_fish(info, truth)
    if not np.isfinite(info.noise_level):
        return np.full(len(depth), np.nan)
    if strength is None:
        frequency = 0.5 * (info.band_low + info.band_high)
        strength = default_strength(length, frequency)
    widths = [swath(info, float(d), height, strength, floor, element.beam) if d > height else np.nan for d in depth]
    return np.array(widths)


def default_strength(length: float, frequency: float) -> float:
    """Return the tilt-averaged strength [dB re 1 m2] of a closed bladder, Love 1971, tilt N(-5, 15 deg)."""
    return float(fish.strength_love_1971(length, frequency)) + 10 * float(np.log10(fish.tilt_average(*TILT)))


def closed_form(
    info: ElementInfo,
    depth: float,
    length: float,
    height: float,
    strength: float | None = None,
    floor: float = FLOOR,
    beam: BeamPattern | None = None,
) -> ClosedForm:
    """Return the closed-form numbers of one element for one fish.

    depth [m]: of the bottom below the transducer; length, height above the bottom [m] of the fish; strength
    [dB re 1 m2]: tilt-averaged, default a closed bladder's by Love 1971 with tilt N(-5, 15 deg); floor [dB re 1 m2];
    beam: the recorded pattern (none: a Gaussian of the stated width). Band centre, far field, one ping, false alarm
    1e-4, Rayleigh echo.
    """
    frequency = 0.5 * (info.band_low + info.band_high)
    tilt = fish.tilt_average(*TILT)
    if strength is None:
        strength = default_strength(length, frequency)
    wavelength = info.assumed_sound_speed / frequency
    known = np.isfinite(info.noise_level)
    reach = smallest = searched = float("nan")
    if known:
        reach = detection_range(info, info.noise_level, strength)
        smallest = float(
            budget.smallest_fish(
                info.heard_level,
                info.noise_level,
                depth,
                info.absorption,
                frequency,
                tilt,
                floor + info.number("bubble_loss", 0.0),
                0.5,
                FALSE_ALARM,
            )
        )
        searched = swath(info, depth, height, strength, floor, beam)
    short = f"< lambda ({wavelength * 1000:.0f} mm): outside the model"
    text = "not known without noise" if np.isnan(smallest) else f"{smallest:.3f} m"
    half = 0.5 * info.beamwidth_across
    return ClosedForm(
        depth=depth,
        reach=reach,
        smallest_fish=smallest,
        smallest_fish_text=short if smallest < wavelength else text,
        footprint_along=float(deadzone.footprint(depth, info.beamwidth_along)),
        footprint_across=float(deadzone.footprint(depth, info.beamwidth_across)),
        swath=searched,
        geometric_width=float(deadzone.swath(depth, min(max(height, 0.0), depth))),
        edge_height=float(deadzone.height_at_angle(depth, half)),
        fish_length=length,
        fish_height=height,
        wavelength=wavelength,
    )


def two_way_loss(info: ElementInfo, beam: BeamPattern | None, along: FloatArray, across: FloatArray) -> FloatArray:
    """Return the two-way loss [dB, positive] of the beam at angles along and across [deg] (any one shape).

    The recorded one-way pattern at band centre, along and across added in decibels; none, or an empty one: a Gaussian
    of the element's one-way -3 dB widths. Side lobes count as they are recorded.
    """
    if beam is None or len(beam.angle) < 3:
        half = 0.5 * info.beamwidth_along, 0.5 * info.beamwidth_across
        return np.asarray(2 * 3.0103 * ((along / half[0]) ** 2 + (across / half[1]) ** 2))
    middle = int(np.argmin(np.abs(beam.frequency - 0.5 * (info.band_low + info.band_high))))
    one_way = np.interp(along, beam.angle, beam.along[middle]) + np.interp(across, beam.angle, beam.across[middle])
    return np.asarray(-2 * one_way)


def swath(
    info: ElementInfo,
    depth: float,
    height: float,
    strength: float,
    floor: float = FLOOR,
    beam: BeamPattern | None = None,
) -> float:
    """Return the width [m] across the track in which the sonar equation detects a fish with probability 0.5.

    Cut by geometry where the bottom is nearer than the fish. depth: of the bottom, height: of the fish above it [m].
    Band centre, element upright.
    """
    down = depth - height
    if down <= 0:
        return 0.0
    offset = np.linspace(0, depth, 4001)  # a fish whose range equals that of the bottom is behind it
    slant, angle = np.hypot(down, offset), np.degrees(np.arctan2(offset, down))
    echo = strength - two_way_loss(info, beam, np.zeros_like(angle), angle)
    needed = budget.needed_strength(info.heard_level, info.noise_level, slant, info.absorption, 0.5, FALSE_ALARM)
    # A Rayleigh echo exceeds the floor with probability 0.5 if its mean is 1.6 dB above the floor.
    least = floor + info.number("bubble_loss", 0.0) + 10 * np.log10(1 / np.log(2))
    seen = (echo >= np.maximum(needed, least)) & (slant < depth)
    return 2 * float(offset[np.argmin(seen)])
