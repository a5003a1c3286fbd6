"""The types a world hands to the engine: flat arrays of scatterers, their strength laws, and what hides them."""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from pingwright.world.contents import Contents
from pingwright.world.looks import Look

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class StrengthLaw:
    """Backscattering amplitude of a class of scatterers over incidence and frequency.

    amplitude(cosine (n), frequency [Hz] (m)) -> real (n, m), the square root of a backscattering cross-section [m]
    (points, whole fish of unit Scatterers.amplitude) or of a backscattering coefficient [1] (surfaces, whose
    Scatterers.amplitude holds sqrt(area), m).
    cosine: between the direction back to the element and Scatterers.axis, 0..1. Surfaces face one way: seen
    from behind (cosine < 0) they are silent. With two_sided the absolute cosine is taken (fish, points).
    Must be smooth enough in sqrt(1 - cosine) and frequency to be tabulated on about 1000 x 16 nodes.
    key: all that the amplitude depends on, so that a table of it can be used for the next scene; None: not known.
    """

    name: str
    amplitude: Callable[[FloatArray, FloatArray], FloatArray]
    two_sided: bool = False
    key: Hashable = None


@dataclass(frozen=True)
class Scatterers:
    """Points that echo, flat arrays over n.

    position (3, n) float64: x, y, depth [m]. axis (3, n) float32: unit outward normal of a surface patch, or a
    fish's long axis. amplitude (n) float32: multiplies the strength law. phase (n) float32: fixed to the scatterer
    [cycles, 0..1). law (n) int32: index into World.laws.
    """

    position: FloatArray
    axis: NDArray[np.float32]
    amplitude: NDArray[np.float32]
    phase: NDArray[np.float32]
    law: NDArray[np.int32]

    def __len__(self) -> int:
        """Return the number of scatterers."""
        return len(self.amplitude)


@dataclass(frozen=True)
class Posture:
    """Motion of highlights with their fish (world.posture), arrays over (n).

    key: of the fish, 0 for rigid things; along [m]: place of the highlight on its axis, nose positive; sway [deg]:
    change of its tilt over time; bob [m]: up and down motion.
    """

    key: NDArray[np.uint64]
    along: FloatArray
    sway: FloatArray
    bob: FloatArray

    @staticmethod
    def rigid(count: int) -> "Posture":
        """Return the posture of `count` things that have none."""
        return Posture(np.zeros(count, np.uint64), *np.zeros((3, count)))

    def of(self, order: NDArray[np.int64]) -> "Posture":
        """Return the postures of some, or in another order."""
        return Posture(self.key[order], self.along[order], self.sway[order], self.bob[order])


@dataclass(frozen=True)
class Discrete:
    """Scatterers that are few and may move: targets, fish highlights, structure surfaces.

    velocity (3, n) [m/s]; a scatterer stands at its position at time (n) [s] of the run.
    ping, last (n) int64: it exists only in the pings from ping to last; ping -1: in all (Monte Carlo worlds place
    fish by ping). owner (n) int64: fish id, or -1. Sorted by x.
    """

    scatterers: Scatterers
    velocity: FloatArray
    time: FloatArray
    ping: NDArray[np.int64]
    owner: NDArray[np.int64]
    last: NDArray[np.int64]
    posture: Posture

    def of(self, order: NDArray[np.int64]) -> "Discrete":
        """Return some of them, or all in another order."""
        points = self.scatterers
        return Discrete(
            Scatterers(
                points.position[:, order], points.axis[:, order], points.amplitude[order], points.phase[order],
                points.law[order],
            ),
            self.velocity[:, order], self.time[order], self.ping[order], self.owner[order], self.last[order],
            self.posture.of(order),
        )  # fmt: skip

    @staticmethod
    def joined(parts: "Sequence[Discrete]") -> "Discrete":
        """Return several as one, sorted by x."""
        points, postures = [part.scatterers for part in parts], [part.posture for part in parts]
        every = Discrete(
            Scatterers(
                np.concatenate([p.position for p in points], axis=1),
                np.concatenate([p.axis for p in points], axis=1),
                np.concatenate([p.amplitude for p in points]),
                np.concatenate([p.phase for p in points]),
                np.concatenate([p.law for p in points]),
            ),
            np.concatenate([part.velocity for part in parts], axis=1),
            np.concatenate([part.time for part in parts]),
            np.concatenate([part.ping for part in parts]),
            np.concatenate([part.owner for part in parts]),
            np.concatenate([part.last for part in parts]),
            Posture(
                np.concatenate([p.key for p in postures]),
                np.concatenate([p.along for p in postures]),
                np.concatenate([p.sway for p in postures]),
                np.concatenate([p.bob for p in postures]),
            ),
        )
        return every.of(np.argsort(every.scatterers.position[0], kind="stable"))


@dataclass(frozen=True)
class Track:
    """Where the transducers are: arrays over (ping).

    time [s]; x, y [m]; depth [m] of the transducer face below mean surface, heave taken off; heave [m] up positive;
    roll, pitch, heading [deg] (heading 0: bow towards +x, turning towards +y).
    """

    time: FloatArray
    x: FloatArray
    y: FloatArray
    depth: FloatArray
    heave: FloatArray
    roll: FloatArray
    pitch: FloatArray
    heading: FloatArray

    def __len__(self) -> int:
        """Return the number of pings."""
        return len(self.time)


@dataclass(frozen=True)
class Occluder:
    """A closed or open surface of triangles that hides things behind it: vertices (v, 3) [m], triangles (t, 3)."""

    name: str
    vertices: FloatArray
    triangles: NDArray[np.int64]


@dataclass(frozen=True)
class Absorber:
    """A school as an absorber: an ellipsoid (axes along x, y, depth) through which echoes lose energy.

    centre (3), semi_axes (3) [m]; extinction(frequency [Hz] (m)) -> n sigma_e [1/m] (m), one-way intensity loss
    per metre.
    """

    name: str
    centre: FloatArray
    semi_axes: FloatArray
    extinction: Callable[[FloatArray], FloatArray]


@dataclass(frozen=True)
class ScatteringLayer:
    """Unresolved scatterers between two depths [m]: volume_coefficient(frequency [Hz] (m)) -> s_v [1/m] (m).

    texture(x, y of the boat [m], depth (n) [m]) -> factor of s_v (n) [1], None: 1 everywhere. follows: the layer stands
    on the bottom; its depths are those over a seabed as deep as the deepest on the run, and move with it.
    """

    name: str
    depth: tuple[float, float]
    volume_coefficient: Callable[[FloatArray], FloatArray]
    texture: Callable[[float, float, FloatArray], FloatArray] | None = None
    follows: bool = False


class Terrain(Protocol):
    """The seabed's shape."""

    def depth(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Return depth below mean surface [m] at x, y [m] (any one shape)."""
        ...

    def surface(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return depth [m] and its slopes dz/dx, dz/dy [1] at x, y [m] (any one shape)."""
        ...

    def region(self, x: FloatArray, y: FloatArray) -> NDArray[np.int64]:
        """Return the number of the ground at x, y [m]: 0 the seabed's own, k the k-th patch."""
        ...

    def breaks(self, x0: float, x1: float) -> FloatArray:
        """Return where straight pieces meet between x0 and x1 [m], rising."""
        ...


class Water(Protocol):
    """The water along the path, depth in m below mean surface, array in, array out."""

    @property
    def density(self) -> float:
        """Density [kg/m3] at the transducer."""
        ...

    @property
    def surface_sound_speed(self) -> float:
        """Sound speed [m/s] at the transducer."""
        ...

    def sound_speed(self, depth: FloatArray) -> FloatArray:
        """Return sound speed [m/s] at depth [m]."""
        ...

    def mean_slowness(self, top: float, depth: FloatArray) -> FloatArray:
        """Return the mean of 1/c [s/m] between two depths [m] (their limit where they are equal)."""
        ...

    def mean_absorption(self, frequency: FloatArray, top: float, depth: FloatArray) -> FloatArray:
        """Return mean absorption [dB/m] between two depths, (depth, frequency)."""
        ...


class SeabedSource(Protocol):
    """Seabed scatterers made on demand, some tiles at a time, the same in any order and combination."""

    @property
    def tile_edge(self) -> float:
        """Side of a tile [m]."""
        ...

    def tile(self, ix: int, iy: int) -> "Scatterers":
        """Return all scatterers of one tile."""
        ...

    def tiles(
        self, indices: Sequence[tuple[int, int]], looks: Sequence[Look]
    ) -> list[list[tuple["Scatterers", FloatArray]]]:
        """Return all scatterers of square tiles [ix, ix+1) x [iy, iy+1) tile edges, in a fixed order, in parts.

        And the share of each part that is enough for each look (look, 2): inside its beam, and outside. Any first
        scatterers of a part are a fair sample of it.
        """
        ...

    def under(self, places: FloatArray) -> "SeabedSource":
        """Return the same seabed for pings at other places (2, n) [m]."""
        ...


@dataclass(frozen=True)
class Bounce:
    """The second echo, or None in World where switched off.

    gain: amplitude 1/2 |R0| R_surface over frequency [Hz]; at_ping (ping) [1]: that of each ping over it, by the ground
    under the boat.
    """

    gain: Callable[[FloatArray], FloatArray]
    at_ping: FloatArray


@dataclass(frozen=True)
class World:
    """Everything that the engine needs, except the elements.

    bubbles: whether bubbles of the wind echo; if off, they only absorb (used for one kind of thing alone).
    """

    seed: int
    water: Water
    track: Track
    terrain: Terrain
    laws: tuple[StrengthLaw, ...]
    discrete: Discrete
    seabed: SeabedSource | None
    occluders: tuple[Occluder, ...] = ()
    absorbers: tuple[Absorber, ...] = ()
    scattering_layer: tuple[ScatteringLayer, ...] = ()
    bounce: Bounce | None = None
    wind_speed: float = 0.0
    bubbles: bool = True
    warnings: tuple[str, ...] = field(default=())
    looks: tuple[Look, ...] = ()
    contents: Contents = field(default_factory=Contents)
