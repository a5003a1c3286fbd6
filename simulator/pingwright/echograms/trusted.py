"""Careful reading of an HDF5 group: every item is read by name, after its type, shape and size are checked."""

import math
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms import layout, plausible
from pingwright.errors import EchogramError

if TYPE_CHECKING:
    import h5py


def _refuse(message: str) -> NoReturn:
    raise EchogramError(message)


def _scalar(attributes: "h5py.AttributeManager", name: str, place: str) -> Any:
    """Return an attribute that is one value; its size is checked before it is read."""
    if name not in attributes:
        _refuse(f"{place} has no attribute {name}")
    kind = attributes.get_id(name)
    if math.prod(kind.shape or ()) != 1 or kind.dtype.itemsize > layout.MOST_TEXT:
        _refuse(f"{place}: attribute {name} is not one value")
    value = attributes[name]
    if isinstance(value, np.ndarray):
        value = value.reshape(-1)[0]
    return value


def number(attributes: "h5py.AttributeManager", name: str, place: str, *, finite: bool = True) -> float:
    """Return a (finite) number held as a scalar attribute, in the unit the layout gives it."""
    value = _scalar(attributes, name, place)
    if not isinstance(value, np.floating | np.integer) or np.isnan(value) or (finite and not np.isfinite(value)):
        _refuse(f"{place}: attribute {name} is not a finite number")
    return float(value)


def text(attributes: "h5py.AttributeManager", name: str, place: str, *, lines: bool = False) -> str:
    """Return a text held as a scalar attribute, of one line or of several, without control characters."""
    value = _scalar(attributes, name, place)
    if isinstance(value, bytes):
        value = value.decode("utf-8", errors="replace")
    if not isinstance(value, str) or len(value) > layout.MOST_TEXT:
        _refuse(f"{place}: attribute {name} is not a text")
    return plausible.text(value, f"{place}: attribute {name}", lines=lines)


class Group:
    """A group of an open file that is not trusted.

    Every method raises EchogramError, without the file's name and full stop, if an item is not as expected.
    """

    def __init__(self, item: Any, path: Path) -> None:
        self._item = item
        self._path = path
        self.name = str(item.name).strip("/") or "the file"

    def names(self) -> list[str]:
        """Return the names in it, in the order in which they were made."""
        if len(self._item) > 100 * layout.MOST_ELEMENTS:
            _refuse(f"{self.name} holds too many items")
        return list(self._item)

    def has(self, name: str) -> bool:
        """Return whether it holds an item of this name."""
        return name in self._item

    def has_attribute(self, name: str) -> bool:
        """Return whether it has this attribute."""
        return name in self._item.attrs

    def _get(self, name: str) -> Any:
        import h5py

        if name not in self._item:
            _refuse(f"{name} is missing in {self.name}")
        if not isinstance(self._item.get(name, getlink=True), h5py.HardLink):
            _refuse(f"{self.name}/{name} is a link to elsewhere")
        return self._item[name]

    def group(self, name: str) -> "Group":
        """Return a group in it."""
        import h5py

        item = self._get(name)
        if not isinstance(item, h5py.Group):
            _refuse(f"{self.name}/{name} is not a group")
        return Group(item, self._path)

    def attributes_of(self, name: str) -> Any:
        """Return the attributes of an item in it."""
        return self._get(name).attrs

    def number(self, name: str, *, finite: bool = True) -> float:
        """Return an attribute that is a (finite) number, in the unit the layout gives it."""
        return number(self._item.attrs, name, self.name, finite=finite)

    def whole(self, name: str, low: int, high: int) -> int:
        """Return an attribute that is a whole number, low <= value < high."""
        value = _scalar(self._item.attrs, name, self.name)
        if not isinstance(value, np.integer) or not low <= int(value) < high:
            _refuse(f"{self.name}: attribute {name} is not a whole number from {low} to below {high}")
        return int(value)

    def text(self, name: str, *, lines: bool = False) -> str:
        """Return an attribute that is a text of one line, or of several."""
        return text(self._item.attrs, name, self.name, lines=lines)

    def further(self, known: tuple[str, ...]) -> Mapping[str, Any]:
        """Return the attributes that are not known ones: texts, whole numbers and numbers; others are ignored."""
        result: dict[str, Any] = {}
        for name in self._item.attrs:
            if name in known:
                continue
            value = _scalar(self._item.attrs, name, self.name)
            if isinstance(value, np.bool_ | np.int8):
                result[name] = bool(value)
            elif isinstance(value, np.integer):
                result[name] = int(value)
            elif isinstance(value, np.floating):
                result[name] = float(value)
            elif isinstance(value, str):
                result[name] = plausible.text(value, f"{self.name}: attribute {name}", lines=True)
        return result

    def _dataset(self, name: str, dimensions: int, most: int, shape: tuple[int, ...] | None) -> Any:
        import h5py

        item = self._get(name)
        place = f"{self.name}/{name}"
        if not isinstance(item, h5py.Dataset):
            _refuse(f"{place} is not a data set")
        if item.is_virtual or item.external:
            _refuse(f"{place} keeps its values outside the file")
        if item.shape is None or item.ndim != dimensions:
            _refuse(f"{place} does not have {dimensions} axes")
        if shape is not None and item.shape != shape:
            _refuse(f"{place} has the shape {item.shape}; {shape} is needed")
        if math.prod(item.shape) > most * max(1, layout.MOST_ELEMENTS if dimensions > 1 else 1):
            _refuse(f"{place} is too large")
        self._check_storage(item, place)
        return item

    @staticmethod
    def _check_storage(item: Any, place: str) -> None:
        """Refuse a data set whose values are not in the file: a small file must not expand to a huge array."""
        held, claimed = item.id.get_storage_size(), item.size * item.dtype.itemsize
        filtered = item.id.get_create_plist().get_nfilters() > 0
        if claimed > held * (1100 if filtered else 1):  # deflate compresses at most 1032 : 1
            _refuse(f"{place} should hold {claimed} bytes but holds {held}")

    def floats(
        self, name: str, dimensions: int, most: int, *, shape: tuple[int, ...] | None = None, finite: bool = True
    ) -> NDArray[np.float64]:
        """Return an array of floats in the unit the layout gives it; `finite` refuses nan and infinities."""
        item = self._dataset(name, dimensions, most, shape)
        if item.dtype.kind != "f" or item.dtype.itemsize > 8:
            _refuse(f"{self.name}/{name} does not hold floating-point numbers")
        values = np.asarray(item[()], dtype=np.float64)
        if finite and not np.isfinite(values).all():
            _refuse(f"{self.name}/{name} holds values that are not finite")
        return values

    def integers(
        self, name: str, dimensions: int, most: int, *, shape: tuple[int, ...] | None = None
    ) -> NDArray[np.int64]:
        """Return an array of whole numbers."""
        item = self._dataset(name, dimensions, most, shape)
        if item.dtype.kind != "i":
            _refuse(f"{self.name}/{name} does not hold whole numbers")
        return np.asarray(item[()], dtype=np.int64)

    def texts(self, name: str, count: int) -> tuple[str, ...]:
        """Return an array of texts, of a known length."""
        import h5py

        item = self._get(name)
        kind = h5py.check_string_dtype(item.dtype) if isinstance(item, h5py.Dataset) else None
        if kind is None or kind.length is not None or item.shape != (count,) or item.is_virtual or item.external:
            _refuse(f"{self.name}/{name} does not hold {count} texts")
        self._check_storage(item, f"{self.name}/{name}")
        values = item.asstr(errors="replace")[()] if count else ()
        return tuple(plausible.text(str(value), f"{self.name}/{name}", lines=False) for value in values)

    def octets(self, name: str, most: int) -> bytes:
        """Return the bytes of a stored file, at most `most`."""
        item = self._dataset(name, 1, most, None)
        if item.dtype != np.uint8:
            _refuse(f"{self.name}/{name} does not hold bytes")
        return np.asarray(item[()]).tobytes()

    def large(self, name: str, kind: str, shape: tuple[int, int]) -> Any:
        """Return a data set to be read slice by slice later."""
        item = self._dataset(name, 2, layout.MOST_PINGS * layout.MOST_SAMPLES, shape)
        if item.dtype != np.dtype(kind):
            _refuse(f"{self.name}/{name} does not hold numbers of the type {kind}")
        return item
