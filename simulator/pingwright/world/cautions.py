"""What a user should know about a scene before believing it: limits of laws that the scene exceeds."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright.inputs.fields import known
from pingwright.world.contents import Stock
from pingwright.world.looks import Look
from pingwright.world.resolve import SECOND_ECHO
from pingwright.world.scatterers import FloatArray, Track
from pingwright.world.terrain import Ground, Net
from pingwright.world.water import LayeredWater

if TYPE_CHECKING:
    from pingwright.inputs.bodies import Fish, School
    from pingwright.inputs.scenario import Scenario
    from pingwright.world.structure import Placed

MANY = 0.5  # share of a group never in a beam from which a warning says so; the summary counts the others
_BUBBLES_FROM = 7.0  # m/s of wind: waves break and drive clouds of bubbles under; common practice, no source
_BUBBLES_TO = 100e3  # Hz, to which their law is stated
_LOVE_LONGEST = {"love-1971": 130.0, "love-1977": 100.0}  # lengths in wavelengths


Inside = Callable[[FloatArray], NDArray[np.bool_]]


def find(
    scenario: "Scenario",
    stocks: list[Stock],
    ground: Ground,
    track: Track,
    water: LayeredWater,
    inside: Sequence[Inside] = (),
    looks: Sequence[Look] = (),
) -> list[str]:
    """Return one text for each limit that is exceeded. inside: tests of structures, places (3, n) [m] -> (n).

    The catalogue, not every scene, says that sediments are extrapolated above 100 kHz.
    """
    return [
        *_soundings(ground, track),
        *_bubbles(scenario),
        *_interval(scenario, ground, track, water),
        *_fish(scenario, stocks, water),
        *_misplaced(scenario, stocks, ground, track, inside, looks),
        *_leaving(stocks, ground, track),
    ]


def _bubbles(scenario: "Scenario") -> list[str]:
    wind, top = float(scenario.water.wind), max(float(spec.band[1]) for spec in scenario.element)
    if wind < _BUBBLES_FROM or top <= _BUBBLES_TO:
        return []
    return [
        f"Wind of {wind:.0f} m/s mixes bubbles into the water. The law for their loss and clutter holds for 10 to 100"
        f" kHz; here it is extrapolated to {top / 1e3:.0f} kHz."
    ]


def _interval(scenario: "Scenario", ground: Ground, track: Track, water: LayeredWater) -> list[str]:
    """Warn if echoes of one ping arrive after the next ping: echoes from the window's end or from the seabed."""
    boat, echoes = scenario.boat, SECOND_ECHO if scenario.reverberation.second_echo else 1.0
    deepest = max(
        float(known(scenario.window.depth, "window.depth")[1]), echoes * float(ground.depth(track.x, track.y).max())
    )
    face = float(boat.transducer_depth)
    needed = 2.0 * float(water.travel_time(face, np.asarray(deepest)))
    interval = float(known(boat.ping_interval, "boat.ping_interval"))
    if interval >= needed:
        return []
    return [
        f"Pings are {1e3 * interval:.0f} ms apart, but echoes last {1e3 * needed:.0f} ms (window, seabed and its"
        " second echo): the end of the earlier ping shows in the next one."
    ]


def _soundings(ground: Ground, track: Track) -> list[str]:
    for shape in ground.shapes:
        if isinstance(shape, Net):
            outside = (track.x < shape.x[0]) | (track.x > shape.x[-1])
            outside |= (track.y < shape.y[0]) | (track.y > shape.y[-1])
            if outside.any():
                part = 100.0 * float(np.mean(outside))
                return [
                    f"{part:.0f} % of the run lies outside the bottom grid; there the depth at the edge of the"
                    " grid is used."
                ]
    return []


def _fish(scenario: "Scenario", stocks: list[Stock], water: LayeredWater) -> list[str]:
    low, high = (f([float(f_) for spec in scenario.element for f_ in spec.band]) for f in (min, max))
    sentences = []
    groups: list[Fish | School] = [*scenario.fish, *scenario.school]
    for group, stock in zip(groups, stocks, strict=True):
        longest = _LOVE_LONGEST.get(str(group.strength_model))
        if longest is None or not len(stock):
            continue
        short, long = float(stock.length.min()), float(stock.length.max())
        if short < water.surface_sound_speed / low:
            sentences.append(
                f"{stock.name}: fish of {100 * short:.0f} cm are shorter than a wavelength at {low / 1e3:.0f} kHz;"
                f" there {group.strength_model} does not hold."
            )
        if long > longest * water.surface_sound_speed / high:
            sentences.append(
                f"{stock.name}: fish of {100 * long:.0f} cm are longer than {longest:.0f} wavelengths at "
                f"{high / 1e3:.0f} kHz, beyond the data of {group.strength_model}."
            )
    return sentences


def _leaving(stocks: list[Stock], ground: Ground, track: Track) -> list[str]:
    """Warn of climbing or diving fish that leave the water while the boat is near, within a depth of it along x."""
    whole, way = float(np.ptp(track.time)), float(np.ptp(track.x))
    sentences = []
    for stock in stocks:
        if not len(stock) or not stock.velocity[2].any():
            continue
        bottom = ground.depth(stock.position[0], stock.position[1])
        near = whole if way <= 0.0 else np.minimum(whole, bottom * whole / way)
        moved = np.abs(stock.velocity[2]) * near
        gone = (stock.position[2] - moved < 0.0) | (stock.position[2] + moved > bottom)
        if gone.any():
            sentences.append(
                f"{stock.name}: {int(gone.sum())} of {len(stock)} fish climb or dive out of the water while the boat "
                "is near them."
            )
    return sentences


def _misplaced(
    scenario: "Scenario",
    stocks: list[Stock],
    ground: Ground,
    track: Track,
    inside: Sequence[Inside],
    looks: Sequence[Look],
) -> list[str]:
    """Warn of fish and targets that no element can show, mostly by a mistake in the scenario.

    Never in a beam: in every ping farther off the vertical than the width of the widest beam. This is checked only if
    elements look straight down and the boat does not lean.
    """
    things = [(stock.name, "fish", stock.position, () if stock.school else inside) for stock in stocks if len(stock)]
    for target in scenario.target:
        at = np.array([[target.at.x], [target.at.y], [target.at.depth]])
        things.append((str(target.name), "target", at, inside))
    end, tilted = (
        float(known(scenario.window.depth, "window.depth")[1]),
        any(e.tilt.along or e.tilt.across for e in scenario.element),
    )
    tilted = tilted or bool(np.ptp(track.roll) + np.ptp(track.pitch) > 0.0)
    widest = min(max((look.reach for look in looks), default=45.0), 60.0)
    sentences = []
    for name, kind, place, solids in things:
        aside = np.hypot(_beyond(place[0], track.x), _beyond(place[1], track.y))
        for wrong, words in (
            (place[2] > ground.depth(place[0], place[1]), "below the seabed"),
            (_in_any(solids, place), "inside a structure"),
            (place[2] > end, f"deeper than the window, which ends at {end:.4g} m"),
            (place[2] <= 0.0, "at the surface, or would be above it"),
        ):
            if wrong.any():
                sentences.append(f"{name}: {_counted(wrong, kind)} {words}.")
        face = float(np.median(track.depth))
        missed = aside > np.tan(np.radians(widest)) * np.maximum(place[2] - face, 0.0)
        if missed.mean() > MANY and not tilted:
            sentences.append(
                f"{name}: {_counted(missed, kind)} never in the main lobe of a beam, which ends {widest:.0f} deg off"
                " the vertical."
            )
    return sentences


def structures(standing: Sequence["Placed"], ground: Ground) -> list[str]:
    """Return one sentence for each structure that lies under the ground, or out of the water."""
    sentences = []
    for surface in standing:
        x, y, depth = surface.occluder.vertices.T
        if np.all(depth > ground.depth(x, y)):
            sentences.append(f"{surface.name}: the structure lies under the seabed; no element can show it.")
        elif np.all(depth < 0.0):
            sentences.append(f"{surface.name}: the structure stands in the air; no element can show it.")
        elif np.any(depth < 0.0):
            sentences.append(f"{surface.name}: the structure rises {-float(depth.min()):.1f} m out of the water.")
        elif np.all(depth < ground.depth(x, y) - 0.5):
            sentences.append(f"{surface.name}: the structure hangs in the water, above the seabed.")
    return sentences


def schools(found: Sequence["School"], ground: Ground) -> list[str]:
    """Return one sentence for each school that reaches into the ground."""
    sentences = []
    for school in found:
        end = float(known(school.at.depth, "school.at.depth")) + float(school.size.height) / 2.0
        bottom = float(ground.depth(np.array([school.at.x]), np.array([school.at.y]))[0])
        if end > bottom:
            sentences.append(f"{school.name}: the school reaches {end - bottom:.1f} m into the seabed.")
    return sentences


def _beyond(place: FloatArray, way: FloatArray) -> FloatArray:
    """Return how far places (n) lie outside the span of the track (ping), 0 within it."""
    return np.asarray(np.maximum(np.maximum(way.min() - place, place - way.max()), 0.0))


def _in_any(inside: Sequence[Inside], place: FloatArray) -> NDArray[np.bool_]:
    within = np.zeros(place.shape[1], dtype=bool)
    for contains in inside:
        within |= contains(place)
    return within


def _counted(which: NDArray[np.bool_], kind: str) -> str:
    if kind == "target":
        return "the target is"
    many = int(which.sum())
    return f"{many} of {len(which)} fish {'is' if many == 1 else 'are'}"
