"""Every printed range carries its band for own noise 10 dB higher and lower: in claims, trips and recordings."""

import json
import math
import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from pingwright import recording, words
from pingwright.acoustics.noise import own_level
from pingwright.claims import pipeline, report
from pingwright.inputs.scenario import changed, parse
from pingwright.match import reasons
from pingwright.measure.assess import assess
from pingwright.measures.asked import Question
from pingwright.measures.bottom_reach import NOBODY
from pingwright.measures.registry import measures
from pingwright.page import numbers as of_page
from pingwright.report import figures
from pingwright.report.numbers import NUMBERS
from test_match_ranking import made

BASE = """
title = "base"
[water]
temperature = 11
salinity = 34.5
[boat]
speed = "4 kn"
length = "2 m"
[[element]]
name = "high"
use = "high-pencil"
[[element]]
name = "low"
use = "low-pencil"
[seabed]
depth = "20 m"
[[seabed.layer]]
sediment = "mud"
"""
CLAIMS = """
title = "Ranges"
scenario = "base.toml"
runs = 64
[[claim]]
says = "The high one reaches 100 m"
element = "high"
measure = "reach"
fish = { swimbladder = "closed", length = "40 cm" }
holds_if = { at_least = "100 m" }
[[claim]]
says = "It holds mud deeper than the low one"
element = ["high", "low"]
measure = "bottom_reach"
holds_if = { at_least = "1 m" }
"""
RANGES = ("reach", "bottom_reach")


def shifted(scenario, by):
    return changed(scenario, {"noise.own": own_level("by speed", 4 * 1852 / 3600) + by})


@pytest.fixture(scope="module")
def scenario():
    return parse(BASE)


@pytest.fixture(scope="module")
def recorded(scenario):
    record = recording.in_memory(recording.prepare(scenario), threads=1)
    return record, assess(record)


@pytest.fixture(scope="module")
def claims(tmp_path_factory):
    folder = tmp_path_factory.mktemp("claims")
    (folder / "base.toml").write_text(BASE, encoding="utf-8")
    (folder / "claims.toml").write_text(CLAIMS, encoding="utf-8")
    pipeline.run(folder / "claims.toml", folder / "out", quick=True)
    text = (folder / "out" / report.TEXT).read_text(encoding="utf-8")
    return json.loads((folder / "out" / report.DATA).read_text(encoding="utf-8"))["claims"], text


def test_every_measure_that_is_a_range_has_the_band_of_a_scene_with_that_noise():
    scenario = parse(BASE.replace('[[element]]\nname = "low"\nuse = "low-pencil"\n', ""))
    for name, one in measures().items():
        question = Question("", name, scenario, NOBODY)
        assert bool(one.noise_band(question)) == (name in RANGES)
        if name not in RANGES:
            continue
        own = [[one.closed(replace(question, scenario=shifted(scenario, by)), i) for by in (10, -10)] for i in (0,)]
        assert np.array(one.noise_band(question)) == pytest.approx(np.array(own))
        silent = replace(question, scenario=changed(scenario, {"noise.own": "none"}))
        assert one.noise_band(silent) == ()


def test_a_claim_about_a_range_states_its_band(claims):
    found, text = claims
    for claim in found:
        each = claim["noise_band"]
        assert len(each) == (2 if isinstance(claim["element"], list) else 1)
        assert all(louder < quieter for louder, quieter in each)
    (louder, quieter), *_ = found[0]["noise_band"]
    assert louder < found[0]["theory"] < quieter
    band = f"{report.words(louder, 'm')} to {report.words(quieter, 'm')}"
    assert f"({band}) |" in text
    assert text.count("With the boat's own noise 10 dB higher to 10 dB lower") == 2
    assert f"high {band}." in text


def test_numbers_pages_and_figures_of_a_recording_state_their_bands(recorded):
    record, assessment = recorded
    by_name = {number.name: number for number in NUMBERS}
    cells = {name: cell for name, _, cell in of_page._rows()}
    for name in RANGES:
        for row, one in zip(record.elements, assessment.elements, strict=True):
            louder, usual, quieter = (
                by_name[f"{name}{end}"].value(row.info, one) for end in ("_louder", "", "_quieter")
            )
            assert 1.0 < louder < usual < quieter
            assert "with own noise 10 dB higher to lower" in cells[name](row.info, one)
    look = SimpleNamespace(theme="light", units="m", size="two-column", view=None)
    for kind in ("absorption", "reach", "chirp"):
        _, caption, text = figures.FIGURES[kind](record, assessment, look)
        for words_ in (caption, text):
            assert "own noise 10 dB louder to 10 dB quieter" in words_
            assert len(re.findall(r"\d m \(\d+ to \d+ m\)", words_)) >= 2, kind


def test_a_trip_that_blames_a_short_range_states_the_band():
    hits = made()
    hits = replace(hits, reach_band=np.stack([0.5 * hits.reach, 2 * hits.reach]))
    ranked = [SimpleNamespace(members=(i,), parts={}) for i in range(3)]
    text = reasons._against("reach", ranked[2], ranked[0], hits, "m")
    assert text == "It misses deep fish: it shows such a fish down to 30 m (15 to 60 m), e0 to 60 m (30 to 120 m)."


def test_a_range_without_a_band_is_the_range_alone():
    assert words.banded(262.0, 201.0, 331.0) == "260 m (200 to 330 m)"
    assert words.banded(262.0, math.nan, math.nan) == "260 m"
    assert words.banded(262.0, 262.0, 262.0) == "260 m"
    assert words.banded(math.inf, 10.0, 20.0) == words.length(math.inf)
