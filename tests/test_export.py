"""SONAR-netCDF4: read back by a reader written from the convention's tables, and by netCDF4 and xarray."""

import netCDF4
import numpy as np
import pingwright as pw
import pytest
import world_lab as lab
import xarray
from pingwright import __main__ as command
from pingwright import recording
from pingwright.echograms.file import Writer, save
from pingwright.echograms.reading import read
from pingwright.export.platform import DEGREE, Place
from pingwright.export.timeless import lookup3
from pingwright.export.write import export, most_bytes
from pingwright.inputs.scenario import parse

# Source: SONAR-netCDF4 2.0, tables of the groups: what is mandatory (M), or so for a calibrated sonar that moves (MA).
MANDATORY = {
    "/": ":Conventions :date_created :keywords :sonar_convention_authority :sonar_convention_name"
    " :sonar_convention_version :summary :title",
    "/Environment": "frequency absorption_indicative sound_speed_indicative",
    "/Platform": "transducer_function transducer_ids MRU_ids position_ids gyro_ids",
    "/Platform/Position/simulated": "time latitude longitude",
    "/Platform/Attitude/simulated": "time pitch roll vertical_offset",
    "/Sonar": ":sonar_type",
    "/Sonar/Beam_group1": ":beam_mode :conversion_equation_type :preferred_MRU :preferred_position beam ping_time"
    " frequency backscatter_r backscatter_i beam_stabilisation beam_type beamwidth_receive_major"
    " beamwidth_receive_minor blanking_interval equivalent_beam_angle non_quantitative_processing platform_heading"
    " platform_latitude platform_longitude platform_pitch platform_roll platform_vertical_offset"
    " rx_beam_rotation_phi rx_beam_rotation_psi rx_beam_rotation_theta sample_interval sample_time_offset"
    " transmit_duration_nominal transmit_frequency_start transmit_frequency_stop transmit_type tx_beam_rotation_phi"
    " tx_beam_rotation_psi tx_beam_rotation_theta",
    "/Provenance": ":conversion_software_name :conversion_software_version :conversion_time source_filenames",
}
SCENE = """
[[target]]
name = "ball"
strength = -40
at = { x = 0, y = 0, depth = 12 }
[[scattering_layer]]
name = "l"
kind = "flat"
depth = [16, 26]
volume_strength = -60
frequency = "170 kHz"
"""


@pytest.fixture(scope="module")
def both(tmp_path_factory):
    """A target of -40 dB at 12 m and a layer of -60 dB, as echograms.h5 and as the convention's file."""
    folder = tmp_path_factory.mktemp("export")
    boat = 'begin = "2026-05-01T06:30:00Z"\norigin = ["54 deg", "-3 deg"]\nheading = "90 deg"'
    made = recording.prepare(parse(lab.text(SCENE, pings=64, depth=30, end=28, boat=boat)))
    record = recording.in_memory(made, quiet=True)
    with Writer(folder / "echograms.h5", made.header) as writer:
        for number, element in enumerate(record.elements):
            writer.write(number, 0, np.asarray(element.echo_level))
    return folder / "echograms.h5", export(folder / "echograms.h5", folder / "e.nc")


def test_all_that_is_mandatory_stands_there(both):
    with netCDF4.Dataset(both[1]) as file:
        for name, words in MANDATORY.items():
            group = file if name == "/" else file[name]
            for word in words.split():
                there = word[1:] in group.ncattrs() if word.startswith(":") else word in group.variables
                assert there, f"{name}{word}"
        sonar = file["Sonar"]
        assert sonar.vltypes["sample_t"].dtype == np.float32
        assert sonar.enumtypes["transmit_t"].enum_dict == {"CW": 0, "LFM": 1, "HFM": 2}
        beam = sonar["Beam_group1"]
        assert (beam.conversion_equation_type, beam.beam_mode, sonar.sonar_type) == (5, "vertical", "echosounder")
        assert beam["transmit_type"][0, 0] == 1
        assert beam["backscatter_r"].dimensions == ("ping_time", "beam", "subbeam")
        assert file.Conventions == "CF-1.7, SONAR-netCDF4-2.0, ACDD-1.3"
        assert "ynthetic" in file.summary


def ranged(beam, speed):
    """Range [m] (sample) by the convention: time of the first sample and the interval, half the way."""
    count = len(beam["backscatter_r"][0, 0, 0])
    time = beam["sample_time_offset"][0, 0] + beam["sample_interval"][0] * np.arange(count)
    return speed * time / 2


def test_the_targets_and_the_layers_strength_come_back(both):
    with netCDF4.Dataset(both[1]) as file:
        beam = file["Sonar/Beam_group1"]
        r = ranged(beam, float(file["Environment/sound_speed_indicative"][...]))
        ts = np.stack([beam["backscatter_i"][k, 0, 0] for k in range(64)])
        sv = np.stack([beam["backscatter_r"][k, 0, 0] for k in range(64)])
    assert np.isnan(ts[:, r < 0.3]).all()
    near = (r > 11.8) & (r < 12.2)
    a, b, c = ts[0, near][np.argmax(ts[0, near]) + np.arange(-1, 2)]
    # The vertex of a parabola through three samples; error at 2 samples a cell under 0.02 dB for a Hann response.
    assert b + (a - c) ** 2 / 8 / (2 * b - a - c) == pytest.approx(-40.0, abs=0.05)
    layer = (r > 17) & (r < 25)
    # 64 pings of some 600 independent cells: 4.34 dB / sqrt(38,000) = 0.02 dB.
    assert 10 * np.log10(np.mean(10 ** (0.1 * sv[:, layer]))) == pytest.approx(-60.0, abs=0.05)


SEVERAL = """
title = "several elements"
seed = 4
[water]
temperature = 11
salinity = 34.5
[boat]
speed = 0
start = 0
pings = 2
[window]
depth = [4, 8]
[seabed]
depth = 12
[[seabed.layer]]
sediment = "mud"
[[target]]
name = "ball"
strength = -40
at = { x = 0, y = 0, depth = 6 }
[noise]
ambient = false
own = "none"
[reverberation]
background = "none"
second_echo = false
"""
ELEMENTS = {
    "chirp": 'use = "high-pencil"\npulse = { length = "0.5 ms" }',
    "tone": 'use = "high-pencil"\npulse = { tone = "170 kHz", length = "0.2 ms" }',
    "fan": 'use = "medium-fan"\npulse = { length = "0.5 ms" }',
    "low": 'use = "low-pencil"\npulse = { length = "0.5 ms" }\nweighting = "none"',
}


def exported(text, folder, keep_phase=False):
    record = recording.in_memory(recording.prepare(parse(text)), quiet=True, keep_phase=keep_phase)
    save(record, folder / "echograms.h5")
    return export(folder / "echograms.h5", folder / "e.nc")


def test_elements_of_every_kind_give_the_target_back_within_a_hundredth(tmp_path):
    """The peak between samples is found from amplitude and phase, by a spectrum with zeros added: no parabola."""
    tables = "".join(f'[[element]]\nname = "{name}"\n{keys}\n' for name, keys in ELEMENTS.items())
    with netCDF4.Dataset(exported(SEVERAL + tables, tmp_path, keep_phase=True)) as file:
        speed = float(file["Environment/sound_speed_indicative"][...])
        groups = list(file["Sonar"].groups.values())
        assert [group["beam"][0] for group in groups] == list(ELEMENTS)
        assert [int(group["transmit_type"][0, 0]) for group in groups] == [1, 0, 1, 1]
        for beam in groups:
            r = ranged(beam, speed)
            size = 10 ** (np.asarray(beam["backscatter_i"][1, 0, 0], float) / 20) / r**2
            echo = size * np.exp(1j * np.asarray(beam["backscatter_phase"][1, 0, 0], float))
            fine, step = 64, r[1] - r[0]
            spectrum = np.fft.fftshift(np.fft.fft(echo))
            wide = np.zeros(len(echo) * fine, complex)
            wide[(len(wide) - len(echo)) // 2 :][: len(echo)] = spectrum
            between = np.abs(np.fft.ifft(np.fft.ifftshift(wide))) * fine
            peak = int(np.argmax(between))
            strength = 20 * np.log10(between[peak] * (r[0] + peak * step / fine) ** 2)
            assert strength == pytest.approx(-40.0, abs=0.01), beam["beam"][0]


def test_a_deep_layer_in_a_wide_band_comes_back(tmp_path):
    """From 50 to 60 m the numbers of the band's centre alone would be 0.09 dB too high: beam and absorption over it."""
    layer = '[[scattering_layer]]\nname = "l"\nkind = "flat"\ndepth = [44, 64]\nvolume_strength = -60\n'
    text = SEVERAL.replace("[4, 8]", "[48, 60]").replace("depth = 12", "depth = 90").replace("pings = 2", "pings = 48")
    text = text[: text.index("[[target]]")] + text[text.index("[noise]") :]
    text += f'{layer}frequency = "170 kHz"\n[[element]]\nname = "chirp"\n{ELEMENTS["chirp"]}\n'
    with netCDF4.Dataset(exported(text, tmp_path)) as file:
        beam = file["Sonar/Beam_group1"]
        r = ranged(beam, float(file["Environment/sound_speed_indicative"][...]))
        sv = np.stack([beam["backscatter_r"][k, 0, 0] for k in range(48)])[:, (r > 49) & (r < 59)]
    # 48 pings of some 800 independent cells: 4.34 dB / sqrt(38,000) = 0.02 dB.
    assert 10 * np.log10(np.mean(10 ** (0.1 * sv.astype(float)))) == pytest.approx(-60.0, abs=0.05)
    python = pw.open(tmp_path / "echograms.h5")["chirp"]
    assert np.abs(python.sv[:, (python.range > 49) & (python.range < 59)] - sv).max() < 1e-4  # rounding


def test_levels_are_those_of_the_recording_but_for_what_the_band_does(both):
    element = read(both[0]).elements[0]
    with netCDF4.Dataset(both[1]) as file:
        ts = file["Sonar/Beam_group1/backscatter_i"][5, 0, 0]
        speed = float(file["Environment/sound_speed_indicative"][...])
        r = np.asarray(ranged(file["Sonar/Beam_group1"], speed))
    seen = np.isfinite(ts)
    assert np.abs(r - element.range).max() < 1e-3
    # Not a tenth of a decibel, and the same for all echoes of a range.
    assert np.abs(ts[seen] - element.echo_strength(5)[seen]).max() < 0.05
    assert seen.tolist() == (element.range > element.info.blank_range).tolist()


def test_time_and_place_are_the_scenarios(both):
    with netCDF4.Dataset(both[1]) as file:
        beam = file["Sonar/Beam_group1"]
        # Source: 2026-05-01 06:30 UTC is 1777617000 s after 1970 (date -d).
        assert int(beam["ping_time"][0]) == 1777617000 * 10**9
        assert (float(beam["platform_latitude"][0]), float(beam["platform_longitude"][0])) == pytest.approx((54, -3))
        assert float(beam["platform_heading"][0]) == 90.0
    east = Place("1970-01-01T00:00:00Z", 60.0, 0.0, 90.0)
    latitude, longitude = east.position(np.array([DEGREE]), np.array([0.0]))
    assert (latitude[0], longitude[0]) == pytest.approx((60.0, 2.0))  # a degree of longitude is half as long at 60 deg


def test_the_checksum_is_the_published_one():
    # Source: the self-test printed with lookup3 (Jenkins 2006).
    assert lookup3(b"Four score and seven years ago") == 0x17770551


def test_xarray_opens_it(both):
    tree = xarray.open_datatree(both[1])
    assert tree["Sonar/Beam_group1"].sizes["ping_time"] == 64
    assert str(tree["Sonar/Beam_group1"]["ping_time"].values[0]).startswith("2026-05-01T06:30:00")
    tree.close()


def test_the_command_writes_the_same_bytes_again_and_refuses_other_names(both, tmp_path, capsys):
    target = tmp_path / "again.nc"
    assert command.main(["export", str(both[0]), "--out", str(target)]) == 0
    assert capsys.readouterr().out.strip() == str(target)
    assert target.read_bytes() == both[1].read_bytes()
    assert target.stat().st_size < most_bytes(read(both[0])) < 3 * target.stat().st_size
    assert command.main(["export", str(both[0]), "--out", str(tmp_path / "again.txt")]) == 2
    assert "allowed: a file name that ends in .nc" in capsys.readouterr().err
