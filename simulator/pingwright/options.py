"""The commands and options of the command line, in the user's words."""

import argparse
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, NoReturn

from pingwright.errors import PingwrightError

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
    "claims": "pingwright claims scenarios/claims-trade.toml --out verdicts",
    "match": "pingwright match scenarios/trip-lake.toml",
    "recall": "pingwright recall my-wreck/compare.png > the-scenario.toml",
}
SHELVES = "elements, sediments, fish, ...; or keys, claims_keys, trip_keys: what a file may hold"
#: How further figures look unless an option says otherwise.
DRAWN = {"format": "png", "size": "two-column", "theme": "light", "units": "m"}


class MisusedError(PingwrightError):
    """The command line is wrong."""

    exit_status = 2


class Parser(argparse.ArgumentParser):
    """Says what is wrong with a command in one paragraph."""

    def parse_args(self, args: Any = None, namespace: Any = None) -> Any:
        """Return the namespace; what no option takes is refused with the command it was meant for, and the nearest."""
        asked, left = self.parse_known_args(args, namespace)
        if left:
            subs = next(action.choices for action in self._actions if isinstance(action.choices, dict))
            inner = subs.get(getattr(asked, "command", None), self)
            inner.error(f"`{inner.prog}` does not take {' '.join(left)}{_elsewhere(left[0], inner, subs)}")
        return asked

    def error(self, message: str) -> NoReturn:
        """Raise MisusedError with the fault and how to get help."""
        word = re.match(r"argument COMMAND: invalid choice: '(.*)' \(choose from (.*)\)", message)
        if word:
            given = word[1]
            meant = f"; did you mean `{self.prog} run {given}`?" if given.endswith(".toml") else ""
            meant = meant or _nearest(given, list(EXAMPLES))
            message = f"'{given}' is no command; there are {', '.join(EXAMPLES)}{meant}"
        end = "" if message.endswith("?") else "."
        text = f"{message[:1].upper()}{message[1:]}{end} `{self.prog} --help` shows what is possible."
        raise MisusedError(text)


def _flags(parser: argparse.ArgumentParser) -> list[str]:
    return [flag for action in parser._actions for flag in action.option_strings if flag.startswith("--")]


def _elsewhere(given: str, asked: Parser, commands: dict[str, Parser]) -> str:
    """Return which option, of this command or another, was probably meant; "" where none is near."""
    word = given.partition("=")[0]
    for name, other in commands.items():
        for flag in _flags(other):
            if len(word) > 4 and flag.startswith(word) and flag not in _flags(asked):
                return f"; {flag} is an option of `pingwright {name}`"
    return _nearest(word, _flags(asked))


def _nearest(word: str, known: list[str]) -> str:
    """Return '; did you mean `run`?' for the known word nearest to a misspelt one, or ""."""
    import difflib

    near = difflib.get_close_matches(word[:60], known, n=1)
    return f"; did you mean `{near[0]}`?" if near else ""


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
    out: dict[str, Any] = {
        "type": Path,
        "metavar": "DIR",
        "help": "folder for the results (default: out/<name of the file>)",
    }
    threads: dict[str, Any] = {"type": positive, "metavar": "N", "help": "threads (default: one for each core)"}
    made = command("run", "simulate a scenario: echograms, pictures, page, summary", "SCENARIO", "scenario file (TOML)")
    made.add_argument("--out", **out)
    made.add_argument("--threads", **threads)
    made.add_argument("--seed", type=seed, metavar="N", help="use this seed in place of the scenario's")
    made.add_argument("--keep-phase", action="store_true", help="store the complex output too (five times the size)")
    made.add_argument("--compress", action="store_true", help="pack the echograms (a quarter smaller, slower)")
    made.add_argument("--resume", action="store_true", help="go on with a run that was stopped")
    made.add_argument("--force", action="store_true", help="go on over a size limit")
    _add_draw(command)
    made = command("check", "validate a file and estimate size, memory and time", "FILE", "file or results to check")
    made.add_argument("--threads", **threads)
    made = command("new", "write a commented file to start from; never overwrites", "FILE", "the file to make")
    kinds = ("scenario", "claims", "trip")
    made.add_argument("--kind", choices=kinds, default="scenario", help="what it will be (default: scenario)")
    made = command("list", "what the catalogues hold, with sources", "CATALOGUE", SHELVES, nargs="?")
    made.add_argument("--json", action="store_true", help="as JSON")
    for name, what, argument in (
        ("claims", "put claims to the test: a verdict and a figure each", "CLAIMS"),
        ("match", "rank elements for a day's fishing", "TRIP"),
    ):
        made = command(name, what, argument, f"{argument.lower()} file (TOML)")
        made.add_argument("--out", **out)
        made.add_argument("--threads", **threads)
        made.add_argument("--seed", type=seed, metavar="N", help="use this seed in place of the file's")
        made.add_argument("--resume", action="store_true", help="changes nothing: what was stopped goes on by itself")
        made.add_argument("--force", action="store_true", help="go on over a limit of memory or time")
    made = command("recall", "give back what a picture or page was made from", "PICTURE", "a picture or page of ours")
    made.add_argument(
        "--out", type=Path, metavar="DIR", help="write it and the files it refers to into DIR (default: print it)"
    )


def _add_draw(command: Callable[..., argparse.ArgumentParser]) -> None:
    """Add draw: its options say how further figures look."""
    made = command("draw", "pictures, page and summary from stored echograms", "ECHOGRAMS", "an echograms.h5 of ours")
    made.add_argument("--out", type=Path, metavar="DIR", help="folder for the results (default: that of echograms.h5)")
    names = "compare, cutaway, ping, beams, source, coverage, absorption, strength, pulse, difference, motion"
    made.add_argument("--figures", metavar="NAMES", help=f"further figures with captions: all, or with commas: {names}")
    for option, choices, what in (
        ("--format", ("png", "svg", "pdf"), "file format of these figures"),
        ("--size", ("one-column", "two-column", "slide"), "their size"),
        ("--theme", ("light", "dark"), "their colours"),
        ("--units", ("m", "ft", "fathoms"), "their depths and lengths"),
    ):
        default = DRAWN[option.strip("-")]
        more = "" if option != "--format" else "; without --figures, of the comparison alone"
        made.add_argument(option, choices=choices, help=f"{what} (default: {default}{more})")
