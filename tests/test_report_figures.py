"""Further figures by the command: every one of them, in every format, with what it says."""

import json
from dataclasses import replace

import pytest
from PIL import Image
from synthetic_record import record as made_up
from tests_made import header, write_all

from simulator import __main__ as command
from simulator.echograms.file import Writer
from simulator.figures import embed, source
from simulator.report import figures
from simulator.run.checking import check


@pytest.fixture(scope="module")
def stored(tmp_path_factory):
    path = tmp_path_factory.mktemp("stored") / "echograms.h5"
    made = header(names=("narrow high", "low"))
    with Writer(path, made) as writer:
        write_all(writer, made)
    return path


@pytest.mark.parametrize(
    ("ending", "size", "theme", "units"),
    [("png", "one-column", "dark", "ft"), ("svg", "slide", "light", "fathoms"), ("pdf", "two-column", "light", "m")],
)
def test_all_figures_are_drawn_and_carry_their_scenario(stored, tmp_path, capsys, ending, size, theme, units):
    out = tmp_path / "out"
    asked = ["--figures", "all", "--format", ending, "--size", size, "--theme", theme, "--units", units]
    assert command.main(["draw", str(stored), "--out", str(out), *asked]) == 0
    told = capsys.readouterr().out
    said = (out / figures.CAPTIONS).read_text()
    closed = json.loads((out / "summary.json").read_text())["files"]
    names = [*figures.FIGURES, figures.MOTION]
    for name in names:
        file = f"figure-{name}.{'png' if name == figures.MOTION else ending}"
        assert str(out / file) in told
        assert file in closed
        assert f"## {file}" in said
        assert embed.read((out / file).read_bytes()).scenario == embed.read((out / "compare.png").read_bytes()).scenario
    with Image.open(out / "figure-motion.png") as moving:
        assert moving.n_frames > 2
    assert (out / "figure-motion.png").stat().st_size < 6e6
    assert said.count("Alternative text:") == len(names)
    assert check(out / "summary.json")


def test_a_name_that_is_none_is_refused_before_anything_is_touched(stored, tmp_path, capsys):
    out = tmp_path / "out"
    assert command.main(["draw", str(stored), "--out", str(out), "--figures", "cutaway,beam"]) == 2
    assert 'found "beam"; allowed for these echograms: all, or names from compare, cutaway' in capsys.readouterr().err
    assert not out.exists()


def test_what_one_element_or_a_tone_cannot_show_is_not_offered():
    several = made_up(pings=20)
    alone = replace(several, elements=several.elements[:1])
    assert "difference" in figures.possible(several)
    assert "difference" not in figures.possible(alone)
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
