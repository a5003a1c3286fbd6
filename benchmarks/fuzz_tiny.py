"""Run what a fuzzed file asks for, but tiny: two pings of a scenario, a run or two of each trial of claims and trips.

Used by fuzz_inputs.py and fuzz_command.py. Each function returns "run", or "too large" where the estimate, which the
commands go by, says that even the tiny work needs more than 2 GiB or a minute; errors meant for users come through.
"""

from contextlib import ExitStack
from pathlib import Path
from typing import Any
from unittest.mock import patch

from pingwright import costs

LIMIT_BYTES = 2 << 30
LIMIT_S = 60.0
#: Claims of a file that are answered.
MOST_CLAIMS = 3


def scenario(loaded: Any) -> str:
    """Simulate two pings of a scenario (inputs.scenario.Scenario) in memory, as the command `run` would."""
    from pingwright.inputs import scenario as inputs
    from pingwright.measure.assess import assess
    from pingwright.recording import in_memory, prepare
    from pingwright.report import summary
    from pingwright.run.estimate import estimate
    from sensible import faults

    prepared = prepare(inputs.changed(loaded, {"boat.pings": 2}))
    if too_large(estimate(prepared, threads=1)):
        return "too large"
    record = in_memory(prepared, threads=1)
    assert all(element.pings == 2 for element in record.elements)
    assessed = assess(record)
    wrong = faults(summary.as_data(record, assessed, "", {}), summary.as_text(record, assessed, ""))
    assert not wrong, wrong
    return "run"


def claims(path: Path, out: Path, *, whole: bool = False) -> str:
    """Answer the claims of a file with two runs and short curves; whole: what they depend on, pictures and text too."""
    from pingwright.claims import answers, estimate, pipeline, questions
    from pingwright.inputs import claims as inputs
    from pingwright.measures import base, beam_width, finding
    from pingwright.trials.batch import Settings

    asked = inputs.load(path)
    tiny = asked.model_copy(update={"runs": min(asked.runs, 2)})
    small = ((base, "CURVE_RUNS", 1), (base, "CURVE_POINTS", 2), (beam_width, "DIRECTIONS", 9), (finding, "RUNS", 1))
    with ExitStack() as changes:
        for module, name, value in small:
            changes.enter_context(patch.object(module, name, value))
        changes.enter_context(patch.object(inputs, "load", lambda *_: tiny))
        if too_large(estimate.estimate(tiny, threads=1)):
            return "too large"
        if whole:
            pipeline.run(path, out, threads=1)
            return "run"
        for asking in questions.questions(tiny)[:MOST_CLAIMS]:
            answers.answer(asking, Settings(int(tiny.runs), float(tiny.confidence), int(tiny.seed), threads=1))
    return "run"


def trip(path: Path, out: Path, *, whole: bool = False) -> str:
    """Rank elements of a trip with one run of each trial, and write all results; whole: all elements, not only two."""
    from pingwright.inputs import trip as inputs
    from pingwright.match import estimate, pipeline, ranking, trials

    asked = inputs.load(path)
    flat = sorted(asked.element, key=lambda element: element.face.shape in {"arc", "cap"})
    tiny = asked if whole else asked.model_copy(update={"element": tuple(flat[:2])})
    ran = trials.run
    with ExitStack() as changes:
        for module, name, value in ((trials, "BLANKS", 1), (trials, "SWATH_RUNS", 1),
                                    (ranking, "RESAMPLINGS", 4), (ranking, "SLICE_RESAMPLINGS", 2)):  # fmt: skip
            changes.enter_context(patch.object(module, name, value))
        changes.enter_context(patch.object(trials, "run", lambda *a, **k: ran(*a, **{**k, "runs": 1})))
        changes.enter_context(patch.object(inputs, "load", lambda *_: tiny))
        if too_large(estimate.estimate(tiny, threads=1)[0]):
            return "too large"
        pipeline.run(path, out, threads=1)
    return "run"


def too_large(needs: costs.Needs) -> bool:
    """Return whether even the tiny work is more than this machine should be given here."""
    return needs.memory > LIMIT_BYTES or needs.time > LIMIT_S
