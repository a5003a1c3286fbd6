"""The file as a stranger opens it, and as we read it back."""

import warnings
from pathlib import Path

import h5py
import netCDF4
import numpy as np
import pytest
import xarray
from pingwright.echograms import layout, levels
from pingwright.echograms.file import Writer, leftovers, read
from pingwright.echograms.record import FILL_VALUE
from pingwright.errors import UnfinishedError
from tests_made import SCENARIO, echo, header, held, write_all


@pytest.fixture(scope="module")
def made():
    return header(names=("narrow high", "low", "Ümlaut"))


@pytest.fixture(scope="module")
def path(tmp_path_factory, made):
    target = tmp_path_factory.mktemp("file") / "echograms.h5"
    with Writer(target, made, keep_phase=True) as writer:
        write_all(writer, made, keep_phase=True)
    assert [p.name for p in target.parent.iterdir()] == ["echograms.h5"]
    return target


def same(a, b) -> bool:
    return np.array_equal(np.asarray(a), np.asarray(b), equal_nan=np.asarray(a).dtype.kind in "fc")


def test_a_record_comes_back_equal(path, made):
    found = read(path)
    for name in ("title", "seed", "scenario", "scenario_resolved", "inputs", "history", "warnings"):
        assert getattr(found, name) == getattr(made, name), name
    for a, b in zip(found.elements, made.elements, strict=True):
        assert a.info == b.info
        for name in ("ping_time", "x", "y", "roll", "pitch", "heave", "bottom_depth", "range"):
            assert same(getattr(a, name), getattr(b, name)), name
        for name in ("frequency", "angle", "along", "across"):
            assert same(getattr(a.beam, name), getattr(b.beam, name)), name
        level, expected = held(made, a.info.position)
        assert same(a.echo_level[:], level)
        assert same(a.echo[3:5, 7:9], expected[3:5, 7:9])
    fish, known = found.truth.fish, made.truth.fish
    for name in known.__dataclass_fields__.keys() - {"path"}:
        assert same(getattr(fish, name), getattr(known, name)), name
    assert found.truth.structures[0].name == "barge"
    assert same(found.truth.structures[0].ahead, made.truth.structures[0].ahead)
    assert found.truth.soft == made.truth.soft
    assert found.truth.sediments == made.truth.sediments
    assert same(found.truth.fish.path.place, made.truth.fish.path.place)
    assert found.truth.fish.at(np.array([2.5])) == pytest.approx(made.truth.fish.path.place.mean(axis=1)[:, None])
    assert same(found.seabed_profile, made.seabed_profile)
    assert same(found.seabed_across, made.seabed_across)


def test_an_empty_water_comes_back(tmp_path):
    made = header(fish=0, inputs={}, names=("only",))
    with Writer(tmp_path / "e.h5", made) as writer:
        write_all(writer, made)
    found = read(tmp_path / "e.h5")
    assert len(found.truth.fish.id) == 0
    assert found.inputs == {}
    assert found.elements[0].echo is None
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert xarray.open_datatree(tmp_path / "e.h5")["truth/fish"].sizes["fish"] == 0


def test_h5py_sees_dimension_scales_attributes_and_order(path):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        with h5py.File(path) as file:
            assert list(file["elements"]) == ["narrow-high", "low", "umlaut"]
            level = file["elements/low/echo_level"]
            assert level.dtype == np.int16
            assert level.attrs["_FillValue"] == FILL_VALUE
            assert level.attrs["_FillValue"].dtype == np.int16
            assert level.attrs["scale_factor"] <= 0.01
            assert level.chunks == (layout.CHUNK_PINGS, level.shape[1])
            assert level.dims[1][0] == file["elements/low/range"]
            assert "range" in level.dims[1].keys()  # noqa: SIM118 - a dimension has no __contains__
            assert file.attrs["scenario"] == SCENARIO
            assert h5py.check_string_dtype(file.attrs.get_id("title").dtype).encoding == "utf-8"
            assert np.isscalar(file["elements/low"].attrs["band_low"])
            kinds: list[object] = []
            file.visititems(lambda _, item: kinds.append(item.dtype.names) if isinstance(item, h5py.Dataset) else None)
            assert not any(kinds), "no compound types"


def test_netcdf4_sees_axes_units_and_names(path):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        file = netCDF4.Dataset(path)
        assert list(file["elements"].groups) == ["narrow-high", "low", "umlaut"]
        group = file["elements/low"]
        assert group["echo_level"].dimensions == ("ping", "range")
        assert group["echo_level"].units == "dB"
        assert group["beam"].dimensions == ("plane", "frequency", "angle")
        assert group["roll"].standard_name == "platform_roll_starboard_down"
        assert group["bottom_depth"].units == "m"
        assert file["truth/fish"]["strength"].dimensions == ("element", "fish")
        assert list(file["truth/fish"]["name"][:])[1] == "perch 1 é"
        for one in (group, file["truth/fish"]):
            assert all(hasattr(variable, "long_name") for variable in one.variables.values())
        assert "range" in group.variables
        # Nothing but the blind range is masked: 1.7 m by steps of 0.15 m.
        assert np.ma.count_masked(group["echo_level"][0]) == 12
        assert not np.ma.getmaskarray(group["echo_level"][:])[:, 12:].any()
        file.close()


def test_xarray_opens_the_tree_without_a_warning(path, made):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        tree = xarray.open_datatree(path)
        group = tree["elements/narrow-high"]
        level = group["echo_level"]
        assert level.dims == ("ping", "range")
        assert np.isnan(level[:, :12]).all()
        assert np.allclose(level[:, 12:], levels.unpack(held(made, 0)[0])[:, 12:], atol=2e-5)
        assert level.dtype == np.float32
        assert level.attrs["standard_name"] == "sound_pressure_level_in_water"
        assert group["echo_real"].attrs["reference_frequency"] == 170e3
        assert all(one.dtype.kind in "fiu" for name in ("elements/low", "truth/fish") for one in
                   (tree[name].coords[c] for c in tree[name].dims if c in tree[name].coords))  # fmt: skip
        numbers = [n for n, v in group.attrs.items() if isinstance(v, float) and not n.endswith("_unit")]
        assert [n for n in numbers if f"{n}_unit" not in group.attrs] == []
        assert np.array_equal(level["range"], made.elements[0].range)
        assert {"ping_time", "x", "y"} <= set(level.coords)
        assert group.attrs["source_level"] == made.elements[0].info.source_level
        assert list(tree["truth/fish"]["element_name"].values) == ["narrow high", "low", "Ümlaut"]
        assert "synthetic" in tree.attrs["comment"].lower()
        tree.close()


def test_two_writings_are_the_same_bytes(path, made, tmp_path):
    other = tmp_path / "echograms.h5"
    with Writer(other, made, keep_phase=True) as writer:
        for element in (2, 0, 1):  # another order, other chunks
            part = echo(made, element)
            for first, last in ((30, 37), (0, 5), (5, 30)):
                writer.write(element, first, levels.pack(part[first:last]), part[first:last])
    assert other.read_bytes() == path.read_bytes()


def test_a_stopped_writing_goes_on_and_ends_in_the_same_bytes(path, made, tmp_path):
    other = tmp_path / "echograms.h5"
    writer = Writer(other, made, keep_phase=True)
    write_all(writer, made, keep_phase=True, chunks=4)
    writer._let_go()
    with leftovers(other)[1].open("a") as journal:
        journal.write("2 16 5 12")  # a line cut off in the writing
    with Writer(other, made, keep_phase=True, resume=True) as again:
        assert again.done(0, 0, 32)
        assert not again.done(1, 16, 16)
        assert again.missing() == 3 * 37 - 4 * 16
        assert again.first_missing(16) == 16
        for first in range(16, 37, 16):
            for element in range(3):
                part = echo(made, element)[first : first + 16]
                again.write(element, first, levels.pack(part), part)
    assert other.read_bytes() == path.read_bytes()
    assert [p.name for p in tmp_path.iterdir()] == ["echograms.h5"]


def test_another_scenario_does_not_go_on(made, tmp_path):
    target = tmp_path / "echograms.h5"
    writer = Writer(target, made)
    write_all(writer, made, chunks=3)
    writer._let_go()
    again = Writer(target, header(names=("narrow high", "low", "Ümlaut"), seed=12), resume=True)
    assert again.missing() == 3 * 37
    again._let_go()


def test_a_damaged_chunk_is_computed_again(made, tmp_path):
    target = tmp_path / "echograms.h5"
    writer = Writer(target, made)
    write_all(writer, made, chunks=6)
    offset = writer._places[1]["echo_level"].offsets[0]
    writer._let_go()
    with leftovers(target)[0].open("r+b") as file:
        file.seek(offset + 100)
        file.write(b"\xaa\x55")
    again = Writer(target, made, resume=True)
    assert again.done(0, 0, 16)
    assert not again.done(1, 0, 16)
    again._let_go()


def test_missing_pings_are_our_bug_and_nothing_appears(made, tmp_path):
    target = tmp_path / "echograms.h5"

    def unfinished():
        with Writer(target, made) as writer:
            write_all(writer, made, chunks=2)

    with pytest.raises(ValueError, match="never written"):
        unfinished()
    assert not target.exists()


def test_wrong_shapes_are_our_bug(made, tmp_path):
    writer = Writer(tmp_path / "e.h5", made)
    with pytest.raises(ValueError, match="do not fit"):
        writer.write(0, 0, np.zeros((2, 3), dtype=np.int16))
    writer._let_go()


def test_a_folder_that_is_not_there_is_told(made, tmp_path):
    with pytest.raises(UnfinishedError, match="could not be written"):
        Writer(tmp_path / "none" / "echograms.h5", made)


@pytest.mark.parametrize(
    ("names", "expected"),
    [
        (["Narrow High!", "narrow high?"], ("narrow-high", "narrow-high-2")),
        (["  ", "漢字", "É 2"], ("element-1", "element-2", "e-2")),
        (["a-2", "a", "A"], ("a-2", "a", "a-3")),
    ],
)
def test_slugs(names, expected):
    assert layout.slugs(names) == expected


def test_a_file_of_format_1_opens():
    """Written when format 1 was new, and kept: what later programs must still read."""
    found = read(Path(__file__).parent / "fixtures" / "echograms_format_1.h5")
    made = header(pings=20, samples=50)
    assert (found.title, found.seed, found.inputs) == (made.title, made.seed, made.inputs)
    for a, b in zip(found.elements, made.elements, strict=True):
        assert a.info == b.info
        assert same(a.range, b.range)
        # Another processor's logarithm may round the other way: one step.
        assert np.abs(a.echo_level[:].astype(int) - levels.pack(echo(made, a.info.position))).max() <= 1
        assert a.info.cell == a.info.range_resolution  # which format 1 called the cell
        assert same(a.echo[:], echo(made, a.info.position))
    assert same(found.truth.fish.apparent_depth, made.truth.fish.apparent_depth)
    assert found.truth.fish.path is None
    assert found.truth.fish.at(np.array([1.0, 3.0]))[2, :, 0].tolist() == [49.0, 49.0]
