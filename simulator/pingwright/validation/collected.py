"""All rows of evidence, by topic."""

from importlib import import_module
from pkgutil import iter_modules

from pingwright.validation.row import Row


def rows() -> list[Row]:
    """Return every row, topic by topic: ROWS of each module in `rows/`."""
    from pingwright.validation import rows as folder

    topics = sorted(module.name for module in iter_modules(folder.__path__))
    return [row for topic in topics for row in import_module(f".rows.{topic}", __package__).ROWS]
