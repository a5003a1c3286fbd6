"""The measures by name, each found in its own file."""

import pkgutil
from functools import cache
from importlib import import_module

from pingwright.measures.base import Measure


@cache
def measures() -> dict[str, Measure]:
    """Return every measure by the name files have for it."""
    import pingwright.measures as room

    found: dict[str, Measure] = {}
    for module in sorted(m.name for m in pkgutil.iter_modules(room.__path__)):
        for thing in vars(import_module(f"pingwright.measures.{module}")).values():
            if isinstance(thing, type) and issubclass(thing, Measure) and hasattr(thing, "name"):
                found.setdefault(thing.name, thing())
    return found


def measure(name: str) -> Measure:
    """Return a measure by name; KeyError for an unknown one."""
    return measures()[name]
