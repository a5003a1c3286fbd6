import errno
import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from pingwright import files
from pingwright.errors import ScenarioError, UnfinishedError

NAMES = ("echograms.h5", "compare.png", "summary.json")


def test_a_file_is_whole_or_as_it_was(tmp_path):
    target = tmp_path / "a.md"
    files.write_text(target, "old")

    def broken():
        with files.replacing(target) as part:
            part.write_text("half of the n")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        broken()
    assert target.read_text() == "old"
    files.write_bytes(target, b"new")
    assert target.read_text() == "new"
    assert os.listdir(tmp_path) == ["a.md"]


@pytest.mark.parametrize(
    ("number", "said"), [(errno.ENOSPC, "no room left"), (errno.EROFS, "read-only"), (errno.EDQUOT, "quota")]
)
def test_the_disk_s_refusal_is_told_in_words(tmp_path, number, said):
    def full():
        with files.replacing(tmp_path / "a.md"):
            raise OSError(number, os.strerror(number))

    with pytest.raises(UnfinishedError, match=said):
        full()
    assert os.listdir(tmp_path) == []


def test_a_new_file_never_overwrites(tmp_path):
    files.create(tmp_path / "a.toml", "mine")
    with pytest.raises(ScenarioError, match="already exists"):
        files.create(tmp_path / "a.toml", "other")
    (tmp_path / "dangling").symlink_to(tmp_path / "nowhere")
    with pytest.raises(ScenarioError, match="already exists"):
        files.create(tmp_path / "dangling", "other")
    assert (tmp_path / "a.toml").read_text() == "mine"
    with pytest.raises(UnfinishedError):
        files.create(tmp_path / "none" / "a.toml", "x")


def test_a_folder_of_ours_is_used_again_and_others_files_stay(tmp_path):
    out = tmp_path / "deep" / "out"
    with files.claimed(out, NAMES):
        (out / "summary.json").write_text(json.dumps({"program": "pingwright"}))
        (out / "compare.png").write_text("old")
    (out / "notes.txt").write_text("mine")
    (out / f"{files.PART}compare.png").write_text("left by a run that was killed")
    with files.claimed(out, NAMES):
        assert not list(out.glob(f"{files.PART}*"))
    assert sorted(os.listdir(out)) == ["compare.png", "notes.txt", "summary.json"]


@pytest.mark.parametrize("content", ["{}", "not json", '{"program": "other"}', "[" * 100_000])
def test_files_of_our_names_that_are_not_ours_are_refused(tmp_path, content):
    (tmp_path / "compare.png").write_text("a photo")
    (tmp_path / "summary.json").write_text(content)
    with pytest.raises(ScenarioError, match=r"already holds compare\.png"), files.claimed(tmp_path, NAMES):
        pass
    assert (tmp_path / "compare.png").read_text() == "a photo"
    assert not (tmp_path / files.LOCK).exists()


def test_a_folder_with_other_files_only_is_used(tmp_path):
    (tmp_path / "photo.png").write_text("a photo")
    with files.claimed(tmp_path, NAMES):
        pass
    assert os.listdir(tmp_path) == ["photo.png"]


def test_a_file_in_place_of_the_folder_is_refused(tmp_path):
    (tmp_path / "out").write_text("x")
    with pytest.raises(ScenarioError, match="is a file"), files.claimed(tmp_path / "out", NAMES):
        pass
    with pytest.raises(UnfinishedError, match="not a folder"), files.claimed(tmp_path / "out" / "deep", NAMES):
        pass


def test_a_cut_off_run_leaves_a_folder_of_ours(tmp_path):
    def stopped():
        with files.claimed(tmp_path, NAMES):
            (tmp_path / "echograms.h5").write_text("whole")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        stopped()
    assert files.holds_our_results(tmp_path)
    with files.claimed(tmp_path, NAMES):
        pass


HOLDER = """
import sys, time
from pathlib import Path
from pingwright import files
with files.claimed(Path(sys.argv[1]), ("summary.json",)):
    print("held", flush=True)
    time.sleep(60)
"""


def test_two_runs_into_one_folder_the_second_is_refused_until_the_first_dies(tmp_path):
    root = Path(files.__file__).parents[1]
    first = subprocess.Popen([sys.executable, "-c", HOLDER, str(tmp_path)], stdout=subprocess.PIPE, cwd=root)
    try:
        assert first.stdout.readline() == b"held\n"
        with pytest.raises(UnfinishedError, match="Another run"), files.claimed(tmp_path, NAMES):
            pass
    finally:
        first.kill()
        first.communicate()
    for _ in range(50):
        try:
            with files.claimed(tmp_path, NAMES):
                break
        except UnfinishedError:
            time.sleep(0.1)
    else:
        pytest.fail("the lock of a dead process still holds")


def test_digest_is_sha256(tmp_path):
    # FIPS 180-2, appendix B.1: "abc".
    (tmp_path / "abc").write_bytes(b"abc")
    assert files.digest(tmp_path / "abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
