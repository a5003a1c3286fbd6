"""claims: a claims file in; claims.md, claims.json and a figure for each claim out; resumes interrupted work."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pingwright import checkpoint, files, workers
from pingwright.claims import estimate, report
from pingwright.claims.answers import Answer
from pingwright.claims.questions import questions
from pingwright.claims.work import State, Task, answer, counts_of, processes_for, shared_out, work
from pingwright.element import reach
from pingwright.measures.asked import Question
from pingwright.palette import Face
from pingwright.trials.batch import Settings
from pingwright.trials.ground import Bank

if TYPE_CHECKING:
    from pingwright.figures.embed import Carried
    from pingwright.inputs.claims import ClaimsFile

Progress = Callable[[str, int, int], None]

#: Name of the checkpoint, which stands beside the results until they are finished.
STATE = "claims.state"


@dataclass(frozen=True)
class Results(files.Results):
    """The results of testing claims, and whether all of them hold."""

    all_hold: bool


def run(
    path: Path,
    out: Path | None = None,
    *,
    threads: int | None = None,
    settings: Mapping[str, Any] | None = None,
    resume: bool = False,
    force: bool = False,
    quick: bool = False,
    plain: bool = False,
    cluster: str | None = None,
    progress: Progress | None = None,
) -> Results:
    """Test the claims of a file and write claims.md, claims.json and figures into a folder.

    out: default out/<file stem>. An interrupted run resumes if the file and the program are the same. settings: keys
    set by dotted paths. resume: no effect, because resuming is automatic. force: ignore the limits of memory and time.
    quick: closed forms only, no figures. plain: without `depends_on`. cluster: the workers that do it, one claim at a
    time, see `workers.team`; without it, processes of this machine, at most `threads`, if there is enough to do. The
    answers are the same. Raises ScenarioError (input) or UnfinishedError (disk, memory, time, another run in the
    folder).
    """
    from pingwright.inputs import claims as inputs

    file = inputs.load(path, settings)
    folder = out if out is not None else Path("out") / path.stem
    question_list = questions(file)
    pictures = [report.picture(i) for i in range(1, len(question_list) + 1)]
    kept = files.part_of(folder / STATE)
    counts = [counts_of(folder, number) for number in range(1, len(question_list) + 1)]
    with files.claimed(folder, (report.TEXT, report.DATA, report.OVERVIEW, *pictures), keep=(kept, *counts)):
        each = [(0.0, 0.0, 0)] * len(question_list) if quick else estimate.each(file, plain=plain)
        if not force and not quick:
            estimate.refuse_what_will_not_fit(file, folder, threads=threads, plain=plain, claims=each)
        of = _fingerprint(file, quick, plain)
        state = State(kept, of)
        task = Task(int(file.runs), float(file.confidence), int(file.seed), quick, plain, of, folder)
        _side_by_side(cluster, folder, question_list, state, [usual for usual, _, _ in each], task, threads, progress)
        answers, bank = [], Bank(threads)
        for number, question in enumerate(question_list, 1):
            known = state.answer(number)
            if known is None:
                tell = _teller(progress, f"claim {number} of {len(question_list)}")
                course = Settings(task.runs, task.confidence, task.seed, threads, tell=tell, held=bank)
                known = answer(number, question, task, course)
                _keep(state, folder, number, known)
            answers.append(known)
        results = _written(folder, file, question_list, tuple(answers), progress)
        state.clear()
    return results


def _side_by_side(
    cluster: str | None,
    folder: Path,
    question_list: Sequence[Question],
    state: State,
    seconds: Sequence[float],
    task: Task,
    threads: int | None,
    progress: Progress | None,
) -> None:
    """Have workers answer the claims that are not answered, where they are worth their start; keep what comes.

    seconds (claim): expected of one thread.
    """
    missing = {n: question for n, question in enumerate(question_list, 1) if state.answer(n) is None}
    processes = 1 if cluster else processes_for(missing, seconds, threads)
    if cluster is None and processes == 1:
        return
    task = task if cluster is None else replace(task, folder=None)
    jobs, done = shared_out(missing, seconds, task, processes), 0
    if progress:
        progress("claims", 0, len(missing))
    with workers.team(cluster, processes) as team:
        for job, found in zip(jobs, team.map(work, jobs), strict=True):
            for (number, _), known in zip(job.questions, found, strict=True):
                _keep(state, folder, number, known)
            done += len(job.questions)
            if progress:
                progress("claims", done, len(missing))


def _keep(state: State, folder: Path, number: int, known: Answer) -> None:
    """Keep an answer; its counts are known no longer."""
    state.keep_answer(number, known)
    counts_of(folder, number).unlink(missing_ok=True)


def _teller(progress: Progress | None, stage: str) -> Callable[[int, int], None] | None:
    if progress is None:
        return None
    progress(stage, 0, 1)
    return lambda done, total: progress(stage, done, total)


def _carried(file: "ClaimsFile") -> "Carried":
    """Return what every figure holds inside: the claims file, its base scenario, and the files that it names."""
    from pingwright.figures.embed import packed

    files_of = {str(file.scenario): file.base.text.encode()} | dict(file.base.inputs)
    return packed(str(file.text), int(file.seed), files_of)


def _faces(question: Question) -> tuple[Face, ...]:
    """Return the properties that give the elements of a question their colours and dashes."""
    built = [reach.in_circumstance(spec) for spec in question.scenario.element]
    tilted = [max(abs(spec.tilt.along), abs(spec.tilt.across)) > 0.5 for spec in question.scenario.element]
    return tuple(Face(one.centre, *one.beamwidth(one.centre), each) for one, each in zip(built, tilted, strict=True))


def _written(
    folder: Path,
    file: "ClaimsFile",
    question_list: Sequence[Question],
    answers: tuple[Answer, ...],
    progress: Progress | None,
) -> Results:
    carried, units = _carried(file), file.base.units
    names = []
    for number, one in enumerate(answers, 1):
        if progress:
            progress("drawing", number - 1, len(answers))
        if one.chart is not None:
            report.draw(one, folder, number, carried, units, _faces(question_list[number - 1]))
            names.append(report.picture(number))
    report.draw_overview(answers, str(file.title), folder, carried, units)
    names.append(report.OVERVIEW)
    if progress:
        progress("drawing", len(answers), len(answers))
    report.write(folder, str(file.title), answers, float(file.confidence), int(file.seed), names, units)
    return Results(
        folder,
        (report.TEXT, *names, report.DATA),
        in_words(answers),
        _warnings(answers) + _left_out(file),
        all(a.verdict in ("holds", None) for a in answers),
    )


def in_words(answers: tuple[Answer, ...]) -> str:
    """Return the outcome in one sentence."""
    counts = {name: sum(a.verdict == name for a in answers) for name in ("holds", "does not hold", "undecided")}
    numbers = sum(a.verdict is None for a in answers)
    parts = [
        f"{counts['holds']} hold" + ("s" if counts["holds"] == 1 else ""),
        f"{counts['does not hold']} do{'es' if counts['does not hold'] == 1 else ''} not",
        f"{counts['undecided']} undecided",
    ]
    more = f", {numbers} without a bound (number only)" if numbers else ""
    return f"Of {len(answers)} claim{'' if len(answers) == 1 else 's'} {', '.join(parts)}{more}."


def _warnings(answers: tuple[Answer, ...]) -> tuple[str, ...]:
    return tuple(
        f"claim {number}: false alarms above 2 %; see claims.md"
        for number, a in enumerate(answers, 1)
        if a.blanks and max(a.false) > report.MOST_FALSE
    )


def _left_out(file: "ClaimsFile") -> tuple[str, ...]:
    named = [name for name in file.keep if name in ("fish", "school", "target")]
    if not named:
        return ()
    return (f"keep names {' and '.join(named)}, but trials always leave this out: each run has its own fish",)


def _fingerprint(file: "ClaimsFile", quick: bool, plain: bool) -> str:
    """Return what an interrupted run and the run that resumes it must share: file, inputs, seed, options, program."""
    inputs = sorted(file.base.inputs.items())
    return checkpoint.fingerprint(file.text, file.base.text, int(file.seed), quick, plain, *inputs)
