"""What an element is like, as plain numbers and words for lists, and as curves for figures.

The closed forms stand in the default circumstance of the trade's talk about reach: sea water of 10 degC and salinity
35, wind 10 kn, a vessel of 35 dB re 1 uPa2/Hz at 50 kHz, a 40 cm fish with a closed bladder, one ping, detected half
the time at a false alarm of 1e-4 a cell, no seabed.

What width costs. The source level falls with the directivity, and so does the receiver's gain over ambient noise: a
beam of ten times the solid angle has 10 dB less source level, hears up to 10 dB more noise, and reaches about a third
(less is lost where absorption or the vessel's noise rules). `cost_of_width` gives both for a pair of elements.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from pingwright.acoustics import absorption, budget, deadzone, fish
from pingwright.element.build import build
from pingwright.element.faces import FloatArray
from pingwright.element.model import Element

#: The default circumstance; see the module's text.
TEMPERATURE, SALINITY = 10.0, 35.0
DENSITY, SOUND_SPEED = 1027.0, 1490.0
WIND_SPEED = 10 * 1852 / 3600
VESSEL = 35.0
FISH_LENGTH = 0.40
FISH_TILT = (-5.0, 15.0)
FOOTPRINT_DEPTHS = (20.0, 50.0, 100.0, 200.0)
#: Pulse where a catalogue entry leaves it to the depth [s].
PULSE_LENGTH = 2e-3


def reach(element: Element, length: float = FISH_LENGTH) -> float:
    """Return how deep [m] a fish of some length [m] is detected half the time, in the default circumstance."""
    f = element.centre
    tilt = 10.0 * np.log10(fish.tilt_average(*FISH_TILT))
    strength = float(fish.strength_love_1971(length, f)) + tilt
    noise = element.noise_level(WIND_SPEED, ambient=True, vessel=VESSEL)
    loss = float(absorption.absorption_francois_garrison(f, TEMPERATURE, SALINITY))
    return float(budget.reach(element.source_level(f), noise, strength, loss))


def kind(along: float, across: float) -> str:
    """Return the class of a beam by its widths [deg]: fan (1.8 times wider one way), cone (from 22 deg) or pencil.

    The limits are ours (assumed): they part the catalogue's own entries.
    """
    if max(along, across) > 1.8 * min(along, across):
        return "fan"
    return "cone" if min(along, across) >= 22.0 else "pencil"


def describe(element: Element) -> dict[str, Any]:
    """Return an element as plain numbers and words; each key says its unit.

    Class and what it is good for come from the catalogue where the element was made from an entry, else the class is
    read off the beam.
    """
    low, high = element.band
    entry = _entry(element)
    widths = [element.beamwidth(f) for f in (low, element.centre, high)]
    levels = element.source_amplitude(np.array([low, element.centre, high]))
    along, across = widths[1]
    centre = np.array([element.centre])
    psi = float(element.equivalent_beam_angle(centre)[0])
    row: dict[str, Any] = {
        "name": element.name,
        "class": entry.kind if entry else kind(along, across),
        "band_hz": [low, high],
        "pulse_length_s": element.pulse_length,
        "beamwidth_along_deg": [w[0] for w in widths],
        "beamwidth_across_deg": [w[1] for w in widths],
        "source_level_db_re_1_upa_m": [float(a) for a in 20.0 * np.log10(levels)],
        "directivity_db": float(element.directivity(centre)[0]),
        "equivalent_beam_angle_db_re_1_sr": float(10.0 * np.log10(psi)),
        "range_resolution_m": element.range_resolution,
        "range_side_lobe_db": range_side_lobe(element),
        "near_field_m": element.near_field,
        "blank_range_m": element.blank_range,
        "noise_level_db_re_1_upa": element.noise_level(WIND_SPEED, ambient=True, vessel=VESSEL),
        "reach_40_cm_fish_m": reach(element),
        "footprint_m": footprints(element, FOOTPRINT_DEPTHS),
    }
    if np.isfinite(element.face.area):
        cavitation = element.cavitation()
        row["face_intensity_w_per_cm2"] = cavitation.intensity
        row["cavitation_rule_w_per_cm2"] = cavitation.rule
        row["cavitation_rule_source"] = "Urick 1983 ch. 4 (from memory), for up to 10 kHz; more is borne above"
    row["good_for"] = entry.good_for if entry else ""
    return row


def extra_fields(element: Element, distance: float) -> dict[str, Any]:
    """Return what a recording may say of an element beside ElementInfo's own fields, plain numbers and words.

    source_level_low, _high [dB re 1 uPa m]: at the band's ends; power [W]; directivity [dB], band centre; near_field
    [m]; tilts [deg]; face_intensity and cavitation_rule [W/cm2]; finite_amplitude_loss [dB], one way, not applied.
    distance [m]: where the caution about finite amplitude is worked out, say the depth of the seabed.
    """
    spec = element.spec
    low, high = (float(20.0 * np.log10(element.source_amplitude(np.array([f]))[0])) for f in element.band)
    fields: dict[str, Any] = {
        "source_level_low": low,
        "source_level_high": high,
        "face": str(spec.face.shape),
        "pulse_kind": "tone" if element.signal.is_tone else "chirp",
        "pulse_taper": float(element.signal.taper),
        "power": float(spec.power),
        "efficiency": float(spec.efficiency),
        "directivity": float(element.directivity(np.array([element.centre]))[0]),
        "near_field": element.near_field,
        "tilt_along": float(spec.tilt.along),
        "tilt_across": float(spec.tilt.across),
    }
    if np.isfinite(element.face.area):
        fields["face_intensity"] = element.cavitation().intensity
        fields["cavitation_rule"] = element.cavitation().rule
        fields["finite_amplitude_loss"] = finite_amplitude_loss(element, distance)
    return fields


def finite_amplitude_loss(element: Element, distance: float) -> float:
    """Return a caution: one-way loss to overtones at distance [m], band centre [dB], not applied to any echo.

    See acoustics.budget.nonlinear_loss, good to a factor of about 2; a curved face is reckoned as a disc of its area,
    which overstates the loss because its waves spread from the start.
    """
    power, area = element.acoustic_power, element.face.area
    return float(budget.nonlinear_loss(power, area, element.centre, distance, element.density, element.sound_speed))


def range_side_lobe(element: Element) -> float:
    """Return the highest level of a point's filtered echo more than a tenth of the pulse off its peak [dB re peak].

    nan for a tone, which has none. The steep ends of a chirp ripple its spectrum, and the ripple comes back as echoes
    before and after the true one, up to a pulse's length off: ahead of the bottom they hide fish. A longer taper lowers
    them. Source: Klauder et al. 1960, Bell Syst. Tech. J. 39, 745-808 (from memory).
    """
    if element.signal.is_tone:
        return float("nan")
    frequency = element.signal.band_grid()
    response = np.abs(element.replica_spectrum(frequency)) ** 2 * element.weighting(frequency)
    delay = np.linspace(0.1, 1.0, 1024) * element.pulse_length
    lobes = np.abs(np.exp(2j * np.pi * np.outer(delay, frequency - element.centre)) @ response)
    return float(20.0 * np.log10(lobes.max() / response.sum()))


def footprints(element: Element, depths: Sequence[float]) -> dict[str, list[float]]:
    """Return, by depth [m] as text, the one-way -3 dB footprint along and across [m] at band centre, axis vertical."""
    along, across = element.beamwidth(element.centre)
    limit = 179.0  # deg: a beam that never falls to half power has no edge on the bottom
    widths = (min(along, limit), min(across, limit))
    return {f"{depth:g}": [float(deadzone.footprint(depth, width)) for width in widths] for depth in depths}


def _entry(element: Element) -> Any:
    from pingwright.inputs import catalogue

    entries = catalogue.elements()
    return entries.get(getattr(element.spec, "use", None) or element.name)


def from_catalogue(name: str, density: float = DENSITY, sound_speed: float = SOUND_SPEED) -> Element:
    """Return a catalogue entry as an element in water of density [kg/m3] and sound_speed [m/s]; 2 ms pulse if none.

    KeyError for a name that is no entry.
    """
    from pingwright.inputs import elements

    spec = elements.from_catalogue(name)
    if spec.pulse.length is None:
        spec = spec.model_copy(update={"pulse": spec.pulse.model_copy(update={"length": PULSE_LENGTH})})
    return build(spec, density, sound_speed)


def describe_catalogue() -> dict[str, dict[str, Any]]:
    """Return every catalogue element's description by name, in the default circumstance.

    "cost_of_width" of cones and fans: against the pencil of their band, what `cost_of_width` finds.
    """
    from pingwright.inputs import catalogue

    elements = {name: from_catalogue(name) for name in catalogue.element_names()}
    rows = {name: describe(element) for name, element in elements.items()}
    for name, row in rows.items():
        pencils = [n for n, r in rows.items() if r["class"] == "pencil" and r["band_hz"] == row["band_hz"]]
        if row["class"] != "pencil" and pencils:
            row["cost_of_width"] = {"against": pencils[0], **cost_of_width(elements[pencils[0]], elements[name])}
    return rows


def listed() -> dict[str, dict[str, Any]]:
    """Return the catalogue's elements by name: short texts by column, and under "numbers" what they were made from.

    What `list elements` shows. Values at the band's low end, centre and high end are separated by slashes.
    """
    return {name: {**_texts(row), "numbers": row} for name, row in describe_catalogue().items()}


def _texts(row: dict[str, Any]) -> dict[str, str]:
    def three(values: list[float], form: str = ".1f") -> str:
        return " / ".join(format(value, form) for value in values)

    low, high = (f / 1e3 for f in row["band_hz"])
    circumstance = f"wind {WIND_SPEED * 3600 / 1852:.0f} kn, vessel {VESSEL:.0f} dB re 1 uPa2/Hz at 50 kHz"
    at = f"{low:g} / {(low + high) / 2:g} / {high:g}"
    prints = [f"{depth} m: {along:.0f} x {across:.0f} m" for depth, (along, across) in row["footprint_m"].items()]
    return {
        "class": row["class"],
        "band": f"{low:g} to {high:g} kHz",
        "beam along": three(row["beamwidth_along_deg"]) + f" deg at {at} kHz",
        "beam across": three(row["beamwidth_across_deg"]) + f" deg at {at} kHz",
        "source level": three(row["source_level_db_re_1_upa_m"]) + f" dB re 1 uPa m at {at} kHz",
        "directivity": f"{row['directivity_db']:.1f} dB",
        "footprint along x across": ", ".join(prints),
        "side lobes in range": f"{row['range_side_lobe_db']:.0f} dB beyond a tenth of the pulse (2 ms)",
        "reach of a 40 cm fish": f"{row['reach_40_cm_fish_m']:.0f} m, one ping in two, in the sea, {circumstance}",
        "cost of width": _cost_in_words(row.get("cost_of_width")),
        "good_for": row["good_for"],
    }


def _cost_in_words(cost: dict[str, Any] | None) -> str:
    if cost is None:
        return "none: a pencil is what the others are held against"
    return (
        f"against {cost['against']}, {cost['source_level_db']:.1f} dB of source level, {cost['noise_db']:.1f} dB more "
        f"noise, {100 * (1 - cost['reach_ratio']):.0f} % of the reach"
    )


@dataclass(frozen=True)
class Curves:
    """One element as curves.

    frequency (f) [Hz] over the band with source_level (f) [dB re 1 uPa m], directivity (f) [dB], beamwidth_along and
    _across (f) [deg]. angle (a) [deg] with pattern_along and _across (3, a) [dB re axis] at the band's low end, centre
    and high end. depth (d) [m] of a flat bottom with footprint (d) [m], across at band centre, and searched (d) [m]:
    the lesser of footprint and 2 sqrt(2 d h - h^2) for a fish `height` h [m] above the bottom.
    """

    name: str
    frequency: FloatArray
    source_level: FloatArray
    directivity: FloatArray
    beamwidth_along: FloatArray
    beamwidth_across: FloatArray
    angle: FloatArray
    pattern_along: FloatArray
    pattern_across: FloatArray
    depth: FloatArray
    footprint: FloatArray
    searched: FloatArray
    height: float


def curves(element: Element, deepest: float = 300.0, height: float = 1.0, points: int = 17) -> Curves:
    """Return an element's curves, see Curves; deepest [m], height of the fish [m], points over the band."""
    low, high = element.band
    frequency = np.linspace(low, high, points)
    angle = np.linspace(-90.0, 90.0, 721)
    along, across = element.pattern(np.array([low, element.centre, high]), angle)
    widths = np.array([element.beamwidth(f) for f in frequency])
    depth = np.linspace(deepest / 100.0, deepest, 100)
    width = min(element.beamwidth(element.centre)[1], 179.0)
    footprint = np.asarray(deadzone.footprint(depth, width))
    limit = np.asarray(deadzone.swath(depth, np.minimum(height, depth)))
    return Curves(
        name=element.name,
        frequency=frequency,
        source_level=np.asarray(20.0 * np.log10(element.source_amplitude(frequency))),
        directivity=element.directivity(frequency),
        beamwidth_along=widths[:, 0],
        beamwidth_across=widths[:, 1],
        angle=angle,
        pattern_along=along,
        pattern_across=across,
        depth=depth,
        footprint=footprint,
        searched=np.minimum(footprint, limit),
        height=height,
    )


def cost_of_width(narrow: Element, wide: Element) -> dict[str, float]:
    """Return what the wide element loses against the narrow one at band centre, in the default circumstance.

    source_level_db: loss of source level [dB]; noise_db: rise of noise after the filter [dB]; reach_ratio: reach of the
    wide one over that of the narrow one [1].
    """
    quiet = (WIND_SPEED, True, VESSEL)
    return {
        "source_level_db": narrow.source_level(narrow.centre) - wide.source_level(wide.centre),
        "noise_db": wide.noise_level(*quiet) - narrow.noise_level(*quiet),
        "reach_ratio": reach(wide) / reach(narrow),
    }
