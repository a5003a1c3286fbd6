"""The numbers of a question, and their tables in the customer's units."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from itertools import chain
from typing import Any

import numpy as np

from pingwright import workers
from pingwright.advice import cases, numbers
from pingwright.advice.cases import Day
from pingwright.advice.numbers import Banded, Passing
from pingwright.inputs.trip import Trip
from pingwright.measure.intervals import clopper_pearson
from pingwright.measures.base import nominal_depth
from pingwright.trials import day as days
from pingwright.trials.placement import Species
from pingwright.words import Units, fish_length, length

#: What is computed for each question.
NEEDS: Mapping[str, tuple[str, ...]] = {
    "swath": ("passes",),
    "loss": ("passes", "bottom"),
    "depth": ("fish", "bottom"),
    "size": ("smallest",),
    "power": ("fish", "bottom", "passes"),
    "pulse": ("fish", "bottom", "passes"),
    "beam": ("fish", "bottom", "passes"),
    "chirp": ("fish", "bottom", "passes"),
    "speed": ("passes", "fish", "bottom"),
    "roll": ("passes",),
}


@dataclass(frozen=True)
class Water:
    """What all elements of a day show of a species over one bottom.

    bottom, fish [m]: depths of the bottom and, in the middle, of the fish; at [m]: the depth the question gives them,
    or None; step [m]: way between pings; by element: passes or None, smallest fish [m] or None, loss to harmonics [dB,
    one way], resolution and wavelength [m].
    """

    day: str
    species: str
    bottom: float
    fish: float
    at: float | None
    step: float
    passes: tuple[Passing | None, ...]
    smallest: tuple[Banded | None, ...]
    harmonics: tuple[float, ...]
    resolution: tuple[float, ...]
    wavelength: tuple[float, ...]


@dataclass(frozen=True)
class Found:
    """All numbers of a question: waters, and how deep elements show each species and hold each sediment [m].

    fish: (day, species) -> by element; bottom: (day, sediment) -> by element.
    """

    trip: Trip
    days: tuple[Day, ...]
    units: Units
    waters: tuple[Water, ...]
    fish: Mapping[tuple[str, str], tuple[Banded, ...]]
    bottom: Mapping[tuple[str, str], tuple[Banded, ...]]
    #: the closed forms, where passes are simulated
    formulas: "Found | None" = None

    @property
    def about(self) -> str:
        """The question."""
        return cases.asked(self.trip).about

    @property
    def elements(self) -> tuple[str, ...]:
        """Names of what is compared."""
        return tuple(str(e.name) for e in self.days[0].trip.element)

    def over(self, water: Water) -> str:
        """Return the water of a place in words: its depth, and the ground where several are compared."""
        ground = f" {water.day}" if water.day.startswith("over ") else ""
        return f"{self.long(water.bottom)} of water{ground}"

    def long(self, metres: float) -> str:
        """Return a length in the customer's units."""
        return length(metres, self.units) if np.isfinite(metres) and metres > 0.005 else "nothing"


def gather(trip: Trip, units: Units, progress: Callable[[str, int, int], None] | None = None) -> Found:
    """Return the numbers of a trip's question."""
    about = cases.asked(trip).about
    compared, needs = cases.days(trip), NEEDS[about]
    waters: list[Water] = []
    fish: dict[tuple[str, str], tuple[Banded, ...]] = {}
    bottom: dict[tuple[str, str], tuple[Banded, ...]] = {}
    for number, one in enumerate(compared):
        if progress:
            progress("waters", number, len(compared))
        if "passes" in needs or "smallest" in needs:
            waters += chain.from_iterable(workers.in_threads(partial(_waters, one, needs), cases.points(trip)))
        if "fish" in needs:
            for entry in trip.species:
                kind = days.species(one.trip, entry, max(trip.day.depth))
                fish[one.label, str(entry.name)] = numbers.fish_depths(one.trip, kind)
        if "bottom" in needs:
            own = (str(one.trip.day.sediment),)
            for sediment in own if about == "loss" else cases.asked(trip).sediments or own:
                bottom[one.label, sediment] = numbers.bottom_depths(one.trip, sediment)
    return Found(trip, compared, units, tuple(waters), fish, bottom)


def _waters(one: Day, needs: tuple[str, ...], point: tuple[float, float | None]) -> list[Water]:
    depth, fish = point
    at, made = numbers.scene_of(one.trip, depth), []
    each = range(len(at.names))
    for place, entry in enumerate(one.trip.species):
        kind = living(one.trip, place, depth, fish)
        infos = [header.info for header in at.headers]
        made.append(
            Water(
                one.label, str(entry.name), depth, nominal_depth(at, kind) + at.face, fish, at.step,
                tuple(numbers.passing(at, i, kind) if "passes" in needs else None for i in each),
                tuple(numbers.smallest(at, i, kind) if "smallest" in needs else None for i in each),
                tuple(info.number("finite_amplitude_loss", 0.0) for info in infos),
                tuple(float(info.range_resolution) for info in infos),
                tuple(2 * info.assumed_sound_speed / (info.band_low + info.band_high) for info in infos),
            )
        )  # fmt: skip
    return made


def living(trip: Trip, place: int, depth: float, fish: float | None) -> Species:
    """Return a species of a trip, by its place, over a bottom [m], at the depth [m] asked about, or where it lives."""
    entry = trip.species[place]
    others = {"above_bottom": None, "above": None, "column": None}
    where = entry.where.model_copy(update={"depth": (fish, fish), **others})
    return days.species(trip, entry.model_copy(update={"where": where}) if fish else entry, depth)


@dataclass(frozen=True)
class Table:
    """A table for reading: its title, heads and rows of text."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def share(value: float) -> str:
    """Return a probability as a whole percentage; 0 or 100 only if it is exactly that."""
    if value < 0.005:
        return "under 1 %" if value > 0 else "0 %"
    return "over 99 %" if value > 0.995 else f"{100 * value:.0f} %"


def pings(value: float) -> str:
    """Return the number of pings that hit a fish, with few digits."""
    return f"{value:.1f}" if value < 9.95 else f"{value:.0f}"


def tables(results: Found) -> list[Table]:
    """Return the tables of a question: over passes in each water, and how deep."""
    return [*_of_waters(results), *_of_depths(results)]


def _of_waters(results: Found) -> list[Table]:
    made = []
    for water in results.waters:
        place = f"{water.species}, {results.long(water.fish)} down over {results.long(water.bottom)}"
        label = f"{water.day}: " if water.day else ""
        heads: tuple[str, ...]
        rows: list[tuple[str, ...]]
        if water.passes[0] is not None:
            heads = ("element", "shown", "clear of the bottom", "swath", "noise +10 to -10 dB", "footprint",
                     "pings on a fish", "between pings")  # fmt: skip
            rows = [_row(results, name, p) for name, p in zip(results.elements, water.passes, strict=True) if p]
        else:
            heads = ("element", "smallest fish", "noise +10 to -10 dB")
            each = zip(results.elements, water.smallest, water.wavelength, strict=True)
            rows = [(name, *_small(results, b, wave)) for name, b, wave in each if b]
        made.append(Table(f"{label}{place}", heads, tuple(rows)))
    return made


def _row(results: Found, name: str, p: Passing) -> tuple[str, ...]:
    return (
        name, _counted(p.shown, p.passes), _counted(p.separated, p.passes), _spanned(results, p.swath),
        band(results, p.swath), results.long(p.footprint), pings(p.pings), share(p.unmet),
    )  # fmt: skip


def _counted(value: float, passes: int) -> str:
    """Return a share; of simulated passes with its 95 % interval."""
    if not passes:
        return share(value)
    low, high = clopper_pearson(round(value * passes), passes)
    return f"{100 * value:.0f} % ({100 * low:.0f} to {100 * high:.0f})"


def _spanned(results: Found, number: Banded) -> str:
    """Return a length; where it is simulated with its 95 % interval."""
    if number.span is None:
        return deep(results, number.value)
    ends = interval(results, *number.span)
    return deep(results, number.value) + (f" ({ends})" if ends else "")


def interval(results: Found, low: float, high: float) -> str:
    """Return the ends [m] of an interval in words, "" if neither is known (infinite, not a number, or 0)."""
    first, last = (results.long(end) if np.isfinite(end) and end > 0 else "" for end in (low, high))
    return (
        f"{first} to {last}" if first and last else f"at least {first}" if first else f"at most {last}" if last else ""
    )


def band(results: Found, number: Banded) -> str:
    """Return the values of a number [m] with more and with less own noise."""
    ends = results.long(number.low), results.long(number.high)
    return f"{ends[0]} to {ends[1]}" if ends[0] != ends[1] else "the same"


def small(results: Found, metres: float, wavelength: float) -> str:
    """Return the length [m] of the smallest fish; below a wavelength [m] it is outside the model of target strength."""
    if not np.isfinite(metres):
        return "none up to 4 m"
    return (
        fish_length(metres, results.units) if metres > wavelength else f"under {fish_length(wavelength, results.units)}"
    )


def _small(results: Found, b: Banded, wavelength: float) -> tuple[str, str]:
    ends = small(results, b.low, wavelength), small(results, b.high, wavelength)
    return small(results, b.value, wavelength), f"{ends[0]} to {ends[1]}" if ends[0] != ends[1] else "the same"


def deep(results: Found, metres: float) -> str:
    """Return a depth in words; depths beyond LADDER are not computed."""
    return f"over {results.long(metres)}" if metres >= 0.999 * numbers.LADDER[-1] else results.long(metres)


def _of_depths(results: Found) -> list[Table]:
    made = []
    for what, each in (("shows {}", results.fish), ("shows a bottom of {}", results.bottom)):
        for name in dict.fromkeys(key[1] for key in each):
            rows = [
                (f"{element}{f', {label}' if label else ''}", _spanned(results, b), band(results, b))
                for (label, one), numbers_ in each.items() if one == name
                for element, b in zip(results.elements, numbers_, strict=True)
            ]  # fmt: skip
            heads = ("element", "down to", "noise +10 to -10 dB")
            made.append(Table(f"How deep it {what.format(name)}", heads, tuple(rows)))
    return made


def data(results: Found) -> dict[str, Any]:
    """Return all numbers as plain data, lengths in metres."""

    def plain(number: Banded | None) -> list[float | None] | None:
        ends = None if number is None else (number.value, number.low, number.high)
        return None if ends is None else [float(v) if np.isfinite(v) else None for v in ends]

    def passed(p: Passing | None) -> dict[str, Any] | None:
        return None if p is None else {
            "shown": p.shown, "separated": p.separated, "swath_m": plain(p.swath), "footprint_m": p.footprint,
            "pings_on_a_fish": p.pings, "between_pings": p.unmet, "passes": p.passes,
        }  # fmt: skip

    return {
        "waters": [
            {
                "day": w.day, "species": w.species, "bottom_m": w.bottom, "fish_m": w.fish, "ping_step_m": w.step,
                "elements": {
                    name: {
                        "pass": passed(w.passes[i]), "smallest_fish_m": plain(w.smallest[i]),
                        "loss_to_harmonics_db": w.harmonics[i], "resolution_m": w.resolution[i],
                    }
                    for i, name in enumerate(results.elements)
                },
            }
            for w in results.waters
        ],
        "depths_m": [
            {"day": label, what: name, **{e: plain(b) for e, b in zip(results.elements, numbers_, strict=True)}}
            for what, each in (("species", results.fish), ("sediment", results.bottom))
            for (label, name), numbers_ in each.items()
        ],
    }  # fmt: skip
