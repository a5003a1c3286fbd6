"""What all formulas have in common: arrays of any shape, xarray's arrays, a warning beyond the range of validity."""

import inspect
import warnings

import numpy as np
import pingwright as pw
import pytest
import xarray as xr
from pingwright.validation.collected import rows

#: These take whole spectra or tables, as their docstrings say: a spectrum's frequencies are its one axis.
SPECTRA = {
    "weighting_loss", "filter_loss", "filter_gain", "matched_filter", "side_lobe_energy", "width", "envelope",
    "effective_pulse_length", "noise_bandwidth", "array_factor",
}  # fmt: skip
#: These return a table over angle and frequency (or length and frequency) from one axis of each.
TABLES = {"surface_backscatter", "backscatter", "small_slope", "strength_shape", "tilt_mean", "cross_section"}


def elementwise():
    """The first row of each formula that takes arrays, with the places of its array arguments."""
    found = {}
    for row in rows():
        parameters = list(inspect.signature(row.function).parameters.values())
        places = [i for i, one in enumerate(parameters) if "Buffer" in str(one.annotation)]
        places = [i for i in places if i < len(row.arguments)]
        if places and row.function.__name__ not in SPECTRA | TABLES:
            found.setdefault(row.function, (row.arguments, places))
    return [(function, *about) for function, about in found.items()]


FORMULAS = elementwise()


def first(result):
    return np.asarray(result[0] if isinstance(result, tuple) else result)


def test_most_formulas_take_arrays():
    assert len(FORMULAS) > 120


@pytest.mark.parametrize(("function", "arguments", "places"), FORMULAS, ids=[one[0].__name__ for one in FORMULAS])
def test_arrays_of_any_shape_give_what_single_values_give(function, arguments, places):
    once = first(function(*arguments))
    shape = np.broadcast_shapes(*(np.shape(arguments[i]) for i in places))
    assert once.shape == shape
    for ahead in ((2,), (2, 3)):
        large = [np.broadcast_to(one, ahead + shape) if i in places else one for i, one in enumerate(arguments)]
        result = first(function(*large))
        assert result.shape == ahead + shape
        assert np.allclose(result, once, rtol=1e-12, equal_nan=True)
    none = [np.zeros(0) if i in places else one for i, one in enumerate(arguments)]
    assert first(function(*none)).shape == (0,)


def test_labelled_arrays_stay_labelled():
    depth = xr.DataArray([0.0, 100.0, 500.0], dims="depth", coords={"depth": [0.0, 100.0, 500.0]})
    temperature = xr.DataArray([4.0, 8.0], dims="temperature")
    speed = pw.acoustics.water.sound_speed(temperature, salinity=35.0, depth=depth)
    assert speed.dims == ("temperature", "depth")
    assert list(speed["depth"].values) == [0.0, 100.0, 500.0]
    assert float(speed[1, 2]) == float(pw.acoustics.water.sound_speed(8.0, 35.0, 500.0))
    loss = pw.acoustics.absorption.francois_garrison(38e3, temperature, 35.0)
    assert loss.dims == ("temperature",)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (
            lambda: pw.acoustics.noise.wind_coates(np.array([10e3, 50e3]), 5.0),
            "frequency 10000 to 50000 is beyond 100 to",
        ),
        (lambda: pw.acoustics.water.sound_speed(50.0, 35.0, 0.0), "sound_speed: temperature 50 is beyond -2 to 40"),
        (lambda: pw.acoustics.fish.strength_love_1971(0.3, 2e3), "length over wavelength 0.4 is beyond 1 to 130"),
        (lambda: pw.acoustics.noise.thermal(1e3), "frequency 1000 is beyond 30000 and more"),
        (lambda: pw.acoustics.absorption.francois_garrison(38e3, 10.0, 35.0, depth=9e3), "depth 9000 is beyond"),
    ],
)
def test_beyond_the_range_a_warning_names_it(call, words):
    with pytest.warns(pw.PingwrightWarning, match=words) as caught:
        call()
    assert len(caught) == 1
    assert caught[0].filename == __file__, "it points at the line of whoever called"


def test_within_the_range_and_inside_the_program_nothing_is_said():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        pw.acoustics.water.sound_speed(10.0, 35.0, 0.0)
        pw.acoustics.noise.thermal(np.array([]))
        rows()[0].compare()


def test_a_topic_is_loaded_when_it_is_first_used():
    import pingwright.acoustics as room

    for name in ("beam", "bottomecho", "water", "absorption"):
        assert room.__getattr__(name).__name__ == f"pingwright.acoustics.{name}"
    with pytest.raises(AttributeError, match="no attribute 'beams'; there are absorption, arrays, beam"):
        room.__getattr__("beams")
