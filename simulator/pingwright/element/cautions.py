"""What a user should know about elements before believing what they show; `describe` holds the numbers."""

from collections.abc import Sequence
from itertools import combinations

from pingwright.element.model import Element
from pingwright.element.power import ADVISED_POWER
from pingwright.inputs.elements import from_catalogue

#: Pairs of elements that one note names.
MOST_PAIRS = 3


def near_fields(elements: Sequence[Element], nearest: float) -> list[str]:
    """Return a text for each element that has something in its near field; nearest: distance of that thing [m]."""
    sentences = []
    for element in elements:
        reach = element.near_field
        if reach > max(nearest, element.blank_range):
            sentences.append(
                f"{element.name}: its near field ends at {reach:.2g} m, but the nearest thing is {nearest:.2g} m away."
                " In the near field the beam is not yet formed. It is drawn as in the far field, so do not believe"
                " levels and widths there."
            )
    return sentences


def driven_hard(elements: Sequence[Element]) -> list[str]:
    """Return one text about the user's elements with more power for the area of their face than is advised, or none.

    Elements with power and face of a catalogue entry are left out: `list elements` warns of them.
    """
    over = [one for one in elements if one.power_density > ADVISED_POWER and not _of_the_catalogue(one)]
    if not over:
        return []
    each = ", ".join(f"{element.name} {element.power_density / 1e3:.0f} kW/m2 ({_lost(element)})" for element in over)
    return [
        f"The electrical power for each square metre of the face is above {ADVISED_POWER / 1e3:.0f} kW/m2, the limit"
        f" that Korneliussen et al. 2008 advise (from memory). Above it, much of the power goes into harmonics: {each}."
    ]


def _of_the_catalogue(element: Element) -> bool:
    spec = element.spec
    if spec.use is None:
        return False
    entry = from_catalogue(spec.use)
    return spec.face == entry.face and spec.power <= entry.power


def _lost(element: Element) -> str:
    if not element.spec.finite_amplitude:
        return "loss switched off"
    return (
        f"loss of {element.finite_amplitude_loss:.1f} dB one way to {element.far:.0f} m, correct within a factor of 2"
    )


def shared_bands(elements: Sequence[Element]) -> list[str]:
    """Return a text that names the pairs of elements that ping at the same time in overlapping bands, or none."""
    pairs = []
    for one, other in combinations(elements, 2):
        low, high = max(one.band[0], other.band[0]), min(one.band[1], other.band[1])
        if low < high:
            pairs.append(f"{one.name} and {other.name} share {low / 1e3:g} to {high / 1e3:g} kHz")
    if not pairs:
        return []
    more = f"; and {len(pairs) - MOST_PAIRS} more pairs" if len(pairs) > MOST_PAIRS else ""
    return [
        "Elements ping at the same time. Elements with overlapping bands receive each other's pulse:"
        f" {'; '.join(pairs[:MOST_PAIRS])}{more}. To avoid this, write boat.crosstalk = false (each pings as if alone)"
        " or boat.in_turn = true (they ping in turn)."
    ]
