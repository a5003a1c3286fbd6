"""The layout of echograms.h5, format 2: the place, unit and axes of every number.

`form` writes it, `reading` checks and reads it. Names and units are part of the contract and fixed; rows may be added.
"""

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType

from pingwright.echograms.record import HARMONICS_AT, ElementInfo

FORMAT_VERSION = 2
CONVENTIONS = "CF-1.11"
COMMENT = (
    "Synthetic: computed by a simulation, not recorded at sea. Not for navigation, not for diving, and no proof of any"
    " product's performance."
)
#: How to read an element's group; stored in the file for readers who have only the file.
GUIDE = (
    "Attributes of an element, each with its unit beside it as <name>_unit: band_low, band_high; pulse_length,"
    " effective_pulse; source_level and absorption (one way) at the band's centre; beamwidth_* (full, one-way -3"
    " dB) at the centre and, _low, _high, at the ends; equivalent_beam_angle (two-way); range_resolution, full -3"
    " dB width of a point's echo; resolution_cell, c / 2B of a chirp, c tau / 2 of a tone; noise_level after the"
    " filter; blank_range: nearer samples hold _FillValue; transducer_depth; assumed_sound_speed;"
    " mean_sound_speed, the water's own from the transducer down to the bottom (harmonic mean)"
    ". With r the range [m]: a point target on the axis has"
    " TS = echo_level - source_level + 40 log10(r) + 2 absorption r [dB re 1 m2];"
    " scatterers that fill the beam have, averaged as power,"
    " Sv = echo_level - source_level + 20 log10(r) + 2 absorption r - equivalent_beam_angle"
    " - 10 log10(assumed_sound_speed effective_pulse / 2) [dB re 1 m-1]."
)

#: Pings in a chunk of the levels; a chunk holds all samples.
CHUNK_PINGS = 16

#: Limits for the contents of a file, checked before anything large is read.
MOST_PINGS = 200_000
MOST_SAMPLES = 16_000_000
MOST_FISH = 5_000_000
MOST_POINTS = 1_000_000
MOST_ELEMENTS = 1_000
MOST_TEXT = 16 << 20  # bytes of one text
MOST_INPUT_BYTES = 128 << 20  # bytes of all files that the scenario names


@dataclass(frozen=True)
class Variable:
    """One data set of floats: its name, axes, unit (UDUNITS form), long name and, where CF has one, standard name."""

    name: str
    axes: tuple[str, ...]
    units: str
    long_name: str
    standard_name: str = ""


# The platform_* and depth names are from the CF standard name table (names from memory, version 79 or later).
BY_PING = (
    Variable("ping_time", ("ping",), "s", "time since the start of the run"),
    Variable("x", ("ping",), "m", "position of the boat along the track"),
    Variable("y", ("ping",), "m", "position of the boat across the track, starboard positive"),
    Variable("roll", ("ping",), "degree", "roll of the boat, starboard down positive", "platform_roll_starboard_down"),
    Variable("pitch", ("ping",), "degree", "pitch of the boat, bow up positive", "platform_pitch_fore_up"),
    Variable("heave", ("ping",), "m", "heave of the boat, up positive", "platform_heave_up"),
    Variable(
        "bottom_depth",
        ("ping",),
        "m",
        "true depth of the seabed straight under the boat",
        "sea_floor_depth_below_mean_sea_level",
    ),
)

RANGE = Variable("range", ("range",), "m", "range from the transducer: assumed sound speed x time / 2")

BEAM_AXES = (
    Variable("frequency", ("frequency",), "Hz", "frequency of the beam pattern", "sound_frequency"),
    Variable("angle", ("angle",), "degree", "angle from the beam's axis"),
)
BEAM_PLANES = ("along", "across")

FISH = (
    Variable("x", ("fish",), "m", "position along the track"),
    Variable("y", ("fish",), "m", "position across the track, starboard positive"),
    Variable("depth", ("fish",), "m", "depth below the mean surface", "depth"),
    Variable("length", ("fish",), "m", "length of the fish"),
    Variable("height", ("fish",), "m", "height above the seabed"),
)
FISH_BY_ELEMENT = (
    Variable("strength", ("element", "fish"), "dB", "target strength re 1 m2, tilt-averaged, at the band's centre"),
    Variable("apparent_depth", ("element", "fish"), "m", "depth at which the echo is drawn at the nearest ping"),
)

OUTLINES = (("side", ("x", "depth")), ("ahead", ("y", "depth")), ("plan", ("x", "y")))
SOFT_BOX = ("x0", "x1", "y0", "y1", "depth0", "depth1")

AXIS_NAMES = {
    "x": "position along the track",
    "y": "position across the track, starboard positive",
    "depth": "depth below the mean surface",
}

#: Unit of each numeric attribute of an element, stored beside it as a text attribute <name>_unit ("1": a pure number).
UNITS: Mapping[str, str] = MappingProxyType(
    {
        **dict.fromkeys(("band_low", "band_high"), "Hz"),
        **dict.fromkeys(("pulse_length", "effective_pulse"), "s"),
        **dict.fromkeys(("blank_range", "transducer_depth", "range_resolution", "resolution_cell", "near_field"), "m"),
        "point_width": "m",
        **{f"beamwidth_{way}{end}": "degree" for way in ("along", "across") for end in ("", "_low", "_high")},
        **dict.fromkeys(("tilt_along", "tilt_across"), "degree"),
        **dict.fromkeys(("face_intensity", "cavitation_rule"), "W cm-2"),
        **dict.fromkeys(
            ("directivity", "finite_amplitude_loss", "filter_loss", "side_lobe_level", "bubble_loss"), "dB"
        ),
        **{f"finite_amplitude_loss_{distance}": "dB" for distance in HARMONICS_AT},
        **dict.fromkeys(("noise_level_louder", "noise_level_quieter"), "dB re 1 uPa"),
        "own_noise": "dB re 1 uPa2 Hz-1",
        "power_density": "kW m-2",
        **dict.fromkeys(("source_level", "source_level_low", "source_level_high"), "dB re 1 uPa m"),
        **dict.fromkeys(("pulse_taper", "efficiency"), "1"),
        "noise_level": "dB re 1 uPa",
        "absorption": "dB m-1",
        "equivalent_beam_angle": "dB re 1 sr",
        **dict.fromkeys(("assumed_sound_speed", "mean_sound_speed"), "m s-1"),
        "power": "W",
    }
)
#: Sediments of the ground, from the top layer down, then patches of the top layer.
SEDIMENT = (
    Variable("thickness", ("sediment",), "m", "thickness of the layer, infinite for the lowest"),
    *(
        Variable(f"{axis}{end}", ("sediment",), "m", f"bound of where it lies, {axis}")
        for axis in ("x", "y")
        for end in (0, 1)
    ),
)
#: Drift of soft bodies.
DRIFT = tuple(
    Variable(f"drift_{axis}", ("soft",), "m s-1", f"drift of the body along {axis}") for axis in ("x", "y", "depth")
)
PATH = tuple(
    Variable(f"path_{axis}", ("path_time", "fish"), "m", f"path of the fish, straight between knots, {axis}")
    for axis in ("x", "y", "depth")
)
PATH_TIME = Variable("path_time", ("path_time",), "s", "time of a knot since the start of the run")
STRENGTH = Variable(
    "strength",
    ("element", "soft"),
    "dB",
    "at the band's centre: target strength of a target, or of one fish of a school on average, re 1 m2; volume"
    " backscattering strength of a layer re 1 m-1",
)
#: Levels of solid things other than fish, near fish beside structures; the most rows.
SURROUNDINGS = (
    ("element", "position of the element"),
    ("fish", "place of the fish in the truth's arrays, from 0"),
    ("ping", "ping of the element, from 0"),
)
#: May be missing.
SURROUNDINGS_GROUND = ("ground", "1 where steep ground is in it, 0 where structures, schools and targets alone are")
SURROUNDINGS_LEVEL = Variable(
    "level",
    ("row", "column"),
    "dB",
    "level re 1 uPa of structures, schools and targets: highest in equal parts of the range in which a peak may be the"
    " fish's, nearest first, and in the last column the mean around it",
)
MOST_ROWS, MOST_COLUMNS = 1 << 24, 64
#: Results of fresh passes over the scene's own fish, 0 or 1 each; the most values allowed.
PASSES = (
    ("detected", "whether the fish is detected in a fresh pass over the same places"),
    ("separated", "whether it is separated from the bottom in that pass"),
)
MOST_PASS_VALUES = 1 << 28
#: How to read the complex output.
PHASE = {
    "sign_convention": "an echo after a time t has the phase -2 pi f t, f the reference frequency",
    "amplitude_convention": "rms: the level is 20 log10 of the magnitude, dB re 1 uPa",
}

#: ElementInfo's own fields, each a scalar attribute of the element's group; `extra` adds further ones.
INFO_FIELDS = tuple(f.name for f in fields(ElementInfo) if f.name not in {"slug", "extra"})
INFO_TEXT = ("name", "weighting")


def slugs(names: Iterable[str]) -> tuple[str, ...]:
    """Return the group name of each element: a-z, 0-9 and dashes, none twice.

    NFKD, combining marks dropped, lower case, runs of anything else become "-"; empty becomes element-<n>, counted
    from 1; a clash gets -2, -3, ...
    """
    taken: list[str] = []
    for number, name in enumerate(names, start=1):
        plain = "".join(c for c in unicodedata.normalize("NFKD", name) if not unicodedata.combining(c)).lower()
        slug = re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or f"element-{number}"
        unique, count = slug, 1
        while unique in taken:
            count += 1
            unique = f"{slug}-{count}"
        taken.append(unique)
    return tuple(taken)
