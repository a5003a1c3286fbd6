"""run: scenario in, folder of results out. draw: the same results from a stored file, without simulating."""

import os
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pingwright import files, words
from pingwright.echograms.compress import compress as pack
from pingwright.echograms.file import Writer, leftovers, read
from pingwright.echograms.memory import Gatherer
from pingwright.echograms.reading import file_of
from pingwright.echograms.record import Record
from pingwright.errors import Fault, ScenarioError
from pingwright.figures.style.view import View
from pingwright.files import Results
from pingwright.recording import Prepared, prepare, with_owners
from pingwright.recording.surroundings import with_surroundings
from pingwright.report import scene
from pingwright.report.figures import Look, chosen
from pingwright.report.write import NAMES, NUMBERS, write
from pingwright.run.estimate import KEPT_BYTES, estimate, refuse_what_will_not_fit

if TYPE_CHECKING:
    from pingwright.inputs.scenario import Scenario

Progress = Callable[[str, int, int], None]

ECHOGRAMS = "echograms.h5"
#: Name of the checkpoint of fresh passes of an interrupted run.
PASSES = "passes.json"


def _out(path: Path, out: Path | None) -> Path:
    return out if out is not None else Path("out") / path.stem


def load(path: Path, settings: Mapping[str, Any] | None = None) -> "Scenario":
    """Return the scenario of a file, with keys set by dotted paths: its text is that of the scenario that is run."""
    from pingwright.inputs import scenario as inputs

    return inputs.changed(inputs.load(path), settings or {})


def run(
    path: Path,
    out: Path | None = None,
    *,
    threads: int | None = None,
    settings: Mapping[str, Any] | None = None,
    no_pictures: bool = False,
    keep_phase: bool = False,
    compress: bool = False,
    resume: bool = False,
    force: bool = False,
    truth: str | None = None,
    progress: Progress | None = None,
) -> Results:
    """Simulate a scenario and write echograms.h5, pictures, page and summary into a folder (default out/<file stem>).

    threads: default all cores. settings: keys of the scenario set by dotted paths. no_pictures: write only the
    echograms and their numbers. compress: pack the echograms when they are complete. resume: resume an interrupted run.
    force: ignore the limits. truth: "samples" stores which kind of thing dominates each sample. Raises ScenarioError
    (input), EchogramError or UnfinishedError (disk, memory, another run in the folder).
    """
    prepared = prepare(load(path, settings), history=f"simulated by pingwright from {path.name}")
    folder = _out(path, out)
    target = folder / ECHOGRAMS
    remaining = leftovers(target)
    needed = estimate(prepared, threads=threads, keep_phase=keep_phase, owners=truth is not None)
    if not force:
        held = sum(part.stat().st_blocks * 512 for part in remaining if part.exists())
        refuse_what_will_not_fit(needed, folder, held=held)
    passes = files.part_of(folder / PASSES)
    with files.claimed(folder, (ECHOGRAMS, *NAMES), keep=(*remaining, passes) if resume else ()):
        prepared = with_surroundings(_passed(prepared, passes, threads, progress), threads=threads)
        prepared = prepared if truth is None else with_owners(prepared, threads=threads, progress=progress)
        record = simulate_to(target, prepared, threads=threads, keep_phase=keep_phase, resume=resume, progress=progress)
        if compress:
            pack(target, prepared.header, keep_phase=keep_phase, threads=threads)
        passes.unlink(missing_ok=True)
        if record is None:
            return _reported(read(target), folder, progress, pictures=not no_pictures)
        judged_at_once = threads or os.cpu_count() or 1
        return _reported(record, folder, progress, pictures=not no_pictures, threads=judged_at_once)


def _passed(prepared: Prepared, path: Path, threads: int | None, progress: Progress | None) -> Prepared:
    """Return the scene with its fresh passes, stored in a checkpoint from which an interrupted run resumes."""
    if prepared.scenario.passes is None:
        return prepared
    from pingwright.checkpoint import Checkpoint, fingerprint
    from pingwright.trials.repeated import with_passes

    # If there are more passes than before, the first ones are the same.
    resolved = prepared.scenario.model_copy(update={"passes": None})
    state = Checkpoint(path, fingerprint(repr(resolved), *sorted(prepared.header.inputs.items())))
    return with_passes(
        prepared,
        threads=threads,
        kept=state.get("passes"),
        keep=lambda done: state.save({"passes": dict(done)}),
        tell=None if progress is None else partial(progress, "fresh passes"),
    )


def simulate_to(
    target: Path,
    prepared: Prepared,
    *,
    threads: int | None = None,
    keep_phase: bool = False,
    resume: bool = False,
    progress: Progress | None = None,
) -> Record | None:
    """Simulate into one file, which appears complete at the end; an interrupted run can be resumed.

    Returns the record with its levels in memory if they fit into KEPT_BYTES and all are new, else None: then read the
    file.
    """
    from pingwright.engine.simulate import PINGS, simulate

    levels = 2 * sum(element.pings * len(element.range) for element in prepared.header.elements)
    remaining = Gatherer(prepared.header) if levels <= KEPT_BYTES else None
    with Writer(target, prepared.header, keep_phase=keep_phase, resume=resume) as writer:
        remaining = None if writer.first_missing(PINGS) else remaining
        chunks = simulate(
            prepared.world,
            prepared.elements,
            prepared.settings,
            threads=threads,
            keep_phase=keep_phase,
            first_ping=writer.first_missing(PINGS),
            progress=progress,
        )
        for chunk in chunks:
            writer.write(chunk.element, chunk.first_ping, chunk.level, chunk.echo)
            if remaining is not None:
                remaining.write(chunk.element, chunk.first_ping, chunk.level)
    return None if remaining is None else remaining.record()


def draw(
    path: Path,
    out: Path | None = None,
    *,
    figures: str | None = None,
    look: Mapping[str, Any] | None = None,
    view: Mapping[str, Any] | None = None,
    units: words.Units | None = None,
    progress: Progress | None = None,
) -> Results:
    """Write pictures, page and summary of a stored file, or of the one in a folder, into a folder (default: its own).

    figures: names of further figures with commas, or "all"; look, view: fields of report.figures.Look and of
    figures.style.view.View for them. units: of depths and lengths (None: the scenario's).
    The file itself is copied only into another folder, so that the set of results is complete.
    """
    path = file_of(path)
    record_folder = path.absolute().parent
    folder = out if out is not None else (path.parent if path.name == ECHOGRAMS else Path("out") / path.stem)
    record = read(path)  # refused before anything is touched
    own_units, labels = scene.shown(record)
    units = units or own_units
    seen = View(labels=labels, **(view or {}))
    _shows_something(record, seen)
    further = None if figures is None else Look(chosen(record, figures), units=units, view=seen, **(look or {}))
    names = (*NAMES, *(further.files if further else ()))
    with files.claimed(folder, names if _is_beside(path, folder) else (ECHOGRAMS, *names)):
        target = folder / ECHOGRAMS
        if not (target.exists() and target.samefile(path)):
            files.copy(record_folder / path.name, target)
        return _reported(record, folder, progress, further, units=units)


def _shows_something(record: Record, view: View) -> None:
    """Refuse a window of `draw` that lies outside the record."""
    x = np.concatenate([element.x for element in record.elements])
    ends = [element.range[[0, -1]] + element.info.transducer_depth for element in record.elements]
    spans = {"--along": (view.along, x), "--depth": (view.depth, np.concatenate(ends))}
    for option, (window, there) in spans.items():
        low, high = float(np.min(there)), float(np.max(there))
        if window is not None and not (window[0] < high and low < window[1]) and low < high:
            message = (
                f"found {window[0]:.4g} m to {window[1]:.4g} m; the recording goes from {low:.4g} m to {high:.4g} m"
            )
            raise ScenarioError([Fault(option, 0, "", message)])


def _is_beside(path: Path, folder: Path) -> bool:
    target = folder / ECHOGRAMS
    return target.exists() and target.samefile(path)


def _reported(
    record: Record,
    folder: Path,
    progress: Progress | None,
    look: Look | None = None,
    *,
    units: words.Units | None = None,
    pictures: bool = True,
    threads: int = 1,
) -> Results:
    answer = write(
        record, folder, ECHOGRAMS, look=look, units=units, pictures=pictures, progress=progress, threads=threads
    )
    names = NAMES if pictures else NUMBERS
    return Results(folder, (ECHOGRAMS, *names, *(look.files if look else ())), answer, record.warnings)
