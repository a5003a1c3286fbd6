"""Closed forms: the probability that one ping, or a pass, shows or separates a fish, without simulating an echo.

The sonar equation for a fish of tilt-averaged target strength that fades as its highlights do. The recorded beam
pattern at band centre is used, with the place and the lean of the boat. The echo of the bottom through the filter's
side lobes is added to the noise. In a pass the fish keeps a posture that changes slowly (`fades`); with its levels
known, only noise is left to chance, and pings are independent (`measure.rules.Rule.chance`, exact). The bottom's echo
begins where draws of its natural roughness put it (`ahead`). Against 16 simulated passes each under the whole catalogue
in 60 random trips (`benchmarks/random_trips.py`, 960 shares): median difference 0.004, 0.10 in one of twenty, 11 shares
outside the passes' 95 % interval, worst 0.21 (12 cm close over mud at 66 m by a tone of 50 kHz), the order of the first
three contradicted in none. Single pings straight below differ more, over 12 m of water by up to 0.9 where the fish
stands 8 to 14 cells over the bottom: the echo that leaks ahead varies. Fish in open water, 160 passes: 0.05 at worst.
The losses to bubbles and to harmonics are those at band centre: within 0.22 dB and 0.04 dB of the engine's echo of a
point at 20, 40 and 80 m under three pencils (20 kn of wind, losses of 6 to 17 dB; harmonics 0.1 to 3.3 dB). What stands
on the bottom is in `standing`: beside wrecks and reefs in 24 random trips (the same benchmark, 16 passes, 384 shares),
on which its rules were chosen, the median difference is 0.001, 0.18 in one of twenty and 0.37 at worst; in 12 others
with wrecks 0.045, 0.22 and 0.58, with reefs 0.024, 0.17 and 0.29, with ledges 0.008, 0.37 and 0.89 (the order of the
first three contradicted in one of the wrecks and one of the ledges); without it 0.56, 1 and 1. Left out: absorbing
schools, the tilt of waves of the bottom, the bottom's tilt against a leaning beam, and that its echo varies from ping
to ping.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from pingwright.echograms.record import ElementInfo, FloatArray
from pingwright.inputs.claims import Over
from pingwright.measure.detect import FALSE_ALARM, FLOOR
from pingwright.measure.filters import STEPS, filtering
from pingwright.measure.rules import Rule
from pingwright.measures import ahead, fades, standing
from pingwright.measures.ahead import Ahead, beam_gain
from pingwright.trials.passes import IntArray, Pings, own_axes
from pingwright.trials.placement import Species
from pingwright.trials.scene import Scene
from pingwright.world import strength

#: Cells that the peak of a fish must lie before the place where the bottom's echo begins, to be one of its own.
OWN_CELLS = 0.7
#: To be separated, it must be farther before it by half its own width at half power, by how far the filter answers to a
#: point within FLANK [dB] of its peak (a tone of 0.2 ms 0.75 cells, a chirp 3 or more: so far the bottom's own flank
#: reaches) and by these cells: a gap of two, less what of that flank the place where the echo begins holds already.
#: *Assumed*, like OWN_CELLS: chosen on passes straight over fish of 15 and 45 cm, 5 to 70 cm over gravel and mud at 15
#: and 60 m under three chirps and two tones (20 cases of 8 heights, 12 passes each): of 320 shares the mean difference
#: is 0.03, most of it within 3 cm of the height where a fish begins to show.
GAP_CELLS, FLANK = 1.25, 28.0
#: Steps between the grounds of two postures and, 2 more, of two fish and, 6 more, of two stretches of the track: they
#: meet all of them in turn.
STRIDE = 11
#: Number of equally likely levels that represent the fading of the fish's echo.
SHARES = 32
#: Sound speed [m/s] and frequency [Hz] at which fading is computed: it depends on the fish's length in wavelengths.
_SPEED, _FREQUENCY = 1500.0, 100e3


@dataclass(frozen=True)
class Chances:
    """Probabilities by ping (..., ping), see `ping_chances`: detected, and detected and separated from the bottom."""

    detected: FloatArray
    separated: FloatArray


def ping_chances(at: Scene, index: int, species: Species, pings: Pings, bottom: Ahead, over: Over = "ping") -> Chances:
    """Return the probabilities of each ping for one element; bottom: see `ahead`.

    over "ping": (ping), the mean over postures; "pass": (posture, ping), of fish each in a posture of its own that
    changes over the pass (`fades`).
    """
    header, trial, way = at.headers[index], pings.trial, pings.way()
    info, slant = header.info, np.linalg.norm(way, axis=0)
    own = own_axes(at.elements[index], pings.track, way)
    model = strength.model(
        species.strength_model, species.swimbladder, species.tilt, float(np.median(way[2])) + at.face,
        info.assumed_sound_speed,
    )  # fmt: skip
    middle = 0.5 * (info.band_low + info.band_high)
    mean = model.strength(pings.fish.length, pings.position[2], middle)[trial] + species.gain + beam_gain(header, own)
    noise = info.noise_level - info.heard_level + 40 * np.log10(slant) + 2 * info.absorption * slant
    # As if each ping stood over the plane of which `bottom` tells.
    over_plane = slant - ahead.shift(at, index, pings.track.x, pings.track.y)
    noise = 10 * np.log10(10 ** (0.1 * noise) + np.interp(over_plane, bottom.distance, bottom.leak, left=0.0))
    sized = round(8 * np.log(np.median(pings.fish.length[trial]) * middle / info.assumed_sound_speed))
    room = clear_of(info)
    # Most pings of a pass are out of the beam of a narrow element, or cannot help it.
    before = over_plane + room[0] < bottom.edges[-1]
    able = np.flatnonzero(pings.heard[index] & (own[2] > 0) & before)
    if over == "pass":
        fading = fades.levels(model, float(np.median(pings.fish.length)), middle, pings, able)
    else:
        fading = _fading(_bare(species), sized)[:, None]
    echo = mean[able] + fading
    built = None
    if bottom is not ahead.NO_BOTTOM:
        built = standing.around(at, index, pings, able, 10 ** (0.1 * np.median(echo, axis=0)), bottom)
    if built is not None:
        noise[able] = 10 * np.log10(10 ** (0.1 * noise[able]) + built.echo)
    seen = exceeding(echo - noise[able]) * (echo - info.number("bubble_loss", 0.0) >= FLOOR)
    result = np.zeros((2, len(seen), len(slant)) if over == "pass" else (2, len(slant)))
    for k, needed in enumerate(room):
        free = _free(bottom, over_plane[able] + needed, trial[able], pings.track.x[able], over, len(seen))
        if built is not None:
            free = free * (built.clear if k else built.ahead)
        result[k][..., able] = free * (seen if over == "pass" else seen.mean(axis=0))
    return Chances(result[0], result[1])


def clear_of(info: ElementInfo) -> tuple[float, float]:
    """Return how far before the bottom's echo a fish must be [m] to be detected, and to be separated."""
    lobes = filtering(info).lobes
    half, flank = (float(np.flatnonzero(lobes > lobes[0] * 10 ** (-0.1 * d))[-1] / STEPS) for d in (3.0, FLANK))
    return OWN_CELLS * info.cell, (half + flank + GAP_CELLS) * info.cell


def _free(
    bottom: Ahead, reaching: FloatArray, trial: IntArray, x: FloatArray, over: Over, rows: int
) -> FloatArray:  # fmt: skip
    """Return whether the bottom's echo begins behind a range [m] (able): as a chance in one ping (able).

    In a pass each posture (row) of each fish (trial) is over draws of the ground of its own, another after every
    stretch of the track (x [m]) over which it stays alike: (row, able).
    """
    count = len(bottom.edges)
    if over == "ping":
        return np.asarray(1.0 - np.searchsorted(bottom.edges, reaching, side="right") / count)
    place = np.floor(x / bottom.alike).astype(np.int64)
    ground = (np.arange(rows)[:, None] * STRIDE + trial * (STRIDE + 2) + place * (STRIDE + 6)) % count
    return np.asarray(reaching < bottom.edges[ground], dtype=np.float64)


def _bare(species: Species) -> Species:
    """Return the properties of a species on which its fading depends."""
    plain = replace(species, length=0.0, length_sd=0.0, spacing=None, gain=0.0)
    return replace(plain, above_bottom=None, depth=None, beside=None)


@lru_cache(maxsize=512)
def _fading(species: Species, sized: int) -> FloatArray:
    """Return echo levels over their mean [dB] (share); sized: 8 log of the length in wavelengths, rounded."""
    law = strength.model(species.strength_model, species.swimbladder, species.tilt, 10.0, _SPEED)
    return law.fading(float(np.exp(sized / 8)) * _SPEED / _FREQUENCY, _FREQUENCY, SHARES)


def exceeding(ratio: FloatArray) -> FloatArray:
    """Return the probability that a steady echo in Gaussian noise passes the threshold, dimensionless (any shape).

    ratio [dB]: echo over noise. Marcum's Q by a normal law of the amplitude about its mean (Rice 1945); error below
    0.02 against the exact one for probabilities over 0.1.
    """
    from scipy.special import ndtr

    echo = np.sqrt(2.0) * 10 ** (0.05 * np.clip(ratio, -60.0, 120.0))
    threshold = np.sqrt(-2.0 * np.log(FALSE_ALARM))
    normal = ndtr(echo + 0.5 / np.maximum(echo, 0.5) - threshold)
    return np.asarray(np.where(echo < 0.5, FALSE_ALARM, normal))


def of_trials(pings: Pings, detected: FloatArray, counted: FloatArray, over: Over, rule: Rule) -> FloatArray:
    """Return the probability of each trial (trial) by a rule, from those of its pings (..., ping), mean of postures."""
    if over == "ping":
        return counted[pings.first[:-1]]
    sizes = np.diff(pings.first)
    square = np.zeros((2, *detected.shape[:-1], len(sizes), int(sizes.max(initial=0))))
    place = ..., pings.trial, np.arange(detected.shape[-1]) - pings.first[pings.trial]
    square[0][place], square[1][place] = detected, counted
    # Pings far from any that may show a fish decide nothing and are skipped.
    some = rule.near(square[0].reshape(-1, square.shape[-1]).any(axis=0))
    return np.asarray(rule.chance(*square[..., some]).reshape(-1, len(sizes)).mean(axis=0))
