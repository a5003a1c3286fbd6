"""Results of claims and match written again and again by a process that is killed; closing files that are odd."""

import json
import random

import pytest
from killing import killed
from pingwright import checking, files
from pingwright.errors import ScenarioError

KILLS = 40

# The real order of writing, with stand-ins for drawing and wording: the sets A and B by turns, 300 kB to a file.
MATCH = """
from pathlib import Path
from pingwright import files
from pingwright.figures import embed, save
from pingwright.figures.charts import match_chart
from pingwright.match import pipeline
letter = "A"
class Trip: seed, inputs = 1, {}
class Hits: edges, quick = (1.0, 2.0), True
class Match: trip, hits, units = Trip, Hits, "m"
pipeline._drawn = pipeline._scores = lambda _: ()
pipeline.as_text = lambda _: letter * 300_000
pipeline.as_data = lambda _: {"program": "pingwright", "answer": letter}
pipeline.plain, pipeline.pasted = lambda _: letter, lambda *_: []
match_chart.match_chart = match_chart.alt = match_chart.caption = lambda *_, **__: letter
embed.packed = lambda *_: None
save.save = lambda figure, part, *_, **__: Path(part).write_bytes(figure.encode() * 300_000)
NAMES = pipeline.NAMES
def write(folder):
    pipeline.write(Match, folder, "")
"""
CLAIMS = """
from pathlib import Path
from pingwright import files
from pingwright.claims import report
letter = "A"
report.as_text = lambda *_: letter * 300_000
report.as_data = lambda *_: {"program": "pingwright", "answer": letter}
NAMES = ("claim-01.png", report.TEXT, report.DATA)
def write(folder):
    files.write_text(folder / "claim-01.png", letter * 300_000)
    report.write(folder, "", (), 0.95, 1, ["claim-01.png"])
"""
WORK = """
while True:
    with files.claimed(Path({folder!r}), NAMES):
        write(Path({folder!r}))
    letter = "B" if letter == "A" else "A"
"""


@pytest.mark.parametrize(("setup", "closing"), [(MATCH, "match.json"), (CLAIMS, "claims.json")])
def test_killed_at_random_moments_every_file_is_whole_and_a_mixed_set_is_known(tmp_path, setup, closing):
    dice, longest, mixed = random.Random(6), 0.06, 0

    def moments():
        for number in range(8 * KILLS):  # on a busy machine most moments come before the work begins
            if number < KILLS or not mixed:
                yield dice.uniform(0.0, longest)

    for _ in killed(setup, WORK.format(folder=str(tmp_path)), moments()):
        letters = set()
        for path in tmp_path.iterdir():
            if path.suffix in {".md", ".png"} and not path.name.startswith(files.PART):
                content = path.read_text()
                assert content.startswith(("A" * 300_000, "B" * 300_000)), path.name
                assert len(content) == 300_000 if path.suffix == ".png" else content.isascii()
                letters.add(content[0])
        if (tmp_path / closing).exists():
            closed = json.loads((tmp_path / closing).read_text())["answer"]
            assert bool(files.strangers(tmp_path, closing)) == (letters != {closed})
            mixed += letters != {closed}
        if not mixed:  # on a busy machine work begins late
            longest = min(1.05 * longest, 1.0)
    assert mixed > 0, "no kill fell between two files: the test has seen nothing"
    with files.claimed(tmp_path, ("match.md",)):
        assert not list(tmp_path.glob(f"{files.PART}*"))


@pytest.mark.parametrize("closing", files.CLOSING)
def test_check_knows_a_whole_and_a_mixed_set_of_every_kind(tmp_path, closing):
    (tmp_path / "a.md").write_text("whole")
    closed = {"program": "pingwright", "files": {"a.md": files.digest(tmp_path / "a.md")}}
    (tmp_path / closing).write_text(json.dumps(closed))
    for named in (tmp_path / closing, tmp_path):
        assert "complete set" in checking.check(named).lines[0]
    (tmp_path / "a.md").write_text("of another run")
    with pytest.raises(ScenarioError, match=r"a\.md is missing in this folder or belongs to another run"):
        checking.check(tmp_path / closing)


@pytest.mark.parametrize(
    "listed", [None, [], {}, "a.md", 7, {"../a.md": "0"}, {"": "0"}, {"\x1b[2J": "0"}, {"a.md": None}, {"a.md": [1]}]
)
def test_a_closing_file_that_lists_what_it_should_not_is_refused(tmp_path, listed):
    (tmp_path / "a.md").write_text("whole")
    (tmp_path / "summary.json").write_text(json.dumps({"program": "pingwright", "files": listed}))
    with pytest.raises(ScenarioError) as caught:
        checking.check(tmp_path / "summary.json")
    assert str(caught.value).isprintable()
