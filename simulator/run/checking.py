"""check: whether a file is right, with all it refers to, and what it will need."""

from dataclasses import dataclass
from pathlib import Path

from simulator.echograms.file import read
from simulator.errors import ScenarioError
from simulator.recording import prepare
from simulator.report.write import DATA, strangers
from simulator.run.estimate import duration, estimate, size

HDF5 = b"\x89HDF\r\n\x1a\n"


@dataclass(frozen=True)
class Checked:
    """What is said of a file that is right: lines for the user, and warnings."""

    lines: tuple[str, ...]
    warnings: tuple[str, ...] = ()


def check(path: Path, *, threads: int | None = None) -> Checked:
    """Return what can be said of a scenario, claims or trip file; of echograms.h5 and summary.json of ours as well.

    Raises ScenarioError with all faults, or EchogramError.
    """
    if path.name == DATA:
        return _results(path)
    if path.is_file():
        with path.open("rb") as file:
            begins = file.read(len(HDF5))
        if begins == HDF5:
            return _echograms(path)
    from simulator import inputs

    kind = inputs.kind_of(path)
    return {"scenario": _scenario, "claims": _claims, "trip": _trip}[kind](path, threads)


def _scenario(path: Path, threads: int | None) -> Checked:
    from simulator.inputs import scenario

    prepared = prepare(scenario.load(path))
    needed = estimate(prepared, threads=threads)
    lines = (
        f"{path}: a scenario without fault: {prepared.header.title}.",
        f"disk: {size(needed.file)}",
        f"memory: {size(needed.memory)}",
        f"time: {duration(needed.time)} by the cost on one two-core machine; yours may differ by a factor of two",
        f"work: {max(needed.pings)} pings of up to {max(needed.samples)} samples for {len(needed.pings)} elements;"
        f" each hears about {needed.scatterers} scatterers",
    )
    return Checked(lines, prepared.header.warnings)


def _claims(path: Path, threads: int | None) -> Checked:
    from simulator.inputs import claims

    asked = claims.load(path)
    count = len(asked.claim)
    return Checked((f"{path}: a claims file without fault: {count} claims, at most {asked.runs} runs each.",))


def _trip(path: Path, threads: int | None) -> Checked:
    from simulator.inputs import trip

    asked = trip.load(path)
    return Checked((f"{path}: a trip file without fault: {asked.title}, {len(asked.quarry)} kinds of fish.",))


def _echograms(path: Path) -> Checked:
    record = read(path)
    pings, samples = record.elements[0].pings, len(record.elements[0].range)
    names = ", ".join(element.info.name for element in record.elements)
    line = f"{path}: a whole file of echograms: {record.title}; {names}; {pings} pings of {samples} samples."
    return Checked((line,), record.warnings)


def _results(path: Path) -> Checked:
    from simulator.errors import Fault

    try:
        strange = strangers(path.parent)
    except ValueError as error:
        raise ScenarioError([Fault(str(path), 0, "", f"{error}")]) from error
    if strange:
        message = f"{', '.join(strange)} in this folder is missing or of another run: draw or run again"
        raise ScenarioError([Fault(str(path), 0, "files", message)])
    return Checked((f"{path.parent}: a whole set of results, every file is the one its summary was closed over.",))
