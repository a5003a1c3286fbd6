"""The scene that all checks start from, and what a check hands back."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pingwright.echograms.record import Record

#: A disc of 10 cm and a tone of 1 ms: one frequency, so that the closed forms hold without an integral over a band.
TONE = 100e3
DIAMETER = 0.1
ELEMENT: dict[str, Any] = {
    "name": "disc",
    "band": [90e3, 110e3],
    "pulse": {"tone": TONE, "length": 1e-3, "taper": 0.1},
    "power": 100.0,
    "face": {"shape": "disc", "diameter": DIAMETER},
    "finite_amplitude": False,
}
BASE: dict[str, Any] = {
    "title": "check",
    "seed": 1,
    "water": {"temperature": 10.0, "salinity": 35.0},
    "boat": {"speed": 0.0, "start": 0.0, "pings": 4, "ping_interval": 0.2},
    "window": {"depth": [0.0, 30.0]},
    "element": [ELEMENT],
    "seabed": {"depth": 100.0, "roughness": "none", "layer": [{"sediment": "mud"}]},
    "noise": {"ambient": False, "own": "none"},
    "reverberation": {"second_echo": False, "background": "none"},
}


@dataclass(frozen=True)
class Check:
    """One number of a simulated scene beside an independent one, in the unit stated.

    how: where the expected number comes from; tolerance: what may lie between, and `why` that much.
    """

    what: str
    computed: float
    expected: float
    unit: str
    tolerance: float
    how: str
    why: str

    @property
    def met(self) -> bool:
        """Whether the difference is within the tolerance; False where there is no number."""
        return bool(abs(self.computed - self.expected) <= self.tolerance)


def simulated(changes: Mapping[str, Any], keep_phase: bool = False) -> Record:
    """Return the record of the base scene with tables changed: keys of a table replace its keys, lists whole lists."""
    from pingwright import recording
    from pingwright.inputs import scenario
    from pingwright.inputs.writing import toml_text

    data = dict(BASE)
    for key, value in changes.items():
        data[key] = {**data.get(key, {}), **value} if isinstance(value, Mapping) else value
    boat = data["boat"]
    if "length" in boat:
        data["boat"] = {k: v for k, v in boat.items() if k != "pings"}
    prepared = recording.prepare(scenario.parse(toml_text(data), "check.toml"))
    return recording.in_memory(prepared, keep_phase=keep_phase)


def target(depth: float, strength: float = -40.0, name: str = "point") -> dict[str, Any]:
    """Return a target of a strength [dB re 1 m2] on the axis at a depth [m]."""
    return {"name": name, "strength": strength, "at": {"x": 0.0, "y": 0.0, "depth": depth}}
