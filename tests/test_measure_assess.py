"""Marks and shares of a whole recording, against what was put into it."""

import measure_lab as lab
import numpy as np
import pytest
from pingwright.echograms.record import FishTruth, Record, Truth
from pingwright.measure import assess, definitions
from pingwright.measure.assessment import MARKS

DEPTH, COUNT = 20.0, 400


@pytest.fixture(scope="module")
def record():
    """Two elements over rough ground; fish 1 m up (strong), 5 cm up (inside the low one's skirt), and one too weak."""
    where = {"high": lab.info(), "low": lab.info(bandwidth=23e3, centre=53.5e3, position=1)}
    pings, heights = np.array([50, 200, 350]), np.array([1.0, 0.08, 2.0])
    elements = []
    for about in where.values():
        rng = np.random.default_rng(11)
        points = lab.rough_bottom(about, rng, COUNT, DEPTH, about.source_level - 40 * np.log10(DEPTH))
        for ping, height, strength in zip(pings, heights, (-35, -35, -75), strict=True):
            size = np.zeros(COUNT)
            size[ping - 3 : ping + 4] = lab.amplitude(about, strength, DEPTH - height)
            points.append((np.hypot(DEPTH - height, 0.5 * (np.arange(COUNT) - ping)), size))
        pressure, ranges = lab.pings(about, rng, COUNT, 2048, points, start=15.0)
        element = lab.element(about, pressure, ranges, bottom_depth=DEPTH, x=np.arange(COUNT) * 0.5)
        elements.append(element)
    fish = FishTruth(
        np.arange(3), ("a", "b", "c"), pings * 0.5, np.zeros(3), DEPTH - heights, np.full(3, 0.1), heights,
        np.full((2, 3), -35.0), np.stack([pings, pings]), np.stack([DEPTH - heights] * 2),
    )  # fmt: skip
    return Record("t", 1, "", "", tuple(elements), Truth(fish), np.zeros((2, 2)), np.zeros((2, 2)))


def test_marks_say_what_was_put_in(record):
    found = assess.assess(record)
    high, low = found.elements
    assert high.mark == ("separated", "separated", "not_shown")
    assert low.mark[0] == "separated"
    assert low.mark[1] != "separated"
    assert low.mark[2] == "not_shown"
    assert dict(high.counts) == {"separated": 2, "merged": 0, "not_shown": 1}
    assert (high.separated.hits, high.separated.of) == (2, 3)
    assert high.fish_strength[0] == pytest.approx(-35, abs=0.3)
    assert np.isnan(high.fish_strength[2])
    assert found.either_separated.hits == 2
    assert high.bottom_error_median == pytest.approx(0, abs=0.02)
    assert np.mean(np.abs(high.bottom_error) < 0.05) > 0.99


def test_the_false_rate_is_measured_in_pings_without_fish_and_small(record):
    for element in assess.assess(record).elements:
        assert element.false_alarms.of > 100
        assert element.false_alarms.value <= 0.02


def test_every_number_has_a_definition_of_short_sentences():
    """At most 40 words a sentence: common practice of plain writing is 20 on average, no source."""
    for name, words in definitions.DEFINITIONS.items():
        assert words.endswith("."), name
        assert max(len(sentence.split()) for sentence in words.split(". ")) <= 40, name
    for name in ("detected", "separated", "separated_pair", "reach", "smallest_fish", "swath", "beam_width",
                 "range_resolution", "bottom_pick", "bottom_error", "false_alarms"):  # fmt: skip
        assert definitions.DEFINITIONS[name]
    assert MARKS == ("separated", "merged", "not_shown")


def test_a_recording_without_fish_is_assessed_too(record):
    none = np.zeros(0)
    fish = FishTruth(np.zeros(0, int), (), none, none, none, none, none, np.zeros((2, 0)), np.zeros((2, 0), int),
                     np.zeros((2, 0)))  # fmt: skip
    empty = Record("t", 1, "", "", record.elements, Truth(fish), np.zeros((2, 2)), np.zeros((2, 2)))
    found = assess.assess(empty)
    assert found.elements[0].mark == ()
    assert np.isnan(found.elements[0].separated.value)
    assert found.elements[0].closed.fish_length == pytest.approx(0.4)


def test_closed_form_reach_is_the_sonar_equations(record):
    # Independent solution of 40 log r + 2 a r = SL - NL + TS - SNR by a general root finder.
    from scipy.optimize import brentq

    element = assess.assess(record).elements[0]
    about = lab.info()
    snr = 10 * np.log10(np.log(1e-4) / np.log(0.5) - 1)
    merit = about.source_level - about.noise_level - 35 - snr
    root = brentq(lambda r: 40 * np.log10(r) + 2 * about.absorption * r - merit, 1, 1e5)
    assert element.closed.reach == pytest.approx(root, rel=1e-6)
    assert element.closed.geometric_width == pytest.approx(2 * np.sqrt(2 * 20 * 1 - 1), rel=1e-6)


def test_the_resolution_shown_is_the_width_it_is_defined_by(record):
    # Harris 1978: the -3 dB width behind a Hann weighting is 1.44 cells; the pulse's flanks change it a little.
    for element, found in zip(record.elements, assess.assess(record).elements, strict=True):
        bandwidth = element.info.band_high - element.info.band_low
        cell = element.info.assumed_sound_speed / (2 * bandwidth)
        assert element.info.weighting == "hann"
        assert found.range_resolution / cell == pytest.approx(1.44, rel=0.05)


@pytest.fixture(scope="module")
def short():
    """One element, 24 pings over rough ground, said to lie 3 cm higher in every fourth; of three fish one shows."""
    about, rng, count = lab.info(), np.random.default_rng(21), 24
    points = lab.rough_bottom(about, rng, count, 5.0, about.source_level - 28)
    shown = np.abs(np.arange(count) - 5) <= 1
    points.append((np.hypot(4.0, 0.5 * (np.arange(count) - 5)), np.where(shown, lab.amplitude(about, -35, 4.0), 0.0)))
    pressure, ranges = lab.pings(about, rng, count, 1024, points, start=3.0)
    depth = np.where(np.arange(count) % 4 == 0, 4.97, 5.0)
    element = lab.element(about, pressure, ranges, bottom_depth=depth, x=np.arange(count) * 0.5)
    pings = np.array([5, 11, 15])
    fish = FishTruth(
        np.arange(3), ("a", "b", "c"), pings * 0.5, np.zeros(3), np.full(3, 4.0), np.full(3, 0.1), np.ones(3),
        np.full((2, 3), -35.0), np.stack([pings] * 2), np.full((2, 3), 4.0),
    )  # fmt: skip
    return Record("short", 1, "", "", (element,), Truth(fish), np.zeros((2, 2)), np.zeros((2, 2)))


def test_one_element_alone_has_no_share_of_either(short):
    found = assess.assess(short, floor=-55.0)
    assert (found.title, found.floor) == ("short", -55.0)
    assert found.either_detected is None
    assert found.either_separated is None
    (only,) = found.elements
    assert (only.name, only.slug) == ("lab", "lab")
    assert only.mark == ("separated", "not_shown", "not_shown")
    assert (only.detected.hits, only.detected.of) == (1, 3)
    assert only.fish_ping.tolist() == [5, 11, 15]
    assert only.fish_range.tolist() == [4.0, 4.0, 4.0]
    assert only.fish_peak[0] == pytest.approx(4.0, abs=0.01)
    assert np.isnan(only.fish_peak[1])
    assert (only.pings_detected.tolist(), only.pings_separated.tolist()) == ([3, 0, 0], [3, 0, 0])
    assert only.arch_length[0] == pytest.approx(1.0)  # three pings half a metre apart
    assert only.arch_depth[0] == pytest.approx(np.hypot(4.0, 0.5) - 4.0, abs=0.01)
    assert only.reason[0] == ""
    assert only.bottom_lost == 0


def test_the_error_of_the_bottom_is_its_median_and_half_the_span_of_two_thirds(short):
    (only,) = assess.assess(short).elements
    error = np.sort(only.bottom_error)
    assert len(error) == 24
    # Every fourth picks 3 cm too deep, by what was put in.
    assert np.median(only.bottom_error[::4]) - np.median(only.bottom_error[1::4]) == pytest.approx(0.03, abs=0.01)
    assert only.bottom_error_median == pytest.approx((error[11] + error[12]) / 2)
    low, high = 0.16 * 23, 0.84 * 23  # places among 24 sorted values, linear between them
    span = np.interp(high, np.arange(24), error) - np.interp(low, np.arange(24), error)
    assert only.bottom_error_spread == pytest.approx(span / 2)
    assert only.bottom_error + np.where(np.arange(24) % 4 == 0, 4.97, 5.0) == pytest.approx(only.bottom_range)
    # The maximum of the averaged echo stands behind its edge, within the 1.5 m of bottom put in.
    assert np.all((only.bottom_peak > 4.99) & (only.bottom_peak < 6.5))
    assert only.bottom_peak == pytest.approx(5.1, abs=0.5)


def test_where_nothing_is_found_nothing_is_told(short):
    silent = lab.element(lab.info(), np.full((24, 1024), 1e-6), short.elements[0].range, 5.0)
    (only,) = assess.assess(Record("s", 1, "", "", (silent,), short.truth, np.zeros((2, 2)), np.zeros((2, 2)))).elements
    for values in (only.bottom_range, only.bottom_peak, only.bottom_level, only.bottom_error, only.fish_peak):
        assert np.isnan(values).all()
    assert np.isnan([only.bottom_error_median, only.bottom_error_spread]).all()
    assert only.mark == ("not_shown",) * 3
    assert only.bottom_lost == 24


def test_progress_counts_elements_and_one_of_them_is_enough(short):
    told = []
    silent = lab.element(lab.info(position=1), np.full((24, 1024), 1e-6), short.elements[0].range, 5.0)
    two = Record("t", 1, "", "", (*short.elements, silent), short.truth, np.zeros((2, 2)), np.zeros((2, 2)))
    found = assess.assess(two, progress=lambda *words: told.append(words))
    assert told == [("measuring", 0, 2), ("measuring", 1, 2), ("measuring", 2, 2)]
    assert (found.either_detected.hits, found.either_detected.of) == (1, 3)
    assert (found.either_separated.hits, found.either_separated.of) == (1, 3)
