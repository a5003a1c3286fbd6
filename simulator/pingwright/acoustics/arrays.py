"""Array types of this room, the decorator of all its formulas, and the decibel."""

import sys
import warnings
from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any, ParamSpec, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pingwright.errors import PingwrightWarning

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
Given = ParamSpec("Given")
Result = TypeVar("Result")


def formula(**valid: tuple[float, float]) -> Callable[[Callable[Given, Result]], Callable[Given, Result]]:
    """Return a decorator for a published formula: xarray in gives xarray out, and values out of range give a warning.

    valid: argument -> least and greatest value for which the source or its checks hold, in the unit of the argument;
    length_over_wavelength [1] is computed. A PingwrightWarning names argument and range. Calls from inside the program
    give no warning: the program itself reports where it exceeds a range. Source: none, a convenience.
    """

    def decorate(function: Callable[Given, Result]) -> Callable[Given, Result]:
        @wraps(function)
        def call(*args: Given.args, **more: Given.kwargs) -> Result:
            if str(sys._getframe(1).f_globals.get("__name__")).startswith("pingwright."):
                return function(*args, **more)
            import inspect

            bound = inspect.signature(function).bind(*args, **more)
            for name, (low, high) in valid.items():
                _stay(function.__name__, name, _argument(bound.arguments, name), low, high)
            if any(hasattr(one, "dims") for one in bound.arguments.values()):
                bound.apply_defaults()
                xarray: Any = sys.modules["xarray"]  # loaded: one of the arguments is of its kind
                return xarray.apply_ufunc(function, *bound.args, keep_attrs=False)  # type: ignore[no-any-return]
            return function(*args, **more)

        return call

    return decorate


def _argument(given: Mapping[str, Any], name: str) -> FloatArray | None:
    """Return the values of an argument, None if it is left out."""
    if name == "length_over_wavelength":
        wave = 1500.0 / floats(given["frequency"]) if "frequency" in given else floats(given["wavelength"])
        return floats(floats(given["length"]) / wave)
    return floats(given[name]) if name in given else None


def _stay(function: str, name: str, values: FloatArray | None, low: float, high: float) -> None:
    """Warn the caller of a formula if values lie outside its valid range."""
    if values is None or values.size == 0 or not (np.nanmin(values) < low or np.nanmax(values) > high):
        return
    ends = f"{low:g} and more" if high == np.inf else f"{low:g} to {high:g}"
    result = f"{np.nanmin(values):g}" if values.size == 1 else f"{np.nanmin(values):g} to {np.nanmax(values):g}"
    words = name.replace("_", " ")
    message = f"{function}: {words} {result} is beyond {ends}, for which it is valid; the result is an extrapolation."
    warnings.warn(message, PingwrightWarning, stacklevel=3)


def floats(value: ArrayLike) -> FloatArray:
    """Return the value as a float64 array of the same shape [unit of the value]. Source: none, a conversion."""
    return np.asarray(value, dtype=np.float64)


def decibels(power_ratio: ArrayLike) -> FloatArray:
    """Return 10 log10 of a power ratio [dB]; minus infinity for zero, without a warning. Source: ISO 18405 (2017)."""
    with np.errstate(divide="ignore"):
        return floats(10.0 * np.log10(floats(power_ratio)))


def power_ratio(level: ArrayLike) -> FloatArray:
    """Return the power ratio [1] of a level [dB]. Source: ISO 18405 (2017), inverse of `decibels`."""
    return floats(10.0 ** (floats(level) / 10.0))
