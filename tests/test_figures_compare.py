"""The main picture: what its artists hold, that its pixels tell the truth, that its axes measure."""

import io
import re
from dataclasses import replace

import numpy as np
import pytest
import synthetic_record
from matplotlib.image import AxesImage
from matplotlib.text import Text
from PIL import Image
from pingwright import palette, words
from pingwright.echograms.record import FishTruth
from pingwright.figures import cells, compare, embed, panels, save
from pingwright.figures.style import sheet as style


@pytest.fixture(scope="module")
def record():
    return synthetic_record.record(pings=40, step=0.05)


@pytest.fixture(scope="module")
def assessment(record):
    return synthetic_record.assessment(record)


@pytest.fixture(scope="module")
def figure(record, assessment):
    return compare.comparison(record, assessment)


def axes(figure, label):
    (found,) = [ax for ax in figure.axes if ax.get_label() == label]
    return found


def texts(figure):
    return [t.get_text() for t in figure.findobj(Text) if t.get_text()]


def image(ax):
    (found,) = [child for child in ax.get_children() if isinstance(child, AxesImage)]
    return found


def test_all_echograms_share_depth_scale_level_scale_and_colours(figure):
    panels_ = [ax for ax in figure.axes if ax.get_label().startswith("echogram")]
    assert len(panels_) == 3
    assert len({ax.get_ylim() for ax in panels_}) == 1
    assert panels_[0].get_ylim()[0] > panels_[0].get_ylim()[1] == 0
    for ax in panels_:
        assert image(ax).get_clim() == (-65, -5)
        assert np.allclose(image(ax).cmap(np.arange(256))[:, :3], palette.level_table("light"))
        assert image(ax).get_interpolation() == "nearest"


def test_each_cell_is_the_maximum_of_its_samples(record, figure):
    element = record.elements[0]
    ax = axes(figure, "echogram 0")
    shown = image(ax).get_array()
    rows, columns = shown.shape
    assert columns == element.pings
    strength = element.echo_strength()
    left, right, foot, top = image(ax).get_extent()
    edges = np.linspace(top, foot, rows + 1) - element.info.transducer_depth
    random = np.random.default_rng(3)
    for row, column in zip(random.integers(0, rows, 200), random.integers(0, columns, 200), strict=True):
        inside = (element.range >= edges[row]) & (element.range < edges[row + 1])
        expected = strength[column][inside].max() if inside.any() else None
        if expected is not None:
            assert shown[row, column] == pytest.approx(expected, abs=1e-4)


def test_the_reduction_is_said(record, assessment):
    drawn = compare.comparison(record, assessment, size="one-column")
    assert any("maximum of up to" in t for t in texts(drawn))


def test_pixels_are_the_stored_level_through_the_palette(record, figure):
    """Render, take pixels from the middle of cells, and look their level up in the recording itself."""
    element = record.elements[2]
    ax = axes(figure, "echogram 2")
    picture = np.asarray(Image.open(io.BytesIO(save.png(figure, embed.carried(record), ""))))
    height = picture.shape[0]
    table = np.rint(palette.level_table("light") * 255).astype(int)
    drawn = image(ax)
    rows, columns = drawn.get_array().shape
    left, right, foot, top = drawn.get_extent()
    strength = element.echo_strength()
    edges = np.linspace(top, foot, rows + 1) - element.info.transducer_depth
    random = np.random.default_rng(4)
    checked = 0
    for _ in range(600):
        # stay away from the marks and lines drawn over the last metres
        row, column = int(random.integers(0, rows * 48 // 70)), int(random.integers(0, columns))
        inside = (element.range >= edges[row]) & (element.range < edges[row + 1])
        if not inside.any():
            continue
        x = left + (column + 0.5) * (right - left) / columns
        y = (edges[row] + edges[row + 1]) / 2 + element.info.transducer_depth
        px, py = ax.transData.transform((x, y))
        if abs((height - py) % 1 - 0.5) > 0.25:
            continue  # cells are about a pixel high: versions of matplotlib differ over a pixel on the edge of two
        colour = picture[int(height - py), int(px)].astype(int)
        wanted = table[palette.entry(np.array([strength[column][inside].max()]), -65, -5)[0]]
        assert np.abs(colour - wanted).max() <= 2  # 8-bit rounding, and levels stored in single precision
        checked += 1
    assert checked > 150


def tick_depths(ax):
    return [(float(place), text.get_text()) for place, text in zip(ax.get_yticks(), ax.get_yticklabels(), strict=True)]


def right_axis(figure, ax):
    (child,) = ax.child_axes
    return child


def test_feet_on_the_right_are_right_to_a_foot(figure):
    last = axes(figure, "echogram 2")
    ticks = tick_depths(right_axis(figure, last))
    assert [t for _, t in ticks][:3] == ["0", "50", "100"]
    for place, text in ticks:
        assert place / 0.3048 == pytest.approx(float(text), abs=0.01)  # the international foot, exact since 1959
    renderer_figure = last.figure
    renderer_figure.canvas.draw()
    low, high = right_axis(figure, last).get_ylim()
    assert (low, high) == pytest.approx(last.get_ylim())


@pytest.mark.parametrize(
    ("units", "left", "per", "right"), [("ft", "ft", 0.3048, "m"), ("fathoms", "fathoms", 1.8288, "m")]
)
def test_left_scale_is_in_the_readers_units(record, assessment, units, left, per, right):
    drawn = compare.comparison(record, assessment, units=units)
    first, last = axes(drawn, "echogram 0"), axes(drawn, "echogram 2")
    assert first.get_ylabel() == f"depth ({left})"
    assert right_axis(drawn, last).get_ylabel() == f"depth ({right})"
    for place, text in tick_depths(first):
        assert place / per == pytest.approx(float(text))


def test_marks_stand_at_the_apparent_depth_of_each_fish(record, assessment, figure):
    judged, element = assessment.elements[1], record.elements[1]
    for kind in ("separated", "merged", "not_shown"):
        chosen = [i for i, m in enumerate(judged.mark) if m == kind]
        drawn = [line for line in axes(figure, "echogram 1").lines if line.get_gid() == f"mark-{kind}"]
        assert len(drawn) == 2  # halo and mark
        for line in drawn:
            assert np.allclose(line.get_ydata(), record.truth.fish.apparent_depth[1][chosen])
            assert np.allclose(line.get_xdata(), element.x[judged.fish_ping[chosen]])


def test_marks_are_open_circle_half_circle_and_cross():
    sheet = style.Sheet()
    looks = {kind: panels.mark_style(kind, sheet)[1] for kind in ("separated", "merged", "not_shown")}
    assert (looks["separated"]["marker"], looks["separated"]["fillstyle"]) == ("o", "none")
    assert (looks["merged"]["marker"], looks["merged"]["fillstyle"]) == ("o", "left")
    assert looks["not_shown"]["marker"] == "x"


def test_strip_marks_stand_at_the_height_above_the_picked_bottom(record, assessment, figure):
    judged = assessment.elements[0]
    chosen = [i for i, m in enumerate(judged.mark) if m == "separated"]
    (_, line) = [line for line in axes(figure, "strip 0").lines if line.get_gid() == "mark-separated"]
    expected = judged.bottom_range[judged.fish_ping[chosen]] - judged.fish_range[chosen]
    assert np.allclose(line.get_ydata(), expected)


def test_the_strip_is_flattened_to_the_pick(record, assessment):
    element, judged = record.elements[0], assessment.elements[0]
    shown = cells.strip(element, judged.bottom_range, 2.0, 0.5, 50, element.pings)
    assert shown.level.shape == (50, element.pings)
    # The deck echo of the barge hides nothing here: outside it the bottom's rise stands at height 0 in every ping.
    strength = element.echo_strength()
    step = element.range[1] - element.range[0]
    for ping in (0, 3, element.pings - 1):
        at = round((judged.bottom_range[ping] - 1.0) / step)
        height = judged.bottom_range[ping] - element.range[at]
        row = int((2.0 - height) / 0.05 + 1e-9)
        near = shown.level[max(row - 1, 0) : row + 2, ping]
        assert np.min(np.abs(near - strength[ping, at])) < 1e-4


def test_verdicts_counts_and_legend_say_the_same(assessment, figure):
    said = texts(figure)
    for judged in assessment.elements:
        assert f"{judged.counts['separated']} of {len(judged.mark)} fish separated" in said
    assert "separated from the bottom: 8 / 2 / 1" in said
    assert "shown, but merged with it: 1 / 6 / 6" in said
    assert "not shown: 1 / 2 / 3" in said


def test_the_answer_names_the_element_that_parts_most(assessment, figure):
    assert words.answer(assessment) == "narrow high parts 8 of 10 fish from the bottom; wide high 2, low 1."
    assert words.answer(assessment) in texts(figure)


def test_caution_stands_on_the_face(figure):
    assert any(
        t.startswith("Simulated \u2013 not for navigation, diving or proof of a product's performance")
        for t in texts(figure)
    )


@pytest.mark.parametrize("size", style.SIZES)
@pytest.mark.parametrize("theme", palette.INKS)
def test_no_text_is_too_small_or_runs_off_the_sheet(record, assessment, size, theme):
    drawn = compare.comparison(record, assessment, theme=theme, size=size)
    drawn.set_dpi(90)
    with style.drawing(theme):
        drawn.canvas.draw()
        renderer = drawn.canvas.get_renderer()
        width, height = drawn.get_size_inches() * drawn.dpi
        for text in drawn.findobj(Text):
            if not text.get_text() or not text.get_visible():
                continue
            assert text.get_fontsize() >= 5.4, text.get_text()
            box = text.get_window_extent(renderer)
            assert box.x0 >= -1, text.get_text()
            assert box.x1 <= width + 1, text.get_text()
            assert box.y0 >= -1, text.get_text()
            assert box.y1 <= height + 1, text.get_text()


def test_width_is_that_of_the_column(record, assessment):
    for size, millimetres in (("two-column", 180), ("one-column", 88)):
        width, _ = compare.comparison(record, assessment, size=size).get_size_inches()
        assert width * 25.4 == pytest.approx(millimetres, abs=0.3)  # common practice, no source


@pytest.mark.parametrize("count", [1, 2, 4, 5, 6])
def test_any_number_of_elements_finds_room(count):
    kinds = tuple(replace(synthetic_record.KINDS[i % 3], name=f"element {i}") for i in range(count))
    rec = synthetic_record.record(pings=8, step=0.2, kinds=kinds)
    for size in style.SIZES:
        drawn = compare.comparison(rec, synthetic_record.assessment(rec, kinds), size=size)
        drawn.set_dpi(60)
        assert len([ax for ax in drawn.axes if ax.get_label().startswith("echogram")]) == count
        drawn.canvas.draw()


def without_fish(rec):
    empty = np.zeros(0)
    none = np.zeros((len(rec.elements), 0))
    fish = FishTruth(
        np.zeros(0, int), (), empty, empty, empty, empty, empty, none, np.zeros((len(rec.elements), 0), int), none
    )
    return replace(rec, truth=replace(rec.truth, fish=fish))


def test_water_without_fish_is_drawn_and_said(record):
    kinds = tuple(replace(k, marks="") for k in synthetic_record.KINDS)
    rec = without_fish(record)
    judged = synthetic_record.assessment(rec, kinds)
    drawn = compare.comparison(rec, judged)
    drawn.canvas.draw()
    assert any("No single fish in this water" in t for t in texts(drawn))
    said = compare.caption(rec, judged)
    assert (
        "No single fish in this water: the echograms show 1 structure, 1 school, 1 scattering layer and the seabed."
        in said
    )
    assert compare.QUESTION not in said
    assert not any("of 0 fish" in t or "unknown" in t for t in texts(drawn))


def test_an_anchored_boat_is_drawn_over_time(record, assessment):
    elements = tuple(replace(e, x=np.zeros(e.pings)) for e in record.elements)
    rec = replace(record, elements=elements)
    drawn = compare.comparison(rec, assessment)
    assert axes(drawn, "strip 0").get_xlabel() == "time (s)"


def test_a_missing_bottom_pick_is_bridged_and_none_at_all_is_borne(record, assessment):
    first = assessment.elements[0]
    holes = first.bottom_range.copy()
    holes[5:9] = np.nan
    some = replace(assessment, elements=(replace(first, bottom_range=holes), *assessment.elements[1:]))
    compare.comparison(record, some).canvas.draw()
    none = replace(first, bottom_range=np.full_like(holes, np.nan))
    compare.comparison(record, replace(assessment, elements=(none, *assessment.elements[1:]))).canvas.draw()


@pytest.mark.parametrize("title", ["$\\frac{", "$x$ & <b>", "\u6f01\u8239 \U0001f41f", "w" * 400, "a_b^c \\alpha"])
def test_a_title_is_shown_as_it_stands(record, assessment, title):
    rec = replace(record, title=title)
    drawn = compare.comparison(rec, assessment)
    with style.drawing():
        drawn.canvas.draw()
    (head,) = [t for t in drawn.texts if t.get_gid() == "title"]
    shown = head.get_text().rstrip("\u2026")
    assert title.startswith(shown)
    assert not any(t.get_parse_math() for t in drawn.findobj(Text))


def test_unknown_themes_units_and_sizes_are_refused(record, assessment):
    for wrong in ({"theme": "sepia"}, {"units": "cubits"}, {"size": "poster"}):
        with pytest.raises(ValueError, match="is none of"):
            compare.comparison(record, assessment, **wrong)


def test_caption_and_alternative_text_hold_the_numbers(record, assessment):
    said = compare.caption(record, assessment)
    assert "8 of 10 fish" in said
    assert "130\u2013210 kHz" in said
    assert "not for navigation" in said
    assert "without fish: 0 %" in said
    alt = compare.alt(record, assessment)
    assert re.search(r"low .*1 of 10 fish separated", alt)
    assert len(alt) < 1500


def test_feet_are_said_in_captions_too(record, assessment):
    assert re.search(r"\d in\b|\d ft\b", compare.caption(record, assessment, "ft"))


def test_the_users_own_settings_change_nothing(record, assessment):
    import matplotlib as mpl

    before = save.png(compare.comparison(record, assessment), record, "", 50)
    with mpl.rc_context({"text.usetex": True, "font.size": 40, "axes.facecolor": "red", "image.origin": "lower"}):
        assert save.png(compare.comparison(record, assessment), record, "", 50) == before


def test_strips_look_at_the_stretch_with_the_fish(record, assessment, figure):
    low, high = axes(figure, "strip 0").get_xlim()
    fish = record.truth.fish.x
    assert low < fish.min()
    assert fish.max() < high
    assert len({axes(figure, f"strip {i}").get_xlim() for i in range(3)}) == 1
    narrow = replace(record.truth.fish, x=fish, height=np.where(fish < 0, record.truth.fish.height, 9.0))
    rec = replace(record, truth=replace(record.truth, fish=narrow))
    drawn = compare.comparison(rec, assessment)
    assert axes(drawn, "strip 0").get_xlim()[1] < 10
    inside = image(axes(drawn, "strip 0")).get_extent()
    assert inside[0] == pytest.approx(axes(drawn, "strip 0").get_xlim()[0], abs=2.5)


def test_a_long_answer_is_wrapped_not_cut(record, assessment):
    drawn = compare.comparison(record, assessment, size="one-column")
    said = [t.get_text() for t in drawn.texts if t.get_gid() == "answer"]
    assert " ".join(said) == words.answer(assessment)


@pytest.mark.parametrize(
    ("low", "high", "most", "expected"),
    [
        (0, 70, 7, [0, 10, 20, 30, 40, 50, 60, 70][::2]),
        (0, 229.66, 6, [0, 50, 100, 150, 200]),
        (-43, 43, 4, [-40, -20, 0, 20, 40]),
        (-0.3, 1.5, 6, [0, 0.5, 1, 1.5]),
        (52.5, 59.5, 5, [54, 56, 58]),
    ],
)
def test_ticks_are_round_and_few(low, high, most, expected):
    assert style.nice_ticks(low, high, most) == pytest.approx(expected)


def test_only_the_best_element_gets_the_good_colour(assessment, figure):
    colours = {t.get_gid(): t.get_color() for t in figure.texts if (t.get_gid() or "").startswith("verdict")}
    inks = palette.INKS["light"]
    assert colours == {"verdict 0": inks.good, "verdict 1": inks.poor, "verdict 2": inks.poor}


def test_strips_are_as_high_as_the_fish_near_the_seabed(record):
    above, below = panels.strip_heights(record)
    assert above == pytest.approx(3.0)  # 1.3 times 2.2 m, up to the next quarter
    assert below == pytest.approx(0.6)
    assert len(panels.near_fish(record)) == 10


def test_outlines_are_calmed_and_data_are_not():
    pick = np.full(40, 57.0)
    pick[20] = 50.0
    assert np.allclose(cells.calmed(pick), 57)
    assert cells.filled(pick)[20] == 50


def test_why_no_fish_is_merged_is_said_where_some_are_not_shown(record):
    def judged(*marks):
        kinds = tuple(replace(k, marks=m) for k, m in zip(synthetic_record.KINDS, marks, strict=True))
        return synthetic_record.assessment(record, kinds)

    none_merged = judged("pppppppppp", "ppppppppmm", "pppppmmmmm")
    assert "Shown, but merged with it: none here." in " ".join(
        " ".join(texts(compare.comparison(record, none_merged))).split()
    )
    assert "Shown, but merged with it: none here." in compare.caption(record, none_merged)
    for other in (judged("pppppppppp", "ppppppppss", "pppppmmmmm"), judged(*("pppppppppp",) * 3)):
        assert "none here" not in " ".join(texts(compare.comparison(record, other)))


def test_both_cutaways_fill_their_place_at_one_scale(figure):
    side, ahead = (ax for ax in figure.axes if ax.get_label().startswith("cutaway"))
    figure.canvas.draw()
    scales = [ax.get_position().width / np.ptp(ax.get_xlim()) for ax in (side, ahead)]
    assert scales[0] == pytest.approx(scales[1])
    assert side.get_position().width * figure.get_size_inches()[0] == pytest.approx(2.35, rel=0.01)


def test_without_fish_near_it_the_strip_looks_at_the_bottom(record):
    fish = replace(record.truth.fish, height=record.truth.fish.height + 20)
    high = replace(record, truth=replace(record.truth, fish=fish))
    above, below = panels.strip_heights(high)
    assert below > above
    assert any("no fish within" in t for t in texts(compare.comparison(high, synthetic_record.assessment(record))))


def test_a_window_above_the_bottom_is_said_and_shows_no_seabed(record):
    kinds = tuple(replace(k, marks="") for k in synthetic_record.KINDS)
    rec = without_fish(record)
    judged = synthetic_record.assessment(rec, kinds)
    gone = tuple(replace(e, bottom_range=np.full(len(e.bottom_range), np.nan)) for e in judged.elements)
    above = replace(judged, elements=gone)
    said = texts(compare.comparison(rec, above))
    assert sum("no bottom echo in this window" in " ".join(t.split()) for t in said) == 3
    assert not any("seabed" in t for t in said)
    assert "seabed." not in compare.caption(rec, above)
