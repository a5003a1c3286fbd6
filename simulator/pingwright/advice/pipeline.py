"""ask: a day and a question in; ask.md, ask.json and ask.png out. Closed forms first, in seconds; then passes."""

import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from pingwright import files, words
from pingwright.advice import answers, sharpening, tables
from pingwright.advice.tables import Found, Table
from pingwright.errors import Fault, ScenarioError
from pingwright.files import Results
from pingwright.inputs.trip import Day, Trip, typed_units
from pingwright.inputs.trip_parts import QUESTIONS
from pingwright.markdown import pasted, plain
from pingwright.words import Units

PICTURE, TEXT, DATA = "ask.png", "ask.md", "ask.json"
NAMES = (PICTURE, TEXT, DATA)
CAUTION = (
    "Computed for the day you described, not measured at sea. Not for navigation or diving; no proof of any product's"
    " performance."
)
#: What closed forms leave out, and what is simulated.
FORMULAS = (
    "All of this comes from formulas. In them the bottom's echo does not change from ping to ping; passes"
    " may show fewer fish clear of the bottom when they are close to it. Without --quick, passes are simulated.",
)
SIMULATED = (
    f"Numbers with an interval (95 %) are simulated: {sharpening.PASSES} passes over the same fish for each share,"
    f" {sharpening.OFFSETS} for each width, {sharpening.EACH} pings or passes at each of {len(sharpening.LADDER)}"
    " depths or lengths of a search. Numbers without one, and all schools, come from formulas.",
)
APART = "Where formulas and passes differ by more than a tenth"


def run(
    path: Path | None,
    out: Path | None = None,
    *,
    settings: Mapping[str, Any] | None = None,
    text: str | None = None,
    threads: int | None = None,
    quick: bool = False,
    first: Callable[[str], None] | None = None,
    progress: Callable[[str, int, int], None] | None = None,
) -> Results:
    """Answer the question of a trip file; if a folder is given, write ask.md, ask.json and ask.png into it.

    settings: keys set by dotted paths; text: of a trip file, instead of a path; quick: closed forms only. first: called
    with the closed forms' answer, then with a line about each water as its passes are done. Raises ScenarioError.
    """
    from pingwright.inputs import trip as inputs
    from pingwright.inputs import typed

    trip = inputs.load(path, settings) if path else typed.parsed(text or "", settings or {})
    if trip.ask is None:
        allowed = ", ".join(QUESTIONS)
        message = (
            f"is missing; allowed: a table [ask] with the key about, one of {allowed}. To rank elements, use"
            " `pingwright match`"
        )
        raise ScenarioError([Fault(trip.name, 0, "ask", message)])
    if out is None:
        results = _answered(trip, threads, quick, first, progress)
        return Results(Path(), (), "\n\n".join([" ".join(answers.answer(results)), as_plain(results)]), ())
    with files.claimed(out, NAMES):
        results = _answered(trip, threads, quick, first, progress)
        write(results, out)
    return Results(out, NAMES, " ".join(answers.answer(results)), ())


def _answered(
    trip: Trip,
    threads: int | None,
    quick: bool,
    first: Callable[[str], None] | None,
    progress: Callable[[str, int, int], None] | None,
) -> Found:
    """Return the numbers of a question, sharpened by passes unless quick."""
    results = tables.gather(trip, units_of(trip), progress)
    if quick:
        return results
    if first:
        first(f"First answer, from formulas: {' '.join(answers.answer(results))}\n\nNow passes are simulated.")
    if progress:
        progress("passes", 0, 1)
    return sharpening.sharpened(results, threads, first)


def units_of(trip: Trip) -> Units:
    """Return the units of a trip's answers: those it states, else the unit in which its depth was typed."""
    return trip.units or typed_units(str(trip.text))


def write(results: Found, folder: Path) -> None:
    """Write the three files; ask.json comes last and holds the sha256 of the others."""
    from pingwright.figures import save
    from pingwright.figures.charts import ask_chart
    from pingwright.figures.embed import packed

    title, drawn = str(results.trip.title), panels(results)
    simulated = results.formulas is not None
    figure = ask_chart.ask_chart(drawn, title, units=results.units, simulated=simulated)
    alt = ask_chart.alt(drawn, title, results.units, simulated)
    with files.replacing(folder / PICTURE) as part:
        save.save(figure, part, packed(str(results.trip.text), int(results.trip.seed), {}), alt)
    shown = [
        "",
        f"![{plain(alt)}]({PICTURE})",
        "",
        *pasted("Caption", ask_chart.caption(drawn, title, results.units, simulated)),
    ]
    files.write_text(folder / TEXT, as_text(results) + "\n".join(shown))
    data = {
        "program": files.PROGRAM, "synthetic": CAUTION, "title": title, "about": results.about, "units": results.units,
        "answer": " ".join(answers.answer(results)), "simulated": results.formulas is not None,
        "differences": sharpening.differences(results), "definitions": definitions(results), **tables.data(results),
        "files": {name: files.digest(folder / name) for name in (PICTURE, TEXT)},
    }  # fmt: skip
    files.write_text(folder / DATA, json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n")


def left_out(results: Found) -> tuple[str, ...]:
    """Return sentences about what the numbers leave out, and which of them are simulated."""
    simulated = results.formulas is not None
    return (_ground(results.trip.day), *(SIMULATED if simulated else FORMULAS))


def _ground(day: Day) -> str:
    """Return what lies on the bottom, and which numbers leave it out."""
    if day.standing:
        what = "the wreck, a box of steel" if day.wreck else "the reef, a pile of boulders"
        return f"Shares and widths hold at {what}; depths and lengths leave it out."
    known = {"has a ledge": day.ledge, "carries weed": day.weed, "slopes": day.slope}
    there = words.listed([word for word, table in known.items() if table])
    return (
        f"The bottom here {f'{there}, and is otherwise' if there else 'is'} bare. A wreck or a reef"
        f"{'' if day.ledge else ', or a ledge,'} hides fish that these numbers count as shown."
    )


def definitions(results: Found) -> dict[str, str]:
    """Return the definitions of the columns that are shown."""
    heads = {head for table in tables.tables(results) for head in table.heads}
    return {name: text for name, text in answers.DEFINITIONS.items() if name in heads}


def as_text(results: Found) -> str:
    """Return ask.md: the answer, the tables, the definitions last."""
    lines = [
        f"# {plain(str(results.trip.title))}",
        "",
        *(f"{plain(s)}\n" for s in answers.answer(results)),
        CAUTION,
        "",
    ]
    for table in tables.tables(results):
        lines += [f"## {plain(table.title)}", "", *_markdown(table), ""]
    if apart := sharpening.differences(results):
        lines += [f"## {APART}", "", *(f"- {plain(text)}" for text in apart), ""]
    meanings = [f"- {name}: {text}." for name, text in definitions(results).items()]
    return "\n".join([*lines, "## What the numbers are", "", *meanings, "", "## What they leave out", "",
                      *(f"- {text}" for text in left_out(results)), ""])  # fmt: skip


def _markdown(table: Table) -> list[str]:
    rows = [f"| {' | '.join(plain(cell) for cell in row)} |" for row in (table.heads, *table.rows)]
    return [rows[0], f"|{' --- |' * len(table.heads)}", *rows[1:]]


def as_plain(results: Found) -> str:
    """Return the tables and definitions for the terminal."""
    lines = []
    for table in tables.tables(results):
        widths = [max(len(row[k]) for row in (table.heads, *table.rows)) for k in range(len(table.heads))]
        lines += [table.title, *("  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)).rstrip()
                                 for row in (table.heads, *table.rows)), ""]  # fmt: skip
    if apart := sharpening.differences(results):
        lines += [APART, *apart, ""]
    lines += [f"{name}: {text}." for name, text in definitions(results).items()]
    return "\n".join([*lines, "", *left_out(results), CAUTION])


def panels(results: Found) -> list[Any]:
    """Return the content of the figure: depths, else swaths or smallest fish in the first and the last water."""
    from pingwright.figures.charts.ask_chart import Panel

    def panel(title: str, each: Any, labels: tuple[str, ...]) -> Panel:
        sides = [tuple(float(getattr(b, end)) for b in each) for end in ("value", "low", "high")]
        return Panel(title, labels, *sides)

    names = results.elements
    deep = [
        panel(f"{verb} {name}{f', {label}' if label else ''}", each, names)
        for verb, by_name in (("shows", results.fish), ("shows", results.bottom))
        for (label, name), each in by_name.items()
    ]  # fmt: skip
    if results.about not in ("swath", "loss", "roll", "size") and deep:
        return deep[:1] + deep[-1:] if len(deep) > 1 else deep
    wide = []
    for water in (results.waters[0], *results.waters[1:][-1:]):
        place = f"{water.species} at {results.long(water.fish)}{f', {water.day}' if water.day else ''}"
        small = [b for b in water.smallest if b is not None]
        swath = [p.swath for p in water.passes if p is not None]
        wide.append(panel(f"{'smallest' if small else 'swath,'} {place}", small or swath, names))
    return wide
