"""The measures by name. A new one is a new file, a line here and a row in `inputs.measures`."""

from pingwright.measures.base import Measure
from pingwright.measures.beam_width import BeamWidth
from pingwright.measures.bottom_reach import BottomReach
from pingwright.measures.detected import Detected
from pingwright.measures.m_of_n import MOfN
from pingwright.measures.range_resolution import RangeResolution
from pingwright.measures.reach import Reach
from pingwright.measures.separated import Separated
from pingwright.measures.separated_pair import SeparatedPair
from pingwright.measures.smallest_fish import SmallestFish
from pingwright.measures.swath import Swath

MEASURES: tuple[Measure, ...] = (
    Separated(), Detected(), MOfN(), SeparatedPair(), Reach(), BottomReach(), SmallestFish(), Swath(), BeamWidth(),
    RangeResolution(),
)  # fmt: skip


def measures() -> dict[str, Measure]:
    """Return every measure by its name in files."""
    return {one.name: one for one in MEASURES}


def measure(name: str) -> Measure:
    """Return a measure by name; KeyError for an unknown one."""
    return measures()[name]
