"""Which kind of thing dominates each sample, in the file: truth/owner/<slug>/owner, packed; only on request."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms import layout, parts, trusted
from pingwright.echograms.record import NO_OWNER, OWNERS, ElementRecord
from pingwright.echograms.stored import Stored
from pingwright.errors import EchogramError

if TYPE_CHECKING:
    import h5py


#: Level of zlib: equal kinds stand in long rows, which shrink to about a twentieth.
DEFLATE_LEVEL = 4
COMMENT = (
    "The kind whose echo alone, before noise and saturation, has the most power in the sample; noise where its mean"
    " power is more than that of any kind."
)


def write(truth: "h5py.Group", elements: tuple[ElementRecord, ...], owners: tuple[Any, ...]) -> None:
    """Write owners (one int8 array (ping, sample) an element) into the truth group of a file in the making."""
    group = parts.new_group(truth, "owner")
    parts.attributes(group, {"comment": COMMENT})
    for element, kinds in zip(elements, owners, strict=True):
        one = parts.new_group(group, element.info.slug)
        scales = {"ping": parts.dimension(one, "ping", element.pings)}
        parts.variable(one, scales, layout.RANGE, element.range)
        shape = (element.pings, len(element.range))
        chunks = (min(layout.CHUNK_PINGS, shape[0]), shape[1])
        options = {"compression": "gzip", "compression_opts": DEFLATE_LEVEL, "fillvalue": np.int8(NO_OWNER)}
        dataset = one.create_dataset("owner", shape, dtype="i1", chunks=chunks, track_times=False, **options)
        for first in range(0, shape[0], chunks[0]):
            dataset[first : first + chunks[0]] = kinds[first : first + chunks[0]]
        parts.attach(dataset, scales, ("ping", "range"))
        parts.attributes(dataset, {"long_name": "kind of thing that dominates the sample", "comment": COMMENT})
        dataset.attrs["flag_values"] = np.arange(len(OWNERS), dtype=np.int8)
        parts.attributes(dataset, {"flag_meanings": " ".join(OWNERS)})
        dataset.attrs["_FillValue"] = np.int8(NO_OWNER)


def read(truth: trusted.Group, elements: list[ElementRecord], path: Path) -> tuple[Stored, ...]:
    """Return the owners of a file's elements, read when sliced; nothing if the file does not hold them.

    Raises EchogramError if they do not match the elements, or if a slice holds an unknown kind.
    """
    if not truth.has("owner"):
        return ()
    group, result = truth.group("owner"), []
    for element in elements:
        shape = (element.pings, len(element.range))
        values = group.group(element.info.slug).large("owner", "i1", shape)

        def checked(key: Any, values: Any = values) -> NDArray[Any]:
            some = np.asarray(values[key])
            if some.size and not (some.min() >= NO_OWNER and some.max() < len(OWNERS)):
                message = "truth/owner names a kind of thing that there is not"
                raise EchogramError(message)
            return some

        result.append(Stored(checked, shape, np.int8, str(path)))
    return tuple(result)
