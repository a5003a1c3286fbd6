"""Results of a sweep as sweep.csv, failures.csv and sweep.json: one row for each scene and element."""

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from pingwright.files import PROGRAM, digest
from pingwright.sweeps.plan import Column, Plan, column

TABLE, DATA, FAILURES, PICTURE = "sweep.csv", "sweep.json", "failures.csv", "sweep.png"
SYNTHETIC = "Simulated; no proof of any product's performance."

Result = Mapping[str, Any]


def columns(plan: Plan) -> list[Column]:
    """Return the columns of the varied keys, in order."""
    return [column(key, plan.values(key)) for key in plan.keys]


def drawn_columns(plan: Plan) -> list[Column]:
    """Return the columns along which a picture is drawn: of keys that change together, the first stands for all."""
    behind = list(plan.together)[1:]
    return [column(key, plan.values(key)) for key in plan.keys if key not in behind]


def headed(name: str, unit: str) -> str:
    """Return a column's header: `name [unit]`, the name alone where there is no unit."""
    return f"{name} [{unit}]" if unit else name


def numbers(results: Sequence[Result]) -> dict[str, Mapping[str, Any]]:
    """Return every number of the results: name -> {unit, definition}, in the order of the summary."""
    found: dict[str, Mapping[str, Any]] = {}
    for result in results:
        for values in (result["elements"] or {}).values():
            for name, number in values.items():
                found.setdefault(name, {"unit": number["unit"], "definition": number["definition"]})
    return found


def header(plan: Plan, results: Sequence[Result]) -> list[str]:
    """Return the header of sweep.csv: scene, the varied keys, seed, element, every number."""
    varied = [headed(one.key, one.unit) for one in columns(plan)]
    measured = [headed(name, about["unit"]) for name, about in numbers(results).items()]
    return ["scene", *varied, "seed", "element", *measured]


def rows(plan: Plan, results: Sequence[Result]) -> list[list[Any]]:
    """Return the rows of sweep.csv under `header`; None where there is no number. Refused scenes have none."""
    varied, names = columns(plan), list(numbers(results))
    return [
        [
            result["number"],
            *(one.cell(result["changes"][one.key]) for one in varied),
            result["seed"],
            element,
            *(values.get(name, {}).get("value") for name in names),
        ]
        for result in results
        for element, values in (result["elements"] or {}).items()
    ]


def failures(plan: Plan, results: Sequence[Result]) -> list[list[Any]]:
    """Return the header and rows of failures.csv: each refused scene, with the message."""
    varied = columns(plan)
    head = ["scene", *(headed(one.key, one.unit) for one in varied), "seed", "message"]
    refused = [
        [r["number"], *(one.cell(r["changes"][one.key]) for one in varied), r["seed"], r["message"]]
        for r in results
        if r["elements"] is None
    ]
    return [head, *refused]


def as_csv(lines: Sequence[Sequence[Any]]) -> str:
    """Return lines as CSV text (RFC 4180, with plain line ends); an empty cell where there is no value.

    A text that a spreadsheet would read as a formula gets a space in front.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    for line in lines:
        writer.writerow(["" if cell is None else _harmless(cell) for cell in line])
    return out.getvalue()


def _harmless(cell: Any) -> Any:
    return f" {cell}" if isinstance(cell, str) and cell[:1] in ("=", "+", "-", "@") else cell


def as_data(plan: Plan, results: Sequence[Result], share: tuple[int, int], folder: Path, names: Sequence[str]) -> Any:
    """Return the contents of sweep.json: the sweep, its results by scene, and the sha256 of the other files."""
    return {
        "program": PROGRAM,
        "synthetic": SYNTHETIC,
        "title": plan.title,
        "fingerprint": plan.fingerprint,
        "job": list(share),
        "scenes": plan.count,
        "vary": {key: list(values) for key, values in plan.vary.items()},
        "together": {key: list(values) for key, values in plan.together.items()},
        "seeds": list(plan.seeds),
        "keep": plan.keep,
        "scenario": plan.text,
        "inputs": sorted(plan.files),
        "numbers": numbers(results),
        "results": [_slim(result) for result in results],
        "files": {name: digest(folder / name) for name in names},
    }


def _slim(result: Result) -> dict[str, Any]:
    """Return a result with only the values: units and definitions are written once for all."""
    elements = result["elements"]
    values = elements and {
        name: {key: {k: v for k, v in one.items() if k not in {"unit", "definition"}} for key, one in numbers_.items()}
        for name, numbers_ in elements.items()
    }
    return {**result, "elements": values}


def results_of(data: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the results in sweep.json, with units and definitions again."""
    about = data["numbers"]
    return [
        {
            **result,
            "elements": result["elements"]
            and {
                name: {key: {**one, **about[key]} for key, one in numbers_.items()}
                for name, numbers_ in result["elements"].items()
            },
        }
        for result in data["results"]
    ]
