"""Levels of one element with axes and units: as numpy arrays, and as an xarray Dataset.

Echo strength (ts) and volume strength (sv) follow from the level by the sonar equation with the source level, the
absorption and the beam of the band's centre, as the file's own guide says.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import FILL_VALUE, OWNERS, ElementRecord, Truth

if TYPE_CHECKING:
    import xarray as xr

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Quantity:
    """One quantity by ping and sample: its unit as CF writes it, what it is, CF's own name where there is one."""

    units: str
    long_name: str
    comment: str
    standard_name: str = ""


#: Sound pressure level's name is from the CF standard name table, version 80 or later (from memory).
QUANTITIES = {
    "level": Quantity("dB", "received level", "dB re 1 uPa, after the matched filter", "sound_pressure_level_in_water"),
    "ts": Quantity("dB", "echo strength", "dB re 1 m2; of a single echo on the beam's axis its target strength"),
    "sv": Quantity("dB", "volume backscattering strength", "dB re 1 m-1; average as power, 10^(sv/10)"),
    "echo": Quantity("uPa", "complex output of the matched filter", "rms; phase about the centre of the band"),
}
COORDINATES = {
    "x": ("ping", "m", "position of the boat along the track"),
    "time": ("ping", "s", "time since the start of the run"),
    "range": ("sample", "m", "range from the transducer: assumed sound speed x time / 2"),
    "depth": ("sample", "m", "depth at which the sample is drawn: range + depth of the transducer"),
}


def blind(element: ElementRecord, stored: NDArray[np.int16]) -> NDArray[np.bool_]:
    """Return where there is no level (ping, sample): in the blanking range, and at fill values of the file."""
    near = np.asarray(element.range) < element.info.blank_range
    return np.asarray((stored == FILL_VALUE) | near)


def spreading(element: ElementRecord, quantity: str) -> FloatArray:
    """Return what turns the level into a quantity [dB] (sample): 0 for "level".

    ts: 40 log10 r + 2 alpha r - SL. sv: 20 log10 r + 2 alpha r - SL - psi - 10 log10(c tau / 2), with the effective
    pulse tau. Valid beyond the near field and for weak absorption over the band. Source: the active sonar equation
    (MacLennan, Fernandes & Dalen 2002, ICES J. Mar. Sci. 59, 365-369).
    """
    if quantity == "level":
        return np.zeros(len(element.range))
    ts = element.spreading()
    if quantity == "ts":
        return ts
    info, step = element.info, element.range[1] if len(element.range) > 1 else 1e-3
    cell = 10 * np.log10(info.assumed_sound_speed * info.effective_pulse / 2)
    return np.asarray(ts - 20 * np.log10(np.maximum(element.range, step)) - info.equivalent_beam_angle - cell)


def values(element: ElementRecord, quantity: str) -> NDArray[Any]:
    """Return a quantity (ping, sample) in its unit, nan where blind; ValueError for unknown ones, and without phase."""
    if quantity not in QUANTITIES:
        message = f"unknown quantity {quantity!r}; there are {', '.join(QUANTITIES)}"
        raise ValueError(message)
    stored = np.asarray(element.echo_level[:])
    nothing = blind(element, stored)
    if quantity == "echo":
        if element.echo is None:
            message = "this recording has no phase; simulate with keep_phase=True"
            raise ValueError(message)
        out: NDArray[Any] = np.array(element.echo[:], dtype=np.complex64)
    else:
        out = element.level() + spreading(element, quantity).astype(np.float32)
    out[nothing] = np.nan
    return out


def owner(element: ElementRecord, truth: Truth) -> NDArray[np.int8]:
    """Return which kind of thing dominates each sample (ping, sample); ValueError if that was not computed."""
    if not truth.owners:
        message = "this recording does not say what dominates each sample; simulate with truth='samples'"
        raise ValueError(message)
    return np.asarray(truth.owners[element.info.position][:], dtype=np.int8)


def dataset(
    element: ElementRecord, quantities: tuple[str, ...], attributes: dict[str, Any], truth: Truth
) -> "xr.Dataset":
    """Return quantities as an xarray Dataset: dims ping and sample, coordinates x, time, range, depth, with units.

    Raises ImportError, worded for the user, without xarray.
    """
    xarray = with_xarray("to_xarray")
    axes = {
        "x": element.x,
        "time": element.ping_time,
        "range": element.range,
        "depth": element.range + element.info.transducer_depth,
    }
    coordinates = {
        name: (dimension, np.asarray(axes[name]), {"units": units, "long_name": what})
        for name, (dimension, units, what) in COORDINATES.items()
    }
    data: dict[str, Any] = {}
    for name in quantities:
        if name == "owner":
            flags = {"flag_values": np.arange(len(OWNERS), dtype=np.int8), "flag_meanings": " ".join(OWNERS)}
            data[name] = (("ping", "sample"), owner(element, truth), {"long_name": "kind that dominates", **flags})
            continue
        array, known = values(element, name), QUANTITIES[name]
        attrs = {"units": known.units, "long_name": known.long_name, "comment": known.comment}
        named = {"standard_name": known.standard_name} if known.standard_name else {}
        data[name] = (("ping", "sample"), array, attrs | named)
    made: xr.Dataset = xarray.Dataset(data, coordinates, attributes)
    return made


def with_xarray(who: str) -> Any:
    """Return the module xarray; ImportError, worded for the user, without it. who: the function that needs it."""
    try:
        import xarray
    except ImportError:
        message = f"{who} needs xarray: pip install 'pingwright[notebook]'"
        raise ImportError(message) from None
    return xarray
