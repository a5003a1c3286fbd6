"""Groups, types and variables of SONAR-netCDF4 2.0, written as HDF5 that netCDF-4 reads.

Source: The SONAR-netCDF4 convention for sonar data, version 2.0 (ICES; first published as Cooperative Research Report
341, 2018). Names, types, dimensions and units are those of its tables.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms import parts

if TYPE_CHECKING:
    import h5py


FloatArray = NDArray[np.float64]

ROOT = {
    "Conventions": "CF-1.7, SONAR-netCDF4-2.0, ACDD-1.3",
    "sonar_convention_authority": "ICES",
    "sonar_convention_name": "SONAR-netCDF4",
    "sonar_convention_version": "2.0",
}
ENUMS: Mapping[str, Mapping[str, int]] = {
    "beam_stabilisation_t": {"not_stabilised": 0, "stabilised": 1},
    "beam_t": {
        "single": 0,
        "split_aperture_angles": 1,
        "split_aperture_4_subbeams": 2,
        "split_aperture_3_subbeams": 3,
        "split_aperture_3_1_subbeams": 4,
    },
    "conversion_equation_t": {f"type_{number}": number for number in range(1, 7)},
    "transmit_t": {"CW": 0, "LFM": 1, "HFM": 2},
}
TRANSDUCERS = {"receive_only": 0, "transmit_only": 1, "monostatic": 3}
#: Variable-length rows of samples.
SAMPLES = "sample_t"
TIME = {
    "axis": "T",
    "calendar": "gregorian",
    "standard_name": "time",
    "units": "nanoseconds since 1970-01-01 00:00:00Z",
    "long_name": "time of the ping",
}


@dataclass(frozen=True)
class Item:
    """One variable: name, dimensions, values, attributes; kind: an HDF5 type instead of that of the values."""

    name: str
    axes: tuple[str, ...]
    values: Any
    attributes: Mapping[str, Any] = field(default_factory=dict)
    kind: Any = None


def angle(units: str, low: float, high: float, long_name: str, standard_name: str = "") -> dict[str, Any]:
    """Return the attributes of an angle or position [units] between bounds."""
    named = {"standard_name": standard_name} if standard_name else {}
    return {"units": units, "valid_range": np.array([low, high]), "long_name": long_name, **named}


class Group:
    """A group of the file that is being written: its dimensions, types and variables."""

    def __init__(self, parent: "h5py.Group", name: str, shared: "Group | None" = None) -> None:
        self.item = parts.new_group(parent, name)
        self._scales: dict[str, Any] = {}
        self._shared = shared

    def attributes(self, values: Mapping[str, Any]) -> None:
        """Write attributes of the group."""
        parts.attributes(self.item, values)

    def dimension(self, name: str, length: int) -> None:
        """Make a dimension without a variable."""
        self._scales[name] = parts.dimension(self.item, name, length)

    def enum(self, name: str, values: Mapping[str, int]) -> None:
        """Commit an enumeration as a named type."""
        import h5py

        self.item[name] = h5py.enum_dtype(dict(values), basetype="i1")

    def samples(self) -> None:
        """Commit the type of ragged rows of samples."""
        import h5py

        self.item[SAMPLES] = h5py.vlen_dtype(np.float32)

    def add(self, one: Item) -> Any:
        """Write a variable; a variable with the name of its only axis becomes that axis."""
        import h5py

        values, kind = one.values, one.kind
        if isinstance(values, str) or (isinstance(values, list) and values and isinstance(values[0], str)):
            kind = h5py.string_dtype("utf-8")
        shape = np.shape(values) if kind is None or not h5py.check_vlen_dtype(getattr(kind, "dtype", kind)) else None
        if shape is None and not isinstance(values, str | list):
            dataset = self.item.create_dataset(one.name, shape=(len(values), 1, 1), dtype=kind)
            for ping, row in enumerate(values):
                dataset[ping, 0, 0] = np.asarray(row, dtype=np.float32)
        else:
            dataset = self.item.create_dataset(one.name, data=values, dtype=kind)
        if one.axes == (one.name,):
            dataset.make_scale(one.name)
            self._scales[one.name] = dataset
        parts.attach(dataset, self._scales, one.axes)
        for name, value in one.attributes.items():
            if name.startswith("valid_"):
                dataset.attrs[name] = np.asarray(value, dataset.dtype)  # CF demands the type of the variable
            else:
                parts.attributes(dataset, {name: value})
        return dataset
