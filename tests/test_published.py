"""Every public formula against the rows of evidence, and no formula without one."""

import importlib
import inspect
import math
import pkgutil

import numpy as np
import pytest
from pingwright import acoustics
from pingwright.validation import rows as topics
from pingwright.validation.collected import rows
from pingwright.validation.row import KNOWN, Row

ROWS = rows()


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_formula_gives_the_published_value(row: Row) -> None:
    value = np.asarray(row.read(row.function(*row.arguments)), dtype=complex)
    assert np.broadcast_shapes(value.shape, np.shape(row.expected)) == value.shape
    found = row.compare()
    assert found.met, f"{found.computed} is not {found.expected}: {row.source} {found.note}"


def public_functions():
    for module in pkgutil.iter_modules(acoustics.__path__):
        room = importlib.import_module(f"pingwright.acoustics.{module.name}")
        for name, function in inspect.getmembers(room, inspect.isfunction):
            if function.__module__ == room.__name__ and not name.startswith("_") and name != "formula":  # a decorator
                yield function


def test_every_public_formula_has_a_row():
    with_row = {row.function for row in ROWS}
    missing = [f"{f.__module__}.{f.__name__}" for f in public_functions() if f not in with_row]
    assert missing == []


def test_no_topic_is_left_out():
    for module in pkgutil.iter_modules(topics.__path__):
        rows_there = importlib.import_module(f"{topics.__name__}.{module.name}").ROWS
        assert all(any(row is one for one in ROWS) for row in rows_there), module.name


def test_there_are_rows_enough_in_topics_enough():
    assert {row.known for row in ROWS} <= set(KNOWN)
    assert sum(row.known in KNOWN[:2] for row in ROWS) >= 120  # seen in print, or by an independent library
    assert len({row.topic for row in ROWS}) >= 8


@pytest.mark.parametrize(
    ("value", "met"),
    [(1.0, True), (1.09, True), (1.11, False), (math.nan, False), ([1.0, 1.2], False), ("text", False)],
)
def test_a_row_is_missed_where_a_value_is_outside_its_tolerance(value, met):
    found = Row(lambda: value, (), 1.0, "exact", abs=0.1).compare()
    assert found.met is met
    assert Row(lambda: -math.inf, (), -math.inf, "exact").compare().met


def test_every_row_says_where_its_number_is_from() -> None:
    marks = ("published", "computed", "exact", "limit", "law", "estimate", "from memory", "Mackenzie")
    assert [str(row) for row in ROWS if not any(mark in row.source for mark in marks)] == []


@pytest.mark.parametrize("function", list(public_functions()), ids=lambda f: f"{f.__module__}.{f.__name__}")
def test_docstring_states_units_validity_and_source(function):
    text = inspect.getdoc(function) or ""
    assert "Source" in text or "source" in text
    assert "[" in text or "dB" in text
    if not function.__module__.endswith("arrays"):
        assert any(word in text.lower() for word in ("valid", "exact", "closed form"))
