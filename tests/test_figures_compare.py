"""The comparison and the echogram alone: what they count, where axes and marks stand, that nothing hides an echo."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import synthetic_record
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.image import AxesImage
from matplotlib.text import Text
from pingwright import words
from pingwright.echograms.record import FishTruth
from pingwright.figures import embed, save
from pingwright.figures.compare import brackets, captions, comb, rows
from pingwright.figures.compare.picture import comparison
from pingwright.figures.echogram import echogram
from pingwright.figures.style import sheet as style
from pingwright.figures.style import ticks
from pingwright.figures.style.lettering import text_width, wrapped
from pingwright.figures.style.view import Label, View
from pingwright.measure.groups import Group, groups


def without_structures(record):
    return replace(record, truth=replace(record.truth, structures=()))


@pytest.fixture(scope="module")
def record():
    return synthetic_record.record(pings=60, step=0.02)


@pytest.fixture(scope="module")
def assessment(record):
    return synthetic_record.assessment(record)


@pytest.fixture(scope="module")
def plain(record):
    """The same over ground without a structure, so that heights over the bottom can be drawn."""
    return without_structures(record)


@pytest.fixture(scope="module")
def figure(plain, assessment):
    return comparison(plain, assessment)


def axes(figure, label):
    (found,) = [ax for ax in figure.axes if ax.get_label() == label]
    return found


def texts(figure, gid=None):
    return [t.get_text() for t in figure.findobj(Text) if t.get_text() and (gid is None or t.get_gid() == gid)]


def image(ax):
    return next(child for child in ax.get_children() if isinstance(child, AxesImage))


# What is counted


def test_groups_are_by_name_or_else_by_height_and_hold_every_fish_once(record):
    fish = record.truth.fish
    by_height = groups(fish)
    assert [float(g.height) for g in by_height] == sorted(g.height for g in by_height)
    assert sorted(np.concatenate([g.fish for g in by_height])) == list(range(len(fish.id)))
    assert [set(fish.height[g.fish] < 0.5) for g in by_height] == [{True}, {False}, {False}]
    named = replace(fish, name=("upper",) * 5 + ("lower",) * 5, height=np.array([3.0] * 5 + [0.2] * 5))
    assert [g.name for g in groups(named)] == ["lower", "upper"]


def test_the_headline_counts_the_lowest_group_and_says_what_the_marks_say(plain, assessment):
    lowest = groups(plain.truth.fish)[0]
    answer = words.answer(assessment, plain)
    assert answer.startswith(f"{words.both(lowest.height)} off the bottom, ")
    for element in assessment.elements:
        count = sum(element.mark[int(i)] == words.SEPARATED for i in lowest.fish)
        said = answer.split(element.name)[1]
        assert next(word for word in said.replace("none", "0").split() if word.isdigit()) == str(count)
    runs = words.headline(assessment, plain)
    assert [r.text for r in runs if r.element == 0] == ["narrow high"]


def marked(assessment, *letters):
    """The assessment with other marks, a string an element: s separated, m merged, n not shown."""
    kinds = dict(zip("smn", words.MEANING, strict=True))
    made = []
    for element, row in zip(assessment.elements, letters, strict=True):
        mark = tuple(kinds[letter] for letter in row)
        made.append(replace(element, mark=mark, counts={kind: mark.count(kind) for kind in words.MEANING}))
    return replace(assessment, elements=tuple(made))


def few(record, count):
    """The record with its first fish alone, all 30 cm up."""
    fish = record.truth.fish
    cut = {k: v[..., :count] for k, v in vars(fish).items() if isinstance(v, np.ndarray)}
    return replace(
        record,
        truth=replace(record.truth, fish=FishTruth(name=fish.name[:count], **cut | {"height": np.full(count, 0.3)})),
    )


@pytest.mark.parametrize(
    ("letters", "answer"),
    [
        (("sss", "snn", "nnn"), "narrow high separates all 3 fish, wide high 1 of 3, low none."),
        (("nnn", "ssn", "ssn"), "wide high and low separate 2 of 3 fish, narrow high none."),
        (("nmn", "nnn", "mmm"), "no element separates any of the 3 fish."),
        (("sss", "sss", "sss"), "narrow high, wide high and low separate all 3 fish."),
        (("ss", "sn", "nn"), "narrow high separates both fish, wide high 1 of 2, low none."),
        (("s", "n", "m"), "narrow high separates the fish, wide high and low do not."),
        (("n", "n", "n"), "no element separates the fish."),
    ],
)
def test_headline_in_every_case(record, assessment, letters, answer):
    scene = few(record, len(letters[0]))
    assert words.answer(marked(assessment, *letters), scene) == f"30 cm (1 ft) off the bottom, {answer}"


def test_feet_stand_alone_where_they_are_asked_for(record, assessment):
    scene = few(record, 3)
    answer = words.answer(marked(assessment, "sss", "snn", "nnn"), scene, "ft")
    assert answer.startswith("1 ft off the bottom, ")


def test_verdicts_of_rows_are_the_counts_of_their_groups(plain, assessment, figure):
    expected = [
        words.of(sum(e.mark[int(i)] == words.SEPARATED for i in group.fish), len(group.fish))
        for group in groups(plain.truth.fish)[:2]
        for e in assessment.elements
    ]
    assert texts(figure, "verdict") == expected
    shares = [t for t in texts(figure, "share") if " of " in t]
    assert shares == [words.of(e.counts[words.SEPARATED], len(e.mark)) for e in assessment.elements]


def test_a_count_that_false_alarms_would_give_says_so(assessment):
    element = replace(assessment.elements[0], false_alarms=replace(assessment.elements[0].false_alarms, value=0.08))
    few, most = ("separated",) * 2 + ("not_shown",) * 12, ("separated",) * 12 + ("not_shown",) * 2
    group = Group("a", np.arange(14), 1.0, 0.4)
    quiet = replace(element, mark=few, false_alarms_of=np.zeros(14))
    assert words.by_chance(replace(quiet, false_alarms_of=np.full(14, 0.08)), group) == "1 expected with no fish there"
    assert words.by_chance(replace(quiet, false_alarms_of=np.zeros(0)), group) == "1 expected with no fish there"
    assert words.by_chance(replace(quiet, mark=most, false_alarms_of=np.zeros(0)), group) == ""
    assert words.by_chance(quiet, group) == "", "false alarms at the places of other fish are not of this group"


def test_a_letter_stands_where_only_its_bracket_reaches():
    assert brackets._own((0.0, 10.0), [np.array([-5.0, 6.0])], 1 / 3) == 8.0
    assert brackets._own((0.0, 10.0), [np.array([2.0, 5.0])], 1 / 3) == 7.5
    assert brackets._own((0.0, 9.0), [np.array([0.0, 9.0])], 1 / 3) == pytest.approx(3.0)
    assert brackets._own((0.0, 10.0), [], 1 / 3) == 5.0


def test_the_headline_says_which_count_may_be_chance(record, assessment):
    scene, found = few(record, 3), marked(assessment, "sss", "snn", "nnn")
    sure, unsure, none = found.elements
    often = replace(unsure, false_alarms_of=np.full(len(unsure.mark), 0.9))
    answer = words.answer(replace(found, elements=(sure, often, none)), scene)
    assert f"{unsure.name} 1 of 3 (may be chance)" in answer
    assert answer.count("chance") == 1
    assert "chance" not in words.answer(found, scene)


def test_feet_beside_metres_are_no_finer_than_anyone_reads_a_depth():
    # 1 ft is 0.3048 m by definition: 22 m are 72.18 ft, 58 m are 190.29 ft, 9 m are 29.53 ft.
    assert [words.both(d, "m", 3) for d in (22.0, 58.0, 9.0)] == ["22 m (72 ft)", "58 m (190 ft)", "9 m (30 ft)"]
    assert words.both(22.0, "ft", 3) == "72.2 ft"


def test_lines_break_between_words_but_not_before_a_unit_and_nothing_is_cut():
    text = "Dashed: the bottom here, 190 ft, fan at 14 m \u00d7 65 m, 12 % of in-between words"
    for width in np.linspace(0.75, 3.0, 25):
        rows = wrapped(text, 7.0, width).split("\n")
        assert not [row for row in rows if row.split(" ")[0].rstrip(",.") in {"ft", "m", "\u00d7", "%"}]
        assert " ".join(rows) == text
        assert all(text_width(row, 7.0) <= width for row in rows)
    assert wrapped("14 m \u00d7 65 m", 7.0, 0.4).split("\n")[0] == "14 m \u00d7"
    long = "Rindfleischetikettierung" * 4
    assert "".join(wrapped(long, 7.0, 1.0).split("\n")) == long
    assert words.whole(-0.3) == "0"
    assert (words.length(0.0), words.length(0.0, "ft")) == ("0 m", "0 ft")
    assert words.whole(-10.6) == "\u221211"


# Lengths in words


@pytest.mark.parametrize(
    ("metres", "said"),
    [(0.3, "30 cm (1 ft)"), (0.3048, "30 cm (1 ft)"), (1.0, "1.0 m (3.3 ft)"), (58.0, "58 m (190 ft)"),
     (0.1, "10 cm (3.9 in)"), (0.285, "28 cm (11 in)"), (0.008, "8.0 mm (0.31 in)")],
)  # fmt: skip
def test_lengths_in_both_units(metres, said):
    assert words.both(metres) == said


def test_fish_are_measured_in_inches_and_counts_have_their_plural():
    assert [words.fish_length(x, "ft") for x in (0.4, 0.9, 1.2)] == ["16 in", "35 in", "3.9 ft"]
    assert words.fish_length(0.4) == "40 cm"
    assert (words.counted(1, "ping"), words.counted(3, "ping")) == ("1 ping", "3 pings")
    assert words.length(1.8288, "fathoms") == "1 fathom"


# Where things stand


def test_heights_on_a_flattened_row_are_true_within_5_cm(plain, assessment):
    """The echo of each fish of the pencil, straight below the boat, stands at its true height over the ground."""
    zone = rows.zones(plain, assessment, 2, View())[1]
    assert zone.flat
    chip = rows.chip(plain, 0, assessment.elements[0], zone, (2000, 200))
    middle = (chip.down[:-1] + chip.down[1:]) / 2
    fish = plain.truth.fish
    for index in zone.group.fish:
        if abs(fish.y[index]) > 1.0:
            continue  # beside the track the echo is truly later
        column = int(np.argmin(np.abs((chip.across[:-1] + chip.across[1:]) / 2 - fish.x[index])))
        near = np.abs(middle - fish.height[index]) < 0.25
        peak = middle[near][np.nanargmax(chip.level[near, column])]
        assert abs(peak - fish.height[index]) < 0.05


def test_no_row_is_flattened_across_a_structure(record, assessment):
    for zone in rows.zones(record, assessment, 2, View()):
        over = any(
            s.side[:, 0].min() < zone.across[1] and s.side[:, 0].max() > zone.across[0] for s in record.truth.structures
        )
        assert over
        assert not zone.flat


def test_no_row_is_flattened_where_fish_seem_to_lie_below_the_ground(plain, assessment):
    low = replace(assessment.elements[0], fish_range=assessment.elements[0].fish_range + 1.0)
    zone = rows.zones(plain, replace(assessment, elements=(low, *assessment.elements[1:])), 1, View())[0]
    assert not zone.flat


@pytest.mark.parametrize("slow", [0.86, 0.97, 1.17])
def test_the_ground_is_drawn_where_the_assumed_speed_of_sound_puts_it(plain, assessment, slow):
    """slow: assumed over true speed of sound, from 1350 m/s in warm water to 1650 m/s in cold."""
    fish = plain.truth.fish
    deep = (fish.apparent_depth - synthetic_record.DRAFT) * slow + synthetic_record.DRAFT
    scene = replace(plain, truth=replace(plain.truth, fish=replace(fish, apparent_depth=deep)))
    assert rows.speed_ratio(scene, 0, assessment.elements[0]) == pytest.approx(slow, abs=1e-3)


def test_every_cell_of_a_row_is_the_maximum_of_its_samples(record, assessment):
    zone = rows.zones(record, assessment, 1, View())[0]
    chip = rows.chip(record, 1, assessment.elements[1], zone, (60, 40))
    element = record.elements[1]
    depth = element.range + element.info.transducer_depth
    strength = element.echo_strength()
    columns = np.clip(np.searchsorted(chip.across, element.x) - 1, 0, chip.level.shape[1] - 1)
    for row in range(0, chip.level.shape[0], 7):
        inside = (depth >= chip.down[row]) & (depth < chip.down[row + 1])
        for column in range(0, chip.level.shape[1], 5):
            pings = (columns == column) & (element.x > chip.across[0]) & (element.x < chip.across[-1])
            if inside.any() and pings.any():
                assert chip.level[row, column] == pytest.approx(strength[np.ix_(pings, inside)].max(), abs=1e-3)


def test_rows_are_as_wide_as_their_fish_and_at_least_24_m(plain, assessment):
    for zone in rows.zones(plain, assessment, 2, View()):
        x = plain.truth.fish.x[zone.group.fish]
        assert zone.across[1] - zone.across[0] >= 24 - 1e-9
        assert zone.across[0] <= max(x.min() - 7, -30)
        assert zone.across[1] >= min(x.max() + 7, 30)


@given(st.lists(st.floats(0, 40), min_size=1, max_size=25), st.floats(30, 60))
@settings(max_examples=80, deadline=None)
def test_marks_keep_their_order_and_their_distance(x, width):
    x = np.array(x) * width / 40
    placed = comb.teeth(x, width)
    order = np.argsort(x, kind="stable")
    gaps = np.diff(placed[order])
    assert (gaps >= min(comb.APART, width / len(x)) - 1e-6).all()
    assert placed.min() >= -1e-6
    assert placed.max() <= width + 1e-6


@pytest.mark.parametrize(("scene", "theme"), [("plain", "dark"), ("record", "light")])
def test_no_mark_lies_on_an_echo(scene, theme, assessment, request):
    """No pixel of a cell above the picture's floor is touched by a mark, a hairline or a ring."""
    drawn = comparison(request.getfixturevalue(scene), assessment, theme)
    wanted = [axes(drawn, f"row {row} {index}") for row in "AB" for index in range(3)]
    for ax, ink in zip(wanted, ink_of(drawn, wanted), strict=True):
        shown = image(ax)
        level = np.asarray(shown.get_array().filled(-np.inf))
        left, right, foot, top = shown.get_extent()
        across, down = np.linspace(left, right, level.shape[1] + 1), np.linspace(top, foot, level.shape[0] + 1)
        low, high = ax.get_xlim()
        x = low + (np.arange(ink.shape[1]) + 0.5) / ink.shape[1] * (high - low)
        (bottom, first) = ax.get_ylim()
        y = first + (np.arange(ink.shape[0]) + 0.5) / ink.shape[0] * (bottom - first)
        column, line = (
            np.searchsorted(across, x) - 1,
            np.searchsorted(np.sign(foot - top) * down, np.sign(foot - top) * y) - 1,
        )
        inside = np.ix_((line >= 0) & (line < level.shape[0]), (column >= 0) & (column < level.shape[1]))
        echoes = level[np.ix_(line.clip(0, level.shape[0] - 1), column.clip(0, level.shape[1] - 1))] > -60
        assert ink.any()
        assert not (ink & echoes)[inside].any()


def is_mark(artist):
    return str(artist.get_gid()).startswith(("mark-", "hairline", "ring", "caret"))


def test_without_marks_the_words_are_the_same(plain, assessment, figure):
    without = comparison(plain, assessment, view=View(marks=False))
    assert texts(without, "headline") == texts(figure, "headline")
    assert figure.findobj(is_mark)
    assert not [a for ax in without.axes if ax.get_label().startswith("row") for a in ax.findobj(is_mark)]


def ink_of(figure, wanted):
    """Yield where marks put ink inside axes, (row, column): drawn once, with all else hidden."""
    for ax in wanted:
        for artist in ax.get_children():
            artist.set_visible(artist.get_visible() and is_mark(artist))
    figure.canvas.draw()
    picture = np.asarray(figure.canvas.buffer_rgba())[..., :3].astype(int)
    ground = np.rint(np.array(figure.get_facecolor()[:3]) * 255)
    for ax in wanted:
        box = ax.get_window_extent()
        height = picture.shape[0]
        part = picture[round(height - box.y1) : round(height - box.y0), round(box.x0) : round(box.x1)]
        yield np.abs(part - ground).max(axis=2) > 40


def test_a_fish_that_is_not_separated_is_shown_beside_the_picture(plain, assessment, figure):
    """A ring in clear water or a triangle at the frame, one for each."""
    for row, group in zip("AB", groups(plain.truth.fish), strict=False):
        for index, element in enumerate(assessment.elements):
            ax = axes(figure, f"row {row} {index}")
            shown = [a for a in ax.get_children() if a.get_gid() in ("ring", "caret")]
            assert len(shown) == sum(element.mark[int(i)] != words.SEPARATED for i in group.fish)


# Sizes, windows, words


def test_the_fish_zone_takes_a_quarter_of_the_picture(figure):
    assert (
        sum(box.width * box.height for box in (a.get_position() for a in figure.axes if "row" in a.get_label())) > 0.24
    )


@pytest.mark.parametrize("size", style.SIZES)
@pytest.mark.parametrize("draw", [comparison, echogram])
def test_type_is_never_smaller_than_the_sheet_allows(plain, assessment, size, draw):
    drawn = draw(plain, assessment, size=size)
    drawn.draw_without_rendering()
    assert min(t.get_fontsize() for t in drawn.findobj(Text) if t.get_text()) >= style.SIZES[size][3] - 0.02


@pytest.mark.parametrize("size", style.SIZES)
@pytest.mark.parametrize("count", [1, 3, 6])
def test_panels_alone_fill_the_sheet(size, count):
    kinds = [replace(synthetic_record.KINDS[i % 3], name=f"element {i}") for i in range(count)]
    made = synthetic_record.record(pings=20, step=0.2, kinds=kinds)
    judged = synthetic_record.assessment(made, kinds)
    drawn = echogram(made, judged, size=size, view=View(marks=False))
    boxes = [a.get_position() for a in drawn.axes if a.get_label().startswith("echogram")]
    assert len(boxes) == count
    assert sum(box.width * box.height for box in boxes) >= 0.7


@pytest.mark.parametrize("size", style.SIZES)
@pytest.mark.parametrize("count", [1, 4, 6])
def test_any_number_of_elements_finds_room(count, size):
    kinds = [replace(synthetic_record.KINDS[i % 3], name=f"a rather long element name {i}") for i in range(count)]
    made = without_structures(synthetic_record.record(pings=20, step=0.2, kinds=kinds))
    drawn = comparison(made, synthetic_record.assessment(made, kinds), size=size)
    assert len([a for a in drawn.axes if a.get_label().startswith("row A")]) == count
    names = " ".join(texts(drawn, "name"))
    assert all(word in names for word in ("rather", "long", "name", str(count - 1)))


def test_a_window_is_obeyed(plain, assessment):
    view = View(depth=(50.0, 60.0), along=(-20.0, 5.0))
    drawn = comparison(plain, assessment, view=view)
    left, right, foot, top = image(axes(drawn, "water 0")).get_extent()
    step = plain.elements[0].x[1] - plain.elements[0].x[0]
    assert (left, right) == (pytest.approx(-20, abs=step), pytest.approx(5, abs=step))
    assert (top, foot) == (pytest.approx(50, abs=0.1), pytest.approx(60, abs=0.1))
    for zone in rows.zones(plain, assessment, 2, view):
        assert -20 <= zone.across[0] < zone.across[1] <= 5
    alone = echogram(plain, assessment, view=view)
    assert sorted(axes(alone, "echogram 1").get_ylim()) == [50.0, 60.0]


def test_the_readers_words_stand_in_place_of_ours(plain, assessment):
    view = View(headline="Our own words", note="Drawn for page 12.", labels=(Label("the deck", 0.0, 0.0, 54.0),))
    drawn = comparison(plain, assessment, view=view)
    assert "".join(texts(drawn, "headline")) == "Our own words"
    assert any("page 12" in t for t in texts(drawn, "scene"))
    alone = echogram(plain, assessment, view=view)
    assert texts(alone, "label") == ["the deck"] * 3
    assert "".join(texts(alone, "headline")) == "Our own words"


@pytest.mark.parametrize("title", ["w" * 300, "a long title in many words " * 12])
def test_no_title_is_cut(plain, assessment, title):
    drawn = comparison(replace(plain, title=title), assessment)
    assert "".join(title.split()) in "".join("".join(texts(drawn, "scene")).split())


def test_scales_are_in_the_readers_units_alone_or_metres_with_feet_beside(plain, assessment):
    for units, left, right in (("m", "m", True), ("ft", "ft", False), ("fathoms", "fathoms", False)):
        drawn = comparison(plain, assessment, units=units)
        first, last = axes(drawn, "water 0"), axes(drawn, "water 2")
        assert first.get_ylabel() == f"depth ({left})"
        assert bool(last.child_axes) == right
    ticks_drawn = axes(comparison(plain, assessment), "water 2").child_axes[0]
    for place, text in zip(ticks_drawn.get_yticks(), ticks_drawn.get_yticklabels(), strict=True):
        assert place / 0.3048 == pytest.approx(
            float(text.get_text()), abs=0.01
        )  # the international foot, exact since 1959


def test_it_says_on_its_face_that_it_is_simulated(figure):
    assert "SIMULATED" in texts(figure, "tag")
    assert any("not for navigation" in t for t in texts(figure, "caution") + [" ".join(texts(figure, "caution"))])


# What there may be instead of fish


def bare(record, **truth):
    fish = record.truth.fish
    none = {k: v[..., :0] for k, v in vars(fish).items() if isinstance(v, np.ndarray)}
    return replace(record, truth=replace(record.truth, fish=FishTruth(name=(), **none), **truth))


def judged_bare(assessment):
    nothing = {"mark": (), "counts": {}}
    arrays = {name: np.zeros(0) for name in ("fish_range", "fish_peak", "fish_strength")}
    made = [replace(e, **nothing, **arrays, fish_ping=np.zeros(0, int)) for e in assessment.elements]
    return replace(assessment, elements=tuple(made))


@pytest.mark.parametrize("keep", ["school", "scattering_layer", ""])
def test_without_fish_schools_layers_or_the_bottom_are_enlarged(plain, assessment, keep):
    soft = tuple(s for s in plain.truth.soft if s.kind == keep)
    made, judged = bare(plain, soft=soft), judged_bare(assessment)
    drawn = comparison(made, judged)
    (zone, *_) = rows.zones(made, judged, 2, View())
    assert zone.title == (soft[0].name if soft else "the bottom")
    assert " ".join(texts(drawn, "headline")).startswith("No single fish in this water")
    assert not texts(drawn, "all")


def test_an_anchored_boat_is_drawn_over_time(record, assessment):
    still = tuple(replace(e, x=np.zeros(e.pings)) for e in record.elements)
    drawn = comparison(replace(record, elements=still), assessment)
    assert axes(drawn, "water 0").get_xlabel() == "time"


def test_a_bottom_that_is_never_picked_is_borne(plain, assessment):
    lost = tuple(replace(e, bottom_range=np.full_like(e.bottom_range, np.nan)) for e in assessment.elements)
    drawn = comparison(plain, replace(assessment, elements=lost))
    assert axes(drawn, "row A 0")


# Words for those who do not see it


@pytest.mark.parametrize("units", words.UNITS)
def test_caption_and_alternative_text_hold_the_counts(plain, assessment, units):
    caption, alt = captions.caption(plain, assessment, units), captions.alt(plain, assessment, units)
    for e in assessment.elements:
        assert f"{e.counts[words.SEPARATED]} of 10 fish separated" in caption
        assert e.name in alt
    assert words.answer(assessment, plain, units) in alt
    assert ("cm" in caption) == (units == "m")


def test_unknown_themes_units_and_sizes_are_refused(record, assessment):
    for wrong in ({"theme": "blue"}, {"units": "yards"}, {"size": "poster"}):
        with pytest.raises(ValueError, match="is none of"):
            comparison(record, assessment, **wrong)


def test_svg_and_pdf_hold_real_text_in_named_fonts(figure, plain):
    svg = save.svg(figure, embed.carried(plain)).decode()
    assert "SIMULATED</text>" in svg
    assert "DejaVu Sans" in svg
    # SVG drops spaces at the ends of a text: the words of a headline are kept apart by their places.
    head = [t for t in figure.texts if t.get_gid() == "headline"]
    assert all(t.get_text() == t.get_text().strip() for t in head)
    wide = 0.15 * head[0].get_fontsize() / 72 * figure.dpi  # [px]; a space of the font is twice this
    for one, other in pairwise(head):
        if one.get_position()[1] == other.get_position()[1] and other.get_text()[0] not in ",(":
            assert other.get_window_extent().x0 - one.get_window_extent().x1 > wide, other.get_text()
    pdf = save.pdf(figure, embed.carried(plain))
    assert b"/BaseFont" in pdf
    assert b"DejaVuSans" in pdf


@pytest.mark.parametrize(
    ("low", "high", "most", "expected"),
    [(0, 70, 5, [0, 20, 40, 60]), (-2, 2, 5, [-2, -1, 0, 1, 2]), (0.0, 0.66, 4, [0, 0.2, 0.4, 0.6])],
)
def test_ticks_are_round_and_few(low, high, most, expected):
    assert ticks.nice_ticks(low, high, most) == pytest.approx(expected)
