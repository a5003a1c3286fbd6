"""What ranking elements for a trip will take, told before it starts: memory and time."""

from pathlib import Path
from typing import Any

import numpy as np

from pingwright import costs
from pingwright.match import plan, scene, trials
from pingwright.match.ranking import RESAMPLINGS, SLICE_RESAMPLINGS
from pingwright.recording import Prepared

#: Seconds for: starting and drawing; and of one thread for each element: its tables, made twice, and a ping with all
#: that judges it. A curved face has tables that take longer. And one score of one candidate.
START, TABLES, TABLES_CURVED, PING, SCORE = 6.0, 0.6, 5.0, 0.5e-3, 60e-6
SMALLER = "A shallower day, fewer elements or kinds of fish make it smaller;"
#: Pings of one thread that are held while they are judged, over those in work.
BYTES_A_PLACE = 4000


def estimate(trip: Any, *, threads: int | None = None) -> tuple[costs.Needs, int]:
    """Return what a trip (inputs.trip.Trip) needs, and its number of pings. Raises ScenarioError."""
    fall = trials.falling(trip)
    prepared = trials.over_bottom(trip, fall)
    header = prepared.header
    each = len(trip.species) * (plan.SPOT_RUNS + plan.EMPTY_RUNS)
    each += (len(plan.OFFSETS) + len(plan.LENGTHS)) * plan.AXIS_RUNS
    deep = len(plan.DEPTHS) * plan.AXIS_RUNS
    slices = plan.slices(trip.day.depth, scene.TRANSDUCER_DEPTH)
    reach = max(float(element.range[-1]) for element in header.elements)
    place = [(at.middle - trip.day.depth[0]) / fall if fall > 0 else 0.0 for at in slices]
    under = [costs.among(_world(prepared, x), (x, 0.0), reach, plan.STEP) for x in place]
    heard = [costs.visited(w, (x, 0.0, scene.TRANSDUCER_DEPTH), reach) for w, x in zip(under, place, strict=True)]
    samples = sum(len(element.range) for element in header.elements)
    fixed = sum(TABLES_CURVED if e.face.virtual_depth > 0 else TABLES for e in prepared.elements)
    pinged = len(slices) * (each + deep) * (len(header.elements) * PING + samples * costs.SECONDS_A_SAMPLE)
    sounded = sum(heard) * each * len(header.elements) * costs.SECONDS_A_VISIT
    scoring = _candidates(trip) * (RESAMPLINGS + len(slices) * SLICE_RESAMPLINGS) * SCORE
    time = START + fixed + scoring + (pinged + sounded) / costs.cores(threads)
    pings = len(slices) * (each + deep)
    memory = costs.BYTES_TO_START + costs.jobs(samples, threads) + pings * BYTES_A_PLACE
    memory += int(max(heard) * costs.BYTES_A_SCATTERER * costs.threads_of(threads))
    memory += costs.tiles(under[0], (place[0], 0.0), reach, place[-1] - place[0])
    return costs.Needs(file=2 << 20, memory=memory, time=time, longest=time), pings


def refuse_what_will_not_fit(trip: Any, folder: Path, *, threads: int | None = None) -> None:
    """Raise UnfinishedError where disk, memory or time will not do."""
    costs.refuse_what_will_not_fit(estimate(trip, threads=threads)[0], folder, SMALLER)


def _candidates(trip: Any) -> int:
    count = len(trip.element)
    return count * (count + 1) // 2 if trip.candidates.pairs else count


def _world(prepared: Prepared, x: float) -> Any:
    """Return the world of one ping at x [m], with the bottom as dense as it is there."""
    from pingwright.world import build, track
    from pingwright.world.fish import Placed

    nobody = Placed(np.zeros((3, 0)), np.zeros(0), np.zeros(0), np.zeros(0), np.zeros(0, dtype=np.int64))
    pose = track.still(np.array([x]), np.zeros(1), scene.TRANSDUCER_DEPTH)
    bare = prepared.scenario.model_copy(update={"structure": ()})
    return build.monte_carlo(bare, pose, nobody, bare.fish[0], None, prepared.world.looks)
