"""The message that a user reads when something goes wrong: one paragraph, safe to show."""

import os
import sys
from contextlib import suppress

from pingwright.errors import PingwrightError, ScenarioError

#: Commands whose interrupted work can be resumed, and how.
RESUMED = {
    "run": "the same command with --resume continues",
    **dict.fromkeys(("claims", "match", "sweep"), "the same command continues"),
}


def open_outputs() -> None:
    """Replace a closed output, and let no character stop the printing."""
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115 (open as long as the program)
        with suppress(AttributeError, ValueError):
            getattr(sys, name).reconfigure(errors="backslashreplace")


def paragraph(error: BaseException, command: str) -> str:
    """Return the message for an error that the user can do something about."""
    if isinstance(error, KeyboardInterrupt):
        more = f" The finished part is stored: {RESUMED[command]}." if command in RESUMED else ""
        return f"Stopped before the end. Finished files are complete.{more}"
    if isinstance(error, MemoryError):
        return "This computer has too little memory. Use fewer pings, fewer elements or --threads 1."
    if isinstance(error, ScenarioError) and len(error.faults) > 1:
        return f"{len(error.faults)} errors:\n{error}"
    if isinstance(error, PingwrightError):
        return str(error)
    return f"The operating system reported an error: {error}."


def own_bug(error: BaseException) -> str:
    """Write the traceback to a log file and return the message for the user."""
    import tempfile
    import traceback

    text = f"{' '.join(sys.argv)}\nPython {sys.version}\n\n{''.join(traceback.format_exception(error))}"
    try:
        with tempfile.NamedTemporaryFile(
            "w", prefix="pingwright-fault-", suffix=".log", delete=False, encoding="utf-8", errors="replace"
        ) as log:
            log.write(text)
        where = f"The details are in {log.name}. Please send that file with your report."
    except OSError:
        where = "The details could not be written to a file; repeat the command with --debug to see them."
    return f"This is an internal error of Pingwright, not an error in your input ({type(error).__name__}). {where}"
