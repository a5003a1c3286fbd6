"""Sine, cosine and logarithm of single floats as polynomials, so that loops over them become vectors."""

import math
from typing import Any

import numba
import numpy as np

#: Coefficients of sin(2 pi x) and cos(2 pi x) on |x| <= 1/4 as polynomials in x^2 (minimax-like, error below 3e-7).
_SINE = tuple(float((-1) ** k * (2 * math.pi) ** (2 * k + 1) / math.factorial(2 * k + 1)) for k in range(6))
_COSINE = tuple(float((-1) ** k * (2 * math.pi) ** (2 * k) / math.factorial(2 * k)) for k in range(7))
SINE = tuple(np.float32(c) for c in _SINE)
COSINE = tuple(np.float32(c) for c in _COSINE)
_HALF, _QUARTER, _ONE, _TWO, _ZERO = (np.float32(c) for c in (0.5, 0.25, 1.0, 2.0, 0.0))
_LN2 = np.float32(math.log(2))
_ODD = tuple(np.float32(2 / k) for k in (1, 3, 5, 7, 9, 11))
_SHIFT, _BIAS = np.int32(23), np.int32(127)
_FRACTION, _UNIT = np.int32(0x7FFFFF), np.int32(0x3F800000)

_inline = numba.njit(nogil=True, inline="always", error_model="numpy")


@_inline
def sine_turn(x: Any) -> Any:
    """Return sin(2 pi x), |x| <= 1/2 [turns], float32."""
    # Fold to a quarter turn: sin(pi - y) = sin y.
    folded = x
    if x > _QUARTER:
        folded = _HALF - x
    if x < -_QUARTER:
        folded = -_HALF - x
    s = folded * folded
    return folded * (SINE[0] + s * (SINE[1] + s * (SINE[2] + s * (SINE[3] + s * (SINE[4] + s * SINE[5])))))


@_inline
def cosine_turn(x: Any) -> Any:
    """Return cos(2 pi x), |x| <= 1/2 [turns], float32."""
    folded = abs(x)
    sign = _ONE
    if folded > _QUARTER:
        folded = _HALF - folded
        sign = -_ONE
    s = folded * folded
    total = COSINE[3] + s * (COSINE[4] + s * (COSINE[5] + s * COSINE[6]))
    return sign * (COSINE[0] + s * (COSINE[1] + s * (COSINE[2] + s * total)))


@_inline
def logarithm(x: Any) -> Any:
    """Return ln x for a positive normal float32, to 1e-6."""
    bits = np.float32(x).view(np.int32)
    exponent = np.float32((bits >> _SHIFT) - _BIAS)
    mantissa = np.int32((bits & _FRACTION) | _UNIT).view(np.float32)
    t = (mantissa - _ONE) / (mantissa + _ONE)
    s = t * t
    series = t * (_ODD[0] + s * (_ODD[1] + s * (_ODD[2] + s * (_ODD[3] + s * (_ODD[4] + s * _ODD[5])))))
    return exponent * _LN2 + series
