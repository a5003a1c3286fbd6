"""A trip to a folder: the contract's keys, by passes at the day's speed, typed units; closed forms first."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest
from pingwright.errors import ScenarioError
from pingwright.inputs import trip as inputs
from pingwright.inputs.typed import Typed, trip_file
from pingwright.match import answers, depends, formulas, pipeline, ranking, telling, trials
from pingwright.trials import day

TRIP = """
title = "A | trip"
seed = 5
[day]
depth = ["40 ft", "60 ft"]
sediment = "gravel"
wind = "8 kn"
speed = "{speed}"
temperature = "11 degC"
salinity = 34.5
[[species]]
name = "perch"
swimbladder = "closed"
length = "45 cm"
where = {{ above_bottom = ["0.3 m", "1.5 m"] }}
[candidates]
elements = ["high-pencil", "low-pencil"]
"""


def trip(speed="8 kn"):
    return inputs.parse(TRIP.format(speed=speed))


@pytest.fixture(scope="module")
def quick():
    return pipeline.judge(trip(), quick=True)


def test_passes_are_told_one_species_and_depth_at_a_time_beside_the_formula(quick, tmp_path):
    heard = []
    state = telling.Telling(tmp_path / "state", "a trip", quick, heard.append)
    seen = {"detected": [[1.0] * 4] * 2, "separated": [[1.0, 1.0, 1.0, 0.0], [0.0] * 4], "false": [0.0, 0.0]}
    state.save({"0 swath": seen})
    assert heard == []
    state.save({"0": seen})
    assert re.fullmatch(
        r"4 passes, perch in \d+ ft of water, clear of the bottom: high-pencil 75 % \(formula \d+ %\),"
        r" low-pencil 0 % \(formula \d+ %\)",
        heard[0],
    )
    assert state.get("0") == seen
    telling.Telling(tmp_path / "state", "a trip", quick, None).save({"0": seen})


def test_everything_is_told_in_turn_and_once(tmp_path, monkeypatch):
    """Formulas' answer, passes, their answer, what it depends on; the passes and assumptions are replaced by others."""
    closed = pipeline.trials.run(trip(), quick=True)
    monkeypatch.setattr(pipeline.trials, "run", lambda *_, quick=False, **__: replace(closed, quick=quick))
    monkeypatch.setattr(pipeline.depends, "depends_on", lambda *_: ())
    monkeypatch.setattr(pipeline, "write", lambda *_: None)
    heard = []
    results = pipeline.run(
        None, tmp_path / "out", text=TRIP.format(speed="8 kn"), force=True, threads=1, first=heard.append
    )
    assert [text.strip().split(":")[0] for text in heard] == [
        "First answer, from formulas",
        "Answer from simulated passes",
    ]
    assert "Fish with" not in results.answer
    assert results.answer
    silent = pipeline.run(None, tmp_path / "out", text=TRIP.format(speed="8 kn"), force=True, threads=1)
    assert silent.answer.startswith("Fish with")


def test_match_json_holds_what_the_contract_names(quick, tmp_path):
    pipeline.write(quick, tmp_path, TRIP)
    data = json.loads((tmp_path / "match.json").read_text())
    for row in data["ranking"]:
        assert {"elements", "score", "low", "high", "ties_with", "dominated_by", "parts", "why"} <= set(row)
        assert set(row["parts"]) == {"separated", "detected", "swath", "detail", "small_fish", "reach"}
        assert all(0 <= v <= 1 for v in row["parts"].values())
    assert len(data["ranking"]) == 3
    text = (tmp_path / "match.md").read_text()
    assert text.startswith("# A \\| trip\n\nFish with")
    assert " ft at a depth of " in text
    assert "from formulas" in text
    assert quick.units == "ft"


def test_where_passes_contradict_a_formula_is_said(quick):
    assert formulas.differences(quick.hits, quick.hits) == []
    lower = replace(quick.hits, separated=np.zeros_like(quick.hits.separated), quick=False)
    texts = formulas.differences(lower, quick.hits)
    assert len(texts) == 2
    assert texts[0].startswith("high-pencil, perch clear of the bottom: ")
    assert texts[0].endswith("% by formula, 0 % in passes.")
    told = answers.first(quick)
    assert told.startswith("First answer, from formulas: Fish with")
    assert "Now passes are simulated." in told
    assert "--quick" not in told


def test_the_days_speed_and_roll_act():
    slow, fast = (trials.run(trip(speed), quick=True) for speed in ("3 kn", "25 kn"))
    assert fast.detected.mean() < slow.detected.mean()
    assert (fast.swath <= slow.swath + 1e-9).mean() > 0.9
    at = day.scenario(trip(), 15.0)
    assert at.boat.speed == pytest.approx(8 * 1852 / 3600)


@pytest.mark.parametrize(
    ("key", "values"), [("speed", ("3 kn", "10 kn", "20 kn")), ("wind", ("5 kn", "15 kn", "25 kn"))]
)
def test_a_faster_boat_and_more_wind_lower_the_score(key, values):
    # By the sonar equation: both raise noise, and bubbles take sound away. In closed form.
    scores = []
    for value in values:
        text = TRIP.format(speed="4 kn").replace('["40 ft", "60 ft"]', "[300, 310]").replace("0.3 m", "40 m")
        text = text.replace("1.5 m", "80 m").replace(', "low-pencil"', "") + "[weights]\nreach = 1\n"
        text = text.replace(f'{key} = "{"4" if key == "speed" else "8"} kn"', f'{key} = "{value}"')
        ranked = pipeline.judge(inputs.parse(text), quick=True).ranked
        scores.append(ranked[0].score)
    assert scores[0] > scores[1] + 0.002, scores
    assert scores[1] > scores[2] + 0.002, scores


def test_a_few_passes_are_like_their_closed_form_and_the_same_for_any_threads():
    one = replace_elements(trip(), 1)
    seen = trials.run(one, threads=1, runs=6)
    again = trials.run(one, threads=2, runs=6)
    assert np.array_equal(seen.separated, again.separated)
    closed = trials.run(one, quick=True, runs=6)
    assert seen.detected.mean() == pytest.approx(closed.detected.mean(), abs=0.3)
    assert (seen.separated <= seen.detected).all()


@pytest.mark.parametrize("quick", [True, False])
def test_roll_loses_fish_in_closed_form_and_in_simulation(quick):
    rolling = TRIP.replace('wind = "8 kn"', 'wind = "8 kn"\nroll = {{ amplitude = "40 deg", period = "4 s" }}')
    seen = [
        trials.run(replace_elements(inputs.parse(text.format(speed="20 kn")), 1), quick=quick, threads=1, runs=6)
        for text in (TRIP, rolling)
    ]
    level, rolled = (one.detected.mean() for one in seen)
    assert level > 0.9
    assert rolled < level - 0.15


def replace_elements(whole, count):
    shallow = whole.day.model_copy(update={"depth": (15.0, 15.0)})
    return whole.model_copy(update={"element": whole.element[:count], "day": shallow})


def test_ties_have_no_rank(quick):
    tied = tuple(replace(r, ties_with=(1,)) if not i else r for i, r in enumerate(quick.ranked))
    assert [pipeline._rank(tied, place) for place in (0, 1, 2)] == ["tie", "tie", "3"]


def test_a_typed_trip_is_a_trip_file():
    made = inputs.parse(trip_file(Typed("150..250 ft", ("grouper-like, 2 ft, tight to a wreck",), "drifting", "rock")))
    assert made.day.depth == pytest.approx((150 * 0.3048, 250 * 0.3048))
    assert (made.day.sediment, made.day.own, made.day.wreck is not None) == ("rock", "none", True)
    assert made.species[0].length.mean == pytest.approx(2 * 0.3048)
    assert made.species[0].strength_model == "shape-largemouth-bass"  # that of the body plan
    assert pipeline.units_of(made) == "ft"
    top = inputs.parse(trip_file(Typed("1500 ft", ("tuna, 1 m, top 100 ft",), "8 kn", "mud")))
    assert top.species[0].where.depth == pytest.approx((1.0, 100 * 0.3048))


@pytest.mark.parametrize(
    ("words", "where"),
    [
        ("cod, 60 cm, 1..3 ft off the bottom", {"above_bottom": (0.3048, 0.9144)}),
        ("cod, 60 cm, 1 to 3 ft above bottom", {"above_bottom": (0.3048, 0.9144)}),
        ("cod, 2', a foot off the bottom", {"above_bottom": (0.3048, 0.3048)}),
        ('bait, 8", at 60 ft', {"depth": (18.288, 18.288)}),
        ("cod, 60 cm, at 10..20 m", {"depth": (10.0, 20.0)}),
        ("cod, 60 cm, 10 m down", {"depth": (10.0, 10.0)}),
        ("perch, 30 cm, suspended", {"column": (0.2, 0.8)}),
        ("cod, 60 cm, on the bottom", {"above_bottom": (0.2, 0.8)}),
        ("cod, 60 cm, 1 m above the wreck", {"above": (1.0, 1.0)}),
    ],
)
def test_places_of_fish_in_an_anglers_words(words, where):
    found = inputs.parse(trip_file(Typed("30 m", (words,)))).species[0].where
    assert {key: pytest.approx(getattr(found, key)) for key in where} == where


def test_a_school_in_an_anglers_words():
    words = "school of herring, 12 cm, 8 m across, 3 m thick, at 10..20 m"
    size = inputs.parse(trip_file(Typed("30 m", (words,)))).species[0].size
    assert (size.across, size.along, size.height) == pytest.approx((8.0, 8.0, 3.0))


@pytest.mark.parametrize("ground", ["slope", "ledge", "wreck", "reef", "weed"])
def test_every_kind_of_ground_is_in_the_days_scenario(ground):
    made = inputs.parse(trip_file(Typed("20 m", (f"perch, 30 cm, near a {ground}",), roll="by wind")))
    found = day.scenario(made, 20.0)
    there = {
        "slope": found.seabed.slope.across == 10.0,
        "ledge": found.seabed.profile is not None,
        "wreck": [s.shape.kind for s in found.structure] == ["box"],
        "reef": [s.shape.kind for s in found.structure] == ["reef"],
        "weed": [layer.name for layer in found.scattering_layer] == ["weed"],
    }
    assert [name for name, is_there in there.items() if is_there] == [ground]
    assert found.boat.motion == "by wind"


def test_fish_over_a_reef_hold_over_its_top():
    made = inputs.parse(trip_file(Typed("40 m", ("perch, 30 cm, over a reef",))))
    assert day.species(made, made.species[0], 40.0).depth == pytest.approx((40 - 3 - 4, 40 - 3 - 0.5))


def test_fish_in_mid_water_are_in_the_middle_of_each_water():
    made = inputs.parse(trip_file(Typed("20..900 ft", ("tuna, 1 m, mid-water",))))
    for depth in (6.0, 250.0):
        assert day.species(made, made.species[0], depth).depth == pytest.approx((max(0.2 * depth, 1.1), 0.8 * depth))


@pytest.mark.parametrize(
    ("fish", "begins"),
    [
        ("perch, 30 cm, near a wreck", "First answer, from formulas: Fish"),
        (
            "perch school, 12 cm, 8 m wide, 3 m high, near a wreck",
            "First answer, from formulas that leave the wreck out:",
        ),
    ],
)
def test_the_first_answer_begins_with_what_formulas_leave_out(fish, begins):
    """Beside single fish the wreck is in the formulas, beside schools it is not."""
    made = inputs.parse(trip_file(Typed("15 m", (fish,))).replace('"all"', '["high-pencil"]'))
    assert answers.first(pipeline.judge(made, quick=True)).startswith(begins)


def test_answers_come_in_the_units_that_are_asked_for():
    text = trip_file(Typed("60 ft", ("perch, 30 cm",)))
    assert pipeline.units_of(inputs.parse(text)) == "ft"
    assert pipeline.units_of(inputs.parse(text, changes={"units": "fathoms"})) == "fathoms"


WRONG = [
    {"depth": "deep"}, {"species": ("perch",)}, {"species": ("perch, 30 kn",)}, {"species": ("perch, 3 cm, in holes",)},
    {"species": ("bait school, 3 in",)}, {"species": ("a, 3 in, near a reef", "b, 3 in, near a wreck")},
    {"speed": "fast"}, {"bottom": "sand"}, {"ground": "recf"}, {"wind": "gale"}, {"water": "river"}, {"roll": "a lot"},
]  # fmt: skip


@pytest.mark.parametrize("wrong", WRONG, ids=lambda wrong: next(iter(wrong)))
def test_a_word_that_is_not_understood_is_refused_with_what_is_allowed(wrong):
    with pytest.raises(ScenarioError, match=f"--{next(iter(wrong))}: found .*; allowed: "):
        trip_file(Typed(**({"depth": "20 m", "species": ("perch, 30 cm",)} | wrong)))


def test_the_first_place_is_told_with_what_it_depends_on():
    asked = inputs.parse(
        'title = "a"\n[day]\ndepth = ["20 m", "20 m"]\nsediment = "sandy mud"\ntemperature = 11\nsalinity = 0\n'
        '[[species]]\nname = "perch"\n'
        'swimbladder = "closed"\nlength = "30 cm"\nwhere = { above_bottom = ["0.2 m", "0.4 m"] }\n'
        '[candidates]\nelements = ["high-pencil", "low-pencil"]\npairs = true\n'
    )
    match = pipeline.judge(asked, quick=True)
    best, other = ranking.advised(match.ranked), depends.rival(match.ranked)
    assert [match.hits.elements[i] for i in match.ranked[best].members] == ["high-pencil"]
    assert [match.hits.elements[i] for i in match.ranked[other].members] == ["low-pencil"]
    names = depends.depends_on(asked, match.hits, match.ranked, match.weights)
    assert names == ()  # its cell is a quarter of the other's: no assumption undoes that
    assert depends.in_words(names, "a", "b").startswith("a stays ahead of b even if ")
    assert depends.in_words(("pulse",), "a", "b") == (
        "b takes the first place if these assumptions change: the filter's side lobes (equalised instead of matched)."
    )
    assert pipeline.as_data(match)["depends_on"] is None


@pytest.mark.parametrize("typed", ["30", "30..40", "30 to 40"])
def test_a_typed_depth_without_its_unit_is_refused_and_says_so(typed):
    from pingwright.inputs.typed import span

    with pytest.raises(ScenarioError) as refused:
        span(typed, "--depth")
    assert f'a depth with its unit, such as "{typed} m", "{typed} ft"' in str(refused.value)
