"""Claims answered, here one after the other or by workers side by side, and what interrupted work resumes from.

Trials of one claim share grounds, tables and a verdict that ends them; claims of different scenes share nothing. So a
worker takes all claims of one scene, and a worker process keeps a core busy that threads, which wait for each other in
plain Python, do not.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from pingwright import checkpoint, costs, files
from pingwright.claims import answers as answered
from pingwright.claims import depends
from pingwright.claims.answers import Answer, from_dict
from pingwright.measures.asked import Question
from pingwright.trials.batch import Settings
from pingwright.trials.ground import KEPT_BYTES, Bank

#: Expected seconds of one thread from which worker processes are worth their start (the trials of claims take a half to
#: a seventh of what is expected). Ten claims about pings, 54 s expected: 36 s in one process, 17 s in two.
WORTH_PROCESSES = 30.0


class State(checkpoint.Checkpoint):
    """Answers and counts so far, kept in a file that a stopped run leaves."""

    def answer(self, number: int) -> Answer | None:
        """Return the answer to a claim, if it is there."""
        value = self.get(f"answer {number}")
        return None if value is None else from_dict(value)

    def tally(self, number: int) -> Mapping[str, Any] | None:
        """Return the counts of a claim so far, if there are any."""
        value: Mapping[str, Any] | None = self.get(f"tally {number}")
        return value

    def keep_tally(self, number: int, tally: Mapping[str, Any]) -> None:
        """Keep the counts of a claim."""
        self.save({f"tally {number}": dict(tally)})

    def keep_answer(self, number: int, answer_: Answer) -> None:
        """Keep the answer to a claim."""
        self.save({f"answer {number}": answer_.to_dict()})


def counts_of(folder: Path, number: int) -> Path:
    """Return the file in which the counts of one claim stand while it is being answered."""
    return files.part_of(folder / f"claim-{number}.state")


@dataclass(frozen=True)
class Task:
    """How claims are answered: runs, confidence, seed, quick, plain as in `pipeline.run`; of: the work's fingerprint.

    folder: where counts are kept, None where workers have no disk in common with us.
    """

    runs: int
    confidence: float
    seed: int
    quick: bool
    plain: bool
    of: str
    folder: Path | None = None


@dataclass(frozen=True)
class Job:
    """Claims of one scene by their numbers, for one worker; room: memory for their grounds [bytes]."""

    task: Task
    questions: tuple[tuple[int, Question], ...]
    room: int = KEPT_BYTES


def work(job: Job) -> list[Answer]:
    """Answer the claims of a job with one thread."""
    common = Settings(job.task.runs, job.task.confidence, job.task.seed, 1, held=Bank(1, job.room))
    return [answer(number, question, job.task, common) for number, question in job.questions]


def answer(number: int, question: Question, task: Task, settings: Settings) -> Answer:
    """Answer a claim; its counts are kept as they come, and it too; both are taken up again."""
    counts = None if task.folder is None or task.quick else State(counts_of(task.folder, number), task.of)
    if counts is not None:
        known = counts.answer(number)
        if known is not None:
            return known
        settings = replace(settings, kept=counts.tally(number), keep=partial(counts.keep_tally, number))
    result = answered.answer(question, settings, quick=task.quick)
    if not (task.quick or task.plain or result.verdict is None):
        result = replace(result, depends_on=depends.depends_on(question, result, settings))
    if counts is not None:
        counts.keep_answer(number, result)
    return result


def shared_out(missing: Mapping[int, Question], seconds: Sequence[float], task: Task, processes: int) -> list[Job]:
    """Return jobs of the claims that are not answered, the longest first; 1 process: a claim a job.

    Those of one scene come together, unless they take more than one process's share. seconds (claim): expected of one
    thread.
    """
    scenes: dict[str, list[int]] = {}
    for number, question in missing.items():
        scenes.setdefault(repr(question.scenario), []).append(number)

    def time(numbers: list[int]) -> float:
        return sum(seconds[number - 1] for number in numbers)

    share = time(list(missing)) / processes
    groups = []
    for numbers in scenes.values():
        groups += [[n] for n in numbers] if processes == 1 or time(numbers) > share else [numbers]
    room = KEPT_BYTES // processes
    return [Job(task, tuple((n, missing[n]) for n in some), room) for some in sorted(groups, key=time, reverse=True)]


def processes_for(missing: Mapping[int, Question], seconds: Sequence[float], threads: int | None) -> int:
    """Return how many worker processes are worth while: 1 for none. seconds (claim): expected of one thread."""
    worth = sum(seconds[number - 1] for number in missing) >= WORTH_PROCESSES
    return max(1, min(costs.processes(threads, KEPT_BYTES), len(missing))) if worth else 1
