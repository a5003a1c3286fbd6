"""Placement, passes and trials: laws that hold whatever the elements are called and in whatever order they stand."""

from dataclasses import replace

import numpy as np
import pytest
from pingwright.engine.jobs import job
from pingwright.inputs import scenario
from pingwright.measure.passes import main_lobe
from pingwright.measure.rules import SEEN
from pingwright.measures.asked import Question
from pingwright.measures.registry import measure
from pingwright.trials import budget, passes, placement
from pingwright.trials.batch import Judge, Settings, Tally, Trials, _Search, from_dict
from pingwright.trials.ground import Bank, build_world
from pingwright.trials.placement import Footprint, Place, Species
from pingwright.trials.scene import scene, single
from pingwright.trials.sight import fish_over, view_of
from pingwright.world.scatterers import Track
from test_measure_rules import RULES

FISH = Species("closed", 0.4, 0.0, None, (9.0, 9.0), (-4.4, 16.2), "love-1971")
LOW = replace(FISH, depth=None, above_bottom=(1.0, 1.0))
BASE = """
title = "base"
[water]
temperature = 11
salinity = 34.5
[boat]
speed = "6 kn"
{boat}
[[element]]
name = "upright"
use = "high-pencil"
[[element]]
name = "tilted"
use = "high-pencil"
tilt = {{ across = "15 deg" }}
[seabed]
depth = "12 m"
roughness = "none"
[[seabed.layer]]
sediment = "gravel"
"""


def base(names=("upright", "tilted"), boat=""):
    whole = scenario.parse(BASE.format(boat=boat))
    picked = tuple(next(e for e in whole.element if e.name == name) for name in names)
    return whole.model_copy(update={"element": picked})


def test_places_are_uniform_by_area_over_the_union_of_two_footprints():
    prints = (Footprint((0.0, 0.0), (0.2, 0.1)), Footprint((0.0, 0.25), (0.1, 0.1)))
    rng = np.random.default_rng(1)
    x, y = placement.over_union(prints, rng.random((2, 20_000, placement.DRAWS)))
    first = (x / 0.2) ** 2 + (y / 0.1) ** 2 <= 1
    second = (x / 0.1) ** 2 + ((y - 0.25) / 0.1) ** 2 <= 1
    assert (first | second).all()
    # The two ellipses touch at most: their areas are pi a b, 2 to 1; standard error 0.0033.
    assert first.mean() == pytest.approx(2 / 3, abs=0.014)
    # Ripley's check of uniformity: the share within half the half-axes is a quarter.
    assert ((x[first] / 0.1) ** 2 + (y[first] / 0.05) ** 2 <= 1).mean() == pytest.approx(0.25, abs=0.016)


def test_offsets_are_uniform_over_widths_that_overlap_or_not():
    rng = np.random.default_rng(2)
    apart = placement.across_union((Footprint((0, 0), (0.1, 0.1)), Footprint((0, 1.0), (0.1, 0.2))), rng.random(30_000))
    assert ((np.abs(apart) <= 0.1) | (np.abs(apart - 1.0) <= 0.2)).all()
    assert (apart > 0.5).mean() == pytest.approx(2 / 3, abs=0.011)
    over = placement.across_union((Footprint((0, 0), (0.1, 0.1)), Footprint((0, 0.1), (0.1, 0.1))), rng.random(30_000))
    assert np.histogram(over, 3, (-0.1, 0.2))[0] == pytest.approx([10_000] * 3, rel=0.05)


def test_neither_order_nor_names_move_a_fish():
    one = placement.draw(scene(base()), FISH, None, 5, 0, 50, over="ping")
    other = placement.draw(scene(base(("tilted", "upright"))), FISH, None, 5, 0, 50, over="ping")
    assert (one.across == other.across).all()
    assert (one.along == other.along).all()


def test_the_difference_changes_sign_with_the_order():
    found = {}
    for names in (("upright", "tilted"), ("tilted", "upright")):
        question = Question("", "detected", base(names), FISH, None, "ping")
        found[names] = measure("detected").result(question, Settings(32, 0.95, 5, threads=1), curve=False)
    first, second = found.values()
    assert first.value == -second.value
    assert (first.low, first.high) == pytest.approx((-second.high, -second.low))
    assert first.theory == pytest.approx(-second.theory, abs=1e-12)
    assert abs(first.value - first.theory) < 0.2


def test_an_element_more_changes_nothing_and_threads_neither():
    settings = Settings(16, 0.95, 5, threads=1)
    hits = []
    for names, threads in ((("upright",), 1), (("upright", "tilted"), 2)):
        at = scene(base(names))
        fish = placement.draw(at, LOW, Place(0.0, 0.5), 5, 0, 16)
        pings = Trials(at, LOW, fish, 5, 0, Judge(measure("separated").hit), Bank(threads))
        hits.append(pings.look(np.arange(16), np.arange(4)).hit[0].tolist())
    assert hits[0] == hits[1]
    assert settings.runs == len(hits[0])


def test_the_pings_of_a_pass_are_those_of_the_main_lobe():
    at = scene(base(("upright",)))
    fish = placement.draw(at, FISH, Place(0.0, 0.3), 5, 0, 4)
    pings = passes.lay_out(at, replace(FISH, gain=60.0), fish, 5, 0)
    lobe = main_lobe(at.headers[0].info, at.headers[0].beam)[0]
    assert (pings.heard[0] == (pings.off[0] <= lobe)).all()
    assert np.diff(pings.track.x[pings.first[0] : pings.first[1]]) == pytest.approx(at.step)
    # The way through a lobe of such half-angle, over the way between two pings.
    expected = 2 * np.sqrt(((9.0 - at.face) * np.tan(np.radians(lobe))) ** 2 - 0.3**2) / at.step
    assert pings.heard[0].sum() / 4 == pytest.approx(expected, abs=1.5)


def test_a_faster_boat_has_fewer_pings_on_the_fish_and_roll_moves_the_lobe():
    slow = scene(base(("upright",)))
    fast = scene(base(("upright",)).model_copy(update={"boat": base().boat.model_copy(update={"speed": 12.0})}))
    heard = []
    for at in (slow, fast):
        pings = passes.lay_out(at, FISH, placement.draw(at, FISH, Place(0.0, 0.0), 5, 0, 8), 5, 0)
        heard.append(int(pings.heard.sum()))
    assert heard[1] == pytest.approx(heard[0] * slow.speed / fast.speed, rel=0.2)
    rolled = scene(base(("upright",), 'roll = { amplitude = "20 deg", period = "5 s" }'))
    pings = passes.lay_out(rolled, FISH, placement.draw(rolled, FISH, Place(0.0, 0.0), 5, 0, 64), 5, 0)
    # On the vertical the fish is off the axis by the roll itself.
    nearest = np.argmin(np.hypot(*pings.way()[:2]))
    assert pings.off[0][nearest] == pytest.approx(abs(pings.track.roll[nearest]), abs=1.0)


def test_passes_stand_on_ground_of_their_own():
    at = scene(base(("upright",)))
    pings = passes.lay_out(at, FISH, placement.draw(at, FISH, None, 5, 0, 20), 5, 0)
    ends = pings.track.x[pings.first[1:] - 1]
    assert (pings.track.x[pings.first[1:-1]] - ends[:-1] > 5.0).all()


def test_a_pings_own_axes_are_those_of_the_engine():
    from pingwright.engine.geometry import pose

    swaying = 'roll = { amplitude = "9 deg", period = "5 s" }\npitch = { amplitude = "7 deg", period = "3 s" }'
    at = single(scene(base(("tilted",), swaying)), 0)
    pings = passes.lay_out(at, FISH, placement.draw(at, FISH, None, 5, 0, 3), 5, 0)
    way = pings.way()
    own = passes.own_axes(at.elements[0], pings.track, way)
    for ping in range(0, len(pings.track.x), 7):
        axes = pose(pings.track, ping, at.elements[0])[3:].reshape(3, 3)
        assert own[:, ping] == pytest.approx(axes @ way[:, ping])


def test_a_stopped_count_resumes_to_the_same():
    asked = measure("separated")
    question = Question("", "separated", base(("upright",)), LOW, None, "ping", at_least=0.2)
    kept = []
    whole = asked.result(question, Settings(96, 0.95, 5, threads=1, keep=lambda t: kept.append(dict(t))), curve=False)
    again = asked.result(question, Settings(96, 0.95, 5, threads=1, kept=kept[0]), curve=False)
    assert again == whole
    assert from_dict(Tally(runs=3, hits=(2,)).to_dict()) == Tally(runs=3, hits=(2,))


@pytest.mark.parametrize("rule", RULES, ids=str)
def test_a_search_that_spares_pings_answers_as_one_that_looks_at_all(rule):
    rng = np.random.default_rng(4)
    for share in (0.05, 0.3, 0.7):
        shows = rng.random((300, 23)) < share
        counts = shows & (rng.random(shows.shape) < 0.7)
        row, column = (a.ravel() for a in np.indices(shows.shape))
        rank = np.argsort(np.argsort(np.abs(np.arange(23) - 11), kind="stable"))
        for fish in (True, False):
            search = _Search(np.tile(rank, 300), (row, column, column), rule, fish=fish, single=False)
            detected, counted = np.zeros((2, *shows.shape), dtype=bool)
            met, looked = np.zeros(300, dtype=bool), 0
            while len(which := search.next(met, detected)):
                at = row[which], column[which]
                assert not detected[at].any()
                detected[at], counted[at] = shows[at], counts[at]
                met, looked = rule.met(detected, counted), looked + len(which)
            assert (met == rule.met(shows, counts)).all()
            assert (met | rule.met(detected) == met | rule.met(shows)).all()
            if share == 0.05 and not fish and rule is SEEN:
                assert looked < 0.75 * shows.size


def test_questions_about_one_scene_share_a_ground_and_a_turned_noise_is_that_of_its_own_scene():
    bank, judge = Bank(1), Judge(measure("separated").hit)
    at = scene(base(("upright",)))
    louder = base(("upright",))
    louder = scene(louder.model_copy(update={"noise": louder.noise.model_copy(update={"own": 80.0})}))
    place, which = Place(0.0, 0.0), np.arange(8)
    levels = []
    for one, gain, under, held in ((at, 0.0, None, bank), (at, 3.0, None, bank), (louder, 0.0, at, bank),
                                   (louder, 0.0, None, Bank(1))):  # fmt: skip
        fish = placement.draw(one, LOW, place, 5, 0, 8)
        trials = Trials(one, replace(LOW, gain=gain), fish, 5, 0, judge, held, noise_of=under)
        trials.look(which, which[:2])
        levels.append(trials._eye(0).levels(np.arange(40)))
    assert len(bank._grounds) == 1
    # The same draws in another order of sums: float32 shows where echo and noise cancel. A level is rounded to 0.01 dB.
    assert np.mean(np.abs(levels[2].astype(int) - levels[3]) > 2) < 2e-3
    assert np.percentile(levels[2].astype(int) - levels[0], 95) > 500


BOX = """
[[structure]]
name = "box"
shape = { kind = "box", length = "4 m", width = "2 m", height = "1 m" }
at = { x = "0 m", y = "0 m" }
"""


def test_fish_behind_the_ground_beside_a_structure_are_not_looked_for():
    at = scene(scenario.parse(BASE.format(boat="") + BOX), keep_structures=True)
    x, y = np.array([0.0, 0.0, 3.0, 0.5]), np.array([0.0, 0.9, 0.0, -5.0])
    still = np.zeros(4)
    track = Track(still, x, y, np.full(4, at.face), still, still, still, still)
    # From over the box, 4 m by 2 m, the nearest open ground is as far aside as its nearest side (Pythagoras).
    assert budget._to_open_ground(at, track) == pytest.approx([1.0, 0.1, 0.0, 0.0])
    down = 12.0 - at.face
    nearest = np.hypot([1.0, 0.1, 0.0, 0.0], down)
    assert budget._farthest(at, track) == pytest.approx(nearest * 1.003 + 0.35)

    def may(slant):
        way = np.stack([np.sqrt(slant**2 - down**2), np.zeros(4), np.full(4, down)])
        return budget.possible(at, 0, LOW, track, way, np.stack([way[0] * 0, way[1], slant]), np.full(4, 0.4))

    # A fish's own extent, a quarter of its length, comes on top.
    assert may(budget._farthest(at, track) + 0.09).all()
    assert not may(budget._farthest(at, track) + 0.11).any()


def test_a_ground_with_structures_is_that_of_both_at_once_and_holds_theirs_alone():
    at = single(scene(scenario.parse(BASE.format(boat="") + BOX), keep_structures=True), 0)
    fish = placement.draw(at, LOW, Place(0.0, 0.0), 5, 0, 3)
    pings = passes.lay_out(at, LOW, fish, 5, 0, "ping")
    view = view_of(at, pings, pings.heard[0])
    ground, which = Bank(1).ground(at, pings.route, view, 5), np.arange(3)
    whole = job(ground.run, which.tolist(), True)[0]
    # The same numbers in another order of sums: float32 keeps seven digits, 140 dB, of the largest.
    apart = ground._still(which, 1).echo[0] - whole.echo
    assert np.sum(np.abs(apart) ** 2) < 10**-12 * np.sum(np.abs(whole.echo) ** 2)
    level = ground.levels(which, None, None, 1).astype(int)
    strong = whole.level > whole.level.max() - 8000
    assert strong.sum() > 500
    assert np.abs(level - whole.level)[strong].max() <= 1
    alone = job(ground.run.around(np.zeros(0, np.int64)), which.tolist(), False)[0].level
    assert np.array_equal(ground.bare(which, 1), alone)
    assert alone.max() > alone.min()


def test_what_is_laid_over_a_ground_is_the_fish_alone_and_no_structure_a_second_time():
    whole = scenario.parse(BASE.format(boat="") + BOX)
    at = single(scene(whole, keep_structures=True), 0)
    fish = placement.draw(at, LOW, Place(0.0, 0.0), 5, 0, 3)
    pings = passes.lay_out(at, LOW, fish, 5, 0, "ping")
    under = build_world(at, pings.route, 5)
    over = fish_over(under, at, LOW, pings)
    assert len(under.discrete.scatterers) > 0
    assert set(over.discrete.ping.tolist()) == {0, 1, 2}
    assert over.occluders == under.occluders
    assert over.seabed is None
