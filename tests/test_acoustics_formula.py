"""What all formulas have in common: arrays of any shape, xarray's arrays, a warning beyond the range of validity."""

import inspect
import warnings

import numpy as np
import pingwright as pw
import pytest
import xarray as xr
from pingwright.acoustics import (
    absorption,
    beam,
    bubbles,
    budget,
    fish,
    noise,
    pulse,
    roughness,
    seabed,
    smallslope,
    sphere,
    surface,
    water,
)
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
    lists = [np.asarray(one).tolist() if i in places else one for i, one in enumerate(arguments)]
    assert np.array_equal(first(function(*lists)), once, equal_nan=True)


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


#: What a formula takes where a value is not given, with the reason. Sea water of 1500 m/s and 1026 kg/m3, a relief of
#: exponent 3.25 (APL-UW TR 9407), one detection in two at 1e-4, half power 10 log10(1/2) dB, flanks of half a pulse.
HALF = 10 * np.log10(0.5)
USUAL = [
    (absorption.francois_garrison, (38e3, 10.0, 35.0), {"depth": 0.0, "acidity": 8.0}),
    (absorption.ainslie_mccolm, (38e3, 10.0, 35.0), {"depth": 0.0, "acidity": 8.0}),
    (absorption.fisher_simmons, (38e3, 10.0), {"pressure": 101325.0}),
    (beam.piston_width, (20.0,), {"level": HALF}),
    (beam.piston_wavenumber_radius, (9.0,), {"level": HALF}),
    (bubbles.two_way_loss, (38e3, 10.0), {"face_depth": 0.0}),
    (bubbles.layer_backscatter, (38e3, 10.0), {"grazing": 90.0}),
    (budget.source_level, (100.0, 0.5, 20.0), {"density": 1026.0, "sound_speed": 1500.0}),
    (budget.echo_level_point, (210.0, 50.0, 0.01, -40.0), {"beam_level": 0.0}),
    (budget.reverberation_level_volume, (210.0, 50.0, 0.01, -70.0, 1e-3, 0.01), {"sound_speed": 1500.0}),
    (budget.area_pulse_limited, (50.0, 1e-3), {"sound_speed": 1500.0}),
    (budget.second_echo_difference, (50.0, 0.01, 0.4), {"surface_loss": 0.0}),
    (budget.noise_level, (40.0, 1e-3), {"weighting_loss": 0.0, "directivity_index": 0.0}),
    (budget.needed_strength, (210.0, 40.0, 50.0, 0.01), {"detection": 0.5, "false_alarm": 1e-4}),
    (budget.reach, (210.0, 40.0, -35.0, 0.01), {"detection": 0.5, "false_alarm": 1e-4}),
    (budget.smallest_fish, (210.0, 90.0, 100.0, 0.01, 1e5, 0.4), {"detection": 0.5, "false_alarm": 1e-4}),
    (budget.smallest_fish, (210.0, 0.0, 100.0, 0.01, 1e5, 0.4), {"strength_floor": -60.0}),
    (budget.cavitation_intensity, (1.0,), {"density": 1026.0, "sound_speed": 1500.0}),
    (budget.nonlinear_loss, (1e3, 1e-2, 2e5, 50.0, 1026.0, 1500.0), {"curvature": 0.0}),
    (fish.minnaert_frequency, (0.01,), {"depth": 0.0, "density": 1026.0, "heat_ratio": 1.4}),
    (fish.resonance_love_1978, (0.01, 20.0), {"tissue_density": 1050.0}),
    (fish.wavenumber_radius, (0.01, 1e4), {"sound_speed": 1500.0}),
    (fish.strength_love_1978, (1e-3, 5e3, 20.0), {"viscosity": 50.0, "sound_speed": 1500.0}),
    (fish.tilt_factor, (0.9,), {"axis_ratio": 5.0}),
    (fish.tilt_average, (-5.0, 15.0), {"axis_ratio": 5.0}),
    (noise.thermal_exact, (2e5, 10.0), {"density": 1026.0, "sound_speed": 1500.0}),
    (pulse.taper, (0.9e-3 * np.array([-0.5, 0.4]), 1e-3), {"fraction": 0.5}),
    (pulse.chirp, (1e-3 * np.array([-0.4, 0.1]), 1e-3, 8e4), {"fraction": 0.5, "direction": "up"}),
    (pulse.tone, (1e-3 * np.array([-0.4, 0.1]), 1e-3), {"fraction": 0.5, "offset": 0.0}),
    (pulse.taylor, ([0.0, 0.3],), {"sidelobe": 35.0, "nearly_equal": 5}),
    *(
        (function, arguments, {"exponent": 3.25})
        for function, arguments in (
            (roughness.spectrum, (400.0, 0.004)), (roughness.relief_variance, (0.01, 1.0, 0.004)),
            (roughness.structure_constant, (0.004,)), (roughness.kirchhoff, (0.9, 400.0, 0.004)),
            (roughness.kirchhoff_vertical, (400.0, 0.004)), (roughness.kirchhoff_handbook, (0.9, 400.0, 0.004)),
            (roughness.perturbation, (0.7, 400.0, 0.004)),
        )
    ),
    (seabed.vertical_wavenumber, (0.8, 1.2), {"loss": 0.0}),
    (seabed.reflection, (0.8, 2.0, 1.2), {"loss": 0.0}),
    (seabed.lambert, (0.8,), {"level": -27.0}),
    (seabed.perturbation_factor, (0.8, 2.0, 1.2), {"loss": 0.0}),
    (seabed.backscatter, (seabed.sediment_from_grain_size(1.5), [0.9], [1e5]),
     {"sound_speed": 1500.0, "law": "kirchhoff"}),
    (seabed.surface_backscatter, (seabed.sediment_from_grain_size(1.5), [0.9], [1e5]),
     {"sound_speed": 1500.0, "law": "kirchhoff"}),
    (smallslope.small_slope, (smallslope.GROUNDS["rock"], [0.9], [2e4]), {"sound_speed": 1500.0}),
    (sphere.amplitude_soft, (0.02, 38e3), {"sound_speed": 1500.0}),
    (sphere.amplitude_rigid, (0.02, 38e3), {"sound_speed": 1500.0}),
    (sphere.amplitude_fluid, (0.02, 38e3, 1.04, 1.05), {"sound_speed": 1500.0}),
    (sphere.amplitude_elastic, (0.02, 38e3, 14.9, 6853.0, 4171.0), {"sound_speed": 1500.0}),
    (surface.reflection_loss, (3e4, 10.0), {"grazing": 90.0}),
    (water.sound_speed_leroy, (10.0, 35.0, 100.0), {"latitude": 45.0}),
    (water.pressure_leroy_parthiot, (100.0,), {"latitude": 45.0}),
    (water.density, (10.0, 35.0), {"depth": 0.0}),
    (water.density_millero_poisson, (10.0, 35.0), {"pressure": 0.0}),
]  # fmt: skip


@pytest.mark.parametrize(("function", "arguments", "usual"), USUAL, ids=lambda part: getattr(part, "__name__", None))
def test_a_value_that_is_not_given_is_the_usual_one_and_matters(function, arguments, usual):
    found = np.asarray(function(*arguments))
    assert np.asarray(function(*arguments, **usual)) == pytest.approx(found, rel=1e-12)
    for name, value in usual.items():
        if isinstance(value, float):
            other = function(*arguments, **{name: 1.02 * value if value else 1.0})
            assert not np.allclose(np.asarray(other), found, rtol=1e-11, atol=0.0), name


def test_a_call_from_the_program_itself_gives_no_warning_whoever_called_that():
    program = {"__name__": "pingwright.somewhere", "formula": surface.slope_variance}
    exec("def inside():\n    return formula(40.0)", program)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        program["inside"]()
    with pytest.warns(pw.errors.PingwrightWarning, match="wind speed 40 is beyond"):
        surface.slope_variance(40.0)


def test_words_that_formulas_do_not_know_are_refused():
    with pytest.raises(ValueError, match="own noise is a level, 'by speed' or 'none', not 'loud'"):
        noise.own_level("loud", 2.0)
    assert noise.own_level("none", 2.0) is None
    assert noise.own_level("by speed", 0.0) is None
    assert noise.own_level(51, 0.0) == 51.0
    sand = seabed.sediment_from_grain_size(1.5)
    for function in (seabed.surface_backscatter, seabed.backscatter):
        with pytest.raises(ValueError, match="unknown law 'lambert' of the seabed; there are kirchhoff, small-slope"):
            function(sand, [0.9], [5e4], 1500.0, "lambert")
