"""The commands and options of the command line, with their help: one table, `COMMANDS`."""

import argparse
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NoReturn

from pingwright.arguments import passes, path, port, positive, seed, setting, share, span, words
from pingwright.errors import PingwrightError

DESCRIPTION = (
    "Simulates what echo sounder elements of different bands and beams would record over the same water, fish, seabed"
    " and wreck. Everything it shows is synthetic. Do not use it for navigation or for diving. It does not prove the"
    " performance of any product."
)
FIGURES = (
    "compare, echogram, cutaway, ping, beams, source, coverage, absorption, reach, arch, strength, pulse, chirp,"
    " difference, motion, still"
)
#: Options of draw for the style of further figures, and for their content.
LOOKS, VIEWS = ("format", "size", "theme"), ("headline", "note", "depth", "along")
UNITS = ("m", "ft", "fathoms")


class MisusedError(PingwrightError):
    """The command line is wrong."""

    exit_status = 2


@dataclass(frozen=True)
class Option:
    """One option: its flag, and its settings for argparse."""

    flag: str
    settings: Mapping[str, Any]


def option(flag: str, text: str, **settings: Any) -> Option:
    """Return an option with its help; without settings it is a flag without a value."""
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
SEED = option("--seed", "use this random seed instead of the seed in the file", type=seed, metavar="N")
SET = option(
    "--set",
    'set a key, as in --set "seabed.depth=58 m" (may be given several times); KEY= with no value removes the key',
    type=setting,
    metavar="KEY=VALUE",
    action="append",
)
IN_UNITS = option("--units", "show depths and lengths in these units (default: the file's `units`)", choices=UNITS)
FORCE = option("--force", "run even if disk, memory or time may not be enough")
CLUSTER = option("--cluster", "Dask workers: local:4 starts 4 here; tcp://host:8786 is a scheduler", metavar="ADDRESS")
QUICK = option("--quick", "compute from formulas only; simulate nothing")
PLAIN = option("--plain", "do not check which assumptions could change the result (faster)")
AUTOMATIC = option("--resume", "no effect here: interrupted work resumes automatically")

#: A day in words, instead of a file; the same for `match` and `ask` (inputs.typed).
DAY = (
    option("--depth", "depth of the bottom, as in 150..250 ft (with --species, instead of a file)", metavar="DEPTH"),
    option(
        "--species",
        'a fish, as in "perch, 30 cm, near the bottom", or a school, as in "bait school, 4 in, 30 ft wide, top 60 ft";'
        " a kind of body from `pingwright list fish`, as in grouper-like; where it is: tight to, near or over a"
        " wreck, reef or ledge, mid-water, 20..40 ft deep (may be given several times)",
        metavar="FISH",
        action="append",
    ),
    option("--speed", "of the boat: drifting, trolling, under way, or as in 4 kn (default: 3 kn)", metavar="SPEED"),
    option("--bottom", "a sediment from `pingwright list sediments` (default: gravel)", metavar="SEDIMENT"),
    option("--ground", "bare, slope, ledge, wreck, reef or weed (default: bare)", metavar="GROUND"),
    option("--wind", "speed of the wind, as in 10 kn (default: 8 kn)", metavar="SPEED"),
    option("--water", 'sea or lake, as in "lake, 18 degC" (default: sea, 12 degC)', metavar="WATER"),
    option("--roll", 'how far the boat rolls, as in "10 deg", or "by wind" (default: no roll)', metavar="ANGLE"),
)
LISTS = ("elements", "depths", "at", "sediments", "powers", "pulses", "speeds", "rolls")
DAY_WORDS = ("depth", "species", "speed", "bottom", "ground", "wind", "water", "roll")

COMMANDS = (
    Command(
        "run", "simulate a scenario; write echograms, pictures, a page and a summary", "SCENARIO",
        "scenario file (TOML)",
        "pingwright run scenarios/01_wreck_on_gravel.toml --out my-wreck",
        (
            OUT, THREADS, SEED, SET, IN_UNITS,
            option("--passes", "repeat the pass N times with new ground, noise and postures of the fish; show"
                   " probabilities with intervals instead of counts", type=passes, metavar="N"),
            option("--no-pictures", "write only the echograms and the numbers, no pictures and no page"),
            option("--keep-phase", "also store the phase of the echoes (the file becomes five times as large)"),
            option("--truth", "also store which kind of thing dominates each sample (takes about three times as long)",
                   choices=("samples",)),
            option("--compress", "compress the echograms (file a quarter smaller, slower)"),
            option("--resume", "resume an interrupted run"),
            FORCE,
        ),
    ),
    Command(
        "draw", "draw pictures, a page and a summary from stored echograms", "ECHOGRAMS",
        "file echograms.h5 that `run` wrote", "pingwright draw my-wreck/echograms.h5 --out again",
        (
            option("--out", "folder for the results (default: the folder of echograms.h5)", type=path, metavar="DIR"),
            option("--figures", f"draw more figures: all, or names with commas: {FIGURES}", metavar="NAMES"),
            option("--format", "file format of the figures (default: png); without --figures, of the comparison",
                   choices=("png", "svg", "pdf")),
            option("--size", "size of the figures (default: two-column); motion and still are 16:9, one-column 4:5",
                   choices=("one-column", "two-column", "slide")),
            option("--theme", "colours of the figures (default: light)", choices=("light", "dark")),
            option("--headline", "your text instead of the headline", type=words, metavar="TEXT"),
            option("--note", "your text under the figures", type=words, metavar="TEXT"),
            option("--no-marks", "do not mark the fish"),
            option("--depth", 'show only these depths, as in "150 ft..200 ft"', type=span, metavar="A..B"),
            option("--along", 'show only this part of the track, as in "-20 m..20 m"', type=span, metavar="A..B"),
            IN_UNITS,
        ),
    ),
    Command(
        "check", "check a file; estimate the disk, memory and time it needs", "FILE", "a file, or a folder of results",
        "pingwright check my-lake.toml", (THREADS, IN_UNITS),
    ),
    Command(
        "new", "write a file with comments to start from; never overwrites a file", "FILE", "name of the new file",
        "pingwright new my-lake.toml",
        (option("--kind", "kind of file (default: scenario)", choices=("scenario", "claims", "trip", "sweep"),
                default="scenario"),),
    ),
    Command(
        "list", "show what the catalogues hold, with sources", "CATALOGUE",
        "elements, sediments, fish, ...; or keys, claims_keys, trip_keys, sweep_keys: every key of a kind of file",
        "pingwright list elements", (option("--json", "print JSON"), IN_UNITS), needed=False,
    ),
    Command(
        "claims", "test claims by simulation; each gets a verdict and a figure", "CLAIMS", "claims file (TOML)",
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
        "ask", "answer one question about a day: from formulas in seconds, then by simulated passes", "QUESTION",
        "a trip file with a table [ask], or one word: swath, loss, depth, size, power, pulse, beam, chirp, speed, roll",
        'pingwright ask power --depth "250 ft" --species "grouper-like, near the bottom" --powers "600 W, 2 kW"',
        (
            *DAY,
            option("--elements", "elements to compare, with commas (default: by question)", metavar="NAMES"),
            option("--depths", 'several depths of the bottom, as in "20, 80, 250 ft"', metavar="LIST"),
            option("--at", 'several depths of the fish, as in "100, 300, 800 ft"', metavar="LIST"),
            option("--sediments", 'several sediments, as in "mud, rock"', metavar="NAMES"),
            option("--powers", 'several powers to compare, as in "600 W, 1 kW, 2 kW"', metavar="LIST"),
            option("--pulses", 'several pulse lengths to compare, as in "0.5, 2, 10 ms"', metavar="LIST"),
            option("--speeds", 'several speeds of the boat, as in "drifting, 4, 20 kn"', metavar="LIST"),
            option("--rolls", 'several rolls of the boat, as in "level, 10 deg"', metavar="LIST"),
            option("--out", "folder for ask.md, ask.json and ask.png (default: write no files)", type=path,
                   metavar="DIR"),
            THREADS, SET, IN_UNITS, QUICK,
        ),
    ),
    Command(
        "export", "write stored echograms in the open convention SONAR-netCDF4 2.0", "ECHOGRAMS",
        "file echograms.h5 that `run` wrote",
        "pingwright export my-wreck/echograms.h5 --out my-wreck.nc",
        (option("--out", "name of the new file; it must end in .nc", type=path, metavar="FILE.nc", required=True),),
    ),
    Command(
        "sweep", "run a scene many times with changed values; write one table of all results", "SWEEP",
        "sweep file (TOML)", "pingwright sweep depth-by-bottom.toml --out table",
        (
            OUT,
            option("--threads", "scenes at the same time, each in its own process (default: one for each core)",
                   type=positive, metavar="N"),
            option("--seed", "first random seed, instead of the seed in the scenario", type=seed, metavar="N"),
            SET, IN_UNITS, CLUSTER,
            option("--no-pictures", "do not draw sweep.png"),
            option("--job", "do share K of N, into DIR/job-K-of-N (for batch jobs)", type=share, metavar="K/N"),
            option("--collect", "join the shares that stand in these folders", type=path, nargs="+", metavar="DIR"),
            AUTOMATIC,
        ),
        needed=False,
    ),
    Command(
        "validate", "compare computed values and simulated scenes with published and independent numbers", "", "",
        "pingwright validate --out evidence",
        (
            option("--out", "folder for the results (default: out/validation)", type=path, metavar="DIR"),
            option("--quick", "fewer pings and wider tolerances: some seconds instead of a minute"),
        ),
    ),
    Command(
        "recall", "print the scenario from which a picture or page was made", "PICTURE",
        "a picture or page that Pingwright wrote",
        "pingwright recall my-wreck/compare.png > the-scenario.toml",
        (option("--out", "write the scenario and its files into DIR (default: print it)", type=path, metavar="DIR"),),
    ),
    Command(
        "examples", "copy the scenarios and notebooks that come with the program; never overwrites a file", "DIR",
        "folder for the copies", "pingwright examples my-examples",
    ),
    Command(
        "bench", "open a scene in the browser and change it while you watch", "SCENARIO",
        "a scenario, or a picture, page or echograms.h5 that Pingwright wrote (default: ten scenes to choose from)",
        "pingwright bench scenarios/01_wreck_on_gravel.toml",
        (
            option("--port", "port on this computer (default: any free port)", type=port, metavar="N", default=0),
            option("--no-browser", "only print the address"),
        ),
        needed=False,
    ),
)  # fmt: skip
EXAMPLES = {command.name: command.example for command in COMMANDS}


def typed_day(args: argparse.Namespace, command: str) -> str | None:
    """Return the trip file for the words of a day on the command line, and remove them; None if a file is given."""
    from pingwright.inputs import typed

    words = {name: vars(args).pop(name) for name in DAY_WORDS}
    given = {name: value for name, value in words.items() if value is not None}
    if args.path is None:
        if not words["depth"] or not words["species"]:
            message = f"{command} needs a file, or --depth and --species. `pingwright {command} --help` explains both."
            raise MisusedError(message)
        return typed.trip_file(typed.Typed(**given))
    if given:
        flags = ", ".join(f"--{name}" for name in given)
        message = f"{command} takes a trip file or options such as --depth, not both: leave out {flags} or the file"
        raise MisusedError(message)
    return None


def typed_question(args: argparse.Namespace) -> str | None:
    """Return the trip file with its question for the words, and remove them; None if a file is given."""
    from pingwright.inputs.trip_parts import QUESTIONS
    from pingwright.inputs.typed_lists import ask_table, deepest

    lists = {name: value for name in LISTS if (value := vars(args).pop(name)) is not None}
    word = str(args.path)
    if word.endswith(".toml") or args.path.is_file():
        if lists:
            message = f"ask takes a trip file or a question word, not both: leave out --{next(iter(lists))}"
            raise MisusedError(message)
        return typed_day(args, "ask")
    about = word.strip().lower()
    if about not in QUESTIONS:
        each = "; ".join(f"{name} ({does})" for name, does in QUESTIONS.items())
        near = _nearest(about, list(QUESTIONS)) or "."
        message = f"ask takes a trip file or a question word, not {word[:40]!r}{near} The question words are: {each}"
        raise MisusedError(message)
    args.path = None
    table = ask_table(about, lists)
    if args.depth is None and (key := next((one for one in ("depths", "at") if one in lists), "")):
        args.depth = deepest(lists[key], key)
    return f"{typed_day(args, 'ask')}{table}"


class Parser(argparse.ArgumentParser):
    """Reports what is wrong with a command in one paragraph."""

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        # A value may begin with a minus, as in --along "-20 m..20 m": no option of ours begins with "-" and a digit.
        self._negative_number_matcher = re.compile(r"-\.?\d.*")

    def parse_args(self, args: Any = None, namespace: Any = None) -> Any:
        """Return the namespace; an unknown option is refused with a hint: its command, or the nearest option."""
        bound, left = self.parse_known_args(args, namespace)
        if left:
            subs = next(action.choices for action in self._actions if isinstance(action.choices, dict))
            inner = subs.get(getattr(bound, "command", None), self)
            inner.error(f"`{inner.prog}` does not take {' '.join(left)}{_elsewhere(left[0], inner, subs)}")
        return bound

    def error(self, message: str) -> NoReturn:
        """Raise MisusedError with the fault and how to get help."""
        word = re.match(r"argument COMMAND: invalid choice: '(.*)' \(choose from (.*)\)", message)
        if word:
            given = word[1]
            meant = f"; did you mean `{self.prog} run {given}`?" if given.endswith(".toml") else ""
            meant = meant or _nearest(given, list(EXAMPLES))
            message = f"unknown command '{given}'; available: {', '.join(EXAMPLES)}{meant}"
        end = "" if message.endswith("?") else "."
        text = f"{message[:1].upper()}{message[1:]}{end} `{self.prog} --help` shows what is allowed."
        raise MisusedError(text)


def _flags(parser: argparse.ArgumentParser) -> list[str]:
    return [flag for action in parser._actions for flag in action.option_strings if flag.startswith("--")]


def _elsewhere(given: str, parser_: Parser, commands: dict[str, Parser]) -> str:
    """Return the option, of this command or another, that was probably meant; "" if none is near."""
    word = given.partition("=")[0]
    for name, other in commands.items():
        for flag in _flags(other):
            if len(word) > 4 and flag.startswith(word) and flag not in _flags(parser_):
                return f"; {flag} is an option of `pingwright {name}`"
    return _nearest(word, _flags(parser_))


def _nearest(word: str, known: list[str]) -> str:
    """Return '; did you mean `run`?' for the known word nearest to a misspelt one, or ""."""
    import difflib

    near = difflib.get_close_matches(word[:60], known, n=1)
    return f"; did you mean `{near[0]}`?" if near else ""


def parser() -> Parser:
    """Return the parser of the whole command line."""
    whole = Parser(prog="pingwright", description=DESCRIPTION)
    whole.add_argument("--version", action="store_true", help="print the version and exit")
    whole.add_argument("--quiet", action="store_true", help="show only results and errors, no progress and no notes")
    whole.add_argument("--debug", action="store_true", help="show the Python traceback of an error")
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
        for flag, does in (("--quiet", "show no progress and no notes"), ("--debug", "show the Python traceback")):
            made.add_argument(flag, action="store_true", default=argparse.SUPPRESS, help=does)
    return whole
