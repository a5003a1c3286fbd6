"""truth/owner: which kind of thing dominates each sample, against travel times and the sonar equation."""

from dataclasses import replace

import gsw
import h5py
import numpy as np
import pytest
from pingwright import Scene, recording
from pingwright import open as opened
from pingwright.__main__ import main
from pingwright.echograms import compress
from pingwright.echograms.file import Writer, read
from pingwright.echograms.record import OWNERS
from pingwright.errors import EchogramError
from pingwright.inputs.scenario import parse

SCENE = """
title = "one of each kind"
seed = 3
[water]
temperature = 12
salinity = 0
assumed_sound_speed = 1450
[boat]
speed = 0
start = 0
pings = 12
[window]
depth = [0, 20]
[[element]]
name = "e"
use = "medium-pencil"
pulse = { length = "0.3 ms" }
[seabed]
depth = 9
roughness = "none"
[[seabed.layer]]
sediment = "gravel"
[[target]]
name = "ball"
strength = -60
at = { x = 0, y = 0, depth = 3 }
[[scattering_layer]]
name = "krill"
kind = "flat"
depth = [5, 6]
volume_strength = -70
frequency = "120 kHz"
[[fish]]
name = "perch"
swimbladder = "closed"
length = "30 cm"
count = 1
tilt = { mean = 0, sd = 0 }
where = { x = 0, y = 0, depth = 7.5 }
[noise]
own = "75 dB"
"""


@pytest.fixture(scope="module")
def made():
    return recording.with_owners(recording.prepare(parse(SCENE)), threads=2)


@pytest.fixture(scope="module")
def owner(made):
    return made.header.truth.owners[0]


@pytest.fixture(scope="module")
def near(made):
    """A function that says which samples lie between two depths, by time."""
    # Source: TEOS-10 (gsw) for fresh water of 12 degC; the axis assumes 1450 m/s.
    r = made.header.elements[0].range * gsw.sound_speed(0.0, 12.0, 0.0) / 1450.0
    return lambda low, high: (r > low) & (r < high)


def of(owner, kind):
    return owner == OWNERS.index(kind)


def test_each_kind_owns_the_samples_at_its_travel_time(owner, near):
    kinds = (("target", 3.0, 2.98, 3.02), ("scattering_layer", 4.9, 5.2, 5.9), ("fish", 7.45, 7.49, 7.51))
    for kind, first, low, high in kinds:
        assert of(owner[:, near(low, high)], kind).mean() > 0.95, kind
        # Not before its time: behind its filter a pulse of 0.3 ms reaches 0.3 ms ahead, 22 cm.
        assert not of(owner[:, near(0, first - 0.23)], kind).any(), kind
    assert of(owner[:, near(9.05, 10)], "seabed").mean() > 0.95
    assert not of(owner[:, near(0, 8.77)], "seabed").any()
    # Down, up, down and up again is twice the way: nothing of it before 18 m, most of it just after.
    assert not of(owner[:, near(0, 17.77)], "second_echo").any()
    assert of(owner[:, near(18.05, 18.5)], "second_echo").mean() > 0.5
    assert of(owner[:, near(3.7, 4.8)], "noise").mean() > 0.95
    assert (owner[:, near(0, 0.2)] == -1).all()


def test_noise_owns_what_the_sonar_equation_says_is_below_it():
    """The target's level is SL - 40 log10 r - 2 a r + TS = SL - 79.1 dB; noise 10 dB under it and 10 dB over it."""
    scene = recording.prepare(parse(SCENE))
    info = scene.header.elements[0].info
    level = info.source_level - 40 * np.log10(3.0) - 2 * info.absorption * 3.0 - 60
    for above, kind in ((-10, "target"), (10, "noise")):
        own = replace(scene.settings, own_noise=60.0)
        was = 10 * np.log10(np.sum(_noise(scene, own) ** 2))
        # Own noise alone counts at such levels: a decibel more of it is a decibel more.
        louder = replace(scene, settings=replace(own, own_noise=60.0 + level + above - was))
        owner = recording.with_owners(louder).header.truth.owners[0]
        peak = np.argmin(np.abs(scene.header.elements[0].range - 3.0 * 1450.0 / 1455.0))
        assert (owner[:, peak - 1 : peak + 2] == OWNERS.index(kind)).any(axis=1).all()


def _noise(scene, settings):
    from pingwright.engine.preparing import Run

    return Run(scene.world, scene.elements, settings).receivers[0].noise_scale.astype(float)


def test_the_number_of_threads_changes_nothing(made, owner):
    assert np.array_equal(
        recording.with_owners(recording.prepare(parse(SCENE)), threads=1).header.truth.owners[0], owner
    )


def test_the_file_gives_it_back_packed_or_not_and_takes_little_room(made, owner, tmp_path):
    path = tmp_path / "a.h5"
    record = recording.in_memory(made)
    with Writer(path, made.header) as writer:
        writer.write(0, 0, np.asarray(record.elements[0].echo_level))
    with h5py.File(path) as file:
        stored = file["truth/owner/e/owner"]
        assert stored.attrs["flag_meanings"].split() == list(OWNERS)
        assert stored.id.get_storage_size() < owner.size / 5
        assert stored.dims[1][0] == file["truth/owner/e/range"]
    assert np.array_equal(read(path).truth.owners[0][:], owner)
    compress.compress(path, made.header)
    assert np.array_equal(opened(path)["e"].owner, owner)


def test_a_kind_that_there_is_not_is_refused(made, tmp_path):
    path = tmp_path / "a.h5"
    record = recording.in_memory(made)
    with Writer(path, made.header) as writer:
        writer.write(0, 0, np.asarray(record.elements[0].echo_level))
    with h5py.File(path, "r+") as file:
        file["truth/owner/e/owner"][3, 7] = len(OWNERS)
    with pytest.raises(EchogramError, match="names a kind of thing that there is not"):
        read(path).truth.owners[0][:]


def test_python_and_the_command_line_give_it_on_request(owner, tmp_path):
    scene = Scene.parse(SCENE)
    data = scene.simulate(truth="samples")["e"].to_xarray("level", "owner")
    assert np.array_equal(data["owner"].values, owner)
    with pytest.raises(ValueError, match="truth='samples'"):
        scene.simulate()["e"].owner  # noqa: B018 (reading it is what is refused)
    scene.write(tmp_path / "s.toml")
    out = tmp_path / "out"
    assert (
        main(["run", str(tmp_path / "s.toml"), "--out", str(out), "--truth", "samples", "--no-pictures", "--quiet"])
        == 0
    )
    assert np.array_equal(opened(out / "echograms.h5")["e"].owner, owner)
