"""The definition that each number carries wherever a user reads it."""

from collections.abc import Mapping
from types import MappingProxyType

from pingwright.measure.beside import CLEAR, OWN
from pingwright.measure.detect import FLOOR
from pingwright.measure.passes import WIDEST
from pingwright.measure.rules import HITS, MISSED

#: name of a measure (or of a field of the results) -> its definition
DEFINITIONS: Mapping[str, str] = MappingProxyType(
    {
        "detected": (
            "A peak at a shorter range than the bottom echo. It exceeds a threshold over noise and local"
            " reverberation that gives a false alarm in 1 of 10,000 resolution cells. Its echo strength is at or"
            f" above the floor of the picture ({FLOOR:.0f} dB re 1 m2). It lies within 3 resolution cells, or within"
            " the fish's own extent, of the true slant range of the fish. Near a structure it also stands at least"
            f" {OWN:.0f} dB over the echo of the structure from there, and {CLEAR:.0f} dB over it are enough; between"
            " the echo of the structure and that of the seabed it counts as well."
        ),
        "separated": (
            "A detected peak with an unbroken gap between it and the maximum of the bottom echo. The gap is at least"
            " 2 resolution cells long, and its level is at least 3 dB below the peak and at least 15 dB below the"
            " bottom level. Between the echo of a structure and that of the seabed there is such a gap on both sides."
        ),
        "merged": (
            "Detected, but not separated from the bottom. This is rare: most fish that are detected at all are also"
            " separated."
        ),
        "separated_pair": (
            "Two detected peaks, one at each fish, with an unbroken gap between them. The gap is at least 2"
            " resolution cells long, and its level is at least 3 dB below the weaker peak."
        ),
        "false_alarms": (
            "Share of passes without a fish that count as separated by the same rule. These passes are the passes of"
            " the fish, moved along the track to places where there is nothing. Neighbouring passes share pings, so"
            " the interval is a little too narrow. Passes of fish near steep ground are not moved. There a peak counts"
            " only where it stands 6 dB over all that the ground sends back from the same place, so there are no false"
            " alarms by construction. Near structures the same rule holds for the fish; the moved passes are at places"
            " without structures, by the levels alone."
        ),
        "pass_separated": (
            "Share of fish and fresh passes in which the fish is separated from the bottom by the rule of a pass."
            " Each fresh pass has new ground, new noise and new postures of the fish at the same places. The 95 %"
            " interval treats passes as independent, not fish."
        ),
        "pass_detected": "The same for fish that are detected in the pass, separated or not.",
        "one_arch": (
            "Fish whose echoes lie on each other, so that they look like one. Each is detected in its pass, but too few"
            " pings for a mark of its own show it alone, or together with the other as a separated pair."
        ),
        "in_pass": (
            f"A fish is detected in a pass if at least {HITS} pings of the pass detect it, with at most {MISSED} ping"
            f" missed between neighbours. It is separated in a pass if at least {HITS} of these pings separate it. The"
            " pings of a pass are those with the fish in the main lobe of the beam (up to the first null, at most"
            f" {WIDEST:.0f} degrees off the axis)."
        ),
        "bottom_level": (
            "Maximum of the power of the ping, averaged over 8 resolution cells, beyond the blanking range. The place"
            " of the maximum is searched after spherical spreading is removed."
        ),
        "bottom_pick": (
            "The range at which the echo of the bottom begins. It is the edge of the first strong part of the echo:"
            " the last rise of the level through 15 dB below the bottom level, after at least 2 resolution cells"
            " below that level. Before this edge, the power averaged over 8, 16 and 32 cells is at least 10, 13 and"
            " 17 dB below the bottom level. A weaker onset may run into the edge, from the nearest point of a slope"
            " or a wave; then the pick is where the onset begins. The onset begins after quiet water: at least 2"
            " cells that are 45 dB below the bottom level, or 4 cells that are 35 dB below it. If noise, side lobes"
            " and the water before are stronger there, cells up to 10 dB above them count as quiet. An onset is"
            " longer than 2 cells and at"
            " most 8 % of the range long. If noise does not allow 15 dB, the level of 6 dB is used. If there is no"
            " rise, the pick is the range of the peak."
        ),
        "bottom_error": "Picked depth minus true depth straight under the boat; positive means that the pick is too"
        " deep.",
        "range_resolution": (
            "Full width of the echo of a single point at half its peak power (-3 dB), in metres of range. For"
            " comparison, c/2B is the resolution cell."
        ),
        "beam_width": (
            "Full angle between the two directions in which the echo of a point that crosses the beam is 6 dB below"
            " its maximum. This is the one-way -3 dB width."
        ),
        "reach": (
            "Depth at which one ping detects the fish with probability 0.5, without a seabed. The fish has its"
            " tilt-averaged target strength and a Rayleigh echo (Swerling 1). If the scenario does not give the pulse"
            " length, the pulse is the one for that depth."
        ),
        "smallest_fish": (
            "Length of the fish that one ping detects with probability 0.5 at the stated depth. Below one wavelength"
            " the model of target strength does not hold, and the number is reported as outside the model."
        ),
        "swath": (
            "Width across the track, around the axis of the beam, in which the fish is nearer than the bottom and one"
            " ping detects it with a probability of at least 0.5 everywhere. Claims, match and ask give the swath of a"
            " pass instead: the integral, over the distance to the side, of the probability that a pass detects it."
        ),
        "geometric_width": (
            "2 sqrt(2 d h - h^2), with the flat bottom at depth d below the element and the fish at height h above"
            " it. Within this width across the track, the fish is nearer than the bottom. No element can separate a"
            " fish outside it from the bottom."
        ),
        "footprint": "Width on the bottom between the one-way -3 dB directions of the beam.",
        "edge_height": (
            "Height above a flat bottom in which the echo of the bottom hides a fish at the edge of the one-way -3 dB"
            " beam: d (1 - cos theta)."
        ),
        "share_detected": (
            "Share of all fish in the water that are detected in their pass: by at least 3 pings, with at most one"
            " ping missed between neighbours."
        ),
        "share_separated": (
            "Share of all fish in the water that are separated from the bottom in their pass: by at least 3 of the"
            " pings that detect them."
        ),
        "mark_pings": "Number of pings that detect a fish in its pass; median over the fish that have a mark.",
        "arch_length": (
            "Distance that the boat moves from the first to the last ping that detects a fish in its pass; median"
            " over the fish that have a mark."
        ),
        "arch_depth": (
            "Range of the farthest echo of a fish in its pass minus the range of its nearest echo; median over the"
            " fish that have a mark."
        ),
        "pings": "Number of pings.",
        "fish_outside": "Number of fish that are not shown because they are in the main lobe of the beam in no ping.",
        "bottom_lost": "Number of pings in which no bottom was picked although the bottom is within the recording.",
        "reach_louder": "Detection range if the boat's own noise is 10 dB higher.",
        "reach_quieter": "Detection range if the boat's own noise is 10 dB lower.",
        "bottom_reach": (
            "Depth below the transducer down to which 9 of 10 pings pick the bottom within 2 % of its depth or 0.5 m."
            " It is computed with the sonar equation for flat ground of the topmost sediment, an upright element and"
            " the noise of this recording. If the scenario does not give the pulse length, the pulse is the one for"
            " that depth."
        ),
        "bottom_reach_louder": "The depth to which the bottom is shown, if the boat's own noise is 10 dB higher.",
        "bottom_reach_quieter": "The depth to which the bottom is shown, if the boat's own noise is 10 dB lower.",
        "bottom_over_noise": (
            "Measured: bottom level minus noise level, median over the pings. A bottom pick needs 10 dB."
        ),
        "band": "Lowest and highest frequency that the element sends and that its receiver passes.",
        "pulse": "Duration of the transmitted pulse, and the weighting of its matched filter.",
        "beam": (
            "Full width of the beam between its one-way -3 dB directions, along the track by across it, at the centre"
            " of the band."
        ),
        "side_lobe_level": (
            "Energy of the filtered echo of a point beyond 10 resolution cells on one side, divided by its whole"
            " energy."
        ),
        "band_low": "Lowest frequency that the element sends and that its receiver passes.",
        "band_high": "Highest frequency that the element sends and that its receiver passes.",
        "pulse_length": "Duration of the transmitted pulse.",
        "source_level": (
            "Level of the transmitted sound on the axis of the beam at the centre of the band, referred to a distance"
            " of one metre from a point source. In the simulation it rises over the band with the directivity."
        ),
        "bubble_loss": (
            "Loss of an echo, both ways, in the bubbles that the wind mixes into the water, at the centre of the"
            " band. The law holds for 10 to 100 kHz and is extrapolated above."
        ),
        "absorption": (
            "Loss by absorption for each metre, one way, at the centre of the band; mean over the water from the"
            " transducer to the end of the window (Francois & Garrison 1982)."
        ),
        "beamwidth_along": (
            "Full width of the beam along the track between its one-way -3 dB directions, at the centre of the band."
        ),
        "beamwidth_across": (
            "Full width of the beam across the track between its one-way -3 dB directions, at the centre of the band."
        ),
        "equivalent_beam_angle": (
            "Solid angle of an ideal beam that receives the same power, two-way, from evenly spread scatterers, at"
            " the centre of the band."
        ),
        "effective_pulse": "Energy of the filtered echo of a point, divided by its peak power.",
        "noise_level": (
            "Mean level of the noise after the filter: noise of wind, thermal noise and the boat's own noise, as the"
            " scenario gives them."
        ),
        "blank_range": "Range up to which nothing is shown, because the element still sends or rings (ringing of 0.3"
        " ms assumed).",
        "near_field": "Distance at which the far field begins. Nearer than this the beam is not yet formed, but it is"
        " drawn as in the far field.",
        "finite_amplitude_loss": (
            "Loss of the pulse to harmonics on its way to the bottom, one way, at the centre of the band (weak-shock"
            " theory, correct within a factor of two). It is subtracted from the source level."
        ),
        "face_intensity": "Acoustic power divided by the area of the face during the pulse, in W/cm2.",
        "cavitation_rule": (
            "Intensity above which water cavitates at the face's depth, 0.3 (1 + depth / 10 m)^2 W/cm2, for"
            " frequencies up to 10 kHz and long pulses (Urick 1983, chapter 4, from memory). Higher frequencies and"
            " shorter pulses can have more."
        ),
        "depth": "Median true depth of the seabed below the transducer. The widths and the smallest fish are given for"
        " this depth.",
        "fish_length": (
            "Length of the fish for which detection range and widths are given: the median fish of the scenario."
        ),
        "fish_height": "Height above the seabed of the fish for which the geometric width is given.",
        "footprint_along": "Width on the bottom, along the track, between the one-way -3 dB directions of the beam.",
        "footprint_across": "Width on the bottom, across the track, between the one-way -3 dB directions of the beam.",
        "fish": "Number of fish in the water.",
        "fish_separated": "Number of fish separated from the bottom in their pass.",
        "fish_merged": "Number of fish detected in their pass, but not separated from the bottom.",
        "fish_not_shown": "Number of fish not detected in their pass.",
        "bottom_error_median": (
            "Picked depth minus true depth of the seabed under the boat, median over the pings. Positive means too"
            " deep. Over a structure, its top may be picked instead."
        ),
        "bottom_error_spread": "Half the width of the interval that holds the middle 68 per cent of the errors of the"
        " bottom pick.",
    }
)
