"""Files of the first edition: one message that names the new word; stored scenarios are still read for drawing."""

import hashlib
import shutil
from pathlib import Path

import h5py
import pytest
from pingwright.echograms.file import read
from pingwright.errors import ScenarioError
from pingwright.inputs import claims, scenario, trip
from pingwright.inputs.first_edition import translated
from pingwright.report import scene
from tiny_scenarios import LAKE

HAZE = """
[[haze]]
name = "krill"
kind = "fluid"
depth = ["3 m", "5 m"]
volume_strength = "-70 dB"
frequency = "120 kHz"
"""
OLD = LAKE.split("[noise]", maxsplit=1)[0] + HAZE + '[noise]\nambient = true\nvessel = "35 dB"\n'
CLAIMS = """title = "c"
scenario = "lake.toml"
[[claim]]
says = "it does"
element = "low"
measure = "MEASURE"
fish = { swimbladder = "closed", length = "40 cm", above_bottom = "1 m" }
"""
TRIP = """title = "t"
[day]
depth = ["8 m", "20 m"]
sediment = "mud"
temperature = 14
salinity = 0
vessel = "35 dB"
[[quarry]]
name = "perch"
swimbladder = "closed"
length = "25 cm"
where = { above_bottom = "1 m" }
[weights]
parted = 3
searched_width = 1
"""


def test_a_stored_scenario_of_the_first_edition_is_read_for_drawing() -> None:
    new = scenario.parse(translated(OLD))
    assert [layer.name for layer in new.scattering_layer] == ["krill"]
    assert new.noise.own == "none"
    assert new.element == scenario.parse(LAKE).element


def test_a_scenario_of_today_is_left_as_it_is() -> None:
    assert translated(LAKE) == LAKE
    assert translated("no TOML = = at all") == "no TOML = = at all"


def test_an_old_scenario_is_refused_once_for_each_old_word() -> None:
    with pytest.raises(ScenarioError) as caught:
        scenario.parse(OLD)
    assert [fault.path for fault in caught.value.faults] == ["haze", "noise.vessel"]
    assert 'it is now "scattering_layer"' in str(caught.value)
    assert "another quantity" in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new"), [("parted", "separated"), ("parted_pair", "separated_pair"), ("searched_width", "swath")]
)
def test_an_old_measure_is_named_anew(old: str, new: str) -> None:
    with pytest.raises(ScenarioError) as caught:
        claims.parse(CLAIMS.replace("MEASURE", old), "c.toml", {"lake.toml": LAKE.encode()})
    assert [str(fault) for fault in caught.value.faults] == [
        f'c.toml:6: claim[1].measure: found the old measure "{old}"; it is now "{new}"'
    ]


def test_an_old_trip_is_told_every_new_word() -> None:
    with pytest.raises(ScenarioError) as caught:
        trip.parse(TRIP)
    assert {fault.path: fault.message.rsplit("it is now ", 1)[-1][:11] for fault in caught.value.faults} == {
        "day.vessel": '"own", anot',
        "quarry": '"species"',
        "weights.parted": '"separated"',
        "weights.searched_width": '"swath"',
    }


def test_a_file_of_the_first_edition_with_a_full_scenario_opens(tmp_path: Path) -> None:
    """The fixture's text is what the first edition (commit 8c11aa5) wrote of a scenario with every kind of table."""
    fixtures = Path(__file__).parent / "fixtures"
    text = (fixtures / "first_edition_resolved.toml").read_text(encoding="utf-8")
    copied = shutil.copy(fixtures / "echograms_format_1.h5", tmp_path / "a.h5")
    with h5py.File(copied, "r+") as file:
        file.attrs["scenario"] = file.attrs["scenario_resolved"] = text
        file.attrs["scenario_sha256"] = hashlib.sha256(text.encode()).hexdigest()
    known = scene.scenario(read(copied))
    assert known is not None
    assert [layer.name for layer in known.scattering_layer] == ["krill"]
    assert (known.noise.own, known.boat.ping_interval) == ("none", pytest.approx(0.0612520108))
    assert [spec.name for spec in known.element] == ["narrow high", "own"]
    assert (len(known.fish), len(known.school), len(known.target), len(known.structure)) == (1, 1, 1, 1)
