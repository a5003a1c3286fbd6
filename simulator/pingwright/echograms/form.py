"""Lays out an echogram file: writes everything except the levels, and reserves space for them.

The same record gives the same bytes: no time of writing is stored.
"""

from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pingwright.echograms import layout, owners, parts
from pingwright.echograms.record import (
    ADD_OFFSET,
    FILL_VALUE,
    SCALE_FACTOR,
    ElementRecord,
    FreshPasses,
    Record,
    StructureTruth,
    Surroundings,
    Truth,
)
from pingwright.files import PROGRAM, version

if TYPE_CHECKING:
    import h5py


#: Level of zlib. The levels of the demo become 29 % smaller; level 6 would give 31 % in three times the time.
DEFLATE_LEVEL = 1


def program() -> str:
    """Return program and version, as stored in the `source` attribute."""
    return f"{PROGRAM} {version()}"


def scenario_digest(text: str) -> str:
    """Return the sha256 of a scenario's text, in hexadecimal."""
    return sha256(text.encode("utf-8")).hexdigest()


def _element_attributes(item: Any, values: Mapping[str, Any]) -> None:
    """Write the attributes of an element; beside each number its unit, if it has one."""
    for name, value in values.items():
        parts.attributes(item, {name: value})
        if isinstance(value, int | float) and name in layout.UNITS:
            item.attrs[f"{name}_unit"] = layout.UNITS[name]


def create(path: Path, header: Record, keep_phase: bool, *, packed: bool = False) -> Any:
    """Return a new h5py.File that holds everything of a record except its levels.

    Space for them is reserved, or, if packed, chunks of any size can be written.
    """
    file = parts.new_file(path)
    _lay_out(file, header, keep_phase, packed)
    return file


def _structure(group: "h5py.Group", structure: StructureTruth) -> None:
    parts.attributes(group, {"name": structure.name, "material": structure.material})
    for name, columns in layout.OUTLINES:
        parts.line(group, name, columns, getattr(structure, name))


def _truth(root: "h5py.Group", truth: Truth, names: tuple[str, ...]) -> None:
    fish, group = truth.fish, parts.new_group(root, "fish")
    scales = {"fish": parts.dimension(group, "fish", len(fish.id))}
    parts.numbered(group, scales, "element", len(names), "position of the element")
    parts.texts(group, scales, "element_name", "element", names, "name of the element")
    parts.whole(group, scales, "id", ("fish",), fish.id, "number of the fish")
    parts.texts(group, scales, "name", "fish", fish.name, "name of the fish's group")
    for spec in layout.FISH:
        parts.variable(group, scales, spec, getattr(fish, spec.name))
    about = "ping at which the fish is nearest, from 0"
    parts.whole(group, scales, "nearest_ping", ("element", "fish"), fish.nearest_ping, about)
    for spec in layout.FISH_BY_ELEMENT:
        parts.variable(group, scales, spec, getattr(fish, spec.name))
    if fish.path is not None:
        parts.variable(group, scales, layout.PATH_TIME, fish.path.time)
        for spec, values in zip(layout.PATH, fish.path.place, strict=True):
            parts.variable(group, scales, spec, values)
    _soft_and_ground(root, truth, names)
    group = parts.new_group(root, "structure")
    for number, structure in enumerate(truth.structures, start=1):
        _structure(parts.new_group(group, f"structure-{number}"), structure)
    if truth.surroundings is not None:
        _surroundings(parts.new_group(root, "surroundings"), truth.surroundings)


def _surroundings(group: "h5py.Group", around: Surroundings) -> None:
    scales = {
        axis: parts.dimension(group, axis, n) for axis, n in zip(("row", "column"), around.level.shape, strict=True)
    }
    for name, long_name in layout.SURROUNDINGS:
        parts.whole(group, scales, name, ("row",), getattr(around, name), long_name)
    if around.ground is not None:
        name, long_name = layout.SURROUNDINGS_GROUND
        parts.whole(group, scales, name, ("row",), around.ground.astype(np.int8), long_name)
    parts.variable(group, scales, layout.SURROUNDINGS_LEVEL, around.level)


def _soft_and_ground(root: "h5py.Group", truth: Truth, names: tuple[str, ...]) -> None:
    group = parts.new_group(root, "soft")
    scales = {"soft": parts.dimension(group, "soft", len(truth.soft))}
    parts.texts(group, scales, "kind", "soft", tuple(s.kind for s in truth.soft), "school, scattering layer or target")
    parts.texts(group, scales, "name", "soft", tuple(s.name for s in truth.soft), "name in the scenario")
    for number, bound in enumerate(layout.SOFT_BOX):
        spec = layout.Variable(bound, ("soft",), "m", f"bound of its box, {layout.AXIS_NAMES[bound[:-1]]}")
        parts.variable(group, scales, spec, np.array([s.box[number] for s in truth.soft], dtype=np.float64))
    for number, spec in enumerate(layout.DRIFT):
        parts.variable(group, scales, spec, np.array([s.drift[number] for s in truth.soft], dtype=np.float64))
    parts.numbered(group, scales, "element", len(names), "position of the element")
    unknown = (np.nan,) * len(names)
    strength = np.array([s.strength or unknown for s in truth.soft], dtype=np.float64).reshape(-1, len(names)).T
    parts.variable(group, scales, layout.STRENGTH, strength)
    group = parts.new_group(root, "sediment")
    scales = {"sediment": parts.dimension(group, "sediment", len(truth.sediments))}
    parts.texts(group, scales, "name", "sediment", tuple(s.name for s in truth.sediments), "name of the sediment")
    columns = [(s.thickness, *s.box) for s in truth.sediments]
    table = np.array(columns, dtype=np.float64).reshape(-1, len(layout.SEDIMENT))
    for number, spec in enumerate(layout.SEDIMENT):
        parts.variable(group, scales, spec, table[:, number])


def _inputs(root: "h5py.Group", inputs: Mapping[str, bytes]) -> None:
    """Store every file that the scenario names; slashes in a name are replaced, `name` holds the full name."""
    group = parts.new_group(root, "inputs")
    for number, (name, content) in enumerate(inputs.items(), start=1):
        flat = name.replace("/", "_")
        flat = flat if flat not in group and flat.strip(".") else f"{number}_{flat}"
        scale = parts.dimension(root, f"input_{number}_byte", len(content))
        dataset = group.create_dataset(flat, data=np.frombuffer(content, dtype=np.uint8))
        dataset.dims[0].attach_scale(scale)
        parts.attributes(
            dataset, {"name": name, "sha256": sha256(content).hexdigest(), "long_name": "bytes of the file"}
        )


def _reserve(
    group: "h5py.Group",
    scales: Mapping[str, Any],
    name: str,
    kind: str,
    shape: tuple[int, int],
    fill: Any,
    packed: bool,
) -> Any:
    """Make a data set of chunks (16 pings, all samples); their places in the file are fixed, unless they are packed."""
    from h5py import h5d, h5p, h5s, h5t

    plist = h5p.create(h5p.DATASET_CREATE)
    plist.set_chunk((min(layout.CHUNK_PINGS, shape[0]), shape[1]))
    if packed:
        plist.set_shuffle()
        plist.set_deflate(DEFLATE_LEVEL)
    else:
        plist.set_alloc_time(h5d.ALLOC_TIME_EARLY)
    plist.set_fill_time(h5d.FILL_TIME_NEVER)
    plist.set_obj_track_times(False)
    dtype = np.dtype(kind)
    if fill is not None:
        plist.set_fill_value(np.array(fill, dtype=dtype))
    h5d.create(group.id, name.encode(), h5t.py_create(dtype), h5s.create_simple(shape), plist)
    dataset = group[name]
    parts.attach(dataset, scales, ("ping", "range"))
    return dataset


def _levels(
    group: "h5py.Group",
    scales: Mapping[str, Any],
    shape: tuple[int, int],
    centre: float,
    keep_phase: bool,
    packed: bool,
) -> None:
    level = _reserve(group, scales, "echo_level", "<i2", shape, FILL_VALUE, packed)
    parts.attributes(
        level,
        {
            "units": "dB",
            "long_name": "level of the matched filter's output re 1 uPa at the face",
            "standard_name": "sound_pressure_level_in_water",
            "coordinates": "ping_time x y",
        },
    )
    # CF demands the type of the unpacked values.
    level.attrs["scale_factor"], level.attrs["add_offset"] = np.float32(SCALE_FACTOR), np.float32(ADD_OFFSET)
    level.attrs["_FillValue"] = np.int16(FILL_VALUE)
    for part in ("real", "imag") if keep_phase else ():
        echo = _reserve(group, scales, f"echo_{part}", "<f4", shape, np.nan, packed)
        side = "in-phase" if part == "real" else "quadrature"
        parts.attributes(echo, {"units": "uPa", "long_name": f"{side} part of the matched filter's output at the face"})
        parts.attributes(echo, {"reference_frequency": centre, "reference_frequency_unit": "Hz", **layout.PHASE})
        echo.attrs["_FillValue"] = np.float32(np.nan)


def _element(group: "h5py.Group", element: ElementRecord, keep_phase: bool, packed: bool) -> None:
    info = element.info
    _element_attributes(group, {name: getattr(info, name) for name in layout.INFO_FIELDS})
    _element_attributes(group, {name: value for name, value in info.extra.items() if name not in layout.INFO_FIELDS})
    scales = {"ping": parts.dimension(group, "ping", element.pings)}
    parts.variable(group, scales, layout.RANGE, element.range)
    for spec in layout.BY_PING:
        parts.variable(group, scales, spec, getattr(element, spec.name))
    for spec in layout.BEAM_AXES:
        parts.variable(group, scales, spec, getattr(element.beam, spec.name))
    plane = parts.numbered(group, scales, "plane", len(layout.BEAM_PLANES), "plane of the beam pattern")
    plane.attrs["flag_values"] = np.arange(len(layout.BEAM_PLANES), dtype=np.int32)
    plane.attrs["flag_meanings"] = " ".join(layout.BEAM_PLANES)
    both = np.stack([element.beam.along, element.beam.across])
    spec = layout.Variable("beam", ("plane", "frequency", "angle"), "dB", "one-way level re the beam's axis")
    parts.variable(group, scales, spec, both)
    centre = 0.5 * (info.band_low + info.band_high)
    _levels(group, scales, (element.pings, len(element.range)), centre, keep_phase, packed)


def _passes(group: "h5py.Group", passes: FreshPasses) -> None:
    axes = ("pass", "element", "fish")
    scales = {axis: parts.dimension(group, axis, size) for axis, size in zip(axes, passes.separated.shape, strict=True)}
    for name, long_name in layout.PASSES:
        dataset = group.create_dataset(name, data=getattr(passes, name).astype(np.int8))
        parts.attach(dataset, scales, axes)
        parts.attributes(dataset, {"long_name": long_name, "units": "1"})
        dataset.attrs["flag_values"] = np.arange(2, dtype=np.int8)
        dataset.attrs["flag_meanings"] = f"not_{name} {name}"


def _lay_out(file: "h5py.File", header: Record, keep_phase: bool, packed: bool) -> None:
    parts.attributes(
        file,
        {
            "format_version": layout.FORMAT_VERSION,
            "Conventions": layout.CONVENTIONS,
            "title": header.title,
            "history": header.history,
            "source": program(),
            "comment": layout.COMMENT,
            "scenario": header.scenario,
            "scenario_resolved": header.scenario_resolved,
            "scenario_sha256": scenario_digest(header.scenario),
            "seed": header.seed,
            "warnings": "\n".join(header.warnings),
        },
    )
    elements = parts.new_group(file, "elements")
    parts.attributes(elements, {"comment": layout.GUIDE})
    for element in header.elements:
        _element(parts.new_group(elements, element.info.slug), element, keep_phase, packed)
    truth = parts.new_group(file, "truth")
    _truth(truth, header.truth, tuple(e.info.name for e in header.elements))
    if header.truth.owners:
        owners.write(truth, header.elements, header.truth.owners)
    seabed = parts.new_group(truth, "seabed")
    parts.line(seabed, "along", ("x", "depth"), header.seabed_profile)
    parts.line(seabed, "across", ("y", "depth"), header.seabed_across)
    _inputs(file, header.inputs)
    if header.passes is not None:
        _passes(parts.new_group(file, "passes"), header.passes)
