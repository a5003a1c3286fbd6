"""Teams of workers: the same results in the same order whoever does the jobs, also when a worker dies."""

import os
import signal
from pathlib import Path

import pytest
from pingwright import workers
from pingwright.errors import ScenarioError, UnfinishedError

TEAMS = [{}, {"processes": 2}, {"cluster": "local:2"}]


def work(job: tuple[int, str]) -> int:
    """The square of a number; the process that first does number 5 is killed, as by `kill -9`."""
    number, flag = job
    if number == 5 and flag and not Path(flag).exists():
        Path(flag).touch()
        os.kill(os.getpid(), signal.SIGKILL)
    if number < 0:
        message = f"no root of {number}"
        raise ValueError(message)
    return number * number


def always_dies(job: int) -> int:
    os.kill(os.getpid(), signal.SIGKILL)
    return job


@pytest.mark.parametrize("how", TEAMS[1:], ids=str)
def test_a_killed_worker_changes_no_result(how, tmp_path):
    flag = str(tmp_path / "killed")
    with workers.team(**how) as team:
        assert list(team.map(work, [(n, flag) for n in range(20)])) == [n * n for n in range(20)]
    assert Path(flag).exists()


@pytest.mark.parametrize("how", TEAMS[:2], ids=str)
def test_what_a_job_raises_is_raised_here(how):
    with workers.team(**how) as team:
        results = team.map(work, [(2, ""), (-3, "")])
        assert next(results) == 4
        with pytest.raises(ValueError, match="no root of -3"):
            next(results)


def test_a_job_that_kills_every_worker_is_given_up():
    with workers.team(processes=2) as team, pytest.raises(UnfinishedError, match="died 3 times"):
        list(team.map(always_dies, [1]))


@pytest.mark.parametrize("address", ["banana", "local:0", "local:x", "http://here"])
def test_a_wrong_address_is_refused(address):
    with pytest.raises(ScenarioError, match="--cluster"), workers.team(address):
        pass


def test_other_versions_on_a_worker_are_refused():
    with pytest.raises(UnfinishedError, match=r"numpy .* instead of 0\.1"):
        workers._checked(work, (2, ""), workers.versions() | {"numpy": "0.1"})
