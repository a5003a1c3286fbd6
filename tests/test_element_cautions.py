"""What a run says of its elements and its pinging: each caution where it applies, and only there."""

import re

import pytest
from pingwright import recording
from pingwright.inputs.scenario import parse
from pingwright.report.numbers import NUMBERS
from world_lab import prepared

WIDE = '[[element]]\nname = "w"\nuse = "medium-pencil"\n'


def warned(made, word):
    return [line for line in made.header.warnings if word in line]


def test_a_plain_run_needs_no_caution():
    assert prepared().header.warnings == ()


def test_power_over_face_area_is_said_above_published_advice():
    # 25 kW/m2, Korneliussen et al. 2008 (from memory); the loss is in the levels, a switch takes it out
    strong = 'power = "2 kW"\n'
    (line,) = warned(prepared(element=strong), "25 kW/m2")
    assert "684 kW/m2" in line
    assert "dB one way to 30 m" in line
    assert "loss switched off" in warned(prepared(element=strong + "finite_amplitude = false\n"), "25 kW/m2")[0]
    assert not warned(prepared(element='power = "70 W"\n'), "25 kW/m2")


@pytest.mark.parametrize(("second_echo", "close", "wide"), [(False, 0.050, 0.058), (True, 0.085, 0.093)])
def test_pings_too_close_are_said_to_show_the_earlier_ones(second_echo, close, wide):
    # Two-way time at 1489 m/s to the window's end, 40 m: 53.7 ms; to 2.2 x 30 m, past the second echo: 88.6 ms.
    keys = {"second_echo": second_echo}
    (line,) = warned(prepared(boat=f"ping_interval = {close}\n", **keys), "earlier ping")
    assert line.startswith(f"Pings are {1e3 * close:.0f} ms apart, but echoes last ")
    assert float(re.findall(r"(\d+) ms", line)[1]) == pytest.approx(88.6 if second_echo else 53.7, abs=1)
    assert not warned(prepared(boat=f"ping_interval = {wide}\n", **keys), "earlier ping")


def test_shared_bands_are_named_where_elements_hear_each_other():
    heard = "crosstalk = true\n"
    assert warned(prepared(WIDE, boat=heard), "share 130 to 135 kHz")
    assert not warned(prepared(WIDE), "share")  # by default each pings as if alone
    assert not warned(prepared(WIDE, boat=heard + "in_turn = true\n"), "share")
    assert not warned(prepared(WIDE.replace("medium", "low"), boat=heard), "share")


def test_things_in_the_near_field_are_said():
    # D^2 / lambda of a 0.6 m disc at 210 kHz (common practice): 50 m; at 30 m the bottom lies inside.
    face = 'face = { shape = "disc", diameter = "60 cm" }\n'
    large = prepared(element=face)
    (line,) = warned(large, "near field")
    reach = large.elements[0].near_field
    assert f"{reach:.2g} m" in line
    assert reach > 30
    assert "30 m away" in line
    target = '[[target]]\nname = "t"\nstrength = -40\nat = { depth = 4 }\n'
    assert "4 m away" in warned(prepared(target, element=face), "near field")[0]


def test_power_is_put_beside_what_water_bears():
    info = prepared().header.elements[0].info
    numbers = {number.name: number.value(info, None) for number in NUMBERS if number.name in (
        "near_field", "finite_amplitude_loss", "face_intensity", "cavitation_rule")}  # fmt: skip
    # 500 W over a disc of 61 mm; Urick's rule at the surface.
    assert numbers["face_intensity"] == pytest.approx(500 / (3.14159265 * 3.05**2), rel=1e-6)
    assert numbers["cavitation_rule"] == pytest.approx(0.3)
    assert 0.5 < numbers["finite_amplitude_loss"] < 6
    assert numbers["near_field"] < 1


def test_cautions_reach_the_checked_file(tmp_path):
    from pingwright.checking import check

    text = prepared(WIDE, boat="crosstalk = true\n").header.scenario
    (tmp_path / "s.toml").write_text(text)
    assert any("share 130" in line for line in check(tmp_path / "s.toml").warnings)
    assert recording.prepare(parse(text)).header.warnings


@pytest.mark.parametrize(("climb", "said"), [(0, False), (30, True)])
def test_fish_that_leave_the_water_are_said(climb, said):
    # 0.5 m/s for 100 s, half of it upwards, from 10 m: out at the surface.
    fish = f"""
[[fish]]
name = "f"
swimbladder = "closed"
length = "40 cm"
count = 3
where = {{ x = [-1, 1], y = [-1, 1], depth = [9, 11] }}
swimming = {{ speed = 0.5, climb = {climb} }}
"""
    made = prepared(fish, pings=100, boat="ping_interval = 1\n")
    assert bool(warned(made, "3 of 3 fish climb or dive out of the water")) == said
