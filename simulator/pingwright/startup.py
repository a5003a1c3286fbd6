"""Parts of libraries that the command does not load at its start, because they are imported but never used."""

import sys
from collections.abc import Sequence
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, PathFinder
from importlib.util import LazyLoader
from types import ModuleType

#: Loaded by a star import of numpy inside scipy, and half of what importing `scipy.special` costs (0.12 of 0.24 s): a
#: translator of Fortran with all it needs, masked arrays, tools for tests. And what numba looks for at its start.
SELDOM_USED = frozenset(
    {"numpy.f2py", "numpy.ma", "numpy.testing", "numpy.polynomial", "numpy.ctypeslib", "yaml", "coverage"}
)


class _Later(MetaPathFinder):
    """Finds these modules as usual, but loads each only when something in it is used."""

    def find_spec(
        self, name: str, path: Sequence[str] | None = None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        """Return the spec of a module that is loaded later, None for any other."""
        spec = PathFinder.find_spec(name, path, target) if name in SELDOM_USED else None
        if spec is not None and spec.loader is not None:
            spec.loader = LazyLoader(spec.loader)
        return spec


def leave_for_later() -> None:
    """Load seldom used modules only when they are used. Only for our own process: a library must not change imports."""
    sys.meta_path.insert(0, _Later())
