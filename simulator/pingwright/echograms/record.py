"""A recording: levels, axes, element data, scenario text and, by name, its truth group."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
SoftKind = Literal["school", "scattering_layer", "target"]

#: echo_level is stored as int16 with this step [dB] and offset [dB re 1 uPa]; the range is -227.66 to 427.66 dB.
SCALE_FACTOR = 0.01
ADD_OFFSET = 100.0
FILL_VALUE = -32768
LIMIT = 32766
#: Kinds of things that may dominate a sample: noise (also where nothing echoes), bubbles below the surface, the open
#: water's own scattering, and what a scenario names; a number in the file is a place in this list.
OWNERS = ("noise", "surface", "water", "scattering_layer", "fish", "school", "target", "structure", "seabed",
          "second_echo")  # fmt: skip
NO_OWNER = -1
#: Values of an element's attribute `pulse_choice`: the length follows the depth, or the scenario gives it.
BY_DEPTH, AS_GIVEN = "by depth", "as given"
#: Distances [m] for which an element's attributes give the loss to harmonics.
HARMONICS_AT = (100, 1000)


@dataclass(frozen=True)
class ElementInfo:
    """The numbers that describe one element in one run.

    band_low, band_high [Hz]; pulse_length, effective_pulse [s]; source_level [dB re 1 uPa m] and absorption [dB/m]
    at band centre; beamwidths [deg, full, one-way -3 dB] at band centre and at the band's ends;
    equivalent_beam_angle [dB re 1 sr, two-way] at band centre; range_resolution (full -3 dB width of a point's echo),
    blank_range, transducer_depth [m];
    noise_level [dB re 1 uPa after the filter]; assumed_sound_speed [m/s].
    """

    name: str
    slug: str
    position: int
    band_low: float
    band_high: float
    pulse_length: float
    weighting: str
    source_level: float
    absorption: float
    beamwidth_along: float
    beamwidth_across: float
    beamwidth_along_low: float
    beamwidth_across_low: float
    beamwidth_along_high: float
    beamwidth_across_high: float
    equivalent_beam_angle: float
    effective_pulse: float
    range_resolution: float
    noise_level: float
    blank_range: float
    transducer_depth: float
    assumed_sound_speed: float
    #: further attributes a user may want (directivity, near field, cautions, tilt, tone, ...); plain str, int, float
    extra: Mapping[str, Any] = field(default_factory=dict)

    @property
    def cell(self) -> float:
        """Resolution cell [m]: c / 2B of a chirp, c T / 2 of a tone; format 1 called this the range resolution."""
        return self.number("resolution_cell", self.range_resolution)

    @property
    def drawn_over_true(self) -> float:
        """Range on the axis over true range, down to the bottom: assumed over mean sound speed; 1 if not known."""
        ratio = self.assumed_sound_speed / self.number("mean_sound_speed", self.assumed_sound_speed)
        return ratio if 0.5 < ratio < 2.0 else 1.0

    @property
    def heard_level(self) -> float:
        """Source level minus the loss in bubbles below the surface, both ways [dB re 1 uPa m]: for sonar equations."""
        return self.source_level - self.number("bubble_loss", 0.0)

    def number(self, name: str, default: float) -> float:
        """Return a further attribute in its own unit; the default if it is missing or not a finite number.

        A file from elsewhere may hold anything there.
        """
        value = self.extra.get(name)
        return float(value) if isinstance(value, int | float) and abs(value) < 1e300 else default


@dataclass(frozen=True)
class BeamPattern:
    """One-way level [dB re axis] by frequency [Hz] and angle [deg], (frequency, angle), along and across the track."""

    frequency: FloatArray
    angle: FloatArray
    along: FloatArray
    across: FloatArray


@dataclass(frozen=True)
class ElementRecord:
    """What one element recorded.

    Ping axis: ping_time [s], x, y, heave, bottom_depth [m], roll, pitch [deg] (bottom_depth is truth).
    range [m] (sample): assumed_sound_speed x time / 2 from the transducer.
    echo_level (ping, sample): stored int16, a numpy array or a lazily read data set that can be sliced.
    echo (ping, sample): complex64 matched filter output [uPa], or None where the phase was not kept.
    """

    info: ElementInfo
    ping_time: FloatArray
    x: FloatArray
    y: FloatArray
    roll: FloatArray
    pitch: FloatArray
    heave: FloatArray
    bottom_depth: FloatArray
    range: FloatArray
    beam: BeamPattern
    echo_level: Any
    echo: Any = None

    @property
    def pings(self) -> int:
        """Number of pings."""
        return len(self.ping_time)

    def level(self, pings: slice | int = slice(None), samples: slice = slice(None)) -> NDArray[np.float32]:
        """Return the received level [dB re 1 uPa] of some pings and samples, (ping, sample) or (sample)."""
        stored = np.asarray(self.echo_level[pings, samples])
        return stored.astype(np.float32) * np.float32(SCALE_FACTOR) + np.float32(ADD_OFFSET)

    def spreading(self) -> FloatArray:
        """Return 40 log10 r + 2 alpha r - SL [dB] (sample): added to the level it gives echo strength, dB re 1 m2.

        Source level and absorption are those of the band centre, range is at least one sample step.
        """
        r = np.maximum(self.range, self.range[1] if len(self.range) > 1 else 1e-3)
        return np.asarray(40 * np.log10(r) + 2 * self.info.absorption * r - self.info.source_level)

    def volume_gain(self) -> FloatArray:
        """Return 20 log10 r + 2 alpha r - SL - psi - 10 log10(c tau / 2) [dB] (sample).

        Added to the level it gives volume backscattering strength Sv, dB re 1 m-1, of what fills the beam, averaged as
        power; psi: equivalent beam angle, tau: effective pulse, c: assumed sound speed (MacLennan, Fernandes & Dalen
        2002, ICES J. Mar. Sci. 59, 365-369).
        """
        info = self.info
        r = np.maximum(self.range, self.range[1] if len(self.range) > 1 else 1e-3)
        shell = info.equivalent_beam_angle + 10 * np.log10(info.assumed_sound_speed * info.effective_pulse / 2)
        return np.asarray(20 * np.log10(r) + 2 * info.absorption * r - info.source_level - shell)

    def echo_strength(self, pings: slice | int = slice(None), samples: slice = slice(None)) -> NDArray[np.float32]:
        """Return the drawn quantity, echo strength [dB re 1 m2]: a fish reads about its own strength at any depth."""
        return self.level(pings, samples) + self.spreading()[samples].astype(np.float32)


@dataclass(frozen=True)
class Paths:
    """Places of things over time: x, y, depth [m], place (3, knot, n) at time [s] (knot), straight lines in between.

    With one knot they stand still. Before the first knot and after the last they do not move.
    """

    time: FloatArray
    place: FloatArray

    def at(self, time: FloatArray) -> FloatArray:
        """Return x, y, depth [m] (3, m, n) at some times [s] (m)."""
        if len(self.time) < 2:
            return np.repeat(self.place, len(time), axis=1)
        after = np.clip(np.searchsorted(self.time, time), 1, len(self.time) - 1)
        first, last = self.time[after - 1], self.time[after]
        part = np.clip((time - first) / (last - first), 0.0, 1.0)[None, :, None]
        return np.asarray((1 - part) * self.place[:, after - 1] + part * self.place[:, after])


@dataclass(frozen=True)
class FishTruth:
    """Where every fish really was; arrays on (fish) and (element, fish).

    x, y, depth [m] at its nearest ping of the first element; length, height above the bottom [m]; strength [dB re 1 m2]
    (element, fish): tilt-averaged, band centre; nearest_ping (element, fish); apparent_depth [m] (element, fish): where
    its echo is drawn at that ping. path: the place of each at any time; None in files without it: they stand still.
    """

    id: NDArray[np.int64]
    name: tuple[str, ...]
    x: FloatArray
    y: FloatArray
    depth: FloatArray
    length: FloatArray
    height: FloatArray
    strength: FloatArray
    nearest_ping: NDArray[np.int64]
    apparent_depth: FloatArray
    path: Paths | None = None

    def at(self, time: FloatArray) -> FloatArray:
        """Return x, y, depth [m] (3, m, fish) at some times [s] (m)."""
        still = Paths(np.zeros(1), np.stack([self.x, self.y, self.depth])[:, None, :])
        return (self.path or still).at(time)

    def apparent_range(self, element: int, info: ElementInfo) -> FloatArray:
        """Return range on the element's range axis [m] (fish) where each fish's echo is drawn at its nearest ping."""
        return np.asarray(self.apparent_depth[element] - info.transducer_depth)


@dataclass(frozen=True)
class StructureTruth:
    """One structure's outlines for the cutaway: closed polylines (point, 2).

    side: x, depth [m] seen from starboard; ahead: y, depth [m] seen from astern; plan: x, y [m] seen from above.
    """

    name: str
    material: str
    side: FloatArray
    ahead: FloatArray
    plan: FloatArray


@dataclass(frozen=True)
class SoftTruth:
    """A school, scattering layer or target: kind, name and its box (x0, x1, y0, y1, depth0, depth1) [m] at time 0.

    Infinite extents are stored as -inf and inf. A school fills the ellipsoid in its box and drifts with `drift`, x, y,
    depth [m/s]. strength: at each element's band centre; a target's is its target strength [dB re 1 m2], a school's
    that of one of its fish, averaged over length and tilt [dB re 1 m2], a layer's its volume backscattering strength
    [dB re 1 m-1]; empty in files without it.
    """

    kind: SoftKind
    name: str
    box: tuple[float, float, float, float, float, float]
    drift: tuple[float, float, float] = (0.0, 0.0, 0.0)
    strength: tuple[float, ...] = ()


@dataclass(frozen=True)
class SedimentTruth:
    """Ground: name of the sediment, thickness [m] (inf: the lowest layer), and where it lies (x0, x1, y0, y1) [m].

    Layers come from the top down and lie everywhere; patches after them are the top layer inside their bounds.
    """

    name: str
    thickness: float
    box: tuple[float, float, float, float] = (-np.inf, np.inf, -np.inf, np.inf)


@dataclass(frozen=True)
class Surroundings:
    """What all but fish and noise sends back from where single fish are looked for beside structures and steep ground.

    Arrays over (n): element, fish (places in the truth's arrays), ping (of the element). level [dB re 1 uPa]
    (n, column): the highest in each of equal parts of the stretch of range in which a peak may be that fish's, nearest
    first, and in the last column the mean around it (measure.beside). Where no structure is as near as the fish nothing
    is held. ground (n): whether steep ground is in it, else structures, schools and targets alone; None in files that
    do not say.
    """

    element: NDArray[np.int64]
    fish: NDArray[np.int64]
    ping: NDArray[np.int64]
    level: FloatArray
    ground: NDArray[np.bool_] | None = None


@dataclass(frozen=True)
class Truth:
    """What was really there: to score and to mark, never to detect.

    owners: for each element the kind of thing that dominates each sample, int8 (ping, sample), indices into OWNERS,
    NO_OWNER in the blanking range: arrays, or data sets that can be sliced; empty if it was not requested.
    surroundings: None where there are no structures, or in files that do not say.
    """

    fish: FishTruth
    structures: tuple[StructureTruth, ...] = ()
    soft: tuple[SoftTruth, ...] = ()
    sediments: tuple[SedimentTruth, ...] = ()
    owners: tuple[Any, ...] = ()
    surroundings: Surroundings | None = None


@dataclass(frozen=True)
class FreshPasses:
    """Results of fresh passes over the scene's own fish: (pass, element, fish) bool each, detected and separated.

    Every pass has its own ground, noise and postures; places and lengths of the fish are those of the recording.
    """

    detected: NDArray[np.bool_]
    separated: NDArray[np.bool_]

    def __len__(self) -> int:
        """Return the number of passes."""
        return len(self.separated)


@dataclass(frozen=True)
class Record:
    """A whole recording: what echograms.h5 holds.

    inputs: name -> bytes of every file that the scenario names.
    seabed_profile: the terrain under the track for the cutaway, (point, 2): x, depth [m];
    seabed_across: likewise y, depth at mid-track.
    passes: results of fresh passes over the same fish, None if none were requested.
    """

    title: str
    seed: int
    scenario: str
    scenario_resolved: str
    elements: tuple[ElementRecord, ...]
    truth: Truth
    seabed_profile: FloatArray
    seabed_across: FloatArray
    inputs: Mapping[str, bytes] = field(default_factory=dict)
    history: str = ""
    warnings: tuple[str, ...] = ()
    passes: FreshPasses | None = None
