"""Converts a file of echograms to the open convention, completely or not at all, with the same bytes each time."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from pingwright import calibration
from pingwright.echograms import parts
from pingwright.echograms.layout import COMMENT
from pingwright.echograms.reading import read
from pingwright.echograms.record import Record
from pingwright.errors import Fault, ScenarioError
from pingwright.export import platform, sonar, timeless
from pingwright.export.convention import ROOT, Group, Item
from pingwright.files import PROGRAM, replacing, try_room, version

if TYPE_CHECKING:
    import h5py


#: Bytes beside the samples, at most: of the file, of an element, of a ping, and of a ragged row in HDF5's heap.
MOST_BESIDE, MOST_OF_AN_ELEMENT, MOST_OF_A_PING, MOST_OF_A_ROW = 200_000, 100_000, 400, 4_300


def export(path: Path, target: Path) -> Path:
    """Write the recording of `path` (an echograms.h5) as SONAR-netCDF4 2.0 and return the target.

    Raises EchogramError where the file cannot be read, ScenarioError if the target is that file or does not end in .nc,
    UnfinishedError if the disk is full.
    """
    if target.suffix.lower() != ".nc":
        raise ScenarioError(
            [Fault("--out", 0, "", f'found "{target.name[:60]}"; allowed: a file name that ends in .nc')]
        )
    record = read(path)
    with replacing(target) as part:
        try_room(part, most_bytes(record))
        write(part, record, path.name)
    return target


def most_bytes(record: Record) -> int:
    """Return the most that the file of a record can take [bytes]."""
    most = MOST_BESIDE + len(record.title) + len(record.history) + len(record.elements) * MOST_OF_AN_ELEMENT
    for element in record.elements:
        rows = element.pings * (2 if element.echo is None else 3)
        most += rows * (4 * len(element.range) + MOST_OF_A_ROW) + element.pings * MOST_OF_A_PING
    return most


def write(path: Path, record: Record, source: str) -> None:
    """Write a record to a new file; source: name of the file it comes from."""
    scenario = calibration.scenario_of(record)
    place = platform.place_of(scenario)
    with parts.new_file(path) as file:
        text = f"{COMMENT} Synthetic recording of {len(record.elements)} elements, calibrated values (equation type 5)."
        parts.attributes(file, {**ROOT, "date_created": place.begin, "title": record.title, "summary": text})
        parts.attributes(file, {"keywords": "simulation, echo sounder, sonar, backscatter", "history": record.history})
        _environment(file, record)
        platform.write(file, record, place)
        sonar.write(file, record.elements, place, (PROGRAM, version()), scenario)
        _provenance(file, record, place.begin, source)
        places = timeless.types_of(file)
    timeless.clear(path, places)


def _environment(file: "h5py.File", record: Record) -> None:
    group = Group(file, "Environment")
    infos = [element.info for element in record.elements]
    centres = np.array([0.5 * (info.band_low + info.band_high) for info in infos], dtype=np.float32)
    hertz = {"units": "Hz", "valid_min": 0.0, "standard_name": "sound_frequency", "long_name": "centre of each band"}
    group.add(Item("frequency", ("frequency",), centres, hertz))
    loss = {"units": "dB/m", "valid_min": 0.0, "long_name": "absorption, one way, mean over the water column"}
    group.add(Item("absorption_indicative", ("frequency",), np.array([i.absorption for i in infos], np.float32), loss))
    speed = {"units": "m/s", "valid_min": 0.0, "standard_name": "speed_of_sound_in_sea_water", "long_name": "assumed"}
    group.add(Item("sound_speed_indicative", (), np.float32(infos[0].assumed_sound_speed), speed))


def _provenance(file: "h5py.File", record: Record, begin: str, source: str) -> None:
    group = Group(file, "Provenance")
    group.attributes(
        {
            "conversion_software_name": PROGRAM,
            "conversion_software_version": version(),
            "conversion_time": begin,
            "history": record.history,
            "comment": "conversion_time and date_created are the time of the first ping: the same recording gives the"
            " same file",
        }
    )
    group.dimension("filenames", 1)
    group.add(Item("source_filenames", ("filenames",), [source], {"long_name": "file converted"}))
