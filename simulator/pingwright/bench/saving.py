"""Files that a user can save from the bench: the scenario as a person would write it, the comparison, the page."""

from collections.abc import Callable, Mapping
from typing import Any

from pingwright import words
from pingwright.echograms.record import Record
from pingwright.inputs.writing import toml_text
from pingwright.measure.assess import assess

#: Name of the file, its media type, its content.
Saved = tuple[str, str, bytes]
Recorded = Callable[[], Record]


def scenario(data: Mapping[str, Any], recorded: Recorded, units: words.Units) -> Saved:
    """Return the scene as a scenario file: only the keys that the user set; all others are defaults."""
    del recorded, units
    return "scene.toml", "application/toml", toml_text(data).encode("utf-8")


def figure(data: Mapping[str, Any], recorded: Recorded, units: words.Units) -> Saved:
    """Return the comparison as a PNG picture that holds its scenario. Raises the errors of a simulation."""
    from pingwright.figures import save
    from pingwright.report import figures

    del data
    record = recorded()
    assessment = assess(record)
    drawn, _, alt = figures.FIGURES[figures.COMPARE](record, assessment, figures.Look((figures.COMPARE,), units=units))
    return "compare.png", "image/png", save.png(drawn, record, alt)


def page(data: Mapping[str, Any], recorded: Recorded, units: words.Units) -> Saved:
    """Return the page with zoom, one file that needs no network. Raises the errors of a simulation."""
    from pingwright.page.build import build

    del data
    record = recorded()
    return "compare.html", "text/html", build(record, assess(record), units=units).encode("utf-8")


KINDS: dict[str, Callable[[Mapping[str, Any], Recorded, words.Units], Saved]] = {
    "scenario": scenario,
    "figure": figure,
    "page": page,
}
