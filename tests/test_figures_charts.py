"""The other figures: what is drawn equals what was given, captions hold the numbers, text fits every sheet."""

from dataclasses import replace

import numpy as np
import pytest
import synthetic_record
from matplotlib.text import Text
from pingwright import palette, words
from pingwright.acoustics import fish
from pingwright.figures import cutaway, panels
from pingwright.figures.charts import (
    absorption_reach,
    arch,
    ask_chart,
    beams,
    coverage,
    difference,
    duel,
    match_chart,
    overview,
    ping_curve,
    probability,
    pulse,
    reach,
    strength,
)
from pingwright.figures.compare import brackets
from pingwright.figures.style import sheet as style
from pingwright.figures.style.view import View
from pingwright.measure import arch as measured
from pingwright.measure import duel as duels
from pingwright.measure.assess import assess
from pingwright.report import figures
from scipy.signal import windows

FREQUENCY = np.geomspace(20e3, 500e3, 40)
DEPTH = np.linspace(2.0, 80.0, 40)
LENGTH = np.geomspace(0.05, 1.0, 30)
HEIGHT = np.linspace(0.1, 1.5, 20)


@pytest.fixture(scope="module")
def record():
    return synthetic_record.record(pings=24, step=0.05)


@pytest.fixture(scope="module")
def assessment(record):
    return synthetic_record.assessment(record)


def two_widths(record):
    wide = coverage.footprints(record, DEPTH)
    return wide, {name: 0.8 * width for name, width in wide.items()}


def curve(centre):
    value = 1 / (1 + np.exp(-(HEIGHT - centre) / 0.1))
    return probability.Curve(value, np.clip(value - 0.05, 0, 1), np.clip(value + 0.05, 0, 1))


CURVES = {"narrow high": curve(0.3), "low": curve(0.9)}
AXIS = probability.Axis("height above bottom", HEIGHT)
ABSORPTION = {"sea water": 2e-9 * FREQUENCY**1.4, "fresh water": 1e-10 * FREQUENCY**1.5}
MAP = np.exp(-(np.linspace(-2, 2, 30)[None] ** 2 + np.linspace(-2, 2, 20)[:, None] ** 2))


DEEP = (
    reach.Depths("narrow high", (330.0, 270.0, 370.0), (600.0, 530.0, 660.0), (670.0, 590.0, 720.0)),
    reach.Depths("low and old, a long name", (340.0, 240.0, 460.0), (1200.0, 940.0, 1400.0), (1400.0, 1100.0, 1600.0)),
    reach.Depths("without noise", (np.nan,) * 3, (np.nan,) * 3, (np.nan,) * 3),
)


def match_arrays():
    chance = np.random.default_rng(1).uniform(size=(2, 2, 12))
    chance[:, 0, :6] = np.nan
    return np.linspace(0, 60, 13), ["high pencil + low pencil", "low"], ["cod", "mackerel"], chance, 0.5 * chance


def arches(record, found):
    fish = measured.best(found, record.truth.fish.x, (float(record.elements[0].x[0]), float(record.elements[0].x[-1])))
    return arch.Arches(fish, tuple(measured.arch(e, record.truth, fish, found.floor) for e in record.elements))


@pytest.fixture(scope="module")
def drawn_twice(record):
    """What takes long to work out and is the same on every sheet."""
    found = assess(record)
    return found, arches(record, found), duels.of_record(record, "mud", "kirchhoff")[0]


def every(record, assessment, drawn_twice):
    found, one_fish, both = drawn_twice
    depth, candidates, species_list, detected, separated = match_arrays()
    strong = {"200 kHz": np.asarray(fish.strength_love_1971(LENGTH, 200e3))}
    bands = {e.info.name: (e.info.band_low, e.info.band_high) for e in record.elements}
    return {
        "cutaway": lambda **k: cutaway.cutaway(record, **k),
        "ping": lambda **k: ping_curve.ping_curve(record, assessment, **k),
        "beams": lambda **k: beams.beams(record, **k),
        "coverage": lambda **k: coverage.coverage(DEPTH, *two_widths(record), **k),
        "absorption": lambda **k: absorption_reach.absorption_reach(
            FREQUENCY,
            ABSORPTION,
            bands,
            {"narrow high": (240.0, 200.0, 280.0), "wide high": (130.0, 90.0, np.nan), "low": (np.nan,) * 3},
            **k,
        ),
        "pulse": lambda **k: pulse.pulse(pulse.compression(2e-3, 80e3), **k),
        "strength": lambda **k: strength.strength(LENGTH, strong, FREQUENCY, {"40 cm": -30 - 0 * FREQUENCY}, **k),
        "curves": lambda **k: probability.curves(AXIS, CURVES, "Parting", 0.9, 0.02, **k),
        "match": lambda **k: match_chart.match_chart(
            depth, candidates, species_list, detected, separated, "Two lines", **k
        ),
        "difference": lambda **k: difference.difference(record, 0, 2, **k),
        "arch": lambda **k: arch.arch(record, found, one_fish, **k),
        "chirp": lambda **k: duel.duel(both, 0.4, **k),
        "reach": lambda **k: reach.reach(DEEP, "a fish of 40 cm", ("mud", "rock"), 57.0, **k),
    }


NAMES = [
    "cutaway",
    "ping",
    "beams",
    "coverage",
    "absorption",
    "pulse",
    "strength",
    "curves",
    "match",
    "difference",
    "arch",
    "chirp",
    "reach",
]


#: figures of what formulas give: nothing in them is simulated
FORMULAS = {"beams", "coverage", "absorption", "pulse", "strength", "chirp", "reach"}


def test_every_figure_is_tried(record, assessment, drawn_twice):
    assert sorted(every(record, assessment, drawn_twice)) == sorted(NAMES)


@pytest.mark.parametrize("size", style.SIZES)
@pytest.mark.parametrize("name", NAMES)
def test_text_fits_the_sheet_and_the_caution_is_there(record, assessment, drawn_twice, name, size):
    for theme, units in (("light", "m"), ("dark", "ft")):
        drawn = every(record, assessment, drawn_twice)[name](theme=theme, units=units, size=size)
        drawn.set_dpi(90)
        with style.drawing(theme):
            drawn.canvas.draw()
            renderer = drawn.canvas.get_renderer()
            width, height = drawn.get_size_inches() * drawn.dpi
            words = [t for t in drawn.findobj(Text) if t.get_text() and t.get_visible()]
            for text in words:
                box = text.get_window_extent(renderer)
                assert box.x0 >= -2, text.get_text()
                assert box.x1 <= width + 2, text.get_text()
                assert box.y0 >= -2, text.get_text()
                assert box.y1 <= height + 2, text.get_text()
                assert not text.get_parse_math()
        (tag,) = [t.get_text() for t in words if t.get_gid() == "tag"]
        assert tag == ("COMPUTED" if name in FORMULAS else "SIMULATED")
        assert any("not for navigation" in t.get_text() for t in words)


def by_gid(figure, gid):
    return [artist for artist in figure.findobj(lambda a: a.get_gid() == gid)]


def test_beams_in_the_cutaway_are_to_scale(record):
    ping = cutaway.middle_ping(record)
    element = record.elements[0]
    triangle = cutaway.beam_edges(element, ping, "side", 58.0)
    # Half width of a 7 degree cone below the transducer: (58 - 0.6) tan 3.5 deg = 3.511 m, elementary trigonometry.
    assert triangle[2, 0] - element.x[ping] == pytest.approx(3.511, abs=0.001)
    assert triangle[0] == pytest.approx([element.x[ping], 0.6])


def test_roll_pitch_and_tilt_turn_the_beams(record):
    element = record.elements[0]
    middle = np.zeros(element.pings)

    def axis(which, **changes):
        edges = cutaway.beam_edges(replace(element, **changes), 3, which, 50.0)
        return float(edges[1:, 0].mean())

    start = float(element.x[3])
    assert axis("side", pitch=middle + 5) > start + 3  # bow up turns the axis towards +x
    assert axis("ahead", roll=middle + 5) < -3  # starboard down turns it towards port
    tilted = replace(element.info, extra={"tilt_across": 10.0})
    assert axis("ahead", info=tilted) > 6


def test_cutaway_is_drawn_to_one_scale(record):
    drawn = cutaway.cutaway(record)
    assert all(ax.get_aspect() == 1 for ax in drawn.axes[:2])
    assert "ore barge" in cutaway.caption(record)
    assert len(by_gid(drawn, "structure")) == 2


def test_pattern_curves_are_the_stored_patterns(record):
    drawn = beams.beams(record)
    element = record.elements[1]
    line = by_gid(drawn.axes[2], "pattern 1")[0]
    centre = (element.info.band_low + element.info.band_high) / 2
    expected = beams.at_frequency(element.beam, element.beam.along, centre)
    assert np.allclose(np.maximum(expected, -60), line.get_ydata())
    # The synthetic pattern is -3 dB at half its width by construction.
    assert np.interp(element.info.beamwidth_along / 2, element.beam.angle, expected) == pytest.approx(-3, abs=0.1)


def test_footprints_follow_from_the_beam_width(record):
    # 2 x 50 tan 3.5 deg = 6.116 m, elementary trigonometry
    assert coverage.footprints(record, np.array([50.0]))["narrow high"] == pytest.approx(6.116, abs=0.001)
    assert "6.1 m" in coverage.caption(DEPTH, *two_widths(record), at=50.0)


def test_the_limit_by_geometry_is_drawn(record):
    drawn = coverage.coverage(DEPTH, *two_widths(record), height=0.3)
    (line,) = by_gid(drawn, "limit")
    assert np.allclose(line.get_xdata(), 2 * np.sqrt(2 * DEPTH * 0.3 - 0.09))


def test_reach_bars_stand_at_the_given_depths():
    drawn = absorption_reach.absorption_reach(
        FREQUENCY, ABSORPTION, {"a": (4e4, 6e4)}, {"a": (120.0, 90.0, 150.0), "b": (np.nan,) * 3}
    )
    heights = [bar.get_height() for bar in drawn.axes[1].patches]
    assert [list(band.get_ydata()) for band in by_gid(drawn, "noise band")] == [[90.0, 150.0]]
    assert heights == [120.0, 0.0]
    assert any(t.get_text() == "unknown" for t in drawn.findobj(Text))
    assert "120 m (90 to 150 m)" in absorption_reach.caption(FREQUENCY, ABSORPTION, {"a": (120.0, 90.0, 150.0)})


def test_compression_has_the_width_and_gain_of_the_handbook():
    what = pulse.compression(2e-3, 80e3, "hann")
    # Hann weighting on the spectrum alone: 1.4405 / B at -3.01 dB (Harris 1978). The chirp's ramps, half of its length,
    # shape the spectrum too, twice (sent and received): the windows of scipy; finite B T changes it a little.
    window = windows.hann(1001) * windows.tukey(1001, 0.5) ** 2
    gain = np.abs(np.fft.rfft(window, 2**18)) / window.sum()
    width = 2 * np.argmax(gain < np.sqrt(0.5)) / 2**18 * 1000
    assert what.resolution == pytest.approx(width * 1500 / (2 * 80e3), rel=0.02)
    assert width == pytest.approx(1.59, abs=0.01)
    assert what.gain == pytest.approx(10 * np.log10(160), abs=0.01)  # 10 log BT, Cook & Bernfeld 1967
    peaks = [
        i
        for i in range(1, len(what.range) - 1)
        if what.compressed[i] > 0.5 and what.compressed[i - 1] < what.compressed[i] >= what.compressed[i + 1]
    ]
    places = what.range[peaks]
    assert len(peaks) == 2
    step = what.range[1] - what.range[0]
    assert np.allclose(places, [-what.spacing / 2, what.spacing / 2], atol=step)
    assert np.allclose(what.compressed[peaks], 1, atol=0.03)
    assert "1.5 m long" in pulse.caption(what)


def test_strength_curves_are_what_was_given():
    values = np.asarray(fish.strength_love_1971(LENGTH, 200e3))
    drawn = strength.strength(LENGTH, {"200 kHz": values}, FREQUENCY, {})
    assert np.array_equal(drawn.axes[0].lines[0].get_ydata(), values)
    assert np.allclose(drawn.axes[0].lines[0].get_xdata(), LENGTH * 100)
    drawn = strength.strength(LENGTH, {"200 kHz": values}, FREQUENCY, {}, units="ft")
    assert np.allclose(drawn.axes[0].lines[0].get_xdata(), LENGTH / 0.0254)


def test_probability_curves_and_what_is_asked_for():
    drawn = probability.curves(AXIS, CURVES, "Parting", wanted=0.9, chance=0.02)
    assert np.array_equal(by_gid(drawn, "curve 1")[0].get_ydata(), CURVES["low"].value)
    assert set(by_gid(drawn, "asked for")[0].get_ydata()) == {0.9}
    said = probability.caption(AXIS, CURVES, "Parting")
    assert "narrow high: 0.12 at 10 cm, 1.0 at 1.5 m" in said


def test_match_chart_shades_are_the_probabilities():
    depth, candidates, species_list, detected, separated = match_arrays()
    drawn = match_chart.match_chart(depth, candidates, species_list, detected, separated, "Two lines")
    for which, values in (("detected", detected), ("separated", separated)):
        meshes = by_gid(drawn, f"{which} 1")
        assert len(meshes) == 2
        for candidate, mesh in enumerate(meshes):
            assert np.allclose(np.ma.asarray(mesh.get_array()).ravel(), values[candidate, 1])
    assert drawn.axes[0].get_ylim() == pytest.approx((62.4, 0))
    with pytest.raises(ValueError, match="candidate, species, depth"):
        match_chart.match_chart(depth, candidates, species_list, detected[:1], separated, "x")
    said = match_chart.caption(depth, candidates, species_list, detected, separated, "Two lines")
    assert f"mackerel detected {np.mean(detected[1, 1]):.2f}" in said


def test_water_above_all_fish_is_left_out_and_cells_of_few_fish_are_pale():
    depth, candidates, species_list, detected, separated = match_arrays()
    low = detected.copy()
    low[:, :, :9] = np.nan
    stood = np.full(low.shape[1:], 20.0)
    stood[0, 10] = match_chart.FEW - 1
    scores = ["score 0.70 (0.60 to 0.80)", "score 0.40 (0.30 to 0.50)"]
    drawn = match_chart.match_chart(depth, candidates, species_list, low, low, "x", stood=stood, scores=scores)
    foot, top = drawn.axes[0].get_ylim()
    assert 0.8 * depth[9] < top < depth[9]
    assert foot > depth[-1]
    alpha = by_gid(drawn.axes[0], "detected 0")[0].get_alpha()
    assert list(np.flatnonzero(np.asarray(alpha).ravel() < 1)) == [10]
    assert [t.get_text() for t in drawn.findobj(Text) if t.get_gid() == "score"] == scores
    assert "score 0.70" in match_chart.caption(depth, candidates, species_list, low, low, "x", "ft", scores)


def test_a_claims_curve_marks_what_is_asked_and_names_what_is_simulated():
    theory = {"low": CURVES["low"].value}
    saying = "It separates a fish of forty centimetres a foot off the bottom wherever in the beam it may be, always"
    drawn = probability.curves(AXIS, CURVES, saying, 0.9, theory=theory, at=0.3048, units="ft", size="one-column")
    labels = [text.get_text() for text in drawn.legends[0].get_texts()]
    assert labels == ["narrow high, simulated", "low, simulated", "closed form", "asked for", "asked about: 1 ft"]
    (mark,) = by_gid(drawn.axes[0], "asked about")
    assert list(mark.get_xdata()) == [0.3048, 0.3048]
    assert by_gid(drawn.axes[0], "closed form 0")[0].get_linewidth() == 0
    told = next(t.get_text() for t in drawn.texts if t.get_gid() == "headline")
    assert " ".join(told.split()) == saying


def test_a_species_that_lives_nowhere_leaves_its_bars_out():
    depth, candidates, species_list, detected, separated = match_arrays()
    none = np.full_like(detected, np.nan)
    drawn = match_chart.match_chart(depth, candidates, species_list, none, none, "Two lines")
    assert not by_gid(drawn, "detected 0")
    assert "unknown" in match_chart.caption(depth, candidates, species_list, none, none, "x")


def test_difference_is_a_minus_b_and_blank_where_both_show_nothing(record):
    shown = difference.cells_of(record, 0, 2, 200, 24).level
    again = difference.cells_of(record, 2, 0, 200, 24).level
    assert np.allclose(shown, -again, equal_nan=True)
    same = difference.cells_of(record, 1, 1, 200, 24).level
    assert (same[np.isfinite(same)] == 0).all()
    drawn = difference.difference(record, 0, 2)
    picture = drawn.axes[0].images[0]
    assert picture.get_clim() == difference.LIMITS
    assert np.allclose(picture.cmap(np.arange(256))[:, :3], palette.difference_table())
    # Water between blind range and scattering layer holds noise below the floor: no difference is shown.
    rows = np.linspace(*picture.get_extent()[:1:-1], picture.get_array().shape[0])
    clear = (rows > 5) & (rows < 20)
    assert np.ma.getmaskarray(picture.get_array())[clear].mean() > 0.9


ROWS = [
    overview.Row("Straight below, the narrow beam separates a fish", "holds", 0.92, 0.85, 0.96, 0.75, True),
    overview.Row("A wide cone shows nothing a foot up", "undecided", 0.1, 0.08, 0.12, 0.1, False),
    overview.Row("It reaches 200 m", "does not hold", 150.0, 140.0, 160.0, 200.0, True, "m"),
    overview.Row("The narrow one is far better", "holds", 0.4, 0.3, 0.5, 0.2, True, difference=True),
    overview.Row("How deep is it held?", "", float("nan"), float("nan"), float("nan"), float("nan"), True, "m"),
]


def test_the_overview_puts_every_claim_on_its_axis_beside_what_it_asks():
    drawn = overview.overview(ROWS, "Claims about beams")
    said = " ".join(t.get_text() for t in drawn.findobj(Text))
    assert "2 hold, 1 does not, 1 stays open" in " ".join(said.split())
    panels_ = [a for a in drawn.axes if a.get_label() == "claim"]
    assert len(panels_) == len(ROWS)
    for ax, row in zip(panels_, ROWS, strict=True):
        dots = by_gid(ax, "found")
        assert len(dots) == int(np.isfinite(row.value))
        if dots:
            (mark,) = by_gid(ax, "asked for")
            left, right = float(dots[0].get_xdata()[0]), float(mark.get_xdata()[0])
            assert np.sign(left - right) == np.sign(row.value - row.bound)
    (tag,) = by_gid(drawn, "tag")
    quick = overview.overview(ROWS, "Claims about beams", simulated=False)
    assert (tag.get_text(), by_gid(quick, "tag")[0].get_text()) == ("SIMULATED", "COMPUTED")
    assert "imulated" not in " ".join(t.get_text() for t in quick.findobj(Text))
    assert "imulated" not in overview.caption(ROWS, "Claims about beams", simulated=False)
    assert ROWS[3].place(0.0) == 0.5  # a difference runs from -1 to 1
    for row in ROWS:
        assert row.says in overview.caption(ROWS, "Claims about beams")


def test_difference_of_unlike_runs_is_refused(record):
    short = replace(record.elements[1], ping_time=record.elements[1].ping_time[:5])
    with pytest.raises(ValueError, match="same pings"):
        difference.cells_of(replace(record, elements=(record.elements[0], short)), 0, 1, 10, 10)


def test_the_ping_drawn_is_where_the_elements_differ_most(record, assessment):
    chosen = panels.best_fish(record, assessment.elements)
    marks = [judged.mark[chosen] for judged in assessment.elements]
    assert {"separated", "not_shown"} <= set(marks)
    drawn = ping_curve.ping_curve(record, assessment)
    line = drawn.axes[0].lines[0]
    ping = assessment.elements[0].fish_ping[chosen]
    element = record.elements[0]
    level, depth = element.echo_strength(ping), element.range + element.info.transducer_depth
    shown, at = np.asarray(line.get_xdata()), np.asarray(line.get_ydata())
    # By maximum in rows: no row is above what is stored in it, and the strongest echo of the ping is there.
    assert shown.max() == pytest.approx(level.max(), abs=1e-4)
    assert abs(at[np.argmax(shown)] - depth[np.argmax(level)]) < np.abs(np.diff(at)).max()
    edges = np.concatenate([[-np.inf], (at[1:] + at[:-1]) / 2, [np.inf]])
    rows = [level[(depth >= low - 0.05) & (depth <= high + 0.05)] for low, high in zip(edges, edges[1:], strict=False)]
    assert all(np.isclose(row, value, atol=1e-4).any() for row, value in zip(rows, shown, strict=True) if value > -95)
    assert "ping" in ping_curve.alt(record, assessment)


def test_the_fish_of_a_ping_is_marked_on_its_curve(record, assessment):
    chosen = panels.best_fish(record, assessment.elements)
    drawn = ping_curve.ping_curve(record, assessment)
    for index, judged in enumerate(assessment.elements):
        if judged.fish_ping[chosen] != assessment.elements[0].fish_ping[chosen]:
            continue
        ax = drawn.axes[len(record.elements) + index]
        marks = [line for line in ax.lines if line.get_gid() == f"mark-{judged.mark[chosen]}"]
        height = panels.fish_places(record.elements[index], judged)[2][chosen]
        assert any(np.isclose(mark.get_ydata(), height).any() for mark in marks)


@pytest.mark.parametrize("units", style.UNITS)
def test_every_caption_can_be_pasted(record, assessment, units):
    what = pulse.compression(2e-3, 80e3)
    said = [
        cutaway.alt(record, units),
        ping_curve.alt(record, assessment, None, units),
        beams.alt(record),
        coverage.alt(DEPTH, *two_widths(record), 0.3, units),
        absorption_reach.alt(FREQUENCY, ABSORPTION, {"a": (100.0, 80.0, 120.0)}, units),
        pulse.alt(what, units),
        strength.alt(LENGTH, {"a": LENGTH * -30}, units),
        probability.alt(AXIS, CURVES, "Parting", units),
        match_chart.alt(*match_arrays(), "Two lines", units),
        difference.alt(record, 0, 1),
    ]
    for text in said:
        assert 40 < len(text) < 1000
        assert text.endswith(".")
        assert "nan" not in text
        assert "  " not in text


def test_a_name_that_begins_with_an_underscore_keeps_its_place_in_the_legend():
    drawn = strength.strength(LENGTH, {"_hidden": LENGTH, "$x$": LENGTH}, FREQUENCY, {})
    said = [t.get_text().strip() for t in drawn.axes[0].get_legend().get_texts()]
    assert said == ["_hidden", "$x$"]


def test_bars_of_reach_are_the_depths_given_and_its_headline_claims_no_more():
    drawn = reach.reach(DEEP, "a fish of 40 cm", ("mud", "rock"), 57.0)
    bars = {bar.get_gid(): bar for bar in drawn.axes[0].patches if bar.get_gid()}
    for index, one in enumerate(DEEP[:2]):
        assert bars[f"fish {index}"].get_height() == one.fish[0]
        assert bars[f"mud {index}"].get_height() == one.soft[0]
        assert bars[f"rock {index}"].get_y() + bars[f"rock {index}"].get_height() == one.hard[0]
    # With noise 10 dB louder the other element is first: no winner.
    assert "own noise" in drawn.texts[0].get_text()
    clear = (DEEP[0], replace(DEEP[1], fish=(390.0, 280.0, 460.0)))
    drawn = reach.reach(clear, "a fish of 40 cm", ("mud", "rock"), 57.0, units="ft")
    assert drawn.texts[0].get_text() == "low and old, a long name shows a fish of 40 cm deepest: to 1300 ft"
    assert not [ax for ax in drawn.axes if ax.get_ylabel().endswith("(m)")]


def test_the_arch_is_that_of_the_assessment_and_its_brackets_say_so():
    record = synthetic_record.record(pings=90, step=0.02)
    found = assess(record)
    what = arches(record, found)
    fish = what.fish
    drawn = arch.arch(record, found, what)
    brackets = [line for ax in drawn.axes for line in ax.lines if line.get_gid() == "bracket"]
    assert len(brackets) == 2 * sum(len(one.ping) > 1 for one in what.arches) > 0
    for element, one, judged in zip(record.elements, what.arches, found.elements, strict=True):
        assert len(one.ping) == judged.pings_detected[fish]
        assert np.ptp(element.x[one.ping]) == pytest.approx(judged.arch_length[fish])
        assert np.ptp(one.peak) == pytest.approx(judged.arch_depth[fish])
    lengths = [np.ptp(line.get_xdata()) for line in brackets[::2]]
    shown = [judged for judged in found.elements if judged.pings_detected[fish] > 1]
    assert lengths == pytest.approx([judged.arch_length[fish] for judged in shown])
    told = arch.caption(record, found, what, "ft")
    assert " ft" in told
    assert " m " not in told


def test_a_scene_without_fish_says_what_the_water_holds_and_claims_no_echo_of_it(record, assessment):
    none = np.zeros(0)
    fish = replace(record.truth.fish, id=np.zeros(0, dtype=np.int64), name=(), x=none, height=none, length=none)
    empty = replace(record, truth=replace(record.truth, fish=fish))
    told = words.answer(assessment, empty)
    assert told.startswith("No single fish in this water, but ")
    assert "show" not in told.split(";")[0]
    assert told.endswith("; every element shows the seabed.")
    heard, *others = assessment.elements
    deaf = [replace(one, bottom_range=np.full_like(one.bottom_range, np.nan)) for one in others]
    told = words.answer(replace(assessment, elements=(heard, *deaf)), empty)
    assert f"; {heard.name} shows the seabed, " in told
    assert told.endswith(f"{deaf[-1].name} do{'es' * (len(deaf) == 1)} not show the seabed.")


@pytest.mark.parametrize(("simulated", "word"), [(True, "SIMULATED"), (False, "COMPUTED")])
def test_match_and_ask_say_at_the_top_how_their_numbers_were_made(simulated, word):
    panel = ask_chart.Panel("swath", ("a", "b"), (3.0, 9.0), (2.0, 8.0), (4.0, 9.5))
    drawn = [
        match_chart.match_chart(*match_arrays(), "Two lines", simulated=simulated),
        ask_chart.ask_chart([panel], "A question", simulated=simulated),
    ]
    for figure in drawn:
        (tag,) = [t for t in figure.texts if t.get_gid() == "tag"]
        (title,) = [t for t in figure.texts if t.get_gid() == "headline"]
        assert tag.get_text() == word
        assert max(ax.get_position().y1 for ax in figure.axes) < tag.get_position()[1] < title.get_position()[1]
    assert ("Simulated" in match_chart.caption(*match_arrays(), "Two lines", simulated=simulated)) == simulated
    assert ("Simulated" in ask_chart.caption([panel], "A question", "m", simulated)) == simulated


VIEW = View(depth=(50.0, 59.0), along=(-12.0, 8.0))


def test_every_figure_obeys_the_window(record):
    """Each axis of depth or of the track lies inside the window, to a ping; figures without such axes do not change."""
    found, look = assess(record), figures.Look((), view=VIEW)
    ping = float(record.elements[0].x[1] - record.elements[0].x[0])
    for name in ("compare", "echogram", "cutaway", "ping", "beams", "coverage", "arch", "difference", "still"):
        drawn, _, _ = figures.FIGURES[name](record, found, look)
        judged = 0
        for ax in drawn.axes:
            label, low, high = ax.get_xlabel(), *sorted(ax.get_xlim())
            if "along the track" in label or label.startswith("along track (m") or ax.get_label().startswith("water"):
                assert -12.0 - ping <= low < high <= 8.0 + ping or name == "beams", (name, label, low, high)
            if ax.get_ylabel().startswith("depth"):
                top, foot = sorted(ax.get_ylim())
                tall = ax.get_position().height * drawn.get_size_inches()[1] * 25.4
                # Below the whole water of a comparison is room for its brackets.
                spare = brackets.FOOT / (tall - brackets.FOOT) if name == "compare" else 0.15
                assert 49.3 <= top < foot <= 59.0 + 9.0 * (spare + 0.005), (name, top, foot)
                judged += 1
        assert judged, name


def test_a_still_of_the_moving_picture_is_4_to_5_or_16_to_9(record, assessment):
    for size, ratio in (("one-column", 4 / 5), ("two-column", 16 / 9), ("slide", 16 / 9)):
        drawn, _, _ = figures.FIGURES["still"](record, assessment, figures.Look((), size=size))
        width, height = drawn.get_size_inches() * drawn.dpi
        assert round(width) / round(height) == pytest.approx(ratio, rel=0.01), size


@pytest.mark.parametrize("size", style.SIZES)
def test_a_long_headline_goes_on_more_lines_and_lies_on_nothing(record, size):
    """A text of three lines at the smallest size is whole, and stands above all axes."""
    named = (replace(e.info, name=f"an element with a long name {i}") for i, e in enumerate(record.elements))
    long = replace(
        record, elements=tuple(replace(e, info=info) for e, info in zip(record.elements, named, strict=True))
    )
    drawn = beams.beams(long, size=size)
    (title,) = [t for t in drawn.texts if t.get_gid() == "headline"]
    drawn.draw_without_rendering()
    assert "\u2026" not in title.get_text()
    assert " ".join(title.get_text().split()) == beams._headline(long, "m")
    foot = title.get_window_extent().y0
    assert all(ax.get_window_extent().y1 < foot for ax in drawn.axes)
    assert all(legend.get_window_extent().y1 <= foot + 1 for legend in drawn.legends)


def test_elements_that_show_a_fish_equally_deep_share_the_headline():
    one, other = replace(DEEP[0], name="one"), replace(DEEP[0], name="other")
    assert reach._headline((one, other), "a fish", "m").startswith("one and other show a fish deepest: to 330 m")
