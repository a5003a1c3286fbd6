"""Counter-based Gaussian noise and the packing of levels: compiled loops, and their reference versions.

A draw is a hash of (key, counter), so each ping of each element can be made alone, in any order, on any thread.
Hash: splitmix64's finaliser (Steele, Lea & Flood 2014, OOPSLA, 453-472). Gaussian: Box & Muller 1958
(Ann. Math. Stat. 29, 610-611), radius from 24 bits: amplitudes end at 4.1 times the rms.
"""

import math
from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

from pingwright.engine.kernels.compiled import compiled
from pingwright.engine.kernels.scalars import cosine_turn, logarithm, sine_turn

_inline = numba.njit(nogil=True, inline="always", error_model="numpy")
_jit = compiled()

_GOLDEN = np.uint64(0x9E3779B97F4A7C15)
_MIX_1, _MIX_2 = np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB)
_30, _27, _31, _40, _MASK = (np.uint64(n) for n in (30, 27, 31, 40, 0xFFFFFF))
_STEP = np.float32(2.0**-24)
_DECIBEL = np.float32(10 / math.log(10))
_HALF, _ONE, _ZERO = np.float32(0.5), np.float32(1), np.float32(0)


@_inline
def scramble(key: Any, counter: Any) -> Any:
    """Return 64 random bits of (key, counter), both uint64."""
    z = key + (counter + np.uint64(1)) * _GOLDEN
    z = (z ^ (z >> _30)) * _MIX_1
    z = (z ^ (z >> _27)) * _MIX_2
    return z ^ (z >> _31)


@_inline
def gaussian(key: Any, counter: Any) -> Any:
    """Return the two parts of a complex Gaussian of unit power: draw `counter` under `key` (uint64)."""
    bits = scramble(key, np.uint64(counter))
    radius = math.sqrt(-logarithm((np.float32(np.int32(bits >> _40)) + _HALF) * _STEP))
    turn = np.float32(np.int32(bits & _MASK)) * _STEP - _HALF
    return radius * cosine_turn(turn), radius * sine_turn(turn)


@_jit
def add_noise(parts: Any, key: Any, scale: Any, first: Any) -> None:
    """Add complex Gaussian noise of rms `scale` (n) to parts (2 n), real and imaginary in turn; all float32.

    Draw number = first + position.
    """
    for k in range(scale.shape[0]):
        a, b = gaussian(key, first + k)
        parts[2 * k] += scale[k] * a
        parts[2 * k + 1] += scale[k] * b


def noise_plain(key: int, scale: NDArray[np.float32], first: int) -> NDArray[np.complex128]:
    """Return the noise that `add_noise` adds, in plain numpy, in the unit of scale (n) [uPa]."""
    counter = np.arange(first, first + len(scale), dtype=np.uint64)
    with np.errstate(over="ignore"):
        z = np.uint64(key) + (counter + np.uint64(1)) * _GOLDEN
        z = (z ^ (z >> _30)) * _MIX_1
        z = (z ^ (z >> _27)) * _MIX_2
        z = z ^ (z >> _31)
    radius = np.sqrt(-np.log(((z >> _40) + 0.5) / 2**24))
    return np.asarray(scale * radius * np.exp(2j * np.pi * ((z & _MASK) / 2**24 - 0.5)))


@_jit
def pack(echo: Any, scale: Any, offset: Any, limit: Any, level: Any) -> None:
    """Turn complex64 echoes (n) into stored levels int16 (n): round((20 log10 |y| - offset) / scale) in +-limit."""
    steps = _ONE / np.float32(scale)
    low, high = -np.float32(limit), np.float32(limit)
    start, parts = np.float32(offset), echo.view(np.float32)
    for k in range(level.shape[0]):
        real, imaginary = parts[2 * k], parts[2 * k + 1]
        # Anything under 1e-30 uPa2 is silence; the guard keeps the logarithm's argument a normal number.
        power = max(np.float32(1e-30), real * real + imaginary * imaginary)
        stored = min(max((_DECIBEL * logarithm(power) - start) * steps + _HALF, low), high)
        # Rounded down by hand: `floor` keeps LLVM from making vectors of this loop.
        whole = np.int32(stored)
        level[k] = np.int16(whole - np.int32(np.float32(whole) > stored))
