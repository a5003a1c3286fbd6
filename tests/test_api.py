"""The public package: scenes, recordings, measures, files; refusals in the words of a scenario file."""

import inspect
import json
import pkgutil
import re
import subprocess
import sys
import warnings

import matplotlib.figure
import numpy as np
import pingwright as pw
import pytest
from pingwright.api import datasets
from pingwright.inputs import scenario
from test_export import ELEMENTS
from tiny_scenarios import LAKE

pytestmark = pytest.mark.filterwarnings("ignore::pingwright.errors.PingwrightWarning")

NO_NOISE = 'background = "none"\n[noise]\nambient = false\nown = "none"\n'
SPHERE = """
title = "A sphere on the axis"
[water]
temperature = "10 degC"
salinity = 35
[boat]
speed = 0
start = "0 m"
pings = 3
ping_interval = "0.2 s"
[window]
depth = ["0 m", "25 m"]
[[element]]
name = "narrow"
use = "high-pencil"
pulse = { length = "0.5 ms" }
[seabed]
depth = "40 m"
[[seabed.layer]]
sediment = "mud"
[[target]]
name = "sphere"
strength = "-40 dB"
at = { x = "0 m", y = "0 m", depth = "20 m" }
[reverberation]
second_echo = false
"""


@pytest.fixture(scope="module")
def scene():
    return pw.Scene.parse(LAKE).with_({"boat.pings": 12})


@pytest.fixture(scope="module")
def recording(scene):
    return scene.simulate(threads=1, keep_phase=True)


def test_names_are_public_and_dir_lists_them():
    assert set(dir(pw)) == set(pw.__all__)
    for name in pw.__all__:
        assert getattr(pw, name) is not None
    with pytest.raises(AttributeError, match="public are"):
        pw.nothing  # noqa: B018


SIGNATURES = {
    "Scene": "(*, folder: str | os.PathLike[str] | None = None, **tables: Any) -> None",
    "Scene.read": "(path: str | os.PathLike[str]) -> Self",
    "Scene.parse": "(text: str, files: collections.abc.Mapping[str, bytes] | None = None) -> Self",
    "Scene.with_": "(self, changes: collections.abc.Mapping[str, typing.Any] | None = None, *, "
    "seed: int | None = None) -> Self",
    "Scene.simulate": "(self, *, threads: int | None = None, keep_phase: bool = False, "
    "truth: Optional[Literal['samples']] = None) -> 'Recording'",
    "Scene.to_dict": "(self) -> dict[str, typing.Any]",
    "Scene.write": "(self, path: str | os.PathLike[str]) -> None",
    "sweep": "(scene: Scene, vary: Mapping[str, Any], *, seeds: int | Sequence[int] = 1, "
    "keep: Literal['numbers'] = 'numbers', executor: Any = None) -> Sweep",
    "Sweep.to_frame": "(self) -> 'pd.DataFrame'",
    "validate": "(*, quick: bool = False) -> Evidence",
    "Evidence.to_frame": "(self) -> 'pd.DataFrame'",
    "open": "(path: str | os.PathLike[str]) -> Recording",
    "Recording.save": "(self, path: str | os.PathLike[str]) -> None",
    "Recording.measure": "(self) -> Measures",
    "Recording.figures": "(self) -> tuple[str, ...]",
    "Recording.figure": "(self, name: str = 'compare', *, units: Literal['m', 'ft', 'fathoms'] = 'm', "
    "size: Literal['one-column', 'two-column', 'slide'] = 'two-column', "
    "theme: Literal['light', 'dark'] = 'light') -> 'Figure'",
    "Recording.component": "(self, kind: str) -> 'Recording'",
    "Recording.scene": "(self) -> 'Scene'",
    "ElementRecording.to_xarray": "(self, *quantities: str) -> 'xr.Dataset'",
    "ElementRecording.strongest": "(self, range: tuple[float, float]) -> 'xr.Dataset'",
    "ElementRecording.spectrum": "(self, range: tuple[float, float], "
    "pings: slice | Sequence[int] | None = None) -> 'xr.Dataset'",
    "ElementRecording.refilter": "(self, *, weighting: str | None = None, "
    "filter: Optional[Literal['matched', 'equalised']] = None) -> 'ElementRecording'",
    "Measures.to_frame": "(self) -> 'pd.DataFrame'",
    "Measures.rows": "(self) -> list[dict[str, typing.Any]]",
    "Measures.value": "(self, element: str, measure: str) -> float | None",
}


def plainly(text):
    return re.sub(r"collections\.abc\.|typing\.|pingwright\.api\.\w+\.", "", text)


@pytest.mark.parametrize("name", SIGNATURES)
def test_signatures_stay(name):
    """A changed one breaks somebody's notebook: add, with a default, and change the line here."""
    found = pw
    for part in name.split("."):
        found = getattr(found, part)
    text = plainly(str(inspect.signature(found)))
    assert text.removeprefix("(self, /, ").replace("(/, ", "(") == plainly(SIGNATURES[name])


def test_everything_public_is_documented():
    for name in pw.__all__:
        one = getattr(pw, name)
        if inspect.isclass(one) and one.__module__.startswith("pingwright.api"):
            for inner, member in vars(one).items():
                if not inner.startswith("_"):
                    assert (inspect.getdoc(member) or "").strip(), f"{name}.{inner}"


def test_dict_file_and_overrides_are_the_same_scene(tmp_path):
    path = tmp_path / "lake.toml"
    path.write_text(LAKE, encoding="utf-8")
    read = pw.Scene.read(path)
    assert pw.Scene(**scenario.tables(scenario.parse(LAKE))) == read
    assert read.with_({"seabed.depth": "8 m"}, seed=7) == pw.Scene.parse(
        LAKE.replace('depth = "9 m"', 'depth = "8 m"').replace("seed = 3", "seed = 7")
    )
    assert pw.Scene(**read.to_dict()) == read


def test_numbers_of_numpy_are_numbers(scene):
    plain = scene.with_({"seabed.depth": 8.0, "boat.pings": 5, "window.depth": [0.0, 10.0]}, seed=5)
    theirs = {
        "seabed.depth": np.float32(8.0), "boat.pings": np.int64(5), "window.depth": np.array([0.0, 10.0]),
    }  # fmt: skip
    assert scene.with_(theirs, seed=np.int64(5)) == plain
    tables = {**scene.to_dict(), "seed": np.uint8(9), "note": None}
    assert pw.Scene(**tables) == scene.with_(seed=9)


def test_text_is_in_step_with_the_values(scene, tmp_path):
    other = scene.with_({"element.low.power": "200 W", "fish.1.count": 2})
    assert pw.Scene.parse(other.text) == other
    other.write(tmp_path / "new.toml")
    assert pw.Scene.read(tmp_path / "new.toml") == other
    with pytest.raises(pw.ScenarioError, match="not overwritten"):
        other.write(tmp_path / "new.toml")


WRONG = {
    "water.temperature: found 300 degC": {"water": {"temperature": 300, "salinity": 0}},
    'did you mean "low-pencil"': {"element": [{"use": "low-pencl"}]},
    "seabed.layer: is missing": {"seabed": {"depth": 9}},
    "water.temperature: found a value of type object": {"water": {"temperature": object(), "salinity": 0}},
    "nest deeper": {"note": json.loads("[" * 40 + "]" * 40)},
    "not a finite number|found inf": {"seabed": {"depth": float("inf"), "layer": [{"sediment": "mud"}]}},
}


@pytest.mark.parametrize("message", WRONG)
def test_refusals_are_those_of_a_file(message):
    with pytest.raises(pw.ScenarioError, match=message):
        pw.Scene(**{"title": "x", **WRONG[message]})


def test_all_faults_at_once_and_a_file_says_the_same(scene):
    tables = scene.to_dict()
    tables["water"]["salinity"], tables["seabed"]["depth"] = 99, "9 apples"
    with pytest.raises(pw.ScenarioError) as caught:
        pw.Scene(**tables)
    text = scenario.toml_text(tables)
    with pytest.raises(pw.ScenarioError) as of_file:
        scenario.parse(text)
    assert [f.message for f in caught.value.faults] == [f.message for f in of_file.value.faults]
    assert len(caught.value.faults) == 2
    with pytest.raises(pw.ScenarioError, match=r"seabed\.depht"):
        scene.with_({"seabed.depht": 3})


@pytest.mark.parametrize("key", ["title", "note", "element.1.name"])
@pytest.mark.parametrize("bad", ["\x07", "\x1b[31m", "\u202e", "\x00"])
def test_a_change_holds_no_character_that_a_file_may_not_hold(scene, key, bad):
    """Or its text could not be read again, by recall as little as by a second run."""
    with pytest.raises(pw.ScenarioError, match=r"found control character U\+"):
        scene.with_({key: f"a{bad}b"})
    two_lines = scene.with_({"note": "a\nb"})
    assert pw.Scene.parse(two_lines.text) == two_lines


def test_dataset_has_axes_units_and_blind_range(recording):
    data = recording["low"].to_xarray("level", "ts", "sv", "echo")
    assert set(data.sizes) == {"ping", "sample"}
    assert set(data.coords) == {"x", "time", "range", "depth"}
    assert all(variable.attrs["units"] for variable in data.variables.values())
    near = data["range"] < recording["low"].attributes["blank_range"]
    assert near.any()
    for name in data.data_vars:
        assert np.isnan(data[name].values[:, near]).all()
        assert np.isfinite(data[name].values[:, ~near]).all()
    level = 20 * np.log10(np.abs(data["echo"].values[:, ~near]))
    assert np.abs(level - data["level"].values[:, ~near]).max() < 0.006  # steps of 0.01 dB
    assert np.allclose(data["depth"] - data["range"], recording["low"].attributes["transducer_depth"])
    assert set(recording["low"].to_xarray()) == {"level"}
    with pytest.raises(ValueError, match="unknown quantity 'loudness'"):
        recording["low"].to_xarray("loudness")


@pytest.mark.parametrize("keys", ELEMENTS.values(), ids=ELEMENTS)
def test_a_target_on_the_axis_reads_its_strength_and_range(keys):
    """-40 dB at 20 m, as the sonar equation over the whole band says; the highest sample may be 0.4 dB lower."""
    text = SPHERE.replace('use = "high-pencil"\npulse = { length = "0.5 ms" }', keys)
    text = re.sub('"20 m" }', '"20.003 m" }', text) + NO_NOISE
    element = pw.Scene.parse(text).simulate(threads=1)["narrow"]
    found = element.strongest((19.5, 20.5))
    assert np.abs(found.ts - -40.0).max() < 0.01
    speed = pw.acoustics.water.sound_speed(10, 35, np.linspace(0, 20, 41)).mean()
    truth = 20.003 * element.attributes["assumed_sound_speed"] / speed
    assert np.abs(found.range - truth).max() < 0.1 * element.attributes["range_resolution"]
    data = element.to_xarray("ts")
    peak = data["ts"].where((data["depth"] > 19.5) & (data["depth"] < 20.5)).max("sample")
    assert np.abs(peak - -40.0).max() < 0.4
    with pytest.raises(ValueError, match="range goes from 0 to 0.01 m"):
        element.strongest((0, 0.01))
    for wrong in (12, (1, 2, 3), ("a", "b"), None):
        with pytest.raises(ValueError, match=r"allowed: two ranges in m, as in \(11, 13\)"):
            element.strongest(wrong)


def test_without_a_readable_scenario_the_numbers_of_the_bands_centre_are_used(recording):
    element = recording["low"]._element
    plain = datasets.values(element, "sv", lambda: None)
    sonar_equation = recording["low"].level + element.volume_gain().astype(np.float32)
    assert np.array_equal(plain, sonar_equation, equal_nan=True)


def test_a_file_gives_the_same_recording_back(recording, tmp_path):
    path = tmp_path / "echograms.h5"
    recording.save(path)
    assert pw.open(tmp_path).title == recording.title, "a folder of `run` stands for its echograms"
    again = pw.open(path)
    quantities = ("level", "ts", "sv", "echo")
    for name in recording:
        assert again[name].to_xarray(*quantities).identical(recording[name].to_xarray(*quantities))
    assert json.dumps(again.measure().rows()) == json.dumps(recording.measure().rows())
    assert again.scene().simulate(threads=1)["low"].to_xarray().identical(recording["low"].to_xarray())
    with pytest.raises(pw.EchogramError):
        pw.open(__file__)


def test_measures_are_those_of_the_summary(recording):
    measures = recording.measure()
    frame = measures.to_frame()
    assert len(frame) == sum(len(numbers) for numbers in measures.values())
    assert frame["definition"].str.endswith(".").all()
    row = frame[(frame.element == "low") & (frame.measure == "fish")]
    assert row["value"].item() == measures.value("low", "fish") == len(recording.fish["id"])
    with pytest.raises(KeyError, match="no measure 'fishes'"):
        measures.value("low", "fishes")
    with pytest.raises(KeyError, match="no element 'high'"):
        measures["high"]


def test_figures_come_back_as_figures(recording):
    assert "compare" in recording.figures()
    assert isinstance(recording.figure("beams", units="ft"), matplotlib.figure.Figure)
    with pytest.raises(ValueError, match="no figure 'nonsense'"):
        recording.figure("nonsense")


def test_notes_are_python_warnings(scene):
    """Elements that ping together and hear each other: the note that `run` prints."""
    near = scene.with_(
        {"boat.crosstalk": True, "boat.pings": 2, "fish.1.count": 1, "fish.1.where.above_bottom": ["8.9 m", "8.95 m"]}
    )
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        recording = near.simulate(threads=1)
    assert recording.warnings
    assert [str(w.message) for w in caught if issubclass(w.category, pw.PingwrightWarning)] == list(recording.warnings)


def test_what_is_shown_is_short_and_escaped(scene, recording):
    loud = scene.with_({"title": "<script>alert(1)</script>" + "x" * 150})
    for one in (loud, recording, recording["low"], recording.measure()):
        assert len(repr(one)) < 250
        assert "<script" not in one._repr_html_()
        assert "\n" not in repr(one)
    assert "Simulated" in recording._repr_html_()


def test_a_component_is_what_its_kind_adds():
    """The bottom cancels to rounding, the fish stay as they were: its echo is far below the bottom's."""
    recording = pw.Scene.parse(LAKE).with_({"boat.pings": 12, "noise.ambient": False, "noise.own": "none"}).simulate()
    fish, whole = recording.component("fish")["low"], recording["low"]
    bottom = (whole.range > 9.2) & (whole.range < 10.5)
    assert np.nanmax(fish.level[:, bottom]) < np.nanmax(whole.level[:, bottom]) - 40
    water = (whole.range > 5.5) & (whole.range < 8.0)
    strong = whole.level[:, water] > np.nanmax(whole.level[:, water]) - 6
    assert np.abs(fish.level[:, water] - whole.level[:, water])[strong].max() < 0.5
    with pytest.raises(ValueError, match="unknown kind 'fishes'"):
        recording.component("fishes")


def test_the_formulas_need_no_import_of_their_own():
    """38 kHz, 10 degC, 35: 10.166 dB/km by independent code of the same formula (rows of evidence)."""
    code = "import pingwright as pw; print(pw.acoustics.absorption.francois_garrison(38e3, 10.0, 35.0) * 1e3)"
    done = subprocess.run([sys.executable, "-W", "error", "-c", code], capture_output=True, text=True, check=True)
    assert float(done.stdout) == pytest.approx(10.166, abs=6e-4)
    topics = {module.name for module in pkgutil.iter_modules(pw.acoustics.__path__)}
    assert topics == pw.acoustics._TOPICS
    with pytest.raises(AttributeError, match="there are absorption"):
        pw.acoustics.nothing  # noqa: B018
