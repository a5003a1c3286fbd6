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
    """Print a result on standard output, at once: an answer may be followed by a better one."""
    print(printable(text), flush=True)


def report(results: Any, quiet: bool) -> None:
    """Print a command's results: notes to standard error; the answer and the names of the files to standard output."""
    if not quiet:
        for warning in results.warnings:
            say(f"note: {warning}")
    if results.answer:
        show(results.answer)
    for name in results.names:
        show(results.folder / name)


#: Names that every namespace holds, and names that `settings_of` reads.
_COMMON = frozenset({"command", "path", "out", "quiet", "debug", "version", "seed", "set", "units", "passes"})


def settings_of(args: argparse.Namespace) -> dict[str, Any]:
    """Return the keys that --set, --seed, --units and --passes change in the file."""
    given = dict(getattr(args, "set", None) or ())
    return given | {
        key: value for key in ("seed", "units", "passes") if (value := getattr(args, key, None)) is not None
    }


def work(function: Callable[..., Any], args: argparse.Namespace, **options: Any) -> Any:
    """Do a command's work with a progress bar, print its results and return them.

    function(path, out, progress=..., ...) takes each option of the command under the option's name.
    """
    given = {name: value for name, value in vars(args).items() if name not in _COMMON} | options
    with progress_bar(args.quiet) as progress:
        results = function(args.path, args.out, progress=progress, **given)
    report(results, args.quiet)
    return results


def run(args: argparse.Namespace) -> int:
    """Simulate a scenario."""
    from pingwright.run import pipeline

    work(pipeline.run, args, settings=settings_of(args))
    return 0


def draw(args: argparse.Namespace) -> int:
    """Draw a stored file."""
    from pingwright.run import pipeline

    look, view = (
        {name: value for name in names if (value := getattr(args, name)) is not None} for names in (LOOKS, VIEWS)
    )
    view |= {"marks": False} if args.no_marks else {}
    figures = args.figures or ("compare" if look or view else None)
    with progress_bar(args.quiet) as progress:
        results = pipeline.draw(
            args.path, args.out, figures=figures, look=look, view=view, units=args.units, progress=progress
        )
    report(results, args.quiet)
    return 0


def check(args: argparse.Namespace) -> int:
    """Validate a file and say what it needs."""
    from pingwright import checking

    checked = checking.check(args.path, threads=args.threads, units=args.units)
    if not args.quiet:
        for warning in checked.warnings:
            say(f"note: {warning}")
    for line in checked.lines:
        show(line)
    return 0


def new(args: argparse.Namespace) -> int:
    """Write the starter of a scenario, a claims file or a trip."""
    from pingwright import files
    from pingwright.inputs import starter

    files.create(args.path, starter.text(args.kind))
    show(args.path)
    return 0


def examples(args: argparse.Namespace) -> int:
    """Copy scenarios and notebooks out of the package."""
    from pingwright.run import examples

    show("\n".join(map(str, examples.copy(args.path))))
    return 0


def list_(args: argparse.Namespace) -> int:
    """Show what the catalogues hold."""
    from pingwright.run import shelves

    shown = shelves.shelves(str(args.path) if args.path else None, args.units or "m")
    if args.json:
        print(json.dumps({shelf.name: shelf.entries for shelf in shown}, indent=1, ensure_ascii=False))
        return 0
    width = min(shutil.get_terminal_size((100, 24)).columns, 120)
    for shelf in shown:
        show("\n".join(shelf.lines(width)))
    return 0


def claims(args: argparse.Namespace) -> int:
    """Test claims by simulation."""
    from pingwright.claims import pipeline

    return 0 if work(pipeline.run, args, settings=settings_of(args)).all_hold else 1


def match(args: argparse.Namespace) -> int:
    """Rank elements for a day's fishing."""
    from pingwright.match import pipeline

    text = typed_day(args, "match")
    if text is not None:
        print(text)
    work(pipeline.run, args, settings=settings_of(args), text=text, first=show)
    return 0


def ask(args: argparse.Namespace) -> int:
    """Answer one question about a day."""
    text = typed_question(args)
    from pingwright.advice import pipeline

    work(pipeline.run, args, settings=settings_of(args), text=text, first=show)
    return 0


def export(args: argparse.Namespace) -> int:
    """Write stored echograms in the open convention."""
    from pingwright.export import write

    print(write.export(args.path, args.out))
    return 0


def sweep(args: argparse.Namespace) -> int:
    """Run a scene over a grid of changes, or join the shares of such a sweep."""
    from pingwright.sweeps import pipeline

    if (args.path is None) == (args.collect is None):
        message = "Give a sweep file, or --collect with the folders of its shares. See `pingwright sweep --help`."
        raise MisusedError(message)
    with progress_bar(args.quiet) as progress:
        if args.collect is not None:
            folder = args.out or Path("out") / "sweep"
            results = pipeline.collect(
                args.collect, folder, pictures=not args.no_pictures, units=args.units, progress=progress
            )
        else:
            results = pipeline.run(
                pipeline.planned(args.path, seed=args.seed, changes=dict(args.set or ())),
                pipeline.folder_of(args.path, args.out, args.job),
                threads=args.threads,
                share=args.job or (1, 1),
                cluster=args.cluster,
                pictures=not args.no_pictures,
                units=args.units,
                progress=progress,
            )
    report(results, args.quiet)
    return 0


def validate(args: argparse.Namespace) -> int:
    """Compare computed with published."""
    from pingwright.validation import pipeline

    with progress_bar(args.quiet) as progress:
        results = pipeline.run(args.out, quick=args.quick, progress=progress)
    report(results, args.quiet)
    return 1 if results.missed else 0


def recall(args: argparse.Namespace) -> int:
    """Print the scenario from which a picture was made."""
    from pingwright.run import recalling

    carried = recalling.recall(args.path)
    if args.out is not None:
        for path in recalling.restore(carried, args.out):
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
    if lost and not args.quiet:
        say(f"note: {note}")
    return 0


def bench(args: argparse.Namespace) -> int:
    """Serve a scene in the browser until Ctrl-C."""
    from pingwright.bench import pipeline

    def ready(address: str) -> None:
        print(address, flush=True)
        if not args.quiet:
            say(
                "Open this address in a browser on this computer. Press Ctrl-C to stop. Nothing is written until you"
                " save."
            )

    pipeline.run(args.path, args.port, browser=not args.no_browser, say=ready)
    return 0


#: One handler for each command of options.COMMANDS.
HANDLERS: dict[str, Callable[[argparse.Namespace], int]] = {
    "run": run, "draw": draw, "check": check, "new": new, "examples": examples, "list": list_, "claims": claims,
    "match": match, "ask": ask, "export": export, "sweep": sweep, "validate": validate, "recall": recall,
    "bench": bench,
}  # fmt: skip


def outcome(error: BaseException, args: argparse.Namespace) -> tuple[str, int]:
    """Return the message for the user and the exit status."""
    if isinstance(error, PingwrightError):
        return paragraph(error, args.command), error.exit_status
    if isinstance(error, (KeyboardInterrupt, MemoryError, OSError)):
        return paragraph(error, args.command), 3
    return own_bug(error), 4


def handled(args: argparse.Namespace) -> int:
    """Run one command and turn every error into a message and an exit status."""
    stopping.leave_with(paragraph(KeyboardInterrupt(), args.command))
    try:
        return HANDLERS[args.command](args)
    except BrokenPipeError:
        raise
    except (Exception, KeyboardInterrupt) as error:
        fault: BaseException = error
        message, status = outcome(KeyboardInterrupt() if stopping.asked() else error, args)
    if args.debug:
        import traceback

        traceback.print_exception(fault)
    stopping.leave_with("")  # the same words are not said twice where the end takes long
    say(message)
    return status


def _cap_memory() -> None:
    from pingwright import costs

    costs.cap_memory()


def main(arguments: list[str] | None = None, *, capped: bool = False) -> int:
    """Run the command line and return the exit status; capped: with the memory of this process limited."""
    open_outputs()
    try:
        args = parser().parse_args(arguments)
        if args.version:
            from pingwright import files

            print(f"{files.PROGRAM} {files.version()}")
        elif args.command is None:
            parser().print_help()
        else:
            if capped and getattr(args, "force", None) is False:
                _cap_memory()
            status = handled(args)
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
    """Run the command line as a complete program and return the exit status.

    Garbage is collected seldom, and not at all after success, because most objects of a command live as long as the
    command; collecting would take a fifth of the time of a small run. After an error, stack frames may still hold open
    HDF5 files, which must be closed before that library ends; then garbage is collected.
    """
    status = None
    try:
        stopping.listen()
        startup.leave_for_later()
        gc.set_threshold(10_000, 10, 10)
        status = main(capped=True)
        if status > 1:
            gc.collect()
        gc.freeze()
    except KeyboardInterrupt:  # while the program got ready, or after its last word
        if status is None:
            say("Stopped before any work began.")
    stopping.deafen()
    return stopping.STATUS if status is None else status


if __name__ == "__main__":
    sys.exit(command())
