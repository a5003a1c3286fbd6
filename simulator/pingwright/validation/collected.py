"""All rows of evidence, by topic."""

from importlib import import_module
from pkgutil import iter_modules

from pingwright.validation import rows as room
from pingwright.validation.row import Row


def topics() -> tuple[str, ...]:
    """Return the names of the modules of rows."""
    return tuple(sorted(module.name for module in iter_modules(room.__path__)))


def rows() -> list[Row]:
    """Return every row, topic by topic."""
    return [row for topic in topics() for row in import_module(f"{room.__name__}.{topic}").ROWS]
