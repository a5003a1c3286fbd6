"""Collects laws and discrete scatterers while a world is built."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pingwright.world.scatterers import Discrete, FloatArray, Scatterers, StrengthLaw

ALL_PINGS = -1
NOBODY = -1


@dataclass
class Gathering:
    """Laws and scatterers so far; the only thing in this room that changes while it is used."""

    laws: list[StrengthLaw] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    _parts: list[Discrete] = field(default_factory=list)

    def law(self, law: StrengthLaw) -> int:
        """Keep a law and return its number."""
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
        owner: NDArray[np.int64] | None = None,
    ) -> None:
        """Keep scatterers: position (3, n) [m], axis (3, n), amplitude, phase [cycles] (n), law number(s).

        What moves gives velocity (3, n) [m/s] and the time (n) [s] at which it is at its position.
        """
        n = position.shape[1]
        points = Scatterers(
            np.asarray(position, dtype=np.float64),
            np.asarray(axis, dtype=np.float32),
            np.asarray(amplitude, dtype=np.float32),
            np.mod(phase, 1.0).astype(np.float32) % np.float32(1.0),
            np.broadcast_to(np.asarray(law, dtype=np.int32), (n,)).copy(),
        )
        self._parts.append(
            Discrete(
                points,
                np.zeros((3, n)) if velocity is None else np.asarray(velocity, dtype=np.float64),
                np.zeros(n) if time is None else np.asarray(time, dtype=np.float64),
                np.full(n, ALL_PINGS, dtype=np.int64) if ping is None else np.asarray(ping, dtype=np.int64),
                np.full(n, NOBODY, dtype=np.int64) if owner is None else np.asarray(owner, dtype=np.int64),
            )
        )

    def discrete(self) -> Discrete:
        """Return all scatterers, sorted by x."""
        parts = self._parts or [_NOTHING]
        points = [part.scatterers for part in parts]
        position = np.concatenate([p.position for p in points], axis=1)
        order = np.argsort(position[0], kind="stable")
        return Discrete(
            Scatterers(
                position[:, order],
                np.concatenate([p.axis for p in points], axis=1)[:, order],
                np.concatenate([p.amplitude for p in points])[order],
                np.concatenate([p.phase for p in points])[order],
                np.concatenate([p.law for p in points])[order],
            ),
            np.concatenate([part.velocity for part in parts], axis=1)[:, order],
            np.concatenate([part.time for part in parts])[order],
            np.concatenate([part.ping for part in parts])[order],
            np.concatenate([part.owner for part in parts])[order],
        )


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
)
