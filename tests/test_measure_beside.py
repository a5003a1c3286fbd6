"""Fish beside a structure, judged by the marks and by a plain rule: over the same recording without the fish."""

from dataclasses import replace

import numpy as np
from pingwright import recording
from pingwright.inputs.scenario import changed, parse
from pingwright.measure.assess import assess
from pingwright.measure.cells import grid, to_level
from pingwright.measure.marks import fish_trials
from pingwright.measure.rules import SEEN

BOX = """
title = "Fish beside a box"
seed = 2
[water]
temperature = 11
salinity = 34.5
[boat]
speed = "4 kn"
start = "-9 m"
length = "18 m"
[window]
depth = ["48 m", "61 m"]
[[element]]
name = "high"
use = "high-pencil"
[seabed]
depth = "58 m"
[[seabed.layer]]
sediment = "gravel"
[[structure]]
name = "box"
shape = { kind = "box", length = "20 m", width = "8 m", height = "4 m" }
at = { x = "0 m", y = "-4 m" }
[[fish]]
name = "beside the box"
swimbladder = "closed"
length = "40 cm"
count = 8
where = { x = ["-6 m", "6 m"], y = ["2.5 m", "3.5 m"], above_bottom = ["0.5 m", "3 m"] }
"""
#: How far a fish stands over the same samples without it [dB]: the plain rule.
CLEAR = 12.0


def test_fish_beside_a_box_are_marked_as_they_stand_and_none_where_none_are():
    # Common practice, no source: an echo 12 dB over what is there without it is seen. A deck is a mirror, 15 dB and
    # more over the gravel behind it: the seabed's line must be found all the same.
    scenario = parse(BOX)
    full = recording.in_memory(recording.prepare(scenario))
    empty = recording.in_memory(recording.prepare(changed(scenario, {"fish": None})))
    element, count = full.elements[0], len(full.truth.fish.id)
    cells, trials = grid(element), fish_trials(element, full.truth, grid(element))
    with_fish, without = (to_level(np.asarray(one.elements[0].echo_level)) for one in (full, empty))
    clear = np.zeros(len(trials), dtype=bool)
    for k, (ping, middle, within) in enumerate(zip(trials.ping, cells.index(trials.range), trials.within, strict=True)):
        half = int(within / cells.step)
        at = slice(round(middle) - half, round(middle) + half + 1)
        best = at.start + int(np.argmax(with_fish[ping, at]))
        clear[k] = with_fish[ping, best] >= without[ping, best - 2 : best + 3].max() + CLEAR
    plain = SEEN.met(trials.table(clear, count))
    marks = np.array(assess(full).elements[0].mark)
    assert plain.sum() >= 5
    assert not np.any(plain & (marks == "not_shown"))
    assert abs(int((marks == "separated").sum()) - int(plain.sum())) <= 1
    nobody = assess(replace(full, elements=empty.elements)).elements[0]
    assert nobody.counts["separated"] == 0
