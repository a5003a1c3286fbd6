"""Loading, writing and changing scenarios."""

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pingwright.errors import ScenarioError
from pingwright.inputs import catalogue, changing, scenario, schema, starter

ROOT = Path(__file__).parent.parent
DEMOS = sorted((ROOT / "scenarios").glob("0*.toml"))

SCENE = """title = "t"
[water]
temperature = "11 degC"
salinity = 34.5
[[element]]
name = "narrow high"
use = "high-pencil"
[[element]]
name = "low. wide"
use = "low-pencil"
[seabed]
depth = "40 m"
[[seabed.layer]]
sediment = "mud"
thickness = "1 m"
[[seabed.layer]]
sediment = "gravel"
"""


def scene(extra: str = "", **lines: str) -> scenario.Scenario:
    return scenario.parse(SCENE + extra, "scene.toml")


def faults(text: str) -> dict[str, str]:
    with pytest.raises(ScenarioError) as caught:
        scenario.parse(text, "scene.toml")
    return {fault.path: fault.message for fault in caught.value.faults}


def test_defaults_are_those_of_the_contract() -> None:
    s = scene()
    assert (s.seed, s.note, s.water.acidity, s.water.wind) == (0, "", 8.0, 0.0)
    assert s.boat.speed == pytest.approx(3 * 1852 / 3600)
    assert (s.boat.start, s.boat.length, s.boat.transducer_depth, s.boat.in_turn) == (-50.0, None, 0.0, False)
    assert (s.boat.roll, s.boat.pitch, s.boat.heave, s.boat.ping_interval) == (None, None, None, None)
    assert (s.noise.ambient, s.noise.own, s.boat.crosstalk) == (True, "by speed", False)
    assert (s.units, s.passes, s.boat.motion, s.seabed.law, s.seabed.roughness) == (
        "m", None, None, "kirchhoff", "natural")  # fmt: skip
    assert (s.reverberation.second_echo, s.reverberation.surface_loss) == (True, 0.0)
    assert (s.water.assumed_sound_speed, s.window.depth) == (None, None)
    one = s.element[0]
    assert (one.pulse.kind, one.pulse.length, one.pulse.taper) == ("chirp", None, 0.5)
    assert (one.filter, one.finite_amplitude) == ("matched", True)
    assert (one.weighting, one.efficiency, one.tilt.along, one.tilt.across) == ("hann", 0.5, 0.0, 0.0)
    assert (one.edge_loss, one.noise_figure, one.saturation, one.cavitation_limit) == (None, None, None, False)


def test_structure_and_fish_defaults() -> None:
    s = scene("""
[[structure]]
name = "barge"
shape = { kind = "box", length = "30 m", width = "8 m", height = "4 m" }
[[fish]]
name = "f"
swimbladder = "closed"
length = "40 cm"
count = 1
where = { x = [-1, 1], y = [-1, 1], above_bottom = "0.3 m" }
""")
    assert (s.structure[0].heading, s.structure[0].material, s.structure[0].at.depth) == (0.0, "steel", None)
    fish = s.fish[0]
    assert (fish.length.mean, fish.length.sd, fish.tilt, fish.strength_model) == (0.4, 0.0, None, None)
    assert fish.where.above_bottom == (0.3, 0.3)


def test_entry_of_the_catalogue_is_overridden_key_by_key() -> None:
    s = scenario.parse(SCENE.replace('use = "high-pencil"', 'use = "high-pencil"\npower = "600 W"'))
    entry = catalogue.elements()["high-pencil"].keys
    assert s.element[0].power == 600.0
    assert s.element[0].band == (130e3, 210e3)
    assert entry["power"] == "1 kW"


def test_body_plan_is_overridden_key_by_key() -> None:
    s = scene("""
[[fish]]
name = "f"
body = "herring-like"
length = "10 cm"
density = "0.02 per m3"
where = { x = [-1, 1], y = [-1, 1], depth = ["5 m", "9 m"] }
""")
    fish = s.fish[0]
    assert (fish.swimbladder, fish.length.mean, fish.strength_model) == ("open", 0.1, "foote-1987")
    assert fish.density == 0.02


def test_contracts_example_is_read() -> None:
    text = CONTRACT
    s = scenario.parse(text, "contract.toml")
    assert s.water.wind == pytest.approx(5.14444, abs=1e-5)
    assert s.boat.roll is not None
    assert s.boat.roll.amplitude == 2.0
    assert s.structure[0].at.y == 2.0
    assert s.target[0].strength == -40.0
    assert s.noise.own == 54.0
    assert scenario.parse(scenario.to_toml(s), "again.toml") == s


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_demo_is_read_and_opens_with_three_comment_lines(path: Path) -> None:
    loaded = scenario.load(path)
    head = path.read_text(encoding="utf-8").split("\n")[:3]
    assert [line.split(":")[0] for line in head] == ["# What", "# New", "# See"]
    assert scenario.parse(scenario.to_toml(loaded), "again.toml", loaded.inputs) == loaded


def test_starter_is_read_and_its_commented_keys_are_right() -> None:
    text = starter.text()
    assert scenario.parse(text, "starter.toml").title
    opened = "\n".join(
        line[2:]
        if line.startswith("# ") and (" = " in line or line.startswith("# [")) and "LINES" not in line
        else line
        for line in text.split("\n")
    )
    opened = "\n".join(line for line in opened.split("\n") if not line.startswith(("A number", "A scenario")))
    whole = scenario.parse(opened, "opened.toml")
    assert whole.structure
    assert whole.boat.roll is not None


def test_every_fault_is_told_at_once_in_the_order_of_the_file() -> None:
    text = SCENE.replace("11 degC", "99 degC").replace("high-pencil", "hi-pencil").replace("gravel", "gravle")
    with pytest.raises(ScenarioError) as caught:
        scenario.parse(text, "scene.toml")
    numbers = [fault.line for fault in caught.value.faults]
    assert [fault.path for fault in caught.value.faults] == [
        "water.temperature",
        "element[1].use",
        "seabed.layer[2].sediment",
    ]
    assert numbers == sorted(numbers)
    assert all(fault.file == "scene.toml" for fault in caught.value.faults)


def test_keys_of_our_own_are_no_keys_of_the_file() -> None:
    for key in ("text", "name", "inputs"):
        assert key in faults(f'{key} = "x"\n{SCENE}')
    measured = SCENE.replace('use = "high-pencil"', 'use = "high-pencil"\nface = { shape = "table", pattern = {} }')
    assert "unknown key" in faults(measured)["element[1].face"]


# Changing, as the claims do.


def test_change_sets_keys_by_number_and_by_name() -> None:
    s = scenario.changed(
        scene(),
        {
            "seabed.depth": "58 m",
            "seabed.layer.1.sediment": "sandy mud",
            "element.narrow high.power": "600 W",
            "element.low. wide.face.diameter": "9 cm",
            "boat.roll": {"amplitude": "2 deg", "period": "5 s"},
            "noise.own": 35,
        },
    )
    assert s.seabed.depth == 58.0
    assert [layer.sediment for layer in s.seabed.layer] == ["sandy mud", "gravel"]
    assert s.element[0].power == 600.0
    assert s.element[1].face.diameter == 0.09  # type: ignore[union-attr]
    assert s.boat.roll is not None
    assert s.noise.own == 35.0
    assert scenario.parse(s.text, "again.toml") == s


def test_change_of_the_entry_brings_its_keys() -> None:
    s = scenario.changed(scene(), {"element.narrow high.use": "low-pencil"})
    assert s.element[0].band == s.element[1].band


def test_nothing_changed_is_the_same_scenario() -> None:
    assert scenario.changed(scene(), {}) == scene()


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("seabed.depht", "58 m", 'did you mean "depth"'),
        ("seabed.layer.3.sediment", "mud", "a number from 1 to 2"),
        ("element.narow high.power", "600 W", 'did you mean "narrow high"'),
        ("element.narrow high", "x", "whole table"),
        ("seabed.depth.more", "x", "single value"),
        ("seabed.depth", "58 kg", "the unit"),
        ("", 1, "not a key with dots"),
        ("seabed.", 1, "not a key with dots"),
        ("a" + ".a" * 100, 1, "not a key with dots"),
    ],
)
def test_change_that_leads_nowhere_is_refused(key: str, value: object, words: str) -> None:
    with pytest.raises(ScenarioError) as caught:
        scenario.changed(scene(), {key: value})
    assert words in str(caught.value)


def test_changing_leaves_the_old_scenario_as_it_was() -> None:
    old = scene()
    scenario.changed(old, {"seabed.depth": "58 m"})
    assert old == scene()


def test_the_text_follows_every_change_and_keeps_the_comments() -> None:
    text = SCENE.replace('title = "', '# first line\ntitle = "', 1).replace(
        "[seabed]", "[seabed]  # the ground\n# more"
    )
    s = scenario.parse(text + '\n[noise]\nown = "none"   # silent\n', "scene.toml")
    new = scenario.changed(s, {"seed": np.int64(7), "noise.own": "54 dB", "seabed.depth": np.float64(58.5)})
    assert (new.seed, new.noise.own, new.seabed.depth) == (7, 54.0, 58.5)
    assert scenario.parse(new.text, "again.toml") == new
    for comment in ("# first line", "# the ground", "# more", "# silent"):
        assert comment in new.text
    assert scenario.changed(new, {"noise.own": None, "units": "ft"}).noise.own == "by speed"


@pytest.mark.parametrize(
    "trap",
    [
        'note = """\nseed = 3\n[not a table]\n"""\n',
        '"seed" = 1\n',
        'seed = 1  # of "11"\n',
        "'seed'=1\n",
        "note = 'seed = 4'\nseed=1\n",
    ],
)
def test_a_seed_is_set_in_the_document_wherever_it_stands(trap: str) -> None:
    """A line of a note that looks like a seed or a table is a note; a quoted key is a key."""
    s = scenario.parse(trap + SCENE.replace("seed = 1\n", "", 1), "scene.toml")
    new = scenario.changed(s, {"seed": 2**62})
    assert (new.seed, new.note) == (2**62, s.note)
    assert scenario.parse(new.text, "again.toml") == new


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("seabed.depth=58 m", ("seabed.depth", "58 m")),
        ("boat.pings = 4", ("boat.pings", 4)),
        ("boat.in_turn=true", ("boat.in_turn", True)),
        ('seabed.layer.1.sediment="mud"', ("seabed.layer.1.sediment", "mud")),
        ('window.depth=["0 m", "9 m"]', ("window.depth", ["0 m", "9 m"])),
        ("boat.length=", ("boat.length", None)),
        ("note=a = b", ("note", "a = b")),
    ],
)
def test_a_setting_of_the_command_line_is_a_key_and_a_value(text: str, expected: tuple[str, object]) -> None:
    assert changing.setting(text) == expected


@pytest.mark.parametrize("text", ["seabed.depth", "=3", ""])
def test_a_setting_without_key_or_sign_is_refused(text: str) -> None:
    with pytest.raises(changing.ChangeError, match="KEY=VALUE"):
        changing.setting(text)


def test_of_keys_that_exclude_each_other_the_one_that_is_set_stays() -> None:
    s = scenario.parse(SCENE + "[boat]\nlength = 30\n", "scene.toml")
    assert (s.boat.length, s.boat.pings) == (30.0, None)
    new = scenario.changed(s, {"boat.pings": 4})
    assert (new.boat.length, new.boat.pings) == (None, 4)
    both = scenario.changed(s, {"boat.pings": 4, "boat.length": "9 m"})
    assert (both.boat.length, both.boat.pings) == (9.0, 4)
    ledge = scenario.changed(s, {"seabed.profile": [["0 ft", "190 ft"], ["5 ft", "210 ft"]]})
    assert ledge.seabed.depth is None
    assert scenario.changed(ledge, {"seabed.depth": 30}).seabed.profile is None
    assert scenario.parse(ledge.text, "again.toml") == ledge


def test_a_key_under_a_catalogue_entry_changes_that_key_alone() -> None:
    """The disc of the entry stays a disc: only its diameter is another."""
    new = scenario.changed(scene(), {"element.narrow high.face.diameter": "9 cm"})
    assert (new.element[0].face.shape, new.element[0].face.diameter) == ("disc", 0.09)  # type: ignore[union-attr]


# Writing.

lengths = st.floats(0.02, 3.9).map(lambda v: f"{v!r} m")


@settings(max_examples=60, deadline=None)
@given(
    st.floats(0.3, 3000.0),
    st.floats(-2.0, 40.0),
    st.floats(0.1, 15.0),
    st.floats(10e3, 400e3),
    st.floats(1e-5, 0.1),
    lengths,
    st.text(st.characters(exclude_categories=["C", "Z"]), min_size=1, max_size=20),
)
def test_written_scenario_reads_back_to_the_same_bits(
    depth: float, temperature: float, speed: float, low: float, pulse: float, length: str, title: str
) -> None:
    changes: dict[str, Any] = {
        "title": title,
        "seabed.depth": f"{depth!r} m",
        "water.temperature": temperature,
        "boat.speed": speed,
        "element.narrow high.band": [f"{low!r} Hz", f"{low * 1.5!r} Hz"],
        "element.narrow high.pulse.length": f"{pulse!r} s",
        "fish": [
            {
                "name": title,
                "swimbladder": "none",
                "length": length,
                "count": 2,
                "where": {"x": [-1, 1], "y": [-1, 1], "depth": "1 m"},
            }
        ],
    }
    s = scenario.changed(scene(), changes)
    assert s.seabed.depth == depth
    assert s.element[0].pulse.length == pulse
    assert scenario.parse(scenario.to_toml(s), "again.toml") == s
    assert tomllib.loads(scenario.to_toml(s))["title"] == title


def test_two_scenarios_of_other_inputs_differ() -> None:
    assert scene() == scene("\n# a comment\n")
    assert scene() != scenario.changed(scene(), {"seed": 2})
    assert scene() != "a scenario"


# Schema for editors.


@pytest.mark.parametrize("kind", ["scenario", "claims", "trip"])
def test_schema_knows_every_key(kind: str) -> None:
    made = schema.json_schema(kind)
    assert made["additionalProperties"] is False
    assert {"title", "seed"} <= set(made["properties"])
    assert not {"text", "inputs", "base"} & set(made["properties"])


def test_there_is_no_schema_of_another_kind() -> None:
    with pytest.raises(ValueError, match="scenario, claims, trip"):
        schema.json_schema("nothing")


CONTRACT = """
title = "Ore barge on a gravel plain"
note  = "free text"
seed  = 11
[water]
temperature = "11 degC"
salinity = 34.5
acidity  = 8.0
wind     = "10 kn"
assumed_sound_speed = "1500 m/s"
[boat]
speed = "4 kn"
start = "-60 m"
length = "120 m"
ping_interval = "auto"
transducer_depth = "0.6 m"
roll  = { amplitude = "2 deg", period = "5 s" }
[window]
depth = ["0 m", "70 m"]
[[element]]
name = "narrow high"
use  = "high-pencil"
band = ["130 kHz", "210 kHz"]
pulse = { length = "2 ms", taper = 0.1 }
weighting = "hann"
power = "1 kW"
efficiency = 0.5
face = { shape = "disc", diameter = "61 mm" }
tilt = { along = "0 deg", across = "0 deg" }
[seabed]
depth = "58 m"
slope = { along = "0 deg", across = "0 deg" }
relief = { height = "0.2 m", wavelength = "6 m" }
[[seabed.layer]]
sediment = "gravel"
thickness = "0.8 m"
[[seabed.layer]]
sediment = "medium sand"
[[structure]]
name = "ore barge"
shape = { kind = "box", length = "30 m", width = "8 m", height = "4 m" }
at = { x = "0 m", y = "2 m" }
heading = "20 deg"
material = "steel"
[[fish]]
name = "reef fish"
swimbladder = "closed"
length = { mean = "40 cm", sd = "5 cm" }
count = 20
where = { x = ["-15 m", "15 m"], y = ["-6 m", "8 m"], above_bottom = ["0.3 m", "3 m"] }
tilt = { mean = "-4 deg", sd = "14 deg" }
swimming = { speed = "0 m/s", heading = "0 deg" }
strength_model = "love-1971"
[[school]]
name = "bait ball"
swimbladder = "open"
length = "12 cm"
at = { x = "10 m", y = "0 m", depth = "18 m" }
size = { along = "8 m", across = "6 m", height = "4 m" }
density = "5 per m3"
[[scattering_layer]]
name = "krill layer"
kind = "fluid"
depth = ["22 m", "27 m"]
volume_strength = "-75 dB"
frequency = "120 kHz"
[[target]]
name = "sphere"
strength = "-40 dB"
at = { x = "0 m", y = "0 m", depth = "20 m" }
[noise]
ambient = true
own  = "54 dB"
[reverberation]
second_echo = true
surface_loss = "0 dB"
"""
