"""A claims file to a folder: the contract's keys, exit, the stop and the resuming, text that cannot act."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from pingwright.claims import depends, pipeline, report, work
from pingwright.claims.answers import Answer, explained, from_dict
from pingwright.claims.questions import questions
from pingwright.inputs import claims
from pingwright.measures.base import Chart, Line, Result
from pingwright.trials.batch import Settings

SCENARIOS = Path(__file__).resolve().parents[1] / "scenarios"

BASE = """
title = "base"
[water]
temperature = 11
salinity = 34.5
[boat]
speed = "15 kn"
[[element]]
name = "high"
use = "high-pencil"
[seabed]
depth = "15 m"
roughness = "none"
[[seabed.layer]]
sediment = "gravel"
"""
CLAIMS = """
title = "Two <b>claims</b>"
scenario = "base.toml"
runs = 96
seed = 5
[[claim]]
says = "It shows | *fish*"
element = "high"
measure = "detected"
fish = { swimbladder = "closed", length = "40 cm", depth = "6 m" }
place = { along = "0 m", across = "0 m" }
holds_if = { at_least = 0.5 }
[[claim]]
says = "Its echo is a centimetre"
element = "high"
measure = "range_resolution"
holds_if = { at_most = "1 cm" }
"""


@pytest.fixture
def path(tmp_path):
    (tmp_path / "base.toml").write_text(BASE)
    path = tmp_path / "claims.toml"
    path.write_text(CLAIMS)
    return path


def test_results_hold_the_contracts_keys_and_a_stopped_run_resumes_to_the_same(path, tmp_path):
    out, cut = tmp_path / "out", tmp_path / "cut"
    results = pipeline.run(path, out)
    assert not results.all_hold
    first, second = json.loads((out / "claims.json").read_text())["claims"]
    for key in ("says", "measure", "element", "verdict", "value", "low", "high", "unit", "runs", "seed", "theory",
                "over", "depends_on", "curves"):  # fmt: skip
        assert key in first
    assert (first["verdict"], first["over"], first["depends_on"]) == ("holds", "pass", [])
    assert (second["verdict"], second["over"], second["unit"]) == ("does not hold", "ping", "m")
    assert first["low"] <= first["value"] <= first["high"]
    assert {"name", "x", "x_unit", "value", "low", "high"} <= set(first["curves"][0])
    assert set(results.names) == {p.name for p in out.iterdir()}
    text = (out / "claims.md").read_text()
    assert "Two &lt;b&gt;claims&lt;/b&gt;" in text
    assert "\\| \\*fish" in text
    assert "| none of those tried |" in text  # of the first claim: tried, and nothing changes it
    assert "1 holds, 1 does not, 0 undecided" in results.answer

    def stop(stage, done, total):
        if stage.startswith("claim 2"):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        pipeline.run(path, cut, progress=stop)
    assert not (cut / "claims.json").exists()
    stages = []
    pipeline.run(path, cut, progress=lambda stage, done, total: stages.append(stage))
    assert not any(stage.startswith("claim 1") for stage in stages)
    assert (cut / "claims.json").read_text() == (out / "claims.json").read_text()


def test_quick_answers_come_from_closed_forms_and_say_so(path, tmp_path):
    out = tmp_path / "out"
    results = pipeline.run(path, out, quick=True)
    first, second = json.loads((out / "claims.json").read_text())["claims"]
    assert first["quick"]
    assert first["runs"] == 0
    assert first["value"] == first["theory"]
    assert (first["verdict"], second["verdict"]) == ("holds", "does not hold")
    assert "by closed form; nothing was simulated" in (out / "claims.md").read_text()
    assert results.names == ("claims.md", "claims.png", "claims.json")


def test_a_checkpoint_of_other_work_or_damaged_counts_as_none(tmp_path):
    state = tmp_path / "state"
    work.State(state, "a").keep_tally(1, {"runs": 3})
    assert work.State(state, "a").tally(1) == {"runs": 3}
    assert work.State(state, "b").tally(1) is None
    state.write_text("no json")
    assert work.State(state, "a").answer(1) is None


def test_claims_of_one_scene_are_shared_out_together_unless_they_are_most_of_the_work(path):
    first, second = questions(claims.load(path))
    other = replace(second, scenario=second.scenario.model_copy(update={"seed": 8}))
    task = work.Task(8, 0.95, 1, quick=False, plain=False, of="x")
    asked = {1: first, 2: replace(second, scenario=first.scenario), 3: other}

    def numbers(seconds, processes):
        return [[n for n, _ in job.questions] for job in work.shared_out(asked, seconds, task, processes)]

    assert numbers((1.0, 2.0, 5.0), 2) == [[3], [1, 2]]
    assert numbers((4.0, 5.0, 1.0), 2) == [[2], [1], [3]]
    assert numbers((4.0, 5.0, 1.0), 1) == [[2], [1], [3]]
    assert work.processes_for(asked, (1.0, 1.0, 1.0), 2) == 1, "a process takes some time to start"


def test_an_answer_is_taken_up_again_where_the_parent_died(path, tmp_path, monkeypatch):
    first, task = (
        questions(claims.load(path))[0],
        work.Task(8, 0.95, 1, quick=False, plain=True, of="x", folder=tmp_path),
    )
    common = Settings(8, 0.95, 1, 1)
    there = work.answer(1, first, task, common)
    monkeypatch.setattr(work.answered, "answer", None)
    assert work.answer(1, first, task, common) == there


def test_answers_survive_a_checkpoint():
    chart = Chart("height", (0.1, 0.2), (Line("a", (0.0, 1.0), (0.0, 0.9), (0.1, 1.0)), Line("t", (0.5, 0.5))), 0.9)
    one = Answer("s", "separated", ("a", "b"), "at least 0.9", "holds", 0.95, 0.91, 0.99, "", "pass", 300, 0.97, "why",
                 False, ("pulse",), (0.0,), 64, 900, 2, (0.95, 0.1), chart, ("n",))  # fmt: skip
    assert from_dict(json.loads(json.dumps(one.to_dict()))) == one
    assert chart.lines[1].is_theory


def test_numbers_have_their_unit():
    assert report.words(0.93842, "") == "0.938"
    assert report.words(0.0135, "m") == "1.35 cm"
    assert report.words(248.36, "m") == "248.4 m"
    assert report.words(None, "m") == "–"


@pytest.mark.parametrize("path", sorted(SCENARIOS.glob("claims-*.toml")), ids=lambda p: p.stem)
def test_every_claims_scenario_can_be_asked(path):
    file = claims.load(path)
    made = questions(file)
    assert len(made) == len(file.claim)
    assert path.read_text().splitlines()[0].startswith("# What:")
    assert all(one.bound is not None for one in made)


def test_there_are_ten_claims_or_more_in_one_file():
    assert max(len(claims.load(path).claim) for path in SCENARIOS.glob("claims-*.toml")) >= 10


def test_a_closed_form_that_differs_says_what_it_leaves_out(path):
    question = questions(claims.load(path))[0]
    assert explained(question, Result(0.9, 0.88, 0.92, 99, 0.91, "pass")) == "Simulation and closed form agree."
    text = explained(question, Result(0.9, 0.88, 0.92, 99, 0.5, "pass"))
    assert text.startswith("The closed form differs because it leaves out: ")
    assert "relief" not in text


def test_a_verdict_turns_where_the_number_passes_its_bound(path):
    question = questions(claims.load(path))[0]
    assert {turn.name for turn, _ in depends.variants(question)} >= {"fish strength"}
    assert depends._passes(question, 0.6, 0.4)
    assert not depends._passes(question, 0.6, 0.55)
