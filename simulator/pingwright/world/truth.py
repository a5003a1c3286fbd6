"""What was really there, in the form for a record: paths of the fish, outlines, soft bodies, sediments."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import (
    ElementRecord,
    FishTruth,
    Paths,
    SedimentTruth,
    SoftTruth,
    StructureTruth,
    Truth,
)
from pingwright.world.contents import Body, Stock
from pingwright.world.scatterers import FloatArray, Water, World

if TYPE_CHECKING:
    from pingwright.inputs.scenario import Scenario

#: Most knots of a path; a fish that swims or turns is drawn by straight lines between them.
MOST_KNOTS = 256
#: Most numbers in all paths of a record together: fewer knots if there are many fish.
MOST_NUMBERS = 2_000_000


def build(world: World, scenario: "Scenario", records: Sequence[ElementRecord]) -> Truth:
    """Return the truth of a world, placed by the records of its elements.

    records: with their ping axes and infos; scenario: resolved, for its sediments and the names of its schools. Fish of
    schools are not listed one by one: a school is a soft body that drifts.
    """
    stocks = [stock for stock in world.contents.stocks if not stock.school and len(stock)]
    outlines = tuple(StructureTruth(o.name, o.material, o.side, o.ahead, o.plan) for o in world.contents.outlines)
    schools = {stock.name: stock for stock in world.contents.stocks if stock.school and len(stock)}
    soft = tuple(_soft(body, schools.get(body.name), records) for body in world.contents.bodies)
    return Truth(_fish(world, stocks, records), outlines, soft, _sediments(scenario))


def _sediments(scenario: "Scenario") -> tuple[SedimentTruth, ...]:
    ground = scenario.seabed
    layers = [SedimentTruth(str(one.sediment), float(one.thickness or np.inf)) for one in ground.layer]
    everywhere = (-np.inf, np.inf)
    top = layers[0].thickness
    return (
        *layers,
        *(
            SedimentTruth(str(one.sediment), top, (*(one.x or everywhere), *(one.y or everywhere)))
            for one in ground.patch
        ),
    )


def _soft(body: Body, school: Stock | None, records: Sequence[ElementRecord]) -> SoftTruth:
    """Return a soft body, its drift [m/s] (of a school: that of its fish on average) and its strength by element."""
    drift = np.zeros(3)
    strength: Callable[[float], float] | None = body.strength
    if body.kind == "school" and school is not None:
        last = max((float(record.ping_time[-1]) for record in records if record.pings), default=0.0)
        if last > 0:
            drift = (school.at(last) - school.at(0.0)).mean(axis=1) / last
        strength = _mean_strength(school)
    levels = [0.5 * (record.info.band_low + record.info.band_high) for record in records]
    known = tuple(strength(centre) for centre in levels) if strength else ()
    return SoftTruth(body.kind, body.name, body.box, (float(drift[0]), float(drift[1]), float(drift[2])), known)


def _mean_strength(school: Stock) -> Callable[[float], float]:
    """Return the target strength [dB re 1 m2] of a school's fish at a frequency [Hz], averaged as power."""

    def level(frequency: float) -> float:
        each = school.strength(school.length, school.position[2], frequency)
        return 10.0 * float(np.log10(np.mean(10.0 ** (0.1 * each))))

    return level


def _paths(stocks: Sequence[Stock], records: Sequence[ElementRecord]) -> Paths:
    """Return the places of fish over the run: one knot if none moves, else knots at pings of the first element."""
    count = sum(len(stock) for stock in stocks)
    time = records[0].ping_time if records else np.zeros(1)
    most = int(np.clip(MOST_NUMBERS // max(3 * count, 1), 2, MOST_KNOTS))
    if not any(stock.velocity.any() for stock in stocks):
        time = time[:1]
    if len(time) > most:
        time = time[np.unique(np.linspace(0, len(time) - 1, most).astype(np.int64))]
    empty = np.zeros((3, len(time), 0))
    place = np.concatenate([np.stack([s.at(float(t)) for t in time], axis=1) for s in stocks] or [empty], axis=2)
    if not len(time) or np.ptp(place, axis=1).max(initial=0.0) == 0.0:
        return Paths(np.zeros(1), place[:, :1])
    return Paths(np.asarray(time, dtype=np.float64), place)


def nearest_pings(stock: Stock, record: ElementRecord) -> NDArray[np.int64]:
    """Return the ping (n) of an element whose axis passes nearest to each fish, or its only one.

    Nearest across the axis, without roll and pitch: under a level element the fish is abeam. Not nearest in slant
    range: a diving fish that swims with the boat is nearest long before it is in the beam.
    """
    time = record.ping_time
    if len(time) < 2:
        return np.zeros(len(stock), dtype=np.int64)
    speed = (record.x[-1] - record.x[0]) / (time[-1] - time[0])
    face = np.array([record.x[0] - speed * time[0], record.y[0], record.info.transducer_depth])
    start = stock.position - stock.velocity * stock.time - face[:, None]
    way = stock.velocity - np.array([[speed], [0.0], [0.0]])
    offset, relative = (_off_axis(vector, record) for vector in (start, way))
    square = np.sum(relative**2, axis=0)
    still = square < 1e-12
    when = np.where(still, np.median(time), -np.sum(offset * relative, axis=0) / np.where(still, 1.0, square))
    ping = np.clip(np.searchsorted(time, when), 1, len(time) - 1)
    ping -= when - time[ping - 1] < time[ping] - when
    return np.where(stock.ping >= 0, np.minimum(stock.ping, len(time) - 1), ping).astype(np.int64)


def _off_axis(vector: FloatArray, record: ElementRecord) -> FloatArray:
    """Return the distance of vectors from the face (3, n) from an element's axis, along and across (2, n) [m]."""
    tilt = [float(record.info.extra.get(f"tilt_{way}", 0.0)) for way in ("along", "across")]
    return np.asarray(vector[:2] - np.tan(np.radians(tilt))[:, None] * vector[2])


def _fish(world: World, stocks: Sequence[Stock], records: Sequence[ElementRecord]) -> FishTruth:
    per_element = [[_seen(world, stock, record) for stock in stocks] for record in records]
    first = per_element[0] if per_element else []
    place = np.concatenate([seen[2] for seen in first], axis=1) if first else np.zeros((3, 0))
    count = place.shape[1]

    def table(k: int) -> FloatArray:
        rows = [np.concatenate([seen[k] for seen in row]) if row else np.zeros(0) for row in per_element]
        return np.stack(rows) if rows else np.zeros((0, count))

    return FishTruth(
        id=np.concatenate([s.id for s in stocks]) if stocks else np.zeros(0, dtype=np.int64),
        name=tuple(stock.name for stock in stocks for _ in range(len(stock))),
        x=place[0],
        y=place[1],
        depth=place[2],
        length=np.concatenate([s.length for s in stocks]) if stocks else np.zeros(0),
        height=world.terrain.depth(place[0], place[1]) - place[2],
        strength=table(3),
        nearest_ping=table(0).astype(np.int64),
        apparent_depth=table(1),
        path=_paths(stocks, records),
    )


def drawn_range(
    water: Water,
    way: tuple[FloatArray, FloatArray, FloatArray],
    depth: FloatArray,
    face: float,
    assumed: float,
) -> FloatArray:
    """Return where an echo is drawn on the range axis [m] (n): true travel time at the assumed sound speed [m/s].

    way [m] (n): along, across, down from the face; depth [m] (n): of what echoes; face [m]: depth of the boat's faces
    at rest, from which the water is averaged.
    """
    slant = np.sqrt(way[0] ** 2 + way[1] ** 2 + way[2] ** 2)
    return np.asarray(slant * water.mean_slowness(face, depth) * assumed)


def _seen(
    world: World, stock: Stock, record: ElementRecord
) -> tuple[NDArray[np.int64], FloatArray, FloatArray, FloatArray]:
    """Return nearest pings (n), apparent depths (n) [m], places (3, n) [m] then, and strengths (n) [dB re 1 m2]."""
    info = record.info
    ping = nearest_pings(stock, record)
    place = stock.at(record.ping_time[ping])
    face = info.transducer_depth - record.heave[ping]
    way = (place[0] - record.x[ping], place[1] - record.y[ping], place[2] - face)
    drawn = drawn_range(world.water, way, place[2], info.transducer_depth, info.assumed_sound_speed)
    apparent = info.transducer_depth + drawn
    strength = stock.strength(stock.length, place[2], (info.band_low + info.band_high) / 2.0)
    return ping, apparent, place, strength
