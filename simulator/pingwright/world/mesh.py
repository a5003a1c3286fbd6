"""Reads meshes from files (STL, OBJ, PLY) that are not trusted."""

import io
import logging
import re
import warnings
from pathlib import PurePosixPath
from typing import Any

import numpy as np

from pingwright.errors import Fault, ScenarioError
from pingwright.world.scatterers import FloatArray
from pingwright.world.solids import Solid

FORMATS = ("stl", "obj", "ply")
MOST_BYTES = 64 * 2**20
MOST_TRIANGLES = 1_000_000
SMALLEST, LARGEST = 0.05, 1000.0  # m, of the longest side
#: Metres in the units of a mesh file.
UNITS = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254, "km": 1000.0}


def load(content: bytes, name: str, metres: float) -> tuple[Solid, bool]:
    """Return a mesh [m] standing on up = 0 with its middle over the origin, and whether it is closed.

    content of the file `name`; metres a unit of the file. Axes of the file: x along, y across, z up. Right-handed
    drawing axes are turned so that across is starboard. Raises ScenarioError, with the file's name, for a file that is
    not a mesh, too large, empty, not finite or of an impossible size.
    """
    kind = PurePosixPath(name).suffix.lower().lstrip(".")
    if kind not in FORMATS:
        raise _refused(name, f"found a file ending in {kind!r}; allowed: {', '.join(FORMATS)}")
    if len(content) > MOST_BYTES:
        raise _refused(name, f"found {len(content) / 2**20:.0f} MB; allowed: {MOST_BYTES // 2**20} MB")
    vertices, triangles, closed = _read(content, name, kind)
    if not len(triangles):
        raise _refused(name, "found no triangles; allowed: a surface of triangles or polygons")
    if len(triangles) > MOST_TRIANGLES:
        raise _refused(name, f"found {len(triangles):,} triangles; allowed: {MOST_TRIANGLES:,}")
    if not np.isfinite(vertices).all() or np.abs(vertices).max() > 1e12:
        raise _refused(name, "found coordinates that are not finite numbers; allowed: numbers below 1e12")
    vertices = vertices * metres
    size = float(np.ptp(vertices, axis=0).max())
    if not SMALLEST <= size <= LARGEST:
        words = f"found a mesh {size:.3g} m long; allowed: {SMALLEST} m to {LARGEST:.0f} m (is its unit right?)"
        raise _refused(name, words)
    # A drawing's y points to port when z points up and x ahead; across is starboard. A mirror turns triangles over.
    vertices = vertices * [1.0, -1.0, 1.0]
    low, high = vertices.min(axis=0), vertices.max(axis=0)
    middle = np.array([(low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0, low[2]])
    return (vertices - middle, triangles[:, ::-1].copy()), closed


def _read(content: bytes, name: str, kind: str) -> tuple[FloatArray, Any, bool]:
    """Parse a file; every failure becomes a ScenarioError."""
    import trimesh

    logging.getLogger("trimesh").setLevel(logging.CRITICAL)
    try:
        # Huge coordinates overflow before they are refused: one message is enough.
        with np.errstate(all="ignore"), warnings.catch_warnings(action="ignore"):
            # Without a resolver the parser does not look for materials and textures beside the file.
            plain = io.BytesIO(_plain(content, kind))
            loaded = trimesh.load_mesh(plain, file_type=kind, process=True, skip_materials=True)
            if isinstance(loaded, trimesh.Scene):
                loaded = loaded.to_geometry()
            vertices = np.asarray(loaded.vertices, dtype=np.float64)
            triangles = np.asarray(loaded.faces, dtype=np.int64)
            if len(triangles) and len(triangles) <= MOST_TRIANGLES and np.isfinite(vertices).all():
                flat = np.linalg.norm(np.cross(*_edges(vertices, triangles)), axis=1) <= 0.0
                triangles = triangles[~flat]
            closed = bool(len(triangles) and loaded.is_watertight)
            if closed and loaded.volume < 0.0:
                triangles = triangles[:, ::-1].copy()
    except Exception as error:  # a parser of unknown files may raise any error
        words = f"found no readable {kind.upper()} mesh; allowed: a whole {kind.upper()} file of triangles or polygons"
        raise _refused(name, words) from error
    return vertices, triangles, closed


def _plain(content: bytes, kind: str) -> bytes:
    """Return a file of text as one surface: the parser would make ten thousand meshes of ten thousand parts."""
    if kind == "obj":
        return _obj(content.replace(b"\\\n", b" ").splitlines())
    if kind == "stl" and content.lstrip()[:5].lower() == b"solid" and b"\0" not in content[:1000]:
        remaining = [line for line in content.splitlines() if not re.match(rb"\s*(end)?solid", line, re.IGNORECASE)]
        return b"solid one\n" + b"\n".join(remaining) + b"\nendsolid one\n"
    return content


def _obj(lines: list[bytes]) -> bytes:
    """Return only vertices and faces; a face may count vertices backwards from the last one before it (-1)."""
    remaining, count = [], 0
    for line in lines:
        words = line.split()
        if words[:1] == [b"v"]:
            count += 1
            remaining.append(b" ".join(words[:4]))
        elif words[:1] == [b"f"]:
            corners = [word.partition(b"/")[0] for word in words[1:]]
            remaining.append(b"f " + b" ".join(b"%d" % (count + 1 + int(c)) if c[:1] == b"-" else c for c in corners))
    return b"\n".join(remaining) + b"\n"


def _edges(vertices: FloatArray, triangles: Any) -> tuple[FloatArray, FloatArray]:
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    return b - a, c - a


def _refused(name: str, words: str) -> ScenarioError:
    return ScenarioError([Fault(name, 0, "", words)])
