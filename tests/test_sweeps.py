"""Sweeps: the same table whoever does the work, however it is cut up or stopped; a refusal is a row, not an end."""

import csv
import json
import re
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pingwright as pw
import pytest
from pingwright import files
from pingwright.__main__ import main
from pingwright.checking import check
from pingwright.errors import ScenarioError, UnfinishedError
from pingwright.figures.charts import sweep_chart
from pingwright.inputs import sweep as inputs
from pingwright.sweeps import pipeline, table
from pingwright.sweeps import scene as one_scene
from pingwright.sweeps.plan import Plan, column, seeds_of
from tiny_scenarios import LAKE

pytestmark = pytest.mark.filterwarnings("ignore::pingwright.errors.PingwrightWarning")

SMALL = LAKE.replace("pings = 40", "pings = 2")
SWEEP = """
title = "Depth by bottom"
scenario = "lake.toml"
seeds = 2
[vary]
"seabed.depth" = ["20 ft"]
[vary.together]
"boat.speed" = ["2 kn", "4 kn"]
"water.wind" = ["5 kn", "15 kn"]
"""


def plan(**more):
    scene = pw.Scene.parse(SMALL)
    given = {"vary": {"seabed.depth": ["0.1 m", "6 m", "7 m"]}, "seeds": (3, 4)} | more
    return Plan("Depth", scene.text, {}, **given)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A sweep with one refused depth, done here in one go."""
    folder = tmp_path_factory.mktemp("sweep") / "out"
    pipeline.run(plan(), folder, threads=1)
    return folder


@pytest.fixture
def known(folder, monkeypatch):
    """The work of a scene, looked up in that sweep: for tests of who does what, and when."""
    results = table.results_of(json.loads((folder / "sweep.json").read_text(encoding="utf-8")))
    by_depth = {(one["changes"]["seabed.depth"], one["seed"]): one for one in results}

    def look(job):
        depth, seed = job.scene.changes["seabed.depth"], job.scene.seed
        return by_depth[depth, seed if seed == 3 else 4] | {"number": job.scene.number, "seed": seed}

    monkeypatch.setattr(pipeline, "work", look)
    return look


def rows_of(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


def test_a_row_for_each_scene_and_element_with_units_in_the_header(folder):
    head, *rows = rows_of(folder / "sweep.csv")
    assert head[:4] == ["scene", "seabed.depth [m]", "seed", "element"]
    assert "range_resolution [m]" in head
    assert "share_separated" in head
    assert [row[1] for row in rows] == ["6.0"] * 4 + ["7.0"] * 4
    recording = pw.Scene.parse(SMALL).with_({"seabed.depth": "7 m"}, seed=4).simulate(threads=1)
    low = recording.measure()["low"]
    for name, cell in zip(head[4:], rows[-1][4:], strict=True):
        value = low[name.split(" [")[0]]["value"]
        assert (cell == "") if value is None else (float(cell) == pytest.approx(value, rel=1e-12)), name


def test_a_refused_scene_is_a_row_of_failures(folder):
    head, *rows = rows_of(folder / "failures.csv")
    assert head == ["scene", "seabed.depth [m]", "seed", "message"]
    assert [row[1] for row in rows] == ["0.1", "0.1"]
    assert all("depth" in row[-1] for row in rows)


def test_the_set_is_closed(folder):
    assert files.strangers(folder, "sweep.json") == []
    data = json.loads((folder / "sweep.json").read_text(encoding="utf-8"))
    assert data["scenes"] == 6
    assert data["numbers"]["range_resolution"]["unit"] == "m"
    assert data["vary"] == {"seabed.depth": ["0.1 m", "6 m", "7 m"]}


def test_shares_joined_are_the_whole(folder, known, tmp_path):
    for k in (1, 2, 3):
        pipeline.run(plan(), tmp_path / f"job{k}", threads=1, share=(k, 3), pictures=False)
    pipeline.collect([tmp_path / f"job{k}" for k in (3, 1, 2)], tmp_path / "all")
    for name in ("sweep.csv", "failures.csv"):
        assert (tmp_path / "all" / name).read_bytes() == (folder / name).read_bytes()
    with pytest.raises(ScenarioError, match="2 of 6 scenes are in none"):
        pipeline.collect([tmp_path / "job1", tmp_path / "job2"], tmp_path / "less")
    pipeline.run(plan(seeds=(5,)), tmp_path / "other", threads=1, share=(1, 3), pictures=False)
    with pytest.raises(ScenarioError, match="belongs to another sweep"):
        pipeline.collect([tmp_path / "job1", tmp_path / "other"], tmp_path / "less")
    with pytest.raises(ScenarioError, match=r"holds no sweep\.json"):
        pipeline.collect([tmp_path], tmp_path / "less")


def test_a_stopped_sweep_resumes_and_does_nothing_twice(folder, known, tmp_path, monkeypatch):
    done = []

    def counted(job):
        done.append(job.scene.number)
        return known(job)

    def stopped(job):
        if len(done) == 3:
            raise KeyboardInterrupt
        return counted(job)

    monkeypatch.setattr(pipeline, "work", stopped)
    with pytest.raises(KeyboardInterrupt):
        pipeline.run(plan(), tmp_path / "out", threads=1)
    state = files.part_of(tmp_path / "out" / pipeline.STATE)
    with state.open("ab") as file:
        file.write(b'{"number": 4, "ele')  # cut off in the middle
    monkeypatch.setattr(pipeline, "work", counted)
    pipeline.run(plan(), tmp_path / "out", threads=1)
    assert done == [1, 2, 3, 4, 5, 6]
    assert (tmp_path / "out" / "sweep.csv").read_bytes() == (folder / "sweep.csv").read_bytes()
    assert not state.exists()


def test_what_another_sweep_left_is_not_taken(known, tmp_path, monkeypatch):
    def stopped(job):
        if job.scene.number == 2:
            raise KeyboardInterrupt
        return known(job)

    monkeypatch.setattr(pipeline, "work", stopped)
    with pytest.raises(KeyboardInterrupt):
        pipeline.run(plan(), tmp_path / "out", threads=1)
    monkeypatch.setattr(pipeline, "work", known)
    results = pipeline.run(plan(seeds=(8,)), tmp_path / "out", threads=1)
    assert {result["seed"] for result in results.found} == {8}


def test_processes_give_the_same_table(folder, tmp_path, monkeypatch):
    # Of scenes 2, 4 and 6 the first is refused at once: one process simulates, or both.
    monkeypatch.setattr(pipeline, "SCENES_A_PROCESS", 1)
    pipeline.run(plan(), tmp_path / "two", threads=2, share=(2, 2))
    whole = rows_of(folder / "sweep.csv")
    assert rows_of(tmp_path / "two" / "sweep.csv") == [whole[0], *(row for row in whole[1:] if row[0] in "46")]


def test_python_gives_the_same_numbers_with_any_executor(folder):
    scene = pw.Scene.parse(SMALL)
    vary = {"seabed.depth": np.array([0.1, 6.0, 7.0])}
    here = pw.sweep(scene, vary, seeds=2)
    head, *rows = rows_of(folder / "sweep.csv")
    assert here.columns[4:] == head[4:]
    assert [["" if c is None else str(c) for c in row[4:]] for row in here.rows] == [row[4:] for row in rows]
    assert [one["seabed.depth"] for one in here.failures] == [0.1, 0.1]
    with ThreadPoolExecutor(2) as pool:
        there = pw.sweep(scene, {"seabed.depth": [0.1, 7.0]}, seeds=[4], executor=pool)
    assert [row[1:] for row in there.rows] == [row[1:] for row in here.rows if row[:3] == [6, 7.0, 4]]
    frame = here.to_frame()
    assert frame["range_resolution [m]"].dtype == float
    assert len(frame) == 8
    assert set(here.definitions) >= {"range_resolution"}
    assert here.figure().axes
    assert len(repr(here)) < 200


def test_keys_of_which_no_value_will_do_are_refused():
    scene = pw.Scene.parse(SMALL)
    with pytest.raises(ScenarioError, match=r"seabed\.depht"):
        pw.sweep(scene, {"seabed.depht": [1, 2]})
    with pytest.raises(ValueError, match="executor is 3; allowed: None"):
        pw.sweep(scene, {"seabed.depth": [6.0]}, executor=3)
    with pytest.raises(ScenarioError, match="executor: found"):
        pw.sweep(scene, {"seabed.depth": [6.0]}, executor="banana")
    with pytest.raises(ScenarioError, match="a list of values"):
        pw.sweep(scene, {"seabed.depth": "6 m"})


def test_internal_errors_are_rows_too(monkeypatch):
    def broken(job):
        message = "a bug"
        raise ZeroDivisionError(message)

    monkeypatch.setattr(one_scene, "measured", broken)
    swept = pw.sweep(pw.Scene.parse(SMALL), {"seabed.depth": ["6 m"]})
    assert swept.rows == []
    assert swept.failures[0]["message"] == "Internal error (ZeroDivisionError): a bug"


def test_scenes_go_over_every_combination_the_seed_fastest():
    made = list(plan(vary={"a": [1, 2]}, together={"b": [3, 4], "c": [5, 6]}, seeds=(7, 8)).scenes())
    assert [one.number for one in made] == list(range(1, 9))
    assert [(*one.changes.values(), one.seed) for one in made[:4]] == [
        (1, 3, 5, 7),
        (1, 3, 5, 8),
        (1, 4, 6, 7),
        (1, 4, 6, 8),
    ]
    with pytest.raises(ScenarioError, match="of the same length"):
        plan(together={"b": [3, 4], "c": [5]})
    with pytest.raises(ScenarioError, match="varied in"):
        plan(together={"seabed.depth": [3, 4]})
    assert seeds_of(3, 11) == (11, 12, 13)
    assert seeds_of([4, 2], 11) == (4, 2)


def test_columns_are_numbers_in_one_unit_or_words():
    depth = column("d", ["20 ft", "10 m", 3])
    assert (depth.unit, depth.cell("20 ft"), depth.cell(3)) == ("m", pytest.approx(6.096), 3)
    assert column("s", ["mud", "clay"]).cell("mud") == "mud"
    assert column("m", ["10 m", "3 kHz"]).unit == ""
    assert column("w", [[0, 10], [0, 20]]).cell([0, 20]) == "[0, 20]"


def test_csv_holds_no_formula():
    assert table.as_csv([["=1+1", -2, None, "a,b"]]) == ' =1+1,-2,,"a,b"\n'


def test_the_command_and_its_file(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "lake.toml").write_text(SMALL, encoding="utf-8")
    (tmp_path / "sweep.toml").write_text(SWEEP, encoding="utf-8")
    assert main(["check", "sweep.toml"]) == 0
    assert "4 scenes" in capsys.readouterr().out
    assert (
        main(["sweep", "sweep.toml", "--no-pictures", "--seed", "9", "--set", "fish.1.count=2", "--threads", "1"]) == 0
    )
    assert "4 of 4 scenes simulated, none refused." in capsys.readouterr().out
    head, *rows = rows_of(tmp_path / "out" / "sweep" / "sweep.csv")
    assert head[:5] == ["scene", "seabed.depth [m]", "boat.speed [m/s]", "water.wind [m/s]", "seed"]
    assert {row[4] for row in rows} == {"9", "10"}
    assert {row[1] for row in rows} == {"6.096"}
    assert {row[head.index("fish")] for row in rows} == {"2"}
    assert not (tmp_path / "out" / "sweep" / "sweep.png").exists()
    assert main(["sweep"]) == 2
    assert main(["sweep", "sweep.toml", "--job", "3/2"]) == 2
    assert main(["sweep", "sweep.toml", "--set", "nothing"]) == 2
    assert main(["run", "sweep.toml"]) == 2
    assert "is a sweep file" in capsys.readouterr().err


FAULTS = {
    "seeds: found 0": SWEEP.replace("seeds = 2", "seeds = 0"),
    "seeds: found": SWEEP.replace("seeds = 2", "seeds = [1, 1]"),
    "keep: found": SWEEP.replace("seeds = 2", 'keep = "all"'),
    'unknown key "depht"': SWEEP.replace("seabed.depth", "seabed.depht"),
    "needs quotes": SWEEP.replace('"seabed.depth"', "seabed.depth"),
    "found an empty list|found a list": SWEEP.replace('["20 ft"]', "[]"),
    "there is no such file": SWEEP.replace("lake.toml", "lak.toml"),
}


@pytest.mark.parametrize("message", FAULTS)
def test_faults_of_a_sweep_file_name_line_and_key(message, tmp_path):
    (tmp_path / "lake.toml").write_text(SMALL, encoding="utf-8")
    path = tmp_path / "sweep.toml"
    path.write_text(FAULTS[message], encoding="utf-8")
    with pytest.raises(ScenarioError, match=message) as caught:
        inputs.load(path)
    assert all(fault.line for fault in caught.value.faults)


def test_echograms_are_kept_where_asked_and_only_here(tmp_path):
    kept = plan(vary={"seabed.depth": ["6 m"]}, seeds=(3,), keep="echograms")
    results = pipeline.run(kept, tmp_path / "out", threads=1)
    assert "scene-000001.h5" in results.names
    assert pw.open(tmp_path / "out" / "scene-000001.h5").scene() == pw.Scene.parse(SMALL).with_({"seabed.depth": "6 m"})
    with pytest.raises((ScenarioError, UnfinishedError), match="workers on this computer"):
        pipeline.run(kept, tmp_path / "far", cluster="tcp://127.0.0.1:1")


def test_the_picture_speaks_in_the_readers_units(folder):
    results = table.results_of(json.loads((folder / "sweep.json").read_text(encoding="utf-8")))
    metres = sweep_chart.grid(table.columns(plan()), results)
    feet = sweep_chart.in_units(metres, "ft")
    assert sweep_chart.in_units(metres, "m").measures == metres.measures
    for k, (name, unit) in enumerate(metres.measures.items()):
        factor = 0.3048 if unit == "m" else 1.0  # the international foot
        assert feet.measures[name] == ("ft" if unit == "m" else unit)
        assert feet.mean[k] * factor == pytest.approx(metres.mean[k], nan_ok=True)
    assert "m" in metres.measures.values()
    assert feet.x[:2] == ("seabed.depth", "ft")
    assert feet.x[2] == pytest.approx([6 / 0.3048, 7 / 0.3048], rel=1e-5)
    deep = sweep_chart.in_units(metres, "fathoms")  # six feet; widths and small errors stay in feet
    assert deep.x[1:] == ("fathoms", pytest.approx([6 / 1.8288, 7 / 1.8288], rel=1e-5))
    for name, unit in deep.measures.items():
        assert unit == ({"reach": "fathoms"}.get(name, "ft") if metres.measures[name] == "m" else metres.measures[name])
    for units in ("m", "ft", "fathoms"):
        assert pipeline._units(plan(), units) == units
    assert pipeline._units(plan(), None) == "m"


def test_keys_that_change_together_are_one_axis_of_the_picture_and_a_picture_left_out_is_told(tmp_path, monkeypatch):
    """A stand-in for the scenes: only what is drawn and said is tried."""
    together = {"boat.speed": ["2 kn", "4 kn"], "water.wind": ["5 kn", "15 kn"]}
    one = plan(vary={"seabed.depth": ["6 m", "7 m"]}, together=together, seeds=(3,))
    assert [column.key for column in table.drawn_columns(one)] == ["seabed.depth", "boat.speed"]
    assert [column.key for column in table.columns(one)] == ["seabed.depth", "boat.speed", "water.wind"]
    monkeypatch.setattr(pipeline, "_drawn", lambda *_: False)
    monkeypatch.setattr(pipeline, "_work_off", lambda _plan, scenes, rows, *_: [
        rows.put({"number": s.number, "seed": s.seed, "changes": dict(s.changes), "elements": None, "message": "no",
                  "warnings": []}) for s in scenes])  # fmt: skip
    assert any("There is no sweep.png" in note for note in pipeline.run(one, tmp_path / "a").warnings)
    quiet = pipeline.run(one, tmp_path / "b", pictures=False)
    assert not any("sweep.png" in note for note in quiet.warnings)


def test_the_time_of_a_sweep_is_told_on_a_fast_computer_too(tmp_path, monkeypatch):
    """The start that scenes share is paid at the computer's own pace: a fast one told 0 s for 12 scenes."""
    (tmp_path / "lake.toml").write_text(SMALL)
    (tmp_path / "sweep.toml").write_text(SWEEP)
    told = []
    for pace in (0.4, 0.8):
        monkeypatch.setattr("pingwright.costs.pace", lambda pace=pace: pace)
        (line,) = (line for line in check(tmp_path / "sweep.toml").lines if line.startswith("time"))
        told.append(float(re.search(r"about ([0-9.]+) s", line)[1]))
    assert told[1] == pytest.approx(2 * told[0], rel=0.1)
    assert told[0] > 0
