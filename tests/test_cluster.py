"""Sweeps, claims and trips on the workers of a cluster: the same bytes as on one machine, and nothing is done twice."""

import json
import os
import signal
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
from pingwright import workers
from pingwright.checkpoint import Checkpoint
from pingwright.claims import pipeline
from pingwright.match import depends, trials
from pingwright.match import pipeline as match
from pingwright.sweeps import pipeline as sweeps
from pingwright.sweeps import scene as one_scene
from test_claims import BASE, CLAIMS
from test_match import trip
from test_sweeps import plan

FLAG = "PINGWRIGHT_TEST_FLAG"


@pytest.fixture(scope="module")
def team(tmp_path_factory):
    """One Dask worker for all of this file. A file named by FLAG says that it died once."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(FLAG, str(tmp_path_factory.mktemp("flag") / "killed"))
        with workers.team("local:1") as team:
            yield team


@pytest.fixture
def asked(team, monkeypatch):
    """How many jobs the workers were given, instead of starting others."""
    given = []

    class Counted:
        def map(self, function, jobs):
            jobs = list(jobs)
            given.extend(jobs)
            return team.map(function, jobs)

    alone = workers.team

    @contextmanager
    def known(cluster=None, processes=1):
        if cluster is not None:
            assert cluster == "local:1"
            yield Counted()
            return
        with alone(None, processes) as here:
            yield here

    monkeypatch.setattr(workers, "team", known)
    return given


def killed_once(job):
    """Do a scene; the worker that first meets scene 3 dies, after the refused scenes, before it loads an engine."""
    flag = Path(os.environ[FLAG])
    if job.scene.number == 3 and not flag.exists():
        flag.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return one_scene.work(job)


def test_a_worker_that_dies_changes_no_row_of_a_sweep(asked, tmp_path, monkeypatch):
    small = plan(vary={"seabed.depth": ["0.1 m", "6 m"]})
    sweeps.run(small, tmp_path / "here", threads=1)
    monkeypatch.setattr(sweeps, "work", killed_once)
    sweeps.run(small, tmp_path / "there", cluster="local:1")
    assert Path(os.environ[FLAG]).exists()
    assert len(asked) == 4
    for name in ("sweep.csv", "failures.csv"):
        assert (tmp_path / "there" / name).read_bytes() == (tmp_path / "here" / name).read_bytes()
    assert len((tmp_path / "there" / "sweep.csv").read_text().splitlines()) == 5


def test_claims_are_answered_alike_wherever(asked, tmp_path):
    (tmp_path / "base.toml").write_text(BASE)
    path = tmp_path / "claims.toml"
    path.write_text(CLAIMS.replace("runs = 96", 'runs = 24\nover = "ping"'))
    pipeline.run(path, tmp_path / "here", threads=1, plain=True)
    pipeline.run(path, tmp_path / "there", plain=True, cluster="local:1")
    assert len(asked) == 2
    for name in ("claims.json", "claims.md"):
        assert (tmp_path / "there" / name).read_bytes() == (tmp_path / "here" / name).read_bytes()
    assert json.loads((tmp_path / "there" / "claims.json").read_text())["claims"][0]["runs"] > 0


def test_a_trips_passes_are_alike_wherever(asked, tmp_path):
    whole = trip("25 kn")
    one = whole.model_copy(update={"element": whole.element[1:]})
    here, state = trials.run(one, threads=1, runs=2), Checkpoint(tmp_path / "state", "work")
    with workers.team("local:1") as others:
        trials.elsewhere(one, others, state, runs=2)
    jobs = len(asked)
    there = trials.run(one, state=state, runs=2)
    for name in ("detected", "separated", "false_alarms", "swath"):
        assert np.array_equal(getattr(here, name), getattr(there, name)), name
    with workers.team("local:1") as others:
        trials.elsewhere(one, others, state, runs=2)
    assert len(asked) == jobs, "what is known is not asked again"


def test_what_the_first_place_depends_on_is_asked_of_the_cluster(asked):
    quick = match.judge(trip(), quick=True)
    whole = (quick.trip, quick.hits, quick.ranked, quick.weights, 1)
    here = depends.depends_on(*whole)
    with workers.team("local:1") as others:
        assert depends.depends_on(*whole, others) == here
    assert len(asked) > 3
