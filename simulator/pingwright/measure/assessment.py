"""Results of measuring a recording: frozen, for figures, page and report; nothing here computes."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pingwright.measure.certainty import Certainty, Repeated

FloatArray = NDArray[np.float64]

Mark = Literal["separated", "merged", "not_shown"]

#: Every mark that a fish can get, best first: detected and separated from the bottom; detected only; neither.
MARKS: tuple[Mark, ...] = ("separated", "merged", "not_shown")


#: What a fish is judged by: the levels of its pings alone, or also what the truth says of the things near it.
Rule = Literal["levels", "structure", "ground", "both", "unknown"]
RULE_WORDS: Mapping[Rule, str] = MappingProxyType(
    {
        "levels": "the recorded levels alone",
        "structure": "the recorded levels over the known echo of the structure near it",
        "ground": "the recorded levels over the known echo of the steep ground near it",
        "both": "the recorded levels over the known echo of the structure and the steep ground near it",
        "unknown": "the recorded levels alone, because the echo of the structure near it is not known",
    }
)


@dataclass(frozen=True)
class Share:
    """A share of trials with its interval of fixed size.

    value: hits / of (nan when of is 0); low, high: two-sided 95 % Clopper-Pearson interval (0, 1 when of is 0).
    """

    hits: int
    of: int
    value: float
    low: float
    high: float


@dataclass(frozen=True)
class ClosedForm:
    """Numbers from closed forms only, under the conditions of the recording; nan if not requested or not defined.

    depth [m] below the transducer at which footprint, smallest fish and swath hold (the median true bottom); reach [m];
    smallest_fish [m] and smallest_fish_text (says "< lambda ..." outside the model); footprint_along, footprint_across
    [m, one-way -3 dB]; swath [m]; geometric_width [m]: 2 sqrt(2 d h - h^2) for a fish at fish_height [m]; edge_height
    [m]: height hidden at the footprint's edge; fish_length, fish_height [m]: of the fish these numbers are about (the
    median fish of the recording); wavelength [m] at band centre.
    """

    depth: float
    reach: float
    smallest_fish: float
    smallest_fish_text: str
    footprint_along: float
    footprint_across: float
    swath: float
    geometric_width: float
    edge_height: float
    fish_length: float
    fish_height: float
    wavelength: float


@dataclass(frozen=True)
class ElementAssessment:
    """The assessment of one element.

    On (fish), in the order of the truth group: mark, by the whole pass; fish_ping, the ping nearest to it; fish_range
    [m], where its echo is drawn on the element's range axis then; nearest_mark, by that ping alone; fish_peak [m],
    range of its peak in that ping or, without one, of its strongest in the pass, fish_strength [dB re 1 m2], echo
    strength of the same, nan if there is none; pings_in_beam, pings_detected, pings_separated: pings of its pass, in
    the main lobe, of these detected and separated; arch_length [m], distance of the boat from the first to the last
    ping that detects it, arch_depth [m], range of its farthest peak less that of its nearest, nan where there is none;
    reason: why it is not shown, a key of measure.reasons.REASONS, empty where it is shown; rule: what it was judged by,
    a key of RULE_WORDS. one_arch: sets of fish whose echoes lie on each other, by their places in the truth group.
    On (ping): bottom_range [m], pick on the element's range axis, nan where there is none; bottom_peak [m], range of
    the bottom's maximum; bottom_level [dB re 1 uPa]; bottom_error [m], pick less truth, positive = too deep. counts:
    mark -> number of fish. detected, separated: shares of all fish. false_alarms: share of the fish's passes, moved to
    where no fish is, in which "separated" scored; false_alarms_of (fish): the same by fish, nan without such a pass.
    bottom_lost: pings without a bottom pick although the bottom is in the record.
    passes: results of fresh passes over the same fish, or None; with them, `overall` is the share over all of them.
    range_resolution [m]: full width at -3 dB of a point's echo; bottom_error_median, bottom_error_spread [m] (half the
    16..84 % span).
    """

    name: str
    slug: str
    mark: tuple[Mark, ...]
    fish_ping: NDArray[np.int64]
    fish_range: FloatArray
    fish_peak: FloatArray
    fish_strength: FloatArray
    bottom_range: FloatArray
    bottom_peak: FloatArray
    bottom_level: FloatArray
    bottom_error: FloatArray
    counts: Mapping[str, int]
    detected: Share
    separated: Share
    false_alarms: Share
    range_resolution: float
    bottom_error_median: float
    bottom_error_spread: float
    closed: ClosedForm
    nearest_mark: tuple[Mark, ...] = ()
    pings_in_beam: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    pings_detected: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    pings_separated: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    arch_length: FloatArray = field(default_factory=lambda: np.zeros(0))
    arch_depth: FloatArray = field(default_factory=lambda: np.zeros(0))
    reason: tuple[str, ...] = ()
    rule: tuple[Rule, ...] = ()
    one_arch: tuple[tuple[int, ...], ...] = ()
    false_alarms_of: FloatArray = field(default_factory=lambda: np.zeros(0))
    bottom_lost: int = 0
    passes: Repeated | None = None
    #: further numbers, by name of their definition
    extra: Mapping[str, float] = field(default_factory=dict)

    @property
    def overall(self) -> Share | Certainty:
        """The share of all fish that are separated, with its interval: over fresh passes, or in this one recording."""
        return self.separated if self.passes is None else self.passes.separates()


@dataclass(frozen=True)
class Assessment:
    """Everything measured in one recording.

    elements: in the recording's order. floor [dB re 1 m2]: the picture's floor used by "detected".
    either_detected, either_separated: shares of fish that one element or more detected, separated (None for one).
    definitions: name of a number -> its definition.
    """

    title: str
    floor: float
    elements: tuple[ElementAssessment, ...]
    definitions: Mapping[str, str]
    either_detected: Share | None = None
    either_separated: Share | None = None
