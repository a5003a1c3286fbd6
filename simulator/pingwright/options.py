"""The commands and options of the command line, in the user's words: one table, `COMMANDS`."""

import argparse
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NoReturn

from pingwright.arguments import passes, path, port, positive, seed, setting, share, span, words
from pingwright.errors import PingwrightError

DESCRIPTION = (
    "Simulates what echo sounder elements of different bands and beams would record over the same water, fish, seabed"
    " and wreck. Everything it shows is synthetic: not for navigation, not for diving, and no proof of a product's"
    " performance."
)
FIGURES = (
    "compare, echogram, cutaway, ping, beams, source, coverage, absorption, reach, arch, strength, pulse, chirp,"
    " difference, motion, still"
)
#: Options of draw that say how further figures look, and those that say what they show.
LOOKS, VIEWS = ("format", "size", "theme"), ("headline", "note", "depth", "along")
UNITS = ("m", "ft", "fathoms")


class MisusedError(PingwrightError):
    """The command line is wrong."""

    exit_status = 2


@dataclass(frozen=True)
class Option:
    """One option: its flag, and what argparse needs to know of it."""

    flag: str
    settings: Mapping[str, Any]


def option(flag: str, text: str, **settings: Any) -> Option:
    """Return an option with its help; without settings it is a switch."""
    return Option(flag, {"help": text, **(settings or {"action": "store_true"})})


@dataclass(frozen=True)
class Command:
    """One command: what it does, its argument (a word for it and its meaning), an example, its options."""

    name: str
    does: str
    argument: str
    meaning: str
    example: str
    options: tuple[Option, ...] = ()
    needed: bool = True


OUT = option("--out", "folder for the results (default: out/<name of the file>)", type=path, metavar="DIR")
THREADS = option("--threads", "threads (default: one for each core)", type=positive, metavar="N")
SEED = option("--seed", "use this seed instead of the file's", type=seed, metavar="N")
SET = option(
    "--set",
    'set a key, as in --set "seabed.depth=58 m" (may be given several times); KEY= leaves the key out',
    type=setting,
    metavar="KEY=VALUE",
    action="append",
)
IN_UNITS = option("--units", "show depths and lengths in these units (default: as the file says)", choices=UNITS)
FORCE = option("--force", "ignore the limits of disk, memory and time")
CLUSTER = option("--cluster", "Dask workers: local:4, or a scheduler's address, tcp://host:8786", metavar="ADDRESS")
QUICK = option("--quick", "closed forms only, nothing is simulated")
PLAIN = option("--plain", "without asking what each verdict, or the first place, depends on")
AUTOMATIC = option("--resume", "no effect here: interrupted work is resumed automatically")

#: A day in words, instead of a file; `match` and `ask` read them alike (inputs.typed).
DAY = (
    option("--depth", "instead of a file: depth of the bottom, as in 150..250 ft", metavar="DEPTH"),
    option(
        "--species",
        'a fish, as in "perch, 30 cm, near the bottom", or a school, as in "bait school, 4 in, 30 ft wide, top 60 ft";'
        " body plans have names, as in grouper-like; it may be tight to, near or over a wreck, reef or ledge, in"
        " mid-water, 20..40 ft deep (may be given several times)",
        metavar="FISH",
        action="append",
    ),
    option("--speed", "of the boat: 4 kn, drifting, trolling, under way (default: 3 kn)", metavar="SPEED"),
    option("--bottom", "a sediment of the catalogue (default: gravel)", metavar="SEDIMENT"),
    option("--ground", "bare, slope, ledge, wreck, reef or weed (default: bare)", metavar="GROUND"),
    option("--wind", "wind, as in 10 kn (default: 8 kn)", metavar="SPEED"),
    option("--water", 'sea or lake, as in "lake, 18 degC" (default: sea, 12 degC)', metavar="WATER"),
    option("--roll", 'how far the boat rolls, as in "10 deg", or by wind (default: not at all)', metavar="ANGLE"),
)
LISTS = ("elements", "depths", "at", "sediments", "powers", "pulses", "speeds", "rolls")
DAY_WORDS = ("depth", "species", "speed", "bottom", "ground", "wind", "water", "roll")

COMMANDS = (
    Command(
        "run", "simulate a scenario: echograms, pictures, page, summary", "SCENARIO", "scenario file (TOML)",
        "pingwright run scenarios/01_wreck_on_gravel.toml --out my-wreck",
        (
            OUT, THREADS, SEED, SET, IN_UNITS,
            option("--passes", "repeat the scene's fish in N fresh passes: probabilities with intervals in place of the"
                   " counts of one pass", type=passes, metavar="N"),
            option("--no-pictures", "write the echograms and their numbers only: no pictures, no page"),
            option("--keep-phase", "store the complex output too (five times the size)"),
            option("--compress", "pack the echograms (a quarter smaller, slower)"),
            option("--resume", "resume an interrupted run"),
            FORCE,
        ),
    ),
    Command(
        "draw", "pictures, page and summary from stored echograms", "ECHOGRAMS", "an echograms.h5 of ours",
        "pingwright draw my-wreck/echograms.h5 --out again",
        (
            option("--out", "folder for the results (default: that of echograms.h5)", type=path, metavar="DIR"),
            option("--figures", f"further figures with captions: all, or with commas: {FIGURES}", metavar="NAMES"),
            option("--format", "their file format (default: png; without --figures, that of the comparison alone)",
                   choices=("png", "svg", "pdf")),
            option("--size", "their size (default: two-column; motion and still: 16:9, one-column 4:5)",
                   choices=("one-column", "two-column", "slide")),
            option("--theme", "their colours (default: light)", choices=("light", "dark")),
            option("--headline", "your words instead of their headline", type=words, metavar="TEXT"),
            option("--note", "your words under them", type=words, metavar="TEXT"),
            option("--no-marks", "leave out the marks of fish"),
            option("--depth", 'show only these depths, as in --depth "150 ft..200 ft"', type=span, metavar="A..B"),
            option("--along", 'show only this part of the run, as in --along "-20 m..20 m"', type=span, metavar="A..B"),
            IN_UNITS,
        ),
    ),
    Command(
        "check", "validate a file and estimate disk, memory and time", "FILE", "file or results to check",
        "pingwright check my-lake.toml", (THREADS,),
    ),
    Command(
        "new", "write a commented file to start from; never overwrites", "FILE", "the file to make",
        "pingwright new my-lake.toml",
        (option("--kind", "what it will be (default: scenario)", choices=("scenario", "claims", "trip", "sweep"),
                default="scenario"),),
    ),
    Command(
        "list", "what the catalogues hold, with sources", "CATALOGUE",
        "elements, sediments, fish, ...; or keys, claims_keys, trip_keys, sweep_keys: what a file may hold",
        "pingwright list elements", (option("--json", "as JSON"),), needed=False,
    ),
    Command(
        "claims", "test claims by simulation: a verdict and a figure each", "CLAIMS", "claims file (TOML)",
        "pingwright claims scenarios/claims-trade.toml --out verdicts",
        (OUT, THREADS, SEED, SET, IN_UNITS, QUICK, PLAIN, CLUSTER, AUTOMATIC, FORCE),
    ),
    Command(
        "match", "rank elements for a day's fishing", "TRIP", "trip file (TOML)",
        "pingwright match scenarios/trip-lake.toml",
        (
            *DAY,
            OUT, THREADS, SEED, SET, IN_UNITS, QUICK, PLAIN, CLUSTER, AUTOMATIC, FORCE,
        ), needed=False,
    ),
    Command(
        "ask", "answer one question about a day in seconds, by closed forms", "QUESTION",
        "a trip file with [ask], or a word: swath, loss, depth, size, power, pulse, beam, chirp, speed, roll",
        'pingwright ask power --depth "250 ft" --species "grouper-like, near the bottom" --powers "600 W, 2 kW"',
        (
            *DAY,
            option("--elements", "names of the catalogue, with commas (default: by the question)", metavar="NAMES"),
            option("--depths", 'several bottoms instead of --depth, as in "20, 80, 250 ft"', metavar="LIST"),
            option("--at", 'depths of the fish, as in "100, 300, 800 ft"', metavar="LIST"),
            option("--sediments", 'several bottoms, as in "mud, rock"', metavar="NAMES"),
            option("--powers", 'as in "600 W, 1 kW, 2 kW"', metavar="LIST"),
            option("--pulses", 'as in "0.5, 2, 10 ms"', metavar="LIST"),
            option("--speeds", 'as in "drifting, 4, 20 kn"', metavar="LIST"),
            option("--rolls", 'as in "level, 10 deg"', metavar="LIST"),
            option("--out", "folder for ask.md, ask.json, ask.png (default: none is written)", type=path,
                   metavar="DIR"),
            SET, IN_UNITS,
        ),
    ),
    Command(
        "export", "stored echograms in the open convention SONAR-netCDF4 2.0", "ECHOGRAMS", "an echograms.h5 of ours",
        "pingwright export my-wreck/echograms.h5 --out my-wreck.nc",
        (option("--out", "the file to write; it ends in .nc", type=path, metavar="FILE.nc", required=True),),
    ),
    Command(
        "sweep", "run a scene over a grid of changes: a table of every number", "SWEEP", "sweep file (TOML)",
        "pingwright sweep depth-by-bottom.toml --out table",
        (
            OUT,
            option("--threads", "scenes at a time, a process each (default: one for each core)",
                   type=positive, metavar="N"),
            option("--seed", "the first seed, instead of the scenario's", type=seed, metavar="N"),
            SET, CLUSTER,
            option("--no-pictures", "write no sweep.png"),
            option("--job", "do a share, into DIR/job-K-of-N (for array jobs)", type=share, metavar="K/N"),
            option("--collect", "join the shares of jobs in these folders", type=path, nargs="+", metavar="DIR"),
            AUTOMATIC,
        ),
        needed=False,
    ),
    Command(
        "validate", "computed against published, with sources, and scenes against independent numbers", "", "",
        "pingwright validate --out evidence",
        (
            option("--out", "folder for the results (default: out/validation)", type=path, metavar="DIR"),
            option("--quick", "fewer pings, wider tolerances: some seconds in place of a minute"),
        ),
    ),
    Command(
        "recall", "give back what a picture or page was made from", "PICTURE", "a picture or page of ours",
        "pingwright recall my-wreck/compare.png > the-scenario.toml",
        (option("--out", "write it and the files it names into DIR (default: print it)", type=path, metavar="DIR"),),
    ),
    Command(
        "examples", "copy the scenarios and notebooks that come with the program; never overwrites", "DIR",
        "the folder to copy them into", "pingwright examples my-examples",
    ),
    Command(
        "bench", "open a scene in the browser that answers while you drag, slide and swap", "SCENARIO",
        "scenario, or a picture, page or echograms of ours (default: ten moments to start from)",
        "pingwright bench scenarios/01_wreck_on_gravel.toml",
        (
            option("--port", "port on this machine (default: any free one)", type=port, metavar="N", default=0),
            option("--no-browser", "print the address only"),
        ),
        needed=False,
    ),
)  # fmt: skip
EXAMPLES = {command.name: command.example for command in COMMANDS}


def typed_day(asked: argparse.Namespace, command: str) -> str | None:
    """Return the trip file that the words of a day on the command line stand for, taking them off; None: a file."""
    from pingwright.inputs import typed

    words = {name: vars(asked).pop(name) for name in DAY_WORDS}
    given = {name: value for name, value in words.items() if value is not None}
    if asked.path is None:
        if not words["depth"] or not words["species"]:
            message = f"{command} needs a file, or --depth and --species. `pingwright {command} --help` shows both."
            raise MisusedError(message)
        return typed.trip_file(typed.Typed(**given))
    if given:
        flags = ", ".join(f"--{name}" for name in given)
        message = f"{command} takes a trip file or a day in words, not both: leave out {flags}, or the file"
        raise MisusedError(message)
    return None


def typed_question(asked: argparse.Namespace) -> str | None:
    """Return the trip file with its question that the words stand for, taking them off; None: a file was named."""
    from pingwright.inputs import typed
    from pingwright.inputs.trip_parts import QUESTIONS

    lists = {name: value for name in LISTS if (value := vars(asked).pop(name)) is not None}
    word = str(asked.path)
    if word.endswith(".toml") or asked.path.is_file():
        if lists:
            message = f"ask takes a trip file or a question in words, not both: leave out --{next(iter(lists))}"
            raise MisusedError(message)
        return typed_day(asked, "ask")
    if word not in QUESTIONS:
        each = "; ".join(f"{name} ({does})" for name, does in QUESTIONS.items())
        near = _nearest(word, list(QUESTIONS))
        message = f"ask takes a trip file or a question, not {word[:40]!r}{near}. There are: {each}"
        raise MisusedError(message)
    asked.path = None
    if asked.depth is None and (deepest := lists.get("depths") or lists.get("at")):
        asked.depth = deepest.split(",")[-1]
    return f"{typed_day(asked, 'ask')}{typed.ask_table(word, lists)}"


class Parser(argparse.ArgumentParser):
    """Says what is wrong with a command in one paragraph."""

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        # A value may begin with a minus, as in --along "-20 m..20 m": no option of ours begins with "-" and a digit.
        self._negative_number_matcher = re.compile(r"-\.?\d.*")

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
            message = f"unknown command '{given}'; available: {', '.join(EXAMPLES)}{meant}"
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


def parser() -> Parser:
    """Return the parser of the whole command line."""
    whole = Parser(prog="pingwright", description=DESCRIPTION)
    whole.add_argument("--version", action="store_true", help="print the version and stop")
    whole.add_argument("--quiet", action="store_true", help="no progress and no notes, only results and faults")
    whole.add_argument("--debug", action="store_true", help="show the traceback of an error")
    subs = whole.add_subparsers(dest="command", metavar="COMMAND", parser_class=Parser)
    for command in COMMANDS:
        made = subs.add_parser(
            command.name, help=command.does, description=command.does, epilog=f"example: {command.example}"
        )
        many: dict[str, Any] = {} if command.needed else {"nargs": "?"}
        if command.argument:
            made.add_argument("path", type=path, metavar=command.argument, help=command.meaning, **many)
        for one in command.options:
            made.add_argument(one.flag, **one.settings)
        for flag, does in (("--quiet", "no progress and no notes"), ("--debug", "show the traceback of an error")):
            made.add_argument(flag, action="store_true", default=argparse.SUPPRESS, help=does)
    return whole
