"""Fish beside structures, judged by the marks and by a plain rule: over the same recording without the fish."""

from dataclasses import replace

import numpy as np
import pytest
from pingwright import recording
from pingwright.echograms.file import read, save
from pingwright.echograms.record import Surroundings
from pingwright.engine.preparing import Run
from pingwright.errors import EchogramError
from pingwright.inputs.scenario import parse
from pingwright.measure import beside
from pingwright.measure.assess import assess
from pingwright.measures.separated import Separated
from pingwright.recording.surroundings import with_surroundings
from pingwright.trials import placement, repeated
from pingwright.trials.batch import Trials
from pingwright.trials.ground import Bank
from pingwright.trials.placement import Place, Species
from pingwright.trials.scene import scene
from without_fish import compared

SHEET = """
title = "Fish beside a structure"
seed = 2
[water]
temperature = 11
salinity = 34.5
[boat]
speed = "4 kn"
start = "-5 m"
length = "10 m"
[window]
depth = ["{top} m", "{end} m"]
{elements}
[seabed]
depth = "{depth} m"
[[seabed.layer]]
sediment = "{sediment}"
[[structure]]
name = "it"
material = "{material}"
at = {{ x = "0 m", y = "{y} m" }}
{shape}
[[fish]]
name = "beside it"
swimbladder = "closed"
length = "40 cm"
count = {count}
where = {where}
"""
HIGH_UP = Species("closed", 0.4, 0.0, (5.0, 5.0), None, (-4.0, 14.0), "love-1971")
BESIDE = '{ x = ["-4 m", "4 m"], y = ["1 m", "4 m"], above_bottom = ["0.5 m", "3.5 m"] }'
OVER = '{ x = ["-4 m", "4 m"], y = ["-2 m", "3 m"], above = ["0.3 m", "2 m"] }'
#: Shape, its middle across the track [m], sediment, material, where the fish are, depth [m], elements.
SCENES = {
    "hull": ('shape = { kind = "hull", length = "30 m", width = "8 m", height = "5 m" }\nheading = 10', -3, "fine sand",
             "steel", OVER, 58, ["high-cone"]),
    "cylinder": ('shape = { kind = "cylinder", length = "12 m", diameter = "2.5 m" }\nheading = 30', -2, "gravel",
                 "concrete", BESIDE, 58, ["low-pencil"]),
    "reef": ('shape = { kind = "reef", length = "14 m", width = "6 m", height = "2.5 m", boulder = "1.2 m" }', -4,
             "mud", "rock", BESIDE, 40, ["high-pencil"]),
    "rock pile": ('shape = { kind = "reef", length = "6 m", width = "6 m", height = "2 m", boulder = "0.6 m" }', 0,
                  "gravel", "rock", OVER, 40, ["medium-fan"], 4),
}  # fmt: skip


def sheet(shape, y, sediment, material, where, depth, uses, count=8):
    elements = "\n".join(f'[[element]]\nname = "{use}"\nuse = "{use}"' for use in uses)
    return SHEET.format(
        shape=shape, y=y, sediment=sediment, material=material, where=where, depth=depth, elements=elements,
        count=count, top=depth - 10, end=depth + 3,
    )  # fmt: skip


#: Twelve fish 3 m beside a steel box of 4 m.
BOX = sheet(
    'shape = { kind = "box", length = "20 m", width = "8 m", height = "4 m" }', -4, "gravel", "steel",
    '{ x = ["-4 m", "4 m"], y = ["2.5 m", "3.5 m"], above_bottom = ["0.5 m", "3 m"] }', 58,
    ["high-pencil", "medium-pencil", "low-pencil"], count=12,
)  # fmt: skip


def test_twelve_fish_beside_a_box_are_marked_as_they_stand_under_every_pencil():
    # Common practice, no source: an echo 12 dB over what is there without it is seen. A deck is a mirror, 15 dB and
    # more over the gravel behind it: the seabed's line must be found all the same.
    for clear, mark in compared(BOX):
        assert clear.sum() >= 6
        assert abs(int((mark == "separated").sum()) - int(clear.sum())) <= 1


@pytest.mark.parametrize("scene", SCENES.values(), ids=SCENES)
def test_no_structure_is_taken_for_a_fish(scene):
    """Once up to 11 of 12 passes beside a cylinder, 4 beside a hull, 3 over rocks: edges and boulders, without fish."""
    compared(sheet(*scene))


def test_a_fresh_pass_beside_a_box_is_what_a_whole_recording_of_the_same_draw_shows():
    from pingwright.engine.settings import from_scenario
    from pingwright.world.build import build

    prepared = recording.prepare(parse(BOX.replace('name = "low-pencil"', 'name = "low"')))
    prepared = replace(prepared, scenario=prepared.scenario.model_copy(update={"passes": 1}))
    own = prepared.scenario
    seed = repeated.seed_of(int(own.seed), 0)
    world = build(own, prepared.world.looks, seed, same_fish=True)
    whole = replace(prepared, world=world, settings=replace(from_scenario(own, world), seed=seed))
    found = assess(recording.in_memory(whole, threads=1))
    fresh = repeated.fresh_passes(prepared, 1, threads=1)
    for e, element in enumerate(found.elements):
        assert [mark == "separated" for mark in element.mark] == fresh.separated[0, e].tolist()


def test_the_file_holds_what_echoes_beside_fish_and_refuses_what_names_nobody(tmp_path):
    scene = list(SCENES["cylinder"])
    record = recording.in_memory(recording.prepare(parse(sheet(*scene, count=2))), threads=1)
    save(record, tmp_path / "a.h5")
    again, known = read(tmp_path / "a.h5").truth.surroundings, record.truth.surroundings
    for name in ("element", "fish", "ping", "level"):
        assert np.array_equal(getattr(again, name), getattr(known, name))
    strange = Surroundings(known.element, known.fish + 2, known.ping, known.level)
    save(replace(record, truth=replace(record.truth, surroundings=strange)), tmp_path / "b.h5")
    with pytest.raises(EchogramError, match="a fish or a ping that is not there"):
        read(tmp_path / "b.h5")


def test_a_peak_is_the_fishs_where_it_stands_over_all_else():
    """By the rule's own numbers: 6 dB over what is there at least, 12 dB are enough unless the seabed echoes around."""
    local, steady = np.full(6, 100.0), np.array([50.0, 50.0, 50.0, 50.0, 75.0, 50.0])
    unknown, level = np.array([0.0, 0.0, 4.0, np.inf, 0.0, 4.0]), np.array([55.0, 90.0, 70.0, 70.0, 50.0, 95.0])
    others = np.array([60.0, 97.0, 60.0, np.nan, 60.0, 60.0])
    wanted = [72.0, 103.0, 83.59, 100.0, 75.0, 100.0]
    assert beside.threshold(local, steady, unknown, level, others) == pytest.approx(wanted, abs=0.01)


def test_what_structures_send_back_holds_no_seabed_and_that_of_steep_ground_does():
    """A run that was drawn anew brings its seabed's tiles along: they had echoed among the structures."""
    prepared = recording.prepare(parse(BOX))
    run = Run(prepared.world, prepared.elements, prepared.settings)
    again = run.redrawn(prepared.world, 5, keep=True)
    fish = prepared.header.truth.fish.id
    assert again.tiles is not None
    assert again.around(fish).tiles is None
    assert again.around(fish, ground=True).tiles is again.tiles


STEEP = """
title = "Fish over a slope"
seed = 2
[water]
temperature = 11
salinity = 34.5
[boat]
speed = "4 kn"
start = "-5 m"
length = "10 m"
[window]
depth = ["40 m", "66 m"]
[[element]]
use = "high-pencil"
name = "high"
[seabed]
depth = "58 m"
slope = { across = "12 deg" }
[[seabed.layer]]
sediment = "gravel"
[[fish]]
name = "over it"
swimbladder = "closed"
length = "40 cm"
count = 5
where = { x = ["-4 m", "4 m"], y = ["-3 m", "3 m"], above_bottom = ["0.5 m", "2 m"] }
"""


@pytest.mark.parametrize("text", [sheet(*SCENES["cylinder"]), STEEP], ids=["cylinder", "slope"])
def test_what_is_near_a_fish_does_not_turn_with_the_assumed_sound_speed(text):
    """Ranges are drawn with the assumed speed: at 1400 m/s 218 of 232 looks near a cylinder were once missed."""
    text = text.replace("[boat]", '[boat]\nping_interval = "0.2 s"')
    found = []
    for speed in ("", "assumed_sound_speed = 1350", "assumed_sound_speed = 1400", "assumed_sound_speed = 1650"):
        prepared = recording.prepare(parse(text.replace("salinity = 34.5", f"salinity = 34.5\n{speed}")))
        near = with_surroundings(prepared, threads=1).header.truth.surroundings
        found.append({(int(fish), int(ping)) for fish, ping in zip(near.fish, near.ping, strict=True)})
    # The margins are metres on the drawn axis, so a few looks at the edge come and go.
    assert len(found[0]) > 50
    assert all(len(one ^ found[0]) <= 0.02 * len(found[0]) for one in found[1:])


@pytest.mark.parametrize("speed", [1350, 1400, 1650])
def test_trials_at_a_wrongly_assumed_sound_speed_see_their_bottom_and_what_is_steep_near_their_fish(speed):
    text = STEEP.replace("salinity = 34.5", f"salinity = 34.5\nassumed_sound_speed = {speed}").replace("58 m", "100 m")
    at = scene(parse(text.replace('"40 m", "66 m"', '"0 m", "130 m"')))
    fish = placement.draw(at, HIGH_UP, Place(0.0, 0.0), 1, 0, 4, over="ping")
    trials = Trials(at, HIGH_UP, fish, 1, 0, Separated().judge(None), Bank(1), over="ping")
    eye = trials._eye(0)
    one = eye.sight(np.arange(4))
    assert np.abs(one.bottom.pick - one.below).max() < 0.05 * one.below.max()
    assert np.isfinite(one.around[0, :, 0]).all()


BOTH = (
    STEEP
    + """
[[structure]]
name = "box"
material = "steel"
at = { x = "0 m", y = "-8 m" }
shape = { kind = "box", length = "6 m", width = "3 m", height = "2 m" }
"""
)


def test_a_fish_near_a_structure_and_steep_ground_has_no_passes_judged_by_levels_alone(tmp_path):
    """Once such a fish lent its passes to places on the slope, where the levels take the slope's echoes for fish."""
    record = recording.in_memory(recording.prepare(parse(BOTH)), threads=1)
    judged = assess(record).elements[0]
    assert "both" in judged.rule or "ground" in judged.rule
    assert judged.false_alarms.of == 0
    save(record, tmp_path / "a.h5")
    again = assess(read(tmp_path / "a.h5")).elements[0]
    assert again.rule == judged.rule
    # Without the truth, as in files from elsewhere, only the levels judge.
    bare = assess(replace(record, truth=replace(record.truth, surroundings=None))).elements[0]
    assert set(bare.rule) <= {"levels", "unknown"}
    assert "unknown" in bare.rule
