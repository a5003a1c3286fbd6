"""Broken scenarios: each file in bad_scenarios/ is refused with exactly the message beside it."""

from pathlib import Path

import pytest
from pingwright.errors import ScenarioError
from pingwright.inputs import scenario

FOLDER = Path(__file__).parent / "bad_scenarios"
FILES = sorted(FOLDER.glob("*.toml"))


def test_there_are_at_least_forty() -> None:
    assert len(FILES) >= 40


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_refusal_says_what_was_found_and_what_is_allowed(path: Path) -> None:
    with pytest.raises(ScenarioError) as caught:
        scenario.load(path)
    assert f"{caught.value}\n" == path.with_suffix(".expected").read_text(encoding="utf-8")


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_no_refusal_uses_the_schema_librarys_words(path: Path) -> None:
    text = path.with_suffix(".expected").read_text(encoding="utf-8").lower()
    for word in ("input should", "field required", "extra inputs", "pydantic", "pint", "traceback", "value error"):
        assert word not in text


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_fault_names_its_file_and_key_or_line(path: Path) -> None:
    with pytest.raises(ScenarioError) as caught:
        scenario.load(path)
    for fault in caught.value.faults:
        assert fault.file
        assert fault.line or fault.path or "cannot be read" in fault.message
