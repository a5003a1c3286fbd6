"""Our colours, computed: one table for levels, one for differences, the inks of a light and a dark sheet, and marks.

Levels: CIELAB lightness L* runs in a straight line from the sheet (weak) to its opposite (strong); the hue goes on a
smooth path from pale water through blue, violet and red to bark, so lightness alone carries the whole reading and hue
adds to it, most where fish are (-45 to -30 dB). Differences: L* runs in a straight line too, petrol (negative) through
grey (nothing) to apricot (positive), so that the sign survives a grey print. Elements: colour by band, dashes by beam.

Tables are float arrays (entry, 3) of sRGB in 0..1. numpy only: figures and page both read them here.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import comb
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Theme = Literal["light", "dark"]

#: entries of every table
ENTRIES = 256

#: level scale of every echogram unless told otherwise [dB re 1 m2]; its lower end is the one floor: what is painted,
#: what marks judge and what numbers count (-60 is assumed; what it decides: DEVELOPERS.md)
LEVEL_LIMITS = (-60.0, -5.0)

# L* at both ends, then the control points of a Bezier curve in the (a*, b*) plane; chosen by eye for this project.
_LEVEL: Mapping[str, tuple[tuple[float, float], tuple[tuple[float, float], ...]]] = MappingProxyType(
    {
        "light": (
            (97.5, 10.0),
            (
                (0.0, 1.5),
                (-24.0, -5.0),
                (-46.0, -30.0),
                (-24.0, -70.0),
                (88.0, -62.0),
                (64.0, 62.0),
                (44.0, 46.0),
                (8.0, 5.0),
            ),
        ),
        "dark": (
            (6.0, 97.5),
            (
                (-1.0, -4.0),
                (-7.0, -10.0),
                (-12.0, -32.0),
                (-14.0, -62.0),
                (76.0, -72.0),
                (44.0, 30.0),
                (16.0, 40.0),
                (0.0, 6.0),
            ),
        ),
    }
)
_DIFFERENCE = ((14.0, 97.0), ((-2.0, -14.0), (-14.0, -40.0), (0.0, 0.0), (0.0, 0.0), (22.0, 50.0), (0.0, 9.0)))

# CIE 1931 2 degree, D65; matrices of IEC 61966-2-1 (sRGB).
_WHITE = np.array([0.95047, 1.0, 1.08883])
_TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
_FROM_XYZ = np.linalg.inv(_TO_XYZ)


@dataclass(frozen=True)
class Inks:
    """Colours of a sheet as hex strings: paper, panel (behind data), ink (text), muted (small text), line (frames).

    mark: marks of fish. halo: their outline. water, ground, wood, school: fills of the cutaway.
    bands: line colours by class of band, in the order of `BANDS`.
    """

    paper: str
    panel: str
    ink: str
    muted: str
    line: str
    mark: str
    halo: str
    water: str
    ground: str
    wood: str
    school: str
    bands: tuple[str, ...]


INKS: Mapping[str, Inks] = MappingProxyType(
    {
        "light": Inks(
            paper="#ffffff",
            panel="#fbf9f6",
            ink="#1d1a17",
            muted="#5c564f",
            line="#b9b2a8",
            mark="#111111",
            halo="#ffffff",
            water="#eef4f5",
            ground="#d8cdbd",
            wood="#7a6a58",
            school="#8a5a00",
            bands=("#5c6a14", "#4d4a7c", "#a4482a", "#0b5d6b", "#8a3f73"),
        ),
        "dark": Inks(
            paper="#12181b",
            panel="#0d1316",
            ink="#f3eee6",
            muted="#b3aca1",
            line="#4b5558",
            mark="#fffdf8",
            halo="#0a0e10",
            water="#16232a",
            ground="#4a4033",
            wood="#a08c72",
            school="#e9bd62",
            bands=("#c9d27a", "#b0aaf0", "#ee9a72", "#56bccd", "#e0a3cc"),
        ),
    }
)

#: upper ends of the classes of band [Hz], by the centre of the band; the last class has none
BANDS = (30e3, 75e3, 125e3, 250e3)

#: dashes (on, off, ... in points) by kind of beam, then those for further elements whose band and kind are the same
DASHES: Mapping[str, tuple[float, ...]] = MappingProxyType(
    {"narrow": (), "wide": (5, 1.6), "fan": (1.4, 1.4), "tilted": (7, 1.6, 1.4, 1.6)}
)
MORE_DASHES: tuple[tuple[float, ...], ...] = ((3, 1, 3, 3), (10, 3), (2.4, 4), (12, 2, 2, 2, 2, 2))

#: a beam is wide above this one-way -3 dB width [deg], a fan where one width is twice the other
WIDE, FAN = 13.5, 2.0


@dataclass(frozen=True)
class Face:
    """What an element's colour and dashes follow: centre of its band [Hz], one-way -3 dB widths [deg], tilt."""

    centre: float
    along: float
    across: float
    tilted: bool = False

    @property
    def band(self) -> int:
        """Class of its band, a place in `Inks.bands`."""
        return sum(self.centre > end for end in BANDS)

    @property
    def beam(self) -> str:
        """Kind of its beam, a key of `DASHES`."""
        narrow, wide = sorted((self.along, self.across))
        if wide > FAN * narrow:
            return "fan"
        if self.tilted:
            return "tilted"
        return "wide" if wide > WIDE else "narrow"


def looks(faces: Sequence[Face], theme: Theme = "light") -> tuple[tuple[str, tuple[float, ...]], ...]:
    """Return colour and dashes of elements: colour by band, dashes by beam, in every figure; no two of them the same.

    An element whose band and beam are those of an earlier one gets the next free dashes.
    """
    result: list[tuple[str, tuple[float, ...]]] = []
    for face in faces:
        colour = INKS[theme].bands[face.band]
        free = (
            dashes for dashes in (DASHES[face.beam], *MORE_DASHES, *DASHES.values()) if (colour, dashes) not in result
        )
        result.append((colour, next(free, MORE_DASHES[0])))
    return tuple(result)


def srgb_from_lab(lab: FloatArray) -> FloatArray:
    """Return sRGB [0..1] (..., 3) of CIELAB [1] (..., 3), D65, 2 degree observer; outside 0..1 where no sRGB is.

    Source: CIE 15:2004 (CIELAB), IEC 61966-2-1 (sRGB).
    """
    fy = (lab[..., 0] + 16) / 116
    f = np.stack([fy + lab[..., 1] / 500, fy, fy - lab[..., 2] / 200], axis=-1)
    xyz = np.where(f > 6 / 29, f**3, 3 * (6 / 29) ** 2 * (f - 4 / 29)) * _WHITE
    linear = xyz @ _FROM_XYZ.T
    curve = 1.055 * np.abs(linear) ** (1 / 2.4) - 0.055
    return np.asarray(np.where(linear <= 0.0031308, 12.92 * linear, curve))


def _bezier(points: tuple[tuple[float, float], ...], t: FloatArray) -> FloatArray:
    """Return the Bezier curve of control points (k, 2) at parameters t (n), as (n, 2)."""
    order = len(points) - 1
    weights = np.stack([comb(order, k) * t**k * (1 - t) ** (order - k) for k in range(order + 1)], axis=-1)
    return np.asarray(weights @ np.asarray(points, dtype=float))


def _table(ends: tuple[float, float], points: tuple[tuple[float, float], ...]) -> FloatArray:
    t = np.linspace(0.0, 1.0, ENTRIES)
    lightness = ends[0] + (ends[1] - ends[0]) * t
    lab = np.concatenate([lightness[:, None], _bezier(points, t)], axis=1)
    table = np.clip(srgb_from_lab(lab), 0.0, 1.0)
    table.setflags(write=False)
    return table


@lru_cache
def level_table(theme: Theme = "light") -> FloatArray:
    """Return the colours of levels, weakest first (entry, 3); weak is the sheet's own shade."""
    return _table(*_LEVEL[theme])


@lru_cache
def difference_table() -> FloatArray:
    """Return the colours of differences, most negative first (entry, 3); the same on either sheet."""
    return _table(*_DIFFERENCE)


def hexes(table: FloatArray) -> tuple[str, ...]:
    """Return a table as '#rrggbb' strings, as a page wants them."""
    eight = np.rint(np.asarray(table) * 255).astype(int)
    return tuple(f"#{r:02x}{g:02x}{b:02x}" for r, g, b in eight)
