"""What ranking elements for a trip will need, before it starts, and the refusal of work that will not fit."""

from pathlib import Path

from pingwright import costs
from pingwright.inputs.trip import Trip
from pingwright.match import simulated
from pingwright.match.ranking import RESAMPLINGS, SLICE_RESAMPLINGS
from pingwright.trials import day, needs
from pingwright.trials.scene import scene

#: How often a few elements are judged again to check what the first place depends on.
TURNS = 8
#: Seconds for starting and drawing, and of one thread for one score of one candidate.
START, SCORE = 6.0, 6e-6
SMALLER = "Use a smaller depth, fewer elements, fewer species or --plain to need less;"


def estimate(trip: Trip, *, threads: int | None = None, plain: bool = False) -> tuple[costs.Needs, int]:
    """Return what a trip needs, and its number of pings of all elements. Raises ScenarioError.

    plain: without checking what the first place depends on.
    """
    edges, seconds, pings, memory = day.edges(trip), 0.0, 0.0, 0
    slices = len(edges) - 1
    depth = float(edges.mean())
    at = scene(day.scenario(trip, depth), keep_structures=trip.day.standing is not None)
    for entry in trip.species:
        one = needs.work(at, day.species(trip, entry, depth), None, "pass")
        runs = simulated.RUNS + simulated.BLANKS
        seconds += slices * (one.begin + runs * one.seconds)
        pings += slices * runs * one.pings
        memory = max(memory, one.held(slices * runs) + one.memory * (len(at.elements) - 1))
    wide = needs.work(at, day.species(trip, trip.species[day.main_species(trip)], depth), None, "pass", seen=0.0)
    seconds += slices * (wide.begin + simulated.SWATH_RUNS * wide.seconds)
    pings += slices * simulated.SWATH_RUNS * wide.pings
    count = len(trip.element)
    if not plain:
        # Two or three elements, each way an assumption turns and once as it is, in one depth, with half the passes.
        seconds += 0.5 * TURNS * min(3.0 / count, 1.0) * seconds / slices
    candidates = count * (count + 1) // 2 if trip.candidates.pairs else count
    scoring = candidates * (RESAMPLINGS + slices * SLICE_RESAMPLINGS) * SCORE
    time = START + scoring + seconds / costs.cores(threads)
    return costs.Needs(2 << 20, costs.BYTES_TO_START + memory, time, time), int(pings)


def refuse_what_will_not_fit(trip: Trip, folder: Path, *, threads: int | None = None, plain: bool = False) -> None:
    """Raise UnfinishedError if disk, memory or time will not be enough."""
    costs.refuse_what_will_not_fit(estimate(trip, threads=threads, plain=plain)[0], folder, SMALLER)
