"""Why a simulated number and its closed form part, in a sentence, with the finer closed form as evidence."""

from pingwright.claims.question import Question

_ASPECT = "it takes every fish at its mean strength, while tilt and heading make the echo fade more deeply"
_SEAT = "it leaves out what the bottom leaks through the filter's side lobes into the water above it, and " + _ASPECT
#: What the plain closed form leaves out.
_PLAIN = {
    "separated": _SEAT,
    "detected": _ASPECT,
    "separated_pair": _ASPECT,
    "reach": _ASPECT,
    "smallest_fish": _ASPECT,
    "swath": _SEAT,
    "beam_width": "it is for band centre, while a chirp reads the mean over its band",
    "range_resolution": "noise and the band's uneven source level widen or narrow the echo",
}
_DETECTOR = "the detector pays for estimating the local level, and a fish longer than a resolution cell echoes in parts"
#: What the fine one leaves out too.
_REST = {
    "separated": "the bottom's echo varies from ping to ping and has no sharp edge, " + _DETECTOR,
    "swath": "far off the axis the pattern is not that of band centre, " + _DETECTOR,
    "separated_pair": "the two fish fade apart from each other, " + _DETECTOR,
}


def explained(
    question: Question, found: tuple[float | None, float | None, float | None], plain: float | None, fine: float | None
) -> str:
    """Return in a sentence or two why simulation and closed forms differ, or that they agree.

    found: simulated value and its interval's ends; plain, fine: closed forms; all in the question's unit.
    """
    simulated, low, high = found
    if plain is None or simulated is None:
        return "No closed form is given for this."
    if _close(question, simulated, plain):
        return "Simulation and closed form agree."
    why = f"The closed form is another because {_PLAIN[question.measure]}."
    if question.keep_structures:
        return f"{why} Nor does it know the structures that were kept."
    return why if fine is None or fine == plain else f"{why} {_counted(question, (simulated, low, high), plain, fine)}"


def _counted(question: Question, found: tuple[float, float | None, float | None], plain: float, fine: float) -> str:
    """Return what is left when the fine closed form counts what the plain one leaves out."""
    simulated, low, high = found
    counted = "both" if _PLAIN[question.measure] is _SEAT else "that"
    inside = low is not None and high is not None and low <= fine <= high
    if inside or _close(question, simulated, fine):
        return f"With {counted} counted it agrees with the simulation."
    rest = _REST.get(question.measure, _DETECTOR)
    if abs(fine - simulated) < abs(plain - simulated):
        return f"With {counted} counted it is nearer; what remains: {rest}."
    return f"With {counted} counted it is no nearer; what else it leaves out: {rest}."


def _close(question: Question, simulated: float, closed: float) -> bool:
    return abs(simulated - closed) <= (0.05 if question.unit == "" else 0.1 * abs(closed))
