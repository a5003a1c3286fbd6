"""Contents of a world, for the truth group and the cutaway: fish, structures' outlines, soft bodies."""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import SoftKind

if TYPE_CHECKING:
    from pingwright.world.posture import Wander

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Stock:
    """Fish of one kind: arrays over (n).

    position (3, n) [m] at time (n) [s]; velocity (3, n) [m/s]; length (n) [m]; tilt, yaw (n) [deg]: means over time;
    ping, last (n): the pings in which it exists, or -1; key (n): of its random posture (world.posture). strength(length
    [m] (n), depth [m] (n), frequency [Hz]) -> tilt-averaged target strength [dB re 1 m2] (n). id (n): as
    Discrete.owner. school: part of a school.
    """

    name: str
    id: NDArray[np.int64]
    position: FloatArray
    velocity: FloatArray
    time: FloatArray
    length: FloatArray
    tilt: FloatArray
    yaw: FloatArray
    ping: NDArray[np.int64]
    last: NDArray[np.int64]
    strength: Callable[[FloatArray, FloatArray, float], FloatArray]
    key: NDArray[np.uint64]
    school: bool = False

    def at(self, time: float | FloatArray) -> FloatArray:
        """Return the places of the fish (3, n) [m] at a time [s], one for all or one for each."""
        from pingwright.world.posture import aside

        until = np.broadcast_to(np.asarray(time, dtype=np.float64), self.time.shape)
        swayed = aside(self.key, self.velocity, self.time, until, self._course)
        return self.position + self.velocity * (until - self.time) + swayed

    @cached_property
    def _course(self) -> "Wander":
        """How their courses wander: they are asked for at many times."""
        from pingwright.world.posture import course

        return course(self.key)

    def __len__(self) -> int:
        """Return the number of fish."""
        return len(self.id)


@dataclass(frozen=True)
class Outline:
    """A structure seen from starboard (x, depth), from astern (y, depth) and from above (x, y): (point, 2) [m]."""

    name: str
    material: str
    side: FloatArray
    ahead: FloatArray
    plan: FloatArray


@dataclass(frozen=True)
class Body:
    """A school, scattering layer or target: kind, name, box x0, x1, y0, y1, depth0, depth1 [m], may be infinite."""

    kind: SoftKind
    name: str
    box: tuple[float, float, float, float, float, float]
    #: strength at a frequency [Hz]: of a target [dB re 1 m2], of a layer [dB re 1 m-1]; None: not known here
    strength: Callable[[float], float] | None = None


@dataclass(frozen=True)
class Contents:
    """Everything in the water and on the seabed that the truth group lists."""

    stocks: tuple[Stock, ...] = ()
    outlines: tuple[Outline, ...] = ()
    bodies: tuple[Body, ...] = field(default=())
