"""The pulse length an element takes where its scenario names none: one rule, for any depth."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pingwright.inputs.elements import Element

#: Share of the two-way time to the bottom that a chirp takes [1], so that the blind zone is 2 % of the depth. Assumed.
SHARE = 0.02
SHORTEST, LONGEST = 0.1e-3, 10e-3  # of a chirp [s], assumed
TONE = 0.2e-3  # a typical short ping [s], assumed
TONE_SHARE = 0.1  # of the two-way time at most [1], assumed


def length_at(two_way_time: float, tone: bool = False) -> float:
    """Return the length of a pulse [s] for a bottom whose echo comes after two_way_time [s].

    A chirp: 2 % of that time, 0.1 to 10 ms. A tone: 0.2 ms, or 10 % of that time where this is shorter. The shares are
    *assumed*: common practice of sounders that choose the pulse themselves, no source.
    """
    if tone:
        return min(TONE, TONE_SHARE * two_way_time)
    return min(max(SHARE * two_way_time, SHORTEST), LONGEST)


def with_length(spec: "Element", two_way_time: float) -> "Element":
    """Return an element whose pulse has a length: its own, or that for a bottom after two_way_time [s]."""
    if spec.pulse.length is not None:
        return spec
    length = length_at(two_way_time, tone=spec.pulse.tone is not None)
    return spec.model_copy(update={"pulse": spec.pulse.model_copy(update={"length": length})})
