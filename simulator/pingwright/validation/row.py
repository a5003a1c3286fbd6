"""One row of evidence: a formula, its arguments, the number that it must give, and where that number comes from.

`source` begins with a mark: "published" the number was seen in print or on the page named; "computed" by an independent
implementation (a general library, or own code that shares nothing with the package); "exact" a closed form or identity;
"limit", "law", "estimate" for functions without a number in print; "from memory" is added where a constant's provenance
was not seen. A tolerance is the number's last digit, or stated by the source; where a difference is known its reason
follows.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

#: How a value is known, best first, in the words of the table.
KNOWN = ("seen in print", "by an independent library here", "by independent code", "a law or identity", "from memory")

TEOS = "computed: gsw 3.6 (TEOS-10)"
OWN = "computed: independent implementation of the same formula"
PINS = OWN + ", scalar; pins each constant"

#: Names of general libraries that judge rows; their sources name them.
LIBRARIES = ("gsw", "scipy", "echosms", "arlpy", "hyo2_openbst")


def as_it_is(value: Any) -> Any:
    """Return a value unchanged, in its own unit."""
    return value


def per_km(value: ArrayLike) -> NDArray[np.float64]:
    """Return dB/km of dB/m, any shape."""
    return np.asarray(value, dtype=float) * 1e3


@dataclass(frozen=True)
class Row:
    """`read(function(*arguments))` equals `expected` within abs + rel |expected|."""

    function: Callable[..., Any]
    arguments: tuple[Any, ...]
    expected: Any
    source: str
    abs: float = 0.0
    rel: float = 0.0
    read: Callable[[Any], Any] = as_it_is

    @property
    def topic(self) -> str:
        """The module of the formula."""
        return self.function.__module__.rsplit(".", 1)[-1]

    @property
    def known(self) -> str:
        """How the value is known: one of KNOWN."""
        if "from memory" in self.source:
            return "from memory"
        if self.source.startswith("published"):
            return "seen in print"
        if any(name in self.source for name in LIBRARIES):
            return "by an independent library here"
        return "by independent code" if self.source.startswith("computed") else "a law or identity"

    @property
    def what(self) -> str:
        """The formula and its arguments, shortened."""
        return f"{self.function.__name__}({', '.join(_short(one) for one in self.arguments)})"[:110]

    def __str__(self) -> str:
        """Return the topic and the formula with its arguments."""
        return f"{self.topic}.{self.what}"

    def compare(self) -> "Compared":
        """Compute the row and return it beside what it must give. What goes wrong counts as a miss, and says so."""
        try:
            value = np.asarray(self.read(self.function(*self.arguments)), dtype=complex)
            expected = np.asarray(self.expected, dtype=complex)
            value, expected = (a.ravel() for a in np.broadcast_arrays(value, expected))
        except Exception as error:  # noqa: BLE001 - one row's fault must not hide the others
            return Compared(self, np.nan, np.nan, np.nan, np.nan, False, f"{type(error).__name__}: {error}")
        with np.errstate(invalid="ignore"):
            allowed = self.abs + np.where(np.isfinite(expected), self.rel * np.abs(expected), 0.0)
            off = np.where(value == expected, 0.0, np.abs(value - expected))
            share = np.where(off == 0.0, 0.0, off / np.maximum(allowed, 1e-300))
        worst = int(np.argmax(np.where(np.isnan(share), np.inf, share)))
        ours, theirs, met = _plain(value[worst]), _plain(expected[worst]), bool(np.all(off <= allowed))
        return Compared(self, ours, theirs, float(off[worst]), float(allowed[worst]), met, "", value.size)


@dataclass(frozen=True)
class Compared:
    """A row beside what came out, the worst of its values: computed, expected, difference, tolerance, whether met."""

    row: Row
    computed: Any
    expected: Any
    difference: float
    tolerance: float
    met: bool
    note: str = ""
    count: int = 1


def _plain(value: Any) -> Any:
    return float(value.real) if value.imag == 0 else complex(value)


def _short(value: Any) -> str:
    """Return an argument in a few characters."""
    if isinstance(value, (bool, str)) or value is None:
        return str(value)
    if callable(value):
        return getattr(value, "__name__", "function")
    if isinstance(value, (int, float)):
        return f"{value:.6g}"
    try:
        array = np.asarray(value, dtype=float).ravel()
    except (TypeError, ValueError):
        return type(value).__name__
    some = ", ".join(f"{one:.6g}" for one in array[:3])
    return f"[{some}{', ...' if array.size > 3 else ''}]"
