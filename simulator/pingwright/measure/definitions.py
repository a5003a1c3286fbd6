"""The one sentence each number carries wherever a user reads it."""

from collections.abc import Mapping
from types import MappingProxyType

from pingwright.measure.detect import FLOOR
from pingwright.measure.passes import HITS, MISSED, WIDEST

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
            " least 2 cells below 35 dB under the bottom level or 10 dB over what noise, side lobes and the water"
            " further ahead leave there, whichever is higher, the onset being longer than 2 cells and at most 8 % of"
            " range; where noise forbids 15 dB, through 6 dB, and where there is no rise, the range of the peak."
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
            "Depth at which one ping detects the tilt-averaged fish (Swerling 1) with probability 0.5, no seabed."
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
        "second_echo_ratio": "Level of the second bottom echo less that of the first, each averaged over 8 cells.",
    }
)


def definition(name: str) -> str:
    """Return the one-sentence definition of a measure, or raise KeyError for a name that has none."""
    return DEFINITIONS[name]
