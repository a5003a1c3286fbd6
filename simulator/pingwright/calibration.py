"""From the level of a recording to TS and Sv, calibrated over the band: for Python's users and for exported files.

The numbers of the band's centre (`ElementRecord.spreading` and `volume_gain`) are those of pictures and marks. A
calibrated value takes the whole band: for something that echoes alike over it, the echo is the mean over frequency of
source amplitude, loss and, where it fills the beam, beam angle, weighted by pulse and filter.
"""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright.echograms.record import ElementRecord, Record
from pingwright.errors import ScenarioError

if TYPE_CHECKING:
    from pingwright.element.model import Element
    from pingwright.inputs.scenario import Scenario
    from pingwright.world.water import LayeredWater

FloatArray = NDArray[np.float64]

#: Frequencies of the band, and ranges between which the corrections are straight lines.
FREQUENCIES, RANGES = 33, 17


def scenario_of(record: Record) -> "Scenario | None":
    """Return the resolved scenario (inputs.scenario.Scenario) of a record, None if this version cannot read it."""
    from pingwright.inputs.scenario import parse

    try:
        return parse(record.scenario_resolved, files=record.inputs)
    except ScenarioError:
        return None


def gains(record: ElementRecord, scenario: "Scenario | None") -> tuple[FloatArray, FloatArray]:
    """Return what turns the level into uncompensated TS [dB re 1 m2] and into Sv [dB re 1 m-1] (sample).

    scenario: see `over_the_band`. A point on the axis is given back within 0.01 dB, a layer within 0.05 dB.
    """
    point, filled = over_the_band(record, scenario)
    return record.spreading() - point, record.volume_gain() - filled


def over_the_band(record: ElementRecord, scenario: "Scenario | None") -> tuple[FloatArray, FloatArray]:
    """Return by how much TS and Sv of the centre's numbers are too high [dB] (sample), for what echoes alike.

    scenario: the resolved one (inputs.scenario.Scenario) that the record was made from, None where it cannot be read:
    then 0. Of one point the amplitudes add up, of many their powers. Measured in six elements' bands, to 200 m: 0.2 dB
    (TS) and 0.35 dB (Sv) at most, under 0.1 dB to 60 m.
    """
    if scenario is None:
        return np.zeros(len(record.range)), np.zeros(len(record.range))
    from pingwright.world.build import water_of

    water, depth = water_of(scenario), record.info.transducer_depth
    element = _element(record, scenario, water)
    f = np.linspace(*element.band, FREQUENCIES)
    replica = element.replica_spectrum(f)
    through = np.abs(replica) ** 2 * element.filter_gain(f, replica)
    r = np.linspace(0.0, float(record.range[-1]), RANGES)
    loss = 10.0 ** (-r[:, None] * (water.mean_absorption(f, depth, depth + r) - record.info.absorption) / 10.0)
    amplitude = np.asarray(element.source_amplitude(f)) / float(element.source_amplitude(np.array([element.centre]))[0])
    angle = element.equivalent_beam_angle(f) / 10.0 ** (0.1 * record.info.equivalent_beam_angle)
    heard = through * amplitude * loss
    point = 20.0 * np.log10(np.trapezoid(heard, f) / np.trapezoid(through, f))
    filled = 10.0 * np.log10(np.trapezoid(heard**2 * angle, f) / np.trapezoid(through**2, f))
    return np.interp(record.range, r, point), np.interp(record.range, r, filled)


def _element(record: ElementRecord, scenario: "Scenario", water: "LayeredWater") -> "Element":
    """Return the element of a record as it was simulated."""
    from pingwright.element.build import build

    depth = record.info.transducer_depth
    far = max(float(np.median(record.bottom_depth)) - depth, 1.0)
    return build(scenario.element[record.info.position], water.density, water.surface_sound_speed, depth, far)
