"""Texts on a figure: their width, the size at which they fit, and where they break."""

import re
from functools import lru_cache

#: fonts named in SVG and PDF: the first is used here, the others may replace it in the reader's program
FONTS = ("DejaVu Sans", "Verdana", "Arial", "sans-serif")


@lru_cache(maxsize=4096)
def text_width(text: str, points: float, bold: bool = False) -> float:
    """Return the width of a text in our font [inch]: 1 % more than its outlines, because screens round to pixels."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(family=FONTS[0], weight="bold" if bold else "normal", size=points)
    widest = max(text_to_path.get_text_width_height_descent(row, font, False)[0] for row in text.split("\n"))
    return 1.01 * float(widest) / 72


def fit_points(text: str, points: float, width: float, bold: bool = False, least: float = 6.0) -> float:
    """Return the text size [pt] at which a text fits a width [inch], not above `points`, not below `least`."""
    return max(min(points, points * width / max(text_width(text, points, bold), 1e-9)), min(least, points))


def shorten(text: str, points: float, width: float, bold: bool = False) -> str:
    """Return a text, cut with an ellipsis if it does not fit a width [inch] at this size."""
    if text_width(text, points, bold) <= width * 1.001:
        return text
    low, high = 0, len(text)
    while high - low > 1:
        middle = (low + high) // 2
        fits = text_width(text[:middle] + "\u2026", points, bold) <= width
        low, high = (middle, high) if fits else (low, middle)
    return text[:low].rstrip() + "\u2026"


#: places where a line does not break: between a number and its unit, before and after a cross
_HELD = re.compile(r"(?<=\d) (?=(?:m|cm|mm|km|ft|in|fathoms?|kHz|MHz|ms|kn|dB|%)(?![A-Za-z]))| (?=\u00d7)|(?<=\u00d7) ")


def parts(text: str) -> list[str]:
    """Return the words of a text; a number stays with its unit, because a line that begins with 'm' is misread."""
    return [word.replace("\u00a0", " ") for word in _HELD.sub("\u00a0", text).split(" ") if word.strip()]


def wrapped(text: str, points: float, width: float, bold: bool = False) -> str:
    """Return a text in lines that fit a width [inch] at a size [pt]; a word too wide is broken, and nothing is cut."""
    rows = [""]
    for word in parts(" ".join(text.split())):
        longer = f"{rows[-1]} {word}".strip()
        if rows[-1] and text_width(longer, points, bold) > width:
            rows.append(word)
        else:
            rows[-1] = longer
        while text_width(rows[-1], points, bold) > width and len(rows[-1]) > 1:
            rest = rows.pop()
            take = next((k for k in range(len(rest) - 1, 1, -1) if text_width(rest[:k], points, bold) <= width), 1)
            take = rest.rfind(" ", 1, take + 1) if " " in rest[1 : take + 1] else take
            rows += [rest[:take].rstrip(), rest[take:].lstrip()]
    return "\n".join(rows)
