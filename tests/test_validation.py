"""validate: rows and simulated scenes as a table; a wrong constant is found and named; limits are told."""

import html
import json
import re

import numpy as np
import pingwright as pw
import pytest
from pingwright.__main__ import main
from pingwright.acoustics import absorption
from pingwright.validation import collected, pipeline, writing
from pingwright.validation.checks import targets
from pingwright.validation.checks.scene import Check
from pingwright.validation.curves import CURVES
from pingwright.validation.limits import LIMITS, assumed


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The results of one quick validation."""
    folder = tmp_path_factory.mktemp("validation") / "out"
    assert main(["validate", "--quick", "--out", str(folder)]) == 0
    return folder


@pytest.fixture(scope="module")
def data(folder):
    return json.loads((folder / "validation.json").read_text(encoding="utf-8"))


def test_every_row_and_every_check_is_met_and_told(data):
    assert data["missed"] == []
    assert len(data["rows"]) == len(collected.rows())
    assert len(data["checks"]) >= 11
    for one in (*data["rows"], *data["checks"]):
        assert one["met"] is True
    for one in data["checks"]:
        assert abs(one["computed"] - one["expected"]) <= one["tolerance"]
        assert one["from"]
        assert one["tolerance_because_of"]


def test_enough_rows_are_seen_in_print_or_by_an_independent_library(data):
    known = data["known"]
    assert known["seen in print"] + known["by an independent library here"] >= 80
    assert sum(known.values()) == len(data["rows"])


def test_the_page_and_the_text_hold_the_same_and_need_no_network(folder, data):
    text = (folder / "validation.md").read_text(encoding="utf-8")
    page = (folder / "validation.html").read_text(encoding="utf-8")
    for part in (text, page):
        assert "What is not validated" in part
        assert data["answer"] in html.unescape(part)
    assert page.count("<img") >= 8
    assert not re.search(r"(src|href)=['\"]?(https?:)?//", page)
    assert page.count("<tr>") >= len(data["rows"])


def test_what_is_not_validated_names_what_a_user_can_do(data):
    assert len(data["not_validated"]) == len(LIMITS)
    assert any("No recording from the sea" in one["what"] for one in data["not_validated"])
    assert all(one["remedy"] for one in data["not_validated"])
    assert {one[0] for one in assumed()} == {"elements", "sediments", "fish", "materials"}


def test_a_wrong_constant_is_found_and_named(tmp_path, monkeypatch, capsys):
    """The factor 21.44 of magnesium sulphate (Francois & Garrison 1982) made 2 % larger inside the formula."""
    code = absorption.francois_garrison_parts.__code__
    wrong = tuple(1.02 * one if one == 21.44 else one for one in code.co_consts)
    assert wrong != code.co_consts
    monkeypatch.setattr(absorption.francois_garrison_parts, "__code__", code.replace(co_consts=wrong))
    monkeypatch.setattr(pipeline, "checks", lambda quick: iter([lambda: iter([])]))
    assert main(["validate", "--quick", "--out", str(tmp_path / "out")]) == 1
    assert "Outside: " in (shown := capsys.readouterr().out)
    assert "absorption.francois_garrison(" in shown
    assert "OUTSIDE" in (tmp_path / "out" / "validation.md").read_text(encoding="utf-8")


def test_a_check_outside_its_tolerance_is_a_miss():
    good = Check("a", 1.05, 1.0, "1", 0.1, "law", "why")
    bad = Check("b", float("nan"), 1.0, "1", 0.1, "law", "why")
    found = pipeline.Validation((), (good, bad))
    assert found.missed == ("b",)
    assert writing.as_data(found)["checks"][1]["computed"] == "none"


def test_the_width_of_an_echo_is_that_of_a_known_one():
    """A Gaussian exp(-t^2 / 2 s^2) is 2 s sqrt(ln 2) wide at half power."""
    t = np.arange(-200, 200) * 0.1
    assert targets.half_width(np.exp(-(t**2) / 2 / 0.5**2), 0.1) == pytest.approx(
        2 * 0.5 * np.sqrt(np.log(2)), abs=0.005
    )


@pytest.mark.parametrize("topic", CURVES)
def test_curves_are_finite_and_points_lie_on_them(topic):
    what = CURVES[topic]()
    for line in what.lines.values():
        assert np.isfinite(line).all()
        assert np.shape(line) == np.shape(what.x)
    for x, y in what.points.values():
        for at, value in zip(x, y, strict=True):
            near = [np.interp(at, what.x, line) for line in what.lines.values()]
            assert np.min(np.abs(np.array(near) - value)) < 0.3


def test_python_gives_the_same(monkeypatch):
    monkeypatch.setattr(pipeline, "checks", lambda quick: iter([targets.travel]))
    found = pw.validate(quick=True)
    assert found.missed == ()
    assert len(found.to_frame()) == len(collected.rows())
    assert "lie within" in found._repr_html_()
    assert len(repr(found)) < 250
