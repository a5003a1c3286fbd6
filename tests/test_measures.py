"""What holds of every measure, and closed forms against what is exact."""

from dataclasses import replace
from typing import get_args

import numpy as np
import pytest
from pingwright.advice import numbers
from pingwright.inputs.measures import NEEDS, Measure
from pingwright.measures import fades, theory
from pingwright.measures.asked import Question
from pingwright.measures.base import Counted
from pingwright.measures.bottom_reach import NOBODY
from pingwright.measures.registry import measure, measures
from pingwright.quantities import ANGLE, LENGTH, RATIO
from pingwright.trials import passes, placement
from pingwright.trials.batch import Settings, Trials
from pingwright.trials.ground import Bank
from pingwright.trials.placement import Place
from pingwright.trials.scene import scene
from pingwright.world import strength
from test_trials import FISH, LOW, base

UNITS = {"": RATIO, "m": LENGTH, "deg": ANGLE}


def test_files_and_program_know_the_same_measures_in_the_same_units():
    assert set(measures()) == set(NEEDS) == set(get_args(Measure))
    assert all(NEEDS[name].dimension is UNITS[one.unit] for name, one in measures().items())
    assert all(set(NEEDS[name].overs) == set(one.overs) for name, one in measures().items())


@pytest.mark.parametrize("name", sorted(measures()))
def test_every_measure_is_defined_in_sentences_and_has_a_closed_form(name):
    one = measure(name)
    assert one.definition.endswith(".")
    assert one.left_out
    species = replace(FISH, spacing=0.5) if name == "separated_pair" else FISH
    species = replace(species, length=0.0) if name == "smallest_fish" else species
    value = one.closed_form(Question("", name, base(("upright",)), species, None, pings=(3, 8)))
    assert np.isfinite(value)
    assert 0 < value <= (1 if one.unit == "" else np.inf)
    if isinstance(one, Counted) and type(one).rule is not Counted.rule:
        assert one.overs == ("pass",), "a rule of its own says when a pass counts: a single ping has none"


def test_a_steady_echo_passes_the_threshold_as_marcums_q():
    # Marcum 1960 through scipy's noncentral chi-square, of two degrees of freedom.
    from scipy.stats import ncx2

    ratio = np.linspace(-5.0, 20.0, 60)
    exact = ncx2.sf(-2 * np.log(1e-4), 2, 2 * 10 ** (0.1 * ratio))
    near = theory.exceeding(ratio)
    assert np.abs(near - exact)[exact > 0.1].max() < 0.02
    assert np.abs(near - exact).max() < 0.03


def test_swath_is_its_scale_times_the_share_of_offsets_and_symmetrical():
    one = measure("swath")
    assert isinstance(one, Counted)
    question = Question("", "swath", base(("upright",)), FISH, None)
    at = scene(question.scenario)
    fish = one.draw(at, question, 5, 0, 4000)
    assert np.ptp(fish.across) == pytest.approx(one.scale(at, question), rel=0.01)
    assert one.closed_form(question) < one.scale(at, question)


@pytest.mark.parametrize("height", [0.5, 3.0])
def test_the_closed_swath_is_the_integral_over_even_offsets(height):
    """Against the same integral with 400 offsets, and against that of a question in words: 64 are enough for 5 %."""
    fish = replace(FISH, depth=None, above_bottom=(height, height))
    question = Question("", "swath", base(("upright",)), fish, None)
    one, at = measure("swath"), scene(question.scenario)
    assert isinstance(one, Counted)
    drawn = one.evened(at, question, one.draw(at, question, 5, 0, 400))
    wide = one.scale(at, question) * float(np.mean(one._chances(at, question, 0, drawn)))
    assert one.closed_form(question) == pytest.approx(wide, rel=0.05)
    assert numbers.passing(at, 0, fish).swath.value == pytest.approx(wide, rel=0.12)  # 24 offsets


def test_a_larger_fish_a_quieter_boat_and_a_slower_one_are_never_worse_in_closed_form():
    question = Question("", "detected", base(("upright",)), replace(FISH, length=0.04), Place(0.0, 1.0))
    usual = measure("detected").closed_form(question)
    assert measure("detected").closed_form(replace(question, species=replace(question.species, gain=10.0))) >= usual
    fast = question.scenario.model_copy(update={"boat": question.scenario.boat.model_copy(update={"speed": 12.0})})
    assert measure("detected").closed_form(replace(question, scenario=fast)) <= usual


def test_a_fish_shorter_than_a_wavelength_keeps_its_level_over_a_pass_and_a_long_one_does_not():
    # One fish of 4 cm straight below, some 40 pings of half a second: its echo at 53.5 kHz hardly changes between them,
    # that of a fish of 60 cm at 170 kHz does (highlights 4 cm apart, 5 wavelengths, turn by degrees). Geometry alone.
    def spread(frequency, length):
        species = replace(FISH, length=length, depth=(9.0, 9.0))
        at = scene(base(("upright",)))
        fish = placement.draw(at, species, Place(0.0, 0.0), 0, 0, 1)
        pings = passes.lay_out(at, species, fish, 0, 0, alone=True)
        law, near = strength.model("love-1971", "closed", species.tilt, 9.0, 1490.0), np.flatnonzero(pings.heard[0])
        levels = fades.levels(law, length, frequency, pings, near)
        assert 10 * np.log10(np.mean(10 ** (levels / 10))) == pytest.approx(0.0, abs=0.7)  # the mean over tilt stays
        return np.median(np.std(levels, axis=1)) / np.std(levels)

    assert spread(53.5e3, 0.04) < 0.55
    assert spread(170e3, 0.6) > 0.75


def test_simulation_and_closed_form_agree_over_passes_on_flat_ground():
    question = Question("", "separated", base(("upright",)), replace(LOW, above_bottom=(0.3, 0.3)), None, "ping")
    result = measure("separated").result(question, Settings(96, 0.95, 3, threads=1), curve=False)
    assert result.low - 0.05 <= result.theory <= result.high + 0.05
    assert result.runs == 96


def test_runs_asked_for_without_a_bound_are_used_and_shrink_the_interval():
    question = Question("", "detected", base(("upright",)), FISH, Place(0.0, 1.5), "ping")
    few, many = (measure("detected").result(question, Settings(n, 0.95, 5, threads=1), curve=False) for n in (16, 128))
    assert (few.runs, many.runs) == (16, 128)
    assert many.high - many.low < few.high - few.low


def test_passes_are_independent_so_that_shares_of_other_seeds_spread_as_the_binomial_law_says():
    # Grounds and noise are shared between questions, never between the passes of one count. benchmarks/verdicts.py
    # measures coverage itself: 0.97 of 60 intervals of 128 passes, 0.8 % of verdicts at 0.01 either side wrong.
    fish = replace(FISH, depth=(5.0, 5.0), length=0.1)
    question = Question("", "detected", base(("upright",)), fish, Place(0.0, 0.52))
    at, runs = scene(question.scenario), 32
    one = measure("detected")
    assert isinstance(one, Counted)
    hits = np.array([one.tally(question, at, Settings(runs, 0.95, s, threads=1), blanks=0).hits[0] for s in range(8)])
    share = hits.mean() / runs
    assert 0.2 < share < 0.9
    # Index of dispersion, chi-square of 7 degrees of freedom: 99.9 % below 24.3 (tables); all alike would give 0,
    # passes that share their noise by fours 28 on average.
    chi = ((hits - hits.mean()) ** 2).sum() / (runs * share * (1 - share))
    assert 0.3 < chi < 24.3


def test_m_of_n_is_judged_by_its_own_rule_in_trials_and_in_closed_form():
    at, one = scene(base(("upright",))), measure("m_of_n")
    asked = [
        Question("", "m_of_n", at.scenario, replace(FISH, length=0.07), Place(0.0, 0.55), pings=pings)
        for pings in ((1, 12), (9, 9), (12, 12))
    ]
    trials = [Trials(at, q.species, one.draw(at, q, 5, 0, 16), 5, 0, one.judge(q), Bank(1)) for q in asked]
    hits = [t.look(np.arange(16), np.arange(0)).hit[0] for t in trials]
    pings = trials[0].pings
    every = trials[0]._eye(0).look(np.flatnonzero(pings.heard[0]), one.hit)
    table = np.zeros((16, np.diff(pings.first).max()), dtype=bool)
    which = np.flatnonzero(pings.heard[0])
    table[pings.trial[which], which - pings.first[pings.trial[which]]] = every.detected
    for question, found in zip(asked, hits, strict=True):
        assert (found == one.rule(question).met(table)).all()
    assert 16 > hits[0].sum() > hits[2].sum() > 0
    theory = [one.closed_form(question) for question in asked]
    assert theory == sorted(theory, reverse=True)


def test_the_bottom_is_held_in_trials_about_as_deep_as_in_closed_form():
    loud = base(("upright",))
    loud = loud.model_copy(update={"noise": loud.noise.model_copy(update={"own": 90.0})})  # shallow, so quick
    question, one = Question("", "bottom_reach", loud, NOBODY), measure("bottom_reach")
    closed = one.closed_form(question)
    # Measured against trials: high pencil over mud 6 % short, tone at 200 kHz over rock 2 % beyond, low pencil over mud
    # 8 % short.
    found = [one.trials(question, 0, share * closed, Settings(24, 0.95, 3, threads=1), 0, 24) for share in (0.85, 1.25)]
    assert found[0] >= 22
    assert found[1] < 20
    assert one.chances(question, 0, np.array([0.85, 1.0, 1.25]) * closed) == pytest.approx([1.0, 0.9, 0.0], abs=0.005)
