"""Whether the numbers of a summary can be true at all: what no scene, however odd, may give."""

import math
import re
from typing import Any

COUNTS = {
    "fish",
    "fish_separated",
    "fish_merged",
    "fish_not_shown",
    "fish_outside",
    "mark_pings",
    "pings",
    "bottom_lost",
}
SHARES = {"share_separated", "share_detected", "false_alarms", "pass_separated", "pass_detected"}
#: What is known of every element in every water.
ALWAYS = {
    "fish", "pings", "range_resolution", "band_low", "band_high", "pulse_length", "beamwidth_along", "noise_level",
    "beamwidth_across", "equivalent_beam_angle", "source_level", "absorption", "effective_pulse",
}  # fmt: skip
NOT_NEGATIVE = {
    "arch_length", "reach", "reach_louder", "reach_quieter", "smallest_fish", "swath", "geometric_width",
    "footprint_along", "footprint_across", "edge_height", "absorption", "blank_range", "near_field",
    "finite_amplitude_loss", "face_intensity",
}  # fmt: skip
POSITIVE = {"range_resolution", "effective_pulse", "pulse_length", "band_low"}


def faults(data: dict[str, Any], text: str = "") -> list[str]:
    """Return what is impossible in the data of a summary (report.summary.as_data) and in its text."""
    found = ["the text holds a nan"] if re.search(r"\b(nan|inf)\b", text) else []
    for element in data["elements"]:
        values = element["numbers"]
        found += [f"{name} is missing" for name in sorted(ALWAYS) if values[name]["value"] is None]
        for name, number in values.items():
            if number["value"] is not None and not _possible(name, number):
                found.append(f"{name}: {number}")
        marks = sum(values[f"fish_{mark}"]["value"] for mark in ("separated", "merged", "not_shown"))
        if marks != values["fish"]["value"]:
            found.append(f"{marks} marks for {values['fish']['value']} fish")
    return found


def _possible(name: str, number: dict[str, Any]) -> bool:
    value = number["value"]
    if not math.isfinite(value):
        return False
    if name in COUNTS:
        return value >= 0
    if name in SHARES:
        return 0 <= number["low"] <= value <= number["high"] <= 1 and 0 <= number["hits"] <= number["of"]
    if name.startswith("beamwidth"):
        return 0 < value <= 360
    return value > 0 if name in POSITIVE else value >= 0 or name not in NOT_NEGATIVE
