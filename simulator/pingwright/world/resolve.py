"""Computes every default that depends on the scene and writes it in, as in the contract's table."""

from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from pingwright.errors import Fault, ScenarioError
from pingwright.inputs import pulses
from pingwright.inputs.bodies import Fish, School, TiltDistribution
from pingwright.inputs.fields import Section, known
from pingwright.world import fish, impossible, terrain, track, water
from pingwright.world.scatterers import FloatArray

if TYPE_CHECKING:
    from pingwright.inputs.elements import Element
    from pingwright.inputs.scenario import Scenario
    from pingwright.inputs.sections import Boat

Group = TypeVar("Group", Fish, School)
Part = TypeVar("Part", bound=Section)

RUN = 100.0  # m, if neither length nor pings is given
SECOND_ECHO = 2.2  # depths of the seabed until the second echo is over
MOST_PINGS = 200_000

#: Tilt of the long axis by kind of swimbladder [deg]. closed: cod, Olsen 1971; open: herring, Beltestad 1973 and Ona,
#: rounded; none: in general (all three from memory).
TILT = {"closed": (-4.4, 16.2), "open": (-2.0, 12.0), "none": (-5.0, 15.0)}
STRENGTH_MODEL = {"closed": "love-1971", "open": "love-1971", "none": "edwards-1984"}


def resolve(scenario: "Scenario") -> "Scenario":
    """Return the scenario (inputs.scenario.Scenario) with no default left that depends on the scene.

    Filled in if not given: window.depth, element.pulse.length, water.assumed_sound_speed, boat.ping_interval,
    boat.pings, tilt and strength_model of fish and schools. Lengths along the run are sampled at 2001 places.
    Resolving twice changes nothing. ScenarioError for an impossible run: no water over the seabed, too many pings.
    """
    scenario = _with(scenario, boat=track.by_wind(scenario.boat, float(scenario.water.wind)))
    ground = terrain.build(scenario.seabed, scenario.seed)
    depths = run_depths(scenario, ground)
    _check_depths(scenario, depths)
    _check_numbers(scenario)
    window = scenario.window.depth or (0.0, 1.25 * float(depths.max()))
    deepest = max(float(window[1]), SECOND_ECHO * float(depths.max()))
    body = water.build(scenario.water, scenario.boat.transducer_depth, deepest)
    elements = tuple(_element(spec, scenario, depths, body) for spec in scenario.element)
    assumed = scenario.water.assumed_sound_speed or assumed_speed(body, scenario.boat.transducer_depth, window[1])
    boat = _boat(scenario, elements, window, depths, body, float(assumed))
    resolved = _with(
        scenario,
        water=_with(scenario.water, assumed_sound_speed=float(assumed)),
        window=_with(scenario.window, depth=(float(window[0]), float(window[1]))),
        element=elements,
        boat=boat,
        fish=tuple(_animals(group) for group in scenario.fish),
        school=tuple(_animals(group) for group in scenario.school),
    )
    impossible.refuse(resolved, ground, depths)
    return resolved


def run_depths(scenario: "Scenario", ground: terrain.Ground) -> FloatArray:
    """Return the seabed's depth [m] at 2001 places along the run, and where straight pieces of it meet."""
    boat = scenario.boat
    length = 0.0 if boat.speed == 0.0 else float(boat.length or RUN)
    depths = _depths(ground, boat.start, length)
    if boat.length is None and boat.pings is not None and boat.speed > 0.0:
        interval = boat.ping_interval or 2.0 * SECOND_ECHO * float(depths.max()) / 1500.0
        depths = _depths(ground, boat.start, boat.pings * _sharing(scenario) * interval * boat.speed)
    return depths


def _sharing(scenario: "Scenario") -> int:
    """Return how many elements share the boat's transmissions."""
    return len(scenario.element) if scenario.boat.in_turn else 1


def _depths(ground: terrain.Ground, start: float, length: float) -> FloatArray:
    ends = float(start), float(start) + length
    x = np.union1d(np.linspace(*ends, 2001), ground.breaks(*ends))
    return ground.depth(x, np.zeros_like(x))


def pings(scenario: "Scenario") -> int:
    """Return the number of pings of each element of a resolved scenario, a count."""
    return known(scenario.boat.pings, "boat.pings")


def window_end(scenario: "Scenario") -> float:
    """Return the lower end of the window of a resolved scenario [m]."""
    return float(known(scenario.window.depth, "window.depth")[1])


def assumed_speed(body: water.LayeredWater, face: float, end: float) -> float:
    """Return depth over one-way vertical travel time [m/s], from the transducer to the window's end [m]."""
    return 1.0 / float(body.mean_slowness(face, np.asarray(end)))


def _element(spec: "Element", scenario: "Scenario", depths: FloatArray, body: water.LayeredWater) -> "Element":
    """Give a pulse its length, by the two-way time to the deepest seabed of the run."""
    there = float(body.travel_time(float(scenario.boat.transducer_depth), np.asarray(depths.max())))
    return pulses.with_length(spec, 2.0 * there)


def _boat(
    scenario: "Scenario",
    elements: tuple["Element", ...],
    window: tuple[float, float],
    depths: FloatArray,
    body: water.LayeredWater,
    assumed: float,
) -> "Boat":
    """Give the boat its ping interval and number of pings (of each element, if they ping in turn)."""
    boat = scenario.boat
    interval = boat.ping_interval
    if interval is None:
        deepest = float(window[1])
        if scenario.reverberation.second_echo:
            deepest = max(deepest, SECOND_ECHO * float(depths.max()))
        slowness = max(float(body.mean_slowness(0.0, np.asarray(deepest))), 1.0 / assumed)
        interval = 2.0 * deepest * slowness + max(known(spec.pulse.length, "element.pulse.length") for spec in elements)
    pings, length = _run(scenario, float(interval))
    if pings > MOST_PINGS:
        words = f"{pings:,} pings are more than {MOST_PINGS:,}; shorten the run or ping less often"
        raise ScenarioError([_fault(scenario, "boat.length", words)])
    return _with(boat, ping_interval=float(interval), pings=int(pings), length=length)


def _run(scenario: "Scenario", interval: float) -> tuple[int, float | None]:
    """Return the pings of each element and the length of the run [m], None at anchor; both given must agree."""
    boat, sharing = scenario.boat, _sharing(scenario)
    if boat.speed <= 0.0:
        if boat.pings is None:
            raise ScenarioError([_fault(scenario, "boat.pings", "a boat that lies still needs a number of pings")])
        return boat.pings, boat.length
    if boat.pings is not None and boat.length is None:
        return boat.pings, max((boat.pings * sharing - 1) * interval * boat.speed, 0.1)
    length = float(boat.length or RUN)
    fitting = max(track.pings_of_run(length, float(boat.speed), interval) // sharing, 1)
    if boat.pings is not None and abs(boat.pings - fitting) > 1:
        words = (
            f"found {boat.pings} pings and a length of {length:g} m, on which {fitting} pings fit, one every"
            f" {interval:.3g} s; allowed: one of the two, or both in agreement (ping_interval says how often)"
        )
        raise ScenarioError([_fault(scenario, "boat.pings", words)])
    return boat.pings or fitting, length


def _animals(group: Group) -> Group:
    """Give fish their tilt and strength model by kind of swimbladder."""
    changes: dict[str, Any] = {}
    if group.strength_model is None:
        changes["strength_model"] = STRENGTH_MODEL[group.swimbladder]
    if group.tilt is None:
        mean, sd = TILT[group.swimbladder]
        changes["tilt"] = TiltDistribution(mean=mean, sd=sd)
    return _with(group, **changes) if changes else group


def _check_depths(scenario: "Scenario", depths: FloatArray) -> None:
    """Refuse a run that leaves the water."""
    face = float(scenario.boat.transducer_depth)
    if float(depths.min()) <= face + 0.2:
        words = (
            f"the seabed comes up to {float(depths.min()):.2f} m on the run, less than 0.2 m under "
            f"the transducer at {face:.2f} m"
        )
        raise ScenarioError([_fault(scenario, "seabed", words)])


def _check_numbers(scenario: "Scenario") -> None:
    """Refuse more fish than a world can hold, before any is placed; of a large school only some are."""
    counts = {f"fish[{i}]": fish.expected(group) for i, group in enumerate(scenario.fish, 1)}
    for i, school in enumerate(scenario.school, 1):
        counts[f"school[{i}]"] = min(fish.expected_in_school(school), fish.MOST_IN_SCHOOL)
    total = sum(counts.values())
    if total > fish.MOST_FISH:
        most = max(counts, key=lambda name: counts[name])
        words = (
            f"found {total:,.0f} fish in all groups and schools, {counts[most]:,.0f} of them here; allowed:"
            f" {fish.MOST_FISH:,} in all; lower the density or count, or make the box smaller"
        )
        raise ScenarioError([_fault(scenario, most, words)])


def _fault(scenario: "Scenario", path: str, words: str) -> Fault:
    return Fault(str(getattr(scenario, "name", "scenario")), 0, path, words)


def _with(section: Part, **changes: Any) -> Part:
    """Return a frozen section with some values changed."""
    made: Part = section.model_copy(update=changes)
    return made
