"""Fish judged by the marks and by a plain rule: over the same recording without the fish."""

from dataclasses import replace

import numpy as np
from pingwright import recording
from pingwright.inputs.scenario import changed, parse
from pingwright.measure.assess import assess
from pingwright.measure.cells import grid, to_level
from pingwright.measure.detect import FLOOR
from pingwright.measure.marks import fish_trials
from pingwright.measure.rules import SEEN

#: How far a fish stands over the same samples without it [dB]: the plain rule.
CLEAR = 12.0


def with_and_without(text):
    """Return the recording of a scene, and the same with the levels that it has without its fish."""
    scenario = parse(text)
    full = recording.in_memory(recording.prepare(scenario), threads=1)
    empty = recording.in_memory(recording.prepare(changed(scenario, {"fish": None})), threads=1)
    return full, replace(full, elements=empty.elements)


def plain(full, empty, e):
    """Return which fish stand CLEAR over the same pings without them and are painted, by the rule of a pass."""
    element = full.elements[e]
    cells, trials = grid(element), fish_trials(element, full.truth, grid(element))
    with_fish, without = (to_level(np.asarray(one.elements[e].echo_level)) for one in (full, empty))
    clear = np.zeros(len(trials), dtype=bool)
    for k, (ping, middle, within) in enumerate(zip(trials.ping, cells.index(trials.range), trials.within, strict=True)):
        half = int(within / cells.step)
        at = slice(round(middle) - half, round(middle) + half + 1)
        best = at.start + int(np.argmax(with_fish[ping, at]))
        painted = with_fish[ping, best] + cells.strength_gain[best] >= FLOOR
        clear[k] = painted and with_fish[ping, best] >= without[ping, best - 2 : best + 3].max() + CLEAR
    return SEEN.met(trials.table(clear, len(full.truth.fish.id)))


def compared(text):
    """Return by element plain rule, marks, and marks of the pass without fish; none of it may be against the rules."""
    full, empty = with_and_without(text)
    found = []
    for e, (one, nobody) in enumerate(zip(assess(full).elements, assess(empty).elements, strict=True)):
        clear, mark = plain(full, empty, e), np.array(one.mark)
        assert not np.any(clear & (mark == "not_shown")), one.name
        # The plain rule looks at the strongest sample alone: a fish beside a stronger edge shows all the same.
        assert np.sum(mark == "separated") >= clear.sum() - 1, one.name
        assert set(nobody.mark) == {"not_shown"}, one.name
        found.append((clear, mark))
    return found
