"""The elements and days that each kind of question compares."""

from collections.abc import Callable
from dataclasses import dataclass

from pingwright.inputs.elements import Element, from_catalogue
from pingwright.inputs.sections import AngularMotion
from pingwright.inputs.trip import Trip
from pingwright.inputs.trip_parts import Ask
from pingwright.trials.scene import DRIFT

KNOT = 1852.0 / 3600.0
#: Elements compared if the user names none: chirps, one of each class and band.
USUAL = ("high-pencil", "high-cone", "medium-pencil", "medium-fan", "low-pencil")
PAIR = ("high-pencil", "low-pencil")
#: Period of a roll [s]; assumed for small boats.
ROLL_PERIOD = 4.0
#: Speed of a boat at rest, with its engine off [m/s].
ADRIFT = DRIFT


@dataclass(frozen=True)
class Day:
    """One of the days compared: its label ("" for a single day), and the trip with every element of the question."""

    label: str
    trip: Trip


def days(trip: Trip) -> tuple[Day, ...]:
    """Return the days a question compares, each with the elements it compares."""
    ask = asked(trip)
    elements = tuple(_ELEMENTS.get(ask.about, _named)(trip, ask))
    whole = trip.model_copy(update={"element": elements})
    if ask.about == "speed" or (ask.about == "depth" and "speeds" in ask.model_fields_set):
        return tuple(_speed(whole, speed) for speed in ask.speeds)
    if ask.about == "roll":
        return tuple(_roll(whole, roll) for roll in ask.rolls)
    if ask.about == "loss" and ask.sediments:
        several = len(ask.sediments) > 1
        return tuple(_over(whole, sediment, f"over {sediment}" if several else "") for sediment in ask.sediments)
    return (Day("", whole),)


def _over(trip: Trip, sediment: str, label: str) -> Day:
    return Day(label, trip.model_copy(update={"day": trip.day.model_copy(update={"sediment": sediment})}))


def asked(trip: Trip) -> Ask:
    """Return the question of a trip."""
    if trip.ask is None:
        raise ValueError(trip.title)
    return trip.ask


def points(trip: Trip) -> tuple[tuple[float, float | None], ...]:
    """Return depths of the bottom and of the fish [m]; None: the depth at which the species lives."""
    ask, deepest = asked(trip), max(trip.day.depth)
    if ask.at:
        return tuple((max(deepest, 1.02 * at + 1.0), at) for at in ask.at)
    return tuple((depth, None) for depth in ask.depths or dict.fromkeys(trip.day.depth))


def speed_words(speed: float) -> str:
    """Return a speed [m/s] in knots."""
    return "drifting" if speed <= ADRIFT else f"{speed / KNOT:.2g} kn"


def watts(power: float) -> str:
    """Return an electrical power [W] in words."""
    return f"{power / 1e3:g} kW" if power >= 1e3 else f"{power:g} W"


def _named(trip: Trip, ask: Ask) -> list[Element]:
    names = ask.elements or (PAIR if ask.about in ("depth", "speed", "roll") else USUAL)
    return [from_catalogue(name) for name in names]


def _beams(trip: Trip, ask: Ask) -> list[Element]:
    return [from_catalogue(name) for name in ask.elements or ("high-pencil", "high-cone")]


def _powers(trip: Trip, ask: Ask) -> list[Element]:
    return [
        _varied(name, watts(power), power=float(power)) for name in ask.elements or PAIR for power in sorted(ask.powers)
    ]


def _pulses(trip: Trip, ask: Ask) -> list[Element]:
    made = []
    for name in ask.elements or PAIR:
        pulse = from_catalogue(name).pulse
        for length in sorted(ask.pulses):
            made.append(_varied(name, f"{length * 1e3:g} ms", pulse=pulse.model_copy(update={"length": float(length)})))
    return made


def _chirps(trip: Trip, ask: Ask) -> list[Element]:
    """Return each element with a tone at the middle of its band, and with its chirp, of the same face and power."""
    made = []
    for name in ask.elements or PAIR:
        spec = from_catalogue(name)
        tone = 0.5 * (spec.band[0] + spec.band[1])
        pulse = spec.pulse.model_copy(update={"kind": "tone", "tone": tone, "length": None})
        made += [_varied(name, "a tone", pulse=pulse), _varied(name, "a chirp")]
    return made


def _varied(name: str, label: str, **changes: object) -> Element:
    return from_catalogue(name).model_copy(update={"name": f"{name}, {label}", **changes})


_ELEMENTS: dict[str, Callable[[Trip, Ask], list[Element]]] = {
    "power": _powers, "pulse": _pulses, "chirp": _chirps, "beam": _beams,
}  # fmt: skip


def _speed(trip: Trip, speed: float) -> Day:
    rest = speed <= ADRIFT
    update = {"speed": max(speed, ADRIFT), **({"own": "none"} if rest else {})}
    return Day(speed_words(speed), trip.model_copy(update={"day": trip.day.model_copy(update=update)}))


def _roll(trip: Trip, roll: float) -> Day:
    motion = AngularMotion(amplitude=roll, period=ROLL_PERIOD) if roll else None
    day = trip.day.model_copy(update={"roll": motion, "motion": None})
    return Day(f"roll {roll:g} deg" if roll else "level", trip.model_copy(update={"day": day}))
