"""What testing claims will need, known before it starts, and the refusal of work that will not fit."""

from pathlib import Path

from pingwright import costs
from pingwright.claims import depends
from pingwright.claims.questions import questions
from pingwright.inputs.claims import ClaimsFile
from pingwright.measures.asked import Question
from pingwright.measures.base import CURVE_POINTS, CURVE_RUNS, Counted
from pingwright.measures.finding import POINTS_WORTH
from pingwright.measures.registry import measure
from pingwright.trials import batch, needs
from pingwright.trials.scene import scene

START, DRAWING = 3.0, 0.5
#: Number of runs that decides most verdicts; number of points that are tried on the axis of a limit.
USUAL_RUNS, USUAL_POINTS, USUAL_TRIES = 128, 16, 96
#: Number of variants with which a verdict is checked.
VARIANTS = 7
#: Seconds of one thread as expected and at the longest, and memory [bytes], of each claim.
Claims = list[tuple[float, float, int]]
SMALLER = 'Use fewer claims, fewer runs, --plain or over = "ping" to need less;'


def estimate(
    file: ClaimsFile, *, threads: int | None = None, plain: bool = False, claims: Claims | None = None
) -> costs.Needs:
    """Return what a claims file needs: time as expected, and at the longest where no verdict comes early.

    claims: what each claim takes, where it is known; see `each`.
    """
    expected, longest, memory = START, START, 0
    for usual, most, held in claims or each(file, plain=plain):
        expected, longest = expected + usual, longest + most
        memory = max(memory, held)
    many = costs.cores(threads)
    return costs.Needs(2 << 20, costs.BYTES_TO_START + memory, expected / many, longest / many)


def each(file: ClaimsFile, *, plain: bool = False) -> Claims:
    """Return for each claim the seconds of one thread as expected and at the longest, and memory [bytes]."""
    return [_claim(question, int(file.runs), plain) for question in questions(file)]


def _claim(question: Question, runs: int, plain: bool) -> tuple[float, float, int]:
    """Return seconds of one thread as expected and at the longest, and memory [bytes]."""
    chosen = measure(question.measure)
    at = scene(question.scenario, question.keep_structures)
    one = needs.work(at, question.species, question.place, chosen.over_of(question))
    if not isinstance(chosen, Counted):
        few = USUAL_POINTS * (one.begin + min(USUAL_TRIES, runs) * one.seconds)
        return few, few + POINTS_WORTH * runs * one.seconds, one.held(USUAL_POINTS * runs)
    again = 0 if plain or question.bound is None else VARIANTS * min(depends.RUNS, runs)
    fixed = min(batch.BLANKS, runs) + again + CURVE_POINTS * CURVE_RUNS
    begin = one.begin * (3 + (VARIANTS if again else 0)) + DRAWING
    usual = begin + (fixed + min(USUAL_RUNS if question.bound is not None else runs, runs)) * one.seconds
    return usual, begin + (fixed + runs) * one.seconds, one.held(fixed + runs)


def refuse_what_will_not_fit(
    file: ClaimsFile, folder: Path, *, threads: int | None = None, plain: bool = False, claims: Claims | None = None
) -> None:
    """Raise UnfinishedError if disk, memory or time will not be enough."""
    costs.refuse_what_will_not_fit(estimate(file, threads=threads, plain=plain, claims=claims), folder, SMALLER)
