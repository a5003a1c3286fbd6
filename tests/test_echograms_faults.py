"""A writing process killed at random moments: the file is the old whole one or the new one, and --resume ends right."""

import errno
import os
import random
import subprocess
import sys
import time
from io import FileIO
from pathlib import Path

import pytest
from tests_made import header, write_all

from simulator.echograms.file import Writer, leftovers, read
from simulator.errors import UnfinishedError

HERE = Path(__file__).parent
KILLS = 100

# Writes the same record again and again; each time goes on with what a killed process has left.
LOOP = """
import sys, time
sys.path.insert(0, sys.argv[2])
import h5py
from pathlib import Path
from simulator.echograms import levels
from simulator.echograms.file import Writer
from tests_made import echo, header
made = header(pings=200, samples=300)
parts = [levels.pack(echo(made, element)) for element in range(2)]
print("ready", flush=True)
while True:
    with Writer(Path(sys.argv[1]), made, resume=True) as writer:
        for first in range(writer.first_missing(16), 200, 16):
            for element in range(2):
                writer.write(element, first, parts[element][first : first + 16])
                time.sleep(0.001)
"""


def test_killed_at_random_moments_the_file_is_whole(tmp_path):
    target = tmp_path / "echograms.h5"
    made = header(pings=200, samples=300)
    with Writer(tmp_path / "known.h5", made) as writer:
        write_all(writer, made)
    known = (tmp_path / "known.h5").read_bytes()
    target.write_bytes(b"the old whole one")
    dice = random.Random(4)
    stopped_inside = 0
    for _ in range(KILLS):
        worker = subprocess.Popen(
            [sys.executable, "-c", LOOP, str(target), str(HERE)], stdout=subprocess.PIPE, cwd=HERE.parent
        )
        assert worker.stdout.readline() == b"ready\n"
        time.sleep(dice.uniform(0.02, 0.12))
        worker.kill()
        worker.communicate()
        found = target.read_bytes()
        assert found in (b"the old whole one", known)
        stopped_inside += leftovers(target)[1].exists()
    assert stopped_inside > KILLS / 5
    with Writer(target, made, resume=True) as writer:
        write_all(writer, made)
    assert target.read_bytes() == known
    assert read(target).elements[0].pings == 200


class FullDisk(FileIO):
    def write(self, _):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def test_a_full_disk_is_told_and_what_was_written_stays(tmp_path):
    target = tmp_path / "echograms.h5"
    made = header()
    writer = Writer(target, made)
    write_all(writer, made, chunks=2)

    writer._file.close()
    writer._file = FullDisk(writer._part, "rb+")
    with pytest.raises(UnfinishedError, match="no room left on the disk"):
        write_all(writer, made)
    writer._let_go()
    assert not target.exists()
    with Writer(target, made, resume=True) as again:
        assert again.missing() == 2 * 37 - 2 * 16
        write_all(again, made)
    assert read(target).elements[0].pings == 37


def test_a_disk_without_room_refuses_before_anything_is_computed(tmp_path, monkeypatch):
    def full(*_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "posix_fallocate", full)
    with pytest.raises(UnfinishedError, match="no room left"):
        Writer(tmp_path / "echograms.h5", header())
    assert os.listdir(tmp_path) == []
