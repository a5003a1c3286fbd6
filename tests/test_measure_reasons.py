"""Why a fish is not shown: the order of the reasons, the majorities, and the levels behind them; by hand."""

from dataclasses import replace
from types import SimpleNamespace

import measure_lab as lab
import numpy as np
import pytest
from pingwright.echograms.record import StructureTruth, Surroundings, Truth
from pingwright.measure import marks, reasons
from pingwright.measure.beside import COLUMNS
from pingwright.measure.cells import grid
from pingwright.measure.judgements import Trials
from test_measure_marks import BOAT, COUNT, DEPTH, fishes


def element(level=0.0, samples=2100, **about):
    """A run of 121 pings along x, 30 m deep, every ping with the same levels [dB re 1 uPa]."""
    every = np.broadcast_to(np.asarray(level, dtype=float), (COUNT, samples))
    return lab.element(lab.info(**about), 10 ** (every / 20), np.arange(samples) * 0.01, DEPTH, BOAT)


def trials(ping, owner, distance):
    ping = np.asarray(ping)
    return Trials(np.asarray(owner), ping, np.zeros(len(ping)) + distance, np.full(len(ping), 0.03))


@pytest.fixture
def judge(monkeypatch):
    """Return the reason of one fish from what is so in each of its pings, as letters; the strongest ping first.

    h: behind the pick, s: so and behind a structure, l: below the floor, w: too weak, a: side lobes, e: other echoes,
    .: nothing of it.
    """
    words = {"a": "side_lobes", "e": "surroundings"}

    def asked(letters, detected=0, shown=False, owner=0):
        monkeypatch.setattr(reasons, "_around", lambda case, scored, k: words.get(letters[k], ""))
        at = {letter: np.array([one == letter for one in letters], dtype=bool) for letter in "hslw"}
        case = SimpleNamespace(
            echo=100.0 - np.arange(len(letters)), low=at["l"], weak=at["w"], hidden=at["h"] | at["s"], behind=at["s"]
        )
        fish = SimpleNamespace(is_detected=np.array([shown] * 2), detected=np.array([detected] * 2))
        return reasons._reason(case, SimpleNamespace(trials=trials([0] * len(letters), [0] * len(letters), 1.0),
                                                     fish=fish), owner)  # fmt: skip

    return asked


@pytest.mark.parametrize(
    ("letters", "reason"),
    [
        # The strongest third of the pings, at least three of them.
        ("hhh......", "bottom"), ("hh.......", "bottom"), ("h........", "faded"), ("...hhhhhh", "faded"),
        ("hhhh........", "bottom"), ("hhh.........", "bottom"), ("hh..........", "faded"),
        ("hhh.", "bottom"), ("hh.", "bottom"), ("h..", "faded"), ("hh", "bottom"), ("h", "bottom"),
        # Fewer than half in front of the pick: a structure if more than half of them are behind one.
        ("sss", "structure"), ("ssh", "structure"), ("shh", "bottom"), ("sh", "bottom"), ("s.h.........", "faded"),
        ("ssh.........", "structure"), ("sshh........", "bottom"),
        # Of those in front, more than half below the floor, then too weak; exactly half are not enough.
        ("lll", "floor"), ("ll.", "floor"), ("l..", "faded"), ("hll", "floor"), ("h.l", "faded"), ("lwl", "floor"),
        ("www", "noise"), ("wwl", "noise"), ("w..", "faded"), ("hww", "noise"), ("hw.", "faded"),
        ("ll..........", "faded"),
        # Then what is in most of the pings, side lobes first; nothing of it in half of them: it faded.
        ("aaa", "side_lobes"), ("eee", "surroundings"), ("aae", "side_lobes"), ("aee", "surroundings"),
        ("hae", "side_lobes"), ("ee.", "surroundings"), ("e..", "faded"), ("h.e", "faded"), ("ae..........", "faded"),
        ("aee.........", "surroundings"),
    ],
)  # fmt: skip
def test_the_reason_is_that_of_most_of_the_pings_that_come_nearest(judge, letters, reason):
    assert judge(letters) == reason


def test_what_is_shown_needs_no_reason_and_what_is_outside_no_other(judge):
    assert judge("hhh", detected=3, shown=True) == ""
    assert judge("hhh", detected=2) == "few"
    assert judge("hhh", owner=1) == "outside"
    assert judge("", shown=True) == ""


def test_the_mean_echo_by_the_sonar_equation():
    """SL - bubbles - 40 log r - 2 alpha r + TS - beam: 8 deg wide, so 6.02 dB both ways at 4 deg, in each direction."""
    strength = np.array([[-35.0, -40.0], [-20.0, -25.0]])
    fish = replace(fishes([30.0, 30.0], [20.0, 20.0], y=[0.0, 20 * np.tan(np.radians(4.0))]), strength=strength,
                   nearest_ping=np.full((2, 2), 60), apparent_depth=np.full((2, 2), 20.0))  # fmt: skip
    made = element(absorption=0.05, extra={"bubble_loss": 3.0})
    base = 215.0 - 3.0 - 40 * np.log10(20.0) - 2.0
    found = reasons.expected(made, Truth(fish), trials([60, 60], [0, 1], 20.0))
    assert found == pytest.approx([base - 35.0, base - 40.0 - 6.02], abs=0.01)
    ahead = trials([60 - 2], [0], 20.0)
    angle = np.degrees(np.arctan(1.0 / 20.0))
    assert reasons.expected(made, Truth(fish), ahead) == pytest.approx(
        base - 35.0 - 6.0206 * (angle / 4) ** 2, abs=0.01
    )
    second = replace(made, info=replace(made.info, position=1))
    assert reasons.expected(second, Truth(fish), trials([60], [0], 20.0)) == pytest.approx(base - 20.0, abs=0.01)


@pytest.mark.parametrize(
    ("x", "y", "top", "behind"),
    [
        ((28.0, 32.0), (-1.0, 1.0), 18.0, True),
        ((28.0, 32.0), (-1.0, 1.0), 19.9, True), ((28.0, 32.0), (-1.0, 1.0), 20.1, False),  # nearer than the fish
        # Within 8 deg, the width: 18 tan 8 = 2.53 m beside or ahead.
        ((28.0, 32.0), (2.5, 4.0), 18.0, True), ((28.0, 32.0), (2.56, 4.0), 18.0, False),
        ((28.0, 32.0), (-4.0, -2.5), 18.0, True), ((28.0, 32.0), (-4.0, -2.56), 18.0, False),
        ((32.5, 34.0), (-1.0, 1.0), 18.0, True), ((32.56, 34.0), (-1.0, 1.0), 18.0, False),
    ],
)  # fmt: skip
def test_a_structure_in_the_beam_nearer_than_the_fish(x, y, top, behind):
    side, plan = np.array([[x[0], 30.0], [x[1], top]]), np.array([[x[0], y[0]], [x[1], y[1]]])
    truth = Truth(fishes(30.0, 20.0), (StructureTruth("box", "steel", side, side, plan),))
    for about in ({}, {"beamwidth_along": 2.0}, {"beamwidth_across": 2.0}):
        assert reasons._behind(element(**about), truth, trials([60], [0], 20.0)).tolist() == [behind]
    assert reasons._behind(element(), Truth(fishes(30.0, 20.0)), trials([60], [0], 20.0)).tolist() == [False]


def test_the_margin_is_that_of_the_threshold_over_even_noise():
    """Water all at the mean level of Rayleigh power, 2.507 dB under the mean of its power: no more than noise there."""
    from pingwright.measure.bottom import Bottom
    from pingwright.measure.detect import local_threshold

    made = element(40.0 - 2.5068, noise=40.0)
    cells = grid(made)
    none = Bottom(np.array([np.nan]), np.array([-1]), np.array([np.nan]))
    for rate in (1e-4, 1e-6):
        at = local_threshold(made.echo_level[:1], cells, none, np.zeros(1, int), np.array([1000]), rate)
        assert reasons._margin(cells, rate) == pytest.approx(at[0] - 40.0, abs=0.05)
    assert 9.0 < reasons._margin(cells, 1e-4) < 13.0


@pytest.mark.parametrize(
    ("strength", "about", "reason"),
    [
        # -60 dB is the picture's floor. Of the best four of 13 pings, at 0, 0.5, 0.5 and 1 m, most lose 0.77 dB or
        # more: 6.02 dB (1.43 deg / 4 deg)^2.
        (-59.4, {"noise": 20.0}, "floor"), (-59.1, {"noise": 20.0}, "faded"),
        # 215 - 40 log 20 - 45 = 118 dB: some 11 dB over noise of 100 it may show, of 110 it may not.
        (-45.0, {"noise": 100.0}, "faded"), (-45.0, {"noise": 110.0}, "noise"),
    ],
)  # fmt: skip
def test_floor_and_noise_at_their_limits(strength, about, reason):
    made, truth = element(**about), Truth(fishes(30.0, 20.0, strength=strength))
    assert reasons.reasons(made, truth, marks.score_element(made, truth)) == (reason,)


def test_another_floor_and_another_false_alarm_are_asked_for():
    made, truth = element(noise=105.5), Truth(fishes(30.0, 20.0, strength=-45.0))
    scored = marks.score_element(made, truth)
    assert reasons.reasons(made, truth, scored, floor=-44.0) == ("floor",)
    assert reasons.reasons(made, truth, scored, false_alarm=1e-8) == ("noise",)
    assert reasons.reasons(made, truth, scored, false_alarm=1e-2) == ("faded",)


def test_side_lobes_of_the_bottom_hide_what_is_close_above_it():
    """Of a bottom of 150 dB a chirp's unweighted side lobes carry some 102 dB 0.3 m ahead; the echo has 108 dB."""
    level = np.full(3000, 20.0)
    level[2030:2400] = 150.0
    truth = Truth(fishes(30.0, 20.0, strength=-55.0))
    made = element(level, samples=3000, noise=20.0, weighting="none", pulse_length=8e-4)
    assert reasons.reasons(made, truth, marks.score_element(made, truth)) == ("side_lobes",)
    # With a weighting that lowers them it only faded; as much in the water is no side lobe.
    hann = replace(made, info=replace(made.info, weighting="hann"))
    assert reasons.reasons(hann, truth, marks.score_element(hann, truth)) == ("faded",)
    water = np.full(3000, 20.0)
    water[1500:2500] = 102.0
    made = element(water, samples=3000, noise=20.0)
    assert reasons.reasons(made, truth, marks.score_element(made, truth)) == ("surroundings",)


def test_the_known_echo_of_things_around_it_hides_a_fish():
    """118 dB of fish, 115 dB of a structure: 6 dB over it are needed; 100 dB of it hide nothing."""
    made, fish = element(noise=20.0), fishes(30.0, 20.0, strength=-45.0)
    pings = np.arange(40, 81)
    for level, reason in ((115.0, "surroundings"), (100.0, "faded")):
        known = Surroundings(np.zeros(41, int), np.zeros(41, int), pings, np.full((41, COLUMNS), level))
        truth = Truth(fish, surroundings=known)
        assert reasons.reasons(made, truth, marks.score_element(made, truth)) == (reason,)
