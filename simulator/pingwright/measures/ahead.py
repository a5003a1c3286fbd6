"""The bottom as an element sees it, from formulas: where its echo begins, and what leaks ahead of it."""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from pingwright.acoustics import seabed, slopes
from pingwright.echograms.record import ElementInfo, ElementRecord, FloatArray
from pingwright.measure.bottom import AVERAGED_CELLS
from pingwright.measure.closed import two_way_loss
from pingwright.measure.filters import STEPS, filtering
from pingwright.measure.onset import QUIET_OVER
from pingwright.measures import raised
from pingwright.trials.budget import one_way
from pingwright.trials.scene import Scene
from pingwright.world import materials, roughness

#: Directions around the bottom's nearest point.
SPOKES = 32
#: Draws of the ground's natural roughness, each with an edge of its own, and most rings of each.
GROUNDS, RINGS = 48, 160
#: The echo begins where its mean is this far [dB] below the bottom's level: what is weaker lies in single spots, with
#: gaps that end an onset (`measure.onset`). What leaks farther than the main lobe of the filter, two cells, does not
#: count there. *Assumed*: chosen with the cells of `theory` on single pings and on the claims about trade.
BEGINS, MAIN_LOBE = 30.0, 2.0
#: The ground stays alike over this share of its longest wave: in a quarter of a wave it is another height.
ALIKE = 0.25
#: Angles of incidence [rad] at which backscatter is computed.
ANGLES = np.linspace(0.0, np.pi / 2, 91)
#: Places along and across at which a beam meets the ground where it is uneven (*assumed*).
LOOKED = 7
#: Rings are laid this many cells beyond the roughness, which is taken to this many standard deviations.
CELLS, DEVIATIONS = 12.0, 4.0


@dataclass(frozen=True)
class Ahead:
    """The bottom as an element sees it.

    edges (ground) [m]: ranges at which its mean echo rises out of the water, in draws of the natural roughness; leak
    (n): echo strength, as a power [m2], that the filter's side lobes carry to ranges `distance` (n) [m]; alike [m]: way
    over which the ground stays alike; level [m2]: mean echo strength, as a power, of its strongest stretch.
    """

    edges: FloatArray
    distance: FloatArray
    leak: FloatArray
    alike: float = np.inf
    level: float = 0.0

    @property
    def edge(self) -> float:
        """The middle one of the edges [m]."""
        return float(np.median(self.edges))


#: Open water: no bottom hides the fish.
NO_BOTTOM = Ahead(np.array([np.inf]), np.array([0.0, 1.0]), np.zeros(2))


def beam_gain(header: ElementRecord, own: FloatArray) -> FloatArray:
    """Return the two-way level of the beam at band centre [dB re axis] (ping) towards directions own (3, ping)."""
    info, beam = header.info, header.beam
    along, across = (np.degrees(np.arctan2(own[k], np.maximum(own[2], 1e-6))) for k in (0, 1))
    if len(beam.angle) < 3:
        return -two_way_loss(info, beam, along, across)
    row = int(np.argmin(np.abs(beam.frequency - 0.5 * (info.band_low + info.band_high))))
    return 2 * one_way(beam, row, along, across)


def upright(at: Scene) -> FloatArray:
    """Return the unit vector (3) from the boat to the nearest point of a plane bottom of the scenario's slope."""
    slope = at.scenario.seabed.slope
    down = np.array([-np.tan(np.radians(slope.along)), -np.tan(np.radians(slope.across)), 1.0])
    return np.asarray(down / np.linalg.norm(down))


def bottom_echo(at: Scene, index: int) -> tuple[FloatArray, FloatArray]:
    """Return ranges [m] (n) and the mean echo strength, as a power [m2] (n), of a plane bottom without side lobes.

    Rings about the nearest point, of area 2 pi r dr each, of the top sediment's backscatter at its incidence, seen
    through the recorded pattern at band centre by the element as it is tilted, the boat level.
    """
    info, nearest = at.headers[index].info, _nearest(at)
    end = nearest / upright(at)[2] + len(filtering(info).lobes) / STEPS * info.cell
    distance = np.arange(nearest, end, max(0.5 * info.cell, (end - nearest) / 3000)) + 1e-6
    return distance, _rings(at, index, distance)[0].mean(axis=0)


def shift(at: Scene, index: int, x: FloatArray, y: FloatArray) -> FloatArray:
    """Return how much farther than the plane's nearest point the ground's is, seen by pings at x, y [m] (ping) [m].

    Of the ground inside the element's -3 dB width, with waves of relief and soundings; the plane is that of the depth
    at the origin and of the scenario's slope, so that a boat that runs down a slope has more water under it.
    """
    seabed_, info = at.scenario.seabed, at.headers[index].info
    slope = (float(seabed_.slope.along), float(seabed_.slope.across))
    typed = (seabed_.relief, seabed_.grid, getattr(seabed_, "profile", None))
    if all(one is None for one in typed) and not any(slope):
        return np.zeros(len(x))
    down, tilt = at.bottom - at.face, at.elements[index].spec.tilt
    widths = ((info.beamwidth_along, tilt.along), (info.beamwidth_across, tilt.across))
    sides = [
        down * np.tan(np.radians(np.clip(float(lean) + wide * np.linspace(-0.5, 0.5, LOOKED), -60.0, 60.0)))
        for wide, lean in widths
    ]
    dx, dy = (side.ravel()[:, None] for side in np.meshgrid(*sides))
    flat = down + dx * np.tan(np.radians(slope[0])) + dy * np.tan(np.radians(slope[1]))
    there = at.depth((x + dx).ravel(), (y + dy).ravel()).reshape(len(dx), len(x)) - at.face
    if raised.has_ledge(at):  # what stands higher is looked at by itself
        there = np.maximum(there, down - raised.LEAST)
    off = dx**2 + dy**2
    return np.asarray(np.sqrt(there**2 + off).min(axis=0) - np.sqrt(flat**2 + off).min(axis=0))


def _nearest(at: Scene) -> float:
    """Return the range [m] of the nearest point of the plane bottom."""
    return float((at.bottom - at.face) * upright(at)[2])


def _rings(at: Scene, index: int, distance: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the mean echo strength, as a power [m2], of places of the plane bottom (spoke, ring), as if all around.

    And the way to each (3, spoke, ring) [1]. distance [m] (ring).
    """
    header, normal = at.headers[index], upright(at)
    info, cosine = header.info, _nearest(at) / distance
    side = np.cross(normal, [0.0, 1.0, 0.0])
    side /= np.linalg.norm(side)
    turn = 2 * np.pi * (np.arange(SPOKES) + 0.5)[:, None] / SPOKES
    around = np.cos(turn) * side + np.sin(turn) * np.cross(normal, side)
    world = np.stack([cosine * n + np.sqrt(1 - cosine**2) * a[:, None] for n, a in zip(normal, around.T, strict=True)])
    own = np.tensordot(at.elements[index].rotation, world, axes=1)
    beam = 10 ** (0.1 * beam_gain(header, own.reshape(3, -1)).reshape(own.shape[1:])) * (own[2] > 0)
    ring = 2 * np.pi * distance * 0.5 * info.assumed_sound_speed * info.effective_pulse
    return ring * beam * scatter(at, index, cosine), world


def scatter(at: Scene, index: int, cosine: FloatArray) -> FloatArray:
    """Return the top sediment's backscattering coefficient [1] (any shape) at cosines of incidence, at band centre."""
    info, seabed_ = at.headers[index].info, at.scenario.seabed
    middle = 0.5 * (info.band_low + info.band_high)
    table = _scatter(str(seabed_.layer[0].sediment), str(seabed_.law), middle, info.assumed_sound_speed)
    return np.interp(np.arccos(cosine), ANGLES, table)


@lru_cache(maxsize=256)
def _scatter(sediment: str, law: str, frequency: float, speed: float) -> FloatArray:
    """Return the backscattering coefficient [1] of a sediment at ANGLES from vertical incidence."""
    top = materials.sediment(sediment)

    def even(cosine: FloatArray, f: FloatArray) -> FloatArray:
        return seabed.backscatter(top, cosine, f, speed, law)

    return np.asarray(slopes.averaged(even, top.slope_rms_deg)(np.cos(ANGLES), np.array([frequency]))[:, 0])


def of(at: Scene, index: int) -> Ahead:
    """Return the bottom as an element sees it."""
    info = at.headers[index].info
    bottom, power = bottom_echo(at, index)
    place, echo = _draws(at, index)
    before = len(filtering(info).lobes) * info.cell / STEPS * np.linspace(1.0, 0.0, 150) ** 2
    distance = bottom[0] - before
    near = np.median(echo @ _shares(info, place, distance), axis=0)
    far = bottom > place[-1]
    leak = near + power[far] @ _shares(info, bottom[far], distance, spacing=bottom[1] - bottom[0])
    alike = ALIKE * roughness.longest_wave(at.bottom)
    edges = _edges(info, place, echo, _nearest(at))
    return _with_layers(at, index, Ahead(edges, distance, leak, alike, _level(info, bottom, power)))


def _level(info: ElementInfo, distance: FloatArray, power: FloatArray) -> float:
    """Return the highest mean [m2] over AVERAGED_CELLS of what `bottom_echo` returns."""
    long = AVERAGED_CELLS * info.cell
    total = np.concatenate([[0.0], np.cumsum(power[:-1] * np.diff(distance))])
    return float((np.interp(distance + long, distance, total) - total).max() / long)


def _draws(at: Scene, index: int) -> tuple[FloatArray, FloatArray]:
    """Return ranges [m] (n), evenly apart, and the mean echo strength, as a power [m2] (ground, n), around the nearest.

    In draws of the ground's natural roughness: like `bottom_echo`, with each place of a ring as much nearer or farther
    as the ground there is higher or lower. Waves of the scenario's own relief are left out.
    """
    info, rough = at.headers[index].info, _roughness(at)
    rms = 0.0 if rough is None else rough.largest
    nearest, room = _nearest(at), CELLS * info.cell + DEVIATIONS * rms
    step = max(0.25 * info.cell, (room + DEVIATIONS * rms) / RINGS)
    distance = np.arange(nearest + 0.5 * step, nearest / upright(at)[2] + room, step)[:RINGS]
    power, way = _rings(at, index, distance)
    start = max(nearest - DEVIATIONS * rms - CELLS * info.cell, 0.1 * nearest)
    count = int((distance[-1] - start) / step) + 1
    echo = np.zeros((GROUNDS if rms else 1, count))
    for ground in range(len(echo)):
        deeper = _deeper(rough, way[:2] * distance, ground, nearest)
        bins = np.floor((distance + deeper * way[2] - start) / step).astype(np.int64).ravel()
        held = (bins >= 0) & (bins < count)
        echo[ground] = np.bincount(bins[held], power.ravel()[held] / SPOKES, count)
    return np.asarray(start + (np.arange(count) + 0.5) * step), echo


def _edges(info: ElementInfo, place: FloatArray, echo: FloatArray, nearest: float) -> FloatArray:
    """Return where the bottom's echo begins [m] (ground), rising; place, echo: of `_draws`."""
    spread = _shares(info, place, place)
    spread *= np.abs(np.subtract.outer(place, place)) <= MAIN_LOBE * info.cell
    echo = echo @ (spread / np.maximum(spread.sum(axis=0), 1.0))
    cells = max(min(round(AVERAGED_CELLS * info.cell / (place[1] - place[0])), len(place)), 1)
    total = np.cumsum(np.pad(echo, ((0, 0), (1, 0))), axis=1)
    level = ((total[:, cells:] - total[:, :-cells]) / cells).max(axis=1, keepdims=True)
    noise = info.noise_level - info.heard_level + 40 * np.log10(place) + 2 * info.absorption * place
    begun = echo >= np.maximum(level * 10 ** (-0.1 * BEGINS), 10 ** (0.1 * (noise + QUIET_OVER)))
    return np.sort(np.where(begun.any(axis=1), place[np.argmax(begun, axis=1)], nearest))


def _shares(info: ElementInfo, place: FloatArray, to: FloatArray, spacing: float | None = None) -> FloatArray:
    """Return the shares (n, m) of what lies at ranges `place` [m] (n) that the filter puts at ranges `to` [m] (m).

    spacing [m]: between the places, by default that of the first two.
    """
    lobes, step = filtering(info).lobes, info.cell / STEPS
    wide = float(place[1] - place[0]) if spacing is None else spacing
    away = np.abs(np.subtract.outer(place, to)) / step
    return np.interp(away, np.arange(len(lobes)), lobes, right=0.0) * wide / step


def _roughness(at: Scene) -> roughness.Roughness | None:
    """Return the natural roughness of the topmost sediment, always the same; None where it is switched off."""
    seabed_ = at.scenario.seabed
    return roughness.build(seabed_, [materials.sediment(str(seabed_.layer[0].sediment))], 0)


def _deeper(rough: roughness.Roughness | None, place: FloatArray, ground: int, nearest: float) -> FloatArray:
    """Return how much deeper than the plane the ground is [m] at places (2, ...) [m] about a number of spots."""
    if rough is None:
        return np.zeros(place.shape[1:])
    x, y = (place[k].ravel() + 7.0 * nearest * (ground * turn % 1.0) for k, turn in enumerate((0.618034, 0.754878)))
    return rough.deeper(x, y, np.zeros(x.size, dtype=np.int64)).reshape(place.shape[1:])


def _with_layers(at: Scene, index: int, bottom: Ahead) -> Ahead:
    """Return it with the mean echo of the scenario's scattering layers, straight below, without their texture."""
    info, named = at.headers[index].info, {str(spec.name) for spec in at.scenario.scattering_layer}
    for layer in (one for one in at.prepared.world.scattering_layer if one.name in named):
        top, low = max(layer.depth[0] - at.face, 0.1), min(layer.depth[1] - at.face, float(bottom.distance[-1]))
        inside = np.linspace(top, low, 40)
        strength = float(layer.volume_coefficient(np.array([0.5 * (info.band_low + info.band_high)]))[0])
        shell = 0.5 * info.assumed_sound_speed * info.effective_pulse * 10 ** (0.1 * info.equivalent_beam_angle)
        distance = np.union1d(np.concatenate([bottom.distance, inside]), np.array([top - 1e-6, low + 1e-6]))
        leak = np.interp(distance, bottom.distance, bottom.leak, left=0.0)
        layer_echo = strength * shell * distance**2 * ((distance >= top) & (distance <= low))
        bottom = replace(bottom, distance=distance, leak=leak + layer_echo)
    return bottom
