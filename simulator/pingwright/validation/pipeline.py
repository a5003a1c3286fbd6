"""Everything validated in one go: rows of formulas, scenes simulated on the spot, and what is not validated."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pingwright import files
from pingwright.validation.checks.scene import Check
from pingwright.validation.row import Compared

Progress = Callable[[str, int, int], None]

TEXT, DATA, PAGE = "validation.md", "validation.json", "validation.html"


@dataclass(frozen=True)
class Validation:
    """What came out: every row of a formula, every scene's number; `missed` names those outside their tolerance."""

    rows: tuple[Compared, ...]
    checks: tuple[Check, ...]

    @property
    def missed(self) -> tuple[str, ...]:
        """Names of what lies outside its tolerance."""
        return (*(str(r.row) for r in self.rows if not r.met), *(c.what for c in self.checks if not c.met))

    @property
    def answer(self) -> str:
        """The outcome in one sentence."""
        good, of = sum(row.met for row in self.rows), len(self.rows)
        met = f"{good} of {of} formulas' values and {sum(c.met for c in self.checks)} of {len(self.checks)} simulated"
        end = f" Outside: {'; '.join(self.missed[:5])}." if self.missed else ""
        return f"{met} numbers lie within their tolerance.{end}"


@dataclass(frozen=True)
class Results(files.Results):
    """What validating leaves, and what was missed."""

    missed: tuple[str, ...] = ()


def checks(quick: bool) -> Iterator[Callable[[], Iterator[Check]]]:
    """Yield the checks that simulate; quick: fewer pings, and so wider tolerances."""
    from pingwright.validation.checks import chances, many, targets

    yield from (targets.strength, targets.pattern, targets.travel, targets.resolution)
    yield lambda: many.layer(60 if quick else 400)
    yield lambda: many.seabed(120 if quick else 600)
    yield lambda: chances.noise(100 if quick else 600)
    yield lambda: chances.detection(1000 if quick else 6000)
    if not quick:
        yield chances.dead_zone


def validate(*, quick: bool = False, progress: Progress | None = None) -> Validation:
    """Compute every row and simulate every check. quick: with fewer pings, in some seconds."""
    from pingwright.validation.collected import rows

    compared = []
    given = rows()
    for number, row in enumerate(given):
        if progress and number % 20 == 0:
            progress("formulas", number, len(given))
        compared.append(row.compare())
    result: list[Check] = []
    functions = list(checks(quick))
    for number, function in enumerate(functions):
        if progress:
            progress("simulating", number, len(functions))
        result += function()
    if progress:
        progress("simulating", len(functions), len(functions))
    return Validation(tuple(compared), tuple(result))


def run(out: Path | None = None, *, quick: bool = False, progress: Progress | None = None) -> Results:
    """Validate, and write validation.md, validation.html and validation.json into a folder (default out/validation).

    Raises ScenarioError (the folder is not for us) or UnfinishedError (disk).
    """
    import json

    from pingwright.validation import writing

    folder = out if out is not None else Path("out") / "validation"
    with files.claimed(folder, (TEXT, DATA, PAGE)):
        result = validate(quick=quick, progress=progress)
        files.write_text(folder / TEXT, writing.as_text(result))
        files.write_text(folder / PAGE, writing.as_page(result))
        digests = {name: files.digest(folder / name) for name in (TEXT, PAGE)}
        data: dict[str, Any] = writing.as_data(result) | {"files": digests}
        files.write_text(folder / DATA, json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n")
    return Results(folder, (TEXT, PAGE, DATA), result.answer, (), result.missed)
