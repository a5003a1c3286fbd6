"""Trials of claims: same random numbers for all, any threads, taken up again; dead zone and expected numbers."""

from dataclasses import replace

import numpy as np
import pytest
from pingwright.acoustics import deadzone
from pingwright.claims import answering, bench, echoes, limits, lots, sweeps, theory, trials
from pingwright.claims.question import Place, Question, Species
from pingwright.claims.trials import Course
from pingwright.inputs import scenario

TEXT = """
title = "test"
seed = 3
[water]
temperature = 11
salinity = 34.5
wind = "10 kn"
[boat]
transducer_depth = "0.6 m"
[[element]]
name = "high"
use = "high-pencil"
[[element]]
name = "low"
use = "low-pencil"
[seabed]
depth = "30 m"
[[seabed.layer]]
sediment = "gravel"
[noise]
vessel = 35
"""
FISH = Species("closed", 0.4, 0.0, 0.5, None, (-4.4, 16.2), "love-1971")


def question(elements=("high",), measure="separated", species=FISH, place=None, change=None, **bound):
    base = scenario.parse(TEXT, "t.toml", {})
    chosen = tuple(e for name in elements for e in base.element if e.name == name)
    base = base.model_copy(update={"element": chosen})
    base = scenario.changed(base, change) if change else base
    sides = {"at_least": None, "at_most": None} | bound
    return Question("said", measure, base, species, place, **sides)


@pytest.fixture(scope="module")
def both():
    return lots.stage(question(("high", "low")).scenario)


def hits(at, runs=96, threads=2, **options):
    laid = lots.lay(at, options.pop("species", FISH), options.pop("place", None), 5, runs, 32)
    rounds = list(bench.rounds(at, FISH, laid, 5, threads=threads, **options))
    return np.concatenate([r.hit for r in rounds], axis=1), np.concatenate([r.false for r in rounds], axis=1)


def test_threads_change_nothing(both):
    assert all(np.array_equal(a, b) for a, b in zip(hits(both, threads=1), hits(both, threads=2), strict=True))


def test_an_element_sees_the_same_alone_and_compared(both):
    # The same seabed needs the same elements in view, so what is compared is a pair against the pair's first.
    place = Place(0.5, 0.0)
    pair, _ = hits(both, place=place)
    single, _ = hits(lots.single(both, 1), place=place)
    assert np.mean(pair[1] == single[0]) > 0.9  # bottoms are sown as finely as the finest element asks for


def test_fish_bottom_and_noise_are_drawn_afresh_each_run_and_the_same_for_the_same_seed(both):
    laid = lots.lay(both, FISH, None, 5, 400)
    again = lots.lay(both, FISH, None, 5, 400)
    other = lots.lay(both, FISH, None, 6, 400)
    assert np.array_equal(laid.fish.across, again.fish.across)
    assert not np.array_equal(laid.fish.across, other.fish.across)
    assert len(np.unique(laid.fish.tilt)) > 390
    assert np.all(np.diff(laid.track.x) > 1.0)


def test_places_are_uniform_by_area_over_the_wider_footprint(both):
    laid = lots.lay(both, FISH, None, 5, 4000)
    widest = both.prepared.header.elements[1].info.beamwidth_across / 2
    radius = np.hypot(laid.fish.along, laid.fish.across) / (np.tan(np.radians(widest)) * (30 - 0.5 - 0.6))
    assert radius.max() <= 1.0
    # Uniform by area: the square of the radius is uniform (Kolmogorov-Smirnov, general library).
    from scipy import stats

    assert stats.kstest(radius**2, "uniform").pvalue > 0.001


def test_the_false_rate_is_at_most_two_percent_on_every_sediment_and_element():
    from pingwright.inputs import catalogue
    from pingwright.inputs.elements import from_catalogue

    base = question().scenario.model_copy(update={"element": tuple(map(from_catalogue, catalogue.element_names()))})
    for sediment in ("mud", "medium sand", "gravel", "rock"):
        at = lots.stage(scenario.changed(base, {"seabed.layer.1.sediment": sediment}))
        laid = lots.lay(at, FISH, None, 5, 128, 128)
        false = np.concatenate([r.false for r in bench.rounds(at, FISH, laid, 5)], axis=1)
        # At most 2 %: with 128 trials 6 hits or more would refuse 2 % at the 5 % level (binomial: 0.044). The benchmark
        # has 1024 and finds 0.1 % at most.
        assert np.all(false.sum(axis=1) < 6), (sediment, false.mean(axis=1))


def test_work_taken_up_again_gives_the_same_answer():
    asked, kept = question(at_least=0.5), []
    at = lots.stage(asked.scenario)
    whole, outcome = trials.count(asked, at, Course(400, 0.9999999, 5, keep=kept.append))
    assert outcome == "undecided" or whole.runs <= 400
    assert len(kept) > 2
    later, again = trials.count(asked, at, Course(400, 0.9999999, 5, kept=kept[1]))
    assert later == whole
    assert again == outcome


def test_runs_stop_when_the_verdict_is_certain_and_never_go_beyond():
    sure = answering.answer(question(place=Place(0, 0), at_least=0.2), Course(3000, 0.95, 5))
    assert sure.verdict == "holds"
    assert sure.runs < 1000
    assert sure.low >= 0.2
    few = answering.answer(question(place=Place(0, 0), at_least=0.97), Course(64, 0.95, 5))
    assert few.runs == 64
    assert few.verdict in ("undecided", "does not hold")
    number = answering.answer(question(place=Place(0, 0)), Course(64, 0.95, 5))
    assert number.verdict is None
    assert number.runs == 64


def test_a_difference_is_of_the_same_runs(both):
    found = answering.answer(question(("high", "low"), place=Place(0, 0), at_least=0.1), Course(600, 0.95, 5))
    assert found.value == pytest.approx(found.by_element[0] - found.by_element[1])
    assert found.low <= found.value <= found.high


@pytest.mark.parametrize("edge", [False, True])
def test_a_level_fish_needs_the_dead_zone_and_the_gap(edge):
    """Ona & Mitson 1996: d (1 - cos theta) and a pulse's worth; for a Hann filter 2 to 3 c/2B (a rule of thumb).

    By our definition: 2 cells of gap and a flank on either side, of Hann echoes 3 and 15 dB down, 4 cells; heights
    are tried 2 to 3 cells apart. The fish lies level, so that its echo hardly fades.
    """
    asked = question(species=replace(FISH, tilt=(0.0, 1.0)))
    info = lots.stage(asked.scenario).prepared.header.elements[0].info
    half, bottom = info.beamwidth_across / 2, 30 - 0.6
    side = bottom * np.tan(np.radians(half)) if edge else 0.0
    least = sweeps._least(replace(asked, place=Place(side, 0.0)), 5, 0.95, None)[0]  # noqa: SLF001
    hidden = float(deadzone.height_at_angle(bottom, half)) if edge else 0.0
    assert 3.0 <= (least - hidden) / info.range_resolution <= 6.0


@pytest.mark.parametrize("change", [{}, {"seabed.slope.across": "4 deg"}])
def test_least_height_follows_the_dead_zone(change):
    """A fish at the one-way -3 dB edge: d (1 - cos theta) and some cells (Ona & Mitson 1996); on a slope more.

    Ours is a fish 30 dB weaker than the bottom that fades with its tilt, so it is lost in the bottom's side lobes for
    longer than a level one: up to 25 cells, measured and pinned here, and by the fine closed form.
    """
    asked = question(change=change)
    at = lots.stage(asked.scenario)
    info = at.prepared.header.elements[0].info
    half, bottom = info.beamwidth_across / 2, 30 - 0.6
    slope = 4.0 if change else 0.0
    side = bottom * np.tan(np.radians(half))
    placed = replace(asked, place=Place(side, 0.0))
    found = sweeps._least(placed, 5, 0.95, None)  # noqa: SLF001
    geometry = float(deadzone.height_at_angle(bottom, half) + bottom - bottom * np.cos(np.radians(slope)))
    assert geometry + 2 * info.range_resolution < found[0] < geometry + 25 * info.range_resolution
    assert abs(found[0] - found[3]) < 0.04  # heights are tried 2 to 5 cm apart there


def test_beam_width_and_resolution_are_read_as_built():
    for name, tolerance in (("high", 0.3), ("low", 1.0)):
        asked = question((name,), "beam_width")
        at = lots.stage(asked.scenario)
        width = echoes.read(asked, at, 0, 5)
        assert np.median(width) == pytest.approx(at.prepared.header.elements[0].info.beamwidth_across, abs=tolerance)
    asked = question(measure="range_resolution")
    at = lots.stage(asked.scenario)
    # Harris 1978: 1.4405 cells at -3 dB for Hann; the flanks of the pulse and the rising source level change it by 1 %.
    cell = at.prepared.header.elements[0].info.range_resolution
    assert np.median(echoes.read(asked, at, 0, 5)) / cell == pytest.approx(1.4405, rel=0.02)


def test_reach_agrees_with_the_sonar_equation():
    deep = replace(FISH, above_bottom=None, depth=20.0)
    asked = question(measure="reach", species=deep)
    at = lots.stage(asked.scenario)
    (found,) = limits.find(asked, at, Course(128, 0.95, 5))
    # Textbook: Swerling 1 with the tilt-averaged strength. With tilt the median echo lies below its mean: 6 % less
    # reach by the fine form; statistics 5 %.
    closed, fine = theory.of_element(at, asked, 0), theory.of_element(at, asked, 0, fine=True)
    assert 0.82 < found.limit.value / closed < 1.05
    assert found.limit.value == pytest.approx(fine, rel=0.07)
    assert found.limit.low <= found.limit.value <= found.limit.high


def fan(measure, species):
    from pingwright.inputs.elements import from_catalogue

    base = question().scenario.model_copy(update={"element": (from_catalogue("medium-fan"),)})
    asked = question(measure=measure, species=species)
    return replace(asked, scenario=scenario.changed(base, {"seabed.depth": "58 m"}))


def test_the_fan_sees_less_wide_than_the_textbook_for_fish_are_seen_from_the_side():
    """A fish 43 deg off the vertical is seen end on or from its flank by its heading; broadside fish are seen widely.

    Textbook 62 m, 40 cm fish at 20 m; with aspect 39 m. Simulated: as with aspect, and as the textbook when all fish
    lie level along the track, so that the fan sees every one broadside.
    """
    asked = fan("swath", replace(FISH, above_bottom=None, depth=20.0))
    at = lots.stage(asked.scenario)
    plain, fine = theory.of_element(at, asked, 0), theory.of_element(at, asked, 0, fine=True)
    assert fine < 0.7 * plain

    def share(offset, *, broadside):
        laid = lots.spread(at, asked.species, Place(0, 0), 5, 128, "across", np.array([offset]))
        if broadside:
            still = np.zeros(128)
            laid = replace(laid, fish=replace(laid.fish, tilt=still, yaw=still))
        return np.concatenate([r.hit[0] for r in bench.rounds(at, asked.species, laid, 5, "detected")]).mean()

    # 128 runs: standard error 0.044; the curve falls by 0.05 a metre there.
    assert share(fine / 2, broadside=False) == pytest.approx(0.5, abs=0.13)
    assert share(plain / 2, broadside=False) < 0.25
    # Broadside, the peak of the strength model stands 4 dB above the tilt average of the textbook.
    assert share(plain / 2, broadside=True) > 0.5


def test_plain_limits_are_those_of_summaries():
    from pingwright.measure.closed import closed_form

    for measure, name in (("reach", "reach"), ("smallest_fish", "smallest_fish"), ("swath", "swath")):
        species = replace(FISH, above_bottom=None, depth=20.0, tilt=(-5.0, 15.0))
        species = replace(species, length=0.0) if measure == "smallest_fish" else species
        asked = question(measure=measure, species=species)
        at = lots.stage(asked.scenario)
        header = at.prepared.header.elements[0]
        bottom, deep = 30 - 0.6, theory.fish_depth(at, species)
        below = 0.0 if measure == "smallest_fish" else bottom - deep
        depth = deep if measure == "smallest_fish" else bottom
        known = closed_form(header.info, depth, 0.4, below, beam=header.beam)
        # The strengths are the same model's; grids of 0.6 %, and 1.5 cells of 1 cm less for the fish's own flank.
        assert theory.of_element(at, asked, 0) == pytest.approx(getattr(known, name), rel=0.01)


def test_a_limit_taken_up_again_gives_the_same_answer():
    deep = replace(FISH, above_bottom=None, depth=20.0)
    for elements, runs, bound in ((("high",), 192, {"at_least": 245.0}), (("high", "low"), 32, {"at_least": -500.0})):
        asked, kept = question(elements, "reach", deep, **bound), []
        at = lots.stage(asked.scenario)
        whole = limits.find(asked, at, Course(runs, 0.95, 5, keep=kept.append))
        assert len(kept) > 8
        again = limits.find(asked, at, Course(runs, 0.95, 5, kept=kept[4]))
        assert all(np.array_equal(a.hits, b.hits) for a, b in zip(whole, again, strict=True))
        assert max(f.of.max() for f in whole) <= runs
        assert limits.number(asked, whole) == limits.number(asked, again)


def test_aspect_keeps_the_mean_and_fades_more_deeply_from_the_side():
    from pingwright.claims import aspect

    seen = aspect.seen((-5.0, 15.0), 5.0, np.radians([0.0, 45.0, 70.0]))
    assert seen.mean(axis=1)[0] == pytest.approx(1.0, rel=0.01)  # by definition of the tilt average
    assert np.all(np.diff(seen.mean(axis=1)) < 0)
    # Seen level and broadside, 1 over the tilt average: no posture gives more.
    assert seen.max() <= 1.001 / float(aspect.fish.tilt_average(-5.0, 15.0))
    assert aspect.seen((-5.0, 15.0), 1.0, np.radians([60.0])) == pytest.approx(1.0)  # a sphere has no aspect


def test_a_pair_is_separated_from_some_cells_apart():
    pair = replace(FISH, above_bottom=None, depth=15.0, spacing=0.3)
    at = lots.stage(question().scenario)
    laid = lots.spread(at, pair, Place(0, 0), 5, 64, "spacing", np.array([0.01, 0.3]))
    hit = np.concatenate([r.hit[0] for r in bench.rounds(at, pair, laid, 5, "separated_pair")]).reshape(64, 2)
    assert hit[:, 0].mean() < 0.05
    assert hit[:, 1].mean() > 0.8


def test_expected_numbers_of_the_quick_model_and_why_they_differ():
    """40 cm fish 1 m over gravel at 58 m, anywhere in the beam: the quick model said 0.99 for the high pencil.

    For the low one it said 0.97; that model had no side lobes but the weighting's, and the plain closed form says the
    same. A 2 ms chirp of 23 kHz has a time-bandwidth product of 46 and Fresnel lobes near -33 dB over half a metre
    ahead of the bottom, which hide the fish; the fine closed form, with these lobes, says so too.
    """
    up = replace(FISH, above_bottom=1.0)
    at = {}
    for name in ("high", "low"):
        asked = question((name,), species=up, change={"seabed.depth": "58 m"})
        stage = lots.stage(asked.scenario)
        laid = lots.lay(stage, up, None, 5, 256)
        hit = np.concatenate([r.hit[0] for r in bench.rounds(stage, up, laid, 5)])
        at[name] = hit.mean(), theory.of_element(stage, asked, 0), theory.of_element(stage, asked, 0, fine=True)
    assert at["high"][0] == pytest.approx(0.96, abs=0.04)
    assert at["high"][1] == pytest.approx(0.99, abs=0.02)
    assert at["low"][0] < 0.3
    assert at["low"][1] == pytest.approx(0.97, abs=0.04)
    assert at["low"][0] == pytest.approx(at["low"][2], abs=0.12)


def test_kept_structures_are_under_the_boat():
    text = TEXT + '[[structure]]\nname = "barge"\nshape = { kind = "box", length = 20, width = 8, height = 3 }\n'
    base = scenario.parse(text + "at = { x = 5, y = 2 }\n", "t.toml", {})
    base = base.model_copy(update={"element": base.element[:1]})
    at = lots.stage(base, keep_structures=True)
    laid = lots.lay(at, FISH, Place(0, 0), 5, 128)
    assert np.all(np.abs(laid.track.x - 5) <= 10)
    assert np.all(np.abs(laid.track.y - 2) <= 4)
    # Half a metre above the ground it is inside the barge, which is 3 m high: the pings show the roof, and nothing of
    # the fish behind it, nor anything where the fish would be.
    hit = np.concatenate([r.hit[0] for r in bench.rounds(at, FISH, laid, 5)])
    absent = np.concatenate([r.false[0] for r in bench.rounds(at, FISH, replace(laid, empty=laid.run >= 0), 5)])
    assert np.array_equal(hit, absent)
    assert hit.mean() <= 0.02
    # Half a metre above the roof, 30 m less 3 m deep, a fish is seen as it is half a metre above the ground.
    assert at.crest == pytest.approx(27.0, abs=0.01)
    above = replace(FISH, above_bottom=3.5)
    over = lots.lay(at, above, Place(0, 0), 5, 128)
    hit = np.concatenate([r.hit[0] for r in bench.rounds(at, above, over, 5)])
    assert hit.mean() > 0.8
    bare = lots.stage(base)
    assert len(bare.prepared.header.truth.structures) == 0
