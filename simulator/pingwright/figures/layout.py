"""Where the panels of the main picture stand, in inches from the lower left corner."""

from dataclasses import dataclass

from pingwright.figures.style import SLIDE_HEIGHT, Sheet

Box = tuple[float, float, float, float]
NOWHERE: Box = (0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Block:
    """One element's panels: boxes (left, bottom, width, height) [inch]; words: left, top, width of the text below.

    first, last: whether it stands at the left or right end of its row, where the scales are.
    """

    echogram: Box
    strip: Box
    curve: Box
    words: tuple[float, float, float]
    first: bool
    last: bool


@dataclass(frozen=True)
class Plan:
    """All places of a picture [inch]: size, blocks in element order, cutaway views, level scale, legend.

    legend: left, top, width; note, words about the legend's numbers: left, bottom, width.
    """

    width: float
    height: float
    blocks: tuple[Block, ...]
    side: Box
    ahead: Box
    scale: Box
    legend: tuple[float, float, float]
    note: tuple[float, float, float]

    def box(self, box: Box) -> Box:
        """Return a box as fractions of the figure."""
        left, bottom, wide, tall = box
        return left / self.width, bottom / self.height, wide / self.width, tall / self.height


@dataclass(frozen=True)
class _Rows:
    """Heights [inch] before scaling: head, echogram, strip, words under an element, foot."""

    head: float
    echogram: float
    strip: float
    words: float
    foot: float


_ROWS = {
    "two-column": _Rows(0.7, 1.5, 1.9, 1.22, 1.95),
    "one-column": _Rows(0.78, 1.3, 1.7, 1.26, 2.05),
    "slide": _Rows(0.7, 0.8, 1.24, 0.86, 0.0),
}
_GAP = 0.1  # between echogram and strip
_TICKS = 0.34  # under the strip, for its scale


def per_row(sheet: Sheet, count: int) -> int:
    """Return how many elements stand side by side."""
    if sheet.size == "slide":
        return count
    most = 4 if sheet.size == "two-column" else 3
    rows = -(-count // most)
    return -(-count // rows)


def plan(sheet: Sheet, count: int) -> Plan:
    """Return the places for a number of elements."""
    rows, k = _ROWS[sheet.size], sheet.scale
    across = per_row(sheet, count)
    lines = -(-count // across)
    one = (rows.echogram + _GAP + rows.strip + _TICKS + rows.words) * k
    height = (
        SLIDE_HEIGHT if sheet.size == "slide" else (rows.head + rows.foot) * k + lines * one + 0.22 * k * (lines - 1)
    )
    aside = 3.6 if sheet.size == "slide" else 0.0
    left, right = 0.5 * k, sheet.width - 0.5 * k - aside
    gap = 0.13 * k
    wide = (right - left - gap * (across - 1)) / across
    blocks = []
    for index in range(count):
        line, column = divmod(index, across)
        top = height - rows.head * k - line * (one + 0.22 * k)
        end = column == across - 1 or index == count - 1
        blocks.append(_block(sheet, left + column * (wide + gap), top, wide, (column == 0, end)))
    return _with_foot(sheet, height, tuple(blocks), aside)


def _block(sheet: Sheet, left: float, top: float, wide: float, ends: tuple[bool, bool]) -> Block:
    rows, k = _ROWS[sheet.size], sheet.scale
    curve = 0.26 * wide if wide > 1.3 * k else 0.0
    main = wide - curve - (0.04 * k if curve else 0.0)
    first = top - rows.echogram * k
    second = first - _GAP * k - rows.strip * k
    return Block(
        echogram=(left, first, wide, rows.echogram * k),
        strip=(left, second, main, rows.strip * k),
        curve=(left + wide - curve, second, curve, rows.strip * k) if curve else NOWHERE,
        words=(left, second - _TICKS * k, wide),
        first=ends[0],
        last=ends[1],
    )


def _with_foot(sheet: Sheet, height: float, blocks: tuple[Block, ...], aside: float) -> Plan:
    k, width = sheet.scale, sheet.width
    if sheet.size == "slide":
        left = width - aside + 0.55
        side, scale = (left, 3.75, aside - 0.75, 2.65), (left, 2.75, aside - 0.8, 0.17)
        return Plan(
            width, height, blocks, side, NOWHERE, scale, (left - 0.3, 2.2, aside), (left - 0.3, 0.42, aside - 0.3)
        )
    if sheet.size == "one-column":
        side, scale = (0.5 * k, 0.66 * k, 1.5 * k, 1.25 * k), (2.2 * k, 0.7 * k, 1.2 * k, 0.1 * k)
        legend, note = (2.1 * k, 1.95 * k, 1.6), (2.1 * k, 0.86 * k, width - 2.2 * k)
        return Plan(width, height, blocks, side, NOWHERE, scale, legend, note)
    side = (0.5 * k, 0.56 * k, 2.35 * k, 1.25 * k)
    ahead = (3.0 * k, 0.56 * k, 1.3 * k, 1.25 * k)
    scale, legend = (4.75 * k, 0.62 * k, 1.9 * k, 0.12 * k), (4.75 * k, 1.92 * k, 2.2 * k)
    return Plan(width, height, blocks, side, ahead, scale, legend, (4.75 * k, 0.79 * k, 2.25 * k))
