"""The catalogues: what they hold, and where it is from."""

import numpy as np
import pytest
from pingwright.acoustics import pulse, seabed
from pingwright.inputs import bodies, catalogue, elements, faces

CONTRACT_ELEMENTS = ("high-pencil", "high-cone", "medium-pencil", "medium-fan", "low-pencil")
CONTRACT_SEDIMENTS = (
    "rock",
    "cobble",
    "gravel",
    "coarse sand",
    "medium sand",
    "fine sand",
    "silt",
    "sandy mud",
    "mud",
    "clay",
)


def test_entries_of_the_contract_are_there() -> None:
    assert set(CONTRACT_ELEMENTS) <= set(catalogue.element_names())
    assert set(CONTRACT_SEDIMENTS) <= set(catalogue.sediment_names())
    assert {"steel", "wood", "concrete", "rock"} <= set(catalogue.material_names())
    assert {"fluid", "gas", "flat"} <= set(catalogue.scattering_layer_names())
    assert {"love-1971", "love-1977", "love-1978", "foote-1987"} <= set(catalogue.strength_model_names())


@pytest.mark.parametrize("name", catalogue.names())
def test_every_entry_names_its_source(name: str) -> None:
    for entry, row in catalogue.of(name).items():
        assert str(row["source"]).strip(), entry


@pytest.mark.parametrize("name", catalogue.element_names())
def test_elements_are_invented_and_say_so(name: str) -> None:
    entry = catalogue.elements()[name]
    assert "invented" in entry.source
    assert entry.kind in {"pencil", "cone", "fan"}
    element = elements.from_catalogue(name)
    assert element.power == {"low-pencil-large": 2000.0, "tone-50": 500.0, "tone-200": 500.0}.get(name, 1000.0)
    assert element.efficiency == 0.5


def test_the_two_tones_are_of_one_ordinary_transducer() -> None:
    tones = [elements.from_catalogue(name) for name in ("tone-50", "tone-200")]
    assert [tone.pulse.tone for tone in tones] == [50e3, 200e3]
    assert tones[0].face == tones[1].face


# APL-UW TR 9407 (1994), section IV, columns r, nu, Kp, d, w2 of its grain-size fits as recomputed in the project's
# reference sheet (h); rock and cobble by name, from memory.
HANDBOOK = [
    ("rock", 2.5, 2.5, None, 0.01374, 0.01862),
    ("cobble", 2.5, 1.8, None, 0.01374, 0.016),
    ("gravel", 2.4923, 1.3370, 0.4556, 0.01705, 0.012937),
    ("coarse sand", 2.2306, 1.2503, 0.4678, 0.01638, 0.006957),
    ("medium sand", 1.8446, 1.1782, 0.4924, 0.01624, 0.004446),
    ("fine sand", 1.4512, 1.1073, 0.5169, 0.01602, 0.002715),
    ("silt", 1.1948, 1.0179, 0.7571, 0.02158, 0.000781),
    ("sandy mud", 1.1487, 0.9873, 0.1397, 0.00386, 0.000518),
    ("mud", 1.1474, 0.9849, 0.0877, 0.00242, 0.000518),
    ("clay", 1.1448, 0.9800, 0.0539, 0.00148, 0.000518),
]


@pytest.mark.parametrize(("name", "density", "speed", "attenuation", "loss", "w2"), HANDBOOK)
def test_sediments_are_the_handbooks(
    name: str, density: float, speed: float, attenuation: float | None, loss: float, w2: float
) -> None:
    entry = catalogue.sediments()[name]
    assert entry.density_ratio == pytest.approx(density, abs=5.1e-5)
    assert entry.speed_ratio == pytest.approx(speed, abs=5.1e-5)
    assert entry.loss == pytest.approx(loss, abs=5.1e-6)
    assert entry.roughness_w2 == pytest.approx(w2, abs=5.1e-7)
    if attenuation is not None:
        assert entry.attenuation == pytest.approx(attenuation, abs=5.1e-5)


@pytest.mark.parametrize(
    "name", [name for name, entry in catalogue.sediments().items() if entry.grain_size is not None]
)
def test_sediment_file_agrees_with_the_formulas(name: str) -> None:
    entry = catalogue.sediments()[name]
    assert entry.grain_size is not None
    formula = seabed.sediment_from_grain_size(entry.grain_size)
    for key in ("density_ratio", "speed_ratio", "loss", "attenuation", "roughness_w2", "volume_parameter"):
        assert getattr(entry, key) == pytest.approx(getattr(formula, key), rel=1e-4), key


@pytest.mark.parametrize(("name", "floor"), [("gravel", -12.5), ("cobble", -10.5), ("rock", -8.2), ("mud", None)])
def test_lambert_floors_are_those_assumed(name: str, floor: float | None) -> None:
    entry = catalogue.sediments()[name]
    assert entry.lambert_floor_db == floor
    assert "assumed" in entry.source
    assert entry.extrapolated_above == 100e3


def test_slopes_of_materials_are_the_assumed_ones() -> None:
    # The project's design: assumed, rms [deg] of fouled steel, waterlogged wood, concrete, rock. A change is a choice.
    slopes = {name: entry.slope_rms_deg for name, entry in catalogue.materials().items()}
    assert slopes == {"steel": 12.0, "wood": 15.0, "concrete": 10.0, "rock": 25.0}


@pytest.mark.parametrize("name", catalogue.sediment_names())
def test_numbers_of_sediments_can_be_in_their_units(name: str) -> None:
    """Bounds of nature's sediments in TR 9407, section IV (from memory); a wrong unit or a lost sign is far outside."""
    entry = catalogue.sediments()[name]
    assert 1.0 < entry.density_ratio < 3.0
    assert 0.9 < entry.speed_ratio < 4.0
    assert 0.0005 < entry.loss < 0.1
    assert entry.loss == pytest.approx(
        float(seabed.loss_from_attenuation(entry.attenuation, entry.speed_ratio)), rel=1e-3
    )
    assert 1e-5 < entry.roughness_w2 < 0.5
    assert 2.4 <= entry.roughness_exponent <= 3.9
    assert 1e-4 < entry.volume_parameter < 0.01
    assert 1.0 <= entry.slope_rms_deg <= 15.0
    if entry.lambert_floor_db is not None:  # energy: what is not reflected at the vertical is all that can be scattered
        reflected = abs(complex(seabed.reflection(1.0, entry.density_ratio, entry.speed_ratio, entry.loss))) ** 2
        assert reflected + np.pi * 10 ** (0.1 * entry.lambert_floor_db) <= 1.0


def test_reflection_of_materials_follows_from_density_and_speed() -> None:
    water = 1026.0 * 1500.0
    for entry in catalogue.materials().values():
        impedance = entry.density * entry.sound_speed
        assert entry.reflection == pytest.approx((impedance - water) / (impedance + water), abs=6e-4), entry.name


def test_words_of_the_schema_are_those_of_the_catalogue() -> None:
    assert tuple(catalogue.words("weightings")) == tuple(pulse.WEIGHTINGS)
    assert tuple(catalogue.words("weightings")) == elements.Weighting.__args__  # type: ignore[attr-defined]
    assert tuple(catalogue.words("shadings")) == faces.Shading.__args__  # type: ignore[attr-defined]


@pytest.mark.parametrize("name", catalogue.body_names())
def test_body_plan_makes_a_fish(name: str) -> None:
    row = {
        "name": name,
        "body": name,
        "count": 1,
        "where": {"x": [-1, 1], "y": [-1, 1], "depth": "5 m"},
        **catalogue.fish()[name].keys,
    }
    fish = bodies.Fish.model_validate(row)
    assert fish.strength_model in catalogue.strength_model_names()
    assert fish.tilt is not None


def test_unknown_catalogue_is_an_error_of_the_caller() -> None:
    with pytest.raises(KeyError):
        catalogue.of("nothing")


def test_an_entry_of_a_catalogue_that_lacks_a_key_is_named(monkeypatch) -> None:
    row = {"density_ratio": 1.1, "speed_ratio": 1.0, "los": 0.1, "source": "s"}
    monkeypatch.setattr(catalogue, "_tables", lambda _: {"peat": row})
    with pytest.raises(
        ValueError, match=r"sediments.toml, entry 'peat': missing keys \['loss', .*unknown keys \['los'\]"
    ):
        catalogue.sediments()
