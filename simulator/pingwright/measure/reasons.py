"""Why a fish is not shown: one reason for each fish and element, from truth, levels and the sonar equation."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from pingwright.echograms.record import ElementRecord, Truth
from pingwright.measure import beside
from pingwright.measure.bottom import Bottom
from pingwright.measure.cells import FloatArray, Grid, grid
from pingwright.measure.closed import two_way_loss
from pingwright.measure.detect import FALSE_ALARM, FLOOR, factors, last_sample, leak, local_threshold
from pingwright.measure.geometry import drawn_over_slant, of_trials, structure_range
from pingwright.measure.judgements import Trials
from pingwright.measure.marks import BoolArray, Scored
from pingwright.measure.separated import crowd_of

#: The reasons, most basic first: code -> words for a user.
REASONS: Mapping[str, str] = MappingProxyType(
    {
        "under": "under the ground",
        "outside": "outside the beam",
        "structure": "behind a structure",
        "bottom": "inside the bottom's echo at its distance off the axis",
        "floor": "below the picture's floor",
        "noise": "too weak against the noise",
        "side_lobes": "hidden by the side lobes of the bottom's echo",
        "surroundings": "hidden among the echoes around it",
        "few": "shown in too few pings",
        "faded": "its echo faded below the threshold",
    }
)


def reasons(
    element: ElementRecord, truth: Truth, scored: Scored, floor: float = FLOOR, false_alarm: float = FALSE_ALARM
) -> tuple[str, ...]:
    """Return by fish why it is not shown, a key of REASONS; empty where it is shown.

    floor [dB re 1 m2]; false_alarm as in the detection. Judged over the pings of its pass with the echo that its mean
    target strength and the beam give there: the reason is the one in most of the pings that come nearest to showing it.
    """
    case = _case(element, truth, scored, floor, false_alarm)
    each = (_reason(case, scored, fish) for fish in range(len(scored.ping)))
    return tuple("under" if why and height < 0 else why for why, height in zip(each, truth.fish.height, strict=True))


@dataclass(frozen=True)
class _Case:
    """Data for the reasons, arrays (trial): level of the mean echo; whether below the floor, the noise, an echo."""

    element: ElementRecord
    truth: Truth
    cells: Grid
    false_alarm: float
    echo: FloatArray
    low: BoolArray
    weak: BoolArray
    hidden: BoolArray
    behind: BoolArray


def _case(element: ElementRecord, truth: Truth, scored: Scored, floor: float, false_alarm: float) -> _Case:
    cells, trials = grid(element), scored.trials
    echo = expected(element, truth, trials)
    strength = echo + np.interp(trials.range, cells.range, cells.strength_gain)
    pick = scored.bottom.pick[trials.ping]
    hidden = trials.range >= np.where(np.isfinite(pick), pick, np.inf)
    weak = echo < cells.noise + _margin(cells, false_alarm)
    behind = hidden & _behind(element, truth, trials)
    return _Case(element, truth, cells, false_alarm, echo, strength < floor, weak, hidden, behind)


def _margin(cells: Grid, false_alarm: float) -> float:
    """Return how far [dB] over a known mean power the threshold lies."""
    return float(10 * np.log10(factors(16, false_alarm, round(cells.filtering.spread, 4)).t_noise))


def _reason(case: _Case, scored: Scored, fish: int) -> str:
    mine = np.arange(*np.searchsorted(scored.trials.owner, [fish, fish + 1]))
    if scored.fish.is_detected[fish]:
        return ""
    if not len(mine):
        return "outside"
    if scored.fish.detected[fish] > 0:
        return "few"
    # The pings that come nearest to showing it: the strongest third, at least three.
    best = mine[np.argsort(-case.echo[mine], kind="stable")[: max(3, len(mine) // 3)]]
    clear = best[~case.hidden[best]]
    if 2 * len(clear) < len(best):
        return "structure" if 2 * case.behind[best].sum() > case.hidden[best].sum() else "bottom"
    for name, lacks in (("floor", case.low), ("noise", case.weak)):
        if 2 * lacks[clear].sum() > len(clear):
            return name
    around = [_around(case, scored, int(k)) for k in clear]
    text = max(("side_lobes", "surroundings"), key=around.count)
    return text if 2 * around.count("") < len(around) else "faded"


def expected(element: ElementRecord, truth: Truth, trials: Trials) -> FloatArray:
    """Return the level [dB re 1 uPa] (trial) of a fish of mean target strength at its place in the beam."""
    info, fish = element.info, truth.fish
    seen = of_trials(element, fish, trials.ping, trials.owner)
    angles = (np.degrees(np.arctan2(way, seen.out)) for way in (seen.along, seen.across))
    loss = two_way_loss(info, element.beam, *angles)
    r = np.maximum(trials.range, 1e-3)
    own = fish.strength[info.position][trials.owner]
    return np.asarray(info.heard_level - 40 * np.log10(r) - 2 * info.absorption * r + own - loss)


def _behind(element: ElementRecord, truth: Truth, trials: Trials) -> BoolArray:
    """Return which trials (trial) have a structure in the beam that is nearer than the fish."""
    info = element.info
    half = max(info.beamwidth_along, info.beamwidth_across)
    nearer, factor = np.zeros(len(trials), dtype=bool), drawn_over_slant(element, truth.fish)[trials.owner]
    for structure in truth.structures:
        distance, angle = structure_range(element, trials.ping, structure)
        nearer |= (distance * factor < trials.range) & (angle < half)
    return nearer


def _known(case: _Case, scored: Scored, trial: int) -> tuple[FloatArray | None, FloatArray | None]:
    """Return what marks know around a fish in one ping, see `local_threshold`: echoes of things, and other fish."""
    trials, cells = scored.trials, case.cells
    held = beside.of_trials(case.truth, case.element.info.position, trials.keep(np.array([trial])))
    others = None if held is None else beside.at_peaks(held, np.zeros(1), trials.within[trial : trial + 1])
    mates = np.flatnonzero(trials.ping == trials.ping[trial])
    centre, half = cells.index(trials.range[mates]), trials.within[mates] / cells.step
    crowd = crowd_of(cells, np.zeros(len(mates), dtype=np.int64), centre, half, None)
    return others, None if crowd is None else crowd[mates == trial]


def _around(case: _Case, scored: Scored, trial: int) -> str:
    """Return why an echo is below the local threshold in one ping: side lobes, other echoes, or "" if it is not."""
    cells, ping = case.cells, int(scored.trials.ping[trial])
    stored = np.asarray(case.element.echo_level[ping : ping + 1])
    one = slice(ping, ping + 1)
    bottom = Bottom(scored.bottom.level[one], scored.bottom.peak[one], scored.bottom.pick[one])
    index = cells.index(scored.trials.range[trial : trial + 1])
    place = np.clip(np.rint(index), 1, stored.shape[1] - 2).astype(np.int64)
    none = np.zeros(1, dtype=np.int64)
    threshold = local_threshold(stored, cells, bottom, none, place, case.false_alarm, *_known(case, scored, trial))[0]
    if case.echo[trial] >= threshold:
        return ""
    profile = leak(stored, cells, bottom)[0]
    ahead = int(last_sample(cells, bottom, stored.shape[1])[0])
    carried = profile[int(np.clip(ahead - place[0], 0, len(profile) - 1))]
    # At least half of the power under the threshold comes through the filter's side lobes.
    most = carried > 0 and 10 * np.log10(carried) + _margin(cells, case.false_alarm) > threshold - 3
    return "side_lobes" if most else "surroundings"
