"""Mistakes of the first hour: each is answered with what was probably meant."""

import argparse
import re
import tomllib
from pathlib import Path

import pytest
from pingwright import __main__ as command
from pingwright import arguments
from pingwright.errors import ScenarioError
from pingwright.inputs import claims, keys, scenario, starter, trip
from pingwright.inputs.fields import nearest
from pingwright.quantities import SPEED, check
from pingwright.run import pipeline
from tiny_scenarios import LAKE

SCENARIOS = Path(command.__file__).parents[2] / "scenarios"


def refused(capsys, *words) -> str:
    """Run a command that is refused and return what it says."""
    assert command.main([str(word) for word in words]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    return err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["recall", "a.png", "--units", "ft"], "--units is an option of `pingwright run`. `pingwright recall --help`"),
        (["run", "a.toml", "--resum3"], "did you mean `--resume`? `pingwright run --help`"),
        (["match", "a.toml", "--keep-phase"], "--keep-phase is an option of `pingwright run`"),
        (["run", "a.toml", "b.toml"], "`pingwright run` does not take b.toml"),
        (["--loud"], "`pingwright` does not take --loud. `pingwright --help`"),
        (["rum", "a.toml"], "Unknown command 'rum'; available: run, draw, check, new, list, claims, match, ask,"),
        (["rum", "a.toml"], "did you mean `run`?"),
        (["my lake.toml"], "did you mean `pingwright run my lake.toml`?"),
    ],
)
def test_a_wrong_word_is_answered_with_the_right_one(capsys, words, said):
    assert said in refused(capsys, *words)


def test_a_file_that_is_not_there_is_answered_with_one_that_is(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("my-lake.toml").write_text(LAKE)
    assert refused(capsys, "run", "mylake.toml").rstrip() == (
        'pingwright: mylake.toml: there is no such file; did you mean "my-lake.toml"?'
    )
    for kind in ("claims", "sweep"):
        assert command.main(["new", f"{kind}.toml", "--kind", kind, "--quiet"]) == 0
        text, count = re.subn(r'(?m)^scenario = ".*"', 'scenario = "sea.toml"', Path(f"{kind}.toml").read_text())
        assert count == 1
        Path(f"{kind}.toml").write_text(text)
        capsys.readouterr()
        assert "there is no such file; `pingwright new sea.toml` writes one" in refused(capsys, "check", f"{kind}.toml")
        Path(f"{kind}.toml").unlink()
    assert f"there is no such file in {tmp_path}" in refused(capsys, "run", "ocean.toml")
    assert 'there is no such file, nor a folder "lakes"' in refused(capsys, "run", "lakes/mine.toml")


@pytest.mark.parametrize(
    ("words", "file", "said"),
    [
        ("run", "claims-trade.toml", "is a claims file, not a scenario file; `pingwright claims` tests it"),
        ("run", "trip-lake.toml", "is a trip file, not a scenario file; `pingwright match` ranks elements for it"),
        ("claims", "01_wreck_on_gravel.toml", "is a scenario file, not a claims file; `pingwright run` simulates it"),
        ("claims", "trip-lake.toml", "is a trip file, not a claims file"),
        ("match", "01_wreck_on_gravel.toml", "is a scenario file, not a trip file"),
        ("match", "claims-trade.toml", "is a claims file, not a trip file"),
    ],
)
def test_a_file_of_another_kind_is_refused_in_one_line(capsys, words, file, said):
    err = refused(capsys, words, SCENARIOS / file)
    assert said in err
    assert err.count("\n") == 1


@pytest.mark.parametrize(("load", "missing"), [(scenario, "water"), (claims, "claim"), (trip, "day")])
def test_a_file_of_no_kind_is_told_what_it_lacks(load, missing, tmp_path):
    (tmp_path / "bare.toml").write_text('title = "bare"\n')
    with pytest.raises(ScenarioError, match=f"{missing}: is missing"):
        load.load(tmp_path / "bare.toml")


def test_draw_and_recall_say_what_to_take_instead_and_look_into_a_folder(capsys, tmp_path):
    folder = tmp_path / "out"
    folder.mkdir()
    assert f"{folder} is a folder without echograms.h5." in refused(capsys, "draw", folder)
    assert f"{folder}: is a folder." in refused(capsys, "recall", folder)
    (folder / "echograms.h5").write_text("")
    for one in ("draw", "recall"):  # the echograms in the folder are meant
        assert f"{folder / 'echograms.h5'} is not a complete HDF5 file" in refused(capsys, one, folder)
    (tmp_path / "lake.toml").write_text(LAKE)
    assert "To simulate a scenario, use `pingwright run`." in refused(capsys, "draw", tmp_path / "lake.toml")
    (tmp_path / "compare.png").write_bytes(b"\x89PNG")
    assert "use `pingwright recall`" in refused(capsys, "draw", tmp_path / "compare.png")


def test_one_word_of_a_catalogue_entry_names_all_that_have_it():
    sediments = ("rock", "gravel", "coarse sand", "fine sand", "sandy mud", "mud")
    assert nearest("sand", sediments) == '; did you mean "coarse sand" or "fine sand"?'
    assert nearest("Gravel", sediments) == '; did you mean "gravel"?'
    assert nearest("limestone", sediments) == ""


@pytest.mark.parametrize("unit", ["kn", "kt", "kts", "knot", "knots"])
def test_knots_as_boats_write_them(unit):
    assert check(f"8 {unit}", SPEED, 0.0, 30.0) == pytest.approx(8 * 1852 / 3600), "1 kn = 1852 m/h (SI brochure)"


def test_a_look_without_figures_is_that_of_the_comparison(monkeypatch, capsys):
    asked = {}
    results = pipeline.Results(Path("o"), (), "Nothing.", ())
    monkeypatch.setattr(pipeline, "draw", lambda *_, **more: asked.update(more) or results)
    for words, figures, look in (
        ([], None, {}),
        (["--theme", "dark"], "compare", {"theme": "dark"}),
        (["--figures", "beams", "--format", "pdf"], "beams", {"format": "pdf"}),
    ):
        assert command.main(["draw", "echograms.h5", *words]) == 0
        assert (asked["figures"], asked["look"]) == (figures, look)
    capsys.readouterr()


class _Bars:
    """Stands in for rich's progress: keeps what each bar was told last."""

    def __init__(self, *_, **__):
        self.told = {}

    def __enter__(self):
        return self

    def __exit__(self, *_):
        return None

    def add_task(self, stage, total):
        self.told[stage] = {"total": total}
        return stage

    def update(self, task, **values):
        self.told[task].update(values)


def test_a_stage_is_full_when_the_next_begins_and_one_step_pulses(monkeypatch):
    """A bar that stands at 0 % while the work goes on looks like a hang."""
    bars = _Bars()
    monkeypatch.setattr("rich.progress.Progress", lambda *_, **__: bars)
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    with command.progress_bar(False) as show:
        show("preparing", 0, 1)
        assert bars.told["preparing"]["total"] is None, "rich lets a bar without a total pulse"
        show("pinging", 5, 10)
        assert bars.told["preparing"] == {"total": 1, "completed": 1}
        assert bars.told["pinging"] == {"total": 10, "completed": 5}


def test_fish_under_every_ping_leave_nothing_to_judge_falsely(tmp_path):
    """At anchor over fish no ping is without them: the false rate is unknown, and the captions still get written."""
    text = LAKE.replace('speed = "2 kn"', "speed = 0").replace("pings = 40", "pings = 4")
    (tmp_path / "lake.toml").write_text(text.replace('x = ["-8 m", "0 m"]', 'x = ["-8.5 m", "-7.5 m"]'))
    done = pipeline.run(tmp_path / "lake.toml", tmp_path / "out", threads=1)
    said = (done.folder / "summary.md").read_text(encoding="utf-8")
    assert "of 6 fish separated from the bottom" in said
    assert "the same judgement without fish" not in said


def test_new_writes_each_kind_and_each_is_right(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for kind, name, load in (("scenario", "my-lake", scenario), ("claims", "mine", claims), ("trip", "day", trip)):
        assert command.main(["new", f"{name}.toml", "--kind", kind]) == 0
        assert capsys.readouterr().out == f"{name}.toml\n"
        text = Path(f"{name}.toml").read_text()
        assert text.startswith(f"# A {kind} ")
        assert load.load(f"{name}.toml").title
        used = "\n".join(line.removeprefix("# ") if " = " in line else line for line in text.splitlines())
        tables = used.replace("# [[", "[[")
        if kind != "scenario":  # what stands behind # is right as well
            Path("all.toml").write_text(tables)
            load.load("all.toml")


def test_one_is_not_called_several(capsys, tmp_path):
    one = LAKE[: LAKE.index('[[element]]\nname = "low"')] + LAKE[LAKE.index("[seabed]") :]
    (tmp_path / "one.toml").write_text(one)
    assert command.main(["check", str(tmp_path / "one.toml")]) == 0
    assert "for 1 element; each" in capsys.readouterr().out
    (tmp_path / "two.toml").write_text(LAKE)
    assert command.main(["check", str(tmp_path / "two.toml")]) == 0
    assert "for 2 elements; each" in capsys.readouterr().out


def test_every_key_is_listed_with_what_it_takes(capsys):
    """Keys that starters and gallery use are among those listed; bounds and defaults are the contract's."""
    for name, kind in (("keys", "scenario"), ("claims_keys", "claims"), ("trip_keys", "trip")):
        listed = keys.described(kind)
        data = tomllib.loads(starter.text(kind))
        assert [path for path in used_keys(data) if path not in {key.split(" ")[0] for key in listed}] == []
        assert all(entry["takes"] for entry in listed.values())
        assert command.main(["list", name]) == 0
        shown = capsys.readouterr().out
        assert all(path in shown for path in listed)
    for path in sorted(SCENARIOS.glob("0*.toml")):
        found = used_keys(tomllib.loads(path.read_text(encoding="utf-8")))
        known = {key.split(" ")[0] for key in keys.described()}
        assert [key for key in found if key not in known and key.split(".")[-1] not in {"shape", "kind"}] == []
    assert keys.described()["water.salinity"]["takes"] == "salinity, 0 g/kg to 45 g/kg"
    assert keys.described()["element.weighting"]["if left out"] == "hann"
    assert keys.described()["element.power"]["if left out"] == "that of `use`, else an error"
    assert keys.described()["boat.motion"]["takes"] == '"by wind"'
    assert keys.described()["boat.begin"]["takes"].startswith("a date and time such as")
    assert "a quantity with its unit" in keys.described("claims")["claim.holds_if.at_least"]["takes"]
    vague = [key for kind in ("scenario", "claims", "trip", "sweep") for key, entry in keys.described(kind).items()
             if entry["takes"] in ("a text", "a value")]  # fmt: skip
    assert vague == []


def used_keys(data: object, path: str = "") -> list[str]:
    """Return the dotted keys of tables; what stands under free keys (change, weights by name) is left out."""
    if isinstance(data, dict) and not path.endswith("change."):
        return [key for name, value in data.items() for key in (path + name, *used_keys(value, f"{path}{name}."))]
    return [key for one in data for key in used_keys(one, path)] if isinstance(data, list) else []


def test_lists_and_notes_are_in_the_units_asked_for(capsys, tmp_path):
    """Exact: 1 ft is 0.3048 m (1959 agreement), so 8 m are 26.2 ft; a note in feet holds no metres."""
    assert command.main(["list", "elements", "--units", "ft"]) == 0
    shown = " ".join(capsys.readouterr().out.split("source:")[0].split())
    assert re.search(r"footprint along x across: 66 ft: \d+ x \d+ ft, 164 ft: ", shown)
    assert re.search(r"detection range, 16 in fish: \d+ ft \(\d+ to \d+\)", shown)
    path = tmp_path / "lake.toml"
    path.write_text(LAKE.replace('["0 m", "11 m"]', '["0 m", "8 m"]'))
    assert command.main(["check", str(path), "--units", "ft"]) == 0
    notes = capsys.readouterr().err
    assert "The window ends at 26.2 ft" in notes
    assert not re.search(r"\d m\b(?!/)", notes)


def test_check_says_which_pulse_a_tone_without_a_length_takes(tmp_path):
    """0.2 ms: a typical short ping (assumed)."""
    from pingwright import checking

    (tmp_path / "tone.toml").write_text(
        'title = "A tone"\n[water]\ntemperature = 11\nsalinity = 34.5\n[[element]]\nname = "t"\n'
        'band = ["49 kHz", "51 kHz"]\n'
        'pulse = { tone = "50 kHz" }\npower = "100 W"\nface = { shape = "disc", diameter = "8 cm" }\n'
        '[seabed]\ndepth = "20 m"\n[[seabed.layer]]\nsediment = "gravel"\n'
    )
    assert "pulse: t 0.2 ms; the length was chosen" in "\n".join(checking.check(tmp_path / "tone.toml").lines)


def test_a_unit_at_the_end_of_a_span_holds_for_both():
    foot = 0.3048  # source: international foot, exact
    assert arguments.span("10..30ft") == pytest.approx((10 * foot, 30 * foot))
    assert arguments.span("10 m..20 m") == (10.0, 20.0)
    assert arguments.span("-10..10 m") == (-10.0, 10.0)
    assert arguments.span("3 fathoms..60 ft") == pytest.approx((18 * foot, 60 * foot))
    for wrong in ("30..10 ft", "1..2..3", "10..ft", "..", "1..2 furlongs"):
        with pytest.raises(argparse.ArgumentTypeError, match="found"):
            arguments.span(wrong)
