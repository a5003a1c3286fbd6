"""What work needs is told before it starts, from the pings it will really make; what will not fit is not started."""

import pytest
from pingwright import checking, costs
from pingwright.claims import estimate, pipeline
from pingwright.errors import UnfinishedError
from pingwright.inputs import claims, trip
from pingwright.match import estimate as match_estimate
from pingwright.match import pipeline as match_pipeline
from pingwright.trials.ground import KEPT_BYTES
from pingwright.trials.needs import Work

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


def test_more_runs_take_longer_at_the_longest_and_a_verdict_may_come_early(tmp_path):
    def needs(bound, runs):
        return estimate.estimate(claims.load(said(tmp_path, bound=bound, runs=runs)), threads=1)

    few, many = (needs("holds_if = { at_least = 0.5 }", runs) for runs in (400, 4000))
    assert many.longest > 2 * few.longest
    assert many.time < many.longest
    assert needs("", 4000).time > few.time


def test_more_elements_take_more(tmp_path):
    few, many = (
        match_estimate.estimate(trip.load(day(tmp_path, *what)), threads=1)[0]
        for what in ((40, '"low-pencil"'), (40, '"low-pencil", "medium-pencil", "high-pencil"'))
    )
    assert many.time > 2 * (few.time - match_estimate.START)


@pytest.mark.parametrize(
    ("make", "room", "work"), [(said, pipeline, pipeline), (day, match_pipeline, match_pipeline.trials)]
)
@pytest.mark.parametrize(
    ("limit", "words"), [("TIME_LIMIT", "it takes about .*; the limit is"), ("MEMORY_SHARE", "of memory, but this")]
)
def test_what_will_not_fit_is_not_started_unless_forced(tmp_path, monkeypatch, make, room, work, limit, words):
    monkeypatch.setattr(costs, limit, 1e-6)
    path, out = make(tmp_path), tmp_path / "out"
    with pytest.raises(UnfinishedError, match=rf"not started: .*{words}.* to need less; --force"):
        room.run(path, out)
    assert not out.exists() or not list(out.iterdir())
    assert any("would refuse" in line for line in checking.check(path).warnings)

    class BegunError(Exception):
        pass

    def begin(*_, **__):
        raise BegunError

    monkeypatch.setattr(work, "_side_by_side" if room is pipeline else "elsewhere", begin)
    monkeypatch.setattr(work, "answer" if room is pipeline else "run", begin)
    with pytest.raises(BegunError):
        room.run(path, out, force=True)


def test_more_threads_help_and_durations_are_told_in_their_unit():
    assert 1 == costs.cores(1) < costs.cores(2) < 2
    assert [costs.duration(s) for s in (5, 50, 600, 3 * 3600, 1e6)] == ["5 s", "50 s", "10 min", "3.0 h", "12 days"]


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


def test_grounds_that_passes_share_are_counted_up_to_what_a_bank_keeps(tmp_path):
    """Two elements at 58 m, 400 passes: 534 MB were used and 177 MB of them held in the bank; 380 MB had been told."""
    few, many = (estimate.estimate(claims.load(said(tmp_path, runs=runs)), threads=1).memory for runs in (100, 10_000))
    pings = estimate.estimate(claims.load(said(tmp_path, change='over = "ping"')), threads=1).memory
    assert pings < few < many
    one = Work(1.0, 1.0, 1.0, 1000, ground=5e6)
    assert (one.held(10), one.held(1e9)) == (1000 + 50_000_000, 1000 + KEPT_BYTES)
