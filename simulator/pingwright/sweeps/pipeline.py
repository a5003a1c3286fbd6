"""run: every scene of a sweep, or a share of them, resuming interrupted work; collect: joins shares."""

import json
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, get_args

from pingwright import files, workers
from pingwright.costs import threads_of
from pingwright.errors import Fault, ScenarioError
from pingwright.sweeps import table
from pingwright.sweeps.plan import Plan, Scene, seeds_of
from pingwright.sweeps.scene import Job, work
from pingwright.words import Units

Progress = Callable[[str, int, int], None]

#: File of the results so far, one line each, beside the table until it is finished.
STATE = "sweep.rows"
#: Number of scenes that are worth their own process: starting one costs about as much as this many small scenes.
SCENES_A_PROCESS = 8
NOT_DRAWN = (
    f"There is no {table.PICTURE}: one is drawn where one or two keys vary (keys that change together count as one), at"
    " most 8 values stand in the second, and a number differs between scenes."
)


@dataclass(frozen=True)
class Results(files.Results):
    """The results of a sweep: the files, and the results by scene."""

    found: tuple[table.Result, ...] = ()


def echograms(scene: Scene) -> str:
    """Return the name of the file of a scene's echograms."""
    return f"scene-{scene.number:06d}.h5"


def planned(path: Path, *, seed: int | None = None, changes: Mapping[str, Any] | None = None) -> Plan:
    """Return the plan of a sweep file. seed: the first seed in place of the scenario's; changes: set in all scenes.

    Raises ScenarioError with all faults.
    """
    from pingwright.inputs import scenario
    from pingwright.inputs import sweep as inputs

    bound = inputs.load(path)
    base = scenario.changed(bound.base, changes) if changes else bound.base
    seeds = seeds_of(bound.seeds, int(base.seed) if seed is None else seed)
    return Plan(bound.title, base.text, base.inputs, bound.grid, bound.together, seeds, bound.keep, bound.name)


def folder_of(path: Path, out: Path | None, share: tuple[int, int] | None) -> Path:
    """Return the folder of a sweep's results (default out/<file stem>); a share has its own folder inside."""
    folder = out if out is not None else Path("out") / path.stem
    return folder / f"job-{share[0]}-of-{share[1]}" if share else folder


def run(
    plan: Plan,
    folder: Path,
    *,
    threads: int | None = None,
    share: tuple[int, int] = (1, 1),
    cluster: str | None = None,
    pictures: bool = True,
    units: str | None = None,
    progress: Progress | None = None,
) -> Results:
    """Simulate the scenes of a sweep and write sweep.csv, failures.csv, sweep.png and sweep.json into a folder.

    threads: processes of this machine, default one for each core. share (k, n): every n-th scene from the k-th on.
    cluster: see `workers.team`. pictures: False leaves sweep.png out; units: of its lengths, the scene's by
    default. An interrupted sweep resumes if the file and the program are the same. A scene that is refused is a row
    of failures.csv. Raises ScenarioError (input) or UnfinishedError (disk, memory, workers, another run in the
    folder).
    """
    if plan.keep == "echograms" and cluster is not None and not cluster.startswith("local:"):
        message = 'keep = "echograms" needs workers on this computer; allowed with a scheduler: "numbers"'
        raise ScenarioError([Fault("--cluster", 0, "", message)])
    scenes = [scene for scene in plan.scenes() if scene.number % share[1] == share[0] % share[1]]
    remaining = tuple(echograms(scene) for scene in scenes) if plan.keep == "echograms" else ()
    state = files.part_of(folder / STATE)
    with files.claimed(folder, (table.TABLE, table.FAILURES, table.PICTURE, table.DATA, *remaining), keep=(state,)):
        rows = _Rows(state, plan.fingerprint)
        for scene in scenes:  # make lost echograms again
            if remaining and not (folder / echograms(scene)).is_file():
                rows.done.pop(scene.number, None)
        _work_off(plan, [s for s in scenes if s.number not in rows.done], rows, folder, threads, cluster, progress)
        result = tuple(rows.done[scene.number] for scene in scenes)
        results = _written(plan, result, share, folder, remaining, pictures, units, progress)
        rows.drop()
    return results


def _work_off(
    plan: Plan,
    scenes: Sequence[Scene],
    rows: "_Rows",
    folder: Path,
    threads: int | None,
    cluster: str | None,
    progress: Progress | None,
) -> None:
    """Do the scenes that are not done, and store each result as it comes."""
    total = len(scenes) + len(rows.done)
    processes = max(1, min(threads_of(threads), len(scenes) // SCENES_A_PROCESS))
    given = tuple(sorted(plan.files.items()))
    target = folder.absolute() if plan.keep == "echograms" else None
    jobs = (Job(plan.text, given, scene, target and target / echograms(scene)) for scene in scenes)
    if progress:
        progress("simulating", len(rows.done), total)
    if not scenes:
        return
    with workers.team(cluster, processes) as team:
        for result in team.map(work, jobs):
            rows.put(result)
            if progress:
                progress("simulating", len(rows.done), total)


def _written(
    plan: Plan,
    found: tuple[table.Result, ...],
    share: tuple[int, int],
    folder: Path,
    kept: tuple[str, ...],
    pictures: bool,
    units: str | None,
    progress: Progress | None,
) -> Results:
    """Write the table, the failures, the picture and sweep.json, which comes last."""
    lines = [table.header(plan, found), *table.rows(plan, found)]
    files.write_text(folder / table.TABLE, table.as_csv(lines))
    files.write_text(folder / table.FAILURES, table.as_csv(table.failures(plan, found)))
    names, notes = [table.TABLE, table.FAILURES], _notes(found)
    if pictures and _drawn(plan, found, folder, units):
        names.append(table.PICTURE)
    else:
        (folder / table.PICTURE).unlink(missing_ok=True)
        notes += (NOT_DRAWN,) * pictures
    present = [name for name in kept if (folder / name).is_file()]
    data = table.as_data(plan, found, share, folder, [*names, *present])
    files.write_text(folder / table.DATA, json.dumps(data, ensure_ascii=False, allow_nan=False) + "\n")
    if progress:
        progress("drawing", 1, 1)
    return Results(folder, (*names, *present, table.DATA), in_words(found, plan.count), notes, found)


def _units(plan: Plan, asked: str | None) -> Units:
    """Return the units of the picture's lengths: those asked for, else the scene's own, else metres."""
    units = asked or tomllib.loads(plan.text).get("units", "m")
    return next(one for one in get_args(Units) if one == units)


def _drawn(plan: Plan, found: tuple[table.Result, ...], folder: Path, units: str | None) -> bool:
    """Draw the sweep if it has one or two varied keys and a number to draw; return whether it was drawn."""
    from pingwright.figures.charts import sweep_chart
    from pingwright.figures.embed import packed
    from pingwright.figures.save import save

    grid = sweep_chart.grid(table.drawn_columns(plan), found)
    if grid is None:
        return False
    grid = sweep_chart.in_units(grid, _units(plan, units))
    carried = packed(plan.text, plan.seeds[0], dict(plan.files))
    save(sweep_chart.chart(grid, plan.title), folder / table.PICTURE, carried, sweep_chart.alt(grid, plan.title))
    return True


def in_words(found: Sequence[table.Result], of: int) -> str:
    """Return the outcome in one sentence."""
    refused = sum(result["elements"] is None for result in found)
    share = "" if len(found) == of else f" (a share of {of})"
    end = f", {refused} refused: see {table.FAILURES}" if refused else ", none refused"
    return f"{len(found) - refused} of {len(found)} scenes{share} simulated{end}."


def _notes(found: Sequence[table.Result]) -> tuple[str, ...]:
    """Return each note once, with the number of scenes that have it."""
    counts: dict[str, int] = {}
    for result in found:
        for note in result["warnings"]:
            counts[note] = counts.get(note, 0) + 1
    return tuple(f"{note} ({count} of {len(found)} scenes)" for note, count in counts.items())


class _Rows:
    """Results so far in a file, one line each; an incomplete line, or a file of other work, is ignored."""

    def __init__(self, path: Path, fingerprint: str) -> None:
        self.done: dict[int, Any] = {}
        self._path = path
        whole = 0
        with suppress(OSError, ValueError, KeyError, TypeError):
            for number, line in enumerate(self._lines(path)):
                entry = json.loads(line)
                if number == 0 and entry != {"of": fingerprint}:
                    break
                if number:
                    self.done[entry["number"]] = entry
                whole += len(line)
        try:
            with path.open("ab") as file:
                file.truncate(whole if self.done else 0)
                if not self.done:
                    file.write(json.dumps({"of": fingerprint}).encode() + b"\n")
        except OSError as error:
            raise files.unfinished(error, path) from error

    @staticmethod
    def _lines(path: Path) -> Iterator[bytes]:
        with path.open("rb") as file:
            yield from (line for line in file if line.endswith(b"\n"))

    def put(self, result: Any) -> None:
        """Store a result. Raises UnfinishedError if the disk refuses."""
        try:
            with self._path.open("ab") as file:
                file.write(json.dumps(result).encode() + b"\n")
        except OSError as error:
            raise files.unfinished(error, self._path) from error
        self.done[result["number"]] = json.loads(json.dumps(result))

    def drop(self) -> None:
        """Remove the file: the work is done."""
        self._path.unlink(missing_ok=True)


def collect(
    folders: Sequence[Path],
    out: Path,
    *,
    pictures: bool = True,
    units: str | None = None,
    progress: Progress | None = None,
) -> Results:
    """Join the shares of a sweep (`--job K/N`) and write the whole table into a folder.

    Raises ScenarioError where a folder holds no share, shares are of different sweeps or programs, or some are missing.
    """
    shares = [_share(folder) for folder in folders]
    first = shares[0]
    for folder, share in zip(folders, shares, strict=True):
        if share["fingerprint"] != first["fingerprint"]:
            message = f"belongs to another sweep, or to another version of the program, than {folders[0]}"
            raise ScenarioError([Fault(str(folder), 0, "", message)])
    plan = Plan(
        first["title"], first["scenario"], {}, first["vary"], first["together"], tuple(first["seeds"]), first["keep"]
    )
    by_number = {result["number"]: result for share in shares for result in table.results_of(share)}
    missing = [scene.number for scene in plan.scenes() if scene.number not in by_number]
    if missing:
        some = ", ".join(map(str, missing[:5])) + (" ..." if len(missing) > 5 else "")
        message = (
            f"{len(missing)} of {plan.count} scenes are in none of the folders: {some}; give the folders of all jobs"
            " K/N"
        )
        raise ScenarioError([Fault("--collect", 0, "", message)])
    results = tuple(by_number[scene.number] for scene in plan.scenes())
    with files.claimed(out, (table.TABLE, table.FAILURES, table.PICTURE, table.DATA)):
        return _written(replace(plan, keep="numbers"), results, (1, 1), out, (), pictures, units, progress)


def _share(folder: Path) -> dict[str, Any]:
    """Return the sweep.json of a folder; the parts that are needed are checked."""
    path = folder / table.DATA
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        named = ("fingerprint", "title", "scenario", "vary", "together", "seeds", "keep", "numbers", "results")
        if data["program"] == files.PROGRAM and all(name in data for name in named):
            result: dict[str, Any] = data
            return result
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        pass
    raise ScenarioError([Fault(str(folder), 0, "", f"holds no {table.DATA} that Pingwright wrote")])
