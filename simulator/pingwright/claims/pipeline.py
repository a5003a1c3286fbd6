"""claims: a claims file in, claims.md, claims.json and a figure for each claim out; goes on where it was stopped."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from pingwright import checkpoint, files
from pingwright.claims import answering, beyond, estimate, writing
from pingwright.claims.answers import Answer, from_dict
from pingwright.claims.beyond import Beyond
from pingwright.claims.question import questions
from pingwright.claims.trials import Course

Progress = Callable[[str, int, int], None]

#: What is known so far, beside the results while they are being made.
STATE = "claims.state"


@dataclass(frozen=True)
class Results(files.Results):
    """What putting claims to the test leaves, and whether all of them hold."""

    all_hold: bool


def run(
    path: Path,
    out: Path | None = None,
    *,
    threads: int | None = None,
    settings: Mapping[str, Any] | None = None,
    resume: bool = False,
    force: bool = False,
    progress: Progress | None = None,
) -> Results:
    """Put the claims of a file to the test and write claims.md, claims.json and figures into a folder.

    out: default out/<file stem>. A run that was stopped goes on where it was, if the file and the program are the same.
    settings: keys set by dotted paths. resume: no effect, it is automatic. force: go on over a limit of memory or time.
    Raises ScenarioError (input) or UnfinishedError (disk, memory, time, another run in the folder).
    """
    from pingwright.inputs import claims as inputs

    asked = inputs.load(path, settings)
    folder = out if out is not None else Path("out") / path.stem
    wanted = questions(asked)
    pictures = [writing.picture(i) for i in range(1, len(wanted) + 1)]
    kept = files.part_of(folder / STATE)
    with files.claimed(folder, (writing.TEXT, writing.DATA, *pictures, *beyond.NAMES), keep=(kept,)):
        if not force:
            estimate.refuse_what_will_not_fit(asked, folder, threads=threads)
        state = State(kept, _fingerprint(asked))
        answers = []
        for number, question in enumerate(wanted, 1):
            found = state.answer(number)
            if found is None:
                course = Course(
                    int(asked.runs),
                    float(asked.confidence),
                    int(asked.seed),
                    threads,
                    kept=state.tally(number),
                    keep=partial(state.keep_tally, number),
                    tell=_told(progress, number, len(wanted)),
                )
                found = answering.answer(question, course)
                state.keep_answer(number, found)
            answers.append(found)
        tell = _told(progress, 0, 0) or (lambda done, total: None)
        more = beyond.find(asked, wanted, int(asked.seed), float(asked.confidence), threads, tell, state)
        results = _written(folder, asked, tuple(answers), more, progress)
        state.clear()
    return results


def _told(progress: Progress | None, number: int, count: int) -> Callable[[int, int], None] | None:
    if progress is None:
        return None
    stage = f"claim {number} of {count}" if number else "beyond the verdicts"
    progress(stage, 0, 1)
    return lambda done, total: progress(stage, done, total)


def _carried(asked: Any) -> Any:
    """Return what every figure carries: the claims file, its base scenario, and the files that one refers to."""
    from pingwright.figures.embed import packed

    files_of = {str(asked.scenario): asked.base.text.encode()} | dict(asked.base.inputs)
    return packed(str(asked.text), int(asked.seed), files_of)


def _written(
    folder: Path, asked: Any, answers: tuple[Answer, ...], more: Beyond | None, progress: Progress | None
) -> Results:
    carried = _carried(asked)
    names = []
    for number, found in enumerate(answers, 1):
        if progress:
            progress("drawing", number - 1, len(answers))
        if found.chart is not None:
            writing.draw(found, folder, number, carried)
            names.append(writing.picture(number))
    if progress:
        progress("drawing", len(answers), len(answers))
    writing.draw_overview(answers, str(asked.title), folder, carried)
    names.append(writing.OVERVIEW)
    if more is not None:
        beyond.draw(more, folder, carried)
        names += beyond.NAMES
    writing.write(folder, str(asked.title), answers, float(asked.confidence), int(asked.seed), names, more)
    return Results(
        folder,
        (writing.TEXT, *names, writing.DATA),
        in_words(answers),
        _warnings(answers) + _left_out(asked),
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
    more = f", {numbers} asked for a number only" if numbers else ""
    return f"Of {len(answers)} claim{'' if len(answers) == 1 else 's'} {', '.join(parts)}{more}."


def _warnings(answers: tuple[Answer, ...]) -> tuple[str, ...]:
    return tuple(
        f"claim {number}: a false rate above 2 %; see claims.md"
        for number, a in enumerate(answers, 1)
        if a.false and max(a.false) > writing.LEAST_FALSE
    )


def _left_out(asked: Any) -> tuple[str, ...]:
    named = [name for name in asked.keep if name in ("fish", "school", "target")]
    if not named:
        return ()
    return (f"keep names {' and '.join(named)}, which trials leave out all the same: each ping holds its own fish",)


def _fingerprint(asked: Any) -> str:
    """Return what a stopped run must share with the one that goes on: file, base, inputs, seed and program version."""
    return checkpoint.fingerprint(asked.text, asked.base.text, int(asked.seed), *sorted(asked.base.inputs.items()))


class State(checkpoint.Checkpoint):
    """Answers, counts and sweeps so far, kept in a file that a stopped run leaves."""

    def answer(self, number: int) -> Answer | None:
        """Return the answer to a claim, if it is there."""
        found = self.get(f"answer {number}")
        return None if found is None else from_dict(found)

    def tally(self, number: int) -> Mapping[str, Any] | None:
        """Return the counts of a claim so far, if there are any."""
        found: Mapping[str, Any] | None = self.get(f"tally {number}")
        return found

    def keep_tally(self, number: int, tally: Mapping[str, Any]) -> None:
        """Keep the counts of a claim."""
        self.save({f"tally {number}": dict(tally)})

    def keep_answer(self, number: int, found: Answer) -> None:
        """Keep the answer to a claim, its counts no longer."""
        self.save({f"answer {number}": found.to_dict(), f"tally {number}": None})

    def sweep(self, name: str) -> Mapping[str, Any] | None:
        """Return the fields of a sweep beyond the verdicts, if it is there."""
        found: Mapping[str, Any] | None = self.get(f"beyond {name}")
        return found

    def keep_sweep(self, name: str, fields: Mapping[str, Any]) -> None:
        """Keep the fields of a sweep, numbers and arrays."""
        self.save({f"beyond {name}": {key: np.asarray(value).tolist() for key, value in fields.items()}})
