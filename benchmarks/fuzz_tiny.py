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
    from pingwright.run.estimate import estimate

    prepared = prepare(inputs.changed(loaded, {"boat.pings": 2}))
    if too_large(estimate(prepared, threads=1)):
        return "too large"
    record = in_memory(prepared, threads=1)
    assert all(element.pings == 2 for element in record.elements)
    assess(record)
    return "run"


def claims(path: Path, out: Path, *, whole: bool = False) -> str:
    """Answer the claims of a file with two runs and one of each chart; whole: sweeps, pictures and text as well."""
    from pingwright.claims import answering, curves, echoes, estimate, limits, pipeline, question, sweeps, trials
    from pingwright.inputs import claims as inputs

    asked = inputs.load(path)
    tiny = asked.model_copy(update={"runs": min(asked.runs, 2)})
    small = {curves: {"RUNS": 1, "POINTS": 2}, echoes: {"READINGS": 2, "DIRECTIONS": 9}, limits: {"RUNS": 1},
             sweeps: {"SIDE": 3, "MAP_RUNS": 1, "HEIGHTS": 3, "HEIGHT_RUNS": 1, "DEPTHS": (0.5, 1.0),
                      "SLOPES": (0.0, 3.0), "SEDIMENTS": ("mud", "rock"), "DEEP": (10.0, 80.0), "DEEP_RUNS": 1,
                      "LENGTHS": (1.0, 1.3)}}  # fmt: skip
    with ExitStack() as changes:
        for module, values in small.items():
            for name, value in values.items():
                changes.enter_context(patch.object(module, name, value))
        changes.enter_context(patch.object(inputs, "load", lambda _: tiny))
        if too_large(estimate.estimate(tiny, threads=1)):
            return "too large"
        if whole:
            pipeline.run(path, out, threads=1)
            return "run"
        for asking in question.questions(tiny)[:MOST_CLAIMS]:
            answering.answer(asking, trials.Course(int(tiny.runs), float(tiny.confidence), int(tiny.seed), threads=1))
    return "run"


def trip(path: Path, out: Path, *, whole: bool = False) -> str:
    """Rank elements of a trip with one run of each trial, and write all results; whole: all elements, not only two."""
    from pingwright.inputs import trip as inputs
    from pingwright.match import estimate, pipeline, plan, ranking, trials

    asked = inputs.load(path)
    flat = sorted(asked.element, key=lambda element: element.face.shape in {"arc", "cap"})
    tiny = asked if whole else asked.model_copy(update={"element": tuple(flat[:2])})
    ran = trials.run
    with ExitStack() as changes:
        for module, name, value in ((plan, "EMPTY_RUNS", 1), (plan, "SPOT_RUNS", 1), (plan, "AXIS_RUNS", 1),
                                    (ranking, "RESAMPLINGS", 4), (ranking, "SLICE_RESAMPLINGS", 2)):  # fmt: skip
            changes.enter_context(patch.object(module, name, value))
        changes.enter_context(patch.object(trials, "run", lambda *a, **k: ran(*a, **k, runs=1, axis_runs=1)))
        changes.enter_context(patch.object(inputs, "load", lambda _: tiny))
        if too_large(estimate.estimate(tiny, threads=1)[0]):
            return "too large"
        pipeline.run(path, out, threads=1)
    return "run"


def too_large(needs: costs.Needs) -> bool:
    """Return whether even the tiny work is more than this machine should be given here."""
    return needs.memory > LIMIT_BYTES or needs.time > LIMIT_S
