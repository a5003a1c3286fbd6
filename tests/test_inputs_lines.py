"""The key-path scanner, judged by the standard library's TOML reader."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pingwright.inputs.changing import ChangeError, setting
from pingwright.inputs.document import tables
from pingwright.inputs.first_edition import translated
from pingwright.inputs.lines import DEEPEST, lines, too_deep
from pingwright.inputs.writing import toml_text
from pingwright.measure.assess import _law_of
from pingwright.run.recalling import Recalled, _referred

ROOT = Path(__file__).parent.parent

TEXT = '''# a comment with [brackets] = 1
title = "a # that is no comment" # one that is
"quoted key".'other one' = 3

[water]
temperature = "11 degC"
note = """
two
lines = 3 [[not a table]]
"""
deep.down.below = [
    1,   # one
    { x = 2, "y z" = [3, 4] },
]
[[element]]
name = 'a]'
face = { shape = "disc", diameter = 1 }
[[element]]
name = "b"
[element.tilt]
along = 1
[[element.part]]
one = 1
[[element.part]]
two = 2
'''

EXPECTED = {
    ("title",): 2,
    ("quoted key", "other one"): 3,
    ("water",): 5,
    ("water", "note"): 7,
    ("water", "deep", "down", "below"): 11,
    ("water", "deep", "down", "below", 0): 12,
    ("water", "deep", "down", "below", 1, "y z", 1): 13,
    ("element", 0, "name"): 16,
    ("element", 0, "face", "diameter"): 17,
    ("element", 1, "name"): 19,
    ("element", 1, "tilt", "along"): 21,
    ("element", 1, "part", 0, "one"): 23,
    ("element", 1, "part", 1, "two"): 25,
}


def paths_of(node: object, path: tuple[str | int, ...] = ()) -> set[tuple[str | int, ...]]:
    """Every key path of parsed TOML."""
    inner = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    below = [paths_of(value, (*path, key)) for key, value in inner]
    return set().union({path} if path else set(), *below)


@pytest.mark.parametrize(("path", "line"), EXPECTED.items())
def test_line_of_a_key_path(path: tuple[str | int, ...], line: int) -> None:
    assert lines(TEXT)[path] == line


def test_every_path_of_the_text_has_a_line() -> None:
    assert set(lines(TEXT)) == paths_of(tomllib.loads(TEXT))


@pytest.mark.parametrize("path", sorted((ROOT / "scenarios").glob("*.toml")), ids=lambda path: path.stem)
def test_every_path_of_the_demo_files_has_a_line(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert set(lines(text)) == paths_of(tomllib.loads(text))


keys = st.text(st.characters(min_codepoint=32, max_codepoint=0x2FF), min_size=1, max_size=8)
scalars = st.integers(-5, 5) | st.booleans() | st.text(st.characters(min_codepoint=32, max_codepoint=0x2FF), max_size=9)
inner = st.recursive(
    scalars, lambda below: st.lists(below, max_size=3) | st.dictionaries(keys, below, max_size=3), max_leaves=8
)


@settings(max_examples=200)
@given(st.dictionaries(keys, inner, max_size=5))
def test_every_path_of_any_written_text_has_a_line(data: dict[str, object]) -> None:
    text = toml_text(data)
    assert tomllib.loads(text) == data
    assert set(lines(text)) == paths_of(data)


@settings(max_examples=200)
@given(st.text(max_size=200) | st.text("[]{}=.,\"'#\n a1\\", max_size=200))
def test_no_text_trips_the_scanner(text: str) -> None:
    assert all(line >= 1 for line in lines(text).values())
    assert too_deep(text) >= 0


def test_deep_nesting_is_seen_before_anything_recurses() -> None:
    assert too_deep("a = 1\nb = " + "[" * (DEEPEST + 1)) == 2
    assert too_deep(".".join("a" * (DEEPEST + 2)) + " = 1") == 1
    assert too_deep("a = " + "[" * DEEPEST + "]" * DEEPEST) == 0
    assert too_deep('a = "' + "[" * 100 + '"') == 0


@pytest.mark.parametrize("text", ["a" + ".a" * 20_000 + " = 1", "a = " + "[" * 20_000, "[a" + ".a" * 20_000 + "]"])
def test_a_stored_text_that_nests_without_end_never_reaches_the_parser(
    monkeypatch: pytest.MonkeyPatch, text: str
) -> None:
    """20,000 dots took the standard library's parser 20 s, in a stored scenario as in a picture's."""
    monkeypatch.setattr("tomllib.loads", lambda _: pytest.fail("parsed"))
    with pytest.raises(ValueError, match="line 1 nests more than 32 deep"):
        tables(text)
    assert translated(text) == text
    assert _law_of(text) == "kirchhoff"
    assert not _referred(Recalled(text))
    with pytest.raises(ChangeError, match="nested too deeply"):
        setting("key={" + text + "}")
    assert setting("note=" + 40 * ".") == ("note", 40 * ".")
