"""What the command does before it loads anything: parts of libraries that are imported but never used come later."""

import os
import sys
from collections.abc import Sequence
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, PathFinder, SourceFileLoader
from importlib.util import LazyLoader
from types import ModuleType

#: Loaded by a star import of numpy inside scipy, and half of what importing `scipy.special` costs (0.12 of 0.24 s): a
#: translator of Fortran with all it needs, masked arrays, tools for tests. And what numba looks for at its start.
SELDOM_USED = frozenset({"numpy.f2py", "numpy.ma", "numpy.testing", "numpy.polynomial", "numpy.ctypeslib", "yaml"})
#: numba reports to it what it compiles, wherever it is installed: as if it were not, unless it is in use already.
_NOT_HERE = "coverage"
#: Modules that write help texts anew while a library is imported, for nobody who reads them: scipy's 0.1 s,
#: matplotlib's (the properties of everything that can be drawn) 0.5 s. And what in them does it.
_WRITE_HELP = {"scipy._lib._array_api": "FunctionDoc", "matplotlib.artist": "kwdoc"}


class _Help(dict[str, list[str]]):
    """Stands for the parsed help text of a function: takes what is added, and gives the text as it was."""

    def __init__(self, function: object) -> None:
        super().__init__(Notes=[])
        self._text = f"\n{function.__doc__}"

    def __str__(self) -> str:
        return self._text


def _no_properties(_: object) -> str:
    """Stands for the list of the properties of a class."""
    return ""


_INSTEAD = {"FunctionDoc": _Help, "kwdoc": _no_properties}


class _WithoutHelp(SourceFileLoader):
    """Loads a module of `_WRITE_HELP` with what does nothing in place of what writes."""

    def exec_module(self, module: ModuleType) -> None:
        """Load the module."""
        super().exec_module(module)
        writer = _WRITE_HELP[self.name]
        if hasattr(module, writer):
            module.__dict__[writer] = _INSTEAD[writer]


class _Later(MetaPathFinder):
    """Finds these modules as usual, but loads each only when something in it is used."""

    def find_spec(
        self, name: str, path: Sequence[str] | None = None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        """Return the spec of a module that is loaded in another way here, None for any other."""
        if name == _NOT_HERE:
            raise ModuleNotFoundError(name)
        spec = PathFinder.find_spec(name, path, target) if name in SELDOM_USED or name in _WRITE_HELP else None
        if spec is not None and isinstance(spec.loader, SourceFileLoader):
            quick = name in _WRITE_HELP
            spec.loader = _WithoutHelp(name, spec.loader.path) if quick else LazyLoader(spec.loader)
        return spec


def leave_for_later() -> None:
    """Load seldom used modules only when they are used. Only for our own process: a library must not change imports.

    Matrices here are small: a second thread for each took 0.3 s of processor time of a small run, and saved none.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # else the files of all installed packages are read
    sys.meta_path.insert(0, _Later())
