"""Fresh passes over the scene's own fish: what they share with the recording, what is new, and what they are worth."""

import json
from dataclasses import replace
from pathlib import Path

import h5py
import numpy as np
import pytest
from pingwright import recording, words
from pingwright.echograms.file import read, save
from pingwright.echograms.record import FreshPasses, Record
from pingwright.engine.settings import from_scenario
from pingwright.errors import EchogramError
from pingwright.inputs import scenario
from pingwright.measure import certainty
from pingwright.measure.assess import assess
from pingwright.recording import Prepared
from pingwright.report import summary
from pingwright.run import pipeline
from pingwright.run.estimate import estimate
from pingwright.trials import repeated
from pingwright.world.build import build

SCENE = """
title = "Two groups over a lake's floor"
seed = 13
passes = 3
[water]
temperature = "12 degC"
salinity = 0
[boat]
speed = "4 kn"
start = "-4 m"
length = "8 m"
[window]
depth = ["0 m", "16 m"]
[[element]]
use = "high-pencil"
name = "high"
[[element]]
use = "low-pencil"
name = "low"
[seabed]
depth = "14 m"
[[seabed.layer]]
sediment = "gravel"
[[fish]]
name = "close to the bottom"
swimbladder = "closed"
length = "30 cm"
count = 6
where = { x = ["-2 m", "2 m"], y = ["-2.5 m", "2.5 m"], above_bottom = ["0.05 m", "0.3 m"] }
[[fish]]
name = "in open water"
swimbladder = "closed"
length = "30 cm"
count = 2
where = { x = ["-2 m", "2 m"], y = ["-0.5 m", "0.5 m"], depth = ["8 m", "9 m"] }
"""


@pytest.fixture(scope="module")
def prepared() -> Prepared:
    return recording.prepare(scenario.parse(SCENE, "scene"))


@pytest.fixture(scope="module")
def passes(prepared: Prepared) -> FreshPasses:
    return repeated.fresh_passes(prepared, 3, threads=1)


@pytest.fixture(scope="module")
def record(prepared: Prepared, passes: FreshPasses) -> Record:
    return replace(recording.in_memory(prepared, threads=1), passes=passes)


def test_a_pass_is_what_a_whole_recording_of_the_same_draw_shows(prepared: Prepared, passes: FreshPasses) -> None:
    """Only some pings, and of them only the depths that matter, are simulated: the verdicts must not notice it.

    Their noise is another one, so the scene is one in which no fish is shown in just as many pings as the rule needs.
    """
    own = prepared.scenario
    for number in range(3):
        seed = repeated.seed_of(int(own.seed), number)
        world = build(own, prepared.world.looks, seed, same_fish=True)
        whole = replace(prepared, world=world, settings=replace(from_scenario(own, world), seed=seed))
        found = assess(recording.in_memory(whole, threads=1))
        for e, element in enumerate(found.elements):
            assert [mark == "separated" for mark in element.mark] == passes.separated[number, e].tolist()
            assert [mark != "not_shown" for mark in element.mark] == passes.detected[number, e].tolist()
    assert 0 < passes.separated.mean() < 1  # so that something could differ


def test_a_pass_keeps_places_and_lengths_and_draws_all_else_anew(prepared: Prepared) -> None:
    own, looks = prepared.scenario, prepared.world.looks
    here, there = (build(own, looks, seed, same_fish=True) for seed in (5, 6))
    for a, b, c in zip(here.contents.stocks, there.contents.stocks, prepared.world.contents.stocks, strict=True):
        assert np.array_equal(a.position, b.position)
        assert np.array_equal(a.position, c.position)
        assert np.array_equal(a.length, c.length)
        assert not np.any(a.tilt == b.tilt)
        assert not np.any(a.yaw == b.yaw)
    assert here.seabed is not None
    assert there.seabed is not None
    assert not np.array_equal(here.seabed.tile(0, 0).phase, there.seabed.tile(0, 0).phase)


def test_threads_and_stops_change_nothing(prepared: Prepared, passes: FreshPasses) -> None:
    kept: list[dict[str, object]] = []
    again = repeated.fresh_passes(prepared, 3, threads=2, keep=lambda done: kept.append(json.loads(json.dumps(done))))
    assert np.array_equal(again.separated, passes.separated)
    first = {name: values[:2] for name, values in kept[-1].items() if isinstance(values, list)}
    resumed = repeated.fresh_passes(prepared, 3, threads=1, kept=first)
    assert np.array_equal(resumed.separated, passes.separated)
    assert np.array_equal(resumed.detected, passes.detected)


def test_what_other_fish_left_is_not_resumed(prepared: Prepared, passes: FreshPasses) -> None:
    strange = {"detected": [[[1]]], "separated": [[[1]]]}
    assert np.array_equal(repeated.fresh_passes(prepared, 1, threads=1, kept=strange).separated, passes.separated[:1])


def test_the_file_holds_the_passes(record: Record, tmp_path: Path) -> None:
    save(record, tmp_path / "a.h5")
    again = read(tmp_path / "a.h5").passes
    assert again is not None
    assert record.passes is not None
    assert np.array_equal(again.separated, record.passes.separated)
    assert np.array_equal(again.detected, record.passes.detected)


@pytest.mark.parametrize("value", [2, -1])
def test_a_file_with_other_than_yes_and_no_is_refused(record: Record, tmp_path: Path, value: int) -> None:
    save(record, tmp_path / "a.h5")
    with h5py.File(tmp_path / "a.h5", "r+") as file:
        file["passes/separated"][0, 0, 0] = value
    with pytest.raises(EchogramError, match="hold values other than 0 and 1"):
        read(tmp_path / "a.h5")


def test_headline_and_summary_show_probabilities(record: Record) -> None:
    found = assess(record)
    answer = words.answer(found, record)
    data = summary.as_data(record, found, answer, {})
    assert record.passes is not None
    assert data["passes"] == len(record.passes)
    for e, element in enumerate(data["elements"]):
        hits = record.passes.separated[:, e]
        assert element["numbers"]["pass_separated"]["value"] == pytest.approx(hits.mean())
        assert [fish["pass_separated"]["hits"] for fish in element["fish"]] == hits.sum(axis=0).tolist()
        lowest = element["groups"][0]["pass_separated"]
        assert f"{100 * lowest['value']:.0f} % " in answer
        assert lowest["low"] <= lowest["value"] <= lowest["high"]
    assert "fresh passes" in summary.as_text(record, found, answer)


def test_without_passes_nothing_of_them_is_shown(record: Record) -> None:
    alone = replace(record, passes=None)
    found = assess(alone)
    data = summary.as_data(alone, found, words.answer(found, alone), {})
    assert data["passes"] is None
    assert not any("pass_separated" in element["numbers"] for element in data["elements"])
    assert "fresh pass" not in summary.as_text(alone, found, "")


def test_fish_that_fail_together_do_not_make_an_interval_narrower() -> None:
    """Ten fish of one pass that always do the same tell as much as one: Wilson (1927) for the number of passes."""
    each = np.array([True] * 12 + [False] * 4)
    one, ten = certainty.of(each), certainty.of(np.repeat(each[:, None], 10, axis=1))
    assert (ten.low, ten.high) == pytest.approx((one.low, one.high), abs=0.02)
    sure = certainty.of(np.ones((16, 10), dtype=bool))
    assert sure.low == pytest.approx(16 / (16 + certainty.Z**2), abs=1e-6)


def test_an_interval_holds_what_it_says() -> None:
    """95 % of intervals hold the truth where fish of a pass share their luck (beta-binomial, scipy's own sampler)."""
    rng = np.random.default_rng(1)
    held = 0
    for _ in range(400):
        luck = rng.beta(4.0, 1.0, size=64)
        held += (share := certainty.of(rng.random((64, 3)) < luck[:, None])).low <= 0.8 <= share.high
    assert held >= 0.93 * 400  # four standard errors of 0.95 over 400


def test_passes_without_fish_are_a_note(tmp_path: Path) -> None:
    bare = scenario.parse(SCENE[: SCENE.index("[[fish]]")], "scene")
    noted = repeated.with_passes(recording.prepare(bare))
    assert noted.header.passes is None
    assert any("passes = 3" in warning for warning in noted.header.warnings)


def test_check_counts_the_passes(prepared: Prepared) -> None:
    many, few = (replace(prepared, scenario=prepared.scenario.model_copy(update={"passes": n})) for n in (640, None))
    assert estimate(many).time > 3 * estimate(few).time


def test_the_command_takes_passes_and_reads_nothing_that_it_just_wrote(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pipeline, "read", None)
    (tmp_path / "scene.toml").write_text(SCENE.replace("passes = 3\n", ""))
    results = pipeline.run(tmp_path / "scene.toml", tmp_path / "out", settings={"passes": 2}, no_pictures=True)
    data = json.loads((tmp_path / "out" / "summary.json").read_text())
    assert data["passes"] == 2
    assert "% of passes" in results.answer
    assert read(tmp_path / "out" / "echograms.h5").passes is not None
    assert "compare.png" not in (tmp_path / "out" / "summary.md").read_text()
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["echograms.h5", "summary.json", "summary.md"]


@pytest.mark.parametrize("window", ['["0 m", "3 m"]', '["2 m", "5 m"]', '["0 m", "13.2 m"]', '["15 m", "16 m"]'])
def test_a_window_without_bottom_or_fish_has_passes_that_show_nothing(window):
    """An internal error: the record was to begin below its end."""
    text = SCENE.replace('["0 m", "16 m"]', window).replace("passes = 3", "passes = 1")
    text = text.replace('depth = ["8 m", "9 m"]', 'above_bottom = ["0.2 m", "0.4 m"]')
    prepared = recording.prepare(scenario.parse(text))
    passes = repeated.fresh_passes(prepared, 1, threads=1)
    assert passes.detected.shape == (1, 2, 8)
    assert not passes.separated.any()
