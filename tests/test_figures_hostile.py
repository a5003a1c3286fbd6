"""No text of a scenario reaches a maths parser, markup or script, in any figure the command can draw."""

import json
from xml.etree import ElementTree

import pytest
from matplotlib.text import Text
from pingwright.echograms import levels
from pingwright.echograms.memory import Gatherer
from pingwright.figures import embed, motion, save
from pingwright.inputs.scenario import parse
from pingwright.measure.assess import assess
from pingwright.recording import prepare
from pingwright.report import figures
from tests_made import echo
from tiny_scenarios import LAKE

NASTY = "$x$ $$\\frac{1}{2}$$ \\(a\\) </text><script>alert(1)</script> & ]]> {0} %s é"
MORE = """
[[structure]]
name = {name}
shape = {{ kind = "box", length = "3 m", width = "2 m", height = "1 m" }}
at = {{ x = "-4 m", y = "0 m" }}
[[school]]
name = {name}
body = "baitfish"
length = "7 cm"
count = 5
at = {{ x = "-4 m", y = "0 m", depth = "4 m" }}
size = {{ along = "2 m", across = "2 m", height = "1 m" }}
[[scattering_layer]]
name = {name}
kind = "flat"
depth = ["2 m", "3 m"]
volume_strength = "-70 dB"
frequency = "120 kHz"
[[target]]
name = {name}
strength = "-40 dB"
at = {{ x = "0 m", y = "0 m", depth = "5 m" }}
"""


def spoiled(name):
    """The tiny lake with one text for everything that has a name; the elements keep theirs apart by a letter."""
    text = LAKE
    for old in ("A lake nine metres deep", "narrow high", "low", "perch"):
        new = f"{name} {old[0]}" if old in ("narrow high", "low") else name
        text = text.replace(f'"{old}"', json.dumps(new, ensure_ascii=False))
    return prepare(parse(text + MORE.format(name=json.dumps(name, ensure_ascii=False)))).header


@pytest.fixture(scope="module")
def scene():
    made = spoiled(NASTY)
    gatherer = Gatherer(made)
    for position in range(len(made.elements)):
        gatherer.write(position, 0, levels.pack(echo(made, position)))
    record = gatherer.record()
    return record, assess(record)


def test_the_record_is_as_bad_as_it_can_be(scene):
    record, _ = scene
    assert record.title == NASTY
    assert all(element.info.name.startswith(NASTY) for element in record.elements)
    assert {s.name for s in (*record.truth.structures, *record.truth.soft)} == {NASTY}
    assert set(figures.possible(record)) == {*figures.FIGURES, figures.MOTION}


@pytest.mark.parametrize("name", figures.FIGURES)
def test_a_hostile_text_is_text_in_every_figure(scene, name):
    record, found = scene
    figure, caption, alt = figures.FIGURES[name](record, found, figures.Look((name,)))
    what = embed.carried(record)
    svg = save.svg(figure, what, alt, 60)  # a maths parser would refuse \\frac without its braces closed
    texts = figure.findobj(Text)
    assert not [t.get_text() for t in texts if t.get_parse_math()]
    assert not [t.get_text() for t in texts if "\\mathdefault" in t.get_text()]
    root = ElementTree.fromstring(svg)
    assert not [e for e in root.iter() if e.tag.rpartition("}")[2] in ("script", "a", "foreignObject", "iframe")]
    assert not [k for e in root.iter() for k in e.attrib if k.lower().startswith("on")]
    assert "</script>" not in svg.decode().replace("&lt;/script&gt;", "")
    # What pictures carry does not depend on the figure: all formats for one, one for the others.
    others = (save.png(figure, what, alt, 60), save.pdf(figure, what, alt, 60)) if name == "echogram" else ()
    for data in (svg, *others):
        assert embed.read(data).scenario == record.scenario
    assert caption.isprintable()
    assert alt.isprintable()


def test_the_moving_picture_draws_it_as_text(scene):
    record, found = scene
    assert embed.read(motion.motion(record, found, frames=3)).scenario == record.scenario
    assert NASTY in motion.caption(record, found)
