"""Claims and trips on the workers of a cluster: the same bytes as on one machine, and nothing is done twice."""

import json
from contextlib import contextmanager

import numpy as np
import pytest
from pingwright import workers
from pingwright.checkpoint import Checkpoint
from pingwright.claims import pipeline
from pingwright.match import trials
from test_claims import BASE, CLAIMS
from test_match import trip


@pytest.fixture(scope="module")
def team():
    """One Dask worker for all of this file; that one which dies is replaced is tried in test_workers."""
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

    @contextmanager
    def known(cluster=None, processes=1):
        assert cluster == "local:1"
        yield Counted()

    monkeypatch.setattr(workers, "team", known)
    return given


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
    one = whole.model_copy(update={"element": whole.element[:1]})
    here, state = trials.run(one, threads=1, runs=2), Checkpoint(tmp_path / "state", "work")
    trials.elsewhere(one, "local:1", state, runs=2)
    jobs = len(asked)
    there = trials.run(one, state=state, runs=2)
    for name in ("detected", "separated", "false_alarms", "swath"):
        assert np.array_equal(getattr(here, name), getattr(there, name)), name
    trials.elsewhere(one, "local:1", state, runs=2)
    assert len(asked) == jobs, "what is known is not asked again"
