"""Fish close over several grounds, in passes: the marks against a plain rule, the pick against geometry."""

import numpy as np
import pytest
from pingwright.measure.assess import assess
from without_fish import compared, plain, with_and_without

SHEET = """
title = "Fish over ground"
seed = 3
[water]
temperature = 11
salinity = 34.5
[boat]
speed = "4 kn"
start = "-5 m"
length = "10 m"
[window]
depth = ["22 m", "34 m"]
[[element]]
name = "e"
use = "{use}"
[seabed]
depth = "30 m"
{ground}
[[seabed.layer]]
sediment = "{sediment}"
[[fish]]
name = "close"
swimbladder = "closed"
length = "40 cm"
count = 6
where = {{ x = ["-4 m", "4 m"], y = ["-1 m", "1 m"], above_bottom = ["0.4 m", "1.2 m"] }}
"""


@pytest.mark.parametrize(
    ("use", "sediment", "ground", "across", "within"),
    [
        ("high-pencil", "mud", "", 0, 0.1),
        ("low-pencil", "cobble", "", 0, 0.2),
        ("high-pencil", "fine sand", "slope = { across = 8 }", 8, 0.1),
        ("low-pencil", "gravel", "slope = { along = 5 }", 0, 0.15),
        ("low-pencil", "gravel", "slope = { across = 8 }", 8, 0.2),
        ("high-pencil", "rock", 'relief = { height = "0.6 m", wavelength = "6 m" }', 0, 0.4),
        ("low-pencil", "coarse sand", 'relief = { height = "0.5 m", wavelength = "9 m" }', 0, 0.15),
    ],
)
def test_fish_close_over_the_ground_are_separated_as_they_stand(use, sediment, ground, across, within):
    full, empty = with_and_without(SHEET.format(use=use, sediment=sediment, ground=ground))
    one, nobody = assess(full).elements[0], assess(empty).elements[0]
    clear, mark = plain(full, empty, 0), np.array(one.mark)
    assert clear.sum() >= 5
    assert not np.any(clear & (mark == "not_shown"))
    assert np.sum(mark == "separated") >= clear.sum() - 1
    assert nobody.counts["separated"] == 0
    assert one.bottom_lost == nobody.bottom_lost == 0
    # Source: the nearest point of the profile under the track, and of a plane that slopes across it, d cos(slope).
    x, depth = full.seabed_profile.T
    nearest = np.hypot(full.elements[0].x[:, None] - x, depth).min(axis=1) * np.cos(np.radians(across))
    assert nobody.bottom_range == pytest.approx(nearest, abs=within)


@pytest.mark.parametrize(
    ("use", "ground"),
    [
        # Of bare passes under this pencil 0.2 to 0.7 counted as separated by the levels alone.
        ("high-pencil", 'depth = "30 m"\nslope = { across = 12 }\nrelief = { height = 0.4, wavelength = 12 }'),
        # The face of a ledge echoes at every range between its edge and its foot.
        ("low-pencil", "profile = [[-99, 27], [-0.5, 27], [0.5, 31], [99, 31]]"),
    ],
)
def test_echoes_of_steep_ground_are_not_taken_for_fish(use, ground):
    text = SHEET.format(use=use, sediment="gravel", ground="").replace('depth = "30 m"', ground)
    ((clear, mark),) = compared(text)
    assert clear.sum() >= 3
    assert np.sum(mark == "separated") <= clear.sum() + 1


def test_what_steep_ground_sends_back_is_known_only_where_it_is_steep_and_near():
    flat, steep = (
        with_and_without(SHEET.format(use="high-pencil", sediment="gravel", ground=ground))[0]
        for ground in ("", "slope = { across = 12 }")
    )
    assert flat.truth.surroundings is None
    assert set(steep.truth.surroundings.fish.tolist()) == set(range(6))
    assert np.isnan(assess(steep).elements[0].false_alarms.value), "no pass of these fish is moved: none can be false"


def test_fish_that_crowd_over_a_slope_do_not_hide_each_other():
    # Twelve fish within some 16 m by 8 m over a slope of 8 degrees: close over the bottom only cells ahead tell what is
    # around, and other fish filled them, so that one in ten fish 12 dB clear of the pass without fish was not shown.
    compared(CROWD)


CROWD = """
title = "Fish that crowd over a slope"
seed = 3
[water]
temperature = 11
salinity = 34.5
[boat]
speed = "4 kn"
start = "-12 m"
length = "24 m"
[window]
depth = ["28 m", "46 m"]
[[element]]
name = "e"
use = "low-pencil"
[seabed]
depth = "40 m"
slope = { across = "8 deg" }
[[seabed.layer]]
sediment = "gravel"
[[fish]]
name = "f"
swimbladder = "closed"
length = "40 cm"
count = 12
where = { x = ["-8 m", "8 m"], y = ["-4 m", "4 m"], above_bottom = ["0.5 m", "3 m"] }
"""
