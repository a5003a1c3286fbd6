"""One worker for all tabs: only the last change of a tab counts, passes run while nothing else waits.

A job is a function of a `Stop`; it checks `stop.wanted` between its steps and returns early if it is set. Jobs run one
at a time in their own thread, so the server can answer at any time.
"""

import threading
from collections.abc import Callable
from dataclasses import dataclass, field


class StoppedError(Exception):
    """A job was asked to stop: something newer waits, or its tab is gone."""


class Stop:
    """A request to stop, checked by the running job."""

    def __init__(self) -> None:
        self._event = threading.Event()

    @property
    def wanted(self) -> bool:
        """Whether the job should end now."""
        return self._event.is_set()

    def set(self) -> None:
        """Ask the job to end."""
        self._event.set()

    def check(self) -> None:
        """Raise StoppedError if the job should end now."""
        if self.wanted:
            raise StoppedError


Job = Callable[[Stop], bool]


@dataclass
class _Waiting:
    job: Job
    stop: Stop = field(default_factory=Stop)


class Worker:
    """Runs the jobs of tabs: at most one picture and one set of passes wait for each tab.

    A picture goes first; a set of passes pauses between two passes and continues after it. A job returns True if it has
    more to do.
    """

    def __init__(self, failed: Callable[[Exception], None]) -> None:
        self._ready = threading.Condition()
        self._pictures: dict[object, _Waiting] = {}
        self._passes: dict[object, _Waiting] = {}
        self._running: dict[object, _Waiting] = {}
        self._open = True
        self._failed = failed
        self._thread = threading.Thread(target=self._run, name="bench", daemon=True)
        self._thread.start()

    def picture(self, tab: object, job: Job) -> None:
        """Run a job as soon as possible, in place of the tab's earlier picture and passes."""
        with self._ready:
            self._end(tab)
            self._pictures[tab] = _Waiting(job)
            self._ready.notify()

    def passes(self, tab: object, job: Job) -> None:
        """Run a job step by step while no picture waits, in place of the tab's earlier passes."""
        with self._ready:
            if (old := self._passes.pop(tab, None)) is not None:
                old.stop.set()
            self._passes[tab] = _Waiting(job)
            self._ready.notify()

    def end(self, tab: object) -> None:
        """Forget all jobs of a tab and ask its running job to stop."""
        with self._ready:
            self._end(tab)

    def close(self) -> None:
        """Ask all jobs to stop, and wait for the thread, at most 5 s."""
        with self._ready:
            self._open = False
            for tab in {*self._pictures, *self._passes, *self._running}:
                self._end(tab)
            self._ready.notify()
        self._thread.join(5.0)

    def _end(self, tab: object) -> None:
        for shelf in (self._pictures, self._passes):
            if (old := shelf.pop(tab, None)) is not None:
                old.stop.set()
        if (running := self._running.get(tab)) is not None:
            running.stop.set()

    def _run(self) -> None:
        while (taken := self._next()) is not None:
            tab, waiting, shelf = taken
            more = False
            try:
                more = waiting.job(waiting.stop)
            except Exception as error:  # the tab gets an answer, and the bench continues with the next job
                self._failed(error)
            with self._ready:
                self._running.pop(tab, None)
                if more and not waiting.stop.wanted and tab not in shelf and self._open:
                    shelf[tab] = waiting

    def _next(self) -> tuple[object, _Waiting, dict[object, _Waiting]] | None:
        with self._ready:
            while self._open and not self._pictures and not self._passes:
                self._ready.wait()
            if not self._open:
                return None
            shelf = self._pictures or self._passes
            tab = next(iter(shelf))
            waiting = shelf.pop(tab)
            self._running[tab] = waiting
            return tab, waiting, shelf
