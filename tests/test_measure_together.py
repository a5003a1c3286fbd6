"""Fish that make one arch: echoes of points along a track, laid out by geometry.

Source of the rule that is checked: two points closer in range than a resolution cell, c / 2B, are not resolved (Urick,
Principles of Underwater Sound, 1983; from memory). So fish of one depth are told apart where their ranges differ by a
few cells in enough pings, which geometry alone says.
"""

import json
from dataclasses import replace

import measure_lab as lab
import numpy as np
import pytest
import synthetic_record
from matplotlib.text import Text
from pingwright.bench import view
from pingwright.echograms.record import FishTruth, Truth
from pingwright.figures.compare import captions
from pingwright.measure import marks
from pingwright.measure.groups import groups
from pingwright.page.build import build
from pingwright.report import figures, summary

BOAT = np.arange(81) * 0.25 - 10.0  # m
DEEP, GROUND = 20.0, 30.0  # m


def seen(*fish, bandwidth):
    """Return sets of one arch among points (x, depth [m], amplitude) under a boat that runs along x, beam 8 deg."""
    x, depth, size = (np.array(values, dtype=float) for values in zip(*fish, strict=True))
    about = lab.info(bandwidth=bandwidth, noise=10.0)
    off = np.degrees(np.arctan2(np.abs(BOAT[:, None] - x), depth))
    # A beam of 8 deg at -3 dB one way, Gaussian: 6 dB less there and back at 4 deg off the axis.
    beam = 10 ** (-6.0 * (off / 4.0) ** 2 / 20)
    points = [(np.hypot(BOAT - x[k], depth[k]), size[k] * beam[:, k]) for k in range(len(x))]
    pressure, ranges = lab.pings(about, np.random.default_rng(4), len(BOAT), 2048, points, start=15.0)
    truth = FishTruth(
        np.arange(len(x)), ("fish",) * len(x), x, 0 * x, depth, np.full(len(x), 0.1), GROUND - depth,
        np.full((1, len(x)), -35.0), np.argmin(np.abs(BOAT[:, None] - x), axis=0)[None, :], depth[None, :],
    )  # fmt: skip
    judged = marks.score_element(lab.element(about, pressure, ranges, GROUND, BOAT), Truth(truth))
    return judged.one_arch, judged.fish.is_detected.tolist()


LOUD = 10 ** ((215.0 - 40 * np.log10(DEEP) - 35.0) / 20)  # uPa: a fish of -35 dB on the axis


@pytest.mark.parametrize(("along", "down", "bandwidth", "together"), [
    (0.3, 0.0, 20e3, True),  # ranges differ by at most 0.3 sin 9.6 deg = 5 cm, of a cell of 3.8 cm
    (3.0, 0.0, 20e3, False),  # by up to 50 cm
    (0.0, 0.01, 20e3, True),  # a quarter of a cell below the other
    (0.0, 0.30, 20e3, False),  # eight cells
    (0.3, 0.05, 10e3, True),  # less than a cell of 7.5 cm apart everywhere
    (0.0, 0.05, 80e3, False),  # five cells of 0.94 cm: two lines, although each is within reach of the other
    (12.0, 0.0, 20e3, False),  # no ping holds both
])  # fmt: skip
def test_two_fish_make_one_arch_where_geometry_leaves_them_within_a_cell(along, down, bandwidth, together):
    found, detected = seen((0.0, DEEP, LOUD), (along, DEEP + down, LOUD), bandwidth=bandwidth)
    assert detected == [True, True]
    assert found == (((0, 1),) if together else ())


def test_a_third_joins_and_one_that_is_not_seen_does_not():
    near = (0.2, DEEP, LOUD)
    found, detected = seen((0.0, DEEP, LOUD), near, (-0.2, DEEP, LOUD), (6.0, DEEP, 1e-3 * LOUD), bandwidth=20e3)
    assert detected == [True, True, True, False]
    assert found == ((0, 1, 2),)


@pytest.fixture(scope="module")
def record():
    return synthetic_record.record(pings=400, step=0.01)


def with_one_arch(record):
    assessment, count = synthetic_record.assessment(record), len(record.truth.fish.id)
    lowest = tuple(int(k) for k in groups(record.truth.fish)[0].fish[:2])
    ten = np.full(count, 10)
    elements = [
        replace(
            judged, reason=("",) * count, mark=("separated",) * count, nearest_mark=("separated",) * count,
            pings_in_beam=ten, pings_detected=ten, pings_separated=ten, arch_length=ten / 2, arch_depth=ten / 10,
            one_arch=() if number else (lowest,),
        )
        for number, judged in enumerate(assessment.elements)
    ]  # fmt: skip
    return replace(assessment, elements=tuple(elements)), lowest


def test_bench_page_summary_and_caption_say_so(record):
    assessment, lowest = with_one_arch(record)
    name, words = assessment.elements[0].name, "share one arch"
    shown = view.shown(record, assessment, "m")
    lines = [[f"{r['fish']}: {r['text']}" for r in element["reasons"]] for element in shown["elements"]]
    assert f"Fish 1 and 2: {words}" in lines[0]
    assert not any(words in line for others in lines[1:] for line in others)
    page = build(record, assessment)
    numbers = " and ".join(str(k + 1) for k in lowest)
    assert page.count(f"<b>Fish {numbers}:</b> {words}") == 1
    assert "One arch: Fish whose echoes lie on each other" in page
    assert "One arch: Fish" not in build(record, synthetic_record.assessment(record))
    assert f"; one arch with fish {lowest[1] + 1}<" in page
    assert f"; one arch with fish {lowest[0] + 1}<" in page
    assert f"Two fish of row A make one arch under {name}." in captions.caption(record, assessment)
    drawn, *_ = figures.FIGURES[figures.COMPARE](record, assessment, figures.Look((figures.COMPARE,)))
    said = [text.get_text() for text in drawn.findobj(Text) if "arch" in text.get_text()]
    assert said == [f"2 of {len(groups(record.truth.fish)[0].fish)} share one arch"]
    assert "one arch with another fish" in summary.as_text(record, assessment, "")
    data = json.loads(json.dumps(summary.as_data(record, assessment, "", {})))
    together = [fish["one_arch_with"] for fish in data["elements"][0]["fish"]]
    ids = record.truth.fish.id
    assert together[lowest[0]] == [int(ids[lowest[1]])]
    assert sum(map(len, together)) == 2
