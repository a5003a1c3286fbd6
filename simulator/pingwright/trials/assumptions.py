"""Assumptions that cannot be checked at sea, changed one at a time: filter, own noise, fish, roughness, bottom law."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from pingwright.acoustics.noise import own_level
from pingwright.inputs.scenario import Scenario

#: Change of own noise and of the target strength of fish [dB].
NOISE, STRENGTH = 10.0, 3.0
#: A change counts if it is larger than this number of its own standard deviations.
CERTAIN = 2.0
#: Names of the assumptions in words.
IN_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "pulse": "the filter's side lobes (equalised instead of matched)",
        "own noise": "the boat's own noise (10 dB more or less)",
        "fish strength": "the fish's target strength (3 dB more or less)",
        "roughness": "the bottom's relief and roughness (removed)",
        "bottom law": "the law of the bottom's echo (the other one)",
    }
)


@dataclass(frozen=True)
class Turned:
    """An assumption by name, the scenario with it changed, and by how much fish echo louder [dB].

    noise_alone: the scene differs only in its noise, so its grounds can be used again.
    """

    name: str
    scenario: Scenario
    gain: float = 0.0
    noise_alone: bool = False


def in_noise(scenario: Scenario, by: float) -> Scenario | None:
    """Return a scenario whose own noise is higher by a number of decibels, None if there is no own noise."""
    level = own_level(scenario.noise.own, float(scenario.boat.speed))
    if level is None:
        return None
    return scenario.model_copy(update={"noise": scenario.noise.model_copy(update={"own": level + by})})


def turned(scenario: Scenario, *, bottom: bool = True) -> Iterator[Turned]:
    """Yield a scenario with each assumption changed; bottom: whether to include those of the bottom."""
    unlike = [
        spec.model_copy(update={"filter": "equalised" if spec.filter == "matched" else "matched"})
        for spec in scenario.element
    ]
    yield Turned("pulse", scenario.model_copy(update={"element": tuple(unlike)}))
    for by in (-NOISE, NOISE):
        noisy = in_noise(scenario, by)
        if noisy is not None:
            yield Turned("own noise", noisy, noise_alone=True)
    for by in (-STRENGTH, STRENGTH):
        yield Turned("fish strength", scenario, by)
    if not bottom:
        return
    seabed = scenario.seabed
    if seabed.relief is not None or seabed.roughness != "none":
        smooth = seabed.model_copy(update={"relief": None, "roughness": "none"})
        yield Turned("roughness", scenario.model_copy(update={"seabed": smooth}))
    law = "small-slope" if seabed.law == "kirchhoff" else "kirchhoff"
    yield Turned("bottom law", scenario.model_copy(update={"seabed": seabed.model_copy(update={"law": law})}))
