"""The boat: time, latitude and longitude, motion; the scenario's plane is placed on the globe."""

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import ElementRecord, Record
from pingwright.export.convention import TIME, TRANSDUCERS, FloatArray, Group, Item, angle

if TYPE_CHECKING:
    import h5py

    from pingwright.inputs.scenario import Scenario


#: Values for a scenario without time, place or heading.
EPOCH, ORIGIN, HEADING = "1970-01-01T00:00:00Z", (0.0, 0.0), 0.0
#: Metres in a degree of latitude: 60 nautical miles of 1852 m, a sphere (at most 0.6 % from the ellipsoid).
DEGREE = 60 * 1852.0


@dataclass(frozen=True)
class Place:
    """When and where x = y = t = 0 is: begin (ISO 8601, UTC), latitude, longitude [deg], heading of +x [deg]."""

    begin: str
    latitude: float
    longitude: float
    heading: float

    def time(self, seconds: FloatArray) -> NDArray[np.uint64]:
        """Return nanoseconds since 1970 of times since the start of the run [s] (ping)."""
        start = int(datetime.fromisoformat(self.begin).timestamp())
        return (start * 10**9 + np.rint(seconds * 1e9).astype(np.int64)).astype(np.uint64)

    def position(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return latitude and longitude [deg] of x, y [m] (ping)."""
        turn = np.radians(self.heading)
        north, east = x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)
        latitude = self.latitude + north / DEGREE
        return latitude, self.longitude + east / DEGREE / np.cos(np.radians(self.latitude))


def place_of(scenario: "Scenario | None") -> Place:
    """Return the place of a scenario (inputs.scenario.Scenario), or the default place for None."""
    boat = getattr(scenario, "boat", None)
    latitude, longitude = getattr(boat, "origin", None) or ORIGIN
    heading = getattr(boat, "heading", None)
    begin = str(getattr(boat, "begin", None) or EPOCH)
    return Place(begin, latitude, longitude, HEADING if heading is None else float(heading))


def motion(element: ElementRecord, place: Place) -> tuple[list[Item], list[Item]]:
    """Return the boat's position and its attitude by ping, under the names that all groups share."""
    latitude, longitude = place.position(element.x, element.y)
    along, way = ("ping_time",), np.full(element.pings, place.heading, dtype=np.float32)
    where = [
        Item("latitude", along, latitude, angle("degrees_north", -90, 90, "latitude", "Platform latitude")),
        Item("longitude", along, longitude, angle("degrees_east", -180, 180, "longitude", "Platform longitude")),
    ]
    turned = [
        Item("heading", along, way, angle("degrees_north", 0, 360, "heading", "platform_orientation")),
        Item("pitch", along, _single(element.pitch), angle("arc_degree", -90, 90, "bow up", "platform_pitch_angle")),
        Item("roll", along, _single(element.roll), angle("arc_degree", -180, 180, "starboard", "platform_roll_angle")),
        Item("vertical_offset", along, _single(element.heave), {"units": "m", "long_name": "heave, up positive"}),
    ]  # fmt: skip
    return where, turned


def _single(values: FloatArray) -> NDArray[np.float32]:
    return np.asarray(values, dtype=np.float32)


def write(root: "h5py.Group", record: Record, place: Place) -> None:
    """Write the group Platform: transducers, one position and one motion sensor, and their readings."""
    group = Group(root, "Platform")
    group.enum("transducer_type_t", TRANSDUCERS)
    count = len(record.elements)
    names = [element.info.name for element in record.elements]
    for dimension, length in (("transducer", count), ("position", 1), ("MRU", 1), ("gyro", 1)):
        group.dimension(dimension, length)
    depth = np.array([element.info.transducer_depth for element in record.elements], dtype=np.float64)
    tilts = [[e.info.number(f"tilt_{way}", 0.0) for e in record.elements] for way in ("across", "along")]
    group.add(Item("transducer_ids", ("transducer",), names, {"long_name": "names of the elements"}))
    group.add(
        Item(
            "transducer_function",
            ("transducer",),
            np.full(count, 3, np.int8),
            {"long_name": "what it is for"},
            group.item["transducer_type_t"],
        )
    )
    offsets: dict[str, FloatArray] = {"x": np.zeros(count), "y": np.zeros(count), "z": depth}
    turns = {"x": -np.array(tilts[0]), "y": np.array(tilts[1]), "z": np.zeros(count)}
    for axis in "xyz":
        offset = {"units": "m", "long_name": f"place of the face, {axis}"}
        group.add(Item(f"transducer_offset_{axis}", ("transducer",), _single(offsets[axis]), offset))
        turn = angle("arc_degree", -180, 180, f"turn of the face about {axis}")
        group.add(Item(f"transducer_rotation_{axis}", ("transducer",), _single(turns[axis]), turn))
    _sensors(group)
    group.add(Item("water_level", (), np.float32(0.0), {"units": "m", "long_name": "level of the water line"}))
    first = record.elements[0]
    where, turned = motion(first, place)
    for name, items in (("Position", where), ("Attitude", turned)):
        _readings(group.item, name, items, place.time(first.ping_time))
    bow = [Item("heading", ("ping_time",), turned[0].values, turned[0].attributes)]
    _readings(group.item, "Gyro", bow, place.time(first.ping_time))


def _sensors(group: Group) -> None:
    """Write one sensor of each kind, at the origin and level."""
    for sensor in ("MRU", "position", "gyro"):
        group.add(Item(f"{sensor}_ids", (sensor,), ["simulated"], {"long_name": "name of the sensor"}))
        for axis in "xyz":
            group.add(
                Item(
                    f"{sensor}_offset_{axis}",
                    (sensor,),
                    np.zeros(1, np.float32),
                    {"units": "m", "long_name": f"place of the sensor, {axis}"},
                )
            )
    for axis in "xyz":
        turn = angle("arc_degree", -180, 180, f"turn of the sensor about {axis}")
        group.add(Item(f"MRU_rotation_{axis}", ("MRU",), np.zeros(1, np.float32), turn))


def _readings(platform: "h5py.Group", name: str, items: list[Item], time: NDArray[np.uint64]) -> None:
    """Write the readings of one sensor, on its own time axis."""
    group = Group(Group(platform, name).item, "simulated")
    group.add(Item("time", ("time",), time, TIME))
    for item in items:
        group.add(Item(item.name, ("time",), item.values, item.attributes))
