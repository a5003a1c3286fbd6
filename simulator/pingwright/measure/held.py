"""Depth to which a recorded element would hold the bottom: the sonar equation with the numbers of its recording."""

from collections.abc import Callable, Sequence

import numpy as np

from pingwright.acoustics import bottomecho
from pingwright.echograms.record import BeamPattern, ElementRecord, SedimentTruth
from pingwright.inputs import catalogue
from pingwright.measure.assessment import FloatArray
from pingwright.measure.closed import LOOKED_UP_AGAIN, harmonics_by, pulse_at

#: Own noise as recorded, 10 dB higher, 10 dB lower: endings of the names of these levels among an element's attributes.
OWN_NOISE = ("", "_louder", "_quieter")
#: Where the search begins [m].
START = 300.0


def bottom_reach(element: ElementRecord, sediment: str, law: str = "kirchhoff") -> tuple[float, float, float]:
    """Return the depth below the transducer [m] to which the bottom is held: as recorded, own noise 10 dB up, 10 down.

    sediment: of the catalogue, KeyError for another; law: see `seabed.surface_backscatter`. Held: found within 2 % of
    depth or 0.5 m in 9 of 10 pings, with the absorption of the recording, element upright over flat ground; with the
    pulse for that depth if the scenario gives no length, and the loss to harmonics up to that depth, as in
    `closed.detection_range`. nan if the noise is not known. Source: `acoustics.bottomecho`.
    """
    info = element.info
    levels = [info.noise_level, *(info.number(f"noise_level{end}", float("nan")) for end in OWN_NOISE[1:])]
    usual, louder, quieter = (_held(element, sediment, law, noise) for noise in levels)
    return usual, louder, quieter


def of_record(element: ElementRecord, sediments: Sequence[SedimentTruth], law: str) -> dict[str, float]:
    """Return the depths below the transducer [m] to which the bottom of a recording is held; see `bottom_reach`.

    By name: bottom_reach, and with the endings of OWN_NOISE. sediments: of the recording, the topmost first; law: of
    its rough bottom. nan where none is known.
    """
    known = sediments and sediments[0].name in catalogue.sediments()
    depths = bottom_reach(element, sediments[0].name, law) if known else (float("nan"),) * 3
    return {f"bottom_reach{end}": depth for end, depth in zip(OWN_NOISE, depths, strict=True)}


def chance(element: ElementRecord, sediment: str, law: str, depth: float) -> float:
    """Return the probability that a ping holds the bottom at a depth [m], with its pulse; see `bottom_reach`."""
    form = _Form(element, sediment, law)
    return bottomecho.bottom_found(form.level(depth), form.noise(depth, element.info.noise_level), depth, *form.echo)


def _held(element: ElementRecord, sediment: str, law: str, noise: float) -> float:
    if not np.isfinite(noise):
        return float("nan")
    # The bench asks for the same again after every change of a fish.
    beam = element.beam.frequency.tobytes() + element.beam.along.tobytes() + element.beam.across.tobytes()
    key = (repr(element.info), beam, sediment, law, noise)
    if key not in _KNOWN:
        if len(_KNOWN) >= MOST_KNOWN:
            _KNOWN.clear()
        _KNOWN[key] = _searched(element, sediment, law, noise)
    return _KNOWN[key]


#: Computed depths, at most this number.
MOST_KNOWN = 64
_KNOWN: dict[tuple[str, bytes, str, str, float], float] = {}


def _searched(element: ElementRecord, sediment: str, law: str, noise: float) -> float:
    form, result, before = _Form(element, sediment, law), START, 0.0
    for _ in range(LOOKED_UP_AGAIN):
        if abs(result - before) < 3e-3 * result or not result:
            break
        before = result
        result = bottomecho.bottom_reach(form.level(result), lambda depth: form.noise(depth, noise), *form.echo)
    return result


class _Form:
    """What the closed form needs of a recorded element over a sediment, with the pulse of any depth."""

    def __init__(self, element: ElementRecord, sediment: str, law: str) -> None:
        info = self._info = element.info
        centre, sound_speed = 0.5 * (info.band_low + info.band_high), info.assumed_sound_speed
        ground = bottomecho.sediment_law(sediment, catalogue.sediments()[sediment], centre, sound_speed, law)
        effective = info.effective_pulse * sound_speed / 2.0
        self.echo = info.absorption, ground, two_way(element.beam, centre), info.range_resolution, effective

    def level(self, depth: float) -> float:
        """Return the source level [dB re 1 uPa m] less what went into harmonics by a depth [m]."""
        info = self._info
        return info.heard_level + info.number("finite_amplitude_loss", 0.0) - harmonics_by(info, depth)

    def noise(self, depth: float, recorded: float) -> float:
        """Return the noise level [dB re 1 uPa] with the pulse of a depth [m]; recorded: with the recording's own."""
        return recorded - 10.0 * float(np.log10(pulse_at(self._info, depth) / self._info.pulse_length))


def two_way(beam: BeamPattern, frequency: float) -> Callable[[FloatArray], FloatArray]:
    """Return two-way power [1] over the angle off the axis [deg] (n), mean around it, of a recorded pattern.

    frequency [Hz]: the nearest recorded one. The cuts along and across the track are joined by their decibels, weighted
    with cos2 and sin2 of the direction: exact for round beams, and for Gaussian ones of any widths near the axis.
    """
    row = int(np.argmin(np.abs(beam.frequency - frequency)))
    angle = np.linspace(0.0, 90.0, 1801)
    cuts = [
        np.interp(angle, beam.angle, cut[row]) / 2 + np.interp(-angle, beam.angle, cut[row]) / 2
        for cut in (beam.along, beam.across)
    ]
    share = np.cos((np.arange(24)[:, None] + 0.5) * np.pi / 48) ** 2
    mean = np.mean(10.0 ** ((share * cuts[0] + (1.0 - share) * cuts[1]) / 5.0), axis=0)
    return lambda degrees: np.interp(degrees, angle, mean)
