"""What is not validated: assumed numbers, extrapolations, what has never been held against a measurement."""

from dataclasses import dataclass

from pingwright.inputs import catalogue

CATALOGUES = ("elements", "sediments", "fish", "materials")


@dataclass(frozen=True)
class Limit:
    """One thing that is not validated: what, what depends on it, what a user can do about it."""

    what: str
    effect: str
    remedy: str


LIMITS = (
    Limit(
        "No recording from the sea has been compared with a simulated one.",
        "Each law is held against its publication and the arithmetic against independent arithmetic; that the laws"
        " together make a real echogram is not shown.",
        "Record a calibration sphere, a known layer or a known bottom with your own sounder, describe it as a scenario,"
        " and compare levels before you rely on absolute ones.",
    ),
    Limit(
        "The echo of the seabed above 100 kHz is extrapolated: its law is meant for 10 to 100 kHz.",
        "Levels of the bottom in the medium and high bands, and with them how close to the bottom a fish shows.",
        "Read verdicts near the bottom for differences between elements, not as absolute; try seabed.law = "
        '"small-slope", which may differ by 15 dB for rock at 170 kHz.',
    ),
    Limit(
        "Floors and natural slopes of the sediments are assumed (see the list below).",
        "Echoes of rock, cobble and gravel off the vertical; which of sand and gravel is louder.",
        "Change seabed.layer, slope and relief to what you know of your ground, and see whether the answer turns.",
    ),
    Limit(
        "The boat's own noise is an assumed law of its speed, to +-10 dB; boats of one class differ by 15 to 30 dB.",
        "Detection range, smallest fish and swath in deep water, and the order of the bands there.",
        'Set noise.own to a level measured on your boat, or to "none" for one that drifts.',
    ),
    Limit(
        "Elements of the catalogue are invented, with generic values.",
        "Everything that is said of an element of the catalogue, and nothing about any product.",
        "Describe your own element: band, face, power, efficiency, pulse; a measured pattern as a table.",
    ),
    Limit(
        "Target strength of fish is known to some 2 to 3 dB for the mean of a species, less well by tilt and posture.",
        "Detection ranges by about 10 per cent, shares of detected fish near the limit by more.",
        "Give lengths, tilt and swimbladder of your species; see how far the answer moves with +-3 dB.",
    ),
    Limit(
        "Side lobes of the compressed pulse follow the ideal pulse; ripple of amplifier and transducer is left out.",
        "How close to the bottom a fish is shown.",
        "Measure the sent pulse and compare filter, taper and weighting; a longer taper is the safer assumption.",
    ),
    Limit(
        "Left out: sound scattered more than once, bent rays, the boat's own surface reflections, weed and thermoclines"
        " unless they are put in as layers.",
        "Shallow water over hard ground, water with strong steps of temperature.",
        "Take such scenes as an upper bound of what a sounder shows.",
    ),
)


def assumed() -> list[tuple[str, str, str]]:
    """Return catalogue, entry and source of every entry of which something is assumed or from memory."""
    return [
        (name, entry, str(row.get("source", "")))
        for name in CATALOGUES
        for entry, row in catalogue.of(name).items()
        if any(word in str(row.get("source", "")) for word in ("assumed", "from memory", "invented"))
    ]
