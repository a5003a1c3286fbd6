"""One scene of a sweep, from its changes to its numbers. A refused scene returns a message; the others continue."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from pingwright.errors import PingwrightError
from pingwright.sweeps.plan import Scene


@dataclass(frozen=True)
class Job:
    """The job of a worker: the base scenario as text with its files, the scene, and a file for its echograms."""

    text: str
    files: tuple[tuple[str, bytes], ...]
    scene: Scene
    target: Path | None = None


def work(job: Job) -> dict[str, Any]:
    """Return the result of a scene, as JSON holds it.

    number, changes, seed; elements: name -> number's name -> {value, unit, definition} (None where refused); message:
    why it was refused, "" if it was not; warnings: notes about it.
    """
    scene = job.scene
    result: dict[str, Any] = {"number": scene.number, "changes": dict(scene.changes), "seed": scene.seed}
    try:
        elements, warnings = measured(job)
        return result | {"elements": elements, "message": "", "warnings": warnings}
    except PingwrightError as error:
        message = str(error)
    except MemoryError:
        message = "This computer did not have enough memory."
    except Exception as error:  # noqa: BLE001 - one scene's fault must not cost the others
        message = f"Internal error ({type(error).__name__}): {error}"
    return result | {"elements": None, "message": message, "warnings": []}


def measured(job: Job) -> tuple[dict[str, Mapping[str, Any]], list[str]]:
    """Simulate a scene with one thread and return its numbers by element, and its notes."""
    from pingwright import recording
    from pingwright.inputs.scenario import changed
    from pingwright.measure.assess import assess
    from pingwright.report.summary import as_data
    from pingwright.trials.repeated import with_passes

    scenario = changed(_base(job.text, job.files), {**job.scene.changes, "seed": job.scene.seed})
    prepared = recording.prepare(scenario, history="simulated by pingwright in a sweep")
    record = recording.in_memory(with_passes(prepared, threads=1), threads=1)
    if job.target is not None:
        from pingwright.echograms.file import save

        save(record, job.target)
    data = as_data(record, assess(record), "", {})
    return {element["name"]: element["numbers"] for element in data["elements"]}, data["warnings"]


@lru_cache(maxsize=4)
def _base(text: str, files: tuple[tuple[str, bytes], ...]) -> Any:
    """Return the base scenario, read once by each worker."""
    from pingwright.inputs.scenario import parse

    return parse(text, "base.toml", dict(files))
