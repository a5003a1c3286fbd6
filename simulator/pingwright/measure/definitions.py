"""The one sentence each number carries wherever a user reads it."""

from collections.abc import Mapping
from types import MappingProxyType

from pingwright.measure.detect import FLOOR
from pingwright.measure.passes import WIDEST
from pingwright.measure.rules import HITS, MISSED

#: name of a measure (or of a field of the results) -> its definition
DEFINITIONS: Mapping[str, str] = MappingProxyType(
    {
        "detected": (
            "A peak ahead of the bottom echo that exceeds a threshold of false alarm 1e-4 per resolution cell over"
            " noise plus local reverberation and whose echo strength is at or above the picture's floor"
            f" ({FLOOR:.0f} dB re 1 m2), within 3 resolution cells, or the fish's own extent, of its true slant range."
        ),
        "separated": (
            "A detected peak between which and the bottom's maximum stands an unbroken gap of at least 2 resolution"
            " cells that lies at least 3 dB below the peak and at least 15 dB below the bottom level."
        ),
        "merged": (
            "Detected, but not separated from the bottom; rare, for a fish that shows above the bottom's fringe at all"
            " mostly stands clear of the bottom too."
        ),
        "separated_pair": (
            "Two detected peaks, one at each fish, between which stands an unbroken gap of at least 2 resolution cells"
            " that lies at least 3 dB below the weaker of the two."
        ),
        "false_alarms": (
            "Share of the fish's passes, moved along the track to where nothing real is, that count as separated by the"
            " same rule; neighbours share pings, so its interval is a little too narrow."
        ),
        "pass_separated": (
            "Share of fish and fresh passes in which the fish is separated from the bottom by the rule of a pass: each"
            " pass has a new ground, new noise and new postures over the same places; its 95 % interval takes passes,"
            " not fish, as independent."
        ),
        "pass_detected": "The same for fish that are detected in the pass, separated or not.",
        "in_pass": (
            f"A fish is detected in a pass if at least {HITS} pings of it detect the fish, with at most {MISSED} ping"
            f" missed between neighbours, and separated in a pass if at least {HITS} such pings separate it; the pings"
            f" of a pass are those in whose main lobe it lies (to the first null, at most {WIDEST:.0f} degrees)."
        ),
        "bottom_level": (
            "Maximum of the ping's power averaged over 8 resolution cells, beyond the blind range, found with spherical"
            " spreading removed."
        ),
        "bottom_pick": (
            "The range at which the level last rises through 15 dB below the bottom level, out of at least 2 resolution"
            " cells that lie below that, ahead of the bottom's first strong stretch, where the power averaged over the"
            " 8, 16 and 32 cells before is at least 10, 13 and 17 dB below the bottom level; where a weaker onset runs"
            " into that edge, off the nearest point of a slope or wave, the range at which the onset begins, out of at"
            " least 2 cells below 45 dB or 4 below 35 dB under the bottom level, or below 10 dB over what noise, side"
            " lobes and the water further ahead leave there, whichever is higher, the onset being longer than 2 cells"
            " and at most 8 % of range; where noise forbids 15 dB, through 6 dB, and where there is no rise, the range"
            " of the peak."
        ),
        "bottom_error": "Picked less true depth straight under the boat; positive means picked too deep.",
        "range_resolution": (
            "Full width of the echo of a single point at half its peak power (-3 dB), in metres of range; c/2B is the"
            " cell for comparison."
        ),
        "beam_width": (
            "Full angle between the two directions in which the echo of a point crossing the beam is 6 dB below its"
            " maximum, the one-way -3 dB width."
        ),
        "reach": (
            "Depth at which one ping detects the tilt-averaged fish (Swerling 1) with probability 0.5, no seabed; with"
            " the pulse of that depth where the scenario leaves its length open."
        ),
        "smallest_fish": (
            "Length of fish detected with probability 0.5 in one ping at the stated depth; below one wavelength it is"
            " reported as outside the model."
        ),
        "swath": (
            "Widest unbroken interval across the track that contains the beam's axis and in which one ping detects the"
            " fish with probability of at least 0.5."
        ),
        "geometric_width": (
            "2 sqrt(2 d h - h^2): across a flat bottom d below the element, the width in which a fish h above it is"
            " nearer than the bottom; no element sees apart from the bottom what lies outside."
        ),
        "footprint": "Width on the bottom between the beam's one-way -3 dB directions.",
        "edge_height": (
            "Height above a flat bottom hidden by the nearer bottom for a fish at the edge of the one-way -3 dB beam,"
            " d (1 - cos theta)."
        ),
        "share_detected": (
            "Share of all fish in the water that are detected in their pass: at least 3 pings, at most one missed"
            " between neighbours."
        ),
        "share_separated": (
            "Share of all fish in the water that are separated from the bottom in their pass: by at least 3 of the"
            " pings that detect them."
        ),
        "mark_pings": "Pings that detect a fish in its pass, median over the fish that have a mark.",
        "arch_length": (
            "Way of the boat from the first to the last ping that detects a fish in its pass, median over the fish that"
            " have a mark."
        ),
        "arch_depth": (
            "Range of a fish's farthest echo in its pass less that of its nearest, median over the fish that have a"
            " mark."
        ),
        "pings": "Number of pings.",
        "bottom_lost": "Pings in which no bottom was picked though it lies in the record.",
        "reach_louder": "Detection range with the boat's own noise 10 dB louder.",
        "reach_quieter": "Detection range with the boat's own noise 10 dB quieter.",
        "bottom_reach": (
            "Depth below the transducer to which the bottom is found within 2 % of depth or 0.5 m in 9 of 10 pings, by"
            " the sonar equation: flat ground of the topmost sediment, the element upright, noise of this recording,"
            " the pulse of that depth where the scenario leaves its length open."
        ),
        "bottom_over_noise": (
            "Measured: median over the pings of the bottom level less the noise level; a pick needs 10 dB."
        ),
        "band": "Lowest and highest frequency the element sends and its receiver keeps.",
        "pulse": "Time for which one ping is sent, and the weighting of its matched filter.",
        "beam": (
            "Full width of the beam between its one-way -3 dB directions, along the track by across it, band's centre."
        ),
        "side_lobe_level": (
            "Energy of a point's filtered echo beyond 10 resolution cells on one side, over its whole energy."
        ),
        "second_echo_ratio": "Level of the second bottom echo less that of the first, each averaged over 8 cells.",
        "band_low": "Lowest frequency the element sends and its receiver keeps.",
        "band_high": "Highest frequency the element sends and its receiver keeps.",
        "pulse_length": "Time for which one ping is sent.",
        "source_level": (
            "Level of the sent sound on the beam's axis at the band's centre, as if measured one metre from a"
            " point; in the simulation it rises over the band with the directivity."
        ),
        "bubble_loss": (
            "What the bubbles that wind drives under the surface take of an echo, both ways, at the band's centre; the"
            " law holds for 10 to 100 kHz and is carried on above."
        ),
        "absorption": (
            "Loss by absorption a metre of one-way path, at the band's centre, mean over the water from the"
            " transducer to the window's end (Francois & Garrison 1982)."
        ),
        "beamwidth_along": (
            "Full width of the beam along the track between its one-way -3 dB directions, band's centre."
        ),
        "beamwidth_across": (
            "Full width of the beam across the track between its one-way -3 dB directions, band's centre."
        ),
        "equivalent_beam_angle": (
            "Solid angle of an ideal beam that would receive as much from evenly spread scatterers, two-way,"
            " band's centre."
        ),
        "effective_pulse": "Energy of a point's filtered echo over its peak power.",
        "noise_level": (
            "Mean level of noise at the filter's output: wind, heat and the boat's own, as the scenario asks."
        ),
        "blank_range": "Range within which the element is still sending or ringing (0.3 ms assumed): nothing is shown.",
        "near_field": "Distance nearer than which the beam is not formed yet; it is drawn as that of the far field.",
        "finite_amplitude_loss": (
            "What the pulse loses to harmonics on its way to the bottom, one way, band's centre, good to a factor"
            " of two (weak-shock theory); it is taken off the source level."
        ),
        "face_intensity": "Acoustic power over the area of the face during the pulse, in W/cm2.",
        "cavitation_rule": (
            "Intensity above which water cavitates at the face's depth, 0.3 (1 + depth / 10 m)^2 W/cm2, for"
            " frequencies up to 10 kHz and long pulses (Urick 1983, chapter 4, from memory); higher bands and short"
            " pulses bear more."
        ),
        "depth": "Median true depth of the seabed below the transducer; the widths and the smallest fish hold there.",
        "fish_length": (
            "Length of the fish that detection range and widths are given for: the median fish of the scenario."
        ),
        "fish_height": "Height above the seabed of the fish that the geometric width is given for.",
        "footprint_along": "Width on the bottom, along the track, between the beam's one-way -3 dB directions.",
        "footprint_across": "Width on the bottom, across the track, between the beam's one-way -3 dB directions.",
        "fish": "Number of fish in the water.",
        "fish_separated": "Number of fish separated from the bottom in their pass.",
        "fish_merged": "Number of fish detected in their pass, but not separated from the bottom.",
        "fish_not_shown": "Number of fish not detected in their pass.",
        "bottom_error_median": (
            "Median over the pings of picked less true depth of the seabed under the boat; positive is too deep;"
            " over a structure its top may be picked."
        ),
        "bottom_error_spread": "Half the span that holds the middle 68 per cent of the errors of the bottom pick.",
    }
)


def definition(name: str) -> str:
    """Return the one-sentence definition of a measure, or raise KeyError for a name that has none."""
    return DEFINITIONS[name]
