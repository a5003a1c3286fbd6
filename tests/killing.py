"""A process that does one thing over and over, killed at a random moment, many times: for tests of what is left."""

import os
import signal
import subprocess
import sys
import textwrap
import time
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path

HERE = Path(__file__).parent

# A warm parent forks a fresh worker for each kill, so that kills fall into the work and not into imports.
PARENT = """
import os, sys, traceback
sys.path.insert(0, {here!r})
{setup}
for _ in sys.stdin:
    child = os.fork()
    if child == 0:
        try:
{work}
        except Exception:
            traceback.print_exc()
            os._exit(1)  # at once: a slow end would pass for a kill
    print(child, flush=True)
    status = os.waitpid(child, 0)[1]
    print("killed" if os.WIFSIGNALED(status) else status, flush=True)
"""


def killed(setup: str, work: str, delays: Iterable[float]) -> Iterator[None]:
    """Yield after each kill -9 of a worker that did `work` (which never ends by itself) for one of the delays [s]."""
    script = PARENT.format(here=str(HERE), setup=setup, work=textwrap.indent(work, " " * 12))
    parent = subprocess.Popen(
        [sys.executable, "-c", script], stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=HERE.parent, text=True
    )
    try:
        for delay in delays:
            parent.stdin.write("\n")
            parent.stdin.flush()
            child = int(parent.stdout.readline())
            time.sleep(delay)
            with suppress(ProcessLookupError):  # it ended by itself: the next line says so
                os.kill(child, signal.SIGKILL)
            answer = parent.stdout.readline()
            assert answer == "killed\n", f"the work ended by itself before the kill: {answer}"
            yield
    finally:
        parent.kill()
        parent.communicate()
