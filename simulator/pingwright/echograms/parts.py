"""Parts of an HDF5 file that is also valid netCDF-4: groups, dimensions, variables and attributes.

Dimension scales, CF attributes, links in creation order, text of variable length in UTF-8, and no time of writing: the
same content gives the same bytes.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pingwright.echograms import layout
from pingwright.echograms.record import FloatArray

if TYPE_CHECKING:
    import h5py


# netCDF-4 writes this name for a dimension without a variable; the number is the length, ten characters wide.
NO_VARIABLE = "This is a netCDF dimension but not a netCDF variable.{:10d}"


def attributes(item: Any, values: Mapping[str, Any]) -> None:
    """Write scalar attributes: numbers as numbers, anything else as text."""
    for name, value in values.items():
        if isinstance(value, bool):
            item.attrs[name] = np.int8(value)
        elif isinstance(value, int):
            item.attrs[name] = np.int64(value)
        elif isinstance(value, float):
            item.attrs[name] = np.float64(value)
        else:
            item.attrs[name] = str(value)


def _ordered(kind: Any) -> Any:
    """Return a creation list that keeps the order of links and attributes and stores no time."""
    from h5py import h5p

    plist = h5p.create(kind)
    order = h5p.CRT_ORDER_TRACKED | h5p.CRT_ORDER_INDEXED
    plist.set_link_creation_order(order)
    plist.set_attr_creation_order(order)
    plist.set_obj_track_times(False)  # create_group of h5py does not accept this before about version 3.15
    return plist


def new_group(parent: "h5py.Group", name: str) -> Any:
    """Return a new group that keeps the order of its items."""
    from h5py import h5g, h5p

    h5g.create(parent.id, name.encode(), gcpl=_ordered(h5p.GROUP_CREATE))
    return parent[name]


def new_file(path: Path) -> Any:
    """Return a new h5py.File that keeps the order of its items and stores no time."""
    import h5py

    return h5py.File(h5py.h5f.create(bytes(path), h5py.h5f.ACC_TRUNC, fcpl=_ordered(h5py.h5p.FILE_CREATE)))


def dimension(group: "h5py.Group", name: str, length: int) -> Any:
    """Make a dimension without a variable."""
    scale = group.create_dataset(name, shape=(length,), dtype=">f4")
    scale.make_scale(NO_VARIABLE.format(length))
    return scale


def attach(dataset: "h5py.Dataset", scales: Mapping[str, Any], axes: tuple[str, ...]) -> None:
    """Name the axes of a data set by their dimension scales."""
    for number, axis in enumerate(axes):
        if scales[axis] != dataset:
            dataset.dims[number].attach_scale(scales[axis])


def variable(group: "h5py.Group", scales: dict[str, Any], spec: layout.Variable, values: FloatArray) -> Any:
    """Write one array of floats on its axes; an array with the name of its only axis becomes that axis."""
    dataset = group.create_dataset(spec.name, data=np.asarray(values, dtype=np.float64))
    if spec.axes == (spec.name,):
        dataset.make_scale(spec.name)
        scales[spec.name] = dataset
    attach(dataset, scales, spec.axes)
    attributes(dataset, {"units": spec.units, "long_name": spec.long_name})
    if spec.standard_name:
        dataset.attrs["standard_name"] = spec.standard_name
    if spec.standard_name == "depth":
        dataset.attrs["positive"] = "down"
    return dataset


def texts(
    group: "h5py.Group", scales: dict[str, Any], name: str, axis: str, values: tuple[str, ...], long_name: str
) -> None:
    """Write texts on one axis; if they have the name of the axis, they become that axis."""
    import h5py

    dataset = group.create_dataset(name, data=np.array(values, dtype=object), dtype=h5py.string_dtype("utf-8"))
    if name == axis:
        dataset.make_scale(name)
        scales[name] = dataset
    attach(dataset, scales, (axis,))
    dataset.attrs["long_name"] = long_name


def line(group: "h5py.Group", name: str, columns: tuple[str, str], points: FloatArray) -> None:
    """Write a polyline (point, 2) as two columns on a new dimension."""
    scales = {f"{name}_point": dimension(group, f"{name}_point", len(points))}
    for number, column in enumerate(columns):
        spec = layout.Variable(f"{name}_{column}", (f"{name}_point",), "m", layout.AXIS_NAMES[column])
        variable(group, scales, spec, points[:, number] if len(points) else np.empty(0))


def numbered(group: "h5py.Group", scales: dict[str, Any], name: str, count: int, long_name: str) -> Any:
    """Make a dimension whose coordinate variable counts from 0."""
    dataset = group.create_dataset(name, data=np.arange(count, dtype=np.int32))
    dataset.make_scale(name)
    scales[name] = dataset
    attributes(dataset, {"units": "1", "long_name": long_name})
    return dataset


def whole(
    group: "h5py.Group", scales: dict[str, Any], name: str, axes: tuple[str, ...], values: Any, long_name: str
) -> None:
    """Write an array of whole numbers on its axes."""
    dataset = group.create_dataset(name, data=np.asarray(values, dtype=np.int64))
    attach(dataset, scales, axes)
    dataset.attrs["long_name"] = long_name
