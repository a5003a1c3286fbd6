"""The ten questions of a counter, each as a file: answered in sentences, in the customer's units, tables after."""

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pingwright import options
from pingwright.advice import answers, cases, numbers, pipeline, sharpening, tables
from pingwright.errors import ScenarioError
from pingwright.inputs import trip as inputs
from pingwright.inputs.typed import Typed, trip_file
from pingwright.inputs.typed_lists import ask_table
from pingwright.match import answers as advice
from pingwright.match import pipeline as matching
from pingwright.measures import ahead
from pingwright.measures.asked import Question
from pingwright.measures.bottom_reach import NOBODY, BottomReach
from pingwright.measures.reach import Reach
from pingwright.trials import day
from pingwright.trials.scene import DRIFT, scene, single

FILES = sorted((Path(__file__).resolve().parents[1] / "scenarios" / "questions").glob("*.toml"))
TWO = ["high-pencil", "low-pencil"]


def made(about, typed=None, lists=None, elements="high-pencil"):
    words = typed or Typed("40 m", ("perch, 30 cm, near the bottom",))
    return inputs.parse(trip_file(words) + ask_table(about, {"elements": elements, **(lists or {})}))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_question_is_answered_in_sentences_and_feet(path):
    """With one or two elements and one water, to be quick."""
    trip = inputs.load(path)
    if trip.ask is None:
        few = {"candidates.elements": TWO, "candidates.pairs": False, "day.depth": ["100 ft", "100 ft"]}
        if "lake" in path.stem:
            few["day.depth"] = ["30 ft", "30 ft"]
        match = matching.judge(inputs.load(path, few), quick=True)
        text, report = advice.answer(match), matching.as_text(match)
    else:
        few = {"ask.elements": TWO if trip.ask.about in ("beam", "loss") else TWO[:1]}
        few |= {
            f"ask.{key}": [f"{getattr(trip.ask, key)[0]!r} m"] for key in ("depths", "at") if getattr(trip.ask, key)
        }
        found = tables.gather(inputs.load(path, few), "ft")
        text, report = " ".join(answers.answer(found)), pipeline.as_text(found)
        assert report.index(text.split(". ")[0][:40].split("(")[0]) < report.index("| element |")
        assert report.index("| element |") < report.index("## What the numbers are")
    assert re.match(r"[A-Z0-9][^.]*\w", text)
    assert " ft" in text or "element" in text
    assert "nan" not in report
    assert not re.search(r"\bscore\b", text)


def test_ten_questions_say_what_to_type():
    assert len(FILES) == 10
    for path in FILES:
        head = path.read_text(encoding="utf-8").splitlines()
        assert head[0].startswith("# Asked:  ")
        assert head[1].startswith("# Type:   pingwright ")


def test_formulas_answer_first_and_passes_sharpen_it(tmp_path, monkeypatch):
    """A folder holds text, numbers and figure, with intervals; what was first is kept and compared."""
    monkeypatch.setattr(sharpening, "PASSES", 6)
    monkeypatch.setattr(sharpening, "OFFSETS", 6)
    text = trip_file(Typed("15 m", ("perch, 30 cm, near the bottom",))) + ask_table(
        "swath", {"elements": "high-pencil"}
    )
    heard = []
    results = pipeline.run(None, tmp_path / "out", text=text, threads=1, first=heard.append)
    data = json.loads((tmp_path / "out" / "ask.json").read_text(encoding="utf-8"))
    assert heard[0].startswith("First answer, from formulas: For perch")
    assert heard[1].startswith("6 passes, perch over 15 m")
    assert data["answer"] == results.answer
    assert data["simulated"]
    assert (tmp_path / "out" / "ask.png").read_bytes().startswith(b"\x89PNG")
    shown = (tmp_path / "out" / "ask.md").read_text(encoding="utf-8")
    assert shown.startswith("# perch at 15 m\n\nFor perch")
    assert re.search(r"\| high-pencil \| \d+ % \(\d+ to \d+\)", shown)
    (passed,) = (one["pass"] for one in data["waters"][0]["elements"].values())
    assert passed["passes"] == 6
    assert 6 * passed["shown"] == pytest.approx(round(6 * passed["shown"]))


def test_where_passes_contradict_a_formula_is_said():
    found = tables.gather(made("swath"), "m")
    (water,) = found.waters
    passed = replace(water.passes[0], shown=0.25, separated=0.25, passes=24)
    other = replace(found, waters=(replace(water, passes=(passed,)),), formulas=found)
    texts = sharpening.differences(other)
    assert any("clear of the bottom: " in text and "25 % in passes" in text for text in texts)
    assert sharpening.differences(replace(found, formulas=found)) == []
    width = water.passes[0].swath
    for span, told in (((0.1, 0.5 * width.value), True), ((0.1, 2 * width.value), False)):
        narrow = replace(water.passes[0], swath=replace(width, value=0.3 * width.value, span=span), passes=24)
        texts = sharpening.differences(replace(found, waters=(replace(water, passes=(narrow,)),), formulas=found))
        assert any("swath: " in text for text in texts) == told


def test_how_deep_is_that_of_the_measures():
    """The ladder of depths against the measures' own search with the pulse of the very depth: within 3 %."""
    trip = made("depth", elements="medium-pencil")
    one = cases.days(trip)[0].trip
    kind, scenario = day.species(one, one.species[0], 40.0), numbers.bare(day.scenario(one, 40.0))
    fish = Reach().closed(Question("", "reach", scenario, kind), 0)
    assert numbers.fish_depths(one, kind)[0].value == pytest.approx(fish, rel=0.03)
    bottom = BottomReach().closed(Question("", "bottom_reach", scenario, NOBODY), 0)
    found = numbers.bottom_depths(one, "gravel")[0]
    assert found.value == pytest.approx(bottom)
    assert found.low < found.value < found.high


def test_a_pair_gains_nothing_from_fish_that_neither_can_see():
    """Fish too near the face for both elements: a second one adds none; chances of each fish, not of all, are joined.

    By hand: of four fish both show the same three, so either shows 3 of 4; that they show 3 of 4 each would give 15 of
    16. Where one shows two and the other the other two, either shows all.
    """
    found = tables.gather(made("loss", elements="high-pencil, high-cone"), "m")
    (water,) = found.waters

    def said(*clear):
        passes = tuple(
            replace(p, clear=each, separated=sum(each) / 4) for p, each in zip(water.passes, clear, strict=True)
        )
        return " ".join(answers.answer(replace(found, waters=(replace(water, passes=passes),))))

    assert "A second element shows almost no more fish" in said((1, 1, 1, 0), (1, 1, 1, 0))
    assert "it shows 50 % more of all these fish" in said((1, 1, 0, 0), (0, 0, 1, 1))
    assert all(p.separated == pytest.approx(np.mean(p.clear)) for p in water.passes)


def test_one_element_alone_is_named_once():
    text = " ".join(answers.answer(tables.gather(made("size", elements="tone-200"), "ft")))
    assert text.count("tone-200") == 1


def test_where_nothing_is_seen_no_width_is_told():
    trip = made("swath", Typed("700 ft", ("tuna-like, 4 ft deep",)), {"elements": "high-pencil, low-pencil"})
    text = " ".join(answers.answer(tables.gather(trip, "ft")))
    assert "no element searches any width" in text
    assert "nothing" not in text


@pytest.mark.parametrize(
    ("ground", "said"),
    [
        ("bare", "The bottom here is bare. A wreck or a reef, or a ledge, hides fish"),
        ("ledge", "The bottom here has a ledge, and is otherwise bare. A wreck or a reef hides fish"),
        ("weed", "The bottom here carries weed, and is otherwise bare."),
        ("slope", "The bottom here slopes, and is otherwise bare."),
        ("wreck", "Shares and widths hold at the wreck, a box of steel"),
        ("reef", "Shares and widths hold at the reef, a pile of boulders"),
    ],
)
def test_the_ground_that_was_typed_is_the_ground_that_is_told(ground, said):
    found = tables.gather(made("swath", Typed("40 m", ("perch, 30 cm",), ground=ground)), "m")
    assert said in " ".join(pipeline.left_out(found))
    assert said in " ".join(pipeline.left_out(replace(found, formulas=found)))


def test_formulas_and_passes_of_a_question_know_the_wreck_that_was_typed():
    """As those of match do; they took bare ground, and a fan showed every fish beside a wreck."""
    trip = made("swath", Typed("40 m", ("grouper-like, 2 ft, tight to a wreck",)))
    assert numbers.scene_of(trip, 40.0).around is not None
    at = sharpening.ground_of(sharpening.Job("near", trip, bottom=40.0))
    assert at.around is not None
    assert sharpening.ground_of(sharpening.Job("near", made("swath"), bottom=40.0)).around is None


def refusal(*words):
    """Return what the command line says when it refuses the words."""
    args = options.parser().parse_args(["ask", "--quick", *words])
    with pytest.raises((ScenarioError, options.MisusedError)) as refused:
        pipeline.run(None, text=options.typed_question(args), quick=True)
    return str(refused.value)


FISH = ("--depth", "80 ft", "--species", "perch, 30 cm")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("power", *FISH, "--speeds", "1 kn, 2 kn"), '--speeds: is not used by the question "power"; allowed with it'),
        (("roll", *FISH, "--powers", "1 W, 2 W"), '--powers: is not used by the question "roll"; allowed with it'),
        (("swath", *FISH, "--sediments", "mud"), '--sediments: is not used by the question "swath"'),
        (("swath", *FISH, "--at", "20 ft", "--depths", "30 ft"), "--depths: found depths and at"),
        (
            ("speed", *FISH, "--speeds", "slow, 4 kn"),
            "allowed: drifting, trolling, under way, or a speed with its unit",
        ),
        (("power", *FISH, "--powers", "1 kw, 2 kW"), 'did you mean "kW"?'),
        (("power", *FISH, "--powers", "lots"), 'such as "1 kW"'),
        (("roll", *FISH, "--rolls", "level, 60 deg"), "command line: --rolls: found 60 deg; allowed: 0 deg to 45 deg"),
        (("size", *FISH, "--elements", "pensil"), "command line: --elements: found"),
        (("size", "--depth", "80 ft", "--species", "groper-like"), 'did you mean "grouper-like"?'),
        (("size", "--depth", "9 m", "--species", "perch, 30 cm, 30 m deep"), "command line: --species: found a span"),
        (
            ("size", "--depth", "12 ft", "--species", "grouper-like, near a ledge"),
            "allowed: at most half the least depth, 1.83 m. This height is assumed; set another, as in --set day.ledge",
        ),
        (("powers", *FISH), "not 'powers'; did you mean `power`? The question words are: "),
        (("xyz", *FISH), "not 'xyz'. The question words are: "),
    ],
)
def test_what_cannot_be_asked_is_refused_at_the_option(words, said):
    """No file was typed, so none is named; an option that a question ignores is refused, not dropped."""
    text = refusal(*words)
    assert said in text
    assert "typed.toml" not in text


def test_words_are_understood_in_any_case_and_order():
    words = ("Depth", "--species", "perch, 30 cm", "--depths", "250, 80 ft", "--elements", "HIGH-Pencil")
    args = options.parser().parse_args(["ask", "--quick", *words])
    trip = inputs.parse(options.typed_question(args))
    assert trip.ask.about == "depth"
    assert trip.ask.elements == ("high-pencil",)
    assert trip.day.depth[1] == pytest.approx(250 * 0.3048)  # the deepest of the list, not the last
    text = " ".join(answers.answer(tables.gather(trip, "ft")))
    assert text.startswith("At 250 ft the high-pencil shows perch. At 80 ft the high-pencil shows perch.")
    assert "The same element" not in text  # there is only one


@pytest.mark.parametrize(
    ("depth", "ends"),
    [
        ("1,500 ft", (457.2, 457.2)),
        ("1500'", (457.2, 457.2)),
        ("1,000-1,500 ft", (304.8, 457.2)),
        (".5 km", (500, 500)),
    ],
)
def test_depths_are_read_as_people_write_them(depth, ends):
    """1 ft is 0.3048 m (1959 agreement)."""
    assert inputs.parse(trip_file(Typed(depth, ("perch, 30 cm",)))).day.depth == pytest.approx(ends)


@pytest.mark.parametrize("depth", ["33,5 m", "1/2 mile", "about 200 ft", "1,50 ft"])
def test_a_depth_that_cannot_be_read_is_refused_with_an_example_that_can(depth):
    """It had been offered a second unit: "33,5 m m"."""
    with pytest.raises(ScenarioError, match=r'allowed: one depth or two, such as "180 ft" or "150\.\.250 ft"$'):
        trip_file(Typed(depth, ("perch, 30 cm",)))
    with pytest.raises(ScenarioError, match='such as "200 m", "200 ft" or "200 fathoms"$'):
        trip_file(Typed("200", ("perch, 30 cm",)))


@pytest.mark.parametrize(
    ("words", "ground", "body"),
    [
        ("school of herring-like, 10 in, 20 ft wide", "bare", "herring-like"),
        ("perch, 30 cm, in the weeds", "weed", None),
        ("grouper-like, on the rocks", "reef", "grouper-like"),
        ("grouper-like, near a drop-off", "ledge", "grouper-like"),
        ("perch, 30 cm,", "bare", None),
    ],
)
def test_fish_are_read_as_people_write_them(words, ground, body):
    trip = inputs.parse(trip_file(Typed("40 m", (words,))))
    day_ = trip.day
    assert ("weed" if day_.weed else "reef" if day_.reef else "ledge" if day_.ledge else "bare") == ground
    assert trip.species[0].body == body


def test_units_are_read_in_capitals_too():
    """1 kn is 1852 m an hour; kW and ms need their capitals, because MW and Ms are other units."""
    trip = inputs.parse(trip_file(Typed("40 M", ("perch, 30 CM",), "20 KN", wind="10 Knots", roll="10 DEG")))
    assert trip.day.speed == pytest.approx(20 * 1852 / 3600)
    assert trip.day.wind == pytest.approx(10 * 1852 / 3600)
    assert trip.day.roll.amplitude == 10
    assert made("swath", lists={"at": "20, 30 FT"}).ask.at == pytest.approx((6.096, 9.144))
    with pytest.raises(ScenarioError, match='did you mean "kW"'):
        made("power", lists={"powers": "1, 2 KW"})
    with pytest.raises(ScenarioError, match="in an angle; allowed: deg, rad"):
        made("roll", lists={"rolls": "level, 3 turns"})


def test_drifting_is_the_same_speed_wherever_it_is_typed():
    """Half a knot (0.257 m/s), engine off: in --speed, in --speeds and in trials."""
    fish = Typed("40 m", ("perch, 30 cm",), "Drifting")
    alone = cases.days(inputs.parse(trip_file(fish) + ask_table("swath", {})))[0].trip.day
    listed = cases.days(made("speed", lists={"speeds": "adrift, Trolling"}))
    assert alone.speed == listed[0].trip.day.speed == DRIFT == pytest.approx(0.257, abs=0.01)
    assert alone.own == listed[0].trip.day.own == "none"
    assert [day.label for day in listed] == ["drifting", "6 kn"]
    assert cases.speed_words(float(alone.speed)) == "drifting"


def test_speed_leaves_fish_between_pings():
    """Near-surface fish over 1500 ft at 8 kn: the pencil's beam of 8.5 deg is 2.2 m wide at 15 m, a ping every 5.6 m.

    60 % are never met: worked out by hand from 2 x 2.2 depths of 457 m at 1500 m/s and 4.1 m/s.
    """
    trip = made("swath", Typed("1500 ft", ("perch, 30 cm",), "8 kn"), {"at": "15.6 m"})
    found = tables.gather(trip, "ft")
    passed = found.waters[0].passes[0]
    assert found.waters[0].step == pytest.approx(5.6, abs=0.15)
    assert passed.unmet == pytest.approx(0.6, abs=0.03)
    assert "never inside its beam when it pings" in " ".join(answers.answer(found))


def test_harmonics_take_most_of_what_power_brings_the_high_band():
    """From 600 W to 2 kW 5.2 dB go in; another code's numbers for far targets: 1.9 come out high, 5.1 low."""
    trip = made("power", Typed("300 m", ("perch, 30 cm",)), {"powers": "600 W, 2 kW"}, "high-pencil, low-pencil")
    at = numbers.scene_of(cases.days(trip)[0].trip, 300.0)
    loss = [header.info.number("finite_amplitude_loss", 0.0) for header in at.headers]
    gain = 10 * np.log10(2000 / 600)
    assert gain - (loss[1] - loss[0]) == pytest.approx(1.9, abs=0.2)
    assert gain - (loss[3] - loss[2]) == pytest.approx(5.1, abs=0.1)


def test_a_word_that_is_no_question_is_refused(capsys):
    from pingwright.__main__ import main

    assert main(["ask", "powr", "--depth", "30 m", "--species", "perch, 30 cm"]) == 2
    assert "did you mean `power`?" in capsys.readouterr().err


@pytest.mark.parametrize("about", ["swath", "beam"])
def test_one_element_alone_is_compared_with_no_other(about):
    found = tables.gather(made(about), "m")
    assert not re.search(r"high-pencil[^.]*, the high-pencil", " ".join(answers.answer(found)))


def test_how_deep_is_answered_first_for_the_depth_that_was_asked_about():
    """The low band reaches deeper than the high one, so between the two ends only the low one shows the fish."""
    trip = made("depth", elements="high-pencil, low-pencil")
    found = tables.gather(trip, "m")
    (high, low), (key,) = (b.value for b in found.fish[next(iter(found.fish))]), found.fish
    for depth, words in (
        (0.9 * high, "every element shows perch, the low-pencil with most to spare."),
        (0.5 * (high + low), "only the low-pencil shows perch."),
        (1.1 * low, "no element shows perch."),
    ):
        deeper = trip.model_copy(update={"day": trip.day.model_copy(update={"depth": (depth, depth)})})
        first = answers.answer(replace(found, trip=deeper, fish={key: found.fish[key]}))[0]
        assert first == f"At {found.long(depth)} {words}"


def test_a_quick_answer_is_told_before_anything_is_drawn(tmp_path, monkeypatch):
    def drawn(*_):
        message = "no disk"
        raise OSError(message)

    monkeypatch.setattr(matching, "write", drawn)
    heard, text = [], trip_file(Typed("15 m", ("perch, 30 cm, near the bottom",)))
    few = {"candidates.elements": ["high-pencil"], "candidates.pairs": False}
    with pytest.raises(OSError, match="no disk"):
        matching.run(None, tmp_path / "out", text=text, settings=few, quick=True, first=heard.append)
    assert heard[0].startswith("Fish with the high-pencil. The high-pencil shows")


def test_the_ends_of_an_interval_that_are_not_known_are_not_called_nothing():
    class Metres:
        long = staticmethod(lambda end: f"{end:.0f} m")

    ends = [(3.0, 5.0), (3.0, np.inf), (0.0, 5.0), (np.nan, np.inf)]
    assert [tables.interval(Metres, *pair) for pair in ends] == ["3 m to 5 m", "at least 3 m", "at most 5 m", ""]


@pytest.mark.parametrize("place", ["tight to the bottom", "mid-water"])
def test_fish_close_over_the_bottom_are_judged_with_its_roughness(place):
    """As in a scene that is built with it; 24 passes at 275 m over gravel: 0.58 clear (smooth 0.69, rough 0.56)."""
    trip = inputs.parse(trip_file(Typed("275 m", (f"snapper-like, 50 cm, {place}",), "4 kn", "gravel")))
    at, kind = numbers.scene_of(trip, 275.0), day.species(trip, trip.species[0], 275.0)
    found = numbers._bottom(single(at, 0), kind).edges
    rough = ahead.of(scene(day.scenario(trip, 275.0)), 0).edges
    assert (len(found) > 1) == (place != "mid-water")
    assert (np.array_equal(found, rough)) == (place != "mid-water")
