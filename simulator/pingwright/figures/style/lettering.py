"""Texts on a figure: their width, the size at which they fit, and where they break."""

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


def wrapped(text: str, points: float, width: float) -> str:
    """Return a text broken between words into lines that fit a width [inch] at a size [pt]."""
    rows = [""]
    for word in text.split():
        longer = f"{rows[-1]} {word}".strip()
        if rows[-1] and text_width(longer, points) > width:
            rows.append(word)
        else:
            rows[-1] = longer
    return "\n".join(rows)
