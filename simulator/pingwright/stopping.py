"""Ctrl-C and SIGTERM end a program soon and always in the same way.

A compiler or another library that is working at that moment may turn the stop into its own error, ignore it, or keep
the processor for half a minute. So a stop is remembered, and repeated if it was ignored; after PATIENCE_S the process
is ended. This is safe, because files are written so that a process may end at any moment.
"""

import os
import signal
import sys
import threading
import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from types import FrameType

#: A program that was asked to stop has this time [s] to end by itself.
PATIENCE_S = 4.0
#: A stop that was ignored is repeated after this time [s].
AGAIN_S = 0.05
#: The exit status of work that was interrupted.
STATUS = 3
#: Signals that stop a program, and (the last) the signal of a second try.
NAMES = ("SIGINT", "SIGTERM", "SIGALRM")

_received: list[int] = []
_last_words = ["Stopped before any work began."]


class Stopped(KeyboardInterrupt):
    """A stop. Python would end with another exit status after a bare KeyboardInterrupt that passed through `exec`."""


def listen() -> None:
    """Take over the signals that stop this program, for its main thread; one that is ignored stays ignored."""
    for name in NAMES:
        if hasattr(signal, name) and signal.getsignal(getattr(signal, name)) != signal.SIG_IGN:
            signal.signal(getattr(signal, name), _stop)
    sys.unraisablehook = _swallowed
    if sys.platform != "win32":
        heard, text = os.pipe()
        os.set_blocking(text, False)
        signal.set_wakeup_fd(text, warn_on_full_buffer=False)
        threading.Thread(target=_watch, args=(heard,), daemon=True).start()


def leave_with(words: str) -> None:
    """Set the text for standard error if the process must be ended from outside its main thread; "": it is said."""
    _last_words[0] = words


def deafen() -> None:
    """Ignore these signals from now on: the work is over and the program ends by itself."""
    signal.set_wakeup_fd(-1)
    for name in NAMES:
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)


def serve() -> None:
    """Begin a process that works for another: it leaves Ctrl-C to that one, and ends when that one does.

    A terminal sends Ctrl-C to all processes; the one that gives the jobs ends the others. Where it is killed it cannot:
    idle ones then waited for a job for ever, with their memory.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def asked() -> bool:
    """Return whether a signal has asked this program to stop."""
    return bool(_received)


def _stop(number: int, frame: "FrameType | None") -> None:
    _received.append(number)
    raise Stopped


def _end_with_parent() -> None:
    from multiprocessing import parent_process

    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(STATUS)


def _watch(heard: int) -> None:
    """End the process if a signal came (a byte, from Python's own handler in C) but the program does not stop."""
    stops = {getattr(signal, name) for name in NAMES if hasattr(signal, name)}
    while os.read(heard, 1)[0] not in stops:
        pass
    time.sleep(PATIENCE_S)
    for child in sys.modules["multiprocessing"].active_children() if "multiprocessing" in sys.modules else ():
        child.terminate()  # nobody will take its jobs
    if _last_words[0]:
        os.write(2, f"pingwright: {_last_words[0]}\n".encode())
    os._exit(STATUS)


def _swallowed(lost: "sys.UnraisableHookArgs") -> None:
    """Stop again if the first stop came in a place that cannot pass it on, such as a callback."""
    if not isinstance(lost.exc_value, KeyboardInterrupt):
        sys.__unraisablehook__(lost)
    elif hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_REAL, AGAIN_S)
