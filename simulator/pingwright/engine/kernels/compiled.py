"""Compiles kernels and stores the machine code between runs, under a key that is the same in every process.

For a function made inside another function, the key of numba holds the pickles of the enclosed objects. Those of
compiled functions differ in every process, so the stored code would never be found again. Here the key is made of the
purpose of the kernel and of the text of the modules whose functions are built into it.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from typing import Any

import numba
from numba.core.caching import FunctionCache
from numba.core.dispatcher import Dispatcher
from numba.core.runtime import rtsys


@lru_cache(maxsize=1)
def _sources() -> str:
    """Return one digest of all modules of this folder."""
    total = sha256()
    for path in sorted(Path(__file__).parent.glob("*.py")):
        total.update(path.read_bytes())
    return total.hexdigest()


_listeners: list[Callable[[], None]] = []


@contextmanager
def reporting_compiling(report: Callable[[], None]) -> Iterator[None]:
    """Call report() before each kernel that must be compiled because no machine code of it is stored yet."""
    _listeners.append(report)
    try:
        yield
    finally:
        _listeners.remove(report)


class _Kept(FunctionCache):
    """A cache on disk; the key is the kernel's signature, the processor, the kernel's purpose, and our sources."""

    def __init__(self, function: Callable[..., Any], made_for: object) -> None:
        super().__init__(function)  # type: ignore[no-untyped-call]
        self._made_for = repr(made_for)

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        # Stored code needs numba's memory alone; what compiling needs (0.25 s) is loaded only if nothing is stored.
        rtsys.initialize(target_context)  # type: ignore[no-untyped-call]
        result: Any = None
        with self._guard_against_spurious_io_errors():  # type: ignore[no-untyped-call]
            result = self._load_overload(sig, target_context)  # type: ignore[no-untyped-call]
        if result is None:
            result = super().load_overload(sig, target_context)  # type: ignore[no-untyped-call]
        if result is None:
            for report in _listeners:
                report()
        return result

    def _index_key(self, signature: Any, codegen: Any) -> tuple[Any, ...]:
        return (signature, codegen.magic_tuple(), (self._made_for, _sources()))


def compiled(made_for: object = (), checked: bool = False) -> Callable[[Callable[..., Any]], Any]:
    """Return a decorator that compiles a kernel, without the GIL and with IEEE division.

    made_for: everything that distinguishes this kernel from others of the same name (repr is its key). checked: every
    index into an array is checked (slow; for tests). If no folder for machine code can be written (a read-only install
    without a home), each process compiles again.
    """

    def make(function: Callable[..., Any]) -> Any:
        if made_for:
            # Machine code stored by other processes is linked by name: kernels with the same name would be mixed up.
            tag = sha256(repr((made_for, checked)).encode()).hexdigest()[:12]
            function.__name__, function.__qualname__ = (
                f"{name}_{tag}" for name in (function.__name__, function.__qualname__)
            )
        kernel: Any = numba.njit(nogil=True, error_model="numpy", boundscheck=checked)(function)
        if isinstance(kernel, Dispatcher):  # a plain function if compiling is switched off
            try:
                kernel._cache = _Kept(function, (made_for, checked) if checked else made_for)
            except RuntimeError:  # no folder to store it
                return kernel
        return kernel

    return make
