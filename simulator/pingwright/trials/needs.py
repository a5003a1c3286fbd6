"""What trials will need, computed from a few prepared passes: pings, seconds of one thread, memory."""

from dataclasses import dataclass

import numpy as np

from pingwright import costs
from pingwright.inputs.claims import Over
from pingwright.trials import passes, placement
from pingwright.trials.ground import KEPT_BYTES
from pingwright.trials.placement import WORLD, Place, Species
from pingwright.trials.scene import Scene

#: Seconds of one thread: an element's tables and world; a ping with its judgement, besides its scatterers.
TABLES, TABLES_CURVED, PING = 0.8, 3.0, 0.6e-3
#: Bytes of a ping of trials that share a world, and of a stored sample of a ground: its echo and its level.
BYTES_A_PING, BYTES_A_SAMPLE = 600, 10
#: Number of trials that are prepared to count their pings.
FEW = 16


@dataclass(frozen=True)
class Work:
    """Needs of trials of a scene: pings of all elements and seconds for each, seconds to begin, memory [bytes].

    ground [bytes]: echoes of the ground that one trial leaves in the bank, if passes share grounds.
    """

    pings: float
    seconds: float
    begin: float
    memory: int
    ground: float = 0.0

    def held(self, trials: float) -> int:
        """Return the memory [bytes] with the grounds of a number of trials; a bank holds at most KEPT_BYTES."""
        return self.memory + int(min(KEPT_BYTES, self.ground * trials))


def work(at: Scene, species: Species, place: Place | None, over: Over, seen: float = 0.5) -> Work:
    """Return the needs of a trial. seen: share of the trials that end with their first pings, because they hit."""
    fish = placement.draw(at, species, place, 0, 0, FEW, over=over)
    pings = passes.lay_out(at, species, fish, 0, 0, over, alone=True)
    begin, seconds, total, ground = 0.0, 0.0, 0.0, 0.0
    reach = max(float(np.linalg.norm(pings.way(), axis=0).max()), at.bottom) * 1.05
    world = at.prepared.world
    visited = costs.visited(costs.among(world, (0.0, 0.0), reach, at.step), (0.0, 0.0, at.face), reach)
    for element, header, heard in zip(at.elements, at.headers, pings.heard, strict=True):
        each = float(heard.sum()) / FEW
        each = each if over == "ping" else seen * min(each, 12.0) + (1 - seen) * each
        total += each
        ground += each * len(header.range) * BYTES_A_SAMPLE * (over == "pass")
        seconds += each * (PING + visited * costs.SECONDS_A_VISIT)
        begin += TABLES_CURVED if element.face.virtual_depth > 0 else TABLES
    most = float(np.diff(pings.first).mean()) * WORLD
    return Work(total, seconds, begin, int(most * BYTES_A_PING + visited * costs.BYTES_A_SCATTERER), ground)
