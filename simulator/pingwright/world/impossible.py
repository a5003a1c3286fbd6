"""Impossible scenes: each is refused with key, given value and allowed values, before anything is built."""

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright.errors import Fault, ScenarioError
from pingwright.inputs.bodies import MOST_IN_SCHOOL, Cylinder, Fish, Mesh, School, Structure, Target
from pingwright.world import fish
from pingwright.world.scatterers import FloatArray, Track
from pingwright.world.terrain import Ground

if TYPE_CHECKING:
    from pingwright.inputs.scenario import Scenario

CLEAR = 0.2  # m of water that the transducer needs under it
BLIND = 750.0  # m/s: half the speed of sound, from a pulse's length to its blanking range
LARGEST_KA = 500.0  # wave number times radius of a sphere [1]: validity of acoustics.sphere
_TEXT = Iterator[tuple[str, str]]


def refuse(scenario: "Scenario", ground: Ground, depths: FloatArray) -> None:
    """Raise ScenarioError for impossible things in a resolved scenario; depths [m]: of the seabed along the run."""
    wrong = [*_boat(scenario, depths), *_window(scenario, depths)]
    for number, structure in enumerate(scenario.structure, 1):
        wrong += [(f"structure[{number}].at.depth", words) for words in _structure(structure, ground)]
    for number, target in enumerate(scenario.target, 1):
        wrong += [(f"target[{number}].sphere.diameter", words) for words in _target(target, scenario)]
    for number, group in enumerate(scenario.fish, 1):
        wrong += [(f"fish[{number}].where", words) for words in _fish(group, ground)]
    for number, school in enumerate(scenario.school, 1):
        wrong += [(f"school[{number}].{key}", words) for key, words in _school(school, ground)]
    if wrong:
        raise ScenarioError([Fault(scenario.name or "scenario", 0, path, words) for path, words in wrong])


def refuse_collisions(
    scenario: "Scenario", track: Track, inside: Sequence[Callable[[FloatArray], NDArray[np.bool_]]]
) -> None:
    """Raise ScenarioError where the transducer runs through a structure; inside: tests of structures, places (3, n)."""
    place = np.stack([track.x, track.y, track.depth])
    faults = []
    for number, contains in enumerate(inside, 1):
        hit = contains(place)
        if hit.any():
            x = float(track.x[np.argmax(hit)])
            words = f"the transducer runs into it at x = {x:.4g} m; move it, or give boat another transducer_depth"
            faults.append(Fault(scenario.name or "scenario", 0, f"structure[{number}]", words))
    if faults:
        raise ScenarioError(faults)


def _boat(scenario: "Scenario", depths: FloatArray) -> _TEXT:
    boat, shallow = scenario.boat, float(depths.min())
    swing = boat.heave.amplitude if boat.heave else 0.0
    if swing and shallow - boat.transducer_depth - swing < CLEAR:
        yield (
            "boat.heave.amplitude",
            (
                f"found {swing:.3g} m in water {shallow:.3g} m deep: the transducer at"
                f" {boat.transducer_depth:.3g} m would strike the seabed"
            ),
        )


def _window(scenario: "Scenario", depths: FloatArray) -> _TEXT:
    top, end = scenario.window.depth or (0.0, np.inf)
    pulse = min(spec.pulse.length or 0.0 for spec in scenario.element)
    blind = scenario.boat.transducer_depth + BLIND * pulse
    if end <= blind:
        yield (
            "window.depth",
            (
                f"found a window that ends at {end:.3g} m, inside the blanking range; every element still sends up to"
                f" {blind:.3g} m; allowed: a window that ends deeper"
            ),
        )
    deepest = 2.2 * float(depths.max())
    if top >= deepest:
        yield (
            "window.depth",
            (
                f"found a window that begins at {top:.3g} m; nothing echoes below {deepest:.3g} m, where the second"
                " bottom echo ends"
            ),
        )


def _target(target: Target, scenario: "Scenario") -> Iterator[str]:
    """Yield what is wrong with a sphere: larger than its series is valid for."""
    highest = max(spec.band[1] for spec in scenario.element)
    longest = LARGEST_KA / (np.pi * highest) * 1500.0
    if target.sphere is not None and target.sphere.diameter > longest:
        yield (
            f"found {100 * target.sphere.diameter:.3g} cm; allowed: at most {100 * longest:.3g} cm for elements up to"
            f" {highest / 1e3:.0f} kHz, because the series of an elastic sphere holds up to k a = {LARGEST_KA:.0f}"
        )


def _structure(structure: Structure, ground: Ground) -> Iterator[str]:
    """Yield what is wrong with a place in the depth: wholly under the ground, or wholly in the air."""
    if structure.at.depth is None or isinstance(structure.shape, Mesh):
        return
    shape = structure.shape
    height = shape.diameter if isinstance(shape, Cylinder) else shape.height
    base, bottom = structure.at.depth, _depth(ground, structure.at.x, structure.at.y)
    if base - height >= bottom:
        yield f"found a base at {base:.3g} m: its top, {height:.3g} m higher, is under the ground at {bottom:.3g} m"
    if base <= 0.0:
        yield "found a base at 0 m: the whole structure would stand in the air; the key depth is the depth of its base"


def _fish(group: Fish, ground: Ground) -> Iterator[str]:
    box = group.where
    heights = box.above_bottom or box.above
    corners = [_depth(ground, x, y) for x in box.x for y in box.y]
    if heights and heights[0] >= max(corners):
        yield f"found heights from {heights[0]:.3g} m in water {max(corners):.3g} m deep: the fish would be in the air"
    elif heights and heights[1] > min(corners):
        text = f"heights up to {heights[1]:.3g} m where the water is {min(corners):.3g} m deep"
        yield f"found {text}: some fish would be in the air"


def _school(school: School, ground: Ground) -> _TEXT:
    half = school.size.height / 2.0
    bottom = _depth(ground, school.at.x, school.at.y)
    height = school.at.above_bottom if school.at.above_bottom is not None else school.at.above
    middle = school.at.depth if school.at.depth is not None else bottom - float(height or 0.0)
    if middle < half:
        yield (
            "at",
            (
                f"found a middle at {middle:.3g} m and a height of {2 * half:.3g} m: the school would reach out of the"
                f" water; allowed: at least {half:.3g} m deep"
            ),
        )
    count = fish.expected_in_school(school)
    if count > MOST_IN_SCHOOL:
        yield "density", f"found {count:,.0f} fish in its volume; allowed: {MOST_IN_SCHOOL:,}"


def _depth(ground: Ground, x: float, y: float) -> float:
    return float(ground.depth(np.array([x]), np.array([y]))[0])
