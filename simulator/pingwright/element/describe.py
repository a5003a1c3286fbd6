"""Describes an element: plain numbers and words for lists, and curves for figures.

The closed forms hold under the conditions in `reach`. The cost of width: the source level falls with the directivity,
and so does the receiver's gain against noise. A beam of ten times the solid angle has 10 dB less source level, receives
10 dB more noise, and detects about a third as far; less is lost where absorption decides. `cost_of_width` gives both
for a pair of elements.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from pingwright.acoustics import deadzone
from pingwright.echograms.record import HARMONICS_AT
from pingwright.element import reach
from pingwright.element.model import FAR, Element
from pingwright.element.power import ADVISED_POWER
from pingwright.element.reach import Banded
from pingwright.inputs import catalogue, elements
from pingwright.units import FEET_PER_FATHOM, METRES_PER_FOOT

FOOTPRINT_DEPTHS = (20.0, 50.0, 100.0, 200.0)
#: The two bottoms for which detection range is given: the weakest and the strongest echo of the catalogue.
BOTTOMS = ("mud", "rock")


def kind(along: float, across: float) -> str:
    """Return the class of a beam by its widths [deg]: fan (1.8 times wider one way), cone (from 22 deg) or pencil.

    The limits are assumed, so that they separate the entries of the catalogue.
    """
    if max(along, across) > 1.8 * min(along, across):
        return "fan"
    return "cone" if min(along, across) >= 22.0 else "pencil"


def describe(element: Element) -> dict[str, Any]:
    """Return an element as plain numbers and words; each key says its unit.

    Class and use come from the catalogue if the element was made from an entry, else the class follows from the beam.
    Ranges are lists: the number, and its values with own noise 10 dB higher and 10 dB lower.
    """
    low, high = element.band
    entry = catalogue.elements().get(element.spec.use or element.name)
    widths = [element.beamwidth(f) for f in (low, element.centre, high)]
    levels = element.source_amplitude(np.array([low, element.centre, high]))
    along, across = widths[1]
    centre = np.array([element.centre])
    own = reach.own_noise()
    row: dict[str, Any] = {
        "name": element.name,
        "class": entry.kind if entry else kind(along, across),
        "band_hz": [low, high],
        "pulse_length_s": element.pulse_length,
        "beamwidth_along_deg": [w[0] for w in widths],
        "beamwidth_across_deg": [w[1] for w in widths],
        "source_level_db_re_1_upa_m": [float(a) for a in 20.0 * np.log10(levels)],
        "finite_amplitude_loss_db": element.finite_amplitude_loss,
        "directivity_db": float(element.directivity(centre)[0]),
        "equivalent_beam_angle_db_re_1_sr": float(10.0 * np.log10(element.equivalent_beam_angle(centre)[0])),
        "range_resolution_m": element.point_width,
        "side_lobe_level_db": element.signal.filtered.side_lobe_level,
        "filter_loss_db": element.signal.filtered.loss,
        "near_field_m": element.near_field,
        "blank_range_m": element.blank_range,
        "noise_level_db_re_1_upa": element.noise_level(reach.WIND_SPEED, ambient=True, own=own),
        "own_noise_db_re_1_upa2_per_hz_at_50_khz": own,
        "reach_40_cm_fish_m": _listed(_reach(element)),
        "footprint_m": footprints(element, FOOTPRINT_DEPTHS),
    }
    for sediment in BOTTOMS:
        row[f"reach_{sediment}_bottom_m"] = _listed(_bottom(element, sediment))
    if np.isfinite(element.face.area):
        cavitation = element.cavitation()
        row["power_density_kw_per_m2"] = element.power_density / 1e3
        row["face_intensity_w_per_cm2"] = cavitation.intensity
        row["cavitation_rule_w_per_cm2"] = cavitation.rule
        row["cavitation_rule_source"] = "Urick 1983 ch. 4 (from memory), for up to 10 kHz; more is borne above"
    row["good_for"] = entry.good_for if entry else ""
    return row


def _open(element: Element) -> elements.Element:
    """Return an element's section as in the catalogue: its pulse follows the depth if the entry gives none."""
    entry = catalogue.elements().get(element.name)
    return element.spec if entry is None else elements.from_catalogue(element.name)


def _reach(element: Element) -> Banded:
    return reach.with_noise_band(lambda own: reach.fish_reach(_open(element), own), reach.own_noise())


def _bottom(element: Element, sediment: str) -> Banded:
    return reach.with_noise_band(lambda own: reach.bottom_reach(_open(element), own, sediment), reach.own_noise())


def _listed(number: Banded) -> list[float]:
    return [number.value, number.low, number.high]


def extra_fields(element: Element, wind_speed: float, ambient: bool, own: float | None) -> dict[str, float | str]:
    """Return further facts about an element for a recording, beside the fields of ElementInfo, as numbers and words.

    wind_speed [m/s], ambient, own: see `Element.noise_psd`. source_level_low, _high [dB re 1 uPa m]: at the band's
    ends; power [W]; directivity [dB], band centre; near_field [m]; tilts [deg]; side_lobe_level, filter_loss [dB], see
    `signal.Filtered`; point_width [m]; own_noise [dB re 1 uPa2/Hz at 50 kHz] with the noise behind the filter [dB re
    1 uPa] where it is 10 dB louder and quieter; face_intensity and cavitation_rule [W/cm2]; power_density [kW/m2];
    finite_amplitude_loss [dB], one way, taken off the source level, and what it is by 100 and 1000 m.
    """
    spec, band = element.spec, element.signal.filtered
    low, high = (float(20.0 * np.log10(element.source_amplitude(np.array([f]))[0])) for f in element.band)
    fields: dict[str, float | str] = {
        "source_level_low": low,
        "source_level_high": high,
        "face": spec.face.shape,
        "pulse_kind": "tone" if element.signal.is_tone else "chirp",
        "pulse_taper": float(element.signal.taper),
        "filter": "matched" if element.signal.is_tone else spec.filter,
        "filter_loss": band.loss,
        "point_width": element.point_width,
        "power": float(spec.power),
        "efficiency": float(spec.efficiency),
        "directivity": float(element.directivity(np.array([element.centre]))[0]),
        "near_field": element.near_field,
        "tilt_along": float(spec.tilt.along),
        "tilt_across": float(spec.tilt.across),
    }
    if not element.signal.is_tone:
        fields["side_lobe_level"] = band.side_lobe_level
    if own is not None:
        fields["own_noise"] = own
        for name, more in (("noise_level_louder", reach.NOISE_BAND), ("noise_level_quieter", -reach.NOISE_BAND)):
            fields[name] = element.noise_level(wind_speed, ambient, own + more)
    if np.isfinite(element.face.area):
        cavitation = element.cavitation()
        fields["face_intensity"] = cavitation.intensity
        fields["cavitation_rule"] = cavitation.rule
        fields["power_density"] = element.power_density / 1e3
        fields["finite_amplitude_loss"] = element.finite_amplitude_loss
        for far in HARMONICS_AT:
            fields[f"finite_amplitude_loss_{far}"] = replace(element, far=float(far)).finite_amplitude_loss
    return fields


def footprints(element: Element, depths: Sequence[float]) -> dict[str, list[float]]:
    """Return, by depth [m] as text, the one-way -3 dB footprint along and across [m] at band centre, axis vertical."""
    along, across = element.beamwidth(element.centre)
    limit = 179.0  # deg: a beam whose power never falls to half has no edge on the bottom
    widths = (min(along, limit), min(across, limit))
    return {f"{depth:g}": [float(deadzone.footprint(depth, width)) for width in widths] for depth in depths}


def from_catalogue(name: str) -> Element:
    """Return a catalogue entry as an element under the conditions of `reach`; by default with the pulse for 75 m.

    KeyError for an unknown name.
    """
    return reach.in_circumstance(elements.from_catalogue(name), far=FAR)


def describe_catalogue() -> dict[str, dict[str, Any]]:
    """Return every catalogue element's description by name, in the default circumstance.

    "cost_of_width" of cones and fans: result of `cost_of_width`, compared with the pencil of their band.
    """
    made = {name: from_catalogue(name) for name in catalogue.element_names()}
    rows = {name: describe(element) for name, element in made.items()}
    for name, row in rows.items():
        pencils = [n for n, r in rows.items() if r["class"] == "pencil" and r["band_hz"] == row["band_hz"]]
        if row["class"] != "pencil" and pencils:
            against = pencils[0]
            shares = [r["reach_40_cm_fish_m"][0] for r in (row, rows[against])]
            row["cost_of_width"] = {
                "against": against, **cost_of_width(made[against], made[name]), "reach_ratio": shares[0] / shares[1],
            }  # fmt: skip
    return rows


#: units -> metres in one, its short name: for depths, and for what lies across
_UNITS = {
    "m": ((1.0, "m"), (1.0, "m")),
    "ft": ((METRES_PER_FOOT, "ft"), (METRES_PER_FOOT, "ft")),
    "fathoms": ((METRES_PER_FOOT * FEET_PER_FATHOM, "fathoms"), (METRES_PER_FOOT, "ft")),
}


def listed(units: str = "m") -> dict[str, dict[str, Any]]:
    """Return the catalogue's elements by name: short texts by column, and under "numbers" the numbers in them.

    `list elements` shows this. units: "m", "ft" or "fathoms", of the texts; the numbers are metres. Values at the
    band's low end, centre and high end are separated by slashes.
    """
    return {name: {**_texts(row, units), "numbers": row} for name, row in describe_catalogue().items()}


def _texts(row: dict[str, Any], units: str) -> dict[str, str]:
    (deep, unit), (wide, short) = _UNITS[units]

    def three(values: list[float], form: str = ".1f") -> str:
        return " / ".join(format(value, form) for value in values)

    low, high = (f / 1e3 for f in row["band_hz"])
    at = f"{low:g} / {(low + high) / 2:g} / {high:g}"
    prints = [
        f"{float(depth) / deep:.0f} {unit}: {along / wide:.0f} x {across / wide:.0f} {short}"
        for depth, (along, across) in row["footprint_m"].items()
    ]
    bottoms = [f"{_with_band(row[f'reach_{sediment}_bottom_m'], deep, unit)} on {sediment}" for sediment in BOTTOMS]
    cell = row["range_resolution_m"]
    return {
        "class": row["class"],
        "band": f"{low:g} to {high:g} kHz",
        "beam along": three(row["beamwidth_along_deg"]) + f" deg at {at} kHz",
        "beam across": three(row["beamwidth_across_deg"]) + f" deg at {at} kHz",
        "source level": three(row["source_level_db_re_1_upa_m"]) + f" dB re 1 uPa m at {at} kHz, "
        f"{row['finite_amplitude_loss_db']:.1f} dB lost to harmonics over {FAR / deep:.0f} {unit}",
        "power over face area": f"{row['power_density_kw_per_m2']:.0f} kW/m2 electrical; advised, because of"
        " harmonics: at most "
        f"{ADVISED_POWER / 1e3:.0f} (Korneliussen et al. 2008, from memory)",
        "directivity": f"{row['directivity_db']:.1f} dB",
        "footprint along x across": ", ".join(prints),
        "range resolution": f"{1e3 * cell:.0f} mm" if units == "m" else f"{12 * cell / METRES_PER_FOOT:.1f} in",
        "range side lobes": _side_lobes_in_words(row["side_lobe_level_db"]),
        f"detection range, {'40 cm' if units == 'm' else '16 in'} fish": _with_band(
            row["reach_40_cm_fish_m"], deep, unit
        ),
        "bottom shown down to": ", ".join(bottoms),
        "noise assumed": CIRCUMSTANCE.format(level=row["own_noise_db_re_1_upa2_per_hz_at_50_khz"]),
        "cost of width": _cost_in_words(row["class"], row.get("cost_of_width")),
        "good_for": row["good_for"],
    }


#: The assumptions behind every range in the list, in words.
CIRCUMSTANCE = (
    "in the sea, wind 10 kn, boat at 4 kn with own noise of {level:.0f} dB re 1 uPa2/Hz at 50 kHz around the hull "
    "(assumed; in brackets: own noise 10 dB higher and 10 dB lower); one ping detects the fish in 5 of 10 cases and"
    " picks the bottom in 9 of 10"
)


def _with_band(reach_m: Sequence[float], metres: float, unit: str) -> str:
    value, low, high = (one / metres for one in reach_m)
    return f"{value:.0f} {unit} ({low:.0f} to {high:.0f})"


def _side_lobes_in_words(level: float) -> str:
    if np.isnan(level):
        return "none: a tone"
    return f"{level:.0f} dB of the energy of a point's echo, beyond 10 cells on one side"


def _cost_in_words(kind_of_beam: str, cost: Mapping[str, Any] | None) -> str:
    if cost is None and kind_of_beam == "pencil":
        return "none: the others are compared with the pencil"
    if cost is None:
        return "there is no pencil of this band to compare with"
    return (
        f"compared with {cost['against']}: {cost['source_level_db']:.1f} dB less source level, {cost['noise_db']:.1f}"
        f" dB more noise, {100 * (1 - cost['reach_ratio']):.0f} % less detection range"
    )


def cost_of_width(narrow: Element, wide: Element) -> dict[str, float]:
    """Return what the wide element loses compared with the narrow one at band centre, under the conditions in `reach`.

    source_level_db: loss of source level [dB]; noise_db: rise of noise behind the filter [dB].
    """
    quiet = (reach.WIND_SPEED, True, reach.own_noise())
    return {
        "source_level_db": narrow.source_level(narrow.centre) - wide.source_level(wide.centre),
        "noise_db": wide.noise_level(*quiet) - narrow.noise_level(*quiet),
    }
