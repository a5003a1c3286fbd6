"""The errors, and who reads them.

ScenarioError     the user's input file is wrong; holds all faults.             exit status 2
EchogramError     a stored file is not ours, is damaged or is of a newer form.  exit status 2
UnfinishedError   the work could not be finished: disk, memory, limits.         exit status 3
ValueError        a caller inside this package made a mistake: our own bug.     exit status 4

The text of the first three is written for the user: one clear paragraph, no traceback.
"""

from dataclasses import dataclass


class PingwrightWarning(UserWarning):
    """A warning for a Python user about a result, such as a scene in the near field of a beam."""


class PingwrightError(Exception):
    """An error that a user reads in one paragraph instead of a traceback."""

    exit_status = 3


def printable(text: object) -> str:
    """Return a text that is safe to show: characters that control a terminal, or cannot be shown, are escaped."""
    return "".join(c if c.isprintable() or c == "\n" else c.encode("unicode_escape").decode("ascii") for c in str(text))


@dataclass(frozen=True)
class Fault:
    """One thing wrong with an input file.

    line is counted from 1; 0 if the line is not known. path is a key path such as `element[2].band`.
    """

    file: str
    line: int
    path: str
    message: str

    def __str__(self) -> str:
        """Give the fault as one line, place first."""
        place = f"{self.file}:{self.line}" if self.line else self.file
        return printable(f"{place}: {self.path}: {self.message}" if self.path else f"{place}: {self.message}")


class ScenarioError(PingwrightError):
    """An input file is wrong; `faults` holds all of them."""

    exit_status = 2

    def __init__(self, faults: list[Fault] | tuple[Fault, ...]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


class EchogramError(PingwrightError):
    """A file cannot be read as an echogram file of Pingwright."""

    exit_status = 2


class UnfinishedError(PingwrightError):
    """The work could not be finished, or was refused before it began because it would not fit."""

    exit_status = 3
