"""A scenario prepared for trials: without its own fish, with the boat's place left to the trials, elements built."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from pingwright.acoustics.noise import own_level
from pingwright.echograms.record import ElementRecord, FloatArray
from pingwright.element.model import Element
from pingwright.inputs.scenario import Scenario
from pingwright.measure import passes as rule
from pingwright.recording import Prepared, prepare

#: Least speed [m/s] of a drifting boat past a fish; assumed: half a knot of wind and current.
DRIFT = 0.25


@dataclass(frozen=True)
class Scene:
    """The scene of trials. speed [m/s]: of the boat past the fish; interval [s]: between its pings."""

    prepared: Prepared
    speed: float
    interval: float

    @property
    def scenario(self) -> Scenario:
        """The resolved scenario."""
        scenario: Scenario = self.prepared.scenario
        return scenario

    @property
    def elements(self) -> tuple[Element, ...]:
        """The elements, built."""
        return self.prepared.elements

    @property
    def headers(self) -> tuple[ElementRecord, ...]:
        """For each element a record without levels: its info and beam."""
        return tuple(self.prepared.header.elements)

    @cached_property
    def lobes(self) -> tuple[tuple[float, float], ...]:
        """Half-angles of each element's main lobe along and across [deg]."""
        return tuple(rule.main_lobe(header.info, header.beam) for header in self.headers)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the elements."""
        return tuple(header.info.name for header in self.headers)

    @property
    def face(self) -> float:
        """Depth of the transducers [m]."""
        return float(self.scenario.boat.transducer_depth)

    @property
    def assumed_speed(self) -> float:
        """Sound speed [m/s] that turns time into range."""
        return float(self.prepared.settings.assumed_sound_speed)

    @property
    def step(self) -> float:
        """Way of the boat between two pings [m]."""
        return self.speed * self.interval

    def depth(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Return the depth of the seabed [m] at x, y [m] (n)."""
        return np.asarray(self.prepared.world.terrain.depth(x, y))

    @property
    def bottom(self) -> float:
        """Depth of the seabed [m] at the origin."""
        return float(self.depth(np.zeros(1), np.zeros(1))[0])

    def drawn(self, distance: FloatArray | float, depth: FloatArray | float) -> FloatArray:
        """Return where things are drawn on the range axis [m] (n): at a distance from the face, at a depth [m] (n)."""
        slowness = self.prepared.world.water.mean_slowness(self.face, np.asarray(depth))
        return np.asarray(distance * slowness * self.assumed_speed)

    @property
    def crest(self) -> float:
        """Depth of the highest point of the remaining structures [m], infinite without any."""
        return min((float(s.side[:, 1].min()) for s in self.prepared.header.truth.structures), default=np.inf)

    @property
    def around(self) -> tuple[FloatArray, FloatArray] | None:
        """Lowest and highest x, y [m] (2) of the structures, or of the grid, the scene is about; None: neither."""
        plans = [structure.plan for structure in self.prepared.header.truth.structures]
        if plans:
            return np.min(np.concatenate(plans), axis=0), np.max(np.concatenate(plans), axis=0)
        grid = self.scenario.seabed.grid
        if grid is None:
            return None
        x, y = np.asarray(grid.x, dtype=np.float64), np.asarray(grid.y, dtype=np.float64)
        return np.array([x.min(), y.min()]), np.array([x.max(), y.max()])


def scene(scenario: Scenario, keep_structures: bool = False) -> Scene:
    """Return a scenario ready for trials. Raises ScenarioError where it cannot be built.

    Structures are removed unless the question keeps them. The ping interval is the scenario's own, by default that for
    its depth.
    """
    speed = float(scenario.boat.speed)
    # The boat does not move while trials are prepared, but has the noise of its own speed.
    own = own_level(scenario.noise.own, speed)
    noise = scenario.noise.model_copy(update={"own": "none" if own is None else own})
    boat = scenario.boat.model_copy(update={"speed": 0.0, "start": 0.0, "pings": 1, "in_turn": False})
    changes: dict[str, object] = {"fish": (), "school": (), "target": (), "boat": boat, "noise": noise}
    if not keep_structures:
        changes["structure"] = ()
    prepared = prepare(scenario.model_copy(update=changes))
    return Scene(prepared, max(speed, DRIFT), float(prepared.settings.interval))


def single(at: Scene, index: int) -> Scene:
    """Return a scene with only one of its elements, which pings as it does together with the others."""
    prepared, pick = at.prepared, slice(index, index + 1)
    header = replace(prepared.header, elements=prepared.header.elements[pick])
    scenario = prepared.scenario.model_copy(update={"element": prepared.scenario.element[pick]})
    alone = replace(prepared, elements=prepared.elements[pick], header=header, scenario=scenario)
    return replace(at, prepared=alone)


def deepened(scenario: Scenario, depth: float) -> Scenario:
    """Return a scenario whose bottom lies beyond a depth [m]: for fish in open water, with the pulse of that depth."""
    seabed = scenario.seabed.model_copy(update={"depth": max(1.2 * depth, 0.3), "grid": None, "relief": None})
    window = scenario.window.model_copy(update={"depth": (0.0, 1.2 * depth)})
    return scenario.model_copy(update={"seabed": seabed, "window": window})


def in_noise(at: Scene, band: str) -> Scene:
    """Return a scene with own noise 10 dB higher ("louder"), 10 dB lower ("quieter"), or unchanged ("")."""
    if not band:
        return at
    headers = tuple(
        replace(h, info=replace(h.info, noise_level=h.info.number(f"noise_level_{band}", h.info.noise_level)))
        for h in at.headers
    )
    return replace(at, prepared=replace(at.prepared, header=replace(at.prepared.header, elements=headers)))
