"""What a user saves from the bench: the scenario as a person would write it, the comparison figure, the page."""

from collections.abc import Callable

from pingwright import words
from pingwright.inputs.scenario import Scenario as Scene

#: Name of the file, its media type, its content.
Saved = tuple[str, str, bytes]


def scenario(scene: Scene, units: words.Units) -> Saved:
    """Return the scene as a scenario file: only what the person set, the rest are defaults."""
    del units
    return "scene.toml", "application/toml", scene.text.encode("utf-8")


def figure(scene: Scene, units: words.Units) -> Saved:
    """Return the comparison as a PNG picture that carries its scenario. Raises what simulating raises."""
    from pingwright.bench.session import simulated
    from pingwright.figures import save
    from pingwright.report import figures

    record, found = simulated(scene)
    drawn, _, alt = figures.FIGURES[figures.COMPARE](record, found, figures.Look((figures.COMPARE,), units=units))
    return "compare.png", "image/png", save.png(drawn, record, alt)


def page(scene: Scene, units: words.Units) -> Saved:
    """Return the page with zoom, one file that needs no network. Raises what simulating raises."""
    from pingwright.bench.session import simulated
    from pingwright.page.build import build

    del units
    record, found = simulated(scene)
    return "compare.html", "text/html", build(record, found).encode("utf-8")


KINDS: dict[str, Callable[[Scene, words.Units], Saved]] = {"scenario": scenario, "figure": figure, "page": page}
