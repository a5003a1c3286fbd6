"""The set of results: numbers with their definitions, digests, and a mixed set that is detected."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest
import synthetic_record
from PIL import Image
from pingwright import files
from pingwright.echograms.file import Writer, read
from pingwright.errors import UnfinishedError
from pingwright.figures import embed
from pingwright.figures.compare import captions
from pingwright.measure.assess import assess
from pingwright.measure.assessment import MARKS
from pingwright.report import figures, numbers, scene, summary, write


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    out = tmp_path_factory.mktemp("set")
    made = synthetic_record.record()
    with Writer(out / "echograms.h5", made) as writer:
        for position, element in enumerate(made.elements):
            writer.write(position, 0, np.asarray(element.echo_level))
    write.write(read(out / "echograms.h5"), out, "echograms.h5")
    return out


def test_the_set_is_whole_and_its_summary_closes_it(folder):
    assert sorted(p.name for p in folder.iterdir()) == sorted((*write.NAMES, "echograms.h5"))
    data = json.loads((folder / "summary.json").read_text())
    assert set(data["files"]) == {"echograms.h5", "compare.png", "compare.html", "summary.md"}
    assert all(files.digest(folder / name) == known for name, known in data["files"].items())
    assert files.strangers(folder) == []
    assert "ynthetic" in data["synthetic"]


def test_a_mixed_set_is_detected(folder, tmp_path):
    for path in folder.iterdir():
        files.copy(path, tmp_path / path.name)
    (tmp_path / "summary.md").write_text("of another run")
    (tmp_path / "compare.html").unlink()
    assert sorted(files.strangers(tmp_path)) == ["compare.html", "summary.md"]
    (tmp_path / "summary.json").write_text("{}")
    with pytest.raises(ValueError, match="no summary.json that"):
        files.strangers(tmp_path)


def test_what_a_foreign_file_says_of_an_element_besides_may_be_anything(tmp_path):
    made = synthetic_record.record()
    strange = {"near_field": "far", "tilt_along": "steep", "tilt_across": float("nan"), "source_level_low": "loud",
               "source_level_high": True, "pulse_taper": -5, "cavitation_rule": float("inf")}  # fmt: skip
    elements = tuple(replace(e, info=replace(e.info, extra=strange)) for e in made.elements)
    with Writer(tmp_path / "echograms.h5", replace(made, elements=elements)) as writer:
        for position, element in enumerate(elements):
            writer.write(position, 0, np.asarray(element.echo_level))
    look = figures.Look(("source", "cutaway"))
    write.write(read(tmp_path / "echograms.h5"), tmp_path, "echograms.h5", look=look)
    data = json.loads((tmp_path / "summary.json").read_text())
    assert data["elements"][0]["numbers"]["near_field"]["value"] is None


def test_every_number_carries_unit_and_definition(folder):
    data = json.loads((folder / "summary.json").read_text())
    text = (folder / "summary.md").read_text()
    for element in data["elements"]:
        assert set(element["numbers"]) == {number.name for number in numbers.numbers(passes=False)}
        for name, number in element["numbers"].items():
            sentence = number["definition"]
            assert sentence.endswith("."), name
            assert sentence in text
            assert number["value"] is None or isinstance(number["value"], int | float)


def test_caption_and_alternative_text_stand_ready_to_paste_and_the_picture_holds_the_latter(folder):
    record = read(folder / "echograms.h5")
    found = assess(record)
    lines = (folder / "summary.md").read_text().splitlines()
    units = scene.shown(record)[0]
    for said in (captions.caption(record, found, units), captions.alt(record, found, units)):
        assert lines[lines.index(said) - 1] == "```text"
        assert lines[lines.index(said) + 1] == "```"
    with Image.open(folder / "compare.png") as picture:
        assert picture.info["Description"] == captions.alt(record, found, units)


def test_headline_and_rows_of_the_picture_count_what_summary_json_counts(folder):
    """The marks of the fish in summary.json, counted here, are its groups, the answer and the rows of the caption."""
    data = json.loads((folder / "summary.json").read_text())
    with Image.open(folder / "compare.png") as picture:
        words = picture.info["Description"]
    lowest, rows = {}, [{}, {}]
    for element in data["elements"]:
        heights = np.array([fish["height"] for fish in element["fish"]])
        marks = np.array([fish["mark"] for fish in element["fish"]])
        edges = np.searchsorted((0.5, 2.0), heights, side="right")  # all of one name: split at 0.5 and 2 m
        for group, place in zip(element["groups"], np.unique(edges), strict=True):
            mine = marks[edges == place]
            assert group["fish"] == len(mine)
            assert group["height"] == pytest.approx(np.median(heights[edges == place]))
            assert [group[mark] for mark in MARKS] == [np.sum(mine == mark) for mark in MARKS]
        assert [element["numbers"][f"fish_{mark}"]["value"] for mark in MARKS] == [np.sum(marks == m) for m in MARKS]
        lowest[element["name"]] = element["groups"][0]["separated"]
        for row, group in zip(rows, element["groups"], strict=False):
            row[element["name"]] = group["separated"] or "none"
    # All separate the four lowest fish, or none of them.
    assert set(lowest.values()) == {0, 4}
    every, nobody = ([name for name, count in lowest.items() if count == some] for some in (4, 0))
    assert data["answer"].endswith(f"off the bottom, {' and '.join(every)} separate all 4 fish, {nobody[0]} none.")
    for letter, row in zip("AB", rows, strict=True):
        first, second, third = (f"{name} {count}" for name, count in row.items())
        assert (
            f"; separated: {first}, {second} and {third}." in words[words.index(f"Row {letter}:") :].split(" Row ")[0]
        )
    text = re.sub("<[^>]+>", "", (folder / "compare.html").read_text()).replace("\u00a0", " ")
    assert data["answer"].rstrip(".") in text


def test_numbers_are_those_measured(folder):
    record = read(folder / "echograms.h5")
    found = assess(record)
    data = json.loads((folder / "summary.json").read_text())
    for element, measured, stored in zip(record.elements, found.elements, data["elements"], strict=True):
        values = {name: number["value"] for name, number in stored["numbers"].items()}
        assert values["source_level"] == element.info.source_level
        assert (
            values["fish"]
            == len(measured.mark)
            == sum(values[f"fish_{mark}"] for mark in ("separated", "merged", "not_shown"))
        )
        assert values["reach"] == pytest.approx(measured.closed.reach)
        assert stored["numbers"]["share_separated"]["of"] == measured.separated.of


def test_writing_again_gives_the_same_bytes(folder, tmp_path):
    files.copy(folder / "echograms.h5", tmp_path / "echograms.h5")
    write.write(read(tmp_path / "echograms.h5"), tmp_path, "echograms.h5")
    for name in ("summary.md", "summary.json", "compare.png", "compare.html"):
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes(), name


def test_the_picture_carries_its_scenario(folder):
    carried = embed.read((folder / "compare.png").read_bytes())
    assert carried.scenario == synthetic_record.SCENARIO


def test_a_full_disk_leaves_the_old_files(folder, tmp_path, monkeypatch):
    for path in folder.iterdir():
        files.copy(path, tmp_path / path.name)
    record = replace(read(tmp_path / "echograms.h5"), title="Another title")
    put = files.put_in_place

    def full(part, target):
        if target.name == "summary.md":
            raise files.unfinished(OSError(28, "No space left on device"), target)
        put(part, target)

    monkeypatch.setattr(files, "put_in_place", full)
    with pytest.raises(UnfinishedError, match="no room left"):
        write.write(record, tmp_path, "echograms.h5")
    assert (tmp_path / "summary.md").read_bytes() == (folder / "summary.md").read_bytes()
    assert not list(tmp_path.glob(f"{files.PART}*"))
    assert "compare.png" in files.strangers(tmp_path)


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        (1627.4, "m", "1630 m (5340 ft)"),
        (0.30481, "m", "30.5 cm (1 ft)"),
        (-0.0183, "m", "\u22121.83 cm (\u22120.72 in)"),
        (130e3, "Hz", "130 kHz"),
        (0.002, "s", "2 ms"),
        (0.0512, "dB/m", "51.2 dB/km"),
        (float("nan"), "m", "-"),
        (12.0, "", "12"),
    ],
)
def test_numbers_are_shown_to_people(value, unit, said):
    assert summary.shown(numbers.Number("x", "x", unit, lambda *_: value), value) == said


def test_fish_outside_the_beams_are_counted_and_the_arch_of_the_others_is_given(folder):
    record = read(folder / "echograms.h5")
    found = assess(record)
    fish = len(record.truth.fish.id)
    reason = ("outside", *("",) * (fish - 1))
    mark = ("not_shown", *("separated",) * (fish - 1))
    long, deep = np.full(fish, 3.0), np.full(fish, 0.25)
    elements = [replace(e, reason=reason, mark=mark, arch_length=long, arch_depth=deep) for e in found.elements]
    told = replace(found, elements=tuple(elements))
    value = next(one for one in numbers.NUMBERS if one.name == "fish_outside").value
    assert [value(e.info, one) for e, one in zip(record.elements, elements, strict=True)] == [1.0] * len(elements)
    text = "\n".join(summary._fish_table(record, told, "ft"))
    assert "1 fish is outside the beam of every element" in text
    assert "; arch 9.8 ft long, arms 9.8 in deep" in text
