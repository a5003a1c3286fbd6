"""A law of incidence averaged over small slopes: against a general library's quadrature over the same slopes."""

import numpy as np
import pytest
from pingwright.acoustics import slopes
from scipy import integrate

FREQUENCY = np.array([50e3, 200e3])


def law(cosine, frequency):
    """Some coefficient that falls with incidence, at each frequency in its own way."""
    return np.asarray(cosine)[:, None] ** (4 + np.asarray(frequency) / 50e3)


def direct(incidence, rms, frequency):
    """The mean over two-dimensional Gaussian slopes of total rms [deg], facet by facet."""
    tangent = np.tan(np.radians(rms)) / np.sqrt(2.0)  # of each of the two components

    def facet(across, towards):
        weight = np.exp(-(towards**2 + across**2) / (2 * tangent**2)) / (2 * np.pi * tangent**2)
        cosine = (np.cos(incidence) - np.sin(incidence) * towards) / np.sqrt(1 + towards**2 + across**2)
        return weight * law(np.array([max(cosine, 0.0)]), np.array([frequency]))[0, 0]

    far = 6 * tangent
    return integrate.dblquad(facet, -far, far, -far, far, epsabs=1e-10, epsrel=1e-6)[0]


@pytest.mark.parametrize(("rms", "farthest"), [(3.0, 75.0), (12.0, 35.0)])
def test_the_mean_is_that_of_a_general_librarys_quadrature(rms, farthest):
    incidence = np.radians([0.0, 4.0, 15.0, farthest])
    found = slopes.averaged(law, rms)(np.cos(incidence), FREQUENCY)
    expected = [[direct(angle, rms, f) for f in FREQUENCY] for angle in incidence]
    assert 10 * np.log10(found) == pytest.approx(10 * np.log10(expected), abs=0.05)


def test_without_slopes_the_law_stays_and_a_constant_law_always_does():
    assert slopes.averaged(law, 0.0) is law
    flat = slopes.averaged(lambda cosine, frequency: np.full((len(cosine), len(frequency)), 0.3), 20.0)
    assert flat(np.cos(np.radians(np.linspace(0, 90, 7))), FREQUENCY) == pytest.approx(0.3)


@pytest.mark.parametrize("local", [[0.0, 0.3, 1.2], [np.pi / 2, np.pi / 2, 0.1], [1e-4, 2e-4, 0.0]])
def test_a_mean_of_a_table_is_exact_for_a_straight_law(local):
    """Read straight between its rows: a law that is straight in the angle has the mean of the angles."""
    weights = slopes._mean_of_table(np.array([local, local[::-1]]))
    angle = np.linspace(0.0, np.pi / 2, weights.shape[1])
    assert weights.sum(axis=1) == pytest.approx(1.0)
    assert weights @ angle == pytest.approx(np.mean(local), abs=1e-12)
    assert weights.min() >= 0.0


def test_facets_have_the_slopes_of_their_law():
    """Under the vertical a facet of slope t lies at atan t. A Gaussian slope's square is exponential: mean t^2."""
    rms = np.tan(np.radians(5.0))
    local = slopes._local_angles(np.array([0.0, 0.4, np.pi / 2]), rms)
    square = np.tan(local[0]) ** 2
    assert square.mean() == pytest.approx(rms**2, rel=0.01)
    for share in (0.1, 0.5, 0.9):
        assert np.mean(square < -(rms**2) * np.log(1.0 - share)) == pytest.approx(share, abs=0.011)
    # The mean cosine over facets is the incidence's own times that of the slopes: towards and away cancel.
    assert np.cos(local[1]).mean() == pytest.approx(np.cos(0.4) * np.cos(local[0]).mean(), rel=1e-9)
    assert local[2].max() == pytest.approx(np.pi / 2)


def test_beyond_vertical_or_grazing_by_rounding_the_law_stays():
    mean = slopes.averaged(law, 5.0)
    ends = mean(np.array([1.0, 0.0]), FREQUENCY)
    assert mean(np.array([1.0 + 1e-12, -1e-12]), FREQUENCY) == pytest.approx(ends)
