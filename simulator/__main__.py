"""The command line: the only place that prints, draws progress and chooses the exit status.

0 done; 1 a claim does not hold or is undecided; 2 the input is wrong; 3 could not be finished; 4 our own bug.
"""

import argparse
import json
import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from simulator.errors import EchogramError, PingwrightError, ScenarioError

if TYPE_CHECKING:
    from types import FrameType

Progress = Callable[[str, int, int], None]

DESCRIPTION = (
    "Simulates what echo sounder elements of different bands and beams would record over the same water, fish, seabed"
    " and wreck. Everything it shows is synthetic: not for navigation, not for diving, and no proof of a product's"
    " performance."
)
EXAMPLES = {
    "run": "pingwright run scenarios/01_wreck_on_gravel.toml --out my-wreck",
    "draw": "pingwright draw my-wreck/echograms.h5 --out again",
    "check": "pingwright check my-lake.toml",
    "new": "pingwright new my-lake.toml",
    "list": "pingwright list elements",
    "claims": "pingwright claims my-claims.toml --out verdicts",
    "match": "pingwright match my-trip.toml",
    "recall": "pingwright recall my-wreck/compare.png > the-scenario.toml",
}


class Parser(argparse.ArgumentParser):
    """Says what is wrong with a command in one paragraph, status 2."""

    def error(self, message: str) -> NoReturn:
        """Print the fault and how to get help, and leave."""
        say(f"{message[:1].upper()}{message[1:]}. `{self.prog} --help` shows what is possible.")
        raise SystemExit(2)


def say(message: str) -> None:
    """Print a message for the user on standard error."""
    print(f"pingwright: {message}", file=sys.stderr)


def positive(text: str) -> int:
    """Return a whole number above 0, for options that count (threads)."""
    try:
        value = int(text)
    except ValueError:
        value = 0
    if not 0 < value <= 1024:
        message = f"{text!r} is not a whole number from 1 to 1024"
        raise argparse.ArgumentTypeError(message)
    return value


def seed(text: str) -> int:
    """Return a seed, 0 to 2^63 - 1."""
    if not (text.isascii() and text.isdigit() and len(text) < 20 and int(text) < 2**63):
        message = f"{text[:40]!r} is not a whole number from 0 to 2^63 - 1"
        raise argparse.ArgumentTypeError(message)
    return int(text)


def parser() -> Parser:
    """Return the parser of the whole command line."""
    whole = Parser(prog="pingwright", description=DESCRIPTION)
    whole.add_argument("--version", action="store_true", help="print the version and stop")
    whole.add_argument("--quiet", action="store_true", help="no progress and no notes, only results and faults")
    whole.add_argument("--debug", action="store_true", help="show the traceback of a fault")
    commands = whole.add_subparsers(dest="command", metavar="COMMAND", parser_class=Parser)

    def command(name: str, what: str, argument: str, meaning: str, **more: Any) -> argparse.ArgumentParser:
        example = f"example: {EXAMPLES[name]}"
        made = commands.add_parser(name, help=what, description=what, epilog=example)
        made.add_argument("path", type=Path, metavar=argument, help=meaning, **more)
        for flag, does in (("--quiet", "no progress and no notes"), ("--debug", "show the traceback of a fault")):
            made.add_argument(flag, action="store_true", default=argparse.SUPPRESS, help=does)
        return made

    _add_commands(command)
    return whole


def _add_commands(command: Callable[..., argparse.ArgumentParser]) -> None:
    """Add the eight commands with their options."""
    out = {"type": Path, "metavar": "DIR", "help": "folder for the results (default: out/<name of the file>)"}
    threads = {"type": positive, "metavar": "N", "help": "threads (default: one for each core)"}
    made = command("run", "simulate a scenario: echograms, pictures, page, summary", "SCENARIO", "scenario file (TOML)")
    made.add_argument("--out", **out)
    made.add_argument("--threads", **threads)
    made.add_argument("--seed", type=seed, metavar="N", help="use this seed in place of the scenario's")
    made.add_argument("--keep-phase", action="store_true", help="store the complex output too (five times the size)")
    made.add_argument("--resume", action="store_true", help="go on with a run that was stopped")
    made.add_argument("--force", action="store_true", help="go on over a size limit")
    made = command("draw", "pictures, page and summary from stored echograms", "ECHOGRAMS", "an echograms.h5 of ours")
    made.add_argument("--out", **out)
    made = command("check", "validate a file and estimate size, memory and time", "FILE", "scenario, claims or trip")
    made.add_argument("--threads", **threads)
    command("new", "write a commented starter scenario; never overwrites", "FILE", "the file to make")
    made = command(
        "list", "what the catalogues hold, with sources", "CATALOGUE", "elements, sediments, fish, ...", nargs="?"
    )
    made.add_argument("--json", action="store_true", help="as JSON")
    for name, what, argument in (
        ("claims", "put claims to the test: a verdict and a figure each", "CLAIMS"),
        ("match", "rank elements for a day's fishing", "TRIP"),
    ):
        made = command(name, what, argument, f"{argument.lower()} file (TOML)")
        made.add_argument("--out", **out)
        made.add_argument("--threads", **threads)
        made.add_argument("--seed", type=seed, metavar="N", help="use this seed in place of the file's")
    command("recall", "print the scenario a picture or page was made from", "PICTURE", "a picture or page of ours")


@contextmanager
def progress_bar(quiet: bool) -> Iterator[Progress | None]:
    """Give a progress function that draws on standard error; None where that is no terminal or silence is asked."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeElapsedColumn, TimeRemainingColumn
    from rich.progress import Progress as Bars

    console = Console(stderr=True)  # honours NO_COLOR
    columns = (TextColumn("{task.description:>10}"), BarColumn(), TextColumn("{task.percentage:>3.0f} %"))
    with Bars(*columns, TimeElapsedColumn(), TimeRemainingColumn(), console=console, transient=True) as bars:
        tasks: dict[str, Any] = {}

        def show(stage: str, done: int, total: int) -> None:
            if stage not in tasks:
                tasks[stage] = bars.add_task(stage, total=total)
            bars.update(tasks[stage], completed=done, total=total)

        yield show


def told(results: Any, quiet: bool) -> None:
    """Print a command's results: notes to standard error; the answer and the names of the files to standard output."""
    if not quiet:
        for warning in results.warnings:
            say(f"note: {warning}")
    print(results.answer)
    for name in results.names:
        print(results.folder / name)


def run(asked: argparse.Namespace) -> int:
    """Simulate a scenario."""
    from simulator.run import pipeline

    with progress_bar(asked.quiet) as progress:
        results = pipeline.run(
            asked.path,
            asked.out,
            threads=asked.threads,
            seed=asked.seed,
            keep_phase=asked.keep_phase,
            resume=asked.resume,
            force=asked.force,
            progress=progress,
        )
    told(results, asked.quiet)
    return 0


def draw(asked: argparse.Namespace) -> int:
    """Draw a stored file."""
    from simulator.run import pipeline

    with progress_bar(asked.quiet) as progress:
        results = pipeline.draw(asked.path, asked.out, progress=progress)
    told(results, asked.quiet)
    return 0


def check(asked: argparse.Namespace) -> int:
    """Validate a file and say what it needs."""
    from simulator.run import checking

    checked = checking.check(asked.path, threads=asked.threads)
    if not asked.quiet:
        for warning in checked.warnings:
            say(f"note: {warning}")
    for line in checked.lines:
        print(line)
    return 0


def new(asked: argparse.Namespace) -> int:
    """Write the starter scenario."""
    from simulator import files
    from simulator.inputs import starter

    files.create(asked.path, starter.text())
    print(asked.path)
    return 0


def list_(asked: argparse.Namespace) -> int:
    """Show what the catalogues hold."""
    from simulator.run import shelves

    shown = shelves.shelves(str(asked.path) if asked.path else None)
    if asked.json:
        print(json.dumps({shelf.name: shelf.entries for shelf in shown}, indent=1, ensure_ascii=False))
        return 0
    from rich.console import Console
    from rich.table import Table

    width = None if sys.stdout.isatty() else 160
    console = Console(width=width, highlight=False)
    for shelf in shown:
        table = Table(*shelf.columns, title=shelf.name, title_justify="left", box=None, pad_edge=False)
        for row in shelf.rows:
            table.add_row(*row)
        console.print(table)
        console.print()
    return 0


def claims(asked: argparse.Namespace) -> int:
    """Put claims to the test."""
    from simulator.claims import pipeline

    with progress_bar(asked.quiet) as progress:
        results = pipeline.run(asked.path, asked.out, threads=asked.threads, seed=asked.seed, progress=progress)
    told(results, asked.quiet)
    return 0 if results.all_hold else 1


def match(asked: argparse.Namespace) -> int:
    """Rank elements for a day's fishing."""
    from simulator.match import pipeline

    with progress_bar(asked.quiet) as progress:
        results = pipeline.run(asked.path, asked.out, threads=asked.threads, seed=asked.seed, progress=progress)
    told(results, asked.quiet)
    return 0


def recall(asked: argparse.Namespace) -> int:
    """Print the scenario a picture was made from."""
    from simulator.run import recalling

    carried = recalling.recall(asked.path)
    sys.stdout.write(carried.scenario)
    if not asked.quiet and carried.names:
        say(f"note: the scenario refers to {', '.join(carried.names)}; it needs these files beside it to run again.")
    return 0


HANDLERS: dict[str, Callable[[argparse.Namespace], int]] = {
    "run": run, "draw": draw, "check": check, "new": new, "list": list_, "claims": claims, "match": match,
    "recall": recall,
}  # fmt: skip


def own_bug(error: BaseException) -> str:
    """Write the traceback to a log file and return the paragraph for the user."""
    import tempfile
    import traceback

    text = f"{' '.join(sys.argv)}\nPython {sys.version}\n\n{''.join(traceback.format_exception(error))}"
    try:
        with tempfile.NamedTemporaryFile(
            "w", prefix="pingwright-fault-", suffix=".log", delete=False, encoding="utf-8", errors="replace"
        ) as log:
            log.write(text)
        where = f"The details are in {log.name}; please send that file with your report."
    except OSError:
        where = "The details could not be written anywhere; --debug shows them."
    return f"This is a fault of ours, not of your input ({type(error).__name__}). {where}"


def _stop(number: int, frame: "FrameType | None") -> None:
    raise KeyboardInterrupt


def handled(asked: argparse.Namespace) -> int:
    """Run one command and turn whatever goes wrong into a message and an exit status."""
    try:
        return HANDLERS[asked.command](asked)
    except BrokenPipeError:
        raise
    except (PingwrightError, KeyboardInterrupt, MemoryError, OSError) as error:
        message, status = paragraph(error, asked), error.exit_status if isinstance(error, PingwrightError) else 3
        fault: BaseException = error
    except Exception as error:
        message, status, fault = own_bug(error), 4, error
    if asked.debug:
        import traceback

        traceback.print_exception(fault)
    say(message)
    return status


def paragraph(error: BaseException, asked: argparse.Namespace) -> str:
    """Return what is said to the user."""
    if isinstance(error, KeyboardInterrupt):
        more = " What was computed is kept: the same command with --resume goes on." if asked.command == "run" else ""
        return f"Stopped before the end; finished files are whole.{more}"
    if isinstance(error, MemoryError):
        return "The memory of this machine did not suffice; fewer pings or elements or --threads 1 need less."
    if isinstance(error, ScenarioError) and len(error.faults) > 1:
        return f"{len(error.faults)} faults:\n{error}"
    if isinstance(error, EchogramError | PingwrightError):
        return str(error)
    return f"The system refused: {error}."


def main(arguments: list[str] | None = None) -> int:
    """Run the command line and return the exit status."""
    with suppress(ValueError, AttributeError):  # not in the main thread, or no such signal here
        signal.signal(signal.SIGTERM, _stop)
    try:
        asked = parser().parse_args(arguments)
        if asked.version:
            from importlib.metadata import version

            print(f"pingwright {version('pingwright')}")
        elif asked.command is None:
            parser().print_help()
        else:
            status = handled(asked)
            sys.stdout.flush()
            return status
        sys.stdout.flush()
    except BrokenPipeError:
        # Whoever read our output has enough: be quiet, also when the interpreter flushes at its end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except KeyboardInterrupt:
        say("Stopped before anything was begun.")
        return 3
    except SystemExit as leaving:
        return leaving.code if isinstance(leaving.code, int) else 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
