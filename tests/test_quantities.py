"""Numbers and units. Sources beside the values; factors are exact by definition."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pingwright import quantities as q
from pingwright import units

# Exact by definition: international foot 0.3048 m (1959 agreement), fathom of six feet, nautical mile 1852 m and knot
# 1852/3600 m/s (SI Brochure 9th ed., table 8 and its notes), inch 25.4 mm, mile 1609.344 m.
EXACT = [
    ("180 ft", q.LENGTH, 54.864),
    ("30 fathoms", q.LENGTH, 54.864),
    ("1 nmi", q.LENGTH, 1852.0),
    ("45 cm", q.LENGTH, 0.45),
    ("61mm", q.LENGTH, 0.061),
    ("38.1 mm", q.LENGTH, 0.0381),
    ("1 in", q.LENGTH, 0.0254),
    ("2 yards", q.LENGTH, 1.8288),
    ("130 kHz", q.FREQUENCY, 130e3),
    ("1 MHz", q.FREQUENCY, 1e6),
    ("2 ms", q.TIME, 0.002),
    ("50 us", q.TIME, 50e-6),
    ("50 \u00b5s", q.TIME, 50e-6),
    ("2 min", q.TIME, 120.0),
    ("1 kW", q.POWER, 1000.0),
    ("4 kn", q.SPEED, 4 * 1852 / 3600),
    ("36 km/h", q.SPEED, 10.0),
    ("1 mph", q.SPEED, 0.44704),
    ("3 deg", q.ANGLE, 3.0),
    ("-35 dB", q.LEVEL, -35.0),
    ("11 degC", q.TEMPERATURE, 11.0),
    ("34.5 g/kg", q.SALINITY, 34.5),
    ("0.02 per m3", q.NUMBER_DENSITY, 0.02),
    ("50 %", q.RATIO, 0.5),
    ("+1.5e1 m", q.LENGTH, 15.0),
    (".5 m", q.LENGTH, 0.5),
]
# Water freezes at 32 degF and boils at 212 degF; 0 degC is 273.15 K by definition.
TEMPERATURES = [("32 degF", 0.0), ("212 \u00b0F", 100.0), ("273.15 K", 0.0), ("-40 F", -40.0)]


@pytest.mark.parametrize(("text", "dimension", "value"), EXACT)
def test_text_with_unit_gives_the_nearest_float(text: str, dimension: q.Dimension, value: float) -> None:
    assert q.read(text, dimension) == value


@pytest.mark.parametrize(("text", "value"), TEMPERATURES)
def test_temperatures_have_offsets(text: str, value: float) -> None:
    assert q.read(text, q.TEMPERATURE) == pytest.approx(value, abs=1e-12)


def test_radians_are_degrees() -> None:
    assert q.read("1 rad", q.ANGLE) == pytest.approx(180 / math.pi, rel=1e-15)


def test_cubic_feet_and_litres() -> None:
    assert q.read("1 per ft3", q.NUMBER_DENSITY) == pytest.approx(0.3048**-3, rel=1e-12)
    assert q.read("1 per litre", q.NUMBER_DENSITY) == pytest.approx(1000.0, rel=1e-12)


REFUSED = [
    ("9**9**9 m", q.LENGTH, "no calculation"),
    ("1e400 m", q.LENGTH, "finite"),
    ("6 ft 3 in", q.LENGTH, "one number with one unit"),
    ("2*3 m", q.LENGTH, "no calculation"),
    ("1/3 m", q.LENGTH, "unit"),
    ("__import__('os') m", q.LENGTH, "a number with a unit"),
    ("5 \x00m", q.LENGTH, "unit"),
    ("1,5 m", q.LENGTH, "a point, not a comma"),
    ("1_000 m", q.LENGTH, "no calculation"),
    ("\u0663 m", q.LENGTH, "a number with a unit"),
    ("nan m", q.LENGTH, "a number with a unit"),
    ("inf m", q.LENGTH, "a number with a unit"),
    ("", q.LENGTH, "a number with a unit"),
    ("12", q.LENGTH, '"12 m"'),
    ("3 kHz", q.LENGTH, "allowed: m, "),
    ("3 parsec", q.LENGTH, "allowed: m, "),
    ("3 meter/second*second", q.LENGTH, "no calculation"),
    ("9" * 100 + " m", q.LENGTH, "at most 80"),
    ("1e308 km", q.LENGTH, "finite"),
    (float("nan"), q.LENGTH, "finite"),
    (float("-inf"), q.LENGTH, "finite"),
    (10**400, q.LENGTH, "finite"),
    (True, q.LENGTH, "found true"),
    (None, q.LENGTH, "a length"),
    ([1, 2], q.LENGTH, "a list of 2"),
    ({"m": 1}, q.LENGTH, "a table"),
]


@pytest.mark.parametrize(("value", "dimension", "words"), REFUSED)
def test_what_is_no_quantity_is_refused(value: object, dimension: q.Dimension, words: str) -> None:
    with pytest.raises(q.QuantityError) as caught:
        q.read(value, dimension)
    assert words in str(caught.value)
    assert str(caught.value).isprintable()


IMPLAUSIBLE = [
    (130, q.FREQUENCY, 10e3, 1e6, None, "130 kHz"),
    (61, q.LENGTH, 0.002, 2.0, None, "61 mm"),
    (2, q.TIME, 1e-5, 0.1, None, "2 ms"),
    (1, q.POWER, 0.1, 1e5, (5.0, 1e5), "1 kW"),
    (52, q.TEMPERATURE, -2.0, 40.0, None, "52 degF"),
    (25, q.SPEED, 0.0, 15.0, None, "25 kn"),
]


@pytest.mark.parametrize(("value", "dimension", "low", "high", "plausible", "meant"), IMPLAUSIBLE)
def test_bare_number_out_of_place_names_the_likely_unit(
    value: float, dimension: q.Dimension, low: float, high: float, plausible: tuple[float, float] | None, meant: str
) -> None:
    with pytest.raises(q.QuantityError, match=f'did you mean "{meant}"'):
        q.check(value, dimension, low, high, plausible)


def test_unit_written_out_insists_on_an_unlikely_value() -> None:
    assert q.check("1 W", q.POWER, 0.1, 1e5, (5.0, 1e5)) == 1.0


DIMENSIONS = [
    q.LENGTH,
    q.FREQUENCY,
    q.TIME,
    q.POWER,
    q.SPEED,
    q.ANGLE,
    q.LEVEL,
    q.TEMPERATURE,
    q.SALINITY,
    q.NUMBER_DENSITY,
]
numbers = st.floats(allow_nan=False, allow_infinity=False, min_value=-1e12, max_value=1e12)


def read_or_refused(text: str, dimension: q.Dimension) -> str:
    """Return a finite number as text, or the message; anything else comes out as itself and fails the test."""
    try:
        number = q.read(text, dimension)
    except q.QuantityError as error:
        return str(error)
    return "finite" if math.isfinite(number) else ""


@given(numbers, st.sampled_from(DIMENSIONS))
def test_exact_text_reads_back_to_the_same_float(number: float, dimension: q.Dimension) -> None:
    assert q.read(q.exact(number, dimension), dimension) == number


@given(st.text(max_size=100), st.sampled_from(DIMENSIONS))
def test_any_text_is_read_or_refused(text: str, dimension: q.Dimension) -> None:
    assert "\x00" not in read_or_refused(text, dimension)


@settings(max_examples=300)
@given(
    st.from_regex(r"[+-]?[0-9]{1,3}(\.[0-9]{0,3})?([eE][+-]?[0-9]{1,4})? ?[a-zA-Z0-9*/^ .%+-]{0,12}", fullmatch=True),
    st.sampled_from(DIMENSIONS),
)
def test_texts_like_quantities_are_read_or_refused(text: str, dimension: q.Dimension) -> None:
    assert read_or_refused(text, dimension)


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_every_listed_unit_is_known_to_the_unit_library(dimension: q.Dimension) -> None:
    for unit in dimension.units:
        assert math.isfinite(q.read(f"1 {unit}", dimension))


def test_factors_equal_those_of_the_full_unit_registry():
    """Reference: pint's own definitions (its fathom is of US survey feet, 2 ppm longer than the chart's)."""
    import pint

    registry = pint.UnitRegistry()
    base = {
        q.LENGTH: "meter", q.FREQUENCY: "hertz", q.TIME: "second", q.POWER: "watt", q.SPEED: "meter/second",
        q.ANGLE: "degree", q.NUMBER_DENSITY: "1/meter**3",
    }  # fmt: skip
    names = {(d, n) for d in base for n in d.units.values() if n}
    assert {n for _, n in names} == set(units._FACTORS)
    for dimension, name in names:
        want = registry.Quantity(1.0, name).to(base[dimension]).magnitude
        assert float(units.factor(name)) == pytest.approx(want, rel=3e-6 if name == "fathom" else 1e-14)
