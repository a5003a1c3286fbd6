"""Rules of the trade that follow from the sonar equation, by closed forms. Each is common practice, no source."""

import numpy as np
import pytest
from pingwright.advice import cases, numbers
from pingwright.inputs import trip as inputs
from pingwright.inputs.typed import Typed, trip_file
from pingwright.inputs.typed_lists import ask_table
from pingwright.match import trials
from pingwright.trials import day

ELEMENTS = ("high-pencil", "high-cone", "medium-fan", "low-pencil")


def at(depth, words, elements, speed="4 kn"):
    """Return the day over a bottom of one depth [m] as a scene, and its species."""
    text = trip_file(Typed(f"{depth} m", (words,), speed, "mud"))
    trip = inputs.parse(text + ask_table("loss", {"elements": ", ".join(elements)}))
    one = cases.days(trip)[0].trip
    return numbers.scene_of(one, depth), day.species(one, one.species[0], depth), one


@pytest.mark.parametrize("thing", ["wreck", "reef", "ledge"])
def test_tight_to_structure_the_high_narrow_beam_comes_first(thing):
    """A wide beam hears the side of what stands there from as far as the fish beside it."""
    trip = inputs.parse(trip_file(Typed("60 m", (f"grouper-like, 60 cm, tight to a {thing}",), "3 kn", "gravel")))
    hits = trials.run(trip, threads=1, quick=True, runs=32)
    clear = dict(zip(hits.elements, hits.separated.mean(axis=(1, 2, 3)), strict=True))
    high = clear.pop("high-pencil")
    assert high > max(clear.values()) + 0.05


def test_in_the_upper_water_cone_and_fan_look_wider_than_any_pencil():
    """So near, no band lacks echo: what counts is the angle."""
    scene, fish, _ = at(120.0, "tuna-like, top 30 m", ELEMENTS, "6 kn")
    swath = {name: numbers.passing(scene, i, fish).swath.value for i, name in enumerate(scene.names)}
    assert swath["medium-fan"] > swath["high-cone"] > 1.3 * max(swath["high-pencil"], swath["low-pencil"])


def test_for_schools_at_255_m_the_fan_looks_widest_even_with_a_loud_boat():
    """A school that fills the beam gains with its solid angle what a wide beam loses in source level."""
    scene, school, _ = at(300.0, "herring school, 20 cm, 30 m wide, 10 m high, 254..256 m deep", ELEMENTS)
    found = [numbers.passing(scene, i, school).swath for i in range(len(ELEMENTS))]
    assert np.argmax([b.value for b in found]) == np.argmax([b.low for b in found]) == ELEMENTS.index("medium-fan")


def test_beyond_300_m_medium_and_then_low_reach_deeper_than_high():
    """Absorption rises with frequency, and takes its share of every metre."""
    names = ("high-pencil", "medium-pencil", "low-pencil")
    _, fish, trip = at(300.0, "snapper-like, 70 cm, near the bottom", names, "1.5 kn")
    high, medium, low = (b.value for b in numbers.fish_depths(trip, fish))
    assert 300.0 < high < medium < low


@pytest.mark.parametrize(("depth", "least"), [(10.0, 0.8), (250.0, 0.8), (400.0, 0.6)])
def test_two_bands_cover_the_column(depth, least):
    """High or low shows fish near the bottom within 0.1 of what the medium one between them does.

    At 400 m, near the end of the low band's detection range, seven in ten are shown: the echo of a fish fades for a
    whole pass, so more pings do not make up for a weak posture.
    """
    names = ("high-pencil", "low-pencil", "medium-pencil")
    scene, fish, _ = at(depth, "snapper-like, 40 cm, near the bottom", names)
    high, low, medium = (numbers.passing(scene, i, fish).separated for i in range(3))
    assert max(high, low) >= medium - 0.1
    assert max(high, low) > least
