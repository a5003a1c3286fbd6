"""Arrays of discs against the product theorem (Urick 1983 ch. 3), measured tables against the face they came from."""

from types import SimpleNamespace

import numpy as np
import pytest
from pingwright.element.build import build
from scipy.special import j1
from test_element_flat import RHO, C, spec

F = np.array([200e3])
WAVELENGTH = C / 200e3


def discs(centres, diameter=0.01, weights=None, delays=None, **changes):
    face = {"shape": "discs", "diameter": diameter, "centres": centres, "weights": weights, "delays": delays}
    return build(spec(face, **changes), RHO, C)


def decibels(amplitude):
    return 20 * np.log10(np.abs(amplitude))


def test_two_discs_are_element_times_array_factor():
    # ka = 5, spacing 2 wavelengths, 10 deg: -0.832, -6.716, -7.548 dB
    pair = discs([[-WAVELENGTH, 0, 0], [WAVELENGTH, 0, 0]], diameter=5 * WAVELENGTH / np.pi)
    u = np.sin(np.deg2rad([10.0]))
    x = 5 * u
    element = 2 * j1(x) / x
    factor = np.sin(2 * np.pi * 2 * u) / (2 * np.sin(np.pi * 2 * u))
    assert decibels(element) == pytest.approx([-0.832], abs=1e-3)
    assert decibels(factor) == pytest.approx([-6.716], abs=1e-3)
    assert decibels(pair.beam(u, 0 * u, F)[:, 0]) == pytest.approx([-7.548], abs=1e-3)
    assert decibels(pair.beam(0 * u, u, F)[:, 0]) == pytest.approx([-0.832], abs=1e-3)


def test_line_of_eight_has_its_grating_lobe_where_the_spacing_says():
    # sin(theta) = wavelength / spacing; nulls at m wavelength / (N spacing)
    spacing, n = 1.6 * WAVELENGTH, 8
    line = discs([[i * spacing, 0, 0] for i in range(n)], diameter=0.4 * WAVELENGTH)
    u = np.array([1 / 1.6, 1 / (1.6 * n), 3 / (1.6 * n)])
    element = 2 * j1(0.4 * np.pi * u) / (0.4 * np.pi * u)
    b = line.beam(u, 0 * u, F)[:, 0]
    assert np.abs(b[0]) == pytest.approx(element[0], rel=1e-9)
    assert np.abs(b[1:]).max() < 1e-9


def test_a_flat_symmetric_array_is_real_and_its_position_is_its_centroid():
    centred = discs([[-0.01, 0, 0], [0.01, 0, 0]])
    moved = discs([[0.23, 0.1, 0.05], [0.25, 0.1, 0.05]])
    u, v = np.array([0.1, 0.3]), np.array([0.2, -0.1])
    assert centred.is_real
    assert moved.is_real
    assert moved.beam(u, v, F) == pytest.approx(centred.beam(u, v, F), abs=1e-12)
    assert not discs([[-0.01, 0, 0], [0.01, 0, 0]], weights=[1.0, 2.0]).is_real
    assert not discs([[-0.01, 0, 0], [0.01, 0, 0.002]]).is_real


def test_delays_turn_the_axis_towards_the_late_side():
    # true time delay: sin(steer) = c delay / spacing, the same at every frequency
    spacing, steer = 0.5 * WAVELENGTH, 0.25
    x = (np.arange(12) - 5.5) * spacing
    element = discs([[a, 0, 0] for a in x], diameter=0.3 * WAVELENGTH, delays=list(x * steer / C))
    u = np.linspace(-0.9, 0.9, 1801)
    for f in (130e3, 200e3):
        peak = u[np.argmax(np.abs(element.beam(u, 0 * u, np.array([f]))[:, 0]))]
        assert peak == pytest.approx(steer, abs=0.02)  # the disc's own pattern pulls it a little to the normal
    u0, v0 = element.face.axis
    assert (u0, v0) == pytest.approx((steer, 0.0), abs=0.02)
    assert element.beam(np.array([u0]), np.array([v0]), np.array([130e3, 200e3])) == pytest.approx(1.0)


def test_a_raised_disc_leads():
    # a disc standing out by a quarter wavelength is 90 deg ahead on the axis, in step at 90 deg
    element = discs([[0, 0, 0], [0, 0, WAVELENGTH / 4]])
    side = element.beam(np.array([1.0]), np.array([0.0]), F)[0, 0]
    alone = 2 * j1(np.pi * 0.01 / WAVELENGTH) / (np.pi * 0.01 / WAVELENGTH)
    assert np.abs(side) == pytest.approx(np.sqrt(2) * np.abs(alone), rel=1e-6)


def test_array_directivity_by_summing_pairs():
    """Point sources: the hemisphere's mean of |AF|^2 is a sum of sinc(k d), exact (Urick 1983 ch. 3)."""
    spacing, n = 0.75 * WAVELENGTH, 4
    tiny = discs([[i * spacing, 0, 0] for i in range(n)], diameter=1e-6)
    distance = spacing * np.abs(np.subtract.outer(range(n), range(n)))
    exact = 2 * n**2 / np.sum(np.sinc(2 * distance / WAVELENGTH))
    assert tiny.directivity_factor(F)[0] == pytest.approx(exact, rel=1e-4)


@pytest.mark.parametrize("delays", [None, [0.0, 5e-6, 0.0]])
def test_power_over_the_sphere_is_one(delays):
    element = discs([[0, 0, 0], [0.012, 0.004, 0], [0.0, 0.013, 0.001]], weights=[1.0, 0.7, 0.9], delays=delays)
    w, phi = (np.arange(500) + 0.5) / 500, (np.arange(501) + 0.5) * 2 * np.pi / 501
    sine = np.sqrt(1 - w**2)
    u, v = np.outer(sine, np.cos(phi)).ravel(), np.outer(sine, np.sin(phi)).ravel()
    mean = 0.5 * np.mean(np.abs(element.beam(u, v, F)[:, 0]) ** 2)
    assert mean * element.directivity_factor(F)[0] == pytest.approx(1.0, abs=5e-3)


def table_of(element, shape="grid"):
    f = np.linspace(130e3, 210e3, 9)
    angle = np.linspace(-89.0, 89.0, 357)
    along, across = np.meshgrid(np.tan(np.deg2rad(angle)), np.tan(np.deg2rad(angle)), indexing="ij")
    w = 1 / np.sqrt(1 + along**2 + across**2)
    level = decibels(element.beam((along * w).ravel(), (across * w).ravel(), f) + 1e-9).T
    if shape == "columns":
        f, along, across = (g.ravel() for g in np.meshgrid(f, angle, angle, indexing="ij"))
        pattern = SimpleNamespace(frequency=f, angle_along=along, angle_across=across, level=level.ravel())
    else:
        pattern = SimpleNamespace(frequency=f, angle_along=angle, angle_across=angle, level=level)
    return build(spec({"shape": "table", "file": "p.csv", "pattern": pattern}), RHO, C)


@pytest.mark.parametrize("shape", ["grid", "columns"])
def test_a_table_gives_back_the_face_it_was_measured_on(shape):
    disc = build(spec({"shape": "disc", "diameter": 0.03}), RHO, C)
    measured = table_of(disc, shape)
    assert measured.is_real
    f = np.array([141e3, 200e3])
    u, v = np.array([0.0, 0.05, 0.1, -0.12]), np.array([0.0, 0.07, -0.1, 0.02])
    assert np.abs(measured.beam(u, v, f)) == pytest.approx(np.abs(disc.beam(u, v, f)), abs=2e-3)
    assert measured.beamwidth(170e3) == pytest.approx(disc.beamwidth(170e3), abs=0.1)
    assert measured.directivity(f) == pytest.approx(disc.directivity(f), abs=0.05)
    assert measured.beam(np.array([1.0]), np.array([0.0]), f) == pytest.approx(0.0)


def test_a_table_with_a_gap_is_refused():
    pattern = SimpleNamespace(
        frequency=[1e5, 1e5, 1e5], angle_along=[0.0, 0.0, 10.0], angle_across=[0.0, 10.0, 0.0], level=[0.0, -3.0, -3.0]
    )
    with pytest.raises(ValueError, match="gaps"):
        build(spec({"shape": "table", "file": "p.csv", "pattern": pattern}), RHO, C)
