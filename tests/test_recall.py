"""A picture carries what it was made from: recall gives it back, and running that again gives the same picture."""

from dataclasses import replace

import numpy as np
import pytest
from pingwright import __main__ as command
from pingwright.echograms.file import read
from pingwright.errors import EchogramError, ScenarioError, UnfinishedError
from pingwright.figures import embed
from pingwright.run import recalling
from tiny_scenarios import LAKE

PROFILE = "depth,temperature,salinity\n0,18,0\n5,12,0\n11,8,0\n"
GRID = "x,y,depth\n" + "".join(f"{x},{y},{9 + 0.02 * x}\n" for x in (-40, 0, 40) for y in (-40, 40))
#: Measured water, a measured bottom in a folder of its own, and signs of many kinds in the texts.
SCENARIO = (
    LAKE.replace('temperature = "14 degC"\nsalinity = 0', 'profile = "water.csv"')
    .replace('[seabed]\ndepth = "9 m"', '[seabed]\ngrid = "measured/bottom.csv"')
    .replace("A lake nine metres deep", "A lake <b>&amp; $\\\\frac{1}{2}$ é 水")
    .replace("pings = 40", "pings = 12")
)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A folder of results, with figures as SVG and PDF beside the usual set."""
    folder = tmp_path_factory.mktemp("made")
    (folder / "measured").mkdir()
    (folder / "water.csv").write_text(PROFILE)
    (folder / "measured/bottom.csv").write_text(GRID)
    (folder / "lake.toml").write_text(SCENARIO, encoding="utf-8")
    out = folder / "out"
    assert command.main(["run", str(folder / "lake.toml"), "--out", str(out), "--quiet"]) == 0
    for kind in ("svg", "pdf"):
        asked = ["--figures", "compare,beams", "--format", kind, "--quiet"]
        assert command.main(["draw", str(out / "echograms.h5"), "--out", str(folder / kind), *asked]) == 0
    return folder


@pytest.mark.parametrize(
    "name",
    ["out/compare.png", "out/compare.html", "out/echograms.h5", "svg/figure-compare.svg", "pdf/figure-compare.pdf"],
)
def test_what_a_picture_carries_is_given_back_whole_and_gives_the_same_picture(made, tmp_path, capsys, name):
    there = tmp_path / "there"
    assert command.main(["recall", str(made / name), "--out", str(there)]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    names = [recalling.NAME, "measured/bottom.csv", "water.csv"]
    assert sorted(told.out.split()) == sorted(str(there / each) for each in names)
    assert (there / recalling.NAME).read_text(encoding="utf-8") == SCENARIO
    for each in names[1:]:
        assert (there / each).read_bytes() == (made / each).read_bytes()
    if name == "out/compare.html":  # one run will do: all gave the same files
        again = there / "again"
        assert command.main(["run", str(there / recalling.NAME), "--out", str(again), "--quiet"]) == 0
        for result in ("compare.png", "compare.html", "summary.md"):
            assert (again / result).read_bytes() == (made / "out" / result).read_bytes(), result
        records = [read(folder / "echograms.h5") for folder in (made / "out", again)]  # their history names the file
        for one, other in zip(*(record.elements for record in records), strict=True):
            assert np.array_equal(one.echo_level[:], other.echo_level[:])


def test_printed_it_names_the_files_and_the_way_to_have_them(made, capsys):
    assert command.main(["recall", str(made / "out/compare.png")]) == 0
    told = capsys.readouterr()
    assert told.out == SCENARIO
    assert "water.csv" in told.err
    assert "measured/bottom.csv" in told.err
    assert "--out DIR" in told.err


def test_what_was_too_large_is_named(tmp_path, capsys):
    what = embed.packed(
        "[water]\nprofile = 'small.csv'\n[seabed]\ngrid = 'big.csv'\n",
        1,
        {"big.csv": b"1" * 50, "small.csv": b"2"},
        limit=10,
    )
    assert (set(what.inputs), what.missing) == ({"small.csv"}, ("big.csv",))
    picture = tmp_path / "p.svg"
    picture.write_bytes(embed.into_svg(b"<svg></svg>", what, "t", "d"))
    assert command.main(["recall", str(picture), "--out", str(tmp_path / "there")]) == 0
    assert "does not hold big.csv" in capsys.readouterr().err
    assert (tmp_path / "there/small.csv").read_bytes() == b"2"


@pytest.mark.parametrize("name", ["../out.csv", "/etc/passwd", "a/../../b", "C:\\x.csv", "..\\x", "", "a" * 300])
def test_a_picture_writes_nothing_outside_the_folder(tmp_path, name):
    there = tmp_path / "deep/there"
    with pytest.raises(EchogramError, match="cannot be used"):
        recalling.restore(recalling.Recalled("x", {name: b"1"}), there)
    assert list(tmp_path.rglob("*")) == []


def test_a_link_in_the_folder_is_not_followed(tmp_path):
    there = tmp_path / "there"
    there.mkdir()
    (there / "sub").symlink_to(tmp_path)
    with pytest.raises(EchogramError, match="link"):
        recalling.restore(recalling.Recalled("x", {"sub/a.csv": b"1"}), there)


def test_nothing_is_written_over(tmp_path):
    recalled = recalling.Recalled("water = { profile = 'a.csv' }", {"a.csv": b"1"})
    (tmp_path / "a.csv").write_text("mine")
    with pytest.raises(ScenarioError, match="not overwritten"):
        recalling.restore(recalled, tmp_path)
    assert (tmp_path / "a.csv").read_text() == "mine"
    assert not (tmp_path / recalling.NAME).exists()
    assert replace(recalled, missing=("b.csv",)).names == ("a.csv", "b.csv")


def test_what_the_disk_refuses_is_told(made, tmp_path, monkeypatch):
    """A picture that cannot be read, and a folder in whose place a file stands."""

    def refuses(*_, **__):
        raise broken

    broken = OSError(5, "Input/output error")
    picture = tmp_path / "a.png"
    picture.write_bytes(b"x")
    with monkeypatch.context() as patch:
        patch.setattr(type(picture), "open", refuses)
        with pytest.raises(EchogramError, match=r"a\.png cannot be read: Input/output error"):
            recalling.recall(picture)
    with pytest.raises(UnfinishedError, match="x"):
        recalling.restore(recalling.Recalled("title = 'x'", {}), picture / "x")
