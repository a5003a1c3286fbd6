"""Collects laws and discrete scatterers while a world is built."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pingwright.world.scatterers import Discrete, FloatArray, Posture, Scatterers, StrengthLaw

ALL_PINGS = -1
NOBODY = -1


@dataclass
class Gathering:
    """Laws and scatterers so far; the only object in this room that changes while it is used."""

    laws: list[StrengthLaw] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    _parts: list[Discrete] = field(default_factory=list)

    def law(self, law: StrengthLaw) -> int:
        """Store a law and return its number."""
        self.laws.append(law)
        return len(self.laws) - 1

    def add(
        self,
        position: FloatArray,
        axis: FloatArray,
        amplitude: FloatArray,
        phase: FloatArray,
        law: int | NDArray[np.int64],
        *,
        velocity: FloatArray | None = None,
        time: FloatArray | None = None,
        ping: NDArray[np.int64] | None = None,
        last: NDArray[np.int64] | None = None,
        owner: NDArray[np.int64] | None = None,
        posture: Posture | None = None,
    ) -> None:
        """Store scatterers: position (3, n) [m], axis (3, n), amplitude, phase [cycles] (n), law number(s).

        Moving scatterers have velocity (3, n) [m/s] and the time (n) [s] at which they are at their position; ping and
        last (n): the pings in which it exists.
        """
        n = position.shape[1]
        points = Scatterers(
            np.asarray(position, dtype=np.float64),
            np.asarray(axis, dtype=np.float32),
            np.asarray(amplitude, dtype=np.float32),
            np.mod(phase, 1.0).astype(np.float32) % np.float32(1.0),
            np.broadcast_to(np.asarray(law, dtype=np.int32), (n,)).copy(),
        )
        first = np.full(n, ALL_PINGS, dtype=np.int64) if ping is None else np.asarray(ping, dtype=np.int64)
        self._parts.append(
            Discrete(
                points,
                np.zeros((3, n)) if velocity is None else np.asarray(velocity, dtype=np.float64),
                np.zeros(n) if time is None else np.asarray(time, dtype=np.float64),
                first,
                np.full(n, NOBODY, dtype=np.int64) if owner is None else np.asarray(owner, dtype=np.int64),
                first if last is None else np.asarray(last, dtype=np.int64),
                Posture.rigid(n) if posture is None else posture,
            )
        )

    def discrete(self) -> Discrete:
        """Return all scatterers, sorted by x."""
        return Discrete.joined(self._parts or [_NOTHING])


_NOTHING = Discrete(
    Scatterers(
        np.zeros((3, 0)),
        np.zeros((3, 0), dtype=np.float32),
        np.zeros(0, dtype=np.float32),
        np.zeros(0, dtype=np.float32),
        np.zeros(0, dtype=np.int32),
    ),
    np.zeros((3, 0)),
    np.zeros(0),
    np.zeros(0, dtype=np.int64),
    np.zeros(0, dtype=np.int64),
    np.zeros(0, dtype=np.int64),
    Posture.rigid(0),
)
