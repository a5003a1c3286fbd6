"""Every public formula against the numbers of `published`, and no formula without one."""

import importlib
import inspect
import pkgutil

import numpy as np
import pytest
from pingwright import acoustics
from published import ROWS, Row


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_formula_gives_the_published_value(row: Row) -> None:
    value = np.asarray(row.read(row.function(*row.arguments)), dtype=complex)
    expected = np.asarray(row.expected, dtype=complex)
    assert np.broadcast_shapes(value.shape, expected.shape) == value.shape
    with np.errstate(invalid="ignore"):
        close = np.abs(value - expected) <= row.abs + row.rel * np.abs(expected)
    assert np.all(close | (value == expected)), f"{value} is not {expected}: {row.source}"


def public_functions():
    for module in pkgutil.iter_modules(acoustics.__path__):
        room = importlib.import_module(f"pingwright.acoustics.{module.name}")
        for name, function in inspect.getmembers(room, inspect.isfunction):
            if function.__module__ == room.__name__ and not name.startswith("_"):
                yield function


def test_every_public_formula_has_a_row():
    with_row = {row.function for row in ROWS}
    missing = [f"{f.__module__}.{f.__name__}" for f in public_functions() if f not in with_row]
    assert missing == []


def test_there_are_rows_enough_in_topics_enough():
    assert len(ROWS) >= 80
    assert len({row.topic for row in ROWS}) >= 8


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_row_says_where_its_number_is_from(row: Row) -> None:
    marks = ("published", "computed", "exact", "limit", "law", "estimate", "from memory", "Mackenzie")
    assert any(mark in row.source for mark in marks)


@pytest.mark.parametrize("function", list(public_functions()), ids=lambda f: f"{f.__module__}.{f.__name__}")
def test_docstring_states_units_validity_and_source(function):
    text = inspect.getdoc(function) or ""
    assert "Source" in text or "source" in text
    assert "[" in text or "dB" in text
    if not function.__module__.endswith("arrays"):
        assert any(word in text.lower() for word in ("valid", "exact", "closed form"))
