"""What was validated, as text, as data and as a page with figures."""

import base64
import io
import math
from collections import Counter
from collections.abc import Iterator, Sequence
from html import escape
from typing import Any

from pingwright.files import PROGRAM, version
from pingwright.markdown import plain
from pingwright.validation.checks.scene import Check
from pingwright.validation.limits import LIMITS, assumed
from pingwright.validation.pipeline import Validation
from pingwright.validation.row import KNOWN, Compared

ROW_HEAD = ("formula", "computed", "expected", "difference", "tolerance", "", "how it is known", "source")
CHECK_HEAD = (
    "simulated",
    "computed",
    "expected",
    "difference",
    "tolerance",
    "unit",
    "",
    "from",
    "tolerance because of",
)
LIMIT_HEAD = ("what", "what depends on it", "what you can do")
ASSUMED_HEAD = ("catalogue", "entry", "source")
SYNTHETIC = "All of it is computed. It is no proof of any product's performance."


def number(value: Any) -> str:
    """Return a number, in its own unit, in up to seven significant figures; "none" where it is none."""
    if isinstance(value, complex):
        return f"{value.real:.6g}{value.imag:+.6g}j"
    return "none" if math.isnan(value) else f"{value:.7g}"


def _row(one: Compared) -> tuple[str, ...]:
    many = f" (worst of {one.count})" if one.count > 1 else ""
    figures = (number(one.computed), number(one.expected), f"{one.difference:.2g}", f"{one.tolerance:.2g}")
    return (one.row.what + many, *figures, _mark(one.met), one.row.known, one.row.source + one.note)


def _check(one: Check) -> tuple[str, ...]:
    figures = (
        number(one.computed),
        number(one.expected),
        f"{one.computed - one.expected:+.2g}",
        f"{one.tolerance:.2g}",
    )
    return (one.what, *figures, one.unit, _mark(one.met), one.how, one.why)


def _mark(met: bool) -> str:
    return "within" if met else "OUTSIDE"


def topics(validation: Validation) -> Iterator[tuple[str, list[tuple[str, ...]]]]:
    """Yield each topic with its rows as texts under ROW_HEAD."""
    for topic in dict.fromkeys(row.row.topic for row in validation.rows):
        yield topic, [_row(row) for row in validation.rows if row.row.topic == topic]


def counts(validation: Validation) -> str:
    """Return how many rows are known in which way, in words."""
    known = Counter(row.row.known for row in validation.rows)
    return "; ".join(f"{known[name]} {name}" for name in KNOWN if known[name])


def _lead(validation: Validation) -> tuple[str, ...]:
    return (
        f"{validation.answer} How the formulas' values are known: {counts(validation)}.",
        "Each row shows what the program computes beside a number from elsewhere, the worst where a row has several."
        ' "Seen in print": the number stands in the publication or on the page named. "By an independent library here":'
        ' a general library printed it on this project\'s own machines. "By independent code": code that shares nothing'
        ' with the program. "A law or identity": exact by definition. "From memory": not looked up.',
        SYNTHETIC,
    )


def as_text(validation: Validation) -> str:
    """Return validation.md."""
    parts = ["# Validation", "", f"Pingwright {version()}.", ""]
    for paragraph in _lead(validation):
        parts += [paragraph, ""]
    parts += [
        "## End to end: scenes simulated on the spot",
        "",
        *_table(CHECK_HEAD, [_check(c) for c in validation.checks]),
    ]
    parts += ["## What is not validated", "", *_table(LIMIT_HEAD, [(o.what, o.effect, o.remedy) for o in LIMITS])]
    parts += ["### Assumed, invented or from memory in the catalogues", "", *_table(ASSUMED_HEAD, assumed())]
    parts += ["## Formulas", ""]
    for topic, rows in topics(validation):
        parts += [f"### {topic}", "", *_table(ROW_HEAD, rows)]
    return "\n".join(parts)


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    lines = [f"| {' | '.join(head)} |", f"|{' --- |' * len(head)}"]
    return [*lines, *(f"| {' | '.join(plain(cell) for cell in row)} |" for row in rows), ""]


def as_data(validation: Validation) -> dict[str, Any]:
    """Return what validation.json holds; numbers that are none, and complex ones, as texts."""
    return {
        "program": PROGRAM,
        "version": version(),
        "synthetic": SYNTHETIC,
        "answer": validation.answer,
        "missed": list(validation.missed),
        "known": Counter(row.row.known for row in validation.rows),
        "rows": [
            {
                "topic": one.row.topic, "formula": one.row.what, "computed": _json(one.computed),
                "expected": _json(one.expected), "difference": _json(one.difference),
                "tolerance": _json(one.tolerance), "met": one.met, "known": one.row.known,
                "source": one.row.source, "values": one.count, "note": one.note,
            }
            for one in validation.rows
        ],
        "checks": [
            {
                "what": c.what, "computed": _json(c.computed), "expected": _json(c.expected), "unit": c.unit,
                "tolerance": _json(c.tolerance), "met": c.met, "from": c.how, "tolerance_because_of": c.why,
            }
            for c in validation.checks
        ],
        "not_validated": [{"what": o.what, "effect": o.effect, "remedy": o.remedy} for o in LIMITS],
        "assumed": [{"catalogue": c, "entry": e, "source": s} for c, e, s in assumed()],
    }  # fmt: skip


def _json(value: Any) -> Any:
    return value if isinstance(value, (int, float)) and math.isfinite(value) else number(value)


STYLE = (
    "body{font:15px/1.45 system-ui,sans-serif;max-width:75rem;margin:2rem auto;padding:0 1rem;color:#1a1a1a}"
    "table{border-collapse:collapse;font-size:13px;margin:.6rem 0 1.6rem}td,th{border-top:1px solid #ccc;"
    "padding:3px 10px 3px 0;text-align:left;vertical-align:top}th{border-top:0}.OUTSIDE{color:#b00020;font-weight:bold}"
    "img{max-width:46rem;width:100%}details>summary{cursor:pointer;font-weight:600;margin:.5rem 0}"
)


def as_page(validation: Validation) -> str:
    """Return validation.html: one file, figures inside, nothing fetched from elsewhere."""
    from pingwright.validation.curves import CURVES

    parts = [f"<h1>Validation</h1><p>Pingwright {escape(version())}.</p>"]
    parts += [f"<p>{escape(paragraph)}</p>" for paragraph in _lead(validation)]
    parts += [
        "<h2>End to end: scenes simulated on the spot</h2>",
        _html(CHECK_HEAD, [_check(c) for c in validation.checks]),
    ]
    limits = [(o.what, o.effect, o.remedy) for o in LIMITS]
    parts += ["<h2>What is not validated</h2>", _html(LIMIT_HEAD, limits)]
    listed = _html(ASSUMED_HEAD, assumed())
    parts += [f"<details><summary>Assumed, invented or from memory in the catalogues</summary>{listed}</details>"]
    parts.append("<h2>Formulas</h2>")
    for topic, rows in topics(validation):
        parts.append(f"<h3>{escape(topic)}</h3>")
        if topic in CURVES:
            parts.append(_image(CURVES[topic]()))
        parts.append(f"<details><summary>{len(rows)} rows</summary>{_html(ROW_HEAD, rows)}</details>")
    head = f"<meta charset='utf-8'><title>Validation</title><style>{STYLE}</style>"
    return f"<!doctype html><html lang='en'><head>{head}</head><body>{''.join(parts)}</body></html>\n"


def _html(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    top = "".join(f"<th>{escape(cell)}</th>" for cell in head)
    body = "".join("<tr>" + "".join(f"<td{_class(cell)}>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    return f"<table><tr>{top}</tr>{body}</table>"


def _class(cell: str) -> str:
    return ' class="OUTSIDE"' if cell == "OUTSIDE" else ""


def _image(what: Any) -> str:
    from pingwright.figures.charts.evidence import curves

    out = io.BytesIO()
    curves(what).savefig(out, format="png", dpi=110)
    data = base64.b64encode(out.getvalue()).decode("ascii")
    alt = f"{what.title}: {', '.join([*what.lines, *what.points])}, over {what.x_label}."
    return f"<p><img alt='{escape(alt, quote=True)}' src='data:image/png;base64,{data}'></p>"
