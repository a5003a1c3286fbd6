"""Further figures by the command: every one of them, in every format, with what it says."""

import json
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from pingwright import __main__ as command
from pingwright.acoustics import fish as formulas
from pingwright.checking import check
from pingwright.echograms.file import Writer
from pingwright.figures import embed
from pingwright.figures.charts import coverage, source
from pingwright.inputs.scenario import parse
from pingwright.measure.assess import assess
from pingwright.measure.closed import searched_by_depth
from pingwright.recording import in_memory, prepare
from pingwright.report import figures, scene
from synthetic_record import assessment as judged
from synthetic_record import record as made_up
from tests_made import header, write_all
from tiny_scenarios import LAKE


@pytest.fixture(scope="module")
def stored(tmp_path_factory):
    path = tmp_path_factory.mktemp("stored") / "echograms.h5"
    made = prepare(parse(LAKE)).header
    with Writer(path, made) as writer:
        write_all(writer, made)
    return path


#: A fresh interpreter in which numba cannot be imported draws everything the command can.
WITHOUT_COMPILER = """
import sys
for name in ("numba", "llvmlite", "trimesh", "pingwright.engine"): sys.modules[name] = None
from pingwright.__main__ import main
sys.exit(main(sys.argv[1:]))
"""


def drawn(stored, out, names, *how):
    """Draw figures by the command, and return where; every file is listed, closed by the summary and has a caption."""
    command_line = ["draw", str(stored), "--out", str(out), "--figures", names, *how]
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT_COMPILER, *command_line], check=False, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def check_set(out, names, ending, told):
    captions = (out / figures.CAPTIONS).read_text()
    closed = json.loads((out / "summary.json").read_text())["files"]
    for name in names:
        file = f"figure-{name}.{'png' if name == figures.MOTION else ending}"
        assert str(out / file) in told
        assert file in closed
        assert f"## {file}" in captions
        assert embed.read((out / file).read_bytes()).scenario == embed.read((out / "compare.png").read_bytes()).scenario
    assert captions.count("Alternative text:") == len(names)
    assert check(out / "summary.json")


def test_all_figures_are_drawn_without_a_compiler_and_carry_their_scenario(stored, tmp_path):
    out, names = tmp_path / "out", [*figures.FIGURES, figures.MOTION]
    told = drawn(stored, out, "all", "--size", "one-column", "--theme", "dark", "--units", "ft")
    check_set(out, names, "png", told)
    assert "compare.html" in told
    with Image.open(out / "figure-motion.png") as moving:
        assert moving.n_frames > 2
    assert (out / "figure-motion.png").stat().st_size < 6e6


@pytest.mark.parametrize(
    ("ending", "size", "units", "names"),
    [
        ("svg", "slide", "fathoms", ["compare", "reach", "source"]),
        ("pdf", "two-column", "m", ["echogram", "cutaway"]),  # pages are written alike
    ],
)
def test_every_format_carries_its_scenario(stored, tmp_path, capsys, ending, size, units, names):
    """Each figure in each size: test_figures_room; each as SVG: test_figures_hostile."""
    out = tmp_path / "out"
    how = ["--figures", ",".join(names), "--format", ending, "--size", size, "--units", units]
    assert command.main(["draw", str(stored), "--out", str(out), *how]) == 0
    check_set(out, names, ending, capsys.readouterr().out)


def test_the_comparison_in_its_usual_style_is_compare_png(stored, tmp_path, capsys):
    out = tmp_path / "out"
    assert command.main(["draw", str(stored), "--out", str(out), "--figures", "compare,source"]) == 0
    assert not (out / "figure-compare.png").exists()
    assert str(out / "compare.png") in capsys.readouterr().out
    assert "## compare.png" in (out / figures.CAPTIONS).read_text()


def test_a_name_that_is_none_is_refused_before_anything_is_touched(stored, tmp_path, capsys):
    out = tmp_path / "out"
    assert command.main(["draw", str(stored), "--out", str(out), "--figures", "cutaway,beam"]) == 2
    assert (
        'found "beam"; allowed for these echograms: all, or names from compare, echogram, cutaway'
        in capsys.readouterr().err
    )
    assert not out.exists()


def test_what_one_element_or_a_tone_cannot_show_is_not_offered():
    several = made_up(pings=20)
    alone = replace(several, elements=several.elements[:1])
    assert "difference" in figures.possible(several)
    assert "difference" not in figures.possible(alone)
    short = made_up(pings=10).elements[1]
    assert "difference" not in figures.possible(replace(several, elements=(several.elements[0], short)))
    info = replace(alone.elements[0].info, band_high=alone.elements[0].info.band_low + 500.0)
    tone = replace(alone, elements=(replace(alone.elements[0], info=info),))
    assert "pulse" in figures.possible(alone)
    assert "pulse" not in figures.possible(tone)


def test_source_levels_are_the_recordings():
    several = made_up(pings=20)
    first = several.elements[0].info
    frequency, level = source.points(first)
    assert list(frequency) == [(first.band_low + first.band_high) / 2]
    assert list(level) == [first.source_level]
    whole = replace(first, extra={"source_level_low": 220.0, "source_level_high": 224.0})
    frequency, level = source.points(whole)
    assert list(frequency[[0, 2]]) == [first.band_low, first.band_high]
    assert list(level) == [220.0, first.source_level, 224.0]
    told = source.caption(replace(several, elements=(replace(several.elements[0], info=whole),)))
    assert "220 to 224 dB" in told


MODELS = [name for name in formulas.MODELS if not name.endswith(" open")]
GROUP = """
[[fish]]
name = "one {i}"
swimbladder = "{bladder}"
length = "{length}"
strength_model = "{model}"
count = 1
where = {{ x = ["-2 m", "2 m"], y = ["-1 m", "1 m"], depth = ["0 m", "0.01 m"] }}
"""
PROFILE = b"depth,temperature,salinity\n0,18,2\n4,16,5\n11,7,12\n"


def with_groups(*groups):
    text = LAKE[: LAKE.index("[[fish]]")]
    text += "".join(GROUP.format(i=i, **group) for i, group in enumerate(groups))
    return prepare(parse(text)).header


@pytest.mark.parametrize("model", MODELS)
def test_the_strengths_drawn_are_those_the_fish_echo_with(model):
    """The truth group's strengths come from the world, the curves from the scenario's text: two ways, one value.

    Fish at the surface, where an open bladder has its full size: its depth term is 0.001 dB at 1 cm.
    """
    fish = [{"bladder": b, "length": x, "model": model} for b in ("closed", "open") for x in ("20 cm", "45 cm")]
    made = with_groups(*fish)
    laws = scene.kinds(scene.scenario(made))
    for position, element in enumerate(made.elements):
        info, truth = element.info, made.truth.fish
        centre = np.full(len(fish), (info.band_low + info.band_high) / 2)
        drawn = [law.strength(truth.length, centre, info.assumed_sound_speed) for law in laws]
        near = np.nanmin([np.abs(each - truth.strength[position]) for each in drawn], axis=0)
        assert np.all(near < 0.01)  # Love 1977 takes the true sound speed, the figure the assumed one: 0.005 dB


def test_laws_are_drawn_each_once_by_name_and_only_where_they_hold():
    many = [
        {"bladder": b, "length": "30 cm", "model": m} for m in ("foote-1987", "love-1971") for b in ("closed", "open")
    ]
    laws = scene.named(scene.kinds(scene.scenario(with_groups(*many, *many))))
    assert list(laws) == ["Foote 1987, closed bladder", "Foote 1987, open bladder", "Love 1971, closed bladder",
                          "Love 1971, open bladder"]  # fmt: skip
    drawn = laws["Love 1971, closed bladder"].strength(np.array([0.005, 0.02, 2.0]), np.full(3, 150e3), 1500.0)
    assert list(np.isfinite(drawn)) == [False, True, False]  # 1 to 130 wavelengths of 1 cm, Love 1971


@pytest.mark.parametrize("profiled", [False, True])
def test_absorption_drawn_is_that_of_the_recording_at_every_band_centre(profiled):
    text = LAKE.replace('temperature = "14 degC"\nsalinity = 0', 'profile = "w.csv"') if profiled else LAKE
    made = prepare(parse(text, files={"w.csv": PROFILE})).header
    known = scene.scenario(made)
    for element in made.elements:
        info = element.info
        centre = np.array([(info.band_low + info.band_high) / 2])
        assert scene.absorption(known, info.transducer_depth, centre) == pytest.approx(info.absorption, rel=1e-3)
    assert scene.water_name(known.water) == ("water as profiled" if profiled else "14 \u00b0C, fresh")


def test_a_text_that_is_no_scenario_offers_neither_absorption_nor_strength():
    made = header(names=("narrow high", "low"))
    assert not {"absorption", "strength"} & set(figures.possible(made))
    assert {"absorption", "strength"} <= set(figures.possible(prepare(parse(LAKE)).header))
    fishless = prepare(parse(LAKE[: LAKE.index("[[fish]]")])).header
    assert "absorption" in figures.possible(fishless)
    assert "strength" not in figures.possible(fishless)


def test_swath_drawn_is_that_of_the_summary():
    made = in_memory(prepare(parse(LAKE)))
    found = assess(made)
    closed = found.elements[0].closed
    depth = np.array([0.5 * closed.fish_height, closed.depth])
    for element, judgement in zip(made.elements, found.elements, strict=True):
        drawn = searched_by_depth(element, made.truth, depth, closed.fish_height)
        assert np.isnan(drawn[0])
        assert drawn[1] == pytest.approx(judgement.closed.swath)
        assert drawn[1] <= coverage.by_geometry(depth, closed.fish_height)[1] + 1e-9


def test_the_help_names_every_figure(capsys):
    with pytest.raises(SystemExit):
        command.parser().parse_args(["draw", "--help"])
    told = capsys.readouterr().out.replace("\n", " ")
    for name in (*figures.FIGURES, figures.MOTION):
        assert name in told


def test_a_title_stays_inside_its_fence(tmp_path):
    """A scenario's text in captions.md may end no code fence and begin no heading or markup."""
    made = replace(made_up(pings=20), title="# A\n```\n<script>alert(1)</script> $\\frac{1}{2}$")
    figures.write_figures(made, judged(made), tmp_path, figures.Look(("source", "ping")), embed.carried(made))
    lines = (tmp_path / figures.CAPTIONS).read_text().splitlines()
    fences = [line for line in lines if line.startswith("```")]
    assert len(fences) == 8
    outside = [lines[0]]
    inside = False
    for line in lines[1:]:
        inside = line == fences[-2] or (inside and line != fences[-1])
        outside += [] if inside else [line]
    assert not any("<script>" in line or line.startswith("# A") for line in outside)
