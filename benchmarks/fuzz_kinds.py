"""Kinds of input that came with the second edition, for fuzz_inputs.py: texts to mutate, and what reads them.

A scene with every table; keys set on the command line; sweep files; trips and questions in words; messages to the
bench; stored scenarios of the first edition; echogram files that are exported.
"""

import json
import random
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from functools import lru_cache
from itertools import islice
from pathlib import Path
from typing import Any

Loader = Callable[[bytes], None]

RICH = b"""title = "All there is"
note = "a note"
units = "ft"
seed = 4
passes = 2
[water]
temperature = "11 degC"
salinity = 34.5
acidity = 8.1
wind = "10 kn"
assumed_sound_speed = "1500 m/s"
show_steps = false
[boat]
speed = "4 kn"
start = "-10 m"
pings = 20
ping_interval = "0.3 s"
transducer_depth = "0.6 m"
motion = "by wind"
hull_length = "7 m"
begin = "2024-05-01T12:00:00Z"
origin = ["54.2 deg", "-3.1 deg"]
heading = "30 deg"
crosstalk = false
[window]
depth = ["0 m", "30 m"]
[[element]]
name = "narrow"
use = "high-pencil"
pulse = { length = "1 ms", taper = 0.4 }
filter = "equalised"
weighting = "hann"
finite_amplitude = true
[[element]]
name = "tone"
use = "low-pencil"
pulse = { tone = "54 kHz", length = "0.3 ms" }
tilt = { along = "2 deg", across = "-3 deg" }
[seabed]
profile = [["-60 m", "20 m"], ["0 m", "20 m"], ["2 m", "24 m"], ["80 m", "25 m"]]
relief = { height = "0.2 m", wavelength = "6 m" }
law = "small-slope"
roughness = "none"
[[seabed.layer]]
sediment = "silt"
thickness = "0.8 m"
[[seabed.layer]]
sediment = "gravel"
[[seabed.patch]]
x = ["2 m", "6 m"]
y = ["-5 m", "5 m"]
sediment = "rock"
relief = { height = "0.3 m", wavelength = "2 m" }
[[structure]]
name = "reef"
shape = { kind = "reef", length = "6 m", width = "4 m", height = "1.5 m", boulder = "0.6 m" }
at = { x = "4 m", y = "1 m" }
heading = "20 deg"
[[fish]]
name = "cod"
swimbladder = "closed"
length = { mean = "40 cm", sd = "5 cm" }
count = 5
where = { x = ["-5 m", "5 m"], y = "1 m", above = ["0.3 m", "3 m"] }
tilt = { mean = "-4 deg", sd = "14 deg" }
swimming = { speed = "0.5 m/s", heading = "90 deg" }
strength_model = "shape-cod"
[[school]]
name = "bait ball"
swimbladder = "open"
length = "12 cm"
at = { x = "1 m", y = "0 m", above_bottom = "6 m" }
size = { along = "4 m", across = "3 m", height = "2 m" }
density = "5 per m3"
[[scattering_layer]]
name = "weed"
kind = "flat"
above_bottom = ["0 m", "0.5 m"]
x = ["-5 m", "5 m"]
volume_strength = "-65 dB"
frequency = "120 kHz"
[[target]]
name = "sphere"
sphere = { material = "tungsten carbide", diameter = "38.1 mm" }
at = { x = "0 m", y = "0 m", depth = "8 m" }
[[label]]
text = "the ledge"
at = { x = "1 m", y = "0 m", depth = "22 m" }
[noise]
ambient = true
own = "by speed"
[reverberation]
second_echo = true
surface_loss = "1 dB"
background = "by water"
"""
SWEEP = b"""title = "Depth by bottom"
scenario = "wreck.toml"
seeds = [1, 2, 5]
keep = "numbers"
[vary]
"seabed.depth" = ["8 m", "12 m"]
"seabed.layer.1.sediment" = ["mud", "gravel"]
[vary.together]
"boat.speed" = ["2 kn", "6 kn"]
"water.wind" = ["5 kn", "15 kn"]
"""
FIRST = b"""title = "old"
[water]
temperature = 11
salinity = 34.5
[[element]]
name = "high"
use = "high-pencil"
[seabed]
depth = "15 m"
[[seabed.layer]]
sediment = "mud"
[[haze]]
name = "krill"
kind = "fluid"
depth = ["4 m", "6 m"]
volume_strength = "-75 dB"
frequency = "120 kHz"
[noise]
vessel = "40 dB"
"""
#: One setting a line.
SETTINGS = b"""seabed.depth=58 m
seabed.layer.1.sediment=mud
element.narrow.power=600 W
element.2.pulse={ length = "1 ms" }
fish.1.where.above_bottom=["0.3 m", "2 m"]
fish.cod.count=
boat.pings=10
boat.length=20 m
units=fathoms
seed=7
noise.own=none
label.1.text="a = b"
"""
#: Depth, species, speed, bottom and wind, a line each.
TYPED = [
    b"150..250 ft\nsnapper, 45 cm, tight to a wreck\n3 kn\ngravel\n8 kn",
    b"180 ft\nperch, 30 cm, near the bottom\ndrifting\nsandy mud\n0 kn",
    b"40-60 m\ntuna, 1.2 m, top 30 m\n6 kn\nrock\n20 kn",
    b"20 m\nsquid, 20 cm, mid water, no bladder\n2 m/s\nmud\n5 m/s",
]
#: Words of `ask`, an argument a line.
ASK = [
    b"swath\n--depth\n40 m\n--species\nperch, 30 cm, near the bottom\n--elements\nhigh-pencil",
    b"power\n--depth\n250 ft\n--species\ngrouper-like, near the bottom\n--powers\n600 W, 2 kW\n--elements\nlow-pencil",
    b"depth\n--depths\n20, 80, 250 ft\n--species\nsquid, 20 cm, mid water, no bladder\n--elements\nhigh-cone",
    b"pulse\n--depth\n150..250 ft\n--species\nperch, 30 cm\n--pulses\n0.5, 2, 10 ms\n--set\nday.wind=5 kn",
    b"speed\n--depth\n30 m\n--species\nbait school, 4 in, 30 ft wide, top 60 ft\n--speeds\ndrifting, 4, 20 kn",
    b"roll\n--depth\n60 ft\n--species\nperch, 30 cm\n--rolls\nlevel, 10 deg\n--roll\nby wind\n--units\nfathoms",
    b"size\n--at\n100, 300, 800 ft\n--species\ntuna, 1.2 m, top 30 m\n--sediments\nmud, rock\n--water\nlake, 18 degC",
]
MESSAGES = [
    {"do": "change", "set": {"seabed.depth": "12 m"}},
    {"do": "change", "set": {"fish.1.where": {"x": "0 m", "y": "0 m", "above_bottom": ["0.3 m", "1 m"]}}},
    {"do": "change", "set": {"element.1": {"name": "other", "use": "low-pencil"}, "boat.speed": "3 kn"}},
    {"do": "change", "set": {"boat.roll.amplitude": "3 deg"}},
    {"do": "change", "set": {"structure.1": {"name": "crate", "at": {"x": "0 m", "y": "0 m"},
                             "shape": {"kind": "box", "length": "2 m", "width": "1 m", "height": "1 m"}}}},
    {"do": "change", "set": {"seabed.profile": [["-9 m", "9 m"], ["9 m", "8 m"]]}},
    {"do": "undo"}, {"do": "redo"}, {"do": "again"}, {"do": "stop"},
    {"do": "moment", "number": 3}, {"do": "units", "units": "m"}, {"do": "passes", "count": 2},
    {"do": "save", "what": "scenario"}, {"do": "save", "what": "picture"},
    {"do": "open", "name": "a.toml", "data": "dGl0bGUgPSAieCIK"},
]  # fmt: skip
ODD = [
    None, True, -1, 0, 1e300, 10**30, "", " ", "\x00", "0 m", "-1 m", "9 km", "nan", [], {}, [[]], {"a": {}},
    [1, "2 m"], "x" * 5000, "high-pencil", "mud", ["1 m", "2 m"], ["2 m", "1 m"],
    {"x": "0 m", "y": "0 m", "depth": "5 m"},
]  # fmt: skip
PATHS = [
    "seabed.depth", "boat.pings", "boat.speed", "boat.roll.amplitude", "boat.roll", "fish.1", "fish.9", "fish.1.where",
    "element.1.power", "element.1.tilt", "element", "water", "water.wind", "window.depth", "title", "units", "seed",
    "structure.1", "seabed.layer.1.sediment", "", ".", "a..b", "fish.0", "fish.-1", "fish.1.where.x.1",
]  # fmt: skip


def message(data: bytes, rng: random.Random) -> bytes:
    """Return a message of the bench with odd values at odd places."""
    made = dict(rng.choice(MESSAGES))
    for _ in range(rng.randint(1, 3)):
        if isinstance(made.get("set"), dict) and rng.random() < 0.7:
            key = rng.choice([*made["set"], *PATHS])
            made["set"] = {**made["set"], key: rng.choice(ODD)}
        else:
            made[rng.choice([*made, "serial", "set", "number", "count", "what", "units", "data"])] = rng.choice(ODD)
    return json.dumps(made).encode()


@lru_cache(maxsize=1)
def rich() -> Any:
    """Return the scene with every table."""
    from pingwright.inputs import scenario

    return scenario.parse(RICH.decode(), "rich.toml", {})


def load_settings(data: bytes) -> None:
    """Set keys of the rich scene as --set would: the text, its values and the scene must agree."""
    from pingwright.errors import Fault, ScenarioError
    from pingwright.inputs import scenario
    from pingwright.inputs.changing import ChangeError, setting

    changes = {}
    for line in data.decode("utf-8", "replace").split("\n")[:50]:
        if line:
            try:
                key, value = setting(line)
            except ChangeError as error:
                raise ScenarioError([Fault("--set of rich.toml", 0, "", str(error))]) from None
            changes[key] = value
    made = scenario.changed(rich(), changes)
    for text in (made.text, scenario.to_toml(made)):
        if scenario.parse(text, "again.toml", {}) != made:
            message = "written and read again it is another scenario"
            raise AssertionError(message)


def load_sweep(base: bytes, folder: Path) -> Loader:
    """Return a loader of sweep files beside a base scenario; the first few scenes are made as well."""
    from pingwright.errors import ScenarioError
    from pingwright.inputs import scenario, sweep
    from pingwright.sweeps import pipeline

    (folder / "wreck.toml").write_bytes(base)

    def load(data: bytes) -> None:
        (folder / "sweep.toml").write_bytes(data)
        read = sweep.load(folder / "sweep.toml")
        for scene in islice(pipeline.planned(folder / "sweep.toml").scenes(), 3):
            with suppress(ScenarioError):
                scenario.changed(read.base, {**scene.changes, "seed": scene.seed})

    return load


def load_typed(data: bytes) -> None:
    """Read a trip in words, and the trip file it stands for."""
    from pingwright.errors import ScenarioError
    from pingwright.inputs import trip
    from pingwright.inputs.typed import Typed, trip_file

    words = [*data.decode("utf-8", "replace").split("\n"), "", "", "", "", ""][:5]
    try:
        text = trip_file(Typed(words[0], (words[1],), words[2], words[3], wind=words[4]))
        trip.parse(text, "trip.toml", {})
    except ScenarioError as error:
        if "command line" in str(error):
            raise ScenarioError([replace(fault, file="trip.toml") for fault in error.faults]) from None
        raise


def asked(data: bytes) -> Any:
    """Return the trip that the words of `ask` stand for (inputs.trip.Trip), read as the command line reads them."""
    from pingwright import options
    from pingwright.inputs import trip

    words = [line for line in data.decode("utf-8", "replace").replace("\x00", "").split("\n") if line]
    try:
        given = options.parser().parse_args(["ask", *words])
    except SystemExit:  # --help is among the words
        return None
    if given.command != "ask" or given.path is None or given.path.suffix == ".toml" or given.path.exists():
        return None
    return trip.parse(options.typed_question(given), "trip.toml", {}, changes=dict(given.set or ()))


def load_ask(data: bytes) -> None:
    """Read a question in words; one in eight is answered as well, where it names an element."""
    from pingwright import options
    from pingwright.advice import answers, pipeline, tables
    from pingwright.errors import Fault, ScenarioError

    try:
        trip = asked(data)
        if trip is not None and trip.ask.elements and sum(data) % 8 == 0:
            found = tables.gather(trip, pipeline.units_of(trip))
            text = " ".join(answers.answer(found)) + pipeline.as_text(found)
            assert "nan" not in text.replace("finan", "")
    except options.MisusedError as error:
        raise ScenarioError([Fault("trip.toml", 0, "", str(error))]) from None
    except ScenarioError as error:
        raise ScenarioError([replace(fault, file="trip.toml") for fault in error.faults]) from None


def load_first(data: bytes) -> None:
    """Translate a stored scenario of the first edition and read it."""
    from pingwright.inputs import scenario
    from pingwright.inputs.document import read_document
    from pingwright.inputs.first_edition import translated

    text = translated(data.decode("utf-8", "replace"))
    scenario.parse(read_document(text.encode(), "first.toml").text, "first.toml", {})


def load_export(folder: Path) -> Loader:
    """Return a loader that exports an echogram file, as bytes say it is."""
    from pingwright.export import write

    source, target = folder / "echograms.h5", folder / "exported.nc"

    def load(data: bytes) -> None:
        source.write_bytes(data)
        target.unlink(missing_ok=True)
        write.export(source, target)
        assert target.stat().st_size > 0

    return load


class Tab:
    """A session of the bench whose pictures are asked for and not drawn; every answer must be JSON without nan."""

    def __init__(self) -> None:
        from pingwright.bench import session
        from pingwright.bench.grounds import Grounds

        self.refused = ""
        self.session = session.Session(self, self, Grounds(), self.send, (RICH.decode(), {}))

    def send(self, answer: dict) -> None:
        json.dumps(answer, allow_nan=False)
        if answer["kind"] == "refused":
            self.refused = answer["text"]

    def picture(self, *_: object) -> None:
        """Take a picture to draw, and leave it."""

    def passes(self, *_: object) -> None:
        """Take passes to simulate, and leave them."""

    def end(self, *_: object) -> None:
        """Stop nothing."""


def load_message() -> Loader:
    """Return a loader of messages to one tab of the bench."""
    from pingwright.errors import Fault, ScenarioError

    tabs: list[Tab] = []

    def load(data: bytes) -> None:
        tabs[:] = tabs or [Tab()]
        tab = tabs[0]
        tab.refused = ""
        tab.session.receive(data)
        if "internal error" in tab.refused:
            raise RuntimeError(tab.refused)
        if tab.refused:
            raise ScenarioError([Fault("message.toml", 0, "", tab.refused)])

    return load


def kinds(folder: Path, base: bytes, echograms: list[bytes]) -> dict[str, tuple[list[bytes], Loader, int]]:
    """Return for each kind its seeds, its loader, and its share of the inputs."""
    return {
        "settings": ([SETTINGS, *[line for line in SETTINGS.split(b"\n") if line]], load_settings, 10),
        "sweep": ([SWEEP], load_sweep(base, folder), 8),
        "typed": (TYPED, load_typed, 6),
        "ask": (ASK, load_ask, 6),
        "first": ([FIRST], load_first, 4),
        "bench": ([json.dumps(one).encode() for one in MESSAGES], load_message(), 10),
        "export": (echograms, load_export(folder), 3),
    }
