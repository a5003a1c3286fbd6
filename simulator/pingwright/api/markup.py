"""What a notebook shows: a small table of a title, rows and a foot, every text escaped."""

from collections.abc import Iterable
from html import escape

SYNTHETIC = "Simulated. Not for navigation, not for diving, no proof of a product's performance."
_STYLE = "border-collapse:collapse;font-size:90%"
_CELL = "padding:2px 10px 2px 0;text-align:left;vertical-align:top"


def table(title: str, rows: Iterable[tuple[str, ...]], foot: str = "") -> str:
    """Return HTML: the title in bold, rows of cells (the first of a row as its heading), a foot in small type."""
    body = "".join(
        "<tr>"
        + "".join(
            f'<{"th" if column == 0 else "td"} style="{_CELL}">{escape(cell)}</{"th" if column == 0 else "td"}>'
            for column, cell in enumerate(row)
        )
        + "</tr>"
        for row in rows
    )
    small = f"<small>{escape(foot)}</small>" if foot else ""
    return f'<div><b>{escape(title)}</b><table style="{_STYLE}">{body}</table>{small}</div>'


def shortened(text: str, longest: int = 60) -> str:
    """Return a text of at most a number of characters, cut with three dots."""
    return text if len(text) <= longest else text[: longest - 3] + "..."
