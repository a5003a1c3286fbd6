"""check: tells whether a file is right, with all the files that it names, and what it will need."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from pingwright import costs, files
from pingwright.costs import duration, size
from pingwright.echograms.file import read
from pingwright.echograms.record import BY_DEPTH, ElementInfo
from pingwright.errors import Fault, ScenarioError
from pingwright.recording import prepare
from pingwright.words import Units, length

HDF5 = b"\x89HDF\r\n\x1a\n"
MACHINE = "on this computer at its present speed; it may take half or twice that"
#: A length in a note, such as "12.5 m" or "40 cm"; not "3 m/s".
_LENGTH = re.compile(r"(?<![\w.])(\d[\d,]*(?:\.\d+)?) (c?m)(?![\w/])")


@dataclass(frozen=True)
class Checked:
    """The report on a file that is right: lines for the user, warnings, and the units that the file asks for."""

    lines: tuple[str, ...]
    warnings: tuple[str, ...] = ()
    units: Units = "m"


def check(path: Path, *, threads: int | None = None, units: Units | None = None) -> Checked:
    """Return the report on a scenario, claims, trip or sweep file, on echograms.h5, or on a set of results.

    A set of results is given by its folder, or by the file in it that was written last. units: of lengths in the
    notes, by default those of the scenario. Raises ScenarioError with all faults, or EchogramError.
    """
    checked = _checked(path, threads)
    shown: Units = units or checked.units
    return replace(checked, warnings=tuple(in_units(note, shown) for note in checked.warnings))


def in_units(note: str, units: Units) -> str:
    """Return a note with its lengths in other units: "12 m" becomes "39 ft"."""

    def converted(found: re.Match[str]) -> str:
        return length(float(found[1].replace(",", "")) * (0.01 if found[2] == "cm" else 1.0), units, 3)

    return note if units == "m" else _LENGTH.sub(converted, note)


def _checked(path: Path, threads: int | None) -> Checked:
    """Return the report, lengths in metres."""
    if path.is_dir():
        folder, path = path, next((path / name for name in files.CLOSING if files.is_ours(path / name)), path)
        if path == folder:
            raise ScenarioError([Fault(str(folder), 0, "", _unfinished(folder))])
    if path.name in files.CLOSING:
        return _results(path)
    if path.is_file():
        with path.open("rb") as file:
            begins = file.read(len(HDF5))
        if begins == HDF5:
            return _echograms(path)
    from pingwright import inputs

    kind = inputs.kind_of(path)
    return {"scenario": _scenario, "claims": _claims, "trip": _trip, "sweep": _sweep}[kind](path, threads)


def _unfinished(folder: Path) -> str:
    """Return the message about a folder without finished results."""
    if files.holds_our_results(folder) or any(folder.glob(f"{files.PART}*")):
        return "holds an interrupted run: repeat the command with --resume, or run it again from the start"
    return f"is a folder without finished results (it holds none of {', '.join(files.CLOSING)})"


def _needs(needs: costs.Needs, longest: str) -> tuple[str, ...]:
    most = f", at most {duration(needs.longest)} ({longest})" if needs.longest > 1.05 * needs.time else ""
    return (
        f"disk: {size(needs.file)}",
        f"memory: {size(needs.memory)}",
        f"time: {duration(needs.time)}{most} {MACHINE}",
    )


def _refusals(needs: costs.Needs, command: str, smaller: str) -> tuple[str, ...]:
    """Return the warning that a command would refuse this work on this computer, or nothing."""
    reasons = costs.too_much(needs, Path.cwd())
    text = f"`{command}` would refuse this on this computer: {'; '.join(reasons)}. {smaller} --force runs it anyway."
    return (text,) if reasons else ()


def _pulses(infos: Sequence[ElementInfo]) -> str:
    """Return the pulse lengths of elements in words, and which of them the program chose."""
    chosen = [info.name for info in infos if info.extra.get("pulse_choice") == BY_DEPTH]
    lengths = ", ".join(f"{info.name} {1e3 * info.pulse_length:.3g} ms" for info in infos)
    whose = "" if len(chosen) == len(infos) else f" of {', '.join(chosen)}"
    why = f"; the length{whose} was chosen: 2 % of the two-way time to the bottom for a chirp, a short ping for a tone"
    return f"pulse: {lengths}{why if chosen else ''}"


def _scenario(path: Path, threads: int | None) -> Checked:
    from pingwright.inputs import scenario
    from pingwright.run.estimate import SMALLER, estimate

    prepared = prepare(scenario.load(path))
    needed = estimate(prepared, threads=threads)
    lines = (
        f"{path}: a scenario without errors: {prepared.header.title}.",
        *_needs(needed, ""),
        f"work: {max(needed.pings)} pings of up to {max(needed.samples)} samples for"
        f" {_counted(len(needed.pings), 'element')}; each ping sums about {needed.scatterers} scatterers",
        _pulses([element.info for element in prepared.header.elements]),
    )
    return Checked(lines, (*prepared.header.warnings, *_refusals(needed, "run", SMALLER)), prepared.scenario.units)


def _claims(path: Path, threads: int | None) -> Checked:
    from pingwright.claims.estimate import SMALLER, estimate
    from pingwright.inputs import claims

    claims_file = claims.load(path)
    needed = estimate(claims_file, threads=threads)
    count = len(claims_file.claim)
    lines = (
        f"{path}: a claims file without errors: {_counted(count, 'claim')}, at most {claims_file.runs} runs each.",
        *_needs(needed, "if no verdict becomes certain early"),
    )
    return Checked(lines, _refusals(needed, "claims", SMALLER))


def _trip(path: Path, threads: int | None) -> Checked:
    from pingwright.inputs import trip
    from pingwright.match.estimate import SMALLER, estimate

    trip_file = trip.load(path)
    needed, pings = estimate(trip_file, threads=threads)
    kinds, elements = len(trip_file.species), len(trip_file.element)
    lines = (
        f"{path}: a trip file without errors: {trip_file.title}, {kinds} kind{'s' * (kinds > 1)} of fish,"
        f" {elements} element{'s' * (elements > 1)}.",
        *_needs(needed, ""),
        f"work: {pings} pings for each element",
    )
    return Checked(lines, _refusals(needed, "match", SMALLER))


def _sweep(path: Path, threads: int | None) -> Checked:
    from pingwright.inputs.scenario import parse
    from pingwright.run.estimate import SECONDS_TO_START, estimate
    from pingwright.sweeps.pipeline import planned

    plan = planned(path)
    one = estimate(prepare(parse(plan.text, path.name, plan.files)), threads=1)
    time = plan.count * max(one.time - costs.pace() * SECONDS_TO_START, 0.0) / costs.cores(threads)
    line = f"{path}: a sweep file without errors: {plan.title}, {_counted(plan.count, 'scene')}."
    return Checked((line, f"memory: {size(one.memory)} for each process", f"time: about {duration(time)} {MACHINE}"))


def _echograms(path: Path) -> Checked:
    record = read(path)
    pings, samples = record.elements[0].pings, len(record.elements[0].range)
    names = ", ".join(element.info.name for element in record.elements)
    line = f"{path}: a complete file of echograms: {record.title}; {names}; {pings} pings of {samples} samples."
    return Checked((line,), record.warnings)


def _results(path: Path) -> Checked:
    try:
        strange = files.strangers(path.parent, path.name)
    except ValueError as error:
        raise ScenarioError([Fault(str(path), 0, "", f"{error}")]) from error
    if strange:
        message = f"{', '.join(strange)} is missing in this folder or belongs to another run; make the results again"
        raise ScenarioError([Fault(str(path), 0, "files", message)])
    return Checked((f"{path.parent}: a complete set of results; every file is the one that {path.name} lists.",))


def _counted(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}"
