"""Band nodes and taps: how a scatterer whose amplitude varies over the band becomes 16 samples on one grid.

A scatterer's spectrum over the band is A(f) exp(-2 pi j f tau), A smooth. A(f) is given by its values at K nodes,
mirror-symmetric about the band's centre, and an interpolation basis M (K, f) fitted by least squares to the very
curves that occur (beam squared times loss). Each basis function, delayed by a fraction of a sample, becomes 16 taps,
fitted by least squares under a smooth window whose spectrum is divided out once a ping. Mirror symmetry turns node
pairs into an even part with real taps and an odd part with imaginary ones.

Taps are tabulated at steps of delay, with their change over one step: the rest of the delay, half a step at most,
multiplies that. The change is small (a hundredth of the taps), so a few of the pairs carry it well enough.

Method: non-uniform FFT by a compact kernel (Dutt & Rokhlin 1993, SIAM J. Sci. Comput. 14, 1368-1393), window
exp(beta sqrt(1 - x^2)) (Barnett, Magland & af Klinteberg 2019, SIAM J. Sci. Comput. 41, C479-C504).
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from hashlib import blake2b
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pingwright.engine.remembered import remembered

FloatArray = NDArray[np.float64]

LANES = 16
TAPS = 16
#: A tap at offset n samples from the integer part of the delay: n = FIRST_TAP .. FIRST_TAP + 15.
FIRST_TAP = -7
#: Rate of the spreading grid over the band: 16 taps carry the window to -90 dB at this rate.
OVERSAMPLING = 1.25
#: Three points for each tap: the curves and taps are smooth between them.
_FIT_POINTS = 97
_SHAPE = 0.97
_RIDGE = 2e-4
#: The pairs that carry the change with delay, the best choice of this number on the faces of the tests: the change
#: is rebuilt to -50 dB (5 pairs) .. -33 dB (8 pairs), the echo 44 dB better at 64 steps.
_THIN = {5: (0, 2, 3), 6: (1, 2, 4), 7: (1, 3, 5), 8: (1, 3, 4, 6)}


@dataclass(frozen=True)
class Accuracy:
    """A named trade of speed for error.

    error: largest relative error of the interpolation over the band, measured on held-back curves; the fewest of
    `halves` node pairs that keep it are taken. table: largest error of a beam or loss row relative to its peak.
    delays: steps between tap rows over one sample. thin: whether a few pairs carry the change with delay, or all.
    Against the direct sum this gives what DEVELOPERS.md states.
    """

    name: str
    error: float
    table: float
    delays: int
    halves: tuple[int, ...]
    thin: bool = True

    def slope_pairs(self, half: int) -> tuple[int, ...]:
        """Return which of `half` node pairs carry the change of the taps with delay."""
        return _THIN[half] if self.thin else tuple(range(half))


ACCURACIES = {
    "draft": Accuracy("draft", 1e-3, 1e-4, 64, (5, 6, 7, 8)),
    "normal": Accuracy("normal", 1e-4, 3e-5, 64, (5, 6, 7, 8)),
    "fine": Accuracy("fine", 1e-5, 3e-6, 256, (8,), thin=False),
}


@dataclass(frozen=True)
class Fit:
    """A fitted basis: node pairs, basis (2 half, point), relative error on held-back curves.

    slope_pairs, slope_basis (2 of them, point): the pairs that carry the change with delay, and their basis.
    """

    half: int
    basis: FloatArray
    error: float
    slope_pairs: tuple[int, ...]
    slope_basis: FloatArray


@dataclass(frozen=True)
class NodeSet:
    """Nodes and taps of one band.

    frequency (2 half) [Hz]: node frequencies, upper half from the edge inwards, then their mirror images.
    lane (2 half): the lane each node lives in (0.. for the upper ones, 8.. for their mirror images).
    basis (2 half, point), points (point) [Hz]: interpolation basis. taps: flat float32 table
    (delays + 1, half + slope pairs, even|odd, 16): taps of the pairs, then the change over one step of delay of those
    that carry it. error: the fit's relative error on held-back curves.
    """

    band: tuple[float, float]
    half: int
    slope_pairs: tuple[int, ...]
    delays: int
    frequency: FloatArray
    lane: NDArray[np.int64]
    basis: FloatArray
    points: FloatArray
    taps: NDArray[np.float32]
    error: float

    def rows(self, values: FloatArray) -> NDArray[np.float32]:
        """Spread node values (..., 2 half) over the 16 lanes of float32 rows (..., 16); unused lanes are zero."""
        rows = np.zeros((*values.shape[:-1], LANES), np.float32)
        rows[..., self.lane] = values
        return rows


def node_frequencies(band: tuple[float, float], half: int) -> FloatArray:
    """Return 2 half Chebyshev nodes [Hz]: the upper half from the edge inwards, then their mirror images."""
    upper = np.cos((2 * np.arange(half) + 1) * np.pi / (4 * half))
    centre, reach = (band[0] + band[1]) / 2, (band[1] - band[0]) / 2
    return np.concatenate([centre + reach * upper, centre - reach * upper])


@cache
def _quadrature() -> tuple[FloatArray, FloatArray]:
    """Return nodes and weights of the window's integral, the same for every element."""
    return np.polynomial.legendre.leggauss(96)


def window_spectrum(offset: FloatArray, rate: float) -> FloatArray:
    """Return the spectrum of the spreading window at offset [Hz] from the band's centre, 1 at the centre.

    rate [Hz]: of the spreading grid. Its inverse is what the receiver multiplies by after the FFT.
    """
    beta = _SHAPE * np.pi * TAPS * (1 - 1 / (2 * OVERSAMPLING))
    x, weight = _quadrature()
    shape = np.exp(beta * (np.sqrt(1 - x**2) - 1)) * weight
    reach = float(np.max(np.abs(offset), initial=0.0)) / rate + 1e-9

    def spectrum(position: FloatArray) -> Any:
        phase = np.multiply.outer(reach * position, x * np.pi * TAPS)
        return np.cos(phase) @ shape / shape.sum()

    # At most half a rate away, the cosines turn by 8 pi: 64 terms give that to the last digits.
    terms = np.polynomial.chebyshev.chebinterpolate(spectrum, 63)
    # Only the even terms are there, and T_2n(x) = T_n(2 x^2 - 1).
    return np.asarray(np.polynomial.chebyshev.chebval(2 * (offset / (rate * reach)) ** 2 - 1, terms[::2]))


def fit_basis(family: FloatArray, at_nodes: FloatArray) -> FloatArray:
    """Return the basis (node, point) [1] that best rebuilds curves (curve, point) from their node values (curve, node).

    Curves are weighted by the -0.4th power of their peak, which balances main lobe and side lobes; the family is
    taken together with its mirror image, so the basis is mirror-symmetric too.
    """
    half = at_nodes.shape[1] // 2
    mirrored = np.concatenate([at_nodes[:, half:], at_nodes[:, :half]], axis=1)
    curves = np.concatenate([family, family[:, ::-1]])
    nodes = np.concatenate([at_nodes, mirrored])
    weight = curve_weight(curves)
    # A small ridge term keeps the basis bounded where the curves do not determine it.
    ridge = 1e-7 * np.sqrt(len(curves)) * np.eye(2 * half)
    left = np.concatenate([nodes * weight, ridge])
    right = np.concatenate([curves * weight, np.zeros((2 * half, curves.shape[1]))])
    return np.asarray(np.linalg.lstsq(left, right, rcond=None)[0])


def curve_weight(curves: FloatArray) -> FloatArray:
    """Return the weights (curve, 1) [dimensionless] that balance main lobe and side lobes."""
    return np.asarray(np.maximum(np.abs(curves).max(axis=1), 1e-6)[:, None] ** -0.4)


def fit_taps(fit: Fit, offset: FloatArray, rate: float, delays: int) -> NDArray[np.float32]:
    """Return the tap table of `NodeSet`, flattened: the fitted basis delayed by fractions of a sample.

    offset [Hz] (point): the basis' frequencies from the band's centre; rate [Hz]: of the spreading grid.
    """
    tap = np.arange(TAPS) + FIRST_TAP
    late = np.exp(-2j * np.pi * np.multiply.outer(np.arange(delays + 1) / delays, offset / rate))[:, :, None]
    turn = np.exp(2j * np.pi * np.multiply.outer(offset / rate, tap)) * late / window_spectrum(offset, rate)[:, None]
    cosine, sine = turn.real, turn.imag
    # sum h exp(-j phase): a real even target wants real h; a real odd one wants j h, j exp(-j phase) = sin + j cos.
    matrices = np.concatenate([cosine, sine], axis=1), np.concatenate([sine, cosine], axis=1)
    # The rest of the delay, up to half a step either way, leaves this much of the mean.
    mean = np.sinc(offset / rate / delays)
    step = 2 * np.pi * offset / rate / delays
    parts = []
    for side, matrix in enumerate(matrices):
        taps, slope = (_side(b, side) for b in (fit.basis, fit.slope_basis))
        # A delay later by one step: times 1 - j step. Imaginary parts stand under the sine (even), the cosine (odd).
        slope = slope * (step if side == 0 else -step)[:, None]
        target = np.concatenate(
            [
                np.concatenate([taps * mean[:, None], np.zeros_like(slope)], axis=1),
                np.concatenate([np.zeros_like(taps), slope], axis=1),
            ]
        )
        parts.append(_solve(matrix, target))
    # (part, delay, tap, pair) -> (delay, pair, part, tap)
    return np.stack(parts).transpose(1, 3, 0, 2).astype(np.float32).ravel()


def _side(basis: FloatArray, side: int) -> FloatArray:
    """Return the even (0) or the odd (1) half of a mirror-symmetric basis (2 pair, point) as (point, pair)."""
    half = len(basis) // 2
    return np.asarray((basis[:half] + (1 - 2 * side) * basis[half:]).T / 2)


def _solve(matrices: FloatArray, target: FloatArray) -> FloatArray:
    """Return least-squares solutions (delay, tap, column): matrices (delay, row, tap), target (row, column)."""
    # Outside a piece of a band the taps are not determined; a small ridge term keeps them from growing there.
    count, rows, taps = matrices.shape
    ridge = np.broadcast_to(_RIDGE * np.sqrt(rows) * np.eye(taps), (count, taps, taps))
    q, r = np.linalg.qr(np.concatenate([matrices, ridge], axis=1))
    return np.asarray(np.linalg.solve(r, np.swapaxes(q[:, :rows], 1, 2) @ target))


def fit_points(band: tuple[float, float]) -> FloatArray:
    """Return the frequencies [Hz] on which bases and taps are fitted, both band edges included."""
    return np.linspace(band[0], band[1], _FIT_POINTS)


def choose(band: tuple[float, float], accuracy: Accuracy, curves: Callable[[FloatArray], FloatArray]) -> Fit:
    """Fit the basis with the fewest node pairs that keep the accuracy, or the most there are.

    curves(frequency [Hz] (m)) -> real (curve, m): the curves to describe. Every fifth curve is held back for the test.
    """
    family = curves(fit_points(band))
    key = ("fit", accuracy.name, band, blake2b(family.tobytes()).digest())
    half, error, basis, slope_basis = remembered(key, lambda: _chosen(band, accuracy, curves, family))
    pairs = accuracy.slope_pairs(int(half))
    return Fit(int(half), basis, float(error), pairs, slope_basis)


def _chosen(
    band: tuple[float, float], accuracy: Accuracy, curves: Callable[[FloatArray], FloatArray], family: FloatArray
) -> tuple[NDArray[Any], ...]:
    """Return half, error, basis and slope basis of `choose`."""
    held = np.arange(len(family)) % 5 == 4
    weight = curve_weight(family[held])
    for half in accuracy.halves:
        at_nodes = curves(node_frequencies(band, half))
        basis = fit_basis(family[~held], at_nodes[~held])
        miss = (at_nodes[held] @ basis - family[held]) * weight
        error = float(np.sqrt((miss**2).sum() / ((family[held] * weight) ** 2).sum()))
        if error <= accuracy.error:
            break
    pairs = accuracy.slope_pairs(half)
    chosen = [*pairs, *(half + p for p in pairs)]
    return np.array(half), np.array(error), basis, fit_basis(family[~held], at_nodes[~held][:, chosen])


def design(band: tuple[float, float], rate: float, accuracy: Accuracy, fit: Fit) -> NodeSet:
    """Make the taps of a fitted basis; rate [Hz]: of the spreading grid."""
    points = fit_points(band)
    lane = np.concatenate([np.arange(fit.half), LANES // 2 + np.arange(fit.half)])
    offset = points - (band[0] + band[1]) / 2
    basis = blake2b(fit.basis.tobytes() + fit.slope_basis.tobytes()).digest()
    key = ("taps", basis, fit.half, fit.slope_pairs, band, rate, accuracy.delays)
    (taps,) = remembered(key, lambda: (fit_taps(fit, offset, rate, accuracy.delays),))
    frequency = node_frequencies(band, fit.half)
    return NodeSet(
        band, fit.half, fit.slope_pairs, accuracy.delays, frequency, lane, fit.basis, points, taps, fit.error
    )
