"""Every number of the summary: its name, unit, value for an element, and its definition."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import ElementInfo
from pingwright.measure.assessment import ElementAssessment
from pingwright.measure.definitions import DEFINITIONS

Value = Callable[[ElementInfo, ElementAssessment], float]


@dataclass(frozen=True)
class Number:
    """One number of the summary. unit: as shown; key: that of its definition, if it is not the name."""

    name: str
    label: str
    unit: str
    value: Value
    key: str = ""

    @property
    def definition(self) -> str:
        """Return its definition."""
        key = self.key or self.name
        return DEFINITIONS[key]


def _count(mark: str) -> Value:
    return lambda _, found: float(found.counts.get(mark, 0))


def _of_info(name: str, factor: float = 1.0) -> Value:
    return lambda info, _: float(getattr(info, name)) * factor


def _of_extra(name: str) -> Value:
    return lambda info, _: info.number(name, math.nan)


def _of_closed(name: str) -> Value:
    return lambda _, found: float(getattr(found.closed, name))


def _of_measured(name: str) -> Value:
    return lambda _, found: float(found.extra.get(name, math.nan))


def _median(assessment: ElementAssessment, values: NDArray[Any]) -> float:
    """Return the median of a number over the fish that have a mark, nan if none has one."""
    shown = [value for mark, value in zip(assessment.mark, values.tolist(), strict=False) if mark != "not_shown"]
    return float(np.median(shown)) if shown else math.nan


def _over_noise(info: ElementInfo, assessment: ElementAssessment) -> float:
    """Return the bottom level minus the noise level [dB], median over the pings, nan if there is no bottom."""
    picked = assessment.bottom_level[np.isfinite(assessment.bottom_level)]
    return float(np.median(picked)) - info.noise_level if len(picked) else math.nan


def _arch(name: str) -> Value:
    return lambda _, found: _median(found, getattr(found, name))


def _in_passes(name: str) -> Value:
    return lambda _, found: math.nan if found.passes is None else float(getattr(found.passes, name)().value)


def numbers(passes: bool) -> tuple[Number, ...]:
    """Return the numbers of a summary; passes: whether there were fresh passes, which add two numbers."""
    return tuple(number for number in NUMBERS if passes or not number.name.startswith("pass_"))


NUMBERS = (
    Number("fish", "Fish in the water", "", lambda _, found: float(len(found.mark))),
    Number("fish_separated", "of these separated", "", _count("separated")),
    Number("fish_merged", "shown, but merged with it", "", _count("merged")),
    Number("fish_not_shown", "not shown", "", _count("not_shown")),
    Number("fish_outside", "of these outside the beam", "", lambda _, found: float(found.reason.count("outside"))),
    Number("share_separated", "Share separated", "", lambda _, found: found.separated.value),
    Number("share_detected", "Share detected", "", lambda _, found: found.detected.value),
    Number("false_alarms", "False alarms", "", lambda _, found: found.false_alarms.value),
    Number("pass_separated", "Separated in a fresh pass", "", _in_passes("separates")),
    Number("pass_detected", "Detected in a fresh pass", "", _in_passes("detects")),
    Number("mark_pings", "Pings that show a fish, median", "", lambda _, found: _median(found, found.pings_detected)),
    Number("arch_length", "Length of the arch along the track, median", "m", _arch("arch_length")),
    Number("arch_depth", "Depth of the arch's arms, median", "m", _arch("arch_depth")),
    Number("range_resolution", "Range resolution", "m", lambda _, found: found.range_resolution),
    Number("side_lobe_level", "Range side lobes, integrated", "dB", _of_extra("side_lobe_level")),
    Number("reach", "Detection range", "m", _of_closed("reach")),
    Number("reach_louder", "with own noise 10 dB higher", "m", _of_measured("reach_louder")),
    Number("reach_quieter", "with own noise 10 dB lower", "m", _of_measured("reach_quieter")),
    Number("bottom_reach", "Bottom shown down to", "m", _of_measured("bottom_reach")),
    Number("bottom_reach_louder", "with own noise 10 dB higher", "m", _of_measured("bottom_reach_louder")),
    Number("bottom_reach_quieter", "with own noise 10 dB lower", "m", _of_measured("bottom_reach_quieter")),
    Number("bottom_over_noise", "Bottom above the noise, measured", "dB", _over_noise),
    Number("smallest_fish", "Smallest fish", "m", _of_closed("smallest_fish")),
    Number("swath", "Swath of one ping", "m", _of_closed("swath")),
    Number("geometric_width", "Width by geometry", "m", _of_closed("geometric_width")),
    Number("footprint_along", "Footprint along", "m", _of_closed("footprint_along")),
    Number("footprint_across", "Footprint across", "m", _of_closed("footprint_across")),
    Number("edge_height", "Hidden at the beam's edge", "m", _of_closed("edge_height")),
    Number("depth", "at a depth below the transducer of", "m", _of_closed("depth")),
    Number("fish_length", "for a fish of", "m", _of_closed("fish_length")),
    Number("fish_height", "at a height of", "m", _of_closed("fish_height")),
    Number("pings", "Pings", "", lambda _, found: float(len(found.bottom_range))),
    Number("bottom_lost", "of these without a bottom pick", "", lambda _, found: float(found.bottom_lost)),
    Number("bottom_error_median", "Error of the bottom pick", "m", lambda _, found: found.bottom_error_median),
    Number("bottom_error_spread", "its spread", "m", lambda _, found: found.bottom_error_spread),
    Number("band_low", "Band from", "Hz", _of_info("band_low")),
    Number("band_high", "to", "Hz", _of_info("band_high")),
    Number("pulse_length", "Pulse", "s", _of_info("pulse_length")),
    Number("beamwidth_along", "Beam along", "deg", _of_info("beamwidth_along")),
    Number("beamwidth_across", "Beam across", "deg", _of_info("beamwidth_across")),
    Number("equivalent_beam_angle", "Equivalent beam angle", "dB re 1 sr", _of_info("equivalent_beam_angle")),
    Number("source_level", "Source level", "dB re 1 uPa m", _of_info("source_level")),
    Number("bubble_loss", "Loss to bubbles, both ways", "dB", _of_extra("bubble_loss")),
    Number("noise_level", "Noise level", "dB re 1 uPa", _of_info("noise_level")),
    Number("absorption", "Absorption", "dB/m", _of_info("absorption")),
    Number("effective_pulse", "Effective pulse", "s", _of_info("effective_pulse")),
    Number("blank_range", "Blanking range", "m", _of_info("blank_range")),
    Number("near_field", "Near field", "m", _of_extra("near_field")),
    Number("finite_amplitude_loss", "Loss to harmonics (nonlinear loss)", "dB", _of_extra("finite_amplitude_loss")),
    Number("face_intensity", "Intensity at the face", "W/cm2", _of_extra("face_intensity")),
    Number("cavitation_rule", "Cavitation, rule up to 10 kHz", "W/cm2", _of_extra("cavitation_rule")),
)


def finite(value: float) -> float | int | None:
    """Return a number as JSON may hold it, in its own unit: whole numbers as int, None if it is not finite."""
    if not math.isfinite(value):
        return None
    return int(value) if value == int(value) and abs(value) < 1e15 else value
