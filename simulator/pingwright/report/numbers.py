"""Every number of the summary: its name, unit, value for an element, and what it is, in one sentence."""

import math
from collections.abc import Callable
from dataclasses import dataclass

from pingwright.echograms.record import ElementInfo
from pingwright.measure.assessment import ElementAssessment
from pingwright.measure.definitions import DEFINITIONS

Value = Callable[[ElementInfo, ElementAssessment], float]

#: What the attributes of an element are; those that are measured carry the sentences of measure.definitions.
SENTENCES = {
    "band_low": "Lowest frequency the element sends and its receiver keeps.",
    "band_high": "Highest frequency the element sends and its receiver keeps.",
    "pulse_length": "Time for which one ping is sent.",
    "source_level": (
        "Level of the sent sound on the beam's axis at the band's centre, as if measured one metre from a point; in the"
        " simulation it rises over the band with the directivity."
    ),
    "absorption": (
        "Loss by absorption a metre of one-way path, at the band's centre, mean over the water from the transducer to"
        " the window's end (Francois & Garrison 1982)."
    ),
    "beamwidth_along": "Full width of the beam along the track between its one-way -3 dB directions, band's centre.",
    "beamwidth_across": "Full width of the beam across the track between its one-way -3 dB directions, band's centre.",
    "equivalent_beam_angle": (
        "Solid angle of an ideal beam that would receive as much from evenly spread scatterers, two-way, band's centre."
    ),
    "effective_pulse": "Energy of a point's filtered echo over its peak power.",
    "noise_level": "Mean level of noise at the filter's output: wind, heat and the boat's own, as the scenario asks.",
    "blank_range": "Range within which the element is still sending or ringing (0.3 ms assumed): nothing is seen.",
    "near_field": "Distance nearer than which the beam is not formed yet; it is drawn as that of the far field.",
    "finite_amplitude_loss": (
        "Caution: what the pulse loses to overtones on its way to the bottom, one way, band's centre, good to a factor"
        " of two (weak-shock theory); in no level here."
    ),
    "face_intensity": "Acoustic power over the area of the face during the pulse, in W/cm2.",
    "cavitation_rule": (
        "Intensity above which water cavitates at the face's depth, 0.3 (1 + depth / 10 m)^2 W/cm2, for frequencies up"
        " to 10 kHz and long pulses (Urick 1983, ch. 4, from memory); higher bands and short pulses bear more."
    ),
    "depth": "Median true depth of the seabed below the transducer; the widths and the smallest fish hold there.",
    "fish_length": "Length of the fish that reach and widths are told for: the median fish of the scenario.",
    "fish_height": "Height above the seabed of the fish that the geometric width is told for.",
    "footprint_along": "Width on the bottom, along the track, between the beam's one-way -3 dB directions.",
    "footprint_across": "Width on the bottom, across the track, between the beam's one-way -3 dB directions.",
    "fish": "Number of fish in the water.",
    "fish_separated": "Number of fish separated from the bottom in the ping nearest to them.",
    "fish_merged": "Number of fish shown, but merged with the bottom, in the ping nearest to them.",
    "fish_not_shown": "Number of fish not shown: not detected in the ping nearest to them.",
    "bottom_error_median": "Median over the pings of picked less true depth of the seabed under the boat; positive is"
    " too deep. Over a structure its top may be picked.",
    "bottom_error_spread": "Half the span that holds the middle 68 per cent of the errors of the bottom pick.",
}


@dataclass(frozen=True)
class Number:
    """One number of the summary. unit as shown; definition is the key of its sentence."""

    name: str
    label: str
    unit: str
    value: Value
    key: str = ""

    @property
    def definition(self) -> str:
        """Return its definition in one sentence."""
        key = self.key or self.name
        return SENTENCES.get(key) or DEFINITIONS[key]


def _count(mark: str) -> Value:
    return lambda _, found: float(found.counts.get(mark, 0))


def _of_info(name: str, factor: float = 1.0) -> Value:
    return lambda info, _: float(getattr(info, name)) * factor


def _of_extra(name: str) -> Value:
    return lambda info, _: info.number(name, math.nan)


def _of_closed(name: str) -> Value:
    return lambda _, found: float(getattr(found.closed, name))


NUMBERS = (
    Number("fish", "Fish in the water", "", lambda _, found: float(len(found.mark))),
    Number("fish_separated", "of these separated", "", _count("separated")),
    Number("fish_merged", "shown, but merged with it", "", _count("merged")),
    Number("fish_not_shown", "not shown", "", _count("not_shown")),
    Number("share_separated", "Share separated", "", lambda _, found: found.separated.value),
    Number("share_detected", "Share detected", "", lambda _, found: found.detected.value),
    Number("false_alarms", "False alarms", "", lambda _, found: found.false_alarms.value),
    Number("range_resolution", "Range resolution", "m", lambda _, found: found.range_resolution),
    Number("reach", "Reach", "m", _of_closed("reach")),
    Number("smallest_fish", "Smallest fish", "m", _of_closed("smallest_fish")),
    Number("swath", "Swath", "m", _of_closed("swath")),
    Number("geometric_width", "Width by geometry", "m", _of_closed("geometric_width")),
    Number("footprint_along", "Footprint along", "m", _of_closed("footprint_along")),
    Number("footprint_across", "Footprint across", "m", _of_closed("footprint_across")),
    Number("edge_height", "Hidden at the beam's edge", "m", _of_closed("edge_height")),
    Number("depth", "at a depth below the transducer of", "m", _of_closed("depth")),
    Number("fish_length", "for a fish of", "m", _of_closed("fish_length")),
    Number("fish_height", "at a height of", "m", _of_closed("fish_height")),
    Number("bottom_error_median", "Error of the bottom pick", "m", lambda _, found: found.bottom_error_median),
    Number("bottom_error_spread", "its spread", "m", lambda _, found: found.bottom_error_spread),
    Number("band_low", "Band from", "Hz", _of_info("band_low")),
    Number("band_high", "to", "Hz", _of_info("band_high")),
    Number("pulse_length", "Pulse", "s", _of_info("pulse_length")),
    Number("beamwidth_along", "Beam along", "deg", _of_info("beamwidth_along")),
    Number("beamwidth_across", "Beam across", "deg", _of_info("beamwidth_across")),
    Number("equivalent_beam_angle", "Equivalent beam angle", "dB re 1 sr", _of_info("equivalent_beam_angle")),
    Number("source_level", "Source level", "dB re 1 uPa m", _of_info("source_level")),
    Number("noise_level", "Noise level", "dB re 1 uPa", _of_info("noise_level")),
    Number("absorption", "Absorption", "dB/m", _of_info("absorption")),
    Number("effective_pulse", "Effective pulse", "s", _of_info("effective_pulse")),
    Number("blank_range", "Blind range", "m", _of_info("blank_range")),
    Number("near_field", "Near field", "m", _of_extra("near_field")),
    Number("finite_amplitude_loss", "Loss to overtones, not applied", "dB", _of_extra("finite_amplitude_loss")),
    Number("face_intensity", "Intensity at the face", "W/cm2", _of_extra("face_intensity")),
    Number("cavitation_rule", "Cavitation, rule up to 10 kHz", "W/cm2", _of_extra("cavitation_rule")),
)


def finite(value: float) -> float | int | None:
    """Return the number as JSON may hold it (in its own unit): whole ones as int, what is not finite as None."""
    if not math.isfinite(value):
        return None
    return int(value) if value == int(value) and abs(value) < 1e15 else value
