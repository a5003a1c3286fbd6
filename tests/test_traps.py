"""Scenes at the edge of sense: each is right, refused, or warned about; never quiet and wrong."""

import numpy as np
import pytest
from pingwright.errors import ScenarioError
from pingwright.inputs.scenario import parse
from pingwright.measure.assess import assess
from pingwright.recording import in_memory, prepare
from pingwright.report import summary
from sensible import faults
from tiny_scenarios import LAKE

LOW = '[[element]]\nname = "low"\nuse = "low-pencil"\npulse = { length = "0.5 ms" }\n'
POND = LAKE.replace("pings = 40", "pings = 3").replace(LOW, "")
HERE = 'where = { x = ["-8 m", "0 m"], y = ["-1 m", "1 m"], above_bottom = ["0.3 m", "3 m"] }'
UNDER = 'where = { x = "-8 m", y = "0 m", depth = "9.5 m" }'
DEPTH, WINDOW, USE = 'depth = "9 m"', '["0 m", "11 m"]', 'use = "high-pencil"'
SCHOOL = """
[[school]]
name = "fry"
body = "baitfish"
at = { x = "-8 m", y = "0 m", depth = "DEPTH" }
size = { along = "3 m", across = "3 m", height = "HEIGHT" }
count = 50
"""
LAYER = '\n[[scattering_layer]]\nname = "krill"\nkind = "flat"\nvolume_strength = "-60 dB"\nfrequency = "120 kHz"\n'
BOX = '\n[[structure]]\nname = "crate"\nshape = { kind = "box", length = "4 m", width = "4 m", height = "2 m" }\n'
LABEL = '\n[[label]]\ntext = "here"\nat = { x = "9000 m", y = "0 m", depth = "3 m" }\n'
PATCH = '[[seabed.patch]]\nx = ["PATCH"]\nsediment = "rock"\n[[seabed.layer]]'


def pond(*changes):
    text = POND
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text


def deep(depth):
    """Water of a depth [m], pulse and interval left to the program, fish in the middle under the boat."""
    return pond(
        (DEPTH, f'depth = "{depth} m"'), (WINDOW, f'["0 m", "{1.2 * depth} m"]'), ('ping_interval = "0.2 s"\n', ""),
        ('pulse = { length = "0.5 ms" }\n', ""),
        (HERE, f'where = {{ x = "-8 m", y = "0 m", depth = "{depth / 2} m" }}'),
    )  # fmt: skip


REFUSED = {
    "5000 m": (deep(5000), "seabed.depth", "allowed: 30 cm to 3000 m"),
    "a profile that turns back": (
        pond((DEPTH, 'profile = [["10 m", "9 m"], ["0 m", "9 m"], ["5 m", "8 m"]]')), "seabed.profile", "x that rises"),
    "a slope that comes up": (pond((DEPTH, f'{DEPTH}\nslope = {{ along = "60 deg" }}')), "seabed", "comes up to"),
    "no speed and no pings": (pond(("2 kn", "0 kn"), ("pings = 3\n", "")), "boat", "pings = 50"),
    "a patch from high to low": (
        pond(("[[seabed.layer]]", PATCH.replace("PATCH", '6 m", "-6 m'))), "seabed.patch[1].x", "the lower one first"),
    "a school larger than the water": (
        POND + SCHOOL.replace("DEPTH", "4.5 m").replace("HEIGHT", "9.5 m"), "school[1].at", "out of the water"),
    "a hundred elements": (
        pond(("[seabed]", "".join(LOW.replace('"low"', f'"{n}"') for n in range(99)) + "[seabed]")),
        "element", "allowed: at most 16"),
    "an element's name twice": (
        pond(("[seabed]", LOW.replace('"low"', '"narrow high"') + "[seabed]")), "element[2].name", "has this name"),
    "a transducer under the ground": (pond(("[boat]", '[boat]\ntransducer_depth = "10 m"')), "seabed", "comes up to"),
    "a pulse longer than the water": (pond(("0.5 ms", "100 ms")), "window.depth", "blanking range"),
    "a beam that looks up": (
        pond((USE, f'{USE}\ntilt = {{ across = "85 deg" }}')), "element[1].tilt.across", "-80 deg to 80 deg"),
    "a tone outside the band": (
        pond(('{ length = "0.5 ms" }', '{ tone = "10 kHz" }')), "element[1]", "within the band"),
}  # fmt: skip
WARNED = {
    "fish under the ground": (pond((HERE, UNDER)), "below the seabed"),
    "fish under a slope": (
        pond((DEPTH, f"{DEPTH}\nslope = {{ along = 10 }}"), (HERE, UNDER.replace("9.5", "8.9"))), "below the seabed"),
    "a window that leaves the bottom out": (pond((WINDOW, '["0 m", "8 m"]')), "the seabed is deeper in 100 %"),
    "a patch nobody passes": (
        pond(("[[seabed.layer]]", PATCH.replace("PATCH", '5000 m", "6000 m'))), "seabed.patch[1]: the patch lies more"),
    "a school in the ground": (POND + SCHOOL.replace("DEPTH", "7.5 m").replace("HEIGHT", "5 m"), "into the seabed"),
    "a layer under the ground": (POND + LAYER + 'depth = ["12 m", "15 m"]\n', "the seabed; no element can show it"),
    "a layer far aside": (
        POND + LAYER + 'depth = ["4 m", "5 m"]\ny = ["900 m", "950 m"]\n', "krill: the layer lies more than 36 m"),
    "a layer above the transducer": (
        pond(("[boat]", '[boat]\ntransducer_depth = "2 m"')) + LAYER + 'depth = ["0 m", "1 m"]\n',
        "above the transducers"),
    "a wreck far away": (POND + BOX + 'at = { x = "9000 m", y = "0 m" }\n', "crate: the structure lies more than"),
    "a label far away": (POND + LABEL, "here: the label lies more than"),
    "fish longer than the water is deep": (
        pond((DEPTH, 'depth = "1.5 m"'), (WINDOW, '["0 m", "3 m"]'), ("25 cm", "3 m"), ('["0.3 m", "3 m"]', '"0.7 m"')),
        "are longer than the water is deep"),
    "one ping": (pond(("pings = 3", "pings = 1")), "never in the main lobe"),
    "pings too close": (pond(('"0.2 s"', '"0.005 s"')), "the end of the earlier ping shows"),
    "half a metre": (deep(0.5), "near field"),
    "a storm": (pond(("salinity = 0", 'salinity = 35\nwind = "30 m/s"')), "extrapolated"),
    "1 MHz": (pond((USE, f'{USE}\nband = ["900 kHz", "1 MHz"]')), "beyond the data"),
}  # fmt: skip


@pytest.mark.parametrize(("text", "path", "words"), REFUSED.values(), ids=REFUSED)
def test_what_cannot_be_is_refused_by_its_key(text, path, words):
    with pytest.raises(ScenarioError) as caught:
        prepare(parse(text, "pond.toml"))
    assert any(fault.path == path and words in fault.message for fault in caught.value.faults), str(caught.value)


@pytest.mark.parametrize(("text", "words"), WARNED.values(), ids=WARNED)
def test_what_would_be_quiet_is_warned_about(text, words):
    notes = prepare(parse(text)).header.warnings
    assert any(words in note for note in notes), notes


def simulated(text):
    """Return record, assessment and notes of a scene whose summary holds nothing impossible."""
    record = in_memory(prepare(parse(text)), threads=1)
    found = assess(record)
    assert faults(summary.as_data(record, found, "", {}), summary.as_text(record, found, "")) == []
    return record.elements[0], found.elements[0], record.warnings


def test_the_pond_as_it_is_needs_no_warning():
    assert prepare(parse(POND)).header.warnings == ()


@pytest.mark.parametrize("depth", [0.5, 5, 500, 2500])
def test_water_of_any_depth_has_its_bottom_where_it_is(depth):
    element, found, _ = simulated(deep(depth))
    assert element.bottom_depth == pytest.approx(depth, rel=0.01)
    # Held "within 2 % of depth or 0.5 m": the definition of bottom reach.
    assert found.bottom_lost == 0
    assert found.bottom_error_median == pytest.approx(0.0, abs=max(0.02 * depth, 0.1))


def test_an_anchored_boat_hears_the_same_fish_at_every_ping():
    element, found, _ = simulated(pond(("2 kn", "0 kn"), (HERE, 'where = { x = "-8 m", y = "0 m", depth = "5 m" }')))
    assert np.ptp(element.x) == 0
    assert {len(found.mark), *found.pings_detected} == {6, 3}


def test_a_window_that_cuts_the_blanking_range_moves_no_pick():
    whole, cut = (simulated(pond((WINDOW, f'["{top} m", "11 m"]')))[1] for top in (0, 0.2))
    assert list(whole.mark) == list(cut.mark)
    assert whole.bottom_range == pytest.approx(cut.bottom_range, abs=0.005)


@pytest.mark.parametrize(
    ("low", "high", "pulse"), [(10, 11, 0.5), (10, 11, 0.1), (900, 1000, 0.5), (100, 105, 0.1), (100, 104, 2)]
)
def test_the_ends_of_the_bands_and_chirps_shorter_than_a_cell_give_numbers_that_can_be(low, high, pulse):
    """Once a chirp of half a cell had a resolution of -1 m, and one of a tenth ended in an internal error."""
    band = f'{USE}\nband = ["{low} kHz", "{high} kHz"]'
    text = pond((USE, band), ("0.5 ms", f"{pulse} ms"), ("pings = 3", "pings = 1"))
    (element, _, _), own = simulated(text), prepare(parse(text))
    assert 0 < element.info.beamwidth_along <= (180 if low == 10 else 15)
    # Cells of c / (2 B); a Hann window widens them 1.44 times, a smooth pulse some more (Harris 1978, table 1: -3 dB).
    cell = 1450 / (2e3 * (high - low))
    assert cell < element.info.range_resolution < 2.2 * cell
    # Two ways to work it out: from the side lobes' table, and from the element's own pulse.
    assert element.info.range_resolution == pytest.approx(own.elements[0].point_width, rel=0.02)


@pytest.mark.parametrize(
    ("low", "high", "sediment", "depth"),
    [(900, 1000, "mud", 9), (900, 1000, "gravel", 3), (400, 440, "mud", 9), (300, 330, "fine sand", 20)],
)
def test_narrow_beams_of_high_bands_hold_flat_ground(low, high, sediment, depth):
    """Its echo is as short as a fish's there, and once every ping was without a bottom, 95 dB over the noise."""
    text = deep(depth).replace(USE, f'{USE}\nband = ["{low} kHz", "{high} kHz"]').replace("mud", sediment)
    _, found, _ = simulated(text[: text.index("[[fish]]")])
    assert found.bottom_lost == 0
    assert found.bottom_error == pytest.approx(np.zeros(3), abs=0.1)


def test_no_fish_is_the_bottom_of_a_record_that_ends_above_it():
    above = pond((WINDOW, '["0 m", "8 m"]'), (HERE, 'where = { x = ["-8 m", "-7.7 m"], y = "0 m", depth = "5 m" }'))
    above = above.replace(USE, f'{USE}\nband = ["900 kHz", "1 MHz"]')
    _, found, _ = simulated(above)
    assert np.isnan(found.bottom_range).all()
    assert "separated" in found.nearest_mark  # loud enough to be taken for one


def test_fish_at_one_place_are_shown_alike():
    _, found, _ = simulated(pond((HERE, 'where = { x = "-8 m", y = "0 m", above_bottom = "3 m" }')))
    assert len(set(found.mark)) == 1


def test_a_layer_in_the_ground_and_a_patch_far_away_change_no_level():
    plain = simulated(POND)[0].level()
    for text in (WARNED["a layer under the ground"][0], WARNED["a patch nobody passes"][0]):
        assert np.array_equal(simulated(text)[0].level(), plain, equal_nan=True)
