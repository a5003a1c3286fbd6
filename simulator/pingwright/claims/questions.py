"""Turns a claims file into questions for the measures, in SI units."""

from pingwright.inputs.claims import Claim, ClaimFish, ClaimsFile, scenario_of
from pingwright.measures.asked import Question
from pingwright.trials.placement import Place, Species


def questions(file: ClaimsFile) -> tuple[Question, ...]:
    """Return the questions of a claims file. Raises ScenarioError for a change of a key that does not exist."""
    return tuple(_question(file, claim) for claim in file.claim)


def _question(file: ClaimsFile, claim: Claim) -> Question:
    bound, place = claim.holds_if, claim.place
    return Question(
        text=str(claim.says),
        measure=str(claim.measure),
        scenario=scenario_of(file, claim),
        species=species(claim.fish),
        place=None if place is None else Place(float(place.along), float(place.across)),
        over=file.over_of(claim),
        at_least=None if bound is None else bound.at_least,
        at_most=None if bound is None else bound.at_most,
        keep_structures="structure" in file.keep,
        plane=str(claim.plane),
        pings=claim.pings,
    )


def species(fish: ClaimFish | None) -> Species:
    """Return the fish of a claim with the defaults for its swimbladder; without one: a closed swimbladder."""
    from pingwright.world.resolve import STRENGTH_MODEL, TILT

    if fish is None:
        return Species("closed", 0.0, 0.0, None, None, TILT["closed"], STRENGTH_MODEL["closed"])
    kind, length = str(fish.swimbladder), fish.length
    tilt = TILT[kind] if fish.tilt is None else (float(fish.tilt.mean), float(fish.tilt.sd))
    return Species(
        kind,
        0.0 if length is None else float(length.mean),
        0.0 if length is None else float(length.sd),
        None if fish.above_bottom is None else (float(fish.above_bottom), float(fish.above_bottom)),
        None if fish.depth is None else (float(fish.depth), float(fish.depth)),
        tilt,
        str(fish.strength_model or STRENGTH_MODEL[kind]),
        fish.spacing,
    )
