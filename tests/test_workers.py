"""Teams of workers: the same results in the same order whoever does the jobs, also when a worker dies."""

import os
import signal
import subprocess
import sys
import time
from itertools import islice
from pathlib import Path
from types import SimpleNamespace

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


GIVER = """
import sys, threading, time
from pingwright import workers
with workers.team(processes=2) as team:
    jobs = [0.01, float(sys.argv[1])]
    threading.Thread(target=lambda: list(team.map(time.sleep, jobs)), daemon=True).start()
    time.sleep(0.1)
    while len(pids := [one.pid for one in team._pool._processes.values()]) < 2:
        time.sleep(0.05)
    team._pool.submit(time.sleep, 0.01).result()
    print(*pids, flush=True)
    time.sleep(100)
"""


def at_work(pid):
    """Whether a process is there, and not only its exit status that nobody has read."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


@pytest.mark.parametrize("busy", ["0.01", "100"], ids=["idle", "at work"])
def test_workers_end_with_the_one_who_gives_the_jobs(busy):
    """Killed as by `kill -9`, it can tell nobody; its workers waited for ever, with their memory."""
    giver = subprocess.Popen([sys.executable, "-c", GIVER, busy], stdout=subprocess.PIPE, text=True)
    pids = [int(pid) for pid in giver.stdout.readline().split()]
    assert len(pids) == 2
    giver.kill()
    giver.wait()
    deadline = time.monotonic() + 30
    while any(map(at_work, pids)) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not any(map(at_work, pids))
    giver.stdout.close()


@pytest.mark.parametrize("how", TEAMS[1:], ids=str)
def test_a_killed_worker_changes_no_result(how, tmp_path):
    flag = str(tmp_path / "killed")
    with workers.team(**how) as team:
        assert list(team.map(work, [(n, flag) for n in range(20)])) == [n * n for n in range(20)]
    assert Path(flag).exists()


def test_short_jobs_of_dask_go_in_company_and_results_before_an_error_are_kept(monkeypatch):
    """A client that does the work here: jobs are handed out one at a time at first, then sixteen; the order stays."""
    sizes = []

    class Client:
        def scheduler_info(self, n_workers):
            return {"workers": {"one": {}}}

        def submit(self, function, work, jobs, ours, *, pure):
            sizes.append(len(jobs))
            done = function(work, jobs, ours)
            return SimpleNamespace(result=lambda: done, cancel=lambda: None)

    results = workers._Dask(Client()).map(work, [(n, "") for n in range(60)] + [(-3, ""), (4, "")])
    assert list(islice(results, 60)) == [n * n for n in range(60)]
    with pytest.raises(ValueError, match="no root of -3"):
        next(results)
    assert sizes[0] == 1
    assert max(sizes) == workers.MOST_AT_ONCE
    monkeypatch.setattr(workers, "A_TASK_S", 0.0)
    sizes.clear()
    assert len(list(workers._Dask(Client()).map(work, [(n, "") for n in range(9)]))) == 9
    assert sizes == [1] * 9


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
    for asked in ("--cluster", "executor"):
        with pytest.raises(ScenarioError, match=f"{asked}: found"), workers.team(address, asked=asked):
            pass


def test_other_versions_on_a_worker_are_refused():
    with pytest.raises(UnfinishedError, match=r"numpy .* instead of 0\.1"):
        workers._checked(work, [(2, "")], workers.versions() | {"numpy": "0.1"})
