"""The files against the CF conventions, by a checker from outside the project, group by group.

Source: CF 1.11 (cfconventions.org) as `compliance-checker` reads it, with the table of standard names that it holds. It
knows no groups, so each is written as a file of its own, with the dimensions it sees. It finds a decibel in no list of
units (UDUNITS has none), though the table of standard names itself uses "dB": a copy says "1" in its place.
"""

import warnings
import xml.etree.ElementTree as ET
from importlib.resources import files

import netCDF4
import numpy as np
import pytest
from pingwright.__main__ import main

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from compliance_checker.runner import CheckSuite

SCENE = """
title = "one of each kind"
seed = 3
passes = 2
[water]
temperature = 12
salinity = 30
wind = "8 kn"
[boat]
speed = "2 kn"
start = "-1 m"
pings = 6
[window]
depth = [0, 8]
[[element]]
name = "e"
use = "low-pencil"
pulse = { length = "0.3 ms" }
[seabed]
depth = 6
[[seabed.layer]]
sediment = "gravel"
[[target]]
name = "ball"
strength = -40
at = { x = 0, y = 0, depth = 3 }
[[fish]]
name = "perch"
swimbladder = "closed"
length = "30 cm"
count = 2
where = { x = [-1, 1], y = 0, depth = 4.5 }
[[structure]]
name = "box"
shape = { kind = "box", length = "1 m", width = "1 m", height = "0.5 m" }
at = { x = 0, y = 0 }
"""


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """A folder with a file of echograms that holds all that one can hold, and the same exported."""
    folder = tmp_path_factory.mktemp("cf")
    (folder / "s.toml").write_text(SCENE, encoding="utf-8")
    out = ["--out", str(folder / "out"), "--quiet"]
    assert main(["run", str(folder / "s.toml"), "--keep-phase", "--truth", "samples", "--no-pictures", *out]) == 0
    assert main(["export", str(folder / "out/echograms.h5"), "--out", str(folder / "e.nc")]) == 0
    return folder


def groups(group):
    yield group
    for one in group.groups.values():
        yield from groups(one)


def visible(group, names):
    """Return the dimensions of these names that a group sees, and coordinate variables of those that stand above it."""
    sizes, coordinates = {}, {}
    while group is not None:
        for name in names - set(sizes):
            if name in group.dimensions:
                sizes[name] = len(group.dimensions[name])
                coordinates |= {name: group.variables[name]} if name in group.variables else {}
        group = group.parent
    return sizes, coordinates


def flattened(root, group, path):
    """Write one group as a file without groups."""
    with netCDF4.Dataset(path, "w") as out:
        about = {name: group.getncattr(name) for name in group.ncattrs()}
        out.setncatts({name: root.getncattr(name) for name in root.ncattrs()} | about)
        names = {axis for variable in group.variables.values() for axis in variable.dimensions}
        sizes, coordinates = visible(group, names)
        for name, size in sizes.items():
            out.createDimension(name, size)
        for name, variable in (coordinates | dict(group.variables)).items():
            kept = {key: variable.getncattr(key) for key in variable.ncattrs()}
            if kept.get("units") == "dB":
                kept |= {"units": "1"}
                kept.pop("standard_name", None)
            fill = kept.pop("_FillValue", None)
            kind = str if variable.dtype is str else variable.datatype
            copy = out.createVariable(name, kind, variable.dimensions, fill_value=fill)
            copy.setncatts(kept)
            variable.set_auto_maskandscale(False)
            copy.set_auto_maskandscale(False)
            copy[...] = variable[...]


def faults(path):
    """Return what the checker finds wrong with a file, or recommends, in words."""
    suite = CheckSuite()
    suite.load_all_available_checkers()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        dataset = suite.load_dataset(str(path))
        try:
            results, errors = suite.run_all(dataset, ["cf:1.11"])["cf:1.11"]
        finally:
            dataset.close()
    missed = [f"{one.name}: {text}" for one in results if one.value[0] != one.value[1] for text in one.msgs or ["?"]]
    return missed + [f"{name}: {error[0]}" for name, error in errors.items()]


def test_every_group_of_a_file_of_echograms_passes(written, tmp_path):
    checked = []
    with netCDF4.Dataset(written / "out/echograms.h5") as root:
        for group in groups(root):
            flattened(root, group, tmp_path / "flat.nc")
            assert faults(tmp_path / "flat.nc") == [], group.path
            checked.append(group.path)
    assert {"/elements/e", "/truth/fish", "/truth/owner/e", "/truth/structure/structure-1", "/passes"} <= set(checked)


def test_the_checker_sees_a_fault(written, tmp_path):
    """A unit that is none and a standard name that is none are found."""
    with netCDF4.Dataset(written / "out/echograms.h5") as root:
        flattened(root, root["truth/sediment"], tmp_path / "flat.nc")
    with netCDF4.Dataset(tmp_path / "flat.nc", "r+") as file:
        file["thickness"].units = "fathom-ish"
        file["x0"].standard_name = "how_far_along"
    found = " ".join(faults(tmp_path / "flat.nc"))
    assert "fathom-ish" in found
    assert "how_far_along" in found


def test_a_decibel_has_a_standard_name_only_where_the_table_says_decibel(written):
    table = ET.parse(str(files("compliance_checker") / "data/cf-standard-name-table.xml"))  # noqa: S314 (a package's)
    units = {one.get("id"): one.findtext("canonical_units") for one in table.iter("entry")}
    seen = 0
    with netCDF4.Dataset(written / "out/echograms.h5") as root:
        for group in groups(root):
            for variable in group.variables.values():
                if getattr(variable, "units", "") == "dB" and "standard_name" in variable.ncattrs():
                    assert units[variable.standard_name] == "dB"
                    seen += 1
    assert seen == 1


def test_an_exported_file_keeps_the_rules_that_its_convention_leaves_to_cf(written):
    """Bounds are of the type of their variable (CF 2.5.1), and each variable has a long name (CF 3.2).

    Where the convention asks for what CF does not know (times as 64-bit nanoseconds, "Platform latitude" as a standard
    name, ragged rows), its own tables are followed: tests/test_export.py.
    """
    with netCDF4.Dataset(written / "e.nc") as root:
        for group in groups(root):
            for name, variable in group.variables.items():
                where = f"{group.path}/{name}"
                assert "long_name" in variable.ncattrs(), where
                for bound in {"valid_min", "valid_max", "valid_range"} & set(variable.ncattrs()):
                    assert np.asarray(variable.getncattr(bound)).dtype == variable.dtype, where
