"""A claims file to a folder: the contract's keys, exit, the stop and the going on, text that cannot act."""

import json
from pathlib import Path

import pytest
from PIL import Image
from pingwright.claims import pipeline, writing
from pingwright.claims.answers import Answer, Chart, Line, from_dict
from pingwright.claims.question import questions
from pingwright.figures import embed
from pingwright.inputs import claims
from pingwright.measure import filters

SCENARIOS = Path(__file__).resolve().parents[1] / "scenarios"

BASE = """
title = "base"
[water]
temperature = 11
salinity = 34.5
[[element]]
name = "high"
use = "high-pencil"
[seabed]
depth = "15 m"
[[seabed.layer]]
sediment = "sandy mud"
"""
CLAIMS = """
title = "Two <b>sayings</b>"
scenario = "base.toml"
runs = 200
seed = 5
[[claim]]
says = "It parts | *fish*"
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
def asked(tmp_path):
    (tmp_path / "base.toml").write_text(BASE)
    path = tmp_path / "say.toml"
    path.write_text(CLAIMS)
    return path


def test_results_hold_the_contracts_keys(asked, tmp_path):
    out = tmp_path / "out"
    results = pipeline.run(asked, out)
    assert not results.all_hold
    data = json.loads((out / "claims.json").read_text())
    first, second = data["claims"]
    for key in ("says", "measure", "element", "verdict", "value", "low", "high", "unit", "runs", "seed", "theory"):
        assert key in first
    assert first["verdict"] == "holds"
    assert second["verdict"] == "does not hold"
    assert second["unit"] == "m"
    assert first["low"] <= first["value"] <= first["high"]
    assert set(results.names) == {p.name for p in out.iterdir()}
    text = (out / "claims.md").read_text()
    assert "Two &lt;b&gt;sayings&lt;/b&gt;" in text
    assert "\\| \\*fish" in text
    assert "Simulated" in text
    assert "1 holds, 1 does not, 0 undecided" in results.answer


def test_a_stopped_run_goes_on_and_ends_the_same(asked, tmp_path):
    whole = tmp_path / "whole"
    pipeline.run(asked, whole)

    def stop(stage, done, total):
        if stage.startswith("claim 2"):
            raise KeyboardInterrupt

    cut = tmp_path / "cut"
    with pytest.raises(KeyboardInterrupt):
        pipeline.run(asked, cut, progress=stop)
    assert not (cut / "claims.json").exists()
    stages = []
    pipeline.run(asked, cut, progress=lambda stage, done, total: stages.append(stage))
    assert not any(stage.startswith("claim 1") for stage in stages)
    assert (cut / "claims.json").read_text() == (whole / "claims.json").read_text()


def test_another_seed_gives_other_numbers_and_forgets_what_was_kept(asked, tmp_path):
    state = tmp_path / "state"
    pipeline.State(state, "a").keep_tally(1, {"runs": 3})
    assert pipeline.State(state, "a").tally(1) == {"runs": 3}
    assert pipeline.State(state, "b").tally(1) is None
    state.write_text("no json")
    assert pipeline.State(state, "a").answer(1) is None


def test_answers_survive_being_kept():
    chart = Chart("height", (0.1, 0.2), (Line("a", (0.0, 1.0), (0.0, 0.9), (0.1, 1.0)), Line("t", (0.5, 0.5))), 0.9)
    one = Answer("s", "separated", ("a", "b"), "at least 0.9", "holds", 0.95, 0.91, 0.99, "", 300, 0.97, 0.96, "why",
                 (0.0,), 256, (0.95, 0.1), chart, ("n",))  # fmt: skip
    assert from_dict(json.loads(json.dumps(one.to_dict()))) == one
    assert chart.lines[1].is_theory


def test_numbers_are_told_with_their_unit():
    assert writing.words(0.93842, "") == "0.938"
    assert writing.words(0.0135, "m") == "1.35 cm"
    assert writing.words(248.36, "m") == "248.4 m"
    assert writing.words(None, "m") == "–"


@pytest.mark.parametrize("path", sorted(SCENARIOS.glob("claims-*.toml")), ids=lambda p: p.stem)
def test_every_claims_scenario_can_be_asked(path):
    asked = claims.load(path)
    made = questions(asked)
    assert len(made) == len(asked.claim)
    assert path.read_text().splitlines()[0].startswith("# What:")
    for one in made:
        assert one.bound is not None


def test_there_are_ten_claims_or_more_in_one_file():
    assert max(len(claims.load(path).claim) for path in SCENARIOS.glob("claims-*.toml")) >= 10


def test_point_width_is_harris_width():
    # Harris 1978: 1.4405 bins; the pulse's flanks of 10 % widen it by under 1 %.
    import measure_lab as lab

    about = lab.info(pulse_length=2e-3)
    assert filters.point_width(about) / about.range_resolution == pytest.approx(1.4405, rel=0.01)


def test_beyond_the_verdicts_all_elements_stand_beside_each_other(tmp_path, monkeypatch):
    from pingwright.claims import beyond, sweeps

    few_points = {"DEPTHS": (0.6, 1.0), "SLOPES": (0.0, 3.0), "SEDIMENTS": ("mud", "rock"), "DEEP": (10.0, 400.0)}
    for name, few in (few_points | {"HEIGHT_RUNS": 16, "MAP_RUNS": 2, "SIDE": 5}).items():
        monkeypatch.setattr(sweeps, name, few)
    low = '[[element]]\nname = "low | <b>"\nuse = "low-pencil"\n'
    (tmp_path / "base.toml").write_text(BASE.replace("[seabed]", low + "[seabed]", 1))
    path = tmp_path / "say.toml"
    path.write_text(
        CLAIMS.split("[[claim]]", maxsplit=1)[0].replace("200", "32")
        + """[[claim]]
says = "It parts"
element = "high"
measure = "separated"
fish = { swimbladder = "closed", length = "40 cm", above_bottom = "30 cm" }
holds_if = { at_least = 0.5 }
"""
    )
    results = pipeline.run(path, tmp_path / "out")
    assert set(beyond.NAMES) <= set(results.names)
    data = json.loads((tmp_path / "out/claims.json").read_text())["beyond"]
    assert data["elements"] == ["high", "low | <b>"]
    high, low_one = data["least_height"]["depth"]["theory"]
    assert all(a < b for a, b in zip(high, low_one, strict=True))  # the finer band and narrower beam part lower
    assert high == sorted(high)
    assert data["detected"]["theory"][0][0] > 0.9
    small = data["smallest_fish"]["theory"]
    assert all(row[0] < row[1] for row in small)
    text = (tmp_path / "out/claims.md").read_text()
    assert "low \\| &lt;b&gt;, simulated" in text
    # Each figure stands there with words to paste, and carries the same words itself.
    for name in results.names:
        if name.endswith(".png"):
            told = text.split(f"]({name})")[1].split("![")[0]
            assert "Caption" in told
            held = embed.read((tmp_path / "out" / name).read_bytes())
            assert held.scenario == path.read_text()
            assert held.inputs == {"base.toml": (tmp_path / "base.toml").read_bytes()}
            with Image.open(tmp_path / "out" / name) as picture:
                assert f"\n{' '.join(picture.text['Description'].split())}\n" in told


def test_differences_are_explained_by_what_was_counted():
    from types import SimpleNamespace

    from pingwright.claims.explaining import explained

    asked = SimpleNamespace(measure="swath", unit="m", keep_structures=False)
    assert "agree" in explained(asked, (60.0, 50.0, 70.0), 62.0, 39.0)
    both = explained(asked, (36.0, 28.0, 46.0), 62.0, 39.0)
    assert "aspect" in both or "heading" in both
    assert "With both counted it agrees" in both
    assert "nearer; what remains" in explained(asked, (20.0, 18.0, 22.0), 62.0, 39.0)
    assert "no nearer" in explained(asked, (80.0, 75.0, 85.0), 62.0, 39.0)
    asked.keep_structures = True
    assert "structures" in explained(asked, (36.0, 28.0, 46.0), 62.0, 39.0)
    assert explained(asked, (None, None, None), 62.0, 39.0) == "No closed form is given for this."


def test_a_limit_stopped_part_way_goes_on_where_it_was(asked, tmp_path):
    asked.write_text(
        CLAIMS.split("[[claim]]", maxsplit=1)[0].replace("200", "16")
        + """[[claim]]
says = "It reaches"
element = "high"
measure = "reach"
fish = { swimbladder = "closed", length = "40 cm" }
holds_if = { at_least = "200 m" }
"""
    )
    pipeline.run(asked, tmp_path / "whole")
    steps = []

    def stop(stage, done, total):
        steps.append(done)
        if done == 5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        pipeline.run(asked, tmp_path / "cut", progress=stop)
    again = []
    pipeline.run(asked, tmp_path / "cut", progress=lambda stage, done, total: again.append((stage, done)))
    first = next(done for stage, done in again if stage.startswith("claim 1") and done)
    assert first == 6  # not from the start
    assert (tmp_path / "cut/claims.json").read_text() == (tmp_path / "whole/claims.json").read_text()


def test_sweeps_beyond_the_verdicts_go_on_where_they_were_stopped(tmp_path, monkeypatch):
    from pingwright.claims import beyond, sweeps

    few = {"DEPTHS": (0.6, 1.0), "SLOPES": (0.0, 3.0), "SEDIMENTS": ("mud", "rock"), "DEEP": (10.0, 400.0)}
    for name, value in (few | {"HEIGHT_RUNS": 8, "MAP_RUNS": 1, "SIDE": 3, "DEEP_RUNS": 8}).items():
        monkeypatch.setattr(sweeps, name, value)
    (tmp_path / "base.toml").write_text(BASE.replace("high-pencil", "low-pencil"))
    path = tmp_path / "say.toml"
    path.write_text(
        CLAIMS.replace("depth =", "above_bottom =").replace('"detected"', '"separated"').replace("200", "32")
    )
    whole = pipeline.run(path, tmp_path / "whole")
    made = []

    def stopping(name):
        true = getattr(sweeps, name)

        def sweep(*arguments):
            if len(made) == 2:
                made.append("stopped")
                raise KeyboardInterrupt
            made.append(name)
            return true(*arguments)

        return sweep

    for name in ("least_heights", "over_depth", "place_map"):
        monkeypatch.setattr(sweeps, name, stopping(name))
    out = tmp_path / "out"
    with pytest.raises(KeyboardInterrupt):
        pipeline.run(path, out)
    assert not [name for name in whole.names if (out / name).exists()]
    again = pipeline.run(path, out)
    assert made == ["least_heights", "least_heights", "stopped", "least_heights", "over_depth", "place_map"]
    assert again.names == whole.names
    for name in (writing.DATA, writing.TEXT, beyond.MAP, *beyond.HEIGHT.values()):
        assert (out / name).read_bytes() == (tmp_path / "whole" / name).read_bytes(), name
