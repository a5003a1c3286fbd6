"""Words on figures: inside the sheet, large enough, none over another; on the gallery's scenes, in every size.

The scenes are those of the gallery (their water, fish, elements, cutaway) with levels made by hand: no engine.
"""

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from matplotlib.image import AxesImage
from matplotlib.text import Text
from pingwright.echograms import levels
from pingwright.echograms.memory import Gatherer
from pingwright.figures.style import sheet as style
from pingwright.inputs.scenario import changed, load
from pingwright.measure.assess import assess
from pingwright.recording import prepare
from pingwright.report import figures
from tests_made import echo

SCENARIOS = Path(__file__).resolve().parents[1] / "scenarios"
#: Every other scene, for the time it takes: among them many elements, long names, no fish, no bottom.
GALLERY = sorted(SCENARIOS.glob("0*.toml"))[::2]
#: Dots per inch drawn for the tests, and by how many of them words may touch or leave the sheet.
DPI, TOUCH = 200, 2.0
#: The boat runs so many times faster than in the file: fewer pings, the same fish and words.
HASTE = 3.0


@pytest.fixture(scope="module")
def scene(request):
    slow = load(request.param)
    made = prepare(changed(slow, {"boat.speed": HASTE * float(slow.boat.speed)})).header
    gatherer = Gatherer(made)
    for position in range(len(made.elements)):
        gatherer.write(position, 0, levels.pack(echo(made, position)))
    record = gatherer.record()
    return record, assess(record)


def drawn_texts(figure, monkeypatch):
    """Return the texts that are really drawn (ticks beyond their axis are not) with their boxes."""
    found = []
    draw = Text.draw

    def noted(self, renderer, *rest, **more):
        if self.get_visible() and self.get_text().strip():
            found.append((self.get_text(), self.get_window_extent(renderer), self.get_fontsize()))
        return draw(self, renderer, *rest, **more)

    with monkeypatch.context() as patch, style.drawing(*figures_theme(figure)):
        patch.setattr(Text, "draw", noted)
        figure.set_dpi(DPI)
        for image in figure.findobj(AxesImage):  # pixels, which no word depends on
            image.set_visible(False)
        figure.draw_without_rendering()
    return {(text, tuple(np.round(box.extents, 2))): (box, size) for text, box, size in found}


def figures_theme(figure):
    theme, size = figure.get_label().split(" ")
    return theme, style.SIZES[size][1]


def complaints(name, told, width, height):
    """Return what a reader would find wrong with the words of a figure; sizes in pixels."""
    for (text, _), (box, points) in told.items():
        if points < 5.0:
            yield name, "small", text
        if "\\math" in text:
            yield name, "maths drawn as it stands", text
        if box.x0 < -TOUCH or box.y0 < -TOUCH or box.x1 > width + TOUCH or box.y1 > height + TOUCH:
            yield name, "off the sheet", text
    for ((one, _), (a, _)), ((other, _), (b, _)) in combinations(told.items(), 2):
        across = min(a.x1, b.x1) - max(a.x0, b.x0)
        down = min(a.y1, b.y1) - max(a.y0, b.y0)
        if min(across, down) > TOUCH:
            yield name, one, other


#: Every scene in the narrowest size with the longest unit; the fullest two in the other sizes as well.
SHEETS = [
    *((path, "one-column", "fathoms") for path in GALLERY),
    *((GALLERY[0], size, units) for size, units in (("two-column", "m"), ("slide", "m"))),  # slide: two-line headline
    (GALLERY[-1], "slide", "m"),  # without fish: its heights have the longest numbers
]


@pytest.mark.parametrize(
    ("scene", "size", "units"), SHEETS, indirect=["scene"], ids=[f"{p.stem[:2]}-{s}-{u}" for p, s, u in SHEETS]
)
def test_no_words_run_off_shrink_too_far_or_lie_over_others(scene, size, units, monkeypatch):
    record, found = scene
    wrong = []
    for name in figures.possible(record):
        if name != figures.MOTION:
            figure, _, _ = figures.FIGURES[name](record, found, figures.Look((name,), size=size, units=units))
            wrong += complaints(name, drawn_texts(figure, monkeypatch), *figure.get_size_inches() * DPI)
    assert wrong == []
