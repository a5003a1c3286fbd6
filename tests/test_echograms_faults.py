"""A writing process killed at random moments: the file is the old whole one or the new one, and --resume ends right."""

import errno
import os
import random
from io import FileIO

import pytest
from killing import killed
from pingwright.echograms.file import Writer, leftovers, read
from pingwright.errors import UnfinishedError
from tests_made import header, write_all

KILLS = 50

# Writes the same record again and again; each time goes on with what a killed process has left.
SETUP = """
import time
from pathlib import Path
import h5py

from pingwright.echograms.file import Writer
from tests_made import header, held
made = header(pings=200, samples=300)
parts = [held(made, element)[0] for element in range(2)]
"""
WORK = """
while True:
    with Writer(Path({target!r}), made, resume=True) as writer:
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
    longest, stopped_inside = 0.12, 0

    def moments():
        for number in range(8 * KILLS):  # on a busy machine most moments come before the work begins
            if number < KILLS or stopped_inside <= KILLS / 5:
                yield dice.uniform(0.0, longest)

    for _ in killed(SETUP, WORK.format(target=str(target)), moments()):
        assert target.read_bytes() in (b"the old whole one", known)
        inside = leftovers(target)[1].exists()
        stopped_inside += inside
        if not inside:  # on a busy machine work begins late
            longest = min(1.05 * longest, 1.0)
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
