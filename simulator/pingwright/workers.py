"""Independent jobs, done here, in processes of this machine or on a Dask scheduler; results in the order of the jobs.

    with team("local:4") as workers:
        for result in workers.map(function, jobs): ...

A function of one job, both picklable; nothing else travels, so keep jobs and results small. Whichever team does the
work, each job gives one result and results come in the order of the jobs: the answer is the same. A job whose worker
dies is done again by another. (Processors of different kinds may differ in the last bit of a level.)
"""

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice
from time import monotonic
from typing import Any, Generic, Protocol, TypeVar

from pingwright import checkpoint, stopping
from pingwright.errors import Fault, ScenarioError, UnfinishedError

Job = TypeVar("Job")
Result = TypeVar("Result")

#: A job whose workers died so often is given up: it is probably the job that kills them.
MOST_DEATHS = 3
#: Jobs handed out at a time to each worker: enough to keep it busy, few enough to stop soon.
WAITING = 3
#: Each worker does one job at a time, so libraries of linear algebra need no threads.
ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}
#: A worker gets several short jobs at once, as many as it does in this time [s]: handing one out and taking its result
#: costs this process 0.05 s of its processor.
A_TASK_S = 1.5
#: Most jobs handed out at once.
MOST_AT_ONCE = 16
#: How often the scheduler is asked how many workers it has [s].
ASKED_EVERY_S = 2.0
#: Dask tells the C library of its workers to give memory back at once. Every array is then mapped anew: a small scene
#: took 0.65 s of the processor, and with these settings 0.30 s. Dask also looks every 10 ms at what a worker does.
LOCAL_DASK = {
    "distributed.nanny.pre-spawn-environ.MALLOC_TRIM_THRESHOLD_": str(1 << 27),
    "distributed.nanny.pre-spawn-environ.MALLOC_MMAP_THRESHOLD_": str(1 << 25),
    "distributed.worker.profile.enabled": False,
}
#: Most workers that `local:N` starts.
MOST_LOCAL = 256
COMPARED = ("numpy", "scipy", "numba", "h5py")


class Team(Protocol):
    """Whoever does the jobs."""

    def map(self, function: Callable[[Job], Result], jobs: Iterable[Job]) -> Iterator[Result]:
        """Yield function(job) for each job, in the order of the jobs. What a function raises is raised here."""


class _Here:
    """Does one job after the other, when its result is asked for."""

    def map(self, function: Callable[[Job], Result], jobs: Iterable[Job]) -> Iterator[Result]:
        return map(function, jobs)


@contextmanager
def team(cluster: str | None = None, processes: int = 1, asked: str = "--cluster") -> Iterator[Team]:
    """Give a team.

    cluster: None, "local:4" (Dask workers on this machine) or the address of a Dask scheduler, "tcp://host:8786".
    processes: without a cluster, the number of processes on this computer; 1 is this process itself.
    Raises ScenarioError for a wrong address; UnfinishedError where the scheduler does not answer, its workers run other
    versions than this machine, or a job's workers keep dying.
    """
    if cluster is not None:
        with _dask(cluster, asked) as workers:
            yield workers
    elif processes > 1:
        with _Processes(processes) as local:
            yield local
    else:
        yield _Here()


@lru_cache(maxsize=1)
def in_threads(function: Callable[[Job], Result], jobs: Sequence[Job]) -> list[Result]:
    """Return function(job) of each, the first alone, the others in threads, one for each processor.

    For short work of large arrays. What the first leaves in memory (patterns of elements), the others find there.
    """
    first = [function(job) for job in jobs[:1]]
    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        return first + list(pool.map(function, jobs[1:]))


def versions() -> dict[str, str]:
    """Return what workers must share: a digest of our program, versions of Python and of the libraries of numbers."""
    import platform
    from importlib import metadata

    ours = {"pingwright": checkpoint.fingerprint()[:16], "python": platform.python_version()}
    return ours | {name: metadata.version(name) for name in COMPARED}


class _Processes:
    """Processes of this machine. When one dies the pool is made again, and what was not done is given to it."""

    def __init__(self, count: int) -> None:
        self._count = count
        self._pool = self._fresh()

    def _fresh(self) -> Any:
        from concurrent.futures import ProcessPoolExecutor
        from multiprocessing import get_context

        os.environ.update({name: os.environ.get(name, one) for name, one in ONE_THREAD.items()})
        return ProcessPoolExecutor(self._count, mp_context=get_context("spawn"), initializer=stopping.serve)

    def __enter__(self) -> "_Processes":
        return self

    def __exit__(self, kind: object, *_: object) -> None:
        if kind is not None:  # nobody will take what they are still at work on
            for process in list((getattr(self._pool, "_processes", None) or {}).values()):
                process.terminate()
        self._pool.shutdown(wait=True, cancel_futures=True)

    def map(self, function: Callable[[Job], Result], jobs: Iterable[Job]) -> Iterator[Result]:
        from concurrent.futures.process import BrokenProcessPool

        queue, waiting = iter(jobs), deque[tuple[Job, Any]]()
        deaths = 0
        while True:
            while len(waiting) < WAITING * self._count and (new := next(queue, _END)) is not _END:
                waiting.append((new, self._given(function, new)))  # type: ignore[arg-type]
            if not waiting:
                return
            try:
                result = waiting[0][1].result()
            except BrokenProcessPool:
                deaths += 1
                if deaths >= MOST_DEATHS:
                    raise UnfinishedError(_dying("A process on this computer")) from None
                self._pool.shutdown(wait=False, cancel_futures=True)
                self._pool = self._fresh()
                waiting = deque((job, self._again(function, job, future)) for job, future in waiting)
                continue
            waiting.popleft()
            deaths = 0
            yield result

    def _given(self, function: Callable[[Job], Result], job: Job) -> Any:
        """Hand a job out; where a process died just now, its future says so, as those of the others do."""
        from concurrent.futures import Future
        from concurrent.futures.process import BrokenProcessPool

        try:
            return self._pool.submit(function, job)
        except BrokenProcessPool as error:
            lost: Future[Result] = Future()
            lost.set_exception(error)
            return lost

    def _again(self, function: Callable[[Job], Result], job: Job, future: Any) -> Any:
        """Return the future of a job that is done, or of doing it again."""
        whole = future.done() and not future.cancelled() and future.exception() is None
        return future if whole else self._given(function, job)


_END = object()


def _dying(who: str) -> str:
    return (
        f"{who} died {MOST_DEATHS} times during the same work, perhaps because memory ran out. Use fewer workers or"
        " smaller scenes. The finished part is stored; the same command continues."
    )


@contextmanager
def _dask(cluster: str, asked: str) -> Iterator[Team]:
    """Give a team of Dask workers at an address, or as many as "local:N" says on this machine.

    asked: what the caller calls the address, for messages.
    """
    kind, _, rest = cluster.partition(":")
    local = kind == "local" and rest.isascii() and rest.isdigit() and 0 < int(rest) <= MOST_LOCAL
    if not local and kind not in {"tcp", "tls"}:
        message = f'found "{cluster[:60]}"; allowed: local:N (N workers here) or a scheduler, as in tcp://host:8786'
        raise ScenarioError([Fault(asked, 0, "", message)])
    with ExitStack() as opened:
        yield _Dask(_connected(cluster, int(rest) if local else 0, opened, asked))


def _connected(cluster: str, count: int, opened: ExitStack, asked: str) -> Any:
    """Return a client of a scheduler, or of `count` new workers here; what was opened closes with the stack."""
    try:
        import distributed
    except ImportError:
        message = f"{asked} needs Dask: pip install 'pingwright[cluster]'."
        raise UnfinishedError(message) from None
    library: Any = distributed
    try:
        if not count:
            return opened.enter_context(library.Client(cluster, timeout="15s"))
        from dask import config

        opened.enter_context(config.set(LOCAL_DASK))
        here = library.LocalCluster(
            n_workers=count, threads_per_worker=1, dashboard_address="127.0.0.1:0", silence_logs=50
        )
        return opened.enter_context(library.Client(opened.enter_context(here)))
    except (OSError, TimeoutError) as error:
        message = f"No Dask scheduler answers at {cluster}: {error}."
        raise UnfinishedError(message) from error


class _Dask:
    """Workers of a Dask scheduler, which gives the jobs of a dead one to others."""

    def __init__(self, client: Any) -> None:
        self._client = client
        self._count, self._asked = 1, -ASKED_EVERY_S

    def _workers(self) -> int:
        """Return how many workers there are: they come and go."""
        if monotonic() - self._asked >= ASKED_EVERY_S:
            self._count = max(len(self._client.scheduler_info(n_workers=-1)["workers"]), 1)
            self._asked = monotonic()
        return self._count

    def map(self, function: Callable[[Job], Result], jobs: Iterable[Job]) -> Iterator[Result]:
        from distributed import KilledWorker

        ours, queue, waiting = versions(), iter(jobs), deque[Any]()
        at_once = 1
        try:
            while True:
                while len(waiting) < WAITING * self._workers() and (some := list(islice(queue, at_once))):
                    waiting.append(self._client.submit(_checked, function, some, ours, pure=False))
                if not waiting:
                    return
                try:
                    done: _Done[Result] = waiting.popleft().result()
                except KilledWorker:
                    raise UnfinishedError(_dying("A worker of the cluster")) from None
                yield from done.results
                if done.error is not None:
                    raise done.error
                at_once = int(min(max(A_TASK_S * len(done.results) / max(done.took, 1e-3), 1), MOST_AT_ONCE))
        finally:
            for future in waiting:
                future.cancel()


@dataclass(frozen=True)
class _Done(Generic[Result]):
    """Results of jobs in order, the error at which they stopped, and the time they took [s]."""

    results: list[Result]
    error: Exception | None
    took: float


def _checked(function: Callable[[Job], Result], jobs: list[Job], theirs: dict[str, str]) -> _Done[Result]:
    """Do some jobs on a worker, which must run what the one who asks runs."""
    here = versions()
    other = [f"{name} {here[name]} instead of {theirs[name]}" for name in theirs if here[name] != theirs[name]]
    if other:
        message = f"A worker of the cluster runs {', '.join(other)}. Install the same versions there."
        raise UnfinishedError(message)
    begin, results = monotonic(), list[Result]()
    for job in jobs:
        try:
            results.append(function(job))
        except Exception as error:  # noqa: BLE001 - raised again where the jobs come from, after the results before it
            return _Done(results, error, monotonic() - begin)
    return _Done(results, None, monotonic() - begin)
