import base64
import hashlib
import html
import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest
import synthetic_record
from pingwright import words
from pingwright.figures import embed
from pingwright.measure.reasons import REASONS
from pingwright.page import cells
from pingwright.page.build import INPUTS_LIMIT, build, embedded_scenario

NASTY = "$$x^2$$ </script><script>window.pwned=1</script> <img src=x onerror=pwned=1> \\(a\\) & \" ' <!-- ]]> {{7*7}}"


@pytest.fixture(scope="module")
def record():
    return synthetic_record.record(pings=40, step=0.06)


@pytest.fixture(scope="module")
def page(record):
    return build(record, synthetic_record.assessment(record))


class Reader(HTMLParser):
    """Collects tags, attributes and the text of scripts as a browser's parser would."""

    def __init__(self):
        super().__init__()
        self.tags, self.scripts, self.texts = [], [], []
        self.script = None

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))
        if tag == "script":
            self.script = [dict(attributes), ""]

    def handle_endtag(self, tag):
        if tag == "script":
            self.scripts.append(tuple(self.script))
            self.script = None

    def handle_data(self, data):
        if self.script is not None:
            self.script[1] += data
        else:
            self.texts.append(data)


def parsed(page):
    reader = Reader()
    reader.feed(page)
    return reader


def spoiled(record, text):
    """The recording with every text a scenario can bring replaced."""
    elements = tuple(
        replace(e, info=replace(e.info, name=f"{i}{text}", weighting=text)) for i, e in enumerate(record.elements)
    )
    truth = replace(
        record.truth,
        fish=replace(record.truth.fish, name=(text,) * len(record.truth.fish.x)),
        structures=tuple(replace(s, name=text, material=text) for s in record.truth.structures),
        soft=tuple(replace(s, name=text) for s in record.truth.soft),
    )
    bad = replace(
        record, title=text, scenario=text, scenario_resolved=text, elements=elements, truth=truth,
        inputs={text: b"1"}, warnings=(text,), history=text,
    )  # fmt: skip
    found = synthetic_record.assessment(record)
    judged = tuple(replace(a, name=e.info.name) for a, e in zip(found.elements, elements, strict=True))
    return bad, replace(found, title=text, elements=judged)


def test_the_page_refers_to_nothing_outside_itself(page):
    reader = parsed(page)
    for tag, attributes in reader.tags:
        assert tag not in {"link", "iframe", "object", "embed", "base", "img"}
        for name in ("src", "href", "action", "data", "poster", "srcset"):
            assert name not in attributes
    style = re.search(r"<style>(.*?)</style>", page, re.DOTALL).group(1)
    assert "url(h" not in style
    assert "@import" not in style


def test_only_scripts_named_by_their_hash_may_run(page):
    """CSP Level 2, section 4.2.5: 'sha256-' and the base64 of the digest of the element's text."""
    reader = parsed(page)
    policy = next(a["content"] for t, a in reader.tags if a.get("http-equiv") == "Content-Security-Policy")
    run = [body for attributes, body in reader.scripts if attributes.get("type") != "application/json"]
    hashes = [f"'sha256-{base64.b64encode(hashlib.sha256(b.encode()).digest()).decode()}'" for b in run]
    assert re.search(r"script-src ([^;]*)", policy).group(1).split() == hashes
    assert "default-src 'none'" in policy
    assert not any(name.startswith("on") for _, attributes in reader.tags for name in attributes)


def test_no_text_of_a_scenario_becomes_markup_or_script(record):
    bad = build(*spoiled(record, NASTY))
    before, after = parsed(build(*spoiled(record, "plain"))), parsed(bad)
    assert [t for t, _ in after.tags] == [t for t, _ in before.tags]
    plain = [body for attributes, body in before.scripts if not attributes]
    assert [body for attributes, body in after.scripts if not attributes] == plain
    assert after.texts.count(NASTY) >= 3, "title, warning and scenario are shown as they were written"


def test_the_scenario_comes_back_whole(record):
    awkward = replace(record, scenario=NASTY + "\n\u2028 \u00e9\u4e2d", inputs={"a</script>.csv": bytes(range(256))})
    page = build(awkward, synthetic_record.assessment(record))
    kept = json.loads(next(b for a, b in parsed(page).scripts if a.get("id") == "pingwright-scenario"))
    assert kept["scenario"] == awkward.scenario
    assert kept["seed"] == awkward.seed
    assert {n: base64.b64decode(c) for n, c in kept["inputs"].items()} == dict(awkward.inputs)
    assert kept["missing"] == []


def test_files_too_large_to_keep_are_named_on_the_page(record):
    heavy = replace(record, inputs={"small.csv": b"1", "huge<b>.stl": bytes(INPUTS_LIMIT)})
    kept = embedded_scenario(heavy)
    assert list(kept["inputs"]) == ["small.csv"]
    assert kept["missing"] == ["huge<b>.stl"]
    assert "huge&lt;b&gt;.stl" in build(heavy, synthetic_record.assessment(record))


def test_the_same_recording_gives_the_same_page(record, page):
    assert build(record, synthetic_record.assessment(record)) == page


def test_the_page_begins_with_the_answer_and_says_that_it_is_simulated(record, page):
    words = re.sub(r"<(style|script).*?</\1>|<[^>]*>", " ", page[page.index("<body") :], flags=re.DOTALL).split()
    assert " ".join(words[:4]).startswith("30 cm (1 ft)") or "off" in words[:8]
    assert words.index("SIMULATED") < 60
    for caution in ("Not for navigation", "not for navigation or diving", "no proof of a product"):
        assert caution in page


def test_every_number_carries_its_definition(page):
    rows = re.findall(r'<th scope="row">(.*?)<span class="definition">(.*?)</span>', page)
    assert len(rows) >= 15
    for name, definition in rows:
        assert len(definition.split()) >= 5, name
        assert definition.endswith("."), name


def test_headline_and_counts_are_those_of_the_assessment(record, page):
    found = synthetic_record.assessment(record)
    said = html.unescape(re.sub(r"<[^>]*>", "", re.search(r'<h1><span class="m">(.*?)</h1>', page, re.DOTALL)[1]))
    assert said.replace("\u00a0", " ").startswith(words.answer(found, record).rstrip("."))
    for element in found.elements:
        assert f"{words.of(element.counts['separated'], 10)} fish separated" in page


def test_a_reason_stands_under_the_row_of_the_fish_it_hides(record):
    found = synthetic_record.assessment(record)
    code, text = next(iter(REASONS.items()))
    marks = found.elements[2].mark
    reason = tuple(code if mark == "not_shown" else "" for mark in marks)
    told = replace(found, elements=(*found.elements[:2], replace(found.elements[2], reason=reason)))
    page = build(record, told)
    assert text in page
    assert text not in build(record, found)


def test_every_fish_has_its_arch_under_every_element(record):
    """Pings, length along the track and depth of the arms, by hand; the first few at once, all of them in tables."""
    found, count = synthetic_record.assessment(record), len(record.truth.fish.id)
    long, deep = 3.0 + np.arange(count), 0.11 + 0.01 * np.arange(count)
    pings = np.arange(count) + 4
    arched = replace(
        found.elements[1], arch_length=long, arch_depth=deep, pings_detected=pings, pings_separated=pings - 1
    )
    none = replace(
        found.elements[1], arch_length=np.full(count, np.nan), arch_depth=np.full(count, np.nan),
        pings_detected=np.zeros(count, np.int64), pings_separated=np.zeros(count, np.int64),
        reason=(next(iter(REASONS)),) * count,
    )  # fmt: skip
    judged = [replace(one, name=e.info.name) for one, e in zip((arched, none, arched), record.elements, strict=True)]
    page = build(record, replace(found, elements=tuple(judged)))
    part = re.search(r'<section class="arches".*?</section>', page, re.DOTALL)[0]
    rows = re.findall(r'<tr><th scope="row">(.*?)</th>(.*?)</tr>', part)
    assert len(rows) == count
    heights = []
    for head, cells_ in rows:
        fish = int(re.search(r"Fish (\d+)", head)[1]) - 1
        heights.append(record.truth.fish.height[fish])
        said = [re.sub(r"<[^>]*>", " ", cell).replace("\u00a0", " ") for cell in re.findall(r"<td.*?</td>", cells_)]
        for cell in (said[0], said[2]):
            assert f"{long[fish]:.1f} m" in cell
            assert f"{100 * deep[fish]:.0f} cm" in cell
            assert f"{pings[fish]} pings, {pings[fish] - 1} separated" in cell
        assert next(iter(REASONS.values())) in said[1]
    assert heights == sorted(heights)
    shown, opened = part.split("<details>")
    assert (shown.count("<tr>"), opened.count("<tr>")) == (7, count - 6 + 1)
    assert 'class="arches"' not in build(record, found)  # recordings of older versions know no arches


def test_other_recordings_are_refused(record):
    found = synthetic_record.assessment(record)
    with pytest.raises(ValueError, match="not of this recording"):
        build(replace(record, elements=record.elements[:2]), found)


def test_a_large_run_stays_small():
    """Three elements of 1500 pings and 15 000 samples of random levels, which pack worst: 67 million samples."""
    small = synthetic_record.record(pings=1500, step=2.0)
    random = np.random.default_rng(3)
    block = random.integers(-15000, -5000, (1500, 1500), np.int16)
    r = np.arange(15000) * 0.0047
    elements = tuple(replace(e, range=r, echo_level=np.tile(block, (1, 10))) for e in small.elements)
    page = build(replace(small, elements=elements), synthetic_record.assessment(small))
    assert len(page.encode()) < 8e6
    data = json.loads(next(b for a, b in parsed(page).scripts if a.get("id") == "pingwright-data"))
    stored = sum(
        p["pictures"][k]["columns"] * p["pictures"][k]["rows"] for p in data["elements"] for k in p["pictures"]
    )
    assert stored <= cells.CELLS_PER_PAGE + 3 * 2 * 420 * 900


def test_a_page_without_fish_structures_or_bottom_is_complete(record):
    fish = record.truth.fish
    none = np.zeros(0)
    empty = replace(
        fish, id=np.zeros(0, np.int64), name=(), x=none, y=none, depth=none, length=none, height=none,
        strength=np.zeros((3, 0)), nearest_ping=np.zeros((3, 0), np.int64), apparent_depth=np.zeros((3, 0)),
    )  # fmt: skip
    bare = replace(record, truth=replace(record.truth, fish=empty, structures=(), soft=()))
    found = synthetic_record.assessment(record)
    judged = tuple(
        replace(
            a, mark=(), fish_ping=np.zeros(0, np.int64), fish_range=none, fish_peak=none, fish_strength=none,
            bottom_range=np.full(40, np.nan), counts={"separated": 0, "merged": 0, "not_shown": 0},
            separated=synthetic_record.share(0, 0), detected=synthetic_record.share(0, 0),
            bottom_error_median=np.nan, bottom_error_spread=np.nan,
            closed=replace(a.closed, fish_length=np.nan, fish_height=np.nan, reach=np.nan, smallest_fish=np.nan),
        )
        for a in found.elements
    )  # fmt: skip
    page = build(bare, replace(found, elements=judged))
    assert "No single fish in this water" in page
    assert "nan" not in re.sub(r"<script.*?</script>", "", page, flags=re.DOTALL).lower().split()


def test_recall_reads_the_page_as_any_other_picture(record, page):
    from pingwright.figures import embed

    carried = embed.read(page.encode())
    assert carried.scenario == record.scenario
    assert carried.inputs == dict(record.inputs)
    assert (carried.seed, carried.missing) == (record.seed, ())


def test_page_and_picture_carry_the_same_inputs(record):
    files = {"a.csv": bytes(700_000), "b.csv": bytes(800_000), "c.csv": bytes(900_000)}
    heavy = replace(record, inputs=files)
    held = embed.carried(heavy)
    kept = embedded_scenario(heavy)
    assert set(held.inputs) == set(kept["inputs"]) == {"a.csv", "b.csv"}
    assert list(held.missing) == list(kept["missing"]) == ["c.csv"]
