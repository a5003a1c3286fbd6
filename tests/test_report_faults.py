"""The set of results written again and again by a process that is killed: every file whole, a mixed set detected."""

import json
import random

from killing import killed
from pingwright import files
from pingwright.files import strangers

KILLS = 60

# The real order of writing, with stand-ins for the slow drawing: the sets A and B by turns, 300 kB to a file.
SETUP = """
import tempfile
from pathlib import Path
from pingwright import files
from pingwright.echograms.record import Record
from pingwright.figures import embed, save
from pingwright.figures.compare import captions, picture
from pingwright import words
from pingwright.measure import assess
from pingwright.page import build
from pingwright.report import summary, write
from tests_made import header

letter = "A"
assess.assess = lambda *_, **__: None
words.answer = lambda *_, **__: letter
picture.comparison = captions.alt = lambda *_, **__: letter
save.save = lambda figure, path, *_, **__: files.write_bytes(path, figure.encode() * 300_000)
build.build = summary.as_text = lambda *_, **__: letter * 300_000
summary.as_data = lambda record, found, answer, digests: {"program": "pingwright", "answer": answer, "files": digests}
made = header()
with tempfile.TemporaryDirectory() as warm:  # all late imports are done before the first fork
    files.write_text(Path(warm) / "echograms.h5", "")
    write.write(made, Path(warm), "echograms.h5")
"""
WORK = """
while True:
    with files.claimed(Path({folder!r}), write.NAMES):
        files.write_text(Path({folder!r}) / "echograms.h5", letter * 300_000)
        write.write(made, Path({folder!r}), "echograms.h5")
    letter = "B" if letter == "A" else "A"
"""


def test_killed_at_random_moments_every_file_is_whole_and_a_mixed_set_is_known(tmp_path):
    dice = random.Random(5)
    mixed = 0
    delays = (dice.uniform(0.0, 0.06) for _ in range(20 * KILLS))  # on a busy machine most fall before the work
    for number, _ in enumerate(killed(SETUP, WORK.format(folder=str(tmp_path)), delays)):
        letters = set()
        for name in ("echograms.h5", "compare.png", "compare.html", "summary.md"):
            path = tmp_path / name
            if path.exists():
                content = path.read_text()
                assert content in ("A" * 300_000, "B" * 300_000), name
                letters.add(content[0])
        if (tmp_path / "summary.json").exists():
            closed = json.loads((tmp_path / "summary.json").read_text())["answer"]
            assert bool(strangers(tmp_path)) == (letters != {closed})
            mixed += letters != {closed}
        assert files.holds_our_results(tmp_path) or not letters
        if mixed and number >= KILLS:
            break
    assert mixed > 0, "no kill fell between two files: the test has seen nothing"
    with files.claimed(tmp_path, ("compare.png",)):
        assert not list(tmp_path.glob(f"{files.PART}*"))
