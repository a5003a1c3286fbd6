"""Disc and rectangle elements against closed forms (Kinsler et al. 2000 ch. 7; Urick 1983 ch. 3, 4)."""

from types import SimpleNamespace
from typing import get_args

import numpy as np
import pytest
from pingwright.element.build import build
from pingwright.errors import UnfinishedError
from pingwright.inputs import faces
from pingwright.inputs.elements import Element, Pulse
from scipy.special import j1

C, RHO = 1500.0, 1026.0
F200 = np.array([200e3])


#: Every face a scenario may name, by its shape.
FACES = {kind.model_fields["shape"].default: kind for kind in get_args(get_args(faces.Face)[0])}


def spec(face, band=(130e3, 210e3), **changes):
    """Return an element's section without its bounds; loss to harmonics off unless asked for."""
    values = dict(
        name="e",
        band=band,
        pulse=Pulse.model_construct(kind="chirp", length=2e-3, taper=0.1),
        weighting="hann",
        power=1000.0,
        face=FACES[face["shape"]].model_construct(**face),
        finite_amplitude=False,
    )
    return Element.model_construct(**(values | changes))


def disc_of(ka, f=200e3):
    return build(spec({"shape": "disc", "diameter": ka * C / (np.pi * f)}), RHO, C)


@pytest.mark.parametrize(("ka", "width"), [(10, 18.604), (20, 9.271), (30, 6.177)])
def test_disc_half_power_width(ka, width):
    # exact: x = 1.61634
    assert disc_of(ka).beamwidth(200e3) == pytest.approx((width, width), abs=1e-3)


@pytest.mark.parametrize(("ka", "index"), [(2, 5.880), (5, 14.017), (10, 20.029), (20, 26.048), (30, 29.549)])
def test_disc_directivity_is_the_baffled_closed_form(ka, index):
    # (ka)^2 / (1 - J1(2 ka) / ka), Kinsler et al. 2000
    assert disc_of(ka).directivity(np.array([200e3]))[0] == pytest.approx(index, abs=2e-3)


@pytest.mark.parametrize(("ka", "psi"), [(5, 0.239835), (10, 0.058283), (20, 0.014472), (30, 0.006424)])
def test_disc_equivalent_beam_angle(ka, psi):
    # quadrature of the piston pattern by scipy
    assert disc_of(ka).equivalent_beam_angle(np.array([200e3]))[0] == pytest.approx(psi, rel=1e-3)


def test_disc_nulls_and_side_lobes():
    x = np.array([3.83171, 7.01559, 5.1356, 8.4172, 11.6198])  # zeros of J1 and of J2, Abramowitz & Stegun table 9.5
    level = 20 * np.log10(np.abs(disc_of(20).beam(x / 20, 0 * x, np.array([200e3]))[:, 0]) + 1e-12)
    assert np.all(level[:2] < -90)
    assert level[2:] == pytest.approx([-17.57, -23.81, -27.96], abs=0.01)


def test_line_width_null_and_side_lobe():
    # exact: sinc^2 = 1/2 at 0.44295; -13.26 dB at 1.4303
    wavelength = C / 200e3
    fan = build(spec({"shape": "rectangle", "along": 10 * wavelength, "across": 0.772 * wavelength}), RHO, C)
    along, across = fan.beamwidth(200e3)
    assert along == pytest.approx(np.rad2deg(2 * np.arcsin(0.44295 / 10)), abs=1e-3)
    assert across == pytest.approx(70.0, abs=0.05)
    u = np.array([0.1, 0.14303])
    level = np.abs(fan.beam(u, 0 * u, np.array([200e3]))[:, 0])
    assert level[0] < 1e-9
    assert 20 * np.log10(level[1]) == pytest.approx(-13.26, abs=0.01)


def test_square_of_four_wavelengths():
    # 4/9 lambda^2 / A is the narrow-beam limit; numeric value 0.02791 sr by scipy quadrature
    side = 4 * C / 200e3
    square = build(spec({"shape": "rectangle", "along": side, "across": side}), RHO, C)
    f = np.array([200e3])
    assert square.equivalent_beam_angle(f)[0] == pytest.approx(0.02791, rel=2e-3)
    assert square.directivity(f)[0] == pytest.approx(10 * np.log10(4 * np.pi * 16), abs=0.05)


@pytest.mark.parametrize("ka", [3.0, 12.0, 26.5])
def test_power_over_the_sphere_is_one(ka):
    # independent sum over random directions of the whole sphere, nothing behind the baffle
    element, f = disc_of(ka), np.array([200e3])
    w = (np.arange(200_000) + 0.5) / 200_000
    b = element.beam(np.sqrt(1 - w**2), 0 * w, f)[:, 0]
    mean = 0.5 * np.mean(np.abs(b) ** 2) * element.directivity_factor(f)[0]
    assert mean == pytest.approx(1.0, abs=5e-3)


def test_source_level_of_the_worked_example():
    # 500 W electrical, efficiency 0.6, DI 28.474 dB: 170.8 + 10 log 300 + 28.474 = 224.045 (rho c of 170.8 rounded)
    f = 200e3
    element = build(
        spec({"shape": "disc", "diameter": 26.4762 * 1500 / (np.pi * f)}, power=500.0, efficiency=0.6), 1000.0, 1500.0
    )
    assert element.source_level(f) == pytest.approx(224.045 - 170.8 + 170.769, abs=0.01)


def test_edge_loss_lowers_the_band_edges_only():
    flat, falling = (build(spec({"shape": "disc", "diameter": 0.061}, edge_loss=e), RHO, C) for e in (None, 6.0))
    f = np.array([130e3, 170e3, 210e3])
    loss = 20 * np.log10(flat.source_amplitude(f) / falling.source_amplitude(f))
    assert loss == pytest.approx([6.0, 0.0, 6.0], abs=1e-9)


def test_directivity_between_nodes_agrees_with_the_closed_form():
    element = build(spec({"shape": "disc", "diameter": 0.061}), RHO, C)
    f = np.linspace(20e3, 400e3, 3001)
    ka = np.pi * 0.061 * f / C
    exact = 10 * np.log10(ka**2 / (1 - j1(2 * ka) / ka))
    assert element.directivity(f) == pytest.approx(exact, abs=2e-3)


def test_noise_after_the_filter():
    # NL - DI - 10 log T + 1.76 dB with Coates wind and thermal at 10 kn, lossless receiver: 32.3 +- 0.2 dB
    element = build(spec({"shape": "disc", "diameter": 0.061}), 1026.5, 1494.0)
    level = element.noise_level(10 * 1852 / 3600, ambient=True, own=None)
    assert level == pytest.approx(32.3, abs=0.2)


def test_noise_parts():
    element = build(spec({"shape": "disc", "diameter": 0.061}, receive_efficiency=0.5), RHO, C)
    f = np.array([50e3, 170e3])
    own = element.noise_psd(f, 0.0, ambient=False, own=35.0)
    assert 10 * np.log10(own) == pytest.approx([35.0, 35.0 - 20 * np.log10(3.4)] - element.directivity(f), abs=1e-9)
    assert element.noise_level(5.0, ambient=False, own=None) == -np.inf
    lossless = build(spec({"shape": "disc", "diameter": 0.061}), RHO, C)
    high = np.array([900e3])  # thermal noise alone matters
    ratio = element.noise_psd(high, 0.0, True, None) / lossless.noise_psd(high, 0.0, True, None)
    assert ratio[0] == pytest.approx(2.0, rel=0.01)


def test_tilt_turns_the_axis_towards_positive_x_and_y():
    element = build(spec({"shape": "disc", "diameter": 0.061}, tilt=SimpleNamespace(along=20.0, across=10.0)), RHO, C)
    axis = element.rotation[2]
    assert np.allclose(element.rotation @ element.rotation.T, np.eye(3))
    assert np.linalg.det(element.rotation) == pytest.approx(1.0)
    assert axis[0] == pytest.approx(np.sin(np.deg2rad(20.0)))
    assert axis[1] > 0.0
    assert axis[2] > 0.0


def test_blank_range_and_resolution():
    element = build(spec({"shape": "disc", "diameter": 0.061}), RHO, C)
    assert element.blank_range == pytest.approx(1500 * 2.3e-3 / 2)
    assert element.range_resolution == pytest.approx(1500 / 160e3)
    assert element.near_field == pytest.approx(np.pi * 0.0305**2 * 210e3 / 1500)


def test_a_huge_face_is_refused_in_one_sentence_but_a_disc_is_worked_out():
    with pytest.raises(UnfinishedError, match="'e' has a face of 280. wavelengths"):
        build(spec({"shape": "rectangle", "along": 2.0, "across": 0.1}, band=(2.0e6, 2.1e6)), RHO, C)
    disc = build(spec({"shape": "disc", "diameter": 2.0}, band=(900e3, 1e6)), RHO, C)
    ka = np.pi * 2.0 * 950e3 / C
    assert disc.directivity(np.array([950e3]))[0] == pytest.approx(20 * np.log10(ka), abs=1e-3)


def test_a_strip_of_many_wavelengths_is_integrated_right():
    # 4 pi A / wavelength^2 is the limit for both sides long (Urick 1983 ch. 3); 60 by 20 wavelengths
    big = build(spec({"shape": "rectangle", "along": 0.45, "across": 0.15}), RHO, C)
    assert big.directivity(F200)[0] == pytest.approx(10 * np.log10(4 * np.pi * 60 * 20), abs=0.02)
