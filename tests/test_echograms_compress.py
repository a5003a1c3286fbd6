"""A packed file is the same file to every reader."""

import h5py
import numpy as np
import pytest
import xarray
from pingwright import __main__ as command
from pingwright.echograms.compress import compress
from pingwright.echograms.file import Writer, read
from pingwright.errors import UnfinishedError
from tests_made import header, write_all


@pytest.fixture
def plain(tmp_path):
    made = header(names=("high", "low"))
    path = tmp_path / "echograms.h5"
    with Writer(path, made, keep_phase=True) as writer:
        write_all(writer, made, keep_phase=True)
    return made, path


@pytest.mark.parametrize("threads", [1, 2])
def test_packed_levels_are_the_same_to_the_bit(plain, threads):
    made, path = plain
    before = {}
    with h5py.File(path) as file:
        file["elements"].visititems(lambda n, d: before.update({n: d[()]}) if isinstance(d, h5py.Dataset) else None)
    compress(path, made, keep_phase=True, threads=threads)
    assert [p.name for p in path.parent.iterdir()] == ["echograms.h5"]
    with h5py.File(path) as file:
        for name, values in before.items():
            assert np.array_equal(file["elements"][name][()], values, equal_nan=values.dtype.kind == "f"), name
        level = file["elements/high/echo_level"]
        assert level.shuffle
        assert level.compression == "gzip"
    assert read(path).elements[1].echo is not None
    assert xarray.open_dataset(path, group="elements/low").sizes["ping"] == made.elements[1].pings


def test_a_full_disk_leaves_the_plain_file(plain, monkeypatch):
    made, path = plain
    before = path.read_bytes()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pingwright.echograms.compress._pack", full)
    with pytest.raises(UnfinishedError, match="no room left"):
        compress(path, made, keep_phase=True)
    assert path.read_bytes() == before
    assert [p.name for p in path.parent.iterdir()] == ["echograms.h5"]


def test_the_command_packs(tmp_path, capsys):
    new = tmp_path / "s.toml"
    assert command.main(["new", str(new)]) == 0
    small = new.read_text()
    assert "[boat]" in small
    sizes = {}
    for name, extra in (("plain", []), ("packed", ["--compress"])):
        assert command.main(["run", str(new), "--out", str(tmp_path / name), "--quiet", "--no-pictures", *extra]) == 0
        sizes[name] = (tmp_path / name / "echograms.h5").stat().st_size
        with h5py.File(tmp_path / name / "echograms.h5", locking=False) as file:
            level = next(iter(file["elements"].values()))["echo_level"]
            sizes[name, "sum"] = int(level[()].astype(np.int64).sum())
    capsys.readouterr()
    assert sizes["packed"] < 0.9 * sizes["plain"]
    assert sizes["packed", "sum"] == sizes["plain", "sum"]
