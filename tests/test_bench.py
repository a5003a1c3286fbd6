"""The bench without a browser: tables, the last change wins, certainty, and a server that lets nobody else in."""

import asyncio
import base64
import json
import re
import threading
import tomllib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pingwright import recording
from pingwright.bench import firstlook, knobs, moments, own, session
from pingwright.bench.grounds import Grounds, run_of
from pingwright.bench.tables import Tables
from pingwright.bench.work import StoppedError, Worker
from pingwright.errors import ScenarioError
from pingwright.inputs import scenario
from pingwright.inputs.writing import toml_text
from pingwright.measure import certainty
from pingwright.measure.assess import assess
from scipy.stats import binomtest

SMALL = """
title = "Small"
[water]
temperature = 11
salinity = 35
[boat]
length = "4 m"
start = "-2 m"
[[element]]
name = "high"
use = "high-pencil"
[seabed]
depth = "12 m"
[[seabed.layer]]
sediment = "gravel"
[[fish]]
name = "fish"
swimbladder = "closed"
length = "30 cm"
count = 2
where = { x = ["-1 m", "1 m"], y = ["-0.2 m", "0.2 m"], above_bottom = "1 m" }
"""


# Tables


def test_a_change_sets_adds_and_takes_away_and_can_be_undone():
    tables = Tables(SMALL, {})
    tables.keep(tables.edited({"seabed.depth": "20 m", "element.2": {"name": "low", "use": "low-pencil"}}))
    assert tables.data["seabed"]["depth"] == "20 m"
    assert [e["name"] for e in tables.data["element"]] == ["high", "low"]
    tables.keep(tables.edited({"element.1": None, "boat.roll": {"amplitude": 3, "period": 5}}))
    assert [e["name"] for e in tables.data["element"]] == ["low"]
    assert tables.undo()
    assert tables.undo()
    assert tables.data == tomllib.loads(SMALL)
    assert not tables.undo()
    assert tables.redo()
    assert tables.data["seabed"]["depth"] == "20 m"


def test_all_changes_of_one_drag_are_one_step_back():
    tables = Tables(SMALL, {})
    for gesture, depth in ((1, "13 m"), (1, "14 m"), (1, "15 m"), (2, "16 m"), (None, "17 m"), (None, "18 m")):
        tables.keep(tables.edited({"seabed.depth": depth}), gesture)
    seen = []
    while tables.undo():
        seen.append(tables.data["seabed"]["depth"])
    assert seen == ["17 m", "16 m", "15 m", "12 m"]
    tables.keep(tables.edited({"seabed.depth": "20 m"}), 2)
    tables.undo()
    tables.keep(tables.edited({"seabed.depth": "21 m"}), 2)
    assert tables.undo()
    assert tables.data["seabed"]["depth"] == "12 m", "a gesture ends where one goes back"


@pytest.mark.parametrize("path", ["element.9.name", "title.x", "element.x", "fish.0.count", "seabed.depth.deep"])
def test_a_path_that_leads_nowhere_is_refused(path):
    tables = Tables(SMALL, {})
    with pytest.raises(ScenarioError):
        tables.edited({path: 1})
    assert tables.data == tomllib.loads(SMALL)


# The worker


def test_the_last_picture_wins_and_passes_give_way():
    failures, order, started, go = [], [], threading.Event(), threading.Event()
    worker = Worker(failures.append)

    def first(stop):
        started.set()
        go.wait(5)
        order.append(("first", stop.wanted))
        return False

    def picture(name):
        return lambda _: bool(order.append((name, False)))

    done = threading.Event()

    def passes(_):
        order.append(("pass", False))
        if sum(name == "pass" for name, _ in order) == 3:
            done.set()
            return False
        return True

    worker.picture("tab", first)
    assert started.wait(5)
    worker.picture("tab", picture("second"))
    worker.picture("tab", picture("third"))
    worker.passes("other", passes)
    go.set()
    assert done.wait(5)
    worker.close()
    assert order == [("first", True), ("third", False), ("pass", False), ("pass", False), ("pass", False)]
    assert failures == []


def test_a_job_that_fails_stops_nothing():
    failures, ran = [], threading.Event()
    worker = Worker(failures.append)
    worker.picture("a", lambda _: 1 / 0)
    worker.picture("b", lambda _: bool(ran.set()))
    assert ran.wait(5)
    worker.close()
    assert [type(error) for error in failures] == [ZeroDivisionError]


# Certainty


@given(st.integers(1, 60), st.integers(0, 60))
def test_with_one_fish_a_pass_it_is_the_wilson_interval(n, hits):
    hits = min(hits, n)
    found = certainty.over([1] * hits + [0] * (n - hits), [1] * n)
    # Source: Wilson (1927), as scipy.stats.binomtest computes it. One fish a pass has a design effect of n / (n - 1).
    low, high = binomtest(hits, n).proportion_ci(0.95, "wilson")
    assert found.design_effect <= n / max(n - 1, 1) + 1e-9
    assert found.low <= low + 1e-9
    assert found.high >= high - 1e-9
    assert found.high - found.low <= 1.2 * (high - low) + 0.02


def test_fish_that_fail_together_widen_it():
    together = certainty.over([3, 0] * 10, [3] * 20)
    apart = certainty.over([1, 2] * 10, [3] * 20)
    assert together.value == apart.value == 0.5
    # Perfect agreement within passes of three: each pass counts as one fish, the design effect is 3 x 20 / 19.
    assert together.design_effect == pytest.approx(3 * 20 / 19)
    assert apart.design_effect == 1.0
    assert together.high - together.low > 1.5 * (apart.high - apart.low)


def test_without_fish_there_is_no_share():
    with pytest.raises(ValueError, match="no pass"):
        certainty.over([0, 0], [0, 0])


# Moments


@pytest.mark.parametrize("moment", moments.MOMENTS, ids=lambda m: m.title)
def test_each_moment_is_a_right_scenario_with_words_and_a_thing_to_try(moment):
    read = scenario.parse(moment.text, "moment.toml", {})
    assert 2 <= len(read.element) <= 4
    assert moment.try_.endswith(".")
    assert len(re.findall(r"\.(?: |$)", moment.words)) == 2, "two sentences"


def test_there_are_ten():
    assert len(moments.MOMENTS) == 10


# A tab


class Tab:
    """A session whose answers are kept; pictures are made at once."""

    def __init__(self):
        self.answers = []
        self.session = session.Session(self, self, Grounds(), self.answers.append, (SMALL, {}))
        self.session.start()

    def picture(self, _, job):
        job(session.Stop())

    def passes(self, _, job):
        while job(session.Stop()):
            pass

    def end(self, _):
        pass

    def ask(self, **message):
        self.answers.clear()
        self.session.receive(json.dumps({"serial": 7} | message))
        return [answer for answer in self.answers if answer["kind"] != "look"]


@pytest.fixture(scope="module")
def tab():
    return Tab()


def test_it_answers_with_everything_a_browser_draws(tab):
    (shown,) = tab.ask(do="units", units="m")
    json.dumps(shown, allow_nan=False)
    assert shown["serial"] == 7
    element = shown["elements"][0]
    assert len(element["marks"]) == 2
    assert element["verdict"].endswith("2")
    assert element["chip"]["rows"] * element["chip"]["columns"] > 1000
    assert {slider["key"] for slider in shown["knobs"]["sliders"]} >= {"seabed.depth", "fish.1.where.above_bottom"}


def test_a_school_can_be_made_longer_and_the_ground_tilted_both_ways():
    text = (
        SMALL
        + """
[[school]]
name = "bait"
swimbladder = "open"
length = "10 cm"
at = { x = "0 m", y = "0 m", depth = "6 m" }
size = { along = "3 m", across = "2 m", height = "1 m" }
density = "2 per m3"
"""
    )
    tables = Tables(text, {})
    made = {k["key"]: k for k in knobs.knobs(scenario.parse(text, "s.toml", {}), tables.data, 0, False)["sliders"]}
    assert made["school.1.size.along"]["value"] == 3.0
    assert {"seabed.slope.along", "seabed.slope.across"} <= made.keys()
    for key, value in {"school.1.size.along": "6 m", "seabed.slope.along": "3 deg"}.items():
        tables.keep(tables.edited({key: value}))
    read = scenario.parse(toml_text(tables.data), "s.toml", {})
    assert (read.school[0].size.along, read.seabed.slope.along) == (6.0, 3.0)


@pytest.mark.parametrize(("along", "across", "shape"), [(20.0, 20.0, "disc"), (40.0, 12.0, "ellipse")])
def test_an_element_of_ones_own_has_the_beam_that_was_asked_for(along, across, shape):
    """2 J1(x)/x, the pattern of a piston, is at half power where x = 1.6163; an ellipse has that on each axis."""
    tables, scene = Tables(SMALL, {}), scenario.parse(SMALL, "s.toml", {})
    changes = own.whole({"element.1.beam": [f"{along} deg", f"{across} deg"]}, lambda: scene)
    face = changes["element.1.face"]
    assert face["shape"] == shape
    speed = 1449.2 + 4.6 * 11 - 0.055 * 11**2 + 0.00029 * 11**3  # m/s, Medwin 1975 at 11 degC, 35 g/kg, 0 m
    sizes = [1.6163 * speed / 170e3 / np.pi / np.sin(np.radians(width / 2.0)) for width in (along, across)]
    keys = ("diameter", "diameter") if shape == "disc" else ("along", "across")
    assert [float(face[key].removesuffix(" mm")) for key in keys] == pytest.approx([1e3 * s for s in sizes], rel=0.001)
    made = scenario.parse(toml_text(tables.edited(changes)), "s.toml", {})
    element = recording.built(made)[2][0]
    assert element.beamwidth(170e3) == pytest.approx((along, across), rel=0.01)


def test_a_tone_stays_in_the_middle_of_its_band():
    scene = scenario.parse(SMALL, "s.toml", {})
    made = own.whole({"element.1.pulse_kind": "tone"}, lambda: scene)
    assert made == {"element.1.pulse": {"tone": "170 kHz"}}
    tone = scenario.parse(
        SMALL.replace('use = "high-pencil"', 'use = "high-pencil"\npulse = { tone = "170 kHz" }'), "s", {}
    )
    made = own.whole({"element.1.band": ["100 kHz", "210 kHz"]}, lambda: tone)
    assert made["element.1.pulse.tone"] == "155 kHz"


@pytest.mark.parametrize("changes", [
    {"element.7.beam": ["8 deg", "8 deg"]},
    {"element.1.beam": ["0 deg", "8 deg"]},
    {"element.1.beam": ["8 deg", "1e9 deg"]},
    {"element.1.beam": "8 deg"},
    {"element.1.beam": ["8 kHz", "8 deg"]},
    {"element.1.band": ["200 kHz", "100 kHz"]},
    {"element.1.band": [{}, []]},
])  # fmt: skip
def test_a_wrong_beam_or_band_says_why_and_changes_nothing(tab, changes):
    before = dict(tab.session.state[0].data)
    (answer,) = tab.ask(do="change", set=changes)
    assert answer["kind"] == "refused"
    assert len(answer["text"]) > 20
    assert tab.session.state[0].data == before


def test_an_echogram_file_is_opened_by_the_scenario_in_it(tab, tmp_path):
    from pingwright.run import pipeline

    (tmp_path / "s.toml").write_text(SMALL.replace('depth = "12 m"', 'depth = "11 m"'))
    results = pipeline.run(tmp_path / "s.toml", tmp_path / "out", threads=1, no_pictures=True)
    content = base64.b64encode((results.folder / "echograms.h5").read_bytes()).decode()
    (shown,) = tab.ask(do="open", name="echograms.h5", data=content)
    assert tab.session.state[0].data["seabed"]["depth"] == "11 m"
    assert shown["kind"] == "picture"
    (answer,) = tab.ask(do="open", name="other.h5", data=base64.b64encode(b"no HDF5 at all").decode())
    assert answer["kind"] == "refused"
    assert answer["text"].startswith("other.h5")
    tab.ask(do="open", name="s.toml", data=base64.b64encode(SMALL.encode()).decode())


def test_a_session_goes_on_from_the_state_of_another(tab):
    tab.ask(do="change", set={"seabed.depth": "14 m"})
    answers = []
    again = session.Session(tab, tab, Grounds(), answers.append, None, tab.session.state)
    again.start()
    assert answers[-1]["changed"]
    assert {k["key"]: k["value"] for k in answers[-1]["knobs"]["sliders"]}["seabed.depth"] in {14.0, 45.93}
    tab.ask(do="again")


def test_the_counts_are_those_of_the_command(tab, tmp_path):
    from pingwright.run import pipeline

    (shown,) = tab.ask(do="units", units="ft")
    (file,) = tab.ask(do="save", what="scenario")
    path = tmp_path / file["name"]
    path.write_bytes(base64.b64decode(file["data"]))
    results = pipeline.run(path, tmp_path / "out", threads=1)
    summary = json.loads((results.folder / "summary.json").read_text())
    numbers = summary["elements"][0]["numbers"]
    marks = [mark["mark"] for mark in shown["elements"][0]["marks"]]
    assert numbers["fish_separated"]["value"] == marks.count("separated")


def test_heights_and_knobs_are_in_the_same_system_of_units(tab):
    """Fathoms are for depths: heights over the ground and lengths are then in feet, never in metres."""
    for units, heights in (("fathoms", [0.3048, "ft"]), ("ft", [0.3048, "ft"]), ("m", [1.0, "m"])):
        (shown,) = tab.ask(do="units", units=units)
        assert shown["zone"]["unit"] == heights
        lengths = {knob["unit"] for knob in shown["knobs"]["sliders"]} & {"m", "ft"}
        assert lengths == {heights[1]}


def test_a_change_the_schema_refuses_says_why_and_changes_nothing(tab):
    before = dict(tab.session._tables.data)
    (answer,) = tab.ask(do="change", set={"seabed.depth": "-3 m"})
    assert answer["kind"] == "refused"
    assert answer["keys"] == ["seabed.depth"]
    assert "seabed.depth" in answer["text"]
    assert tab.session._tables.data == before


@pytest.mark.parametrize(
    "message",
    [
        "", "no json", "[]", "null", '{"do": "dance"}', '{"do": "change"}', '{"do": "change", "set": [1]}',
        '{"do": 1}',         '{"do": "change", "set": {"a.b.c.d": {"x": [[[[]]]]}}}', '{"do": "moment", "number": "x"}',
        '{"do": "save", "what": "all"}',
        '{"do": "passes", "count": 1e99}', '{"do": "passes", "count": -1}',
        '{"do": "open", "name": "x.exe", "data": ""}',
        '{"do": "open", "name": "x.toml", "data": "%%"}', '{"do": "open", "name": "x.png", "data": "AAAA"}',
        "[" * 100_000,
        '{"do": "change", "set": {"seabed.depth": 1e999}}', '{"serial": "x", "do": "units", "units": "cubits"}',
        '{"do": "units", "units": [1]}', '{"do": "change", "set": {"boat.roll.amplitude": ""}}',
        '{"do": "change", "set": {"units": {}}}', '{"do": "change", "set": {"fish.1.count": 100000}}',
        '{"do": "change", "set": {"boat.length": "90 km"}}', '{"do": "change", "set": {"seabed.shape": {}}}',
        '{"do": "group", "entry": 1e9}', '{"do": "change", "set": {"fish.1.alone": {"fish": true, "entry": 2}}}',
        '{"do": "change", "set": {"fish.99999999999999999999.alone": {}}}',
        '{"do": "change", "gesture": {"a": []}, "set": {"seabed.profile.1": ["0 m", "1 m"]}}',
    ],
)  # fmt: skip
def test_absurd_messages_are_answered_and_change_nothing(tab, message):
    before = dict(tab.session._tables.data)
    tab.answers.clear()
    tab.session.receive(message)
    assert [answer["kind"] for answer in tab.answers] == ["refused"]
    assert "internal error" not in tab.answers[0]["text"]
    assert tab.session._tables.data == before


def test_an_error_of_our_own_is_answered_and_the_tab_stays_open(tab, monkeypatch):
    def fails(*_):
        raise KeyError

    monkeypatch.setattr(session.Session, "_scene", fails)
    (answer,) = tab.ask(do="units", units="m")
    assert answer["kind"] == "refused"
    assert "internal error" in answer["text"]
    monkeypatch.undo()
    monkeypatch.setattr(session.knobs, "knobs", fails)
    tab.answers.clear()
    tab.session.receive(json.dumps({"do": "units", "units": "ft"}))
    assert "internal error" in tab.answers[0]["text"]


def test_a_first_look_has_pings_of_the_whole_scene_and_counts_nothing(tab):
    # SMALL has 70 pings: 12 of them come first, then all of them, which are shown before they are judged. After a moved
    # fish all come at once.
    tab.answers.clear()
    tab.session.receive(json.dumps({"do": "change", "serial": 2, "set": {"seabed.depth": "15 m"}}))
    tab.session.receive(json.dumps({"do": "change", "serial": 3, "set": {"fish.1.where.above_bottom": "2 m"}}))
    assert [a["kind"] for a in tab.answers] == ["look", "look", "picture", "look", "picture"]
    look, every, whole, again, moved = tab.answers
    for unjudged, judged in ((every, whole), (again, moved)):
        assert unjudged["answer"][0]["text"] == "Judging all pings ..."
        assert all(e["verdict"] == "" and e["marks"] == [] for e in unjudged["elements"])
        assert [e["chip"]["cells"] for e in unjudged["elements"]] == [e["chip"]["cells"] for e in judged["elements"]]
    assert look["answer"][0]["text"].startswith(f"A first look: {firstlook.PINGS} of ")
    assert all(e["verdict"] == "" and e["marks"] == [] and e["chip"]["rows"] for e in look["elements"])
    assert all(e["verdict"] for e in whole["elements"])
    assert look["section"]["ground"] == whole["section"]["ground"]


@pytest.mark.parametrize(("text", "whole"), [(SMALL, False), (SMALL, True), (
    SMALL.replace('length = "4 m"', 'length = "8 m"\nin_turn = true')
    + '[[element]]\nname = "medium"\nuse = "medium-pencil"\n', False,
)], ids=["over its ground", "as a whole", "elements in turn"])  # fmt: skip
def test_pings_of_a_first_look_are_those_of_the_whole_scene(text, whole):
    prepared = Grounds().prepared(tomllib.loads(text), {})
    look = firstlook.record(prepared, run_of(prepared, whole=whole))
    for some, every in zip(look.elements, recording.in_memory(prepared, threads=1).elements, strict=True):
        rows = np.searchsorted(every.ping_time, some.ping_time)
        assert len(np.unique(rows)) == firstlook.PINGS
        levels = every.level()[rows]
        if whole:
            assert np.array_equal(some.level(), levels, equal_nan=True)
        else:
            assert_same_echo(some.level(), levels)


def assert_same_echo(level, other):
    """The engine states an error 80 dB under a ping's echo; the file's steps are 65 dB under each sample."""
    a, b = (np.nan_to_num(10 ** (np.asarray(each, dtype=float) / 20)) for each in (level, other))
    assert np.sum((a - b) ** 2) < 10**-6.5 * np.sum(b**2)


def test_work_that_nobody_waits_for_ends_between_pings():
    calls = []

    def progress(*_):
        calls.append(1)
        raise StoppedError

    with pytest.raises(StoppedError):
        Grounds().record(tomllib.loads(SMALL), {}, progress=progress)
    assert calls == [1]


def test_levels_over_a_kept_ground_are_those_of_the_whole_scene():
    data = tomllib.loads(SMALL)
    grounds = Grounds()
    grounds.record(data, {})
    data["fish"][0]["where"]["above_bottom"] = "2 m"
    kept, whole = grounds.record(data, {}), grounds.record(data, {}, keep=False)
    for one, other in zip(kept.elements, whole.elements, strict=True):
        assert_same_echo(one.level(), other.level())


WRECK = """
[[structure]]
name = "box"
shape = { kind = "box", length = "2 m", width = "2 m", height = "2 m" }
at = { x = "0 m", y = "1 m" }
material = "steel"
"""


@pytest.mark.parametrize("text", [SMALL + WRECK, SMALL.replace('"12 m"', '"12 m"\nslope = { across = "25 deg" }')],
                         ids=["beside a structure", "on steep ground"])  # fmt: skip
def test_fish_beside_things_are_judged_over_a_kept_ground_as_in_a_run(text):
    """The same rule, marks and reasons before and after a fish is moved to where nothing was heard yet."""
    grounds, rules = Grounds(), set()
    for height in ("1 m", "0.4 m", "5 m"):
        data = tomllib.loads(text.replace('above_bottom = "1 m"', f'above_bottom = "{height}"'))
        mine, whole = assess(grounds.record(data, {})), assess(grounds.record(data, {}, keep=False))
        for one, other in zip(mine.elements, whole.elements, strict=True):
            assert (one.mark, one.rule, one.reason) == (other.mark, other.rule, other.reason)
            rules |= set(one.rule)
    assert rules & {"structure", "ground"}
    assert not rules & {"unknown"}


def test_passes_end_with_shares_that_add_up(tab):
    answers = tab.ask(do="passes", count=5)
    assert [a["done"] for a in answers] == [1, 2, 3, 4, 5]
    share = answers[-1]["elements"][0]
    assert share["fish"] == 10
    assert 0 <= share["low"] <= share["value"] <= share["high"] <= 1
    assert "text" not in answers[0]["elements"][0]


def test_passes_without_fish_are_answered():
    tab = Tab()
    tab.ask(do="change", set={"fish.1.count": 0})
    (answer,) = tab.ask(do="passes", count=3)
    assert (answer["kind"], answer["text"]) == ("refused", "There is no single fish in this water")


# The server


async def _asked(server, path, **headers):
    from tornado.httpclient import AsyncHTTPClient

    address = f"http://127.0.0.1:{server.port}{path}"
    return await AsyncHTTPClient().fetch(address, headers=headers, raise_error=False)


async def _opens(server, path, origin):
    from tornado.httpclient import HTTPRequest
    from tornado.websocket import websocket_connect

    request = HTTPRequest(f"ws://127.0.0.1:{server.port}{path}", headers={"Origin": origin} if origin else {})
    try:
        channel = await websocket_connect(request)
    except Exception:
        return False
    channel.close()
    return True


def serving(check):
    async def run():
        from pingwright.bench.server import Server

        server = Server(0, (SMALL, {}))
        try:
            await check(server)
        finally:
            await server.stop()

    asyncio.run(run())


def test_only_the_token_opens_the_page_and_only_on_this_machine():
    async def check(server):
        page = await _asked(server, f"/{server.token}/")
        assert page.code == 200
        policy = page.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        for name in ("bench.js", "bench.css", "draw.js"):
            assert (await _asked(server, f"/{server.token}/{name}")).code == 200
        for path in ("/", "/x/", f"/{server.token}", f"/{server.token[:-1]}/", f"/{server.token}/server.py", "/live"):
            assert (await _asked(server, path)).code == 404, path
        assert (await _asked(server, f"/{server.token}/", Host="bench.example")).code == 403

    serving(check)


def test_only_its_own_page_opens_the_channel():
    async def check(server):
        own, live = f"http://127.0.0.1:{server.port}", f"/{server.token}/live"
        assert await _opens(server, live, own)
        for origin in ("", "http://example.org", "http://127.0.0.1", "null", f"https://127.0.0.1:{server.port}"):
            assert not await _opens(server, live, origin), origin
        assert not await _opens(server, "/wrong/live", own)

    serving(check)
