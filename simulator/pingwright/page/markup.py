"""Keeps text that comes from a scenario out of markup, scripts and maths parsers."""

import base64
import hashlib
import html
import json
import math
from typing import Any

#: What ends or opens something inside a script element, or a line in older script parsers.
_IN_SCRIPT = {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"}


def text(value: object) -> str:
    """Return a value as text that is safe between tags and inside quoted attributes."""
    return html.escape(str(value), quote=True)


def json_block(identifier: str, value: Any) -> str:
    """Return a script element of type application/json that no text inside can end.

    Browsers never run a block of this type; `<`, `>` and `&` are escaped so that its text cannot close it either.
    Not-a-number and infinity become null, which JSON has and they are not.
    """
    body = json.dumps(_finite(value), ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for mark, escape in _IN_SCRIPT.items():
        body = body.replace(mark, escape)
    return f'<script type="application/json" id="{text(identifier)}">{body}</script>'


def script_hash(source: str) -> str:
    """Return a content security policy's source expression for one inline script (CSP Level 2, section 4.2.5)."""
    digest = base64.b64encode(hashlib.sha256(source.encode("utf-8")).digest()).decode("ascii")
    return f"'sha256-{digest}'"


def length(metres: float, digits: int = 2) -> str:
    """Return a length [m] as an element the page can turn into feet, or a dash where it is not finite.

    digits: decimals of metres; below a metre it stands in centimetres, with two figures.
    """
    if not math.isfinite(metres):
        return "\u2013"
    shown = (
        f"{metres:.{digits}f}\u00a0m" if abs(metres) >= 1 or metres == 0 else f"{_two_figures(100 * metres)}\u00a0cm"
    )
    shown = shown.replace("-", "\u2212")
    return f'<span class="length" data-m="{metres:.9g}" data-digits="{digits}">{shown}</span>'


def _two_figures(value: float) -> str:
    """Return a number with two figures, at most two decimals; the page's script has the same rule."""
    if abs(value) < 0.005:
        return "0"
    return f"{value:.{min(max(1 - math.floor(math.log10(abs(value))), 0), 2)}f}"


def _finite(value: Any) -> Any:
    """Return a JSON value in which numbers that are not finite are None."""
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: _finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(item) for item in value]
    return value
