"""Reads echograms.h5 lazily; refuses a foreign, damaged or hostile file with one sentence."""

import os
import stat
from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms import heaps, layout, optional, owners, plausible, trusted
from pingwright.echograms.form import scenario_digest
from pingwright.echograms.record import (
    ADD_OFFSET,
    SCALE_FACTOR,
    BeamPattern,
    ElementInfo,
    ElementRecord,
    FishTruth,
    Paths,
    Record,
    SedimentTruth,
    SoftKind,
    SoftTruth,
    StructureTruth,
    Truth,
)
from pingwright.echograms.stored import DAMAGE, Stored, damage_named
from pingwright.errors import EchogramError


def _open(path: Path) -> Any:
    import h5py

    try:
        mode = path.stat().st_mode
    except OSError as error:
        reason = "does not exist" if isinstance(error, FileNotFoundError) else f"cannot be opened: {error.strerror}"
        message = f"{path} {reason}."
        raise EchogramError(message) from error
    if not stat.S_ISREG(mode):
        message = f"{path} is {'a folder without echograms.h5' if stat.S_ISDIR(mode) else 'not a regular file'}."
        raise EchogramError(message)
    if not os.access(path, os.R_OK):
        message = f"{path} cannot be read: permission denied."
        raise EchogramError(message)
    try:
        if heaps.damaged(path):
            message = f"{path} is damaged: a store of texts in it has no end."
            raise EchogramError(message)
        return h5py.File(path, "r", locking=False)
    except DAMAGE as error:
        message = f"{path} is not a complete HDF5 file, so it holds no echograms.{_instead(path)}"
        raise EchogramError(message) from error


def _instead(path: Path) -> str:
    """Return a hint for a file without echograms: run a scenario, recall a picture."""
    kinds = {
        ".toml": "To simulate a scenario, use `pingwright run`.",
        ".json": "The echograms are in echograms.h5 in the same folder.",
    }
    pictures = dict.fromkeys(
        (".png", ".svg", ".pdf", ".html"), "To read the scenario of a picture, use `pingwright recall`."
    )
    text = (kinds | pictures).get(path.suffix.lower(), "")
    return f" {text}" if text else ""


def _check_version(root: trusted.Group) -> None:
    """Refuse foreign and newer files. Older formats only lack items, which then get their defaults."""
    if not root.has_attribute("format_version"):
        message = "it has no format_version, so Pingwright did not write it"
        raise EchogramError(message)
    result = root.whole("format_version", 1, 1 << 31)
    if result > layout.FORMAT_VERSION:
        message = (
            f"it has format {result}, but this program reads formats up to {layout.FORMAT_VERSION}; a newer version"
            " wrote it"
        )
        raise EchogramError(message)


def _info(group: trusted.Group, slug: str) -> ElementInfo:
    values: dict[str, Any] = {}
    for name in layout.INFO_FIELDS:
        if name in layout.INFO_TEXT:
            values[name] = group.text(name)
        elif name == "position":
            values[name] = group.whole(name, 0, layout.MOST_ELEMENTS)
        else:
            values[name] = group.number(name, finite=name != "noise_level")  # no noise at all is minus infinity
    plausible.numbers(values, slug)
    units = tuple(f"{name}_unit" for name in layout.UNITS)
    return ElementInfo(**values, slug=slug, extra=group.further((*layout.INFO_FIELDS, *units)))


def _beam(group: trusted.Group) -> BeamPattern:
    frequency = group.floats("frequency", 1, layout.MOST_POINTS)
    angle = group.floats("angle", 1, layout.MOST_POINTS)
    both = group.floats("beam", 3, layout.MOST_POINTS, shape=(2, len(frequency), len(angle)), finite=False)
    plausible.beam(both, group.name)
    return BeamPattern(frequency, angle, both[0], both[1])


def _levels(group: trusted.Group, shape: tuple[int, int], path: Path) -> tuple[Stored, Any]:
    level = group.large("echo_level", "<i2", shape)
    for name, value in (("scale_factor", SCALE_FACTOR), ("add_offset", ADD_OFFSET)):
        # Format 1 holds them in double precision.
        if np.float32(trusted.number(level.attrs, name, "echo_level")) != np.float32(value):
            message = f"{group.name}/echo_level: {name} is not {value}"
            raise EchogramError(message)
    stored = Stored(level.__getitem__, shape, np.int16, str(path))
    if not group.has("echo_real"):
        return stored, None
    real, imag = (group.large(f"echo_{part}", "<f4", shape) for part in ("real", "imag"))

    def echo(key: Any) -> NDArray[np.complex64]:
        both = np.asarray(real[key]) + 1j * np.asarray(imag[key])
        return both.astype(np.complex64)

    return stored, Stored(echo, shape, np.complex64, str(path))


def _element(group: trusted.Group, slug: str, path: Path) -> ElementRecord:
    info = _info(group, slug)
    distance = group.floats("range", 1, layout.MOST_SAMPLES)
    time = group.floats("ping_time", 1, layout.MOST_PINGS)
    shape = (len(time), len(distance))
    plausible.evenly(distance if len(time) else distance[:0], group.name)
    by_ping = {spec.name: _array(group, spec.name, layout.MOST_PINGS, (len(time),)) for spec in layout.BY_PING}
    level, echo = _levels(group, shape, path)
    return ElementRecord(info=info, range=distance, beam=_beam(group), echo_level=level, echo=echo, **by_ping)


def _array(group: trusted.Group, name: str, most: int, shape: tuple[int, ...]) -> NDArray[np.float64]:
    return plausible.array(group.floats(name, 1, most, shape=shape), name, group.name)


def _line(group: trusted.Group, name: str, columns: tuple[str, str]) -> NDArray[np.float64]:
    parts = [group.floats(f"{name}_{column}", 1, layout.MOST_POINTS) for column in columns]
    if len(parts[0]) != len(parts[1]):
        message = f"{group.name}: the columns of {name} differ in length"
        raise EchogramError(message)
    return np.stack(parts, axis=1)


def _fish(group: trusted.Group, elements: int, pings: int) -> FishTruth:
    number = group.integers("id", 1, layout.MOST_FISH)
    fish, both = (len(number),), (elements, len(number))
    one: dict[str, Any] = {s.name: _array(group, s.name, layout.MOST_FISH, fish) for s in layout.FISH}
    two: dict[str, Any] = {
        s.name: group.floats(s.name, 2, layout.MOST_FISH, shape=both, finite=False) for s in layout.FISH_BY_ELEMENT
    }
    nearest = group.integers("nearest_ping", 2, layout.MOST_FISH, shape=both)
    if nearest.size and not (nearest.min() >= 0 and nearest.max() < pings):
        message = f"{group.name}/nearest_ping names a ping that does not exist"
        raise EchogramError(message)
    texts = group.texts("name", len(number))
    return FishTruth(id=number, name=texts, nearest_ping=nearest, path=_paths(group, fish[0]), **one, **two)


def _paths(group: trusted.Group, fish: int) -> Paths | None:
    """Return the paths of the fish over time; None in files of format 1."""
    if not group.has("path_time"):
        return None
    time = group.floats("path_time", 1, layout.MOST_PINGS)
    if not len(time) or np.any(np.diff(time) <= 0):
        message = f"{group.name}/path_time does not rise"
        raise EchogramError(message)
    shape = (len(time), fish)
    place = [group.floats(spec.name, 2, layout.MOST_FISH, shape=shape) for spec in layout.PATH]
    for values, name in zip(place, ("x", "y", "depth"), strict=True):
        plausible.array(values, name, group.name)
    return Paths(time, np.stack(place))


def _structures(group: trusted.Group) -> tuple[StructureTruth, ...]:
    result = []
    for name in group.names()[: layout.MOST_ELEMENTS]:
        one = group.group(name)
        lines = {side: _line(one, side, columns) for side, columns in layout.OUTLINES}
        result.append(StructureTruth(name=one.text("name"), material=one.text("material"), **lines))
    return tuple(result)


def _sediments(truth: trusted.Group) -> tuple[SedimentTruth, ...]:
    """Return the ground's sediments; none in files of format 1."""
    if not truth.has("sediment"):
        return ()
    group = truth.group("sediment")
    columns = [group.floats(spec.name, 1, layout.MOST_POINTS, finite=False) for spec in layout.SEDIMENT]
    names = group.texts("name", len(columns[0]))
    if any(len(column) != len(names) or np.isnan(column).any() for column in columns):
        message = f"{group.name}: the columns differ in length, or hold no numbers"
        raise EchogramError(message)
    rows = np.stack(columns, axis=1).tolist()
    return tuple(SedimentTruth(name, row[0], tuple(row[1:])) for name, row in zip(names, rows, strict=True))


def _soft(group: trusted.Group, elements: int) -> tuple[SoftTruth, ...]:
    bounds = [group.floats(bound, 1, layout.MOST_POINTS, finite=False) for bound in layout.SOFT_BOX]
    count = len(bounds[0])
    if any(len(bound) != count for bound in bounds):
        message = f"{group.name}: the bounds differ in length"
        raise EchogramError(message)
    words, names = group.texts("kind", count), group.texts("name", count)
    boxes = np.stack(bounds, axis=1).tolist()
    kinds = tuple(_soft_kind(kind) for kind in words)
    if not group.has("strength"):
        return tuple(SoftTruth(kind, name, tuple(box)) for kind, name, box in zip(kinds, names, boxes, strict=True))
    drift = np.stack([group.floats(spec.name, 1, layout.MOST_POINTS, shape=(count,)) for spec in layout.DRIFT], axis=1)
    strength = group.floats("strength", 2, layout.MOST_POINTS, shape=(elements, count), finite=False).T
    known = [tuple(row) if np.isfinite(row).all() else () for row in strength.tolist()]
    return tuple(
        SoftTruth(kind, name, tuple(box), tuple(way), level)
        for kind, name, box, way, level in zip(kinds, names, boxes, drift.tolist(), known, strict=True)
    )


def _soft_kind(word: str) -> SoftKind:
    match word:
        case "school" | "target":
            return word
        case _:  # format 1 used another word for the third kind
            return "scattering_layer"


def _inputs(group: trusted.Group) -> Mapping[str, bytes]:
    result: dict[str, bytes] = {}
    for name in group.names():
        try:
            content = group.octets(name, layout.MOST_INPUT_BYTES - sum(map(len, result.values())))
        except EchogramError as error:
            message = f"{error} (allowed for all input files together: {layout.MOST_INPUT_BYTES >> 20} MiB)"
            raise EchogramError(message) from error
        attributes = group.attributes_of(name)
        if sha256(content).hexdigest() != trusted.text(attributes, "sha256", name):
            message = f"inputs/{name} does not match its sha256"
            raise EchogramError(message)
        result[trusted.text(attributes, "name", name)] = content
    return result


def _record(root: trusted.Group, path: Path) -> Record:
    _check_version(root)
    scenario = root.text("scenario", lines=True)
    if scenario_digest(scenario) != root.text("scenario_sha256"):
        message = "its scenario does not match its sha256"
        raise EchogramError(message)
    group = root.group("elements")
    slugs = group.names()
    if not 0 < len(slugs) <= layout.MOST_ELEMENTS:
        message = f"it holds {len(slugs)} elements"
        raise EchogramError(message)
    elements = sorted((_element(group.group(s), s, path) for s in slugs), key=lambda e: e.info.position)
    truth, seabed = root.group("truth"), root.group("truth").group("seabed")
    pings = min(element.pings for element in elements)
    fish = _fish(truth.group("fish"), len(elements), pings)
    return Record(
        title=root.text("title"),
        seed=root.whole("seed", 0, 1 << 63),
        scenario=scenario,
        scenario_resolved=root.text("scenario_resolved", lines=True),
        elements=tuple(elements),
        truth=Truth(
            fish,
            _structures(truth.group("structure")),
            _soft(truth.group("soft"), len(elements)),
            _sediments(truth),
            owners.read(truth, elements, path),
            optional.surroundings(truth, len(elements), len(fish.id)),
        ),
        seabed_profile=_line(seabed, "along", ("x", "depth")),
        seabed_across=_line(seabed, "across", ("y", "depth")),
        inputs=_inputs(root.group("inputs")) if root.has("inputs") else {},
        history=root.text("history", lines=True),
        warnings=tuple(line for line in root.text("warnings", lines=True).split("\n") if line)
        if root.has_attribute("warnings")
        else (),
        passes=optional.passes(root, len(elements), len(fish.id)),
    )


def file_of(path: Path | str) -> Path:
    """Return the path of an echogram file: in a folder that `run` wrote, its echograms.h5; else the path itself."""
    path = Path(path)
    inside = path / "echograms.h5"
    return inside if path.is_dir() and inside.is_file() else path


def read(path: Path | str) -> Record:
    """Return the recording of a file, or of a folder that `run` wrote; levels (and echo) are read when sliced.

    The file stays open as long as the record is used. All other parts are read and checked at once: types, shapes,
    sizes, checksums, and that nothing refers to another file. Raises EchogramError, with one sentence, for a file that
    is incomplete, was not written by Pingwright, or has a newer format.
    """
    path = file_of(path)
    file = _open(path)
    try:
        with damage_named(path):
            return _record(trusted.Group(file, path), path)
    except EchogramError:
        file.close()
        raise
