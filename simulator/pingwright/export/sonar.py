"""One beam group for each element: calibrated values stored directly (equation type 5), Sv and TS by ping."""

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pingwright.calibration import gains
from pingwright.echograms.record import ElementRecord
from pingwright.export.convention import ENUMS, SAMPLES, TIME, Group, Item, angle
from pingwright.export.platform import Place, motion

if TYPE_CHECKING:
    import h5py

    from pingwright.inputs.scenario import Scenario


def write(
    root: "h5py.Group",
    elements: tuple[ElementRecord, ...],
    place: Place,
    software: tuple[str, str],
    scenario: "Scenario | None",
) -> None:
    """Write the group Sonar: its types, and a beam group for each element; software: name and version.

    scenario: the resolved one that the elements recorded, None where it cannot be read.
    """
    program, version = software
    sonar = Group(root, "Sonar")
    sonar.samples()
    for name, values in ENUMS.items():
        sonar.enum(name, values)
    sonar.attributes(
        {"sonar_type": "echosounder", "sonar_software_name": program, "sonar_software_version": version}
    )  # no manufacturer, model or serial number: it is simulated
    for number, element in enumerate(elements, start=1):
        _beam_group(sonar, f"Beam_group{number}", element, place, scenario)


def _beam_group(sonar: Group, name: str, element: ElementRecord, place: Place, scenario: "Scenario | None") -> None:
    types = sonar.item
    group = Group(types, name)
    group.attributes({"beam_mode": "vertical", "preferred_MRU": 0, "preferred_position": 0})
    group.item.attrs.create("conversion_equation_type", 5, dtype=types["conversion_equation_t"])
    for axis in ("tx_beam", "subbeam"):
        group.dimension(axis, 1)
    group.add(Item("beam", ("beam",), [element.info.name], {"long_name": "name of the element"}))
    group.add(Item("ping_time", ("ping_time",), place.time(element.ping_time), TIME))
    centre = 0.5 * (element.info.band_low + element.info.band_high)
    group.add(Item("frequency", ("frequency",), np.array([centre], np.float32), _hertz("centre of the band")))
    for item in (*_by_ping(element, place), *_of_beam(element), *_of_pulse(element, types)):
        group.add(item)
    group.add(Item("beam_type", (), np.int8(0), {"long_name": "type of the beam"}, types["beam_t"]))
    axes = ("ping_time", "beam", "subbeam")
    kind = types[SAMPLES]
    names = (("backscatter_i", "dB re 1 m2", "uncompensated target strength TS"),
             ("backscatter_r", "dB re 1 m-1", "volume backscattering strength Sv"))  # fmt: skip
    for (label, units, long_name), gain in zip(names, gains(element, scenario), strict=True):
        group.add(Item(label, axes, _Rows(element, gain), {"units": units, "long_name": long_name}, kind))
    if element.echo is not None:
        text = {"units": "rad", "long_name": "phase of the matched filter's output about the band's centre"}
        group.add(Item("backscatter_phase", axes, _Phases(element), text, kind))


class _Rows:
    """Levels with a gain [dB] (sample) added, ping by ping; nan in the blanking range."""

    def __init__(self, element: ElementRecord, gain: float | NDArray[np.float64]) -> None:
        self._element, self._gain = element, gain

    def __len__(self) -> int:
        return self._element.pings

    def __iter__(self) -> Any:
        blind = self._element.range <= self._element.info.blank_range
        for ping in range(len(self)):
            yield np.where(blind, np.nan, self._element.level(ping) + self._gain)


class _Phases(_Rows):
    """Phase [rad], ping by ping."""

    def __init__(self, element: ElementRecord) -> None:
        super().__init__(element, 0.0)

    def __iter__(self) -> Any:
        for ping in range(len(self)):
            yield np.angle(np.asarray(self._element.echo[ping : ping + 1])[0])


def _hertz(long_name: str) -> dict[str, Any]:
    return {"units": "Hz", "valid_min": 0.0, "long_name": long_name, "standard_name": "sound_frequency"}


def _seconds(long_name: str) -> dict[str, Any]:
    return {"units": "s", "valid_min": 0.0, "long_name": long_name}


def _by_ping(element: ElementRecord, place: Place) -> list[Item]:
    """Return the variables that the convention demands for each ping: platform, sensors in use, timing."""
    along, count, speed = ("ping_time",), element.pings, element.info.assumed_sound_speed
    where, turned = motion(element, place)
    step = 2 * float(element.range[1] - element.range[0]) / speed
    first = 2 * float(element.range[0]) / speed
    zero = np.zeros(count, np.int32)
    return [
        *(Item(f"platform_{item.name}", along, item.values, item.attributes) for item in (*where, *turned)),
        *(Item(f"active_{sensor}", along, zero, {"valid_min": 0, "long_name": f"number of the {sensor} in use"})
          for sensor in ("MRU", "position_sensor", "gyro_sensor")),
        Item("beam_stabilisation", along, np.zeros(count, np.int8), {"long_name": "none"}),
        Item("non_quantitative_processing", along, np.zeros(count, np.int16), {"long_name": "0: none"}),
        Item("sample_interval", along, np.full(count, step, np.float32), _seconds("time between samples")),
        Item("sample_time_offset", (*along, "tx_beam"), np.full((count, 1), first, np.float32),
             {"units": "s", "long_name": "time of the first sample after the middle of the pulse"}),
        Item("blanking_interval", (*along, "beam"),
             np.full((count, 1), 2 * element.info.blank_range / speed, np.float32),
             _seconds("time in which nothing is received")),
    ]  # fmt: skip


def _of_beam(element: ElementRecord) -> list[Item]:
    """Return the beam: widths, equivalent angle, rotation in the platform."""
    info, count = element.info, element.pings
    solid = 10 ** (0.1 * info.equivalent_beam_angle)
    result = [
        Item("equivalent_beam_angle", ("ping_time", "beam"), np.full((count, 1), solid, np.float32),
             angle("sr", 0.0, 4 * np.pi, "two-way equivalent beam angle, band's centre")),
        *(Item(f"{kind}_transducer_index", axes, np.full((count, 1)[-len(axes):], info.position, np.int32),
               {"valid_min": 0, "long_name": f"transducer that {kind}s"})
          for kind, axes in (("receive", ("beam",)), ("transmit", ("ping_time", "tx_beam")))),
        Item("transmit_beam_index", ("ping_time", "beam"), np.zeros((count, 1), np.int32),
             {"valid_min": 0, "long_name": "beam that transmits"}),
    ]  # fmt: skip
    widths = {"major": (info.beamwidth_along, "along"), "minor": (info.beamwidth_across, "across")}
    turns = {"phi": -info.number("tilt_across", 0.0), "theta": info.number("tilt_along", 0.0), "psi": 0.0}
    for way, beam in (("receive", "beam"), ("transmit", "tx_beam")):
        for end, (width, plane) in widths.items():
            text = angle("arc_degree", 0.0, 360.0, f"one-way -3 dB width {plane} the track")
            values = np.full((count, 1), width, np.float32)
            result.append(Item(f"beamwidth_{way}_{end}", ("ping_time", beam), values, text))
        for name, turn in turns.items():
            most = 90.0 if name == "theta" else 180.0
            text = angle("arc_degree", -most, most, "turn of the beam in the platform, 0: straight down")
            values = np.full((count, 1), turn, np.float32)
            side = "rx" if way == "receive" else "tx"
            result.append(Item(f"{side}_beam_rotation_{name}", ("ping_time", beam), values, text))
    return result


def _of_pulse(element: ElementRecord, types: "h5py.Group") -> list[Item]:
    """Return the pulse: kind, band, length, power, source level."""
    info, axes, shape = element.info, ("ping_time", "tx_beam"), (element.pings, 1)
    tone = info.extra.get("pulse_kind") == "tone"
    numbers = {
        "transmit_frequency_start": (info.band_low, _hertz("lowest frequency")),
        "transmit_frequency_stop": (info.band_high, _hertz("highest frequency")),
        "transmit_duration_nominal": (info.pulse_length, _seconds("length of the pulse")),
        "receive_duration_effective": (info.effective_pulse, _seconds("effective length behind the filter")),
        "transmit_power": (
            info.number("power", np.nan),
            {"units": "W", "valid_min": 0.0, "long_name": "electrical power"},
        ),
        "transmit_source_level": (info.source_level, {"units": "dB", "long_name": "dB re 1 uPa m, band's centre"}),
    }
    kind = np.full(shape, 0 if tone else 1, np.int8)
    return [
        Item("transmit_type", axes, kind, {"long_name": "kind of pulse"}, types["transmit_t"]),
        *(Item(name, axes, np.full(shape, value, np.float32), text) for name, (value, text) in numbers.items()),
    ]
