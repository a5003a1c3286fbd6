"""The bench without a browser: the shape of the ground, one fish of a group by itself, and what can be dragged."""

import base64
import json

import numpy as np
import pytest
from pingwright import recording
from pingwright.bench import alone, session
from pingwright.bench.grounds import Grounds
from pingwright.errors import ScenarioError
from pingwright.inputs import scenario
from pingwright.inputs.writing import toml_text
from pingwright.measure.groups import of_record
from test_bench import SMALL, Tab

THREE = SMALL.replace("count = 2", "count = 3") + (
    '[[fish]]\nname = "higher"\nswimbladder = "open"\nlength = "30 cm"\n'
    'where = { x = "0 m", y = "0 m", depth = "6 m" }\ncount = 1\n'
)


def opened(tab, text):
    (shown,) = tab.ask(do="open", name="s.toml", data=base64.b64encode(text.encode()).decode())
    assert shown["kind"] == "picture", shown
    return shown


@pytest.fixture(scope="module")
def tab():
    return Tab()


def data(tab):
    return tab.session.state[0].data


def knobs(shown):
    return {one["key"]: one for kind in ("sliders", "choices") for one in shown["knobs"][kind]}


# The shape of the ground


def test_flat_ground_becomes_a_ledge_that_moves_and_grows_and_becomes_flat_again(tab):
    first = opened(tab, 'units = "m"\n' + SMALL)
    assert knobs(first)["seabed.shape"]["value"] == "flat"
    (shown,) = tab.ask(do="change", set={"seabed.shape": "ledge"})
    # 3 m high, its face 60 deg steep, over the middle of the track, the deep side as deep as the flat ground was.
    half = 3.0 / np.tan(np.radians(60)) / 2
    (x0, top), (x1, foot) = scenario.parse(toml_text(data(tab)), "s.toml", {}).seabed.profile
    assert (x0, x1, top, foot) == pytest.approx((-half, half, 9.0, 12.0), abs=1e-3)
    assert {"seabed.ledge.depth", "seabed.ledge.height", "seabed.ledge.place"} <= knobs(shown).keys()
    assert "seabed.depth" not in knobs(shown)
    ground = np.array(shown["section"]["ground"])
    assert ground[0, 1] == pytest.approx(9.0, abs=0.1)
    assert ground[-1, 1] == pytest.approx(12.0, abs=0.1)
    (ledge,) = [h for h in shown["handles"] if h["kind"] == "ledge"]
    assert np.array(ledge["points"]) == pytest.approx(np.array([[x0, top], [x1, foot]]))
    for key, value in (("height", "1.5 m"), ("place", "1 m"), ("depth", "14 m")):
        tab.ask(do="change", set={f"seabed.ledge.{key}": value})
    written = data(tab)["seabed"]["profile"]
    assert written == [["0.56699 m", "12.5 m"], ["1.433 m", "14 m"]]
    tab.ask(do="change", set={"seabed.shape": "flat"})
    assert data(tab)["seabed"]["depth"] == "14 m"
    assert "profile" not in data(tab)["seabed"]


def test_a_slope_goes_and_comes_and_what_the_user_typed_stays(tab):
    opened(tab, 'units = "ft"\n' + SMALL.replace('depth = "12 m"', 'depth = "40 ft"\nslope = { along = "3 deg" }'))
    (shown,) = tab.ask(do="change", set={"seabed.shape": "flat"})
    assert knobs(shown)["seabed.shape"]["value"] == "flat"
    assert data(tab)["seabed"]["depth"] == "40 ft"
    tab.ask(do="change", set={"seabed.shape": "slope"})
    assert data(tab)["seabed"]["slope"] == {"across": "10 deg"}
    tab.ask(do="change", set={"seabed.shape": "ledge"})
    assert [pair[1] for pair in data(tab)["seabed"]["profile"]] == ["30 ft", "40 ft"]


@pytest.mark.parametrize("changes", [
    {"seabed.shape": "hole"}, {"seabed.shape": []}, {"seabed.ledge.height": "3 m"}, {"seabed.ledge.colour": "3 m"},
])  # fmt: skip
def test_a_shape_that_is_none_is_refused(tab, changes):
    opened(tab, SMALL)
    before = dict(data(tab))
    (answer,) = tab.ask(do="change", set=changes)
    assert answer["kind"] == "refused"
    assert data(tab) == before


@pytest.mark.parametrize(("key", "value"), [
    ("height", "0 m"), ("height", "-3 m"), ("height", "40 m"), ("height", "3 kHz"), ("height", None), ("place", {}),
    ("depth", "1 m"), ("depth", 1e999),
])  # fmt: skip
def test_a_ledge_that_cannot_be_is_refused(tab, key, value):
    opened(tab, SMALL.replace('depth = "12 m"', 'profile = [["0 m", "10 m"], ["1 m", "12 m"]]'))
    before = dict(data(tab))
    (answer,) = tab.ask(do="change", set={f"seabed.ledge.{key}": value})
    assert answer["kind"] == "refused"
    assert data(tab) == before


# One fish by itself


def places(shown, name="fish"):
    return [(f["x"], f["y"], f["depth"]) for f in shown["section"]["fish"] if f["name"] == name]


def handle(shown, number):
    return next(h for h in shown["handles"] if h["kind"] == "fish" and h["entry"] == number)


def test_one_fish_leaves_its_group_and_nothing_else_moves(tab):
    first = opened(tab, THREE)
    group = handle(first, 1)
    assert (group["numbers"], group["next"], group["alone"]) == ([1, 2, 3], 3, True)
    x, y, _ = places(first)[1]
    own = {"x": f"{x + 0.2} m", "y": f"{y} m", "above_bottom": "1.4 m"}
    move = {"fish": 2, "entry": 3, "length": "30 cm", "where": own}
    (shown,) = tab.ask(do="change", set={"fish.1.alone": move})
    assert data(tab)["fish"][0] == {**tomllib_fish(THREE, 0), "without": [2]}
    assert data(tab)["fish"][2] == {
        "name": "fish", "swimbladder": "closed", "length": "30 cm", "count": 1, "where": own,
    }  # fmt: skip
    assert "count = 3\nwithout = [2]\n" in toml_text(data(tab)), "beside its count"
    moved = places(shown)
    assert moved[:2] == [places(first)[0], places(first)[2]]
    assert moved[2] == pytest.approx((x + 0.2, y, 12.0 - 1.4), abs=2e-3)
    assert places(shown, "higher") == places(first, "higher")
    assert handle(shown, 1)["numbers"] == [1, 3]
    assert len(shown["elements"][0]["marks"]) == 3, "fish of one name are one group"
    # While it is dragged on, the same message with another place moves the fish that is alone already.
    again = move | {"where": own | {"above_bottom": "2 m"}}
    (shown,) = tab.ask(do="change", set={"fish.1.alone": again})
    assert len(data(tab)["fish"]) == 3
    assert places(shown)[2][2] == pytest.approx(10.0, abs=2e-3)
    for _ in range(2):
        (shown,) = tab.ask(do="undo")
    assert places(shown) == places(first)


def tomllib_fish(text, place):
    import tomllib

    return tomllib.loads(text)["fish"][place]


def test_a_fish_that_is_lifted_away_stays_in_the_picture_and_the_count_of_its_group(tab):
    """A scene of one group: without the other table its fish would be split by height."""
    opened(tab, SMALL.replace("count = 2", "count = 3").replace('above_bottom = "1 m"', 'above_bottom = "0.3 m"'))
    where = {"x": "0 m", "y": "0 m", "above_bottom": "3 m"}
    move = {"fish": 2, "entry": 2, "length": "30 cm", "where": where}
    (shown,) = tab.ask(do="change", set={"fish.1.alone": move})
    marks = shown["elements"][0]["marks"]
    assert sorted(round(mark["y"], 1) for mark in marks) == [0.3, 0.3, 3.0]
    assert max(shown["zone"]["down"]) > 3.0
    assert shown["elements"][0]["verdict"].endswith("3")


def test_the_others_echo_as_before_bit_by_bit():
    """The pings of two of three fish, and those of the third from a file of its own."""
    before, after = (
        recording.built(scenario.parse(text, "s.toml", {}))[1]
        for text in (THREE, THREE.replace("count = 3", "count = 3\nwithout = [2]"))
    )
    stays = before.discrete.owner != 1
    for name in ("position", "axis", "amplitude", "phase"):
        one, other = (getattr(w.discrete.scatterers, name) for w in (before, after))
        assert np.array_equal(one[..., stays], other)
    assert after.discrete.owner.max() == before.discrete.owner.max() - 1
    kept = before.contents.stocks[0], after.contents.stocks[0]
    assert np.array_equal(kept[0].key[[0, 2]], kept[1].key)
    assert np.array_equal(kept[0].length[[0, 2]], kept[1].length)


@pytest.mark.parametrize("wrong", [
    {"fish": 4}, {"fish": "x"}, {"fish": 0}, {"entry": 2}, {"entry": 9}, {"entry": None}, {"where": None},
    {"where": {"x": "0 m"}},
])  # fmt: skip
def test_a_fish_that_is_not_there_cannot_be_taken(tab, wrong):
    opened(tab, THREE)
    before = dict(data(tab))
    right = {"fish": 2, "entry": 3, "length": "30 cm", "where": {"x": "0 m", "y": "0 m", "above_bottom": "1 m"}}
    for value in (right | wrong, "x", None, 7):
        (answer,) = tab.ask(do="change", set={"fish.1.alone": value})
        assert answer["kind"] == "refused"
        assert len(answer["text"]) > 10
    assert data(tab) == before


def test_fish_by_density_are_not_taken_apart(tab):
    spread = SMALL.replace('above_bottom = "1 m"', 'above_bottom = ["1 m", "3 m"]')
    shown = opened(tab, spread.replace("count = 2", 'density = "3 per m3"'))
    assert not handle(shown, 1)["alone"]
    (answer,) = tab.ask(do="change", set={"fish.1.alone": {"fish": 1, "entry": 2, "where": {}}})
    assert "density" in answer["text"]


def test_a_fish_of_a_group_of_many_lengths_keeps_its_own(tab):
    shown = opened(
        tab, THREE.replace('length = "30 cm"\ncount = 3', 'length = { mean = "30 cm", sd = "5 cm" }\ncount = 3')
    )
    long = shown["section"]["fish"][0]["length"]
    where = {"x": "0 m", "y": "0 m", "above_bottom": "1 m"}
    move = {"fish": 1, "entry": 3, "length": f"{long} m", "where": where}
    (shown,) = tab.ask(do="change", set={"fish.1.alone": move})
    assert shown["section"]["fish"][-1]["length"] == pytest.approx(long, abs=1e-3)
    assert data(tab)["fish"][2]["length"] == f"{long} m"


def test_the_saved_scene_with_a_fish_alone_gives_the_counts_that_were_shown(tab, tmp_path):
    from pingwright.run import pipeline

    opened(tab, THREE)
    where = {"x": "0.3 m", "y": "0 m", "above_bottom": "0.1 m"}
    tab.ask(do="change", set={"seabed.shape": "ledge"})
    (shown,) = tab.ask(do="change", set={"fish.1.alone": {"fish": 3, "entry": 3, "length": "1 m", "where": where}})
    (file,) = tab.ask(do="save", what="scenario")
    path = tmp_path / file["name"]
    path.write_bytes(base64.b64decode(file["data"]))
    results = pipeline.run(path, tmp_path / "out", threads=1, no_pictures=True)
    summary = json.loads((results.folder / "summary.json").read_text())
    marks = [mark["mark"] for mark in shown["elements"][0]["marks"]]
    (group,) = [g for g in summary["elements"][0]["groups"] if g["name"] == "fish"]
    assert [group[kind] for kind in ("separated", "merged", "not_shown")] == [
        marks.count(kind) for kind in ("separated", "merged", "not_shown")
    ]
    assert len(marks) == 3


# Which fish the pictures are about


def test_a_touched_group_is_the_one_that_is_shown(tab):
    shown = opened(tab, THREE)
    assert (shown["zone"]["title"], shown["entry"]) == ("fish", 1)
    assert {h["entry"] for h in shown["handles"] if h["kind"] == "fish"} == {1, 2}
    (shown,) = tab.ask(do="group", entry=2)
    assert (shown["zone"]["title"], shown["entry"]) == ("higher", 2)
    assert shown["answer"][0]["text"].startswith("20 ft")  # 6 m over the ground
    assert "fish.2.where.depth" in knobs(shown)
    (shown,) = tab.ask(do="change", set={"fish.1.where.x": ["-1 m", "0.9 m"]})
    assert (shown["zone"]["title"], shown["entry"]) == ("fish", 1)
    tab.ask(do="group", entry=2)
    after: list = []
    session.Session(tab, tab, Grounds(), after.append, None, tab.session.state).start()
    assert after[-1]["entry"] == 2, "a reload is about the same fish"
    for wrong in (0, 3, "x", None):
        (answer,) = tab.ask(do="group", entry=wrong)
        assert answer["kind"] == "refused"


def test_tables_of_fish_hold_every_fish_once():
    prepared = recording.prepare(scenario.parse(THREE.replace("count = 3", "count = 3\nwithout = [1, 2, 3]"), "s", {}))
    assert [t.tolist() for t in alone.tables(prepared)] == [[], [0]]
    assert [g.name for g in of_record(recording.in_memory(prepared))] == ["higher"]


@pytest.mark.parametrize(("keys", "says"), [
    ("count = 3\nwithout = [4]", "allowed: 1 to 3"), ("count = 3\nwithout = [2, 2]", "each once"),
    ('density = "1 per m3"\nwithout = [1]', "beside count"), ("count = 3\nwithout = [0]", "whole number"),
    ("count = 3\nwithout = 2", "without"),
])  # fmt: skip
def test_a_fish_that_is_not_there_cannot_be_left_out(keys, says):
    with pytest.raises(ScenarioError) as error:
        scenario.parse(THREE.replace("count = 3", keys), "s.toml", {})
    assert says in str(error.value)


def test_fish_under_the_ground_are_said_to_be_there(tab):
    text = 'units = "m"\n' + SMALL.replace('above_bottom = "1 m"', 'depth = "14 m"')
    shown = opened(tab, text)
    assert shown["answer"][0]["text"].startswith("2.0 m (6.6 ft) under the bottom, ")
    assert [r["text"] for r in shown["elements"][0]["reasons"]] == ["under the ground"]
    assert any("below the seabed" in note for note in shown["warnings"])
