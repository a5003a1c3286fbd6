"""The command line: the only place that prints, draws progress and chooses the exit status.

0 done; 1 a claim does not hold or is undecided; 2 the input is wrong; 3 could not be finished; 4 our own bug.
"""

import argparse
import gc
import json
import os
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from pingwright import startup, stopping
from pingwright.errors import PingwrightError, printable
from pingwright.messages import open_outputs, own_bug, paragraph
from pingwright.options import LOOKS, VIEWS, MisusedError, parser, typed_day, typed_question
from pingwright.progress import progress_bar


def say(message: str) -> None:
    """Print a message for the user on standard error."""
    print(f"pingwright: {printable(message)}", file=sys.stderr)


def show(text: object) -> None:
    """Print a result on standard output."""
    print(printable(text))


def report(results: Any, quiet: bool) -> None:
    """Print a command's results: notes to standard error; the answer and the names of the files to standard output."""
    if not quiet:
        for warning in results.warnings:
            say(f"note: {warning}")
    show(results.answer)
    for name in results.names:
        show(results.folder / name)


#: Names that every namespace holds, and names that `settings_of` reads.
_COMMON = frozenset({"command", "path", "out", "quiet", "debug", "version", "seed", "set", "units", "passes"})


def settings_of(asked: argparse.Namespace) -> dict[str, Any]:
    """Return the keys that --set, --seed, --units and --passes change in the file."""
    given = dict(getattr(asked, "set", None) or ())
    return given | {
        key: value for key in ("seed", "units", "passes") if (value := getattr(asked, key, None)) is not None
    }


def work(function: Callable[..., Any], asked: argparse.Namespace, **options: Any) -> Any:
    """Do a command's work with a progress bar, print its results and return them.

    function(path, out, progress=..., ...) takes each option of the command under the option's name.
    """
    given = {name: value for name, value in vars(asked).items() if name not in _COMMON} | options
    with progress_bar(asked.quiet) as progress:
        results = function(asked.path, asked.out, progress=progress, **given)
    report(results, asked.quiet)
    return results


def run(asked: argparse.Namespace) -> int:
    """Simulate a scenario."""
    from pingwright.run import pipeline

    work(pipeline.run, asked, settings=settings_of(asked))
    return 0


def draw(asked: argparse.Namespace) -> int:
    """Draw a stored file."""
    from pingwright.run import pipeline

    look, view = (
        {name: value for name in names if (value := getattr(asked, name)) is not None} for names in (LOOKS, VIEWS)
    )
    view |= {"marks": False} if asked.no_marks else {}
    figures = asked.figures or ("compare" if look or view else None)
    with progress_bar(asked.quiet) as progress:
        results = pipeline.draw(
            asked.path, asked.out, figures=figures, look=look, view=view, units=asked.units, progress=progress
        )
    report(results, asked.quiet)
    return 0


def check(asked: argparse.Namespace) -> int:
    """Validate a file and say what it needs."""
    from pingwright import checking

    checked = checking.check(asked.path, threads=asked.threads)
    if not asked.quiet:
        for warning in checked.warnings:
            say(f"note: {warning}")
    for line in checked.lines:
        show(line)
    return 0


def new(asked: argparse.Namespace) -> int:
    """Write the starter of a scenario, a claims file or a trip."""
    from pingwright import files
    from pingwright.inputs import starter

    files.create(asked.path, starter.text(asked.kind))
    show(asked.path)
    return 0


def examples(asked: argparse.Namespace) -> int:
    """Copy scenarios and notebooks out of the package."""
    from pingwright.run import examples

    show("\n".join(map(str, examples.copy(asked.path))))
    return 0


def list_(asked: argparse.Namespace) -> int:
    """Show what the catalogues hold."""
    from pingwright.run import shelves

    shown = shelves.shelves(str(asked.path) if asked.path else None)
    if asked.json:
        print(json.dumps({shelf.name: shelf.entries for shelf in shown}, indent=1, ensure_ascii=False))
        return 0
    width = min(shutil.get_terminal_size((100, 24)).columns, 120)
    for shelf in shown:
        show("\n".join(shelf.lines(width)))
    return 0


def claims(asked: argparse.Namespace) -> int:
    """Test claims by simulation."""
    from pingwright.claims import pipeline

    return 0 if work(pipeline.run, asked, settings=settings_of(asked)).all_hold else 1


def match(asked: argparse.Namespace) -> int:
    """Rank elements for a day's fishing."""
    from pingwright.match import pipeline

    text = typed_day(asked, "match")
    if text is not None:
        print(text)
    work(pipeline.run, asked, settings=settings_of(asked), text=text)
    return 0


def ask(asked: argparse.Namespace) -> int:
    """Answer one question about a day."""
    text = typed_question(asked)
    from pingwright.advice import pipeline

    work(pipeline.run, asked, settings=settings_of(asked), text=text)
    return 0


def export(asked: argparse.Namespace) -> int:
    """Write stored echograms in the open convention."""
    from pingwright.export import write

    print(write.export(asked.path, asked.out))
    return 0


def sweep(asked: argparse.Namespace) -> int:
    """Run a scene over a grid of changes, or join the shares of such a sweep."""
    from pingwright.sweeps import pipeline

    if (asked.path is None) == (asked.collect is None):
        message = "Give a sweep file, or --collect with the folders of its shares. See `pingwright sweep --help`."
        raise MisusedError(message)
    with progress_bar(asked.quiet) as progress:
        if asked.collect is not None:
            folder = asked.out or Path("out") / "sweep"
            results = pipeline.collect(asked.collect, folder, pictures=not asked.no_pictures, progress=progress)
        else:
            results = pipeline.run(
                pipeline.planned(asked.path, seed=asked.seed, changes=dict(asked.set or ())),
                pipeline.folder_of(asked.path, asked.out, asked.job),
                threads=asked.threads,
                share=asked.job or (1, 1),
                cluster=asked.cluster,
                pictures=not asked.no_pictures,
                progress=progress,
            )
    report(results, asked.quiet)
    return 0


def validate(asked: argparse.Namespace) -> int:
    """Compare computed with published."""
    from pingwright.validation import pipeline

    with progress_bar(asked.quiet) as progress:
        results = pipeline.run(asked.out, quick=asked.quick, progress=progress)
    report(results, asked.quiet)
    return 1 if results.missed else 0


def recall(asked: argparse.Namespace) -> int:
    """Print the scenario from which a picture was made."""
    from pingwright.run import recalling

    carried = recalling.recall(asked.path)
    if asked.out is not None:
        for path in recalling.restore(carried, asked.out):
            show(path)
        lost = carried.missing
        note = f"the picture does not hold {', '.join(lost)}: too large. You need them to run the scenario again."
    else:
        sys.stdout.write(carried.scenario)
        lost = carried.names
        note = (
            f"the scenario needs {', '.join(lost)} in the same folder. Use --out DIR to write the scenario and these"
            " files."
        )
    if lost and not asked.quiet:
        say(f"note: {note}")
    return 0


def bench(asked: argparse.Namespace) -> int:
    """Serve a scene in the browser until Ctrl-C."""
    from pingwright.bench import pipeline

    def ready(address: str) -> None:
        print(address, flush=True)
        if not asked.quiet:
            say(
                "Open this address in a browser on this computer. Press Ctrl-C to stop. Nothing is written until you"
                " save."
            )

    pipeline.run(asked.path, asked.port, browser=not asked.no_browser, say=ready)
    return 0


#: One handler for each command of options.COMMANDS.
HANDLERS: dict[str, Callable[[argparse.Namespace], int]] = {
    "run": run, "draw": draw, "check": check, "new": new, "examples": examples, "list": list_, "claims": claims,
    "match": match, "ask": ask, "export": export, "sweep": sweep, "validate": validate, "recall": recall,
    "bench": bench,
}  # fmt: skip


def outcome(error: BaseException, asked: argparse.Namespace) -> tuple[str, int]:
    """Return the message for the user and the exit status."""
    if isinstance(error, PingwrightError):
        return paragraph(error, asked.command), error.exit_status
    if isinstance(error, (KeyboardInterrupt, MemoryError, OSError)):
        return paragraph(error, asked.command), 3
    return own_bug(error), 4


def handled(asked: argparse.Namespace) -> int:
    """Run one command and turn every error into a message and an exit status."""
    stopping.leave_with(paragraph(KeyboardInterrupt(), asked.command))
    try:
        return HANDLERS[asked.command](asked)
    except BrokenPipeError:
        raise
    except (Exception, KeyboardInterrupt) as error:
        fault: BaseException = error
        message, status = outcome(KeyboardInterrupt() if stopping.asked() else error, asked)
    if asked.debug:
        import traceback

        traceback.print_exception(fault)
    say(message)
    return status


def _cap_memory() -> None:
    from pingwright import costs

    costs.cap_memory()


def main(arguments: list[str] | None = None, *, capped: bool = False) -> int:
    """Run the command line and return the exit status; capped: with the memory of this process limited."""
    open_outputs()
    try:
        asked = parser().parse_args(arguments)
        if asked.version:
            from pingwright import files

            print(f"{files.PROGRAM} {files.version()}")
        elif asked.command is None:
            parser().print_help()
        else:
            if capped and getattr(asked, "force", None) is False:
                _cap_memory()
            status = handled(asked)
            sys.stdout.flush()
            return status
        sys.stdout.flush()
    except BrokenPipeError:
        # The reader of our output has closed it: print no error, also when the interpreter flushes at its end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except MisusedError as error:
        say(str(error))
        return error.exit_status
    except KeyboardInterrupt:
        say("Stopped before any work began.")
        return 3
    except SystemExit as leaving:
        return leaving.code if isinstance(leaving.code, int) else 2
    return 0


def command() -> int:
    """Run the command line as a program of its own and return the exit status.

    Garbage is collected seldom, and not at all after success, because most objects of a command live as long as the
    command; collecting would take a fifth of the time of a small run. After an error, stack frames may still hold open
    HDF5 files, which must be closed before that library ends; then garbage is collected.
    """
    stopping.listen()
    startup.leave_for_later()
    gc.set_threshold(10_000, 10, 10)
    status = main(capped=True)
    if status > 1:
        gc.collect()
    gc.freeze()
    stopping.deafen()
    return status


if __name__ == "__main__":
    sys.exit(command())
