"""What work needs is told before it starts, from the pings it will really make; what will not fit is not started."""

import numpy as np
import pytest
from pingwright import checking, costs
from pingwright.claims import bench, estimate, pipeline
from pingwright.errors import UnfinishedError
from pingwright.inputs import claims, trip
from pingwright.match import bench as match_bench
from pingwright.match import estimate as match_estimate
from pingwright.match import pipeline as match_pipeline
from pingwright.match import trials as match_trials
from world_lab import LOOKS

BASE = """
title = "base"
[water]
temperature = 11
salinity = 34.5
[[element]]
name = "low"
use = "low-pencil"
[seabed]
depth = "15 m"
[[seabed.layer]]
sediment = "mud"
"""
SAY = """
title = "said"
scenario = "base.toml"
runs = {runs}
[[claim]]
says = "it parts"
element = "low"
measure = "{measure}"
fish = {{ swimbladder = "closed", length = "40 cm", {where} }}
place = {{ along = "0 m", across = "0 m" }}
{change}
{bound}
"""
TRIP = """
title = "day"
[day]
depth = ["20 m", "{deep} m"]
sediment = "mud"
temperature = 11
salinity = 34.5
[[species]]
name = "q"
swimbladder = "closed"
length = "45 cm"
where = {{ above_bottom = ["0.3 m", "1.5 m"] }}
[candidates]
elements = [{elements}]
"""


def said(tmp_path, measure="detected", runs=400, where='depth = "10 m"', change="", bound=""):
    (tmp_path / "base.toml").write_text(BASE)
    path = tmp_path / "say.toml"
    path.write_text(SAY.format(measure=measure, runs=runs, where=where, change=change, bound=bound))
    return path


def day(tmp_path, deep=40, elements='"low-pencil"'):
    path = tmp_path / "day.toml"
    path.write_text(TRIP.format(deep=deep, elements=elements))
    return path


@pytest.mark.parametrize("make", [said, day])
def test_check_tells_disk_memory_and_time(tmp_path, make):
    lines = checking.check(make(tmp_path), threads=1).lines
    assert [line.split(":")[0] for line in lines[1:4]] == ["disk", "memory", "time"]


def test_a_trip_s_pings_are_those_that_are_simulated(tmp_path, monkeypatch):
    asked, pinged = trip.load(day(tmp_path, elements='"low-pencil", "medium-pencil"')), []

    def simulate(prepared, places, seed, **_):
        pinged.append(len(places))
        none = np.zeros((len(prepared.elements), len(places)), dtype=bool)
        return match_bench.Judged(none, none)

    monkeypatch.setattr(match_bench, "simulate", simulate)
    match_trials.run(asked)
    assert match_estimate.estimate(asked)[1] == sum(pinged)


@pytest.mark.parametrize("measure", ["detected", "smallest_fish", "range_resolution"])
def test_a_claim_s_pings_are_those_that_are_simulated(tmp_path, monkeypatch, measure):
    """No bound: every run is used. Counted where the engine is called; the estimate counts its seconds by the same."""
    asked = claims.load(said(tmp_path, measure, runs=130))
    calls = []
    true = bench.records

    def records(at, world, *rest):
        calls.append((len(world.track), len(at.prepared.elements)))
        return true(at, world, *rest)

    monkeypatch.setattr(bench, "records", records)
    monkeypatch.setattr(pipeline.beyond, "find", lambda *_: None)
    pipeline.run(tmp_path / "say.toml", tmp_path / "out")
    question = estimate.questions(asked)[0]
    foreseen = estimate._claim(question, estimate.lots.stage(question.scenario), 130, 130)
    assert foreseen.pings == pytest.approx(sum(pings for pings, _ in calls), rel=0.02)


def test_verdicts_that_are_soon_certain_take_less_than_those_that_are_not(tmp_path):
    def needs(bound, runs=4000):
        return estimate.estimate(claims.load(said(tmp_path, bound=f"holds_if = {{ {bound} }}", runs=runs)), threads=1)

    question = estimate.questions(claims.load(said(tmp_path)))[0]
    chance = estimate.theory.value(estimate.lots.stage(question.scenario), question, fine=True)
    even = f"at_least = {chance!r}"
    clear, close = needs("at_most = 0.2"), needs(even)
    assert clear.time < 0.7 * close.time
    assert clear.longest == pytest.approx(close.longest, rel=0.2)
    assert needs(even, runs=40_000).memory > close.memory
    assert needs(even, runs=40_000).longest > 3 * close.longest


def test_deeper_water_and_more_elements_take_more(tmp_path):
    few, deep, many = (
        match_estimate.estimate(trip.load(day(tmp_path, *what)), threads=1)[0]
        for what in ((40, '"low-pencil"'), (400, '"low-pencil"'), (40, '"low-pencil", "medium-pencil", "high-pencil"'))
    )
    assert deep.time > few.time
    assert deep.memory > few.memory
    assert many.time > 2 * (few.time - match_estimate.START)


@pytest.mark.parametrize(("make", "room", "work"), [(said, pipeline, "answering"), (day, match_pipeline, "trials")])
@pytest.mark.parametrize(
    ("limit", "words"), [("TIME_LIMIT", "it takes about .* over the limit"), ("MEMORY_SHARE", "of memory and this")]
)
def test_what_will_not_fit_is_not_started_unless_forced(tmp_path, monkeypatch, make, room, work, limit, words):
    monkeypatch.setattr(costs, limit, 1e-6)
    path, out = make(tmp_path), tmp_path / "out"
    with pytest.raises(UnfinishedError, match=rf"not started: .*{words}.* smaller; --force"):
        room.run(path, out)
    assert not out.exists() or not list(out.iterdir())
    assert any("would refuse" in line for line in checking.check(path).warnings)

    class BegunError(Exception):
        pass

    def begin(*_, **__):
        raise BegunError

    monkeypatch.setattr(getattr(room, work), "answer" if work == "answering" else "run", begin)
    with pytest.raises(BegunError):
        room.run(path, out, force=True)


def test_more_threads_help_and_durations_are_told_in_their_unit():
    assert 1 == costs.cores(1) < costs.cores(2) < 2
    assert [costs.duration(s) for s in (5, 50, 600, 3 * 3600, 1e6)] == ["5 s", "50 s", "10 min", "3.0 h", "12 days"]


def test_scatterers_looked_at_are_those_of_a_disc_and_the_tiles_it_cuts(tmp_path):
    from pingwright.claims import lots
    from pingwright.claims.question import questions

    at = lots.stage(questions(claims.load(said(tmp_path)))[0].scenario)
    world, reach = at.prepared.world, 40.0
    counted = costs.visited(world, (0.0, 0.0, 0.0), reach)
    near = costs.density(world, 0.0, 0.0) * costs.disc(reach, 15.0)
    assert 0.2 * near < counted < 5 * near


def test_the_bottom_s_inside_is_counted_as_dense_as_between_pings(tmp_path):
    """A ping alone has the inside under itself only; among others its neighbours' stretches too, to either side."""
    from pingwright.match import plan

    asked = trip.load(day(tmp_path))
    prepared = match_trials.over_bottom(asked, match_trials.falling(asked))
    alone, reach = match_estimate._world(prepared, 1000.0), 40.0
    here = (1000.0, 0.0, 0.6)
    among = costs.visited(costs.among(alone, here[:2], reach, plan.STEP), here, reach)
    # As the trials lay them out: pings STEP apart all along, counted where the engine looks.
    from pingwright.world import build, track
    from pingwright.world.fish import Placed

    x = np.arange(900.0, 1100.0, plan.STEP)
    nobody = Placed(np.zeros((3, 0)), np.zeros(0), np.zeros(0), np.zeros(0), np.zeros(0, dtype=np.int64))
    bare = prepared.scenario.model_copy(update={"structure": ()})
    together = build.monte_carlo(bare, track.still(x, np.zeros(len(x)), 0.6), nobody, bare.fish[0], None, LOOKS)
    true = costs.visited(together, here, reach)
    assert among == pytest.approx(true, rel=0.1)
    assert costs.visited(alone, here, reach) < 0.9 * true


def test_elements_that_hear_each_other_are_counted_pair_by_pair():
    """Eight elements in four overlapping pairs of bands took 4.6 times the seconds of eight that ping as if alone."""
    from pingwright.inputs.scenario import changed, parse
    from pingwright.recording import prepare
    from pingwright.run import estimate as run_estimate
    from tiny_scenarios import LAKE

    lake = parse(LAKE)
    others = [one.model_copy(update={"name": f"copy of {one.name}"}) for one in lake.element]
    alone = lake.model_copy(update={"element": (*lake.element, *others)})
    together = changed(alone, {"boat.crosstalk": True})
    assert run_estimate.channels(prepare(alone)) == [1, 1, 1, 1]
    assert run_estimate.channels(prepare(together)) == [2, 2, 2, 2]
    few, many = (run_estimate.estimate(prepare(one), threads=1) for one in (alone, together))
    assert many.time > few.time
    assert many.memory > few.memory


def test_the_pace_of_this_machine_is_measured_quickly():
    assert 0.2 <= costs.pace() <= 10.0
